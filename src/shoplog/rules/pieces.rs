//! What can have happened to pieces: joined, measured, approved.
//!
//! Knows: the state. Must not know: machines' runs beyond what they printed.
//! Promises: nothing is said of pieces that were not printed.

use chrono::{DateTime, Utc};

use super::assemblies::whole_copies;
use super::{Refusal, refuse};
use crate::shoplog::event::{PieceId, Sample};
use crate::shoplog::known;
use crate::shoplog::state::State;

pub(super) fn joined(
    state: &State,
    part: &str,
    number: u32,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    known::part(state, part)?;
    let of_copy = |piece: &&PieceId| piece.part == part && piece.number == number;
    let mut lengths: Vec<&PieceId> = state.made.keys().filter(of_copy).collect();
    let Some(of) = lengths.iter().map(|piece| piece.of).find(|of| *of > 1) else {
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

pub(super) fn measured(state: &State, sample: &Sample) -> Result<(), Refusal> {
    known::part(state, &sample.part)?;
    known::machine(state, &sample.machine)?;
    let (pieces, of) = (sample.pieces, sample.of);
    if pieces == 0 || pieces > 10_000 || of == 0 || of > 100 {
        return refuse(
            format!("{pieces} pieces, {of} to a copy, cannot be"),
            "write how many pieces were measured together, and of how many lengths a copy is",
        );
    }
    let printed = state
        .made
        .iter()
        .filter(|(piece, printed)| {
            piece.part == sample.part && piece.of == of && printed.machine == sample.machine
        })
        .count();
    let lost = state
        .lost
        .iter()
        .filter(|(piece, _)| piece.part == sample.part && piece.of == of)
        .map(|(_, times)| *times as usize)
        .sum::<usize>();
    let on = state.running.get(&sample.machine).map_or(0, |&key| {
        let pieces = state.planned(key).pieces.iter();
        pieces
            .filter(|piece| piece.part() == sample.part && piece.of() == of)
            .count()
    });
    if (pieces as usize) > printed + lost + on {
        return refuse(
            format!(
                "{} {} of {} {} printed on {}, not {pieces}",
                printed + lost + on,
                if of > 1 { "lengths" } else { "copies" },
                sample.part,
                if printed + lost + on == 1 {
                    "is"
                } else {
                    "are"
                },
                sample.machine
            ),
            "note the run that printed them first, or name the machine with `--machine`",
        );
    }
    Ok(())
}

/// No piece weighs so many times its estimate, or so small a part of it: an infill, a hollow or a slip of the pen is less (judgement).
const UNLIKELY: f64 = 10.0;

/// Whether pieces can weigh so much, which estimates are then corrected by.
pub(super) fn likely(state: &State, sample: &Sample, grams: f64) -> Result<(), Refusal> {
    let known = state.shop.parts.get(&sample.part);
    let Some(part) = known.filter(|_| !state.restoring) else {
        return Ok(());
    };
    let piece = grams / f64::from(sample.pieces);
    let [least, most] = part.grams.map(|copy| copy / f64::from(sample.of));
    if (least / UNLIKELY..=most * UNLIKELY).contains(&piece) {
        return Ok(());
    }
    let what = if sample.of > 1 { "a length" } else { "a copy" };
    refuse(
        format!(
            "{piece:.2} g for {what} of {} is {} than a factor of {UNLIKELY} from its estimate, {:.2} g",
            sample.part,
            if piece > most { "more" } else { "less" },
            if piece > most { most } else { least },
        ),
        "weigh again, or say with `--pieces` how many were weighed; if the estimate is wrong, give the part's `grams` in the scenario",
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

pub(super) fn approved(state: &State, part: &str, variant: Option<&str>) -> Result<(), Refusal> {
    let (wanted, printed) = match state.restoring {
        true => (0, 0),
        false => trial(state, part)?,
    };
    if printed < wanted {
        return refuse(
            format!("{printed} of {wanted} trial copies of {part} are printed"),
            "note the run that printed them first",
        );
    }
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

pub(super) fn rejected(state: &State, part: &str) -> Result<(), Refusal> {
    if state.restoring {
        return Ok(()); // which copies were trial ones the scenario says
    }
    let (wanted, printed) = trial(state, part)?;
    if printed == 0 {
        return refuse(
            format!("none of {wanted} trial copies of {part} is printed"),
            "note the run that printed them first",
        );
    }
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
