//! What can have happened to pieces: joined, approved, rejected.
//!
//! Knows: the state. Must not know: machines' runs beyond what they printed.
//! Promises: nothing is said of pieces that were not printed by then.

use chrono::{DateTime, Utc};

use super::assemblies::whole_copies;
use super::{Refusal, refuse};
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

/// Whether a moment is not before trial copies were printed of which something is said.
fn looked_at(state: &State, part: &str, wanted: u32, at: DateTime<Utc>) -> Result<(), Refusal> {
    let trial = |piece: &PieceId| piece.part == part && (1..=wanted).contains(&piece.number);
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
    let (wanted, printed) = match state.restoring {
        true => {
            printed_once(state, part, |_| true)?;
            (0, 0)
        }
        false => trial(state, part)?,
    };
    if printed < wanted {
        return refuse(
            format!("{printed} of {wanted} trial copies of {part} are printed"),
            "note the run that printed them first",
        );
    }
    looked_at(state, part, wanted, at)?;
    if let Some(variant) = variant.filter(|_| !state.restoring) {
        known::variant(state, part, variant)?;
    }
    match state.trials.get(part).and_then(|trial| trial.approved) {
        Some(when) => refuse(
            format!("{part} was approved {}", state.shop.shown(when)),
            "nothing is to be noted",
        ),
        None => Ok(()),
    }
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
    looked_at(state, part, wanted, at)?;
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
