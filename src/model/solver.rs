//! Chooses what solves a linear program, and checks what comes back.
//!
//! Knows: good_lp and the back ends behind it, by name. Must not know: what the numbers stand for.
//! Promises: solver names, options and statuses stay in this file; an answer is called optimal only after its own
//! check of feasibility and gap; integer solves are limited by nodes, never by the clock, so that the same program gets the
//! same answer on a busy machine; a start that keeps the rows is never made worse.
//!
//! By default a linear program goes to Clarabel (interior point, gives prices) and an integer one to microlp (branch and
//! bound over a simplex; it needs a start). With the cargo feature `highs` both go to HiGHS.

use good_lp::constraint::ConstraintReference;
use good_lp::{
    Constraint, Expression, ProblemVariables, ResolutionError, Solver, SolverModel, variable,
};

use super::linear::{LinearProgram, Sense, Variable};

/// Relative slack within which rows, integrality and the duality gap count as kept.
const TOLERANCE: f64 = 1e-6;

/// Why there is no solution to hand back.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Unsolved {
    /// No values keep all rows.
    #[error("no values keep all rows")]
    Infeasible,
    /// The cost falls without end.
    #[error("the cost falls without end")]
    Unbounded,
    /// The solver gave up or was stopped before it had anything to show.
    #[error("the solver stopped without an answer: {0}")]
    Stopped(String),
    /// A number of the program is not finite.
    #[error("a number in {0} is not finite")]
    NotFinite(String),
}

/// How good an answer to a linear program is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quality {
    /// Rows kept, and cost and prices agree, to a millionth.
    Optimal,
    /// Less than that: the prices still prove what [`LinearProgram::safe_bound`] makes of them, the rest is a hint.
    Rough,
}

/// Answer to a linear program.
#[derive(Clone, Debug)]
pub struct LpSolution {
    /// `c·x`.
    pub objective: f64,
    /// By variable, within its bounds.
    pub values: Vec<f64>,
    /// By row: how much the least cost rises per unit that the row's right side rises. Never negative where the row says
    /// "at least", never positive where it says "at most". A variable's reduced cost is `c_j − Σ_i a_ij·price_i`; it is 0 where the
    /// variable stands strictly between its bounds, and not negative where it stands at its lower one.
    pub prices: Vec<f64>,
    /// Whether this is optimal.
    pub quality: Quality,
}

/// Answer to an integer program.
#[derive(Clone, Debug)]
pub struct IntegerSolution {
    /// `c·x`.
    pub objective: f64,
    /// By variable; integers are exactly whole.
    pub values: Vec<f64>,
    /// Whether the solver finished its proof that nothing is cheaper.
    pub proven: bool,
}

/// What a back end returns before anybody has checked it.
struct Answer {
    values: Vec<f64>,
    prices: Vec<f64>,
    finished: bool,
}

/// Solves a linear program; prices come with it.
///
/// # Errors
/// [`Unsolved`] where nothing keeps the rows, the cost falls without end, or the solver fails.
pub fn solve_lp(program: &LinearProgram) -> Result<LpSolution, Unsolved> {
    check_finite(program)?;
    let answer = if program.row_count() == 0 {
        without_rows(program)?
    } else {
        back_end::linear(program)?
    };
    let values = within_bounds(program, &answer.values);
    let prices = program.with_possible_signs(&answer.prices);
    let objective = program.objective(&values);
    Ok(LpSolution {
        quality: quality(program, &values, &prices, objective),
        objective,
        values,
        prices,
    })
}

/// Solves a program in which the variables `integer` are whole, beginning at `start`, in at most `nodes` nodes of branch and bound.
///
/// What comes back keeps the rows, and costs no more than `start` where `start` does.
///
/// # Errors
/// [`Unsolved`] where there is neither a usable start nor an answer.
pub fn solve_integer(
    program: &LinearProgram,
    integer: &[Variable],
    start: Option<&[f64]>,
    nodes: u64,
) -> Result<IntegerSolution, Unsolved> {
    check_finite(program)?;
    let start = start
        .filter(|values| values.len() == program.variable_count())
        .map(|values| with_whole(values, integer))
        .filter(|values| program.worst_violation(values).0 <= TOLERANCE)
        .map(|values| IntegerSolution {
            objective: program.objective(&values),
            values,
            proven: false,
        });
    let found = back_end::integer(
        program,
        integer,
        start.as_ref().map(|start| start.values.as_slice()),
        nodes,
    )
    .and_then(|answer| {
        let values = with_whole(&within_bounds(program, &answer.values), integer);
        let (out, row) = program.worst_violation(&values);
        if out > TOLERANCE {
            return Err(Unsolved::Stopped(format!("its answer breaks {row}")));
        }
        Ok(IntegerSolution {
            objective: program.objective(&values),
            values,
            proven: answer.finished,
        })
    });
    match (start, found) {
        (Some(start), Ok(found)) if start.objective < found.objective => Ok(IntegerSolution {
            // A finished proof covers a start that is cheaper by rounding only.
            proven: found.proven
                && found.objective - start.objective <= TOLERANCE * found.objective.abs().max(1.0),
            ..start
        }),
        (_, Ok(found)) => Ok(found),
        (Some(start), Err(_)) => Ok(start),
        (None, Err(reason)) => Err(reason),
    }
}

