//! Recombination worked out by hand, and against every choice of random pools.

mod against_enumeration;

use super::super::tests::jib;
use super::super::{Assembly, Column, Part, Route};
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
fn a_start_that_is_not_the_best_is_not_taken_for_it() {
    // One sheet of the second machine makes both copies by day 1 for 7; the first may stand still: 7 + 2 × 0.5, complete on
    // day 1.5 at 0.25 a day: 8.375. The start has the first machine make one more, for 2. (A solver once called it optimal.)
    let sheet = |machine: usize, cost: f64, copies: u32| Column {
        machine,
        cost,
        yields: vec![(0, copies)],
        last: vec![(0, 1440)],
        setups: vec![],
    };
    let problem = MasterProblem {
        machines: vec!["m0".into(), "m1".into()],
        kinds: vec!["beam".into()],
        parts: vec![Part {
            name: "beam".into(),
            copies: 2,
        }],
        routes: vec![Route {
            part: 0,
            cost: 0.5,
            pieces: vec![(0, 1)],
        }],
        assemblies: vec![Assembly {
            name: "bridge".into(),
            needs: vec![],
            work: 720,
            bench: 0,
            due: None,
            late_per_day: 0.0,
        }],
        each_day: 0.25,
        windows: vec![],
        columns: vec![
            Column::empty(0),
            sheet(0, 2.0, 1),
            Column::empty(1),
            sheet(1, 7.0, 2),
        ],
    };
    let start = Incumbent {
        columns: vec![1, 3],
        routes: vec![2],
    };
    let best = recombine(&problem, &start, EFFORT).unwrap();
    assert_eq!(
        (best.columns, best.objective, best.proven),
        (vec![0, 3], 8.375, true)
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
