//! Lengths of split parts: those that are alike stand for each other, so that copies are whole as soon as they can be.
//!
//! Knows: the state, which lengths are alike. Must not know: events, rules, plans beyond their pieces.
//! Promises: no piece is gained or lost; one stands in only for one that was no good, and only where a copy is whole then; trial copies,
//! which may differ, and what an assembly that was begun may hold are left alone.

use std::collections::BTreeMap;

use super::accepted::PlannedPiece;
use super::event::PieceId;
use super::records::Printed;
use super::state::State;

/// A piece, and the assembly that it is for.
pub(super) type ForAssembly = (PieceId, Option<String>);

/// A copy that is not joined: what it is for, and its lengths that are there.
struct Copy {
    number: u32,
    assembly: Option<String>,
    lengths: Vec<u32>,
}

/// Of how many lengths a copy is that is to be joined: those that make it whole, or else those of which most are there. Some may be left of
/// another division that the scenario had before.
pub(super) fn division<'a>(pieces: impl IntoIterator<Item = &'a PieceId>) -> Option<u32> {
    let mut there: BTreeMap<u32, u32> = BTreeMap::new();
    for piece in pieces.into_iter().filter(|piece| piece.of > 1) {
        *there.entry(piece.of).or_default() += 1;
    }
    let fullest = there
        .iter()
        .max_by_key(|&(of, count)| (count == of, *count));
    fullest.map(|(of, _)| *of)
}

impl State {
    /// What a piece of a run is when that has printed it, and for which assembly: itself, unless one that is like it has stood in for it;
    /// then what that one was to be.
    pub(super) fn printed_as(&self, piece: &PlannedPiece) -> ForAssembly {
        let mut is = (piece.id(), piece.assembly.clone());
        // Each stands for one further down the list; none can come twice.
        for _ in 0..=self.stands_in.len() {
            match self.stands_in.get(&is.0) {
                Some(other) => is = other.clone(),
                None => break,
            }
        }
        is
    }

    /// Makes copies of a part in so many lengths, of which some were lost, whole with lengths that others have without being whole: what
    /// assemblies take first, then in the order of their numbers.
    pub(super) fn pair_lengths(&mut self, part: &str, of: u32) {
        let mut copies = self.unjoined(part, of);
        copies.sort_by_key(|copy| (copy.assembly.is_none(), copy.number));
        for at in 0..copies.len() {
            let there = &copies[at].lengths;
            let missing: Vec<u32> = (1..=of).filter(|length| !there.contains(length)).collect();
            let name = |copy: &Copy, length| PieceId {
                part: part.to_owned(),
                number: copy.number,
                length,
                of,
            };
            // What is still to come by the plan is left to it.
            let lost = |length: &u32| self.lost.contains_key(&name(&copies[at], *length));
            if missing.is_empty() || !missing.iter().all(lost) {
                continue;
            }
            let Some(givers) = self.givers(part, of, &missing, &copies[at + 1..]) else {
                continue;
            };
            for (length, (giver, given)) in missing.into_iter().zip(givers) {
                let giver = at + 1 + giver;
                copies[giver].lengths.retain(|other| *other != given);
                copies[at].lengths.push(length);
                let from = name(&copies[giver], given);
                let to = name(&copies[at], length);
                let labels = [copies[giver].assembly.clone(), copies[at].assembly.clone()];
                self.stand_in(from, to, labels);
            }
        }
    }

    /// Copies of which some lengths are there, that are not joined and may share them.
    fn unjoined(&self, part: &str, of: u32) -> Vec<Copy> {
        let Some(known) = self.shop.parts.get(part) else {
            return Vec::new();
        };
        let mut copies: BTreeMap<u32, Copy> = BTreeMap::new();
        let begun = |printed: &Printed| {
            let assembly = printed.assembly.as_ref();
            assembly.is_some_and(|id| self.assemblies.contains_key(id))
        };
        let first = PieceId {
            part: part.to_owned(),
            number: known.trial.saturating_add(1),
            length: 0,
            of: 0,
        };
        let pieces = self.made.range(first..);
        let pieces = pieces.take_while(|(piece, _)| piece.part == part);
        for (piece, printed) in pieces.filter(|(piece, _)| piece.of == of) {
            if printed.joined.is_some() || begun(printed) {
                continue;
            }
            let copy = copies.entry(piece.number).or_insert_with(|| Copy {
                number: piece.number,
                assembly: printed.assembly.clone(),
                lengths: Vec::new(),
            });
            copy.lengths.push(piece.length);
        }
        copies.into_values().collect()
    }

    /// For each missing length which of these copies, none of them whole, has one that is like it, and which; the last first. `None` if some is nowhere.
    fn givers(
        &self,
        part: &str,
        of: u32,
        missing: &[u32],
        copies: &[Copy],
    ) -> Option<Vec<(usize, u32)>> {
        let known = self.shop.parts.get(part)?;
        let mut free: Vec<(usize, u32)> = (copies.iter().enumerate().rev())
            .filter(|(_, copy)| copy.lengths.len() < of as usize)
            .flat_map(|(at, copy)| copy.lengths.iter().map(move |&length| (at, length)))
            .collect();
        let mut givers = Vec::new();
        for &length in missing {
            let like = |given: &(usize, u32)| {
                known.first_like(of, given.1) == known.first_like(of, length)
            };
            let at = free.iter().position(like)?;
            givers.push(free.remove(at));
        }
        Some(givers)
    }

    /// One piece takes the name and the place of another that is not there; what was to print that one prints the first from now on.
    fn stand_in(&mut self, from: PieceId, to: PieceId, [was, is]: [Option<String>; 2]) {
        let Some(printed) = self.made.remove(&from) else {
            return;
        };
        let printed = Printed {
            assembly: is,
            ..printed
        };
        self.made.insert(to.clone(), printed);
        if let Some(times) = self.lost.get_mut(&to).filter(|times| **times > 0) {
            *times -= 1;
            if *times == 0 {
                self.lost.remove(&to);
            }
            *self.lost.entry(from.clone()).or_default() += 1;
        }
        self.stands_in.insert(to, (from, was));
    }
}
