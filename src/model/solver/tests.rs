//! What solvers answer to programs that are worked out by hand.

use super::*;

/// min 2x + 3y with x + y ≥ 4, x ≤ 3 as a row, x − y = 1 as a row: x = 2.5, y = 1.5 costs 9.5.
fn blend() -> LinearProgram {
    let mut program = LinearProgram::new();
    let x = program.variable(2.0, 0.0, f64::INFINITY);
    let y = program.variable(3.0, 0.0, f64::INFINITY);
    program.row("demand", vec![(x, 1.0), (y, 1.0)], Sense::AtLeast, 4.0);
    program.row("room", vec![(x, 1.0)], Sense::AtMost, 3.0);
    program.row("balance", vec![(x, 1.0), (y, -1.0)], Sense::Equal, 1.0);
    program
}

#[test]
fn prices_are_what_a_unit_more_of_a_right_side_costs() {
    // Demand 5 instead of 4: x = 3, y = 2 costs 12, 2.5 more. Balance 2 instead of 1: x = 3, y = 1 costs 9, 0.5 less.
    let solution = solve_lp(&blend()).unwrap();
    assert_eq!(solution.quality, Quality::Optimal);
    assert!((solution.objective - 9.5).abs() < 1e-6);
    for (price, expected) in solution.prices.iter().zip([2.5, 0.0, -0.5]) {
        assert!((price - expected).abs() < 1e-5, "{:?}", solution.prices);
    }
}

#[test]
fn a_limit_has_a_price_that_is_not_positive() {
    // min −x with x ≤ 3: one more is worth −1.
    let mut program = LinearProgram::new();
    let x = program.variable(-1.0, 0.0, f64::INFINITY);
    program.row("room", vec![(x, 1.0)], Sense::AtMost, 3.0);
    let solution = solve_lp(&program).unwrap();
    assert!((solution.prices[0] + 1.0).abs() < 1e-6);
    assert!((solution.values[x.0] - 3.0).abs() < 1e-6);
}

#[test]
fn what_cannot_be_and_what_has_no_end_are_told_apart_from_an_optimum() {
    let mut nothing = LinearProgram::new();
    let x = nothing.variable(1.0, 0.0, 1.0);
    nothing.row("demand", vec![(x, 1.0)], Sense::AtLeast, 2.0);
    assert_eq!(solve_lp(&nothing).unwrap_err(), Unsolved::Infeasible);

    let mut endless = LinearProgram::new();
    let x = endless.variable(-1.0, 0.0, f64::INFINITY);
    endless.row("demand", vec![(x, 1.0)], Sense::AtLeast, 2.0);
    let answer = solve_lp(&endless);
    assert!(
        !matches!(&answer, Ok(solution) if solution.quality == Quality::Optimal),
        "{answer:?}"
    );
}

#[test]
fn a_number_that_is_none_is_refused_with_the_row_that_holds_it() {
    let mut program = blend();
    program.row("odd", vec![(Variable(0), f64::NAN)], Sense::AtLeast, 0.0);
    assert_eq!(
        solve_lp(&program).unwrap_err(),
        Unsolved::NotFinite("odd".into())
    );
}

/// min 5a + 4b + 3c with 2a + 3b + c ≥ 5, all 0 or 1: the LP takes b whole and 2/3 of … ; whole: a + b = 9 (5 met),
/// b + c meets only 4, a + c only 3: 9 is best, all three cost 12.
fn covering() -> (LinearProgram, Vec<Variable>) {
    let mut program = LinearProgram::new();
    let all: Vec<Variable> = [5.0, 4.0, 3.0]
        .map(|cost| program.variable(cost, 0.0, 1.0))
        .to_vec();
    let weights = [2.0, 3.0, 1.0];
    program.row(
        "cover",
        all.iter().copied().zip(weights).collect(),
        Sense::AtLeast,
        5.0,
    );
    (program, all)
}

#[test]
fn the_integer_optimum_is_found_from_a_worse_start_and_proved() {
    let (program, all) = covering();
    let solution = solve_integer(&program, &all, Some(&[1.0, 1.0, 1.0]), 1000).unwrap();
    assert_eq!(solution.values, [1.0, 1.0, 0.0]);
    assert_eq!(solution.objective, 9.0);
    assert!(solution.proven);
}

#[test]
fn a_start_that_breaks_a_row_is_not_believed() {
    let (program, all) = covering();
    let solution = solve_integer(&program, &all, Some(&[0.0, 0.0, 0.0]), 1000).unwrap();
    assert_eq!(solution.objective, 9.0);
}

#[test]
fn an_integer_solve_that_is_stopped_keeps_its_start_and_is_not_called_proven() {
    // Twelve knapsack rows over thirty items: not solved at the root. With no nodes at all the start must come back, or
    // something better that is not called proven.
    let mut program = LinearProgram::new();
    let items: Vec<Variable> = (0..30)
        .map(|i| program.variable(10.0 + f64::from((i * 7) % 11), 0.0, 1.0))
        .collect();
    for row in 0..12 {
        let weight = |i: usize| 3.0 + ((i * (row + 3) + row) % 13) as f64;
        let terms = items.iter().map(|&v| (v, weight(v.0))).collect();
        program.row(format!("cover[{row}]"), terms, Sense::AtLeast, 101.5);
    }
    let start = vec![1.0; 30];
    let solution = solve_integer(&program, &items, Some(&start), 0).unwrap();
    assert!(!solution.proven);
    assert!(solution.objective <= program.objective(&start));
    assert!(program.worst_violation(&solution.values).0 <= 1e-9);
}
