//! The plan that was accepted, as far as a new one should keep to it: which runs it had, and what a change costs.
//!
//! Knows: what lies on runs, machines, minutes. Must not know: moves, prices of anything else.
//! Promises: without an accepted plan nothing is charged and nothing is held.

use std::collections::HashMap;

use crate::calendar::Minute;

use super::plate::Load;
use super::shop::Shop;

/// By how much a run may move and still stand where it stood: half a day.
pub const NEAR: Minute = 12 * 60;

/// What lies on a run as far as it is compared: pieces by part and by the lengths of their copies.
pub type Content = Vec<(u32, u32, u32)>;

/// What was accepted, as the search minds it.
#[derive(Clone, Debug, Default)]
pub struct Calm {
    /// Money for each run that the accepted plan does not have on that machine at about that time.
    pub churn: f64,
    /// Where runs of this content stood: machine, and when printing started.
    pub runs: HashMap<Content, Vec<(usize, Minute)>>,
    /// By part and lengths of a copy: how many pieces the fullest run had.
    pub crowd: HashMap<(u32, u32), u32>,
    /// By machine, for the runs at the head of its sheet that stay as they are: when each started printing, before which it does not.
    pub firm: Vec<Vec<Minute>>,
    /// The same: no later than this, where that is known; what they wait for may leave them less than was accepted.
    pub latest: Vec<Vec<Minute>>,
}

impl Calm {
    /// Where runs with these loads stood.
    pub fn places(&self, shop: &Shop, loads: &[Load]) -> Vec<(usize, Minute)> {
        if self.churn == 0.0 {
            return Vec::new();
        }
        let pieces = loads.iter().map(|load| {
            let item = &shop.items[load.item as usize];
            (shop.class_of(load.item).part, item.lengths, load.count)
        });
        self.runs.get(&content(pieces)).cloned().unwrap_or_default()
    }

    /// Whether a run that stood in these places is on a machine at about that time still.
    pub fn has(&self, places: &[(usize, Minute)], machine: usize, start: Minute) -> bool {
        let near = |&(at, then): &(usize, Minute)| at == machine && (start - then).abs() <= NEAR;
        places.iter().any(near)
    }

    /// What a run costs for standing elsewhere than before.
    pub fn cost(&self, places: &[(usize, Minute)], machine: usize, start: Minute) -> f64 {
        if self.churn == 0.0 || self.has(places, machine, start) {
            0.0
        } else {
            self.churn
        }
    }

    /// How many runs at the head of a machine's sheet stay.
    pub fn firm(&self, machine: usize) -> usize {
        self.firm.get(machine).map_or(0, Vec::len)
    }

    /// The minute before which a run of a machine's sheet does not start, if it is to stay where it was.
    pub fn not_before(&self, machine: usize, run: usize) -> Option<Minute> {
        self.firm.get(machine)?.get(run).copied()
    }

    /// Whether the runs at the head of a machine's sheet, which start at these minutes, are no later than they must be.
    pub fn in_time(&self, machine: usize, starts: impl Iterator<Item = Minute>) -> bool {
        let latest = self.latest.get(machine).into_iter().flatten();
        latest.zip(starts).all(|(&latest, start)| start <= latest)
    }
}

/// Pieces (part, lengths of the copy, how many) in one order, each kind once.
pub fn content(pieces: impl Iterator<Item = (u32, u32, u32)>) -> Content {
    let mut all: Content = pieces.collect();
    all.sort_unstable();
    all.dedup_by(|next, kept| {
        (kept.0, kept.1) == (next.0, next.1) && {
            kept.2 += next.2;
            true
        }
    });
    all
}
