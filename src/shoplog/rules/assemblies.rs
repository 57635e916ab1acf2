//! What can have happened to assemblies.
//!
//! Knows: the state, what an assembly takes. Must not know: plans.
//! Promises: nothing is assembled of what is not there.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::{Refusal, refuse};
use crate::shoplog::curing::used;
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
    let parts = assembly.parts.iter();
    let parts = parts.map(|(part, wanted)| {
        let copies = whole_copies(state, part, at);
        (part, *wanted, used(state, part), copies)
    });
    let parts: Vec<(&String, u32, u32, BTreeMap<u32, bool>)> = parts.collect();
    for (part, wanted, used, copies) in &parts {
        let there = (copies.len() as u32).saturating_sub(*used);
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
    for (part, wanted, used, copies) in &parts {
        let joined = copies.values().filter(|joined| **joined).count() as u32;
        let apart = copies.iter().find(|(_, joined)| !**joined);
        if let Some((number, _)) = apart.filter(|_| joined.saturating_sub(*used) < *wanted) {
            return refuse(
                format!(
                    "{part}:{number}, which goes into {id}, was not joined by {}",
                    state.shop.shown(at)
                ),
                format!("note `joined {part}:{number}` first, with `--at` for when it was"),
            );
        }
    }
    Ok(())
}

/// Numbers of the copies of a part of which all lengths were printed by a moment, and whether they are in one piece by then.
pub(in crate::shoplog) fn whole_copies(
    state: &State,
    part: &str,
    at: DateTime<Utc>,
) -> BTreeMap<u32, bool> {
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
        .filter(|(_, printed)| printed.at <= at);
    // Lengths of another division of the same copy are no lengths of this one.
    let mut seen: BTreeMap<(u32, u32), (u32, u32)> = BTreeMap::new();
    for (piece, printed) in pieces {
        let (lengths, joined) = seen.entry((piece.number, piece.of)).or_default();
        *lengths += 1;
        *joined += u32::from(piece.of == 1 || printed.joined.is_some_and(|when| when <= at));
    }
    let mut whole: BTreeMap<u32, bool> = BTreeMap::new();
    for ((number, of), (lengths, joined)) in seen {
        if lengths == of {
            *whole.entry(number).or_default() |= joined == of;
        }
    }
    whole
}
