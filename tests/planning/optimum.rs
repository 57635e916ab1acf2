//! Tiny shops: the plan costs what the cheapest of all their queues costs.

use beamyard::scenario::Scenario;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use crate::exhaustive::cheapest;
use crate::shops::{Tiny, tiny_shops};
use crate::support::{SAME, cases, planned};

/// Moves in which a shop of five pieces is searched well through.
const MOVES: u64 = 20_000;

/// What came of one shop.
enum Outcome {
    Same,
    Neither,
    Dearer(f64, f64),
    Cheaper(f64, f64),
    Only(bool),
}

fn compare(shop: &Scenario) -> Outcome {
    let plan = planned(shop, 1, MOVES).ok().map(|plan| plan.cost.total().0);
    match (plan, cheapest(shop)) {
        (None, None) => Outcome::Neither,
        (Some(plan), Some(best)) if (plan - best).abs() <= SAME => Outcome::Same,
        (Some(plan), Some(best)) if plan > best => Outcome::Dearer(plan, best),
        (Some(plan), Some(best)) => Outcome::Cheaper(plan, best),
        (plan, _) => Outcome::Only(plan.is_some()),
    }
}

#[test]
fn the_plan_of_a_tiny_shop_costs_what_its_cheapest_queue_costs() {
    let config = cases(40);
    let mut runner = TestRunner::new(config.clone());
    let mut misses = Vec::new();
    let mut planned = 0;
    for case in 0..config.cases {
        let shop = tiny_shops(Tiny { pieces: 5 })
            .new_tree(&mut runner)
            .expect("it draws")
            .current();
        match compare(&shop) {
            Outcome::Same => planned += 1,
            Outcome::Neither => {}
            Outcome::Dearer(plan, best) => misses.push(format!("case {case}: plan {plan}, best {best}")),
            Outcome::Cheaper(plan, best) => misses.push(format!("case {case}: CHEAPER plan {plan}, best {best}")),
            Outcome::Only(plan) => misses.push(format!("case {case}: only the plan: {plan}")),
        }
    }
    eprintln!("same {planned} of {}", config.cases);
    assert!(misses.is_empty(), "{} misses:\n{}", misses.len(), misses.join("\n"));
}
