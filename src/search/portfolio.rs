//! Several chains side by side, in rounds: who found what, what is kept, when to stop.
//!
//! Knows: chains, snapshots, processors. Must not know: the linear program (a recombination is handed in), screens.
//! Promises: limited by moves, the same seed gives the same queue whatever the number of processors; more moves of the
//! same seed never cost more, since a longer search begins as a shorter one does.
//!
//! A farm that is several farms is searched farm by farm: see [`super::severally`].

use std::sync::Arc;
use std::time::Instant;

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

use crate::calendar::Minute;

use super::anneal::{Chain, Cooling, Tally};
use super::apart::{parts, wanted_machines};
use super::construct::{RULES, Rule, construct, extend, hours};
use super::explore::{explores, look_elsewhere};
use super::fitter::Fitter;
use super::idle::fill;
use super::rounds::{
    CHAINS, COLD, Clock, FIRST_ROUND, MANY_RUNS, WARM, heat, plan_round, usual_moves,
};
use super::severally::search_each;
use super::shop::Shop;
use super::snapshot::{SavedRun, Snapshot, merged};
use super::state::State;
use super::tidy::tidy;

pub use super::rounds::{Limit, Unwatched, Watch};

/// A run sheet worth keeping: its machine and its dated runs.
pub type PooledSheet = (usize, Arc<Vec<SavedRun>>);

/// What joins sheets of several queues of a shop into a better one; `None` if it finds none.
pub type Recombine<'a> = &'a (dyn Fn(&Shop, &Snapshot, &[PooledSheet]) -> Option<Snapshot> + Sync);

/// What tells whether a shop's queue is proven best, so that the search may end.
pub type Proven<'a> = &'a (dyn Fn(&Shop, &Snapshot, &[PooledSheet]) -> bool + Sync);

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
    /// No queue of the shop costs less: one that costs no more ends the search.
    pub least: f64,
    /// The queue to begin with; `None`: those that rules construct.
    pub start: Option<&'a Snapshot>,
    /// Whether another chain than the first begins at a queue that is built anew behind what of `start` must stay.
    pub anew: bool,
    /// Whether a farm that is several farms is searched farm by farm.
    pub apart: bool,
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
    /// Other good queues, the cheapest first: what spools there really are may suit one of them better.
    pub others: Vec<Snapshot>,
}

impl Found {
    /// A constructed queue, before any move.
    pub(super) fn begun(first: Snapshot) -> Self {
        Self {
            constructed: first.cost(),
            best: first,
            moves: 0,
            recombined: 0.0,
            tallies: Vec::new(),
            pool: Vec::new(),
            others: Vec::new(),
        }
    }

    /// Notes a queue besides the best.
    fn other(&mut self, queue: &Snapshot) {
        let cost = queue.cost();
        let near = |known: &Snapshot| (known.cost() - cost).abs() < 1e-9;
        if near(&self.best) || self.others.iter().any(near) {
            return;
        }
        let at = self.others.partition_point(|known| known.cost() <= cost);
        if at < OTHERS {
            self.others.insert(at, queue.clone());
            self.others.truncate(OTHERS);
        }
    }
}

/// Rounds without a better queue, each twice as long as the one before, after which a search by moves ends.
const STALE_ROUNDS: u32 = 4;
/// The round after which, besides the first, a proof is asked for.
const ASK_AGAIN: usize = 4;
/// A queue that costs no more than this share above the least possible is one of the best: both are sums of many terms.
const ROUNDING: f64 = 1e-6;
/// Queues kept besides the best.
const OTHERS: usize = 4;
/// Sheets kept for recombination.
const POOL: usize = 600;

/// Searches from several constructed queues; `None` if no rule finds a queue within the calendar's horizon.
pub fn search(shop: &Shop, settings: &Settings) -> Option<Found> {
    if shop.classes.is_empty() {
        return nothing_to_print(shop);
    }
    // With hands or filament that may be short the farms have something to do with each other; a plan that was accepted is one plan.
    if settings.apart && !shop.contended() && settings.start.is_none() {
        let parts = parts(shop);
        if !parts.is_empty() {
            return search_each(shop, &parts, settings);
        }
    }
    let starts = match settings.start {
        Some(start) => {
            let anew = settings.anew.then(|| built_anew(shop, start)).flatten();
            std::iter::once(start.clone()).chain(anew).collect()
        }
        None => constructed(shop),
    };
    search_from(shop, starts, settings, 1.0)
}

