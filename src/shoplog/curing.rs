//! From when on what goes into an assembly holds: glue and paint cure after the work on them is done.
//!
//! Knows: the state, what assemblies take. Must not know: events, rules.
//! Promises: asking changes nothing; what was never joined or completed holds at no moment, and is left to the rules.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::event::PieceId;
use super::state::State;

/// Copies of a part that assemblies which were begun have taken.
pub(super) fn used(state: &State, part: &str) -> u32 {
    let begun = state.assemblies.keys();
    let begun = begun.filter_map(|other| state.shop.assemblies.get(other));
    let parts = begun.flat_map(|other| &other.parts);
    let counts = parts.filter(|(other, _)| other == part);
    counts.map(|(_, count)| count).sum()
}

impl State {
    /// What goes into an assembly that was not begun and cures last, and until when, if that is after a moment.
    pub fn cures(&self, id: &str, at: DateTime<Utc>) -> Option<(String, DateTime<Utc>)> {
        let assembly = self.shop.assemblies.get(id)?;
        let needs = assembly.needs.iter().filter_map(|need| {
            let cure = self.shop.assemblies.get(need)?.cure;
            let complete = self.assemblies.get(need)?.complete?;
            Some((need.clone(), complete.checked_add_signed(cure)?))
        });
        let parts = assembly.parts.iter();
        let parts = parts.filter_map(|(part, wanted)| {
            let hold = self.hold(part);
            // Those that held first are in the assemblies that were begun first.
            let last = used(self, part).saturating_add(*wanted).checked_sub(1)?;
            let &(holds, number) = hold.get(last as usize)?;
            Some((format!("{part}:{number}"), holds))
        });
        let last = needs.chain(parts).max_by_key(|(_, holds)| *holds);
        last.filter(|(_, holds)| *holds > at)
    }

    /// Copies of a part that are in one piece, and from when on each holds, the first first.
    fn hold(&self, part: &str) -> Vec<(DateTime<Utc>, u32)> {
        let cure = self.shop.parts.get(part).map(|known| known.cure);
        let cure = cure.unwrap_or_default();
        let first = PieceId {
            part: part.to_owned(),
            number: 0,
            length: 0,
            of: 0,
        };
        let pieces = self.made.range(first..);
        let pieces = pieces.take_while(|(piece, _)| piece.part == part);
        let hold = pieces.filter_map(|(piece, printed)| match printed.joined {
            Some(joined) => Some((piece.number, joined.checked_add_signed(cure)?)),
            None => (piece.of == 1).then_some((piece.number, printed.at)),
        });
        let hold: BTreeMap<u32, DateTime<Utc>> = hold.collect();
        let mut hold: Vec<(DateTime<Utc>, u32)> = hold
            .into_iter()
            .map(|(number, holds)| (holds, number))
            .collect();
        hold.sort();
        hold
    }
}
