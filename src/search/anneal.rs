//! One chain of small changes, cooled from loose to strict.
//!
//! Knows: moves and the cost of a state. Must not know: threads, pools, the clock.
//! Promises: never loses the best queue it met; the same seed and number of moves give the same queue.

use std::sync::Arc;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use super::edit::Edit;
use super::fitter::Fitter;
use super::moves::{self, Move, Tools};
use super::shop::Shop;
use super::snapshot::{Keeper, SavedRun, Snapshot};
use super::state::State;

/// Tries and successes of a move.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Drafted and costed.
    pub tried: u64,
    /// Taken.
    pub taken: u64,
    /// Taken, and the queue was then the best so far.
    pub best: u64,
}

/// How a stretch of the chain is cooled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cooling {
    /// Temperature in money at the start.
    pub from: f64,
    /// Temperature in money at the end.
    pub to: f64,
}

impl Cooling {
    /// Temperature after a share (0 to 1) of the way.
    fn at(&self, share: f64) -> f64 {
        self.from * (self.to / self.from).powf(share)
    }
}

/// One chain.
pub struct Chain<'a> {
    shop: &'a Shop,
    moves: Vec<(Box<dyn Move>, Tally)>,
    /// Cumulative weights of `moves`.
    weights: Vec<u32>,
    tools: Tools,
    state: State,
    keeper: Keeper,
    edit: Edit,
    /// Sheets of good queues, for others to join.
    pool: Vec<(usize, Arc<Vec<SavedRun>>)>,
}

/// Moves between two looks at the temperature.
const STEP: u64 = 64;
/// Taken moves between two datings of the whole farm, where hands or filament are short.
const REDATE: u64 = 3000;
/// Taken moves between two samples for the pool.
const SAMPLE: u64 = 2000;
/// A queue is sampled if it costs no more than this times the best.
const NEARLY: f64 = 1.02;
/// Sheets that a chain holds for the pool.
const POOL: usize = 400;

impl<'a> Chain<'a> {
    /// A chain that begins at a queue. Moves named in `without` are left out.
    pub fn new(shop: &'a Shop, state: State, seed: u64, without: &[String]) -> Self {
        let moves: Vec<(Box<dyn Move>, Tally)> = moves::all()
            .into_iter()
            .filter(|m| m.can_help(shop) && !without.iter().any(|name| name == m.name()))
            .map(|m| (m, Tally::default()))
            .collect();
        let mut total = 0;
        let weights = moves
            .iter()
            .map(|(m, _)| {
                total += m.weight();
                total
            })
            .collect();
        let keeper = Keeper::new(&state);
        Self {
            shop,
            moves,
            weights,
            tools: Tools {
                rng: Pcg64Mcg::seed_from_u64(seed),
                fitter: Fitter::default(),
                machines: (0..shop.machines.len()).collect(),
            },
            state,
            keeper,
            edit: Edit::default(),
            pool: Vec::new(),
        }
    }

    /// The best queue so far.
    pub fn best(&self) -> &Snapshot {
        self.keeper.best()
    }

    /// Hands over the sheets of good queues met since last asked, the best queue's among them.
    pub fn take_pool(&mut self) -> Vec<(usize, Arc<Vec<SavedRun>>)> {
        let best = self.keeper.best().sheets.iter().cloned().enumerate();
        self.pool.extend(best);
        std::mem::take(&mut self.pool)
    }

    /// Keeps the sheets of the present queue for others, if it is nearly the best.
    fn sample(&mut self) {
        if self.state.cost() <= self.keeper.best().cost() * NEARLY {
            let now = Snapshot::of(&self.state);
            if self.pool.len() > POOL {
                // The older half goes: it is the worse one while the chain cools.
                self.pool.drain(..POOL / 2);
            }
            self.pool.extend(now.sheets.into_iter().enumerate());
        }
    }

