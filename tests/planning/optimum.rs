//! Tiny shops: the plan costs what the cheapest of all their queues costs.

use beamyard::scenario::{Scenario, read_text};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;

use crate::exhaustive::cheapest;
use crate::shops::{Tiny, tiny_shops};
use crate::support::{SAME, cases, planned};

/// Moves in which a shop of five pieces is searched well through.
const MOVES: u64 = 20_000;

/// What is wrong with the plan of a shop, if anything: every queue of it is tried.
fn miss(shop: &Scenario) -> Option<String> {
    let plan = planned(shop, 1, MOVES)
        .ok()
        .map(|made| made.plan.cost.total().0);
    let best = cheapest(shop);
    match (plan, best) {
        (None, None) => None,
        (Some(plan), Some(best)) if (plan - best.cost).abs() <= SAME => None,
        (Some(plan), Some(best)) if plan > best.cost => Some(format!(
            "the plan costs {plan}, and this queue {}: {:#?}",
            best.cost, best.runs
        )),
        (Some(plan), Some(best)) => Some(format!(
            "the plan costs {plan}, less than the cheapest of all queues, {}",
            best.cost
        )),
        (Some(plan), None) => Some(format!("a plan of {plan}, and no queue is done in time")),
        (None, Some(best)) => Some(format!("no plan, and this queue: {:#?}", best.runs)),
    }
}

#[test]
fn the_plan_of_a_tiny_shop_costs_what_its_cheapest_queue_costs() {
    let config = cases(40);
    let mut runner = TestRunner::new(config.clone());
    let misses: Vec<String> = (0..config.cases)
        .filter_map(|case| {
            let shop = tiny_shops(Tiny { pieces: 5 })
                .new_tree(&mut runner)
                .expect("it draws")
                .current();
            miss(&shop).map(|what| format!("case {case}: {what}"))
        })
        .collect();
    assert!(
        misses.is_empty(),
        "{} of {}:\n{}",
        misses.len(),
        config.cases,
        misses.join("\n")
    );
}

#[test]
fn the_search_ends_by_itself_where_no_queue_can_cost_less() {
    // Three pegs on one plate, an hour at 1 EUR, nothing else: the relaxation says 1 EUR, too. A million moves are allowed;
    // the first round of two chains has 40,000.
    let text = r#"
build: {name: Pegs, start: 2026-01-05 07:00, each_day: 0}
bench: {hours: {mon-sun: ["07:00-22:00"]}, hands: unlimited, energy_kwh: 0, bench_hour: 0}
machines:
  - {id: one, kind: bed, bed: [200, 200], height: 200, warm_up: 0 s, layer_time: 0 s, hourly: 1, loaded: grey}
filaments: [{id: grey, material: PLA, spools: [5000], price_kg: 0}]
parts:
  - {id: peg, quantity: 3, size: [20, 20, 20], filament: grey, grams: 10, minutes: {one: 20}}
assemblies:
  - {id: all, parts: {peg: 3}}
"#;
    let shop = match read_text("pegs.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let planned = planned(&shop, 1, 1_000_000).expect("there is time");
    assert!(planned.optimal);
    assert!(planned.moves <= 40_000, "{} moves", planned.moves);
}
