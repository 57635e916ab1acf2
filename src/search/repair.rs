//! A look by rule at an accepted queue that has been repaired: each run that does not stand where it was accepted goes where it
//! costs least.
//!
//! Knows: sheets, their exact cost, what was accepted. Must not know: temperatures, other queues, what happened.
//! Promises: never dearer than before; runs at the heads of sheets that are firm stay.

use super::calm::NONE;
use super::edit::Edit;
use super::fitter::Fitter;
use super::plate::Fit;
use super::shop::Shop;
use super::snapshot::Snapshot;
use super::state::State;

/// Places that are tried at most: of a workshop's queue all of them, several times.
const TRIES: usize = 20_000;
/// Less is not worth another place.
const WORTHWHILE: f64 = 1e-7;

/// The queue with every run that was lost, or that what was lost has moved, in the cheapest place for it.
pub fn repaired(shop: &Shop, queue: &Snapshot) -> Snapshot {
    let mut repair = Repair {
        shop,
        state: queue.restore(shop, &mut Fitter::default()),
        fitter: Fitter::default(),
        left: TRIES,
    };
    while repair.pass() {}
    if repair.state.cost() < queue.cost() - WORTHWHILE {
        Snapshot::of(&repair.state)
    } else {
        queue.clone()
    }
}

struct Repair<'a> {
    shop: &'a Shop,
    state: State,
    fitter: Fitter,
    left: usize,
}

impl Repair<'_> {
    /// Tries every run that does not stand as accepted in every place; whether any goes elsewhere, and there are tries left.
    fn pass(&mut self) -> bool {
        let mut changed = false;
        for machine in 0..self.state.sheets.len() {
            let mut run = self.shop.calm.firm(machine);
            while run < self.state.sheets[machine].len() {
                if !self.stands(machine, run) {
                    changed |= self.place(machine, run);
                }
                if self.left == 0 {
                    return false;
                }
                run += 1;
            }
        }
        changed
    }

    fn stands(&self, machine: usize, run: usize) -> bool {
        self.state.place(machine, run) != NONE
    }

    /// Puts a run where it costs least; whether that is elsewhere.
    fn place(&mut self, machine: usize, run: usize) -> bool {
        let plate = self.state.sheets[machine][run];
        let mut edit = Edit::default();
        let before = self.state.cost();
        let mut best: Option<(f64, usize, usize)> = None;
        for to in 0..self.state.sheets.len() {
            let fit = self
                .state
                .plates
                .fit(self.shop, &mut self.fitter, plate, to);
            if !matches!(fit, Fit::Yes { .. }) {
                continue;
            }
            let length = self.state.sheets[to].len() - usize::from(to == machine);
            for at in self.shop.calm.firm(to)..=length {
                if (to, at) == (machine, run) || self.left == 0 {
                    continue;
                }
                self.left -= 1;
                edit.clear();
                self.moved((machine, run), (to, at), &mut edit);
                let cost = self.state.propose(self.shop, &mut edit);
                self.state.take_back(self.shop, &mut edit);
                let least = best.map_or(before - WORTHWHILE, |best| best.0 - WORTHWHILE);
                if cost < least {
                    best = Some((cost, to, at));
                }
            }
        }
        let Some((_, to, at)) = best else {
            return false;
        };
        edit.clear();
        self.moved((machine, run), (to, at), &mut edit);
        self.state.propose(self.shop, &mut edit);
        self.state.keep(&mut edit);
        true
    }

    fn moved(&self, from: (usize, usize), to: (usize, usize), edit: &mut Edit) {
        let plate = edit.sheet(&self.state, from.0).remove(from.1);
        edit.sheet(&self.state, to.0).insert(to.1, plate);
    }
}