    /// Tries and successes by move.
    pub fn tallies(&self) -> impl Iterator<Item = (&'static str, Tally)> + '_ {
        self.moves.iter().map(|(m, tally)| (m.name(), *tally))
    }

    /// Lets moves change these machines only.
    pub fn confine(&mut self, machines: Vec<usize>) {
        debug_assert!(!machines.is_empty());
        self.tools.machines = machines;
    }

    /// The queue as it stands, which need not be the best.
    pub fn now(&self) -> Snapshot {
        Snapshot::of(&self.state)
    }

    /// Goes on from another queue.
    pub fn restart(&mut self, from: &Snapshot) {
        self.state = from.restore(self.shop, &mut self.tools.fitter);
        self.keeper.note_all(&self.state);
    }

    /// The size of a usual change for the worse, from so many tries that are all taken back.
    pub fn usual_step(&mut self, tries: u32) -> f64 {
        let mut worse: Vec<f64> = Vec::new();
        for _ in 0..tries {
            if self.draft().is_none() {
                continue;
            }
            let before = self.state.cost();
            let after = self.state.propose(self.shop, &mut self.edit);
            self.state.take_back(self.shop, &mut self.edit);
            if after.is_finite() && after > before + 1e-9 {
                worse.push(after - before);
            }
        }
        if worse.is_empty() {
            return 1.0;
        }
        worse.sort_by(f64::total_cmp);
        worse[worse.len() / 2]
    }

    /// Makes so many moves. `progress` tells how far along the cooling (0 to 1) the chain is after so many of them, or
    /// ends it early.
    pub fn run(
        &mut self,
        moves: u64,
        cooling: Cooling,
        mut progress: impl FnMut(u64) -> Option<f64>,
    ) {
        let mut temperature = cooling.from;
        let (mut since_redate, mut since_sample) = (0, 0);
        for step in 0..moves {
            if step % STEP == 0 {
                match progress(step) {
                    Some(share) => temperature = cooling.at(share.clamp(0.0, 1.0)),
                    None => return,
                }
            }
            let Some(index) = self.draft() else { continue };
            let before = self.state.cost();
            let after = self.state.propose(self.shop, &mut self.edit);
            let tally = &mut self.moves[index].1;
            tally.tried += 1;
            // Metropolis: a change for the worse by d is taken with probability exp(−d / temperature).
            let limit = before - temperature * self.tools.rng.random::<f64>().max(1e-300).ln();
            if after < limit {
                tally.taken += 1;
                self.state.keep(&mut self.edit);
                if self.keeper.note(&self.state, &self.edit) {
                    tally.best += 1;
                }
                since_redate += 1;
                since_sample += 1;
                if since_sample >= SAMPLE {
                    since_sample = 0;
                    self.sample();
                }
                if since_redate >= REDATE && self.shop.contended() {
                    since_redate = 0;
                    self.redate();
                }
            } else {
                self.state.take_back(self.shop, &mut self.edit);
            }
        }
    }

    /// Drafts a change by some move; its position if it found one.
    fn draft(&mut self) -> Option<usize> {
        let total = *self.weights.last()?;
        let draw = self.tools.rng.random_range(0..total);
        let index = self.weights.partition_point(|&w| w <= draw);
        self.edit.clear();
        let found =
            self.moves[index]
                .0
                .draft(self.shop, &mut self.state, &mut self.tools, &mut self.edit);
        if !found {
            for plate in self.edit.fresh.drain(..) {
                self.state.plates.release(plate);
            }
            return None;
        }
        Some(index)
    }

    /// Ends a round: uses hands, filament and minutes that moves have freed; keeps the dates as they were where that is no better.
    pub fn redate(&mut self) {
        if !self.shop.contended() {
            return;
        }
        let before = Snapshot::of(&self.state);
        let after = self.state.redate(self.shop);
        if after < before.cost() {
            self.keeper.note_all(&self.state);
        } else {
            self.state = before.restore(self.shop, &mut self.tools.fitter);
        }
    }
}
