//! Why there are runs that the accepted plan did not have, and why others are no more: what became of their pieces.
//!
//! Knows: runs of either plan that are none of the other's, what exists. Must not know: dates, costs.
//! Promises: what is said is so for the sum of all runs: which of several like pieces is on which of them is nobody's to say.

use std::collections::{BTreeMap, BTreeSet};

use super::{Case, Now, Then, reasons};
use crate::progress::{Gone, PieceName};
use crate::scenario::PartIndex;
use crate::search::calm::Content;

/// Runs that are none of the other plan's.
pub(super) struct Count<'a> {
    case: &'a Case<'a>,
    /// Those that the accepted plan had and there are no more.
    left: &'a [Then<'a>],
    /// Those that it had not.
    came: &'a [Now<'a>],
    /// Of each of `left`, by what is on it: how many of these are on some of `came`. No piece is counted twice.
    moved: Vec<Vec<u32>>,
    /// The same the other way.
    known_before: Vec<Vec<u32>>,
    /// Pieces that exist or print.
    there: BTreeSet<PieceName>,
    /// Parts that the accepted plan or what was done before knows.
    known: BTreeSet<PartIndex>,
}

impl<'a> Count<'a> {
    pub fn new(case: &'a Case<'a>, left: &'a [Then<'a>], came: &'a [Now<'a>]) -> Self {
        let made = case.progress.made.iter().map(|made| made.piece);
        let printing = case.progress.running.iter().flat_map(|run| &run.pieces);
        let there: BTreeSet<PieceName> = made.chain(printing.map(|placed| placed.piece)).collect();
        let accepted = case.previous.runs.iter().flat_map(|run| &run.pieces);
        let gone = case.previous.gone.iter().flat_map(|run| &run.pieces);
        let planned = accepted.chain(gone).map(|placed| placed.piece.part);
        let then: Vec<&Content> = left.iter().map(|then| &then.content).collect();
        let now: Vec<&Content> = came.iter().map(|now| &now.content).collect();
        Self {
            moved: shared(&then, &now),
            known_before: shared(&now, &then),
            known: planned
                .chain(there.iter().map(|piece| piece.part))
                .collect(),
            case,
            left,
            came,
            there,
        }
    }

    fn part(&self, part: u32) -> &str {
        &self.case.scenario.parts[part as usize].id
    }

    /// Why there is a run that the accepted plan did not have.
    pub fn why_it_came(&self, at: usize) -> String {
        let (now, known_before) = (&self.came[at], &self.known_before[at]);
        let before: Vec<&Then> = (self.left.iter().zip(&self.moved))
            .filter(|(then, moved)| shares(&now.content, &then.content, moved))
            .map(|(then, _)| then)
            .collect();
        let mut reasons = Vec::new();
        if known_before.iter().any(|&known| known > 0) {
            let ids: Vec<&str> = before.iter().map(|then| then.id).collect();
            reasons.push(format!("it has pieces of what was {}", names(&ids)));
        }
        let mut machines: Vec<&str> = (before.iter())
            .filter(|then| matches!(then.gone, Some(Gone::Machine)))
            .map(|then| then.named)
            .collect();
        machines.sort_unstable();
        machines.dedup();
        reasons.extend(
            machines
                .iter()
                .map(|machine| format!("machine {machine} is gone")),
        );
        // Pieces of it that no run was to print that is gone.
        for (&(part, of, here), &known) in now.content.iter().zip(known_before) {
            let fresh = here - known;
            if fresh == 0 {
                continue;
            }
            let name = self.part(part);
            let otherwise = self.left.iter().flat_map(|then| &then.content);
            let mut otherwise = otherwise.filter(|piece| piece.0 == part && piece.1 != of);
            reasons.push(if !self.known.contains(&PartIndex(part as usize)) {
                format!("{name} is new")
            } else if otherwise.next().is_some() {
                made_of(name, of)
            } else {
                match fresh {
                    1 => format!("1 piece of {name} was lost or is wanted besides"),
                    fresh => format!("{fresh} pieces of {name} were lost or are wanted besides"),
                }
            });
        }
        reasons.dedup();
        reasons.join("; ")
    }

    /// Why there is a run no more.
    pub fn why_it_went(&self, at: usize) -> String {
        let (then, moved) = (&self.left[at], &self.moved[at]);
        let mut reasons = Vec::new();
        match then.gone {
            Some(Gone::Machine) => reasons.push(format!("machine {} is gone", then.named)),
            Some(Gone::Filament(was)) => reasons.push(format!("filament {was} is gone")),
            Some(Gone::Parts(parts)) => return reasons::wanted_no_more(parts),
            None if then.scrapped => reasons.push("it was scrapped".to_owned()),
            None => {}
        }
        if !then.without.is_empty() {
            reasons.push(reasons::wanted_no_more(then.without));
        }
        let now: Vec<&str> = (self.came.iter().zip(&self.known_before))
            .filter(|(now, known)| shares(&then.content, &now.content, known))
            .map(|(now, _)| now.run.id.as_str())
            .collect();
        let some = moved.iter().any(|&moved| moved > 0);
        let all = (then.content.iter().zip(moved)).all(|(piece, &moved)| piece.2 == moved);
        match (some, all) {
            (false, _) => {}
            (true, true) => reasons.push(format!("its pieces are on {} now", names(&now))),
            (true, false) => reasons.push(format!("pieces of it are on {} now", names(&now))),
        }
        for (&(part, of, were), &moved) in then.content.iter().zip(moved) {
            let over = were - moved;
            let own = then.pieces.iter().map(|placed| placed.piece);
            let name = self.part(part);
            if over == 0 {
                continue;
            }
            let other = self.came.iter().flat_map(|now| &now.content);
            let mut other = other.filter(|piece| piece.0 == part && piece.1 != of);
            if let Some(piece) = other.next() {
                reasons.push(made_of(name, piece.1));
                continue;
            }
            let exists = |piece: &PieceName| {
                (piece.part.0 as u32, piece.of) == (part, of) && self.there.contains(piece)
            };
            let there = own.filter(exists).count() as u32;
            let there = there.min(over);
            let (needs, exist) = (over - there, there);
            if exist > 0 {
                reasons.push(match exist {
                    1 => format!("1 piece of {name} exists"),
                    exist => format!("{exist} pieces of {name} exist"),
                });
            }
            if needs > 0 {
                reasons.push(match needs {
                    1 => format!("1 piece of {name} is needed no more"),
                    needs => format!("{needs} pieces of {name} are needed no more"),
                });
            }
        }
        let stood = then.run.filter(|_| !then.scrapped);
        reasons.extend(stood.and_then(|run| {
            reasons::impossible(self.case, run).or_else(|| reasons::untried(self.case, run))
        }));
        reasons.dedup();
        reasons.join("; ")
    }
}

