//! A change of a queue before it is taken: new sheets, plates made and plates no longer needed.
//!
//! Knows: sheets of plates. Must not know: dates, prices.
//! Promises: each machine stands in an edit at most once.

use super::plate::PlateId;
use super::shop::ItemId;
use super::state::State;

/// A change of some sheets, and of how many copies are made in each form.
#[derive(Clone, Debug, Default)]
pub struct Edit {
    /// New sheets; each machine at most once.
    pub sheets: Vec<(usize, Vec<PlateId>)>,
    /// Plates made for this edit; given back if it is dropped.
    pub fresh: Vec<PlateId>,
    /// Plates that it takes off; given back if it is taken.
    pub gone: Vec<PlateId>,
    /// Copies made more (or fewer) in an item's form.
    pub copies: Vec<(ItemId, i32)>,
    /// Runs (machine, position) from which on a sheet is dated again even where it stays as it is.
    pub again: Vec<(usize, usize)>,
    /// Room of sheets of earlier edits, used again.
    spare: Vec<Vec<PlateId>>,
}

impl Edit {
    /// Empties the edit for the next use.
    pub fn clear(&mut self) {
        self.spare.extend(self.sheets.drain(..).map(|s| s.1));
        self.fresh.clear();
        self.gone.clear();
        self.copies.clear();
        self.again.clear();
    }

    /// Has a machine's sheet dated again from a run on, before those that come into the edit later.
    pub fn date_again(&mut self, state: &State, machine: usize, from: usize) {
        self.sheet(state, machine);
        self.again.push((machine, from));
    }

    /// The new sheet of a machine, begun as a copy of its present one.
    pub fn sheet<'a>(&'a mut self, state: &State, machine: usize) -> &'a mut Vec<PlateId> {
        let at = match self.sheets.iter().position(|s| s.0 == machine) {
            Some(at) => at,
            None => {
                let mut sheet = self.spare.pop().unwrap_or_default();
                sheet.clone_from(&state.sheets[machine]);
                self.sheets.push((machine, sheet));
                self.sheets.len() - 1
            }
        };
        &mut self.sheets[at].1
    }
}
