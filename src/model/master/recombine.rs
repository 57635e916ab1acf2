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
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Columns that the integer solve sees at most, the incumbent's aside; chosen by reduced cost.
    pub columns: usize,
    /// Nodes of branch and bound at most.
    pub nodes: u64,
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
mod tests {
    use super::super::tests::jib;
    use super::*;

    const EFFORT: Effort = Effort {
        columns: 100,
        nodes: 10_000,
    };

    #[test]
    fn the_sheets_of_two_incumbents_make_a_better_plan_than_either() {
        // First: sheets 2 and 4, 26.5. Second: sheets 6 and 4, one chord split: 5 + 2 + 3, complete on day 2.5: 5 late,
        // 2.5 days: 17.5. Sheet 3 of a third with sheet 5 of a fourth: 13. (Sheets 6 and 5, one chord of each: 5 + 4 + 3
        // and the same dates as the second, 19.5; sheets 2 and 5 whole: 28.5.)
        let problem = jib();
        let first = Incumbent {
            columns: vec![4, 2],
            routes: vec![2, 0, 1],
        };
        assert_eq!(problem.cost_of(&[6, 4], &[1, 1, 1]), Some(17.5));
        let best = recombine(&problem, &first, EFFORT).unwrap();
        assert_eq!(best.columns, [3, 5]);
        assert_eq!(best.routes, [1, 1, 1]);
        assert_eq!(best.objective, 13.0);
        assert!(best.proven);
    }

    #[test]
    fn the_best_incumbent_comes_back_proved() {
        let problem = jib();
        let incumbent = Incumbent {
            columns: vec![3, 5],
            routes: vec![1, 1, 1],
        };
        let best = recombine(&problem, &incumbent, EFFORT).unwrap();
        assert_eq!(
            (best.columns, best.objective, best.proven),
            (vec![3, 5], 13.0, true)
        );
    }

    #[test]
    fn without_room_for_other_columns_the_incumbent_stays_and_is_not_called_best() {
        let problem = jib();
        let incumbent = Incumbent {
            columns: vec![2, 4],
            routes: vec![2, 0, 1],
        };
        let best = recombine(
            &problem,
            &incumbent,
            Effort {
                columns: 0,
                nodes: 10_000,
            },
        )
        .unwrap();
        assert_eq!(
            (best.columns, best.objective, best.proven),
            (vec![2, 4], 26.5, false)
        );
    }

    #[test]
    fn an_incumbent_that_breaks_a_row_is_refused() {
        let incumbent = Incumbent {
            columns: vec![3, 4],
            routes: vec![2, 0, 1],
        };
        assert_eq!(recombine(&jib(), &incumbent, EFFORT), None);
    }

    #[test]
    fn every_incumbent_is_a_point_of_the_program_at_its_cost() {
        // So that the start given to the solver is one that it accepts.
        let problem = jib();
        let master = Master::new(&problem, (0..7).collect());
        for (columns, routes) in [
            ([2, 4], [2, 0, 1]),
            ([3, 5], [1, 1, 1]),
            ([6, 4], [1, 1, 1]),
        ] {
            let cost = problem.cost_of(&columns, &routes).unwrap();
            let values = master
                .values_of(&Incumbent {
                    columns: columns.to_vec(),
                    routes: routes.to_vec(),
                })
                .unwrap();
            assert_eq!(master.program.worst_violation(&values), (0.0, "nothing"));
            assert!((master.program.objective(&values) - cost).abs() < 1e-9);
        }
    }

    /// Random pools against every choice tried one by one: slow and obviously right.
    mod against_enumeration {
        use super::*;
        use crate::model::master::{Assembly, Column, Part, Route};
        use proptest::prelude::*;

