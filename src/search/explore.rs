//! What a chain does that looks for quite another queue while the first betters the best.
//!
//! Knows: constructed queues, one chain, a round's clock. Must not know: other chains, what is best so far.
//! Promises: limited by moves, the same seed finds the same; no more moves than the round has.
//!
//! A short queue is soon as good as small changes make it: which part goes where, split or whole, is then decided, and rounds that go
//! on from it seldom undo it. (Means of three seeds, with 5 million moves and two chains that both go on from what they have: a bridge whose
//! days are dear 922, the footbridge with all machines watched 1863; with this 901 and 1800. With 10 million 909 and 1835; 900 and 1785. Where
//! every piece is a run of its own there is nothing of the kind to decide: 60 packed runs 118.1, with this 119.3.)

use super::anneal::{Chain, Cooling};
use super::rounds::{Clock, MANY_RUNS, Round};
use super::shop::Shop;
use super::snapshot::Snapshot;

/// Moves for each run from which a round has enough of them to come from a constructed queue to a good one.
const ENOUGH: u64 = 1000;
/// Moves for each run after which, in every second round, it begins anew.
const ANEW: u64 = 6000;
/// How much warmer it begins and ends than the chain that betters the best.
const HOTTER: f64 = 6.0;
const WARMER: f64 = 2.0;

/// Whether a chain had better look elsewhere in a round: there is something to decide besides which run follows which, and it has the
/// moves to come to something.
pub(super) fn explores(shop: &Shop, round: &Round, runs: usize) -> bool {
    let decides = shop.items.iter().any(|item| !item.alone);
    let may = !round.polish && runs < MANY_RUNS && round.schedule >= ENOUGH * runs as u64;
    decides && may
}

/// Lets a chain begin at constructed queues: in every second round at one after the other, else at one for the whole round, since some
/// shops want many beginnings and some a long way. How many moves it made.
pub(super) fn look_elsewhere(
    chain: &mut Chain,
    starts: &[Snapshot],
    number: usize,
    cooling: Cooling,
    clock: &Clock,
) -> u64 {
    let runs = starts.iter().map(Snapshot::runs).min().unwrap_or(1).max(1) as u64;
    let times = match number % 2 {
        0 => (clock.plan.schedule / (ANEW * runs)).clamp(1, 8),
        _ => 1,
    };
    let cooling = Cooling {
        from: cooling.from * HOTTER,
        to: cooling.to * WARMER,
    };
    let mut made = 0;
    for (time, start) in (0..times).zip(starts.iter().cycle().skip(number)) {
        if made >= clock.plan.moves || clock.share(made).is_none() {
            break;
        }
        chain.restart(start);
        let left = clock.plan.moves - made;
        let mut steps = left;
        chain.run(left, cooling, |step| {
            let share = clock
                .share(made + step)
                .map(|share| share * times as f64 - time as f64);
            let here = share.filter(|&share| share < 1.0 || time + 1 == times);
            if here.is_none() {
                steps = step;
            }
            here
        });
        made += steps;
    }
    made
}
