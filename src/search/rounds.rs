//! The rounds of a search: how many moves each has, how warm it begins, when it and the search end.
//!
//! Knows: limits, how many runs a queue has, the clock. Must not know: chains, queues of others, pools.
//! Promises: limited by moves, rounds do not look at the limit, so that a longer search begins as a shorter one does.

use std::time::{Duration, Instant};

use super::shop::{ItemId, Shop};
use super::snapshot::Snapshot;

/// When a search ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// After so many moves of all chains together; reproducible.
    Moves(u64),
    /// After so much time.
    Time(Duration),
    /// After as many moves as a workshop computer makes in some seconds on a shop of this size; reproducible.
    Usual,
}

/// What watches a search and may end it.
pub trait Watch: Sync {
    /// No queue costs less than `least`; `given` of it is what every queue costs. Told before the search.
    fn least(&self, _least: f64, _given: f64) {}

    /// A better queue was found.
    fn better(&self, _cost: f64) {}

    /// Whether the search should end now with what it has.
    fn stop(&self) -> bool {
        false
    }
}

/// Watches nothing.
pub struct Unwatched;

impl Watch for Unwatched {}

/// Chains that go side by side; fixed, so that the answer does not depend on the machine.
pub(super) const CHAINS: usize = 2;
/// Moves of each chain in the first round; each later round has twice as many.
pub(super) const FIRST_ROUND: u64 = 20_000;
/// Share of a time limit for each round: a short one, so that there is a good plan early; a long one; a last polish.
const TIME_SHARES: [f64; 3] = [0.06, 0.84, 0.10];
/// Temperatures against the usual step of a change for the worse.
const HOT: f64 = 0.15;
const LEAST_HOT: f64 = 0.01;
pub(super) const WARM: f64 = 0.02;
pub(super) const COLD: f64 = 0.002;
/// Runs from which the start of a round is fitted to its moves, and from which chains may share a queue.
pub(super) const MANY_RUNS: usize = 120;
/// Moves for each run from which a round of such a queue begins at the hottest.
const HOT_MOVES: f64 = 70_000.0;
/// The temperature at which a round begins, against the usual step for the worse.
///
/// A chain that is warmer than its moves can cool loses what the round before has found. (Measured on 400 packed runs with
/// 10,000 moves for each: 0.02 leaves a queue of 947, 0.08 one of 998, 0.25 one of 1061; on 150 runs with 33,000 moves
/// for each 0.07 and 0.1 are best.) Short queues are found again soon, and a warm start leaves their dead ends.
pub(super) fn heat(plan: &Round, runs: usize) -> f64 {
    if plan.polish {
        return WARM;
    }
    if runs < MANY_RUNS {
        return HOT;
    }
    let each = plan.schedule as f64 / runs.max(1) as f64;
    (HOT * each / HOT_MOVES).clamp(LEAST_HOT, HOT)
}

/// A round's limits, as chains ask for them.
pub(super) struct Clock<'a> {
    pub(super) plan: &'a Round,
    pub(super) begun: Instant,
    pub(super) watch: &'a dyn Watch,
}

impl Clock<'_> {
    /// How far along the cooling a chain is after so many moves of the round; `None` when it is to end.
    pub(super) fn share(&self, made: u64) -> Option<f64> {
        if self.watch.stop() {
            return None;
        }
        match self.plan.until {
            None => Some(made as f64 / self.plan.schedule as f64),
            Some((from, until)) => {
                let now = self.begun.elapsed();
                (now < until).then(|| (now - from).as_secs_f64() / (until - from).as_secs_f64())
            }
        }
    }
}

