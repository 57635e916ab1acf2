//! A look by rule, not by chance, at the end of a round: no run stands in a place on its sheet that plainly costs more than
//! another, and spares last.
//!
//! Knows: sheets and their exact cost. Must not know: temperatures, other queues.
//! Promises: never dearer than before; left alone only when no shift of one run on its sheet is cheaper (neighbours that
//! change places are such a shift), or the tries are used up.

use super::edit::Edit;
use super::fitter::Fitter;
use super::shop::Shop;
use super::snapshot::Snapshot;
use super::spares::spares_last;
use super::state::State;

/// Changes that are tried at most; on farms of thousands of runs all of them would take longer than the search.
const TRIES: usize = 5_000;
/// Less is not worth another order.
const WORTHWHILE: f64 = 1e-7;

/// A queue that is no dearer, and tidy.
pub fn tidy(shop: &Shop, queue: &Snapshot) -> Snapshot {
    let mut state = queue.restore(shop, &mut Fitter::default());
    let mut left = TRIES;
    let mut better = queue.clone();
    if shop.contended() {
        state.redate(shop);
        if state.cost() < better.cost() - WORTHWHILE {
            better = Snapshot::of(&state);
        } else {
            state = better.restore(shop, &mut Fitter::default());
        }
    }
    while left > 0 && pass(shop, &mut state, &mut left) {}
    if state.cost() < better.cost() - WORTHWHILE {
        better = Snapshot::of(&state);
    }
    spares_last(shop, &better)
}

/// Tries every run in every other place of its sheet, neighbours first; whether any change was taken.
fn pass(shop: &Shop, state: &mut State, left: &mut usize) -> bool {
    let mut edit = Edit::default();
    let mut changed = false;
    let longest = state.sheets.iter().map(Vec::len).max().unwrap_or(0);
    for reach in 1..longest {
        for machine in 0..state.sheets.len() {
            for from in 0..state.sheets[machine].len() {
                for to in [from.checked_sub(reach), Some(from + reach)] {
                    let Some(to) = to.filter(|&to| to < state.sheets[machine].len()) else {
                        continue;
                    };
                    if *left == 0 {
                        return changed;
                    }
                    *left -= 1;
                    edit.clear();
                    let sheet = edit.sheet(state, machine);
                    let plate = sheet.remove(from);
                    sheet.insert(to, plate);
                    let before = state.cost();
                    if state.propose(shop, &mut edit) < before - WORTHWHILE {
                        state.keep(&mut edit);
                        changed = true;
                    } else {
                        state.take_back(shop, &mut edit);
                    }
                }
            }
        }
    }
    changed
}
