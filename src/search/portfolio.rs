//! Several chains side by side, in rounds: who found what, what is kept, when to stop.
//!
//! Knows: chains, snapshots, processors. Must not know: the linear program (a recombination is handed in), screens.
//! Promises: limited by moves, the same seed gives the same queue whatever the number of processors; more moves of the
//! same seed never cost more, since a longer search begins as a shorter one does.

use std::sync::Arc;
use std::time::{Duration, Instant};

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

use super::anneal::{Chain, Cooling, Tally};
use super::construct::{RULES, construct};
use super::fitter::Fitter;
use super::idle::fill;
use super::shop::Shop;
use super::snapshot::{SavedRun, Snapshot, merged};
use super::state::State;
use super::tidy::tidy;

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

/// A run sheet worth keeping: its machine and its dated runs.
pub type PooledSheet = (usize, Arc<Vec<SavedRun>>);

/// What joins sheets of several queues into a better one; `None` if it finds none.
pub type Recombine<'a> = &'a (dyn Fn(&Snapshot, &[PooledSheet]) -> Option<Snapshot> + Sync);

/// What tells whether a queue is proven best, so that the search may end.
pub type Proven<'a> = &'a (dyn Fn(&Snapshot, &[PooledSheet]) -> bool + Sync);

/// How a search is made.
pub struct Settings<'a> {
    /// When it ends.
    pub limit: Limit,
    /// Where chance begins.
    pub seed: u64,
    /// Moves that are left out, by name.
    pub without: &'a [String],
    /// What joins sheets, if anything.
    pub recombine: Option<Recombine<'a>>,
    /// What may prove the best queue so far best of all; asked after early rounds only.
    pub proven: Option<Proven<'a>>,
    /// The queue to begin with; `None`: those that rules construct.
    pub start: Option<&'a Snapshot>,
    /// Who watches.
    pub watch: &'a dyn Watch,
}

