//! A last look by rule: no machine stands idle for hours before a run that waits while a later run could go first for nothing.
//!
//! Knows: sheets, dates, their exact cost. Must not know: temperatures, other queues, why a run waits.
//! Promises: the queue costs what it cost before; some runs are earlier for it.

use crate::calendar::Minute;

use super::edit::Edit;
use super::fitter::Fitter;
use super::shop::Shop;
use super::snapshot::Snapshot;
use super::state::State;

/// Minutes of bench presence gone by before a wait counts: less is the play of short plates in an evening.
const LEAST_WAIT: Minute = 4 * 60;
/// Changes that are tried at most.
const TRIES: usize = 2_000;
/// Costs closer than this are equal. What really costs less is for the search to find: were it taken here, a longer search
/// could end dearer than a shorter one.
const SAME: f64 = 1e-6;

/// The queue with runs that wait for nothing brought forward past those that wait.
pub fn fill(shop: &Shop, queue: &Snapshot) -> Snapshot {
    let mut state = queue.restore(shop, &mut Fitter::default());
    let mut left = TRIES;
    let mut filled = false;
    for machine in 0..state.sheets.len() {
        for at in 0..state.sheets[machine].len() {
            while waits(shop, &state, machine, at)
                && bring_forward(shop, &mut state, machine, at, &mut left)
            {
                filled = true;
            }
        }
    }
    if filled {
        Snapshot::of(&state)
    } else {
        queue.clone()
    }
}

/// Whether a run is set up long after somebody could have done it.
fn waits(shop: &Shop, state: &State, machine: usize, at: usize) -> bool {
    let dates = state.dates(machine);
    let free = at.checked_sub(1).map_or(0, |before| dates[before].end);
    let there = shop.calendar.next_presence(free);
    there.is_some_and(|there| there + LEAST_WAIT < dates[at].setup)
}

/// Puts the first later run that begins before the waiting one would, at no cost, in its place; whether there is one.
///
/// It ends: each time the run in this place begins earlier.
fn bring_forward(
    shop: &Shop,
    state: &mut State,
    machine: usize,
    at: usize,
    left: &mut usize,
) -> bool {
    let waiting = state.dates(machine)[at].setup;
    let mut edit = Edit::default();
    for from in at + 1..state.sheets[machine].len() {
        if *left == 0 {
            return false;
        }
        if state.plates.hot(state.sheets[machine][from]).ready > waiting {
            continue;
        }
        *left -= 1;
        edit.clear();
        edit.sheet(state, machine)[at..=from].rotate_right(1);
        let before = state.cost();
        let after = state.propose(shop, &mut edit);
        if (after - before).abs() <= SAME && state.dates(machine)[at].setup < waiting {
            state.keep(&mut edit);
            return true;
        }
        state.take_back(shop, &mut edit);
    }
    false
}