/// Solvers loop or panic on numbers that are none.
fn check_finite(program: &LinearProgram) -> Result<(), Unsolved> {
    for variable in &program.variables {
        if !variable.cost.is_finite() || !variable.lower.is_finite() || variable.upper.is_nan() {
            return Err(Unsolved::NotFinite("the cost or the bounds".into()));
        }
        if variable.lower > variable.upper {
            return Err(Unsolved::Infeasible);
        }
    }
    let broken = program.rows.iter().find(|row| {
        !row.right.is_finite() || row.terms.iter().any(|(_, factor)| !factor.is_finite())
    });
    broken.map_or(Ok(()), |row| Err(Unsolved::NotFinite(row.name.clone())))
}

/// Each variable goes to its cheaper end.
fn without_rows(program: &LinearProgram) -> Result<Answer, Unsolved> {
    let cheaper = |v: &super::linear::Bounds| if v.cost < 0.0 { v.upper } else { v.lower };
    let values: Vec<f64> = program.variables.iter().map(cheaper).collect();
    if values.iter().any(|value| value.is_infinite()) {
        return Err(Unsolved::Unbounded);
    }
    Ok(Answer {
        values,
        prices: Vec::new(),
        finished: true,
    })
}

fn within_bounds(program: &LinearProgram, values: &[f64]) -> Vec<f64> {
    let clip = |(variable, &value): (&super::linear::Bounds, &f64)| {
        // NaN falls to the lower bound; the row check then says what it broke.
        value.max(variable.lower).min(if variable.implied {
            f64::INFINITY
        } else {
            variable.upper
        })
    };
    program.variables.iter().zip(values).map(clip).collect()
}

fn with_whole(values: &[f64], integer: &[Variable]) -> Vec<f64> {
    let mut values = values.to_vec();
    for variable in integer {
        values[variable.0] = values[variable.0].round();
    }
    values
}

/// A solver's own word is not taken: some statuses that good_lp passes on as solved are not.
fn quality(program: &LinearProgram, values: &[f64], prices: &[f64], objective: f64) -> Quality {
    let kept = program.worst_violation(values).0 <= TOLERANCE;
    // c·x − (yᵀb + least of d·x) as Σ over variables and rows, so that infinite bounds only matter where the price is wrong.
    let mut proved: f64 = program
        .rows
        .iter()
        .zip(prices)
        .map(|(row, y)| row.right * y)
        .sum();
    for (variable, reduced) in program.variables.iter().zip(program.reduced_costs(prices)) {
        let size = variable.cost.abs().max(1.0);
        if reduced < -TOLERANCE * size && variable.upper.is_infinite() {
            return Quality::Rough;
        }
        let end = if reduced < 0.0 && variable.upper.is_finite() {
            variable.upper
        } else {
            variable.lower
        };
        proved += reduced * end;
    }
    if kept && objective - proved <= TOLERANCE * objective.abs().max(1.0) {
        Quality::Optimal
    } else {
        Quality::Rough
    }
}

/// The program as good_lp's model of one back end, with handles to its variables and rows.
fn model<S: Solver>(
    program: &LinearProgram,
    integer: &[Variable],
    solver: S,
) -> (S::Model, Vec<good_lp::Variable>, Vec<ConstraintReference>) {
    let mut whole = vec![false; program.variable_count()];
    for variable in integer {
        whole[variable.0] = true;
    }
    let mut variables = ProblemVariables::new();
    let handles: Vec<good_lp::Variable> = program
        .variables
        .iter()
        .zip(&whole)
        .map(|(bounds, &whole)| {
            let definition = variable().min(bounds.lower);
            let definition = match (whole, bounds.implied, bounds.upper) {
                // microlp keeps integers in 32 bits; no count of ours comes near.
                (true, _, upper) => definition.max(upper.min(f64::from(i32::MAX))).integer(),
                (false, false, upper) if upper.is_finite() => definition.max(upper),
                _ => definition,
            };
            variables.add(definition)
        })
        .collect();
    let sum = |terms: &mut dyn Iterator<Item = (usize, f64)>| {
        let mut sum = Expression::with_capacity(terms.size_hint().0);
        for (variable, factor) in terms {
            sum.add_mul(factor, handles[variable]);
        }
        sum
    };
    let costs = program.variables.iter().map(|bounds| bounds.cost);
    let objective = sum(&mut costs.enumerate().filter(|(_, cost)| *cost != 0.0));
    let mut model = variables.minimise(objective).using(solver);
    let rows = program
        .rows
        .iter()
        .map(|row| {
            let left = sum(&mut row.terms.iter().map(|&(v, factor)| (v.0, factor)));
            let constraint: Constraint = match row.sense {
                Sense::AtLeast => left.geq(row.right),
                Sense::Equal => left.eq(row.right),
                Sense::AtMost => left.leq(row.right),
            };
            model.add_constraint(constraint)
        })
        .collect();
    (model, handles, rows)
}