/// A queue with the same runs at the heads of its sheets that must stay, and all else built anew: where much has changed, what
/// was accepted may be far from anything good.
fn built_anew(shop: &Shop, start: &Snapshot) -> Option<Snapshot> {
    let sheets = start.sheets.iter().enumerate();
    let heads: Vec<Vec<SavedRun>> = sheets
        .map(|(machine, sheet)| {
            let firm = sheet.iter().take(shop.calm.firm(machine));
            firm.cloned().collect()
        })
        .collect();
    let mut held = vec![0u32; shop.items.len()];
    for load in heads.iter().flatten().flat_map(|run| run.loads.iter()) {
        held[load.item as usize] += load.count;
    }
    // A copy is begun where one of its lengths is on a head.
    let mut copies = vec![0; shop.items.len()];
    for &leader in shop.classes.iter().flat_map(|class| &class.items) {
        let begun = shop.team(leader).map(|item| {
            let each = shop.items[item as usize].each.max(1);
            held[item as usize].div_ceil(each)
        });
        let begun = begun.max().unwrap_or(0);
        for item in shop.team(leader) {
            copies[item as usize] = begun;
        }
    }
    let state = extend(shop, &mut Fitter::default(), &heads, &copies)?;
    // What could not be laid again at a head is not what must stay there.
    let stays = heads.iter().enumerate().all(|(machine, head)| {
        let plates = state.sheets[machine].iter();
        let laid = plates.map(|&plate| &state.plates.get(plate).loads);
        head.iter().map(|run| &run.loads).eq(laid.take(head.len()))
    });
    (stays && state.cost().is_finite()).then(|| Snapshot::of(&state))
}

/// What the rules construct, the cheapest first.
pub(super) fn constructed(shop: &Shop) -> Vec<Snapshot> {
    let hours = hours(shop);
    let ways: Vec<(&Rule, Minute)> = hours
        .iter()
        .flat_map(|&hours| RULES.iter().map(move |rule| (rule, hours)))
        .collect();
    let mut starts: Vec<Snapshot> = ways
        .par_iter()
        .filter_map(|(rule, hours)| construct(shop, &mut Fitter::default(), rule, *hours))
        .map(|state| Snapshot::of(&state))
        .collect();
    starts.sort_by(|a, b| a.cost().total_cmp(&b.cost()));
    starts
}

