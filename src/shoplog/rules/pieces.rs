//! What can have happened to pieces: joined, approved, rejected.
//!
//! Knows: the state. Must not know: machines' runs beyond what they printed.
//! Promises: nothing is said of pieces that were not printed by then.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::assemblies::whole_copies;
use super::{Refusal, refuse};
use crate::shoplog::curing::used;
use crate::shoplog::event::PieceId;
use crate::shoplog::known;
use crate::shoplog::lengths::division;
use crate::shoplog::state::State;

pub(super) fn joined(
    state: &State,
    part: &str,
    number: u32,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    known::part(state, part)?;
    if state.restoring {
        return printed_once(state, part, |piece| piece.of > 1);
    }
    let of_copy = |piece: &&PieceId| piece.part == part && piece.number == number;
    let mut lengths: Vec<&PieceId> = state.made.keys().filter(of_copy).collect();
    let Some(of) = division(lengths.iter().copied()) else {
        return refuse(
            format!("no lengths of {part}:{number} are printed"),
            match lengths.is_empty() {
                true => "note the run that printed them first".to_owned(),
                false => "it is in one piece: nothing is to be joined".to_owned(),
            },
        );
    };
    lengths.retain(|piece| piece.of == of);
    if lengths.len() < of as usize {
        return refuse(
            format!(
                "{} of {of} lengths of {part}:{number} are printed",
                lengths.len()
            ),
            "note the run that printed the others first",
        );
    }
    let done = lengths
        .iter()
        .any(|piece| state.made[*piece].joined.is_some());
    if done {
        return refuse(
            format!("{part}:{number} is joined already"),
            "nothing is to be noted",
        );
    }
    let last = lengths.iter().map(|piece| state.made[*piece].at).max();
    if let Some(last) = last.filter(|last| at < *last) {
        return refuse(
            format!(
                "the last length of {part}:{number} was printed {}",
                state.shop.shown(last)
            ),
            "give a later moment with `--at`",
        );
    }
    Ok(())
}

/// Whether any piece of a part, of those that are meant, is there.
fn printed_once(
    state: &State,
    part: &str,
    meant: impl Fn(&PieceId) -> bool,
) -> Result<(), Refusal> {
    let mut pieces = state.made.keys();
    if pieces.any(|piece| piece.part == part && meant(piece)) {
        return Ok(());
    }
    refuse(
        format!("nothing of {part} is printed by then"),
        "the run that printed it comes first",
    )
}

/// How many trial copies a part has, and how many of them are printed whole.
pub(super) fn trial(state: &State, part: &str) -> Result<(u32, u32), Refusal> {
    known::part(state, part)?;
    let wanted = state.shop.parts.get(part).map_or(0, |known| known.trial);
    if wanted == 0 {
        return refuse(
            format!("{part} has no trial copies"),
            format!(
                "give it `trial: 1` in the scenario, or name one of {}",
                known::trials(state)
            ),
        );
    }
    let whole = whole_copies(state, part, DateTime::<Utc>::MAX_UTC);
    let printed = whole.range(1..=wanted);
    Ok((wanted, printed.count() as u32))
}

/// Whether a moment is not before these trial copies were printed of which something is said.
fn looked_at(
    state: &State,
    part: &str,
    copies: std::ops::RangeInclusive<u32>,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let trial = |piece: &PieceId| piece.part == part && copies.contains(&piece.number);
    let pieces = state.made.iter().filter(|(piece, _)| trial(piece));
    match pieces
        .map(|(_, printed)| printed.at)
        .max()
        .filter(|last| at < *last)
    {
        Some(last) => refuse(
            format!(
                "the last trial copy of {part} was printed {}",
                state.shop.shown(last)
            ),
            "give a later moment with `--at`",
        ),
        None => Ok(()),
    }
}

pub(super) fn approved(
    state: &State,
    part: &str,
    variant: Option<&str>,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    if state.restoring {
        printed_once(state, part, |_| true)?;
    } else {
        let copies = looked_on(state, part, variant)?;
        looked_at(state, part, copies, at)?;
    }
    let trial = state.trials.get(part);
    // Which was chosen may be said later, once.
    let open = variant.is_some() && trial.is_some_and(|trial| trial.chosen.is_none());
    match trial.and_then(|trial| trial.approved) {
        Some(when) if !open => refuse(
            format!("{part} was approved {}", state.shop.shown(when)),
            "nothing is to be noted",
        ),
        _ => Ok(()),
    }
}

