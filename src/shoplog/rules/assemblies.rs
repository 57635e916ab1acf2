//! What can have happened to assemblies.
//!
//! Knows: the state, what an assembly takes. Must not know: plans.
//! Promises: nothing is assembled of what is not there.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::{Refusal, refuse};
use crate::shoplog::event::PieceId;
use crate::shoplog::known;
use crate::shoplog::shop::ShopAssembly;
use crate::shoplog::state::State;

pub(super) fn assembled(
    state: &State,
    id: &str,
    at: DateTime<Utc>,
    complete: bool,
) -> Result<(), Refusal> {
    let assembly = known::assembly(state, id)?;
    let log = state.assemblies.get(id).cloned().unwrap_or_default();
    if let Some(when) = log.complete {
        return refuse(
            format!("{id} was complete {}", state.shop.shown(when)),
            "undo that entry if it is wrong",
        );
    }
    match log.started {
        Some(when) if !complete => refuse(
            format!("{id} was started {}", state.shop.shown(when)),
            format!("note `assembly complete {id}` when it is done"),
        ),
        Some(when) if at < when => refuse(
            format!(
                "{id} was started {}, after {}",
                state.shop.shown(when),
                state.shop.shown(at)
            ),
            "give a later moment with `--at`",
        ),
        Some(_) => Ok(()),
        None => assembly.map_or(Ok(()), |assembly| can_begin(state, id, assembly, at)),
    }
}

pub(super) fn can_begin(
    state: &State,
    id: &str,
    assembly: &ShopAssembly,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    for need in &assembly.needs {
        let complete = state.assemblies.get(need).and_then(|log| log.complete);
        match complete {
            Some(when) if when <= at => {}
            Some(when) => {
                return refuse(
                    format!(
                        "{need}, which {id} needs, was complete {}",
                        state.shop.shown(when)
                    ),
                    "give a later moment with `--at`",
                );
            }
            None => {
                return refuse(
                    format!("{id} needs {need}, which is not complete"),
                    format!("note `assembly complete {need}` first"),
                );
            }
        }
    }
    for (part, wanted) in &assembly.parts {
        let there = (whole_copies(state, part, at).len() as u32).saturating_sub(used(state, part));
        if there < *wanted {
            return refuse(
                format!(
                    "{id} needs {wanted}× {part}, and {there} of them were printed by {}",
                    state.shop.shown(at)
                ),
                "note the runs that printed the others first",
            );
        }
    }
    Ok(())
}

/// Copies of a part that are in assemblies which have been begun.
pub(super) fn used(state: &State, part: &str) -> u32 {
    let begun = state.assemblies.keys();
    begun
        .filter_map(|id| state.shop.assemblies.get(id))
        .flat_map(|assembly| &assembly.parts)
        .filter(|(id, _)| id == part)
        .map(|(_, count)| count)
        .sum()
}

/// Numbers of the copies of a part of which all lengths were printed by a moment.
pub(super) fn whole_copies(state: &State, part: &str, at: DateTime<Utc>) -> BTreeSet<u32> {
    let from = PieceId {
        part: part.to_owned(),
        number: 0,
        length: 0,
        of: 0,
    };
    let pieces = state
        .made
        .range(from..)
        .take_while(|(piece, _)| piece.part == part)
        .filter(|(_, printed)| printed.at <= at)
        .map(|(piece, _)| piece);
    // Lengths of another division of the same copy are no lengths of this one.
    let mut seen: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    for piece in pieces {
        *seen.entry((piece.number, piece.of)).or_default() += 1;
    }
    seen.into_iter()
        .filter(|&((_, of), lengths)| lengths == of)
        .map(|((number, _), _)| number)
        .collect()
}