/// Searches from these queues, the cheapest first; a usual limit is `share` of what is usual.
pub(super) fn search_from(
    shop: &Shop,
    starts: Vec<Snapshot>,
    settings: &Settings,
    share: f64,
) -> Option<Found> {
    let begun = Instant::now();
    let first = starts.first()?.clone();
    let machines = wanted_machines(shop);
    settings.watch.better(first.cost());
    let mut found = Found::begun(first);
    let mut chains: Vec<Chain> = (0..CHAINS)
        .map(|c| {
            let start = &starts[c % starts.len()];
            let state = start.restore(shop, &mut Fitter::default());
            let mut chain = Chain::new(
                shop,
                state,
                settings.seed.wrapping_mul(1_000_003) + c as u64,
                settings.without,
            );
            chain.confine(machines.clone());
            chain
        })
        .collect();
    let unit = chains[0].usual_step(400);
    let limit = match settings.limit {
        // A round fewer from an accepted plan: most of it is good already.
        Limit::Usual if settings.start.is_some() => Limit::Moves(
            (usual_moves(shop, &found.best, share) / 2).max(CHAINS as u64 * FIRST_ROUND),
        ),
        Limit::Usual => Limit::Moves(usual_moves(shop, &found.best, share)),
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
        let parted = parts_well(shop, &machines, &found.best);
        let elsewhere =
            !parted && settings.start.is_none() && explores(shop, &plan, runs) && starts.len() > 1;
        if parted {
            let random = Pcg64Mcg::seed_from_u64(
                settings.seed ^ (round as u64 + 1).wrapping_mul(0x9e37_79b9),
            );
            found.moves += run_parted(&machines, &mut chains, cooling, &clock, random);
        } else {
            let made: Vec<u64> = chains
                .par_iter_mut()
                .enumerate()
                .map(|(c, chain)| {
                    let made = if c > 0 && elsewhere {
                        look_elsewhere(chain, &starts[1..], round, cooling, &clock)
                    } else {
                        // What was built anew has nothing to forget.
                        let anew = settings.start.is_some() && c % starts.len() > 0;
                        let from = if anew {
                            unit * heat(&plan, runs)
                        } else {
                            cooling.from
                        };
                        run(chain, plan.moves, Cooling { from, ..cooling }, 0, &clock)
                    };
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
                recombine(shop, &mut found, settings);
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
        let best_of_all =
            found.best.cost() <= settings.least + ROUNDING * (1.0 + settings.least.abs());
        if settings.watch.stop() || out_of_luck || best_of_all {
            break;
        }
        let ask = round == 1 || round == ASK_AGAIN;
        if ask
            && settings
                .proven
                .is_some_and(|proven| proven(shop, &found.best, &found.pool))
        {
            break;
        }
        for (c, chain) in chains.iter_mut().enumerate() {
            // The first chain goes on from the best there is, the others from their own best, for variety, where they do not look elsewhere.
            if c == 0 || round % 3 == 0 || elsewhere {
                chain.restart(&found.best);
            } else {
                let own = chain.best().clone();
                chain.restart(&own);
            }
        }
    }
    found.best = fill(shop, &found.best);
    found.tallies = add_tallies(chains.iter().flat_map(Chain::tallies));
    Some(found)
}

/// The queue of no runs: all that is left is work at the bench.
fn nothing_to_print(shop: &Shop) -> Option<Found> {
    let mut state = State::empty(shop);
    let cost = state.refresh(shop);
    cost.is_finite().then(|| Found::begun(Snapshot::of(&state)))
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
fn parts_well(shop: &Shop, machines: &[usize], queue: &Snapshot) -> bool {
    let runs = queue.runs();
    !shop.contended() && shop.trials.is_empty() && machines.len() >= 2 * CHAINS && runs >= MANY_RUNS
}

/// Moves of each chain between two merges, for each run of the queue. (Measured on 150 packed runs: 8,000 moves between merges
/// leave queues of 311 to 318, 2,000 and 1,000 of 308 to 315, 500 of 308 to 321; a merge costs as many moves as there are runs.)
const STRETCH: u64 = 16;

/// One round in which all chains work on one queue: each on its share of the machines, drawn afresh every stretch. The
/// moves of all chains.
fn run_parted(
    machines: &[usize],
    chains: &mut [Chain],
    cooling: Cooling,
    clock: &Clock,
    mut rng: Pcg64Mcg,
) -> u64 {
    let all = machines;
    let mut machines = all.to_vec();
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
        chain.confine(all.to_vec());
    }
    sum
}

/// Takes over the chains' best queues and their sheets.
fn gather(found: &mut Found, chains: &mut [Chain], watch: &dyn Watch) {
    for chain in chains {
        found.pool.extend(chain.take_pool());
        let best = chain.best();
        if best.cost() < found.best.cost() - 1e-9 {
            let before = std::mem::replace(&mut found.best, best.clone());
            found.other(&before);
            watch.better(best.cost());
        } else {
            found.other(best);
        }
    }
    if found.pool.len() > POOL {
        let extra = found.pool.len() - POOL;
        found.pool.drain(..extra);
    }
}

fn recombine(shop: &Shop, found: &mut Found, settings: &Settings) {
    let Some(join) = settings.recombine else {
        return;
    };
    if let Some(better) = join(shop, &found.best, &found.pool)
        && better.cost() < found.best.cost() - 1e-9
    {
        found.recombined += found.best.cost() - better.cost();
        settings.watch.better(better.cost());
        found.best = better;
    }
}

/// Tries and successes, added up by name in the order in which names first come.
pub(super) fn add_tallies(
    tallies: impl Iterator<Item = (&'static str, Tally)>,
) -> Vec<(&'static str, Tally)> {
    let mut sums: Vec<(&'static str, Tally)> = Vec::new();
    for (name, tally) in tallies {
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
