//! The master with whole sheets: the best plan that the pool's sheets make together.
//!
//! Knows: the master's program, the incumbent. Must not know: how the pool came about.
//! Promises: never worse than the incumbent by [`MasterProblem::cost_of`]; the same pool gives the same choice on any machine.

use super::{Master, MasterProblem, relax};
use crate::model::linear::Variable;
use crate::model::solver::solve_integer;

/// A choice that keeps all rows, to begin from.
#[derive(Clone, Debug, PartialEq)]
pub struct Incumbent {
    /// One column of each machine, by position in the pool.
    pub columns: Vec<usize>,
    /// By route: copies.
    pub routes: Vec<u32>,
}

/// How much to spend; both limits leave the answer reproducible.
///
/// With microlp a node of 8 machines and 150 parts takes about 2 ms over 200 columns and 20 ms over 400
/// (release build, one core); the default is about half a second there.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Columns that the integer solve sees at most, the incumbent's aside; chosen by reduced cost.
    pub columns: usize,
    /// Nodes of branch and bound at most.
    pub nodes: u64,
}

impl Default for Effort {
    fn default() -> Self {
        Self {
            columns: 200,
            nodes: 200,
        }
    }
}

/// The best choice found.
#[derive(Clone, Debug, PartialEq)]
pub struct Recombined {
    /// One column of each machine, by position in the pool; in order of machines.
    pub columns: Vec<usize>,
    /// By route: copies.
    pub routes: Vec<u32>,
    /// Its cost by [`MasterProblem::cost_of`].
    pub objective: f64,
    /// Whether no choice of the whole pool is cheaper.
    pub proven: bool,
}

/// The cheapest choice of one sheet for each machine that the effort finds; `None` where the incumbent breaks a row.
pub fn recombine(
    problem: &MasterProblem,
    incumbent: &Incumbent,
    effort: Effort,
) -> Option<Recombined> {
    let objective = problem.cost_of(&incumbent.columns, &incumbent.routes)?;
    let mut best = Recombined {
        columns: in_order(problem, &incumbent.columns),
        routes: incumbent.routes.clone(),
        objective,
        proven: false,
    };
    let (columns, all) = worth_trying(problem, incumbent, objective, effort.columns);
    let master = Master::new(problem, columns);
    let whole: Vec<Variable> = master
        .shares
        .iter()
        .chain(&master.copies)
        .copied()
        .collect();
    let start = master.values_of(incumbent);
    let Ok(solution) = solve_integer(&master.program, &whole, start.as_deref(), effort.nodes)
    else {
        return Some(best);
    };
    let chosen: Vec<usize> = master
        .columns
        .iter()
        .zip(&master.shares)
        .filter(|(_, x)| solution.values[x.0] > 0.5)
        .map(|(&column, _)| column)
        .collect();
    let routes: Vec<u32> = master
        .copies
        .iter()
        .map(|y| solution.values[y.0] as u32)
        .collect();
    if let Some(objective) = problem.cost_of(&chosen, &routes)
        && objective < best.objective
    {
        best = Recombined {
            columns: in_order(problem, &chosen),
            routes,
            objective,
            proven: false,
        };
    }
    best.proven = all && solution.proven;
    Some(best)
}

fn in_order(problem: &MasterProblem, columns: &[usize]) -> Vec<usize> {
    let mut columns = columns.to_vec();
    columns.sort_unstable_by_key(|&column| problem.columns[column].machine);
    columns
}

/// The incumbent's columns and those that may be in something better, cheapest by reduced cost first up to `most`; and whether
/// nothing that may be was left out.
///
/// A column whose reduced cost `d` is above `objective − bound` cannot be: the proof of the bound takes the share of every variable
/// with a positive reduced cost as 0, so a choice that holds this column costs at least `bound + d`, more than the incumbent.
fn worth_trying(
    problem: &MasterProblem,
    incumbent: &Incumbent,
    objective: f64,
    most: usize,
) -> (Vec<usize>, bool) {
    let mut keep = incumbent.columns.clone();
    let others = (0..problem.columns.len()).filter(|column| !incumbent.columns.contains(column));
    let mut ranked: Vec<(f64, usize)> = match relax(problem) {
        Ok(relaxed) => {
            let gap = objective - relaxed.bound;
            others
                .map(|column| {
                    (
                        relaxed.prices.reduced_cost(&problem.columns[column]),
                        column,
                    )
                })
                .filter(|&(reduced, _)| reduced <= gap + 1e-6 * gap.abs().max(1.0))
                .collect()
        }
        // Without prices the cheapest sheets are the only guess.
        Err(_) => others
            .map(|column| (problem.columns[column].cost, column))
            .collect(),
    };
    ranked.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let all = ranked.len() <= most;
    keep.extend(ranked.into_iter().take(most).map(|(_, column)| column));
    keep.sort_unstable();
    (keep, all)
}

#[cfg(test)]
mod tests;