/// The trial copies that an approval speaks of, all of which are printed: that of the variant which was chosen, where there are any, for the
/// others are not to be printed more often.
fn looked_on(
    state: &State,
    part: &str,
    variant: Option<&str>,
) -> Result<std::ops::RangeInclusive<u32>, Refusal> {
    let (wanted, printed) = trial(state, part)?;
    let variants = state.shop.parts.get(part);
    let variants = variants.map_or(&[][..], |part| part.variants.as_slice());
    match variant {
        Some(name) => {
            known::variant(state, part, name)?;
            // It is one of them.
            let at = variants.iter().position(|one| one == name).unwrap_or(0);
            let number = at as u32 + 1;
            let whole = whole_copies(state, part, DateTime::<Utc>::MAX_UTC);
            if !whole.contains_key(&number) {
                return refuse(
                    format!("{part}:{number}, which is {name}, is not printed"),
                    "note the run that printed it first",
                );
            }
            Ok(number..=number)
        }
        None if variants.len() > 1 => refuse(
            format!("{part} has several variants: {}", variants.join(", ")),
            format!(
                "say which you chose, such as `approved {part} {}`",
                variants[0]
            ),
        ),
        None if printed < wanted => refuse(
            format!("{printed} of {wanted} trial copies of {part} are printed"),
            "note the run that printed them first",
        ),
        None => Ok(1..=wanted),
    }
}

/// Whether pieces that were good can have been lost: they are there, and in no assembly.
pub(super) fn lost(state: &State, pieces: &[PieceId], at: DateTime<Utc>) -> Result<(), Refusal> {
    if pieces.is_empty() {
        return refuse(
            "no piece is named",
            "write which are lost, such as `lost pin:3`",
        );
    }
    let mut named: BTreeSet<&PieceId> = BTreeSet::new();
    let mut copies: BTreeMap<&str, BTreeSet<u32>> = BTreeMap::new();
    for piece in pieces {
        if !named.insert(piece) {
            return refuse(format!("{piece} is named twice"), "name each piece once");
        }
        let Some(printed) = state.made.get(piece) else {
            return refuse(
                format!("{piece} is not among what is printed and good"),
                "name pieces that are; those of a run that prints are told when it ends, with `finished RUN --scrapped PIECES`",
            );
        };
        if at < printed.at {
            return refuse(
                format!("{piece} was printed only {}", state.shop.shown(printed.at)),
                "give a later moment with `--at`",
            );
        }
        let assembly = printed.assembly.as_ref();
        if let Some(assembly) = assembly.filter(|id| state.assemblies.contains_key(*id)) {
            return refuse(
                format!("{piece} is in {assembly}, which has been begun"),
                format!(
                    "undo that entry of {assembly} first, if it is not; name a spare, if one stood in for it"
                ),
            );
        }
        copies.entry(&piece.part).or_default().insert(piece.number);
    }
    if state.restoring {
        return Ok(()); // what assemblies take the scenario says
    }
    for (part, lost) in copies {
        let left = whole_copies(state, part, DateTime::<Utc>::MAX_UTC);
        let left = left.keys().filter(|number| !lost.contains(number)).count() as u32;
        let taken = used(state, part);
        if left < taken {
            return refuse(
                format!(
                    "{taken}× {part} are in assemblies that have been begun, and only {left} would be left"
                ),
                "name fewer, or undo the entry of an assembly first",
            );
        }
    }
    Ok(())
}

pub(super) fn rejected(state: &State, part: &str, at: DateTime<Utc>) -> Result<(), Refusal> {
    if state.restoring {
        // Which copies were trial ones the scenario says.
        return printed_once(state, part, |_| true);
    }
    let (wanted, printed) = trial(state, part)?;
    if printed == 0 {
        return refuse(
            format!("none of {wanted} trial copies of {part} is printed"),
            "note the run that printed them first",
        );
    }
    looked_at(state, part, 1..=wanted, at)?;
    let built_in = state.made.iter().find_map(|(piece, printed)| {
        let assembly = printed.assembly.as_ref()?;
        let begun = state.assemblies.contains_key(assembly);
        (begun && piece.part == part && piece.number <= wanted).then_some(assembly)
    });
    if let Some(assembly) = built_in {
        return refuse(
            format!("trial copies of {part} are in {assembly}, which has been begun"),
            format!("undo that entry of {assembly} first, if they are not"),
        );
    }
    Ok(())
}
