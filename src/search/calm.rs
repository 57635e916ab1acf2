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
    /// What lay on runs, each by a number: its places.
    contents: HashMap<Content, u32>,
    /// By number: where runs of this content stood, by machine and by when printing started.
    places: Vec<Vec<(usize, Minute)>>,
    /// By part and lengths of a copy: how many pieces the fullest run had.
    pub crowd: HashMap<(u32, u32), u32>,
    /// By machine, for the runs at the head of its sheet that stay as they are: when each started printing, before which it does not.
    pub firm: Vec<Vec<Minute>>,
    /// The same: no later than this, where that is known; what they wait for may leave them less than was accepted.
    pub latest: Vec<Vec<Minute>>,
}

/// Stands for no content that was accepted, and for no place.
pub const NONE: u32 = u32::MAX;

impl Calm {
    /// Runs that were accepted: what lay on each, where, and when printing started; and what a change costs.
    pub fn new(churn: f64, runs: impl Iterator<Item = (Content, usize, Minute)>) -> Self {
        let mut calm = Self {
            churn,
            ..Self::default()
        };
        for (content, machine, start) in runs {
            for &(part, lengths, count) in &content {
                let most = calm.crowd.entry((part, lengths)).or_default();
                *most = count.max(*most);
            }
            let next = calm.places.len() as u32;
            let at = *calm.contents.entry(content).or_insert(next);
            if at == next {
                calm.places.push(Vec::new());
            }
            calm.places[at as usize].push((machine, start));
        }
        for places in &mut calm.places {
            places.sort_unstable();
        }
        calm
    }

    /// The number of what these loads are, or [`NONE`].
    pub fn content_of(&self, shop: &Shop, loads: &[Load]) -> u32 {
        if self.churn == 0.0 {
            return NONE;
        }
        let pieces = loads.iter().map(|load| {
            let item = &shop.items[load.item as usize];
            (shop.class_of(load.item).part, item.lengths, load.count)
        });
        let known = self.contents.get(&content(pieces));
        known.copied().unwrap_or(NONE)
    }

    /// The accepted place that a run takes which starts on a machine at a moment: the first at about that time after the one that the run
    /// of the same content before it on its sheet took ([`NONE`]: none did). [`NONE`] if it stands in none.
    ///
    /// So no two runs stand in one place; and as all places are equally wide, no other choice has more runs in theirs (interval scheduling:
    /// the place that ends first is taken first).
    pub fn place(&self, content: u32, machine: usize, start: Minute, before: u32) -> u32 {
        let Some(places) = self.places.get(content as usize) else {
            return NONE;
        };
        let next = if before == NONE {
            0
        } else {
            before as usize + 1
        };
        let open = |&(at, then): &(usize, Minute)| (at, then) >= (machine, start - NEAR);
        let first = next.max(places.partition_point(|place| !open(place)));
        match places.get(first) {
            Some(&(at, then)) if at == machine && then - start <= NEAR => first as u32,
            _ => NONE,
        }
    }

    /// What a run costs that stands in such a place, or in [`NONE`].
    pub fn cost(&self, place: u32) -> f64 {
        if place == NONE { self.churn } else { 0.0 }
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
