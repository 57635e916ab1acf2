//! The cheapest queue of a tiny shop, by trying them all: slow, and written to be seen to be right.
//!
//! Knows: the scenario and its rules. Shares with the planner nothing but the scenario's types and the order in which
//! the build graph stands (for ties). Bench hours are asked minute by minute of the wall clock, plates are packed by trying
//! every corner, bench work is dated minute by minute, money is added up from minutes and grams.
//!
//! What is tried: every way to make each copy (whole or in lengths, on each machine, lying on each side), every plate,
//! every order of the runs of all machines together, each set up as early as those set up before it allow. Any queue can
//! be set up in the order in which its setups begin; then none begins later than it did. So nothing cheaper is missed,
//! unless it is by leaving hands free on purpose for bench work: setups go first, and the planner does not wait either.

mod bench_work;
mod clock;
mod making;
mod packing;
mod queue;
mod wanted;

use beamyard::scenario::Scenario;

/// A cheapest queue.
pub struct Cheapest {
    /// Its cost.
    pub cost: f64,
    /// Its runs, a line each, in the order in which they were set up.
    pub runs: Vec<String>,
}

/// A cheapest queue; `None` if no queue is done within the clock's horizon.
pub fn cheapest(shop: &Scenario) -> Option<Cheapest> {
    let clock = clock::Clock::of(shop);
    let wanted = wanted::Wanted::of(shop, &clock);
    let mut best = Cheapest {
        cost: f64::INFINITY,
        runs: Vec::new(),
    };
    for division in wanted.divisions() {
        best = queue::Walk::new(shop, &clock, &wanted, &division, best).cheapest();
    }
    best.cost.is_finite().then_some(best)
}
