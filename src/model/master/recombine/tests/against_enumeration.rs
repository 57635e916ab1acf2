//! Random pools against every choice tried one by one: slow and obviously right.

use super::{Assembly, Column, EFFORT, Incumbent, MasterProblem, Part, Route, recombine, relax};
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
        .filter_map(|choice| Some((problem.cost_of(&choice.columns, &choice.routes)?, choice)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

fn dearest(problem: &MasterProblem, machines: usize) -> Option<Incumbent> {
    // Any choice that keeps the rows serves; the last columns of each machine, by the first routes that work.
    let last = |m: usize| (0..problem.columns.len()).rfind(|&c| problem.columns[c].machine == m);
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