fn unsolved(error: ResolutionError) -> Unsolved {
    match error {
        ResolutionError::Infeasible => Unsolved::Infeasible,
        ResolutionError::Unbounded => Unsolved::Unbounded,
        other => Unsolved::Stopped(other.to_string()),
    }
}

/// Clarabel and microlp: pure Rust.
#[cfg(not(feature = "highs"))]
mod back_end {
    use good_lp::solvers::clarabel::clarabel;
    use good_lp::solvers::microlp::microlp;
    use good_lp::{DualValues, Solution, SolutionWithDual, SolverModel};
    use microlp::{OptimizationDirection, Problem, SolveOptions};

    use super::{Answer, LinearProgram, Unsolved, Variable, model, unsolved};

    pub(super) fn linear(program: &LinearProgram) -> Result<Answer, Unsolved> {
        let (model, variables, rows) = model(program, &[], clarabel);
        let mut solution = model.solve().map_err(unsolved)?;
        let values = variables.iter().map(|&v| solution.value(v)).collect();
        let duals = solution.compute_dual();
        let prices = rows.into_iter().map(|row| duals.dual(row)).collect();
        Ok(Answer {
            values,
            prices,
            finished: true,
        })
    }

    pub(super) fn integer(
        program: &LinearProgram,
        integer: &[Variable],
        start: Option<&[f64]>,
        nodes: u64,
    ) -> Result<Answer, Unsolved> {
        let (model, variables, _) = model(program, integer, microlp);
        // good_lp passes a limit of time only, which would make a plan depend on the load of the machine; so its finished
        // model is handed to microlp with a limit of nodes. microlp numbers variables in the order in which they are
        // added, and gives no handle to one but from a problem: this empty one makes them.
        let mut numbered = Problem::new(OptimizationDirection::Minimize);
        let handles: Vec<microlp::Variable> = variables
            .iter()
            .map(|_| numbered.add_var(0.0, (0.0, 0.0)))
            .collect();
        let mut options = SolveOptions::default();
        options.node_limit = Some(nodes);
        // The integers alone: the simplex completes the rest, which then keeps the rows to its own tolerance.
        options.warm_start =
            start.map(|start| integer.iter().map(|v| (handles[v.0], start[v.0])).collect());
        let outcome = model
            .as_inner()
            .solve_with(options)
            .map_err(|error| unsolved(error.into()))?;
        let finished = outcome.is_optimal();
        let solution = outcome
            .into_solution()
            .map_err(|_| Unsolved::Stopped("its nodes were used up".into()))?;
        Ok(Answer {
            values: handles.iter().map(|&v| solution.var_value(v)).collect(),
            prices: Vec::new(),
            finished,
        })
    }
}

/// HiGHS: compiled, for both.
#[cfg(feature = "highs")]
mod back_end {
    use good_lp::solvers::SolutionStatus;
    use good_lp::solvers::highs::{HighsProblem, highs};
    use good_lp::{DualValues, Solution, SolutionWithDual, SolverModel};

    use super::{Answer, LinearProgram, Unsolved, Variable, model, unsolved};

    pub(super) fn linear(program: &LinearProgram) -> Result<Answer, Unsolved> {
        let (model, variables, rows) = model(program, &[], highs);
        let mut solution = single(model).solve().map_err(unsolved)?;
        let values = variables.iter().map(|&v| solution.value(v)).collect();
        let finished = matches!(solution.status(), SolutionStatus::Optimal);
        let duals = solution.compute_dual();
        let prices = rows.into_iter().map(|row| duals.dual(row)).collect();
        Ok(Answer {
            values,
            prices,
            finished,
        })
    }

    /// The start is not passed on: with its presolve HiGHS (by highs-sys 1.16) has returned starts as optimal that were not, and it
    /// finds feasible points by itself. The caller keeps the start where nothing better comes back.
    pub(super) fn integer(
        program: &LinearProgram,
        integer: &[Variable],
        _start: Option<&[f64]>,
        nodes: u64,
    ) -> Result<Answer, Unsolved> {
        let (model, variables, _) = model(program, integer, highs);
        let model = single(model)
            .set_option("mip_rel_gap", 0.0)
            .set_option("mip_max_nodes", i32::try_from(nodes).unwrap_or(i32::MAX));
        let solution = model.solve().map_err(unsolved)?;
        Ok(Answer {
            values: variables.iter().map(|&v| solution.value(v)).collect(),
            prices: Vec::new(),
            finished: matches!(solution.status(), SolutionStatus::Optimal),
        })
    }

    /// One thread: several would make the path, and so the answer among equals, depend on the machine.
    fn single(model: HighsProblem) -> HighsProblem {
        model.set_threads(1)
    }
}

#[cfg(test)]
mod tests;