/// Moves of all chains that take `share` of some seconds on a workshop computer: a whole number of rounds.
///
/// What a move costs is estimated from what it dates: the rest of two sheets, and all bench work where there is any. The
/// nanoseconds were measured on one core of a 2026 server; only the order of size matters.
pub(super) fn usual_moves(shop: &Shop, queue: &Snapshot, share: f64) -> u64 {
    let runs = queue.runs();
    let busy = queue.sheets.iter().filter(|s| !s.is_empty()).count().max(1);
    let per_sheet = runs as f64 / busy as f64;
    let mut nanoseconds = 500.0;
    nanoseconds += per_sheet * if shop.contended() { 60.0 } else { 10.0 };
    if shop.has_bench_work {
        let tasks: u32 = shop.classes.iter().map(|c| c.copies).sum();
        nanoseconds += 30.0 * (runs + shop.nodes.len()) as f64;
        if shop.has_splits {
            nanoseconds += 10.0 * f64::from(tasks);
        }
    }
    if shop.items.iter().any(|item| !item.alone) {
        nanoseconds += 3000.0;
    }
    // Approvals are settled in rounds, each over all machines.
    nanoseconds *= (1.0 + 0.3 * shop.trials.len() as f64).min(4.0);
    // Outlines are laid out among each other, boxes far sooner.
    let ways = (0..shop.machines.len()).flat_map(|machine| {
        (0..shop.items.len() as ItemId).flat_map(move |id| shop.ways(id, machine))
    });
    let (mut shaped, mut all) = (0.0, 0.0_f64);
    for way in ways {
        shaped += f64::from(u8::from(way.shaped));
        all += 1.0;
    }
    nanoseconds += 130_000.0 * shaped / all.max(1.0);
    let each = share * USUAL_NANOSECONDS / nanoseconds;
    let rounds = (each / FIRST_ROUND as f64 + 1.0)
        .log2()
        .round()
        .clamp(1.0, 12.0) as u32;
    CHAINS as u64 * FIRST_ROUND * ((1 << rounds) - 1)
}

/// About how long a search usually takes on one core for each chain.
const USUAL_NANOSECONDS: f64 = 1.5e10;

/// One round: how many moves each chain makes at most, how many its cooling is laid out for or expects, the clock's span.
pub(super) struct Round {
    pub(super) moves: u64,
    pub(super) schedule: u64,
    until: Option<(Duration, Duration)>,
    /// Begins cold, so as to better what is there.
    pub(super) polish: bool,
    /// Not cut short by a limit in moves. What ends a round is done for whole ones only: a longer search does not do it
    /// where a shorter one was cut, and must not cost more for that.
    pub(super) whole: bool,
}

/// The next round; `None` when the search is to end.
pub(super) fn plan_round(
    limit: Limit,
    round: usize,
    made: u64,
    elapsed: Duration,
) -> Option<Round> {
    match limit {
        Limit::Moves(total) => {
            // Laid out without regard to the limit, so that a larger limit begins with the same moves.
            let schedule = FIRST_ROUND << round.min(40);
            let left = total.saturating_sub(made) / CHAINS as u64;
            (left > 0).then_some(Round {
                moves: schedule.min(left),
                schedule,
                until: None,
                polish: false,
                whole: schedule <= left,
            })
        }
        // Resolved to moves before the first round.
        Limit::Usual => None,
        Limit::Time(total) => {
            let share: f64 = TIME_SHARES.get(..=round)?.iter().sum();
            // A round whose time has gone by before it began takes half of what is left.
            let planned = total.mul_f64(share.min(1.0));
            let until = if planned > elapsed {
                planned
            } else {
                (elapsed + total) / 2
            };
            let until = if round + 1 == TIME_SHARES.len() {
                total
            } else {
                until.min(total)
            };
            if elapsed >= until {
                return None;
            }
            // As many moves for the time as so far; of the first round nothing is known.
            let pace = made as f64 / CHAINS as f64 / elapsed.as_secs_f64().max(1e-3);
            Some(Round {
                moves: u64::MAX,
                schedule: (pace * (until - elapsed).as_secs_f64()) as u64,
                until: Some((elapsed, until)),
                polish: round + 1 == TIME_SHARES.len(),
                whole: true,
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_round_begins_when_the_time_is_up() {
        // Joining sheets after a round may take longer than there was left.
        let total = Duration::from_secs(1);
        let limit = Limit::Time(total);
        for round in 0..4 {
            for late in [0, 1, 500] {
                let elapsed = total + Duration::from_millis(late);
                assert!(plan_round(limit, round, 1000, elapsed).is_none());
            }
        }
        let early = plan_round(limit, 0, 0, Duration::from_millis(10));
        assert!(early.is_some());
    }
}