        fn pool() -> impl Strategy<Value = MasterProblem> {
            let sheet = (1u32..9, 0u32..3, 0u32..3, 1i32..6, 0i32..40);
            prop::collection::vec(prop::collection::vec(sheet, 1..5), 2..4).prop_map(|machines| {
                let mut columns = Vec::new();
                for (machine, sheets) in machines.iter().enumerate() {
                    columns.push(Column::empty(machine));
                    for &(cost, wholes, halves, day, hands) in sheets {
                        columns.push(Column {
                            machine,
                            cost: f64::from(cost),
                            yields: vec![(0, wholes), (1, halves)],
                            last: vec![(0, day * 1440)],
                            setups: vec![(0, hands)],
                        });
                    }
                }
                MasterProblem {
                    machines: machines
                        .iter()
                        .enumerate()
                        .map(|(m, _)| format!("m{m}"))
                        .collect(),
                    kinds: vec!["beam".into(), "beam/2".into()],
                    parts: vec![Part {
                        name: "beam".into(),
                        copies: 2,
                    }],
                    routes: vec![
                        Route {
                            part: 0,
                            cost: 0.5,
                            pieces: vec![(0, 1)],
                        },
                        Route {
                            part: 0,
                            cost: 1.0,
                            pieces: vec![(1, 2)],
                        },
                    ],
                    assemblies: vec![Assembly {
                        name: "bridge".into(),
                        needs: vec![],
                        work: 720,
                        bench: 30,
                        due: Some(2 * 1440),
                        late_per_day: 2.0,
                    }],
                    each_day: 0.25,
                    windows: vec![Some(90)],
                    columns,
                }
            })
        }

        fn cheapest(problem: &MasterProblem) -> Option<(f64, Incumbent)> {
            let of = |machine: usize| {
                (0..problem.columns.len()).filter(move |&c| problem.columns[c].machine == machine)
            };
            let mut choices: Vec<Vec<usize>> = vec![Vec::new()];
            for machine in 0..problem.machines.len() {
                choices = choices
                    .iter()
                    .flat_map(|choice| of(machine).map(|c| [choice.as_slice(), &[c]].concat()))
                    .collect();
            }
            let routes = [[2, 0], [1, 1], [0, 2]];
            choices
                .into_iter()
                .flat_map(|columns| {
                    routes.map(|r| Incumbent {
                        columns: columns.clone(),
                        routes: r.to_vec(),
                    })
                })
                .filter_map(|choice| {
                    Some((problem.cost_of(&choice.columns, &choice.routes)?, choice))
                })
                .min_by(|a, b| a.0.total_cmp(&b.0))
        }

        fn dearest(problem: &MasterProblem, machines: usize) -> Option<Incumbent> {
            // Any choice that keeps the rows serves; the last columns of each machine, by the first routes that work.
            let last =
                |m: usize| (0..problem.columns.len()).rfind(|&c| problem.columns[c].machine == m);
            let columns: Vec<usize> = (0..machines).filter_map(last).collect();
            [[2, 0], [1, 1], [0, 2]]
                .into_iter()
                .map(|r| Incumbent {
                    columns: columns.clone(),
                    routes: r.to_vec(),
                })
                .find(|choice| problem.cost_of(&choice.columns, &choice.routes).is_some())
        }

        proptest! {
            #[test]
            fn recombination_finds_the_cheapest_choice_of_the_pool(problem in pool()) {
                if let Some(incumbent) = dearest(&problem, problem.machines.len()) {
                    let (cost, _) = cheapest(&problem).expect("the incumbent is a choice");
                    let best = recombine(&problem, &incumbent, EFFORT).expect("the incumbent keeps the rows");
                    prop_assert!((best.objective - cost).abs() < 1e-6, "{} for {cost}", best.objective);
                    prop_assert!(best.proven);
                }
            }

            #[test]
            fn the_relaxation_is_below_every_choice(problem in pool()) {
                if let Some((cost, _)) = cheapest(&problem) {
                    prop_assert!(relax(&problem).expect("there is a choice").bound <= cost);
                }
            }
        }
    }
}
