//! A linear program with duals: minimise cost over columns `x ≥ 0` subject to rows.
//!
//! Knows: good_lp with clarabel. Must not know: what a row or column means.
//! Promises: an answer or an error, never a panic; duals are shadow prices (change of the optimum per unit of a row's
//! right side), right up to the solver's tolerance only, so a caller proves nothing from `value` alone.

use good_lp::solvers::clarabel::clarabel;
use good_lp::{
    Constraint, DualValues, Expression, ResolutionError, Solution, SolutionWithDual, SolverModel,
    Variable, constraint, variable, variables,
};

/// How a row's left side stands to its right side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// `=`
    Equal,
    /// `≤`
    AtMost,
}

/// A column: its cost and its entries (row, coefficient).
#[derive(Clone, Debug)]
pub struct LpColumn {
    /// Money per unit.
    pub cost: f64,
    /// Coefficients by row.
    pub entries: Vec<(usize, f64)>,
}

/// A program: rows with their right sides, and columns.
#[derive(Clone, Debug, Default)]
pub struct Lp {
    /// Sense and right side of each row.
    pub rows: Vec<(Sense, f64)>,
    /// The columns.
    pub columns: Vec<LpColumn>,
}

/// A solution: the optimum, the amount of each column, the shadow price of each row.
#[derive(Clone, Debug)]
pub struct LpSolution {
    /// The objective, up to the solver's tolerance.
    pub value: f64,
    /// By column.
    pub amounts: Vec<f64>,
    /// By row.
    pub duals: Vec<f64>,
}

/// Solves the program to `tolerance` (relative gap).
///
/// # Errors
/// What the solver says when it finds no optimum (infeasible, unbounded, no progress).
pub fn solve(lp: &Lp, tolerance: f64) -> Result<LpSolution, ResolutionError> {
    let mut vars = variables!();
    let names: Vec<Variable> = lp
        .columns
        .iter()
        .map(|_| vars.add(variable().min(0.0)))
        .collect();
    let objective: Expression = lp
        .columns
        .iter()
        .zip(&names)
        .map(|(c, &x)| c.cost * x)
        .sum();
    let mut left = vec![Expression::with_capacity(8); lp.rows.len()];
    for (column, &x) in lp.columns.iter().zip(&names) {
        for &(row, by) in &column.entries {
            left[row].add_mul(by, x);
        }
    }
    let mut problem = vars.minimise(objective).using(clarabel);
    problem
        .settings()
        .tol_gap_rel(tolerance)
        .tol_gap_abs(tolerance)
        .tol_feas(tolerance.min(1e-6));
    let rows: Vec<_> = left
        .into_iter()
        .zip(&lp.rows)
        .map(|(left, &(sense, right))| {
            let row: Constraint = match sense {
                Sense::Equal => constraint!(left == right),
                Sense::AtMost => constraint!(left <= right),
            };
            problem.add_constraint(row)
        })
        .collect();
    let mut solved = problem.solve()?;
    let amounts: Vec<f64> = names.iter().map(|&x| solved.value(x)).collect();
    let value = lp
        .columns
        .iter()
        .zip(&amounts)
        .map(|(c, x)| c.cost * x)
        .sum();
    let duals = solved.compute_dual();
    let duals = rows.into_iter().map(|row| duals.dual(row)).collect();
    Ok(LpSolution {
        value,
        amounts,
        duals,
    })
}