/// What a search found, and how.
pub struct Found {
    /// The best queue.
    pub best: Snapshot,
    /// Cost of the best constructed queue.
    pub constructed: f64,
    /// Moves made by all chains.
    pub moves: u64,
    /// Money saved by joining sheets.
    pub recombined: f64,
    /// Tries and successes by move.
    pub tallies: Vec<(&'static str, Tally)>,
    /// Good sheets met, for the bound.
    pub pool: Vec<PooledSheet>,
}

/// Chains that go side by side; fixed, so that the answer does not depend on the machine.
const CHAINS: usize = 2;
/// Moves of each chain in the first round; each later round has twice as many.
const FIRST_ROUND: u64 = 20_000;
/// Share of a time limit for each round: a short one, so that there is a good plan early; a long one; a last polish.
const TIME_SHARES: [f64; 3] = [0.06, 0.84, 0.10];
/// Temperatures against the usual step of a change for the worse.
const HOT: f64 = 0.15;
const LEAST_HOT: f64 = 0.01;
const WARM: f64 = 0.02;
const COLD: f64 = 0.002;
/// Runs from which the start of a round is fitted to its moves, and from which chains may share a queue.
const MANY_RUNS: usize = 120;
/// Moves for each run from which a round of such a queue begins at the hottest.
const HOT_MOVES: f64 = 70_000.0;
/// Rounds without a better queue, each twice as long as the one before, after which a search by moves ends.
const STALE_ROUNDS: u32 = 4;
/// The round after which, besides the first, a proof is asked for.
const ASK_AGAIN: usize = 4;
/// Sheets kept for recombination.
const POOL: usize = 600;

/// Searches from several constructed queues; `None` if no rule finds a queue within the calendar's horizon.
pub fn search(shop: &Shop, settings: &Settings) -> Option<Found> {
    let begun = Instant::now();
    if shop.classes.is_empty() {
        return nothing_to_print(shop);
    }
    let mut starts: Vec<Snapshot> = match settings.start {
        Some(start) => vec![start.clone()],
        None => RULES
            .par_iter()
            .filter_map(|rule| construct(shop, &mut Fitter::default(), rule))
            .map(|state| Snapshot::of(&state))
            .collect(),
    };
    starts.sort_by(|a, b| a.cost().total_cmp(&b.cost()));
    let first = starts.first()?.clone();
    settings.watch.better(first.cost());
    let mut found = Found {
        constructed: first.cost(),
        best: first,
        moves: 0,
        recombined: 0.0,
        tallies: Vec::new(),
        pool: Vec::new(),
    };
    let mut chains: Vec<Chain> = (0..CHAINS)
        .map(|c| {
            let start = &starts[c % starts.len()];
            let state = start.restore(shop, &mut Fitter::default());
            Chain::new(
                shop,
                state,
                settings.seed.wrapping_mul(1_000_003) + c as u64,
                settings.without,
            )
        })
        .collect();
    let unit = chains[0].usual_step(400);
    let limit = match settings.limit {
        // Two rounds fewer from an accepted plan: most of it is good already.
        Limit::Usual if settings.start.is_some() => {
            Limit::Moves((usual_moves(shop, &found.best) / 4).max(CHAINS as u64 * FIRST_ROUND))
        }
        Limit::Usual => Limit::Moves(usual_moves(shop, &found.best)),
        given => given,
    };
    let mut round = 0;
    let mut stale = 0u32;
    while let Some(plan) = plan_round(limit, round, found.moves, begun.elapsed()) {
        let runs = found.best.runs();
        let cooling = Cooling {
            // A hot start would forget what was accepted.
            from: unit * settings.start.map_or(heat(&plan, runs), |_| WARM),
            to: unit * COLD,
        };
        let clock = Clock {
            plan: &plan,
            begun,
            watch: settings.watch,
        };
        if parts_well(shop, &found.best) {
            found.moves += run_parted(shop, &mut chains, cooling, &clock, settings.seed, round);
        } else {
            let made: Vec<u64> = chains
                .par_iter_mut()
                .map(|chain| {
                    let made = run(chain, plan.moves, cooling, 0, &clock);
                    if plan.whole {
                        chain.redate();
                    }
                    made
                })
                .collect();
            found.moves += made.iter().sum::<u64>();
        }
        let before = found.best.cost();
        gather(&mut found, &mut chains, settings.watch);
        if plan.whole {
            // Joining takes its time; where the clock decides and has run out, or somebody waits for the end, there is none.
            let over = matches!(limit, Limit::Time(total) if begun.elapsed() >= total);
            if !over && !settings.watch.stop() {
                recombine(&mut found, settings);
            }
            let tidied = tidy(shop, &found.best);
            if tidied.cost() < found.best.cost() {
                settings.watch.better(tidied.cost());
                found.best = tidied;
            }
        }
        round += 1;
        stale = if found.best.cost() < before - 1e-9 {
            0
        } else {
            stale + 1
        };
        let out_of_luck = stale >= STALE_ROUNDS && !matches!(limit, Limit::Time(_));
        if settings.watch.stop() || out_of_luck {
            break;
        }
        let ask = round == 1 || round == ASK_AGAIN;
        if ask
            && settings
                .proven
                .is_some_and(|proven| proven(&found.best, &found.pool))
        {
            break;
        }
        for (c, chain) in chains.iter_mut().enumerate() {
            // The first chain goes on from the best there is, the others from their own best, for variety.
            if c == 0 || round % 3 == 0 {
                chain.restart(&found.best);
            } else {
                let own = chain.best().clone();
                chain.restart(&own);
            }
        }
    }
    found.best = fill(shop, &found.best);
    found.tallies = add_tallies(&chains);
    Some(found)
}

/// The queue of no runs: all that is left is work at the bench.
fn nothing_to_print(shop: &Shop) -> Option<Found> {
    let mut state = State::empty(shop);
    let cost = state.refresh(shop);
    cost.is_finite().then(|| Found {
        constructed: cost,
        best: Snapshot::of(&state),
        moves: 0,
        recombined: 0.0,
        tallies: Vec::new(),
        pool: Vec::new(),
    })
}

/// The temperature at which a round begins, against the usual step for the worse.
///
/// A chain that is warmer than its moves can cool loses what the round before has found. (Measured on 400 packed runs with
/// 10,000 moves for each: 0.02 leaves a queue of 947, 0.08 one of 998, 0.25 one of 1061; on 150 runs with 33,000 moves
/// for each 0.07 and 0.1 are best.) Short queues are found again soon, and a warm start leaves their dead ends.
fn heat(plan: &Round, runs: usize) -> f64 {
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
struct Clock<'a> {
    plan: &'a Round,
    begun: Instant,
    watch: &'a dyn Watch,
}

impl Clock<'_> {
    /// How far along the cooling a chain is after so many moves of the round; `None` when it is to end.
    fn share(&self, made: u64) -> Option<f64> {
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

/// Lets a chain make so many moves, `before` of the round being made already; how many it made.
fn run(chain: &mut Chain, moves: u64, cooling: Cooling, before: u64, clock: &Clock) -> u64 {
    let mut made = moves;
    chain.run(moves, cooling, |step| {
        let share = clock.share(before + step);
        if share.is_none() {
            made = step;
        }
        share
    });
    made
}

/// Whether chains had better share one queue, each changing machines of its own: long queues gain more from twice as many
/// moves than from a second try. Dates must not depend on other machines; see [`merged`].
fn parts_well(shop: &Shop, queue: &Snapshot) -> bool {
    let runs = queue.runs();
    shop.hands.is_none()
        && shop.trials.is_empty()
        && shop.machines.len() >= 2 * CHAINS
        && runs >= MANY_RUNS
}

/// Moves of each chain between two merges, for each run of the queue. (Measured on 150 packed runs: 8,000 moves between merges
/// leave queues of 311 to 318, 2,000 and 1,000 of 308 to 315, 500 of 308 to 321; a merge costs as many moves as there are runs.)
const STRETCH: u64 = 16;

/// One round in which all chains work on one queue: each on its share of the machines, drawn afresh every stretch. The
/// moves of all chains.
fn run_parted(
    shop: &Shop,
    chains: &mut [Chain],
    cooling: Cooling,
    clock: &Clock,
    seed: u64,
    round: usize,
) -> u64 {
    let mut rng = Pcg64Mcg::seed_from_u64(seed ^ (round as u64 + 1).wrapping_mul(0x9e37_79b9));
    let mut machines: Vec<usize> = (0..shop.machines.len()).collect();
    let (mut before, mut sum) = (0, 0);
    let mut base = chains[0].now();
    let stretch = STRETCH * base.runs() as u64;
    for chain in chains.iter_mut() {
        chain.restart(&base);
    }
    while before < clock.plan.moves && clock.share(before).is_some() {
        machines.shuffle(&mut rng);
        let parts: Vec<Vec<usize>> = (0..chains.len())
            .map(|c| {
                machines
                    .iter()
                    .copied()
                    .skip(c)
                    .step_by(chains.len())
                    .collect()
            })
            .collect();
        let stretch = stretch.min(clock.plan.moves - before);
        let made: Vec<(u64, Snapshot, Vec<usize>)> = chains
            .par_iter_mut()
            .zip(parts)
            .map(|(chain, part)| {
                chain.confine(part.clone());
                let made = run(chain, stretch, cooling, before, clock);
                (made, chain.now(), part)
            })
            .collect();
        sum += made.iter().map(|m| m.0).sum::<u64>();
        let changed: Vec<(Snapshot, Vec<usize>)> = made
            .into_iter()
            .map(|(_, queue, part)| (queue, part))
            .collect();
        let joined = merged(&base, &changed);
        for chain in chains.iter_mut() {
            chain.restart(&joined);
        }
        base = chains[0].now();
        before += stretch;
    }
    for chain in chains.iter_mut() {
        chain.confine((0..shop.machines.len()).collect());
    }
    sum
}

/// Moves of all chains that take some seconds on a workshop computer: a whole number of rounds.
///
/// What a move costs is estimated from what it dates: the rest of two sheets, and all bench work where there is any. The
/// nanoseconds were measured on one core of a 2026 server; only the order of size matters.
fn usual_moves(shop: &Shop, queue: &Snapshot) -> u64 {
    let runs = queue.runs();
    let busy = queue.sheets.iter().filter(|s| !s.is_empty()).count().max(1);
    let per_sheet = runs as f64 / busy as f64;
    let mut nanoseconds = 500.0;
    nanoseconds += per_sheet * if shop.hands.is_some() { 60.0 } else { 10.0 };
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
    if !shop.trials.is_empty() {
        // Approvals are settled in rounds, each over all machines.
        nanoseconds *= 4.0;
    }
    let each = USUAL_NANOSECONDS / nanoseconds;
    let rounds = (each / FIRST_ROUND as f64 + 1.0)
        .log2()
        .round()
        .clamp(1.0, 12.0) as u32;
    CHAINS as u64 * FIRST_ROUND * ((1 << rounds) - 1)
}

/// About how long a search usually takes on one core for each chain.
const USUAL_NANOSECONDS: f64 = 1.5e10;

/// One round: how many moves each chain makes at most, how many its cooling is laid out for or expects, the clock's span.
struct Round {
    moves: u64,
    schedule: u64,
    until: Option<(Duration, Duration)>,
    /// Begins cold, so as to better what is there.
    polish: bool,
    /// Not cut short by a limit in moves. What ends a round is done for whole ones only: a longer search does not do it
    /// where a shorter one was cut, and must not cost more for that.
    whole: bool,
}

fn plan_round(limit: Limit, round: usize, made: u64, elapsed: Duration) -> Option<Round> {
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
            // As many moves for the time as so far; of the first round nothing is known.
            let pace = made as f64 / CHAINS as f64 / elapsed.as_secs_f64().max(1e-3);
            (elapsed < until).then_some(Round {
                moves: u64::MAX,
                schedule: (pace * (until - elapsed).as_secs_f64()) as u64,
                until: Some((elapsed, until)),
                polish: round + 1 == TIME_SHARES.len(),
                whole: true,
            })
        }
    }
}

