//! A queue set aside: what lies on each run, and when it is dated.
//!
//! Knows: sheets, loads, dates. Must not know: moves, prices.
//! Promises: a restored snapshot has the dates and the cost that it had.

use std::sync::Arc;

use super::dating::Dated;
use super::edit::Edit;
use super::fitter::Fitter;
use super::plate::Load;
use super::shop::Shop;
use super::state::State;

/// A run set aside.
#[derive(Clone, Debug, PartialEq)]
pub struct SavedRun {
    /// What is on it.
    pub loads: Arc<[Load]>,
    /// Its dates.
    pub date: Dated,
}

/// A queue set aside.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    cost: f64,
    /// Runs by machine, in order.
    pub sheets: Vec<Arc<Vec<SavedRun>>>,
    /// Copies made in each item's form.
    pub copies: Vec<u32>,
}

impl Snapshot {
    /// The queue as it stands.
    pub fn of(state: &State) -> Self {
        Self {
            cost: state.cost(),
            sheets: (0..state.sheets.len())
                .map(|machine| saved_sheet(state, machine))
                .collect(),
            copies: state.copies.clone(),
        }
    }

    /// Its exact cost.
    pub fn cost(&self) -> f64 {
        self.cost
    }

    /// How many runs it has.
    pub fn runs(&self) -> usize {
        self.sheets.iter().map(|sheet| sheet.len()).sum()
    }

    /// The queue again.
    pub fn restore(&self, shop: &Shop, fitter: &mut Fitter) -> State {
        State::restored(shop, fitter, &self.sheets, &self.copies)
    }
}

/// One queue of the sheets that several changed, each on machines of its own, since they all began at `base`.
///
/// Right only where neither hands nor filament are ever short and nothing waits for an approval: then no machine's dates depend on another's.
/// Its cost is not known until it is restored.
pub fn merged(base: &Snapshot, changed: &[(Snapshot, Vec<usize>)]) -> Snapshot {
    let mut merged = base.clone();
    merged.cost = f64::INFINITY;
    for (queue, machines) in changed {
        for &machine in machines {
            merged.sheets[machine] = Arc::clone(&queue.sheets[machine]);
        }
        // Each moved copies between forms on its own machines, so the changes add up.
        let forms = merged
            .copies
            .iter_mut()
            .zip(&base.copies)
            .zip(&queue.copies);
        for ((sum, &before), &now) in forms {
            *sum = sum.wrapping_add(now.wrapping_sub(before));
        }
    }
    merged
}

fn saved_sheet(state: &State, machine: usize) -> Arc<Vec<SavedRun>> {
    Arc::new(
        state.sheets[machine]
            .iter()
            .zip(state.dates(machine))
            .map(|(&plate, &date)| SavedRun {
                loads: state.plates.get(plate).loads.clone(),
                date,
            })
            .collect(),
    )
}

/// Keeps the best queue that a chain met, copying only the sheets that changed since it was last kept.
pub struct Keeper {
    best: Snapshot,
    changed: Vec<bool>,
    forms_changed: bool,
}

/// Costs closer than this are equal; sums of thousands of terms differ by less.
const SAME: f64 = 1e-9;

impl Keeper {
    /// A keeper whose best queue is the present one.
    pub fn new(state: &State) -> Self {
        Self {
            best: Snapshot::of(state),
            changed: vec![false; state.sheets.len()],
            forms_changed: false,
        }
    }

    /// The best queue.
    pub fn best(&self) -> &Snapshot {
        &self.best
    }

    /// Notes what an edit changed for good, and keeps the queue if it is the best; whether it is.
    pub fn note(&mut self, state: &State, edit: &Edit) -> bool {
        for (machine, _) in &edit.sheets {
            self.changed[*machine] = true;
        }
        self.forms_changed |= !edit.copies.is_empty();
        // Approvals move runs of machines that the edit did not name.
        if state.has_trials() {
            self.changed.fill(true);
        }
        self.keep_if_best(state)
    }

    /// Notes that every sheet may have changed, and keeps the queue if it is the best; whether it is.
    pub fn note_all(&mut self, state: &State) -> bool {
        self.changed.fill(true);
        self.forms_changed = true;
        self.keep_if_best(state)
    }

    fn keep_if_best(&mut self, state: &State) -> bool {
        if state.cost() >= self.best.cost - SAME {
            return false;
        }
        self.best.cost = state.cost();
        for (machine, changed) in self.changed.iter_mut().enumerate() {
            if std::mem::take(changed) {
                self.best.sheets[machine] = saved_sheet(state, machine);
            }
        }
        if std::mem::take(&mut self.forms_changed) {
            self.best.copies.clone_from(&state.copies);
        }
        true
    }
}
