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
        None if state.restoring => borne_out(state, id),
        None => assembly.map_or(Ok(()), |assembly| can_begin(state, id, assembly, at)),
    }
}

/// Whether a restored entry can be that an assembly was begun. The scenario may have changed since; but where it says even now that a part
/// goes in, and the plan that was followed then has it on runs for that, some of it was printed before.
fn borne_out(state: &State, id: &str) -> Result<(), Refusal> {
    let Some(assembly) = state.shop.assemblies.get(id) else {
        return Ok(());
    };
    let runs = state.plan().into_iter().flat_map(|plan| &plan.runs);
    let planned: BTreeSet<&str> = runs
        .flat_map(|run| &run.pieces)
        .filter(|piece| piece.assembly.as_deref() == Some(id))
        .map(|piece| piece.part())
        .collect();
    let there: BTreeSet<&str> = state.made.keys().map(|piece| piece.part.as_str()).collect();
    let mut parts = assembly.parts.iter().map(|(part, _)| part.as_str());
    match parts.find(|part| planned.contains(part) && !there.contains(part)) {
        Some(part) => refuse(
            format!("{id} takes {part}, and none of it is printed by then"),
            "the runs that printed it come first",
        ),
        None => Ok(()),
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
        let used: u32 = state
            .assemblies
            .keys()
            .filter_map(|other| state.shop.assemblies.get(other))
            .flat_map(|other| &other.parts)
            .filter(|(other, _)| other == part)
            .map(|(_, count)| count)
            .sum();
        let there = (whole_copies(state, part, at).len() as u32).saturating_sub(used);
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