/// How a part is made now.
fn made_of(part: &str, of: u32) -> String {
    match of {
        1 => format!("{part} is made in one piece now"),
        of => format!("{part} is made of {of} lengths now"),
    }
}

/// Of each run, by what is on it: how many of these are on some of the others, the first being given the first of them.
fn shared(runs: &[&Content], others: &[&Content]) -> Vec<Vec<u32>> {
    let mut there: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    for &(part, of, n) in others.iter().copied().flatten() {
        *there.entry((part, of)).or_default() += n;
    }
    let mut given = |&(part, of, n): &(u32, u32, u32)| {
        let left = there.entry((part, of)).or_default();
        let given = n.min(*left);
        *left -= given;
        given
    };
    let runs = runs.iter();
    runs.map(|run| run.iter().map(&mut given).collect())
        .collect()
}

/// Whether one has pieces that are alike to some of another's, of those of which so many are in the other plan too.
fn shares(one: &Content, other: &Content, shared: &[u32]) -> bool {
    let both = other.iter().zip(shared).filter(|(_, shared)| **shared > 0);
    let mut both = both.map(|(piece, _)| (piece.0, piece.1));
    both.any(|piece| one.iter().any(|own| (own.0, own.1) == piece))
}

/// So many runs are named, and the rest counted.
const MOST_NAMES: usize = 3;

fn names(ids: &[&str]) -> String {
    let (named, more) = ids.split_at(ids.len().min(MOST_NAMES));
    match more.len() {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}
