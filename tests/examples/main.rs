//! The example scenarios: as large as they are said to be, and nothing in their plans, made by the whole program, is absurd.

mod beams;
mod changes;
mod counts;
mod idle;

use std::path::Path;

use beamyard::calendar::Calendar;
use beamyard::plan::Plan;
use beamyard::planning::{Options, plan};
use beamyard::scenario::{Scenario, read};
use beamyard::search::portfolio::Limit;

/// Two whole rounds of two chains, 20,000 and 40,000 moves each.
const MOVES: u64 = 120_000;

fn scenario(name: &str) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{name}.yaml"));
    read(&path)
        .unwrap_or_else(|wrong| panic!("{}", wrong.render(false)))
        .scenario
}

/// A scenario with its plan.
struct Shop {
    scenario: Scenario,
    calendar: Calendar,
    plan: Plan,
}

/// A plan with so many moves; it has passed its audit.
fn plan_of(scenario: Scenario, moves: u64) -> Shop {
    let options = Options {
        limit: Some(Limit::Moves(moves)),
        ..Options::default()
    };
    let made = plan(&scenario, &options).unwrap_or_else(|none| panic!("{none:?}"));
    Shop {
        calendar: Calendar::new(&scenario),
        scenario,
        plan: made.plan,
    }
}

fn planned(name: &str, moves: u64) -> Shop {
    plan_of(scenario(name), moves)
}

/// What a check has found, and how often it compared anything: one that compares nothing finds nothing.
#[derive(Debug, Default)]
struct Looked {
    compared: usize,
    absurd: Vec<String>,
}

/// Looks at a plan for all that is absurd, with at least so many comparisons of each kind: set up later than could be, behind a later run
/// that could go first, a change of filament too many, in lengths beside a free belt.
fn assert_nothing_is_absurd(name: &str, shop: &Shop, least: [usize; 4]) {
    let checks = [
        ("set up late", idle::idles(shop)),
        ("a later run first", idle::could_go_first(shop)),
        ("changes", changes::saved_by_exchanging_neighbours(shop)),
        ("beside a free belt", beams::splits_beside_a_free_belt(shop)),
    ];
    for ((check, looked), least) in checks.iter().zip(least) {
        eprintln!("{name}, {check}: {} compared", looked.compared);
        assert!(looked.absurd.is_empty(), "{name}, {check}: {looked:#?}");
        assert!(
            looked.compared >= least,
            "{name}, {check}: {}",
            looked.compared
        );
    }
}

#[test]
fn nothing_in_the_plan_of_the_first_week_is_absurd() {
    assert_nothing_is_absurd("first-week", &planned("first-week", MOVES), [5, 8, 2, 0]);
}

#[test]
fn nothing_in_the_plan_of_the_tide_clocks_is_absurd() {
    assert_nothing_is_absurd("tide-clock", &planned("tide-clock", MOVES), [15, 70, 6, 0]);
}

#[test]
fn nothing_in_the_plan_of_the_footbridge_is_absurd_and_its_beams_go_to_the_belt() {
    let shop = planned("footbridge", MOVES);
    beams::assert_beams_are_on_the_belt(&shop);
    // No copy is in lengths.
    assert_nothing_is_absurd("footbridge", &shop, [25, 150, 4, 0]);
}

#[test]
fn nothing_in_the_plan_of_the_crane_is_absurd() {
    assert_nothing_is_absurd(
        "quayside-crane",
        &planned("quayside-crane", MOVES),
        [45, 160, 8, 0],
    );
}
