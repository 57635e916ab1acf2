//! The same plan on any number of processors, also where a search is long enough for whole rounds: what comes after a round
//! (the master, dating afresh, tidying up) and chains that share one queue.

use beamyard::planning::Planned;
use beamyard::scenario::{Hands, Scenario, read};

use crate::hall::hall;
use crate::support::planned;

/// Moves of the first whole round: 20,000 of each of two chains.
const ROUND: u64 = 40_000;

/// The plan by one processor. By four, with the same moves, it is the same to the last digit.
fn on_one_and_on_four(shop: &Scenario, moves: u64) -> Planned {
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let pool = pool.expect("threads can be started");
        let made = pool.install(|| planned(shop, 1, moves));
        made.unwrap_or_else(|none| panic!("{none:?}"))
    };
    let said = |made: &Planned| format!("{:?}", (&made.plan, made.optimal, made.moves));
    let (one, four) = (on(1), on(4));
    assert_eq!(said(&one), said(&four));
    // What was proved best early has not come so far.
    assert_eq!(one.moves, moves);
    one
}

#[test]
fn two_whole_rounds_where_hands_are_short_give_one_plan_on_any_number_of_processors() {
    let file = format!("{}/scenarios/tide-clock.yaml", env!("CARGO_MANIFEST_DIR"));
    let shop = read(file.as_ref()).expect("an example is right").scenario;
    assert_eq!(shop.bench.hands, Hands::Count(1));
    // The second round is twice as long as the first.
    on_one_and_on_four(&shop, 3 * ROUND);
}

#[test]
fn chains_that_share_a_queue_give_one_plan_on_any_number_of_processors() {
    // 18 kinds of panel, 36 of each, four on a plate: 162 runs on eight machines, some twenty on each. Chains share a queue from
    // 120 runs and four machines on, where hands are never short.
    let shop = hall(8, 18);
    assert_eq!(shop.bench.hands, Hands::Unlimited);
    let made = on_one_and_on_four(&shop, ROUND + ROUND / 10);
    let runs = made.plan.runs.iter();
    let machines: std::collections::BTreeSet<_> = runs.map(|run| run.machine).collect();
    assert_eq!(machines.len(), 8);
    assert!(made.plan.runs.len() >= 140, "{}", made.plan.runs.len());
}