/// Takes over the chains' best queues and their sheets.
fn gather(found: &mut Found, chains: &mut [Chain], watch: &dyn Watch) {
    for chain in chains {
        found.pool.extend(chain.take_pool());
        let best = chain.best();
        if best.cost() < found.best.cost() - 1e-9 {
            found.best = best.clone();
            watch.better(best.cost());
        }
    }
    if found.pool.len() > POOL {
        let extra = found.pool.len() - POOL;
        found.pool.drain(..extra);
    }
}

fn recombine(found: &mut Found, settings: &Settings) {
    let Some(join) = settings.recombine else {
        return;
    };

    if let Some(better) = join(&found.best, &found.pool)
        && better.cost() < found.best.cost() - 1e-9
    {
        found.recombined += found.best.cost() - better.cost();
        settings.watch.better(better.cost());
        found.best = better;
    }
}

fn add_tallies(chains: &[Chain]) -> Vec<(&'static str, Tally)> {
    let mut sums: Vec<(&'static str, Tally)> = Vec::new();
    for (name, tally) in chains.iter().flat_map(Chain::tallies) {
        match sums.iter_mut().find(|(n, _)| *n == name) {
            Some((_, sum)) => {
                sum.tried += tally.tried;
                sum.taken += tally.taken;
                sum.best += tally.best;
            }
            None => sums.push((name, tally)),
        }
    }
    sums
}
