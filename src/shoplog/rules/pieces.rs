//! What can have happened to pieces: joined, measured, approved.
//!
//! Knows: the state. Must not know: machines' runs beyond what they printed.
//! Promises: nothing is said of pieces that were not printed by then.

use chrono::{DateTime, Utc};

use super::assemblies::whole_copies;
use super::{Refusal, refuse};
use crate::shoplog::accepted::PlannedPiece;
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
    if state.restoring {
        return printed_once(state, part, |piece| piece.of > 1);
    }
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

pub(super) fn measured(state: &State, sample: &Sample, at: DateTime<Utc>) -> Result<(), Refusal> {
    known::part(state, &sample.part)?;
    known::machine(state, &sample.machine)?;
    let (pieces, of) = (sample.pieces, sample.of);
    if pieces == 0 || pieces > 10_000 || of == 0 || of > 100 {
        return refuse(
            format!("{pieces} pieces, {of} to a copy, cannot be"),
            "write how many pieces were measured together, and of how many lengths a copy is",
        );
    }
    if state.restoring {
        // Rules of before let pass what was still printing, and asked no more of the machine.
        return begun_once(state, sample);
    }
    let kind = (sample.machine.clone(), sample.part.clone(), of);
    let came_off = |by: DateTime<Utc>| {
        let moments = state.came_off.get(&kind).into_iter();
        moments
            .flat_map(|all| all.range(..=by))
            .map(|(_, count)| *count)
            .sum::<u32>()
    };
    let there = came_off(at);
    if pieces <= there {
        return Ok(());
    }
    let later = came_off(DateTime::<Utc>::MAX_UTC);
    if pieces <= later {
        return refuse(
            format!(
                "{} {} printed on {} by {}, not {pieces}",
                counted(there, sample),
                if there == 1 { "was" } else { "were" },
                sample.machine,
                state.shop.shown(at)
            ),
            "give a later moment with `--at`",
        );
    }
    let on = state
        .running
        .get(&sample.machine)
        .map(|&key| state.planned(key));
    let on = on.filter(|planned| {
        let mut pieces = planned.pieces.iter();
        pieces.any(|piece| piece.part() == sample.part && piece.of() == of)
    });
    refuse(
        format!(
            "{} {} printed on {}, not {pieces}",
            counted(later, sample),
            if later == 1 { "is" } else { "are" },
            sample.machine
        ),
        match on {
            Some(on) => format!("{0} prints still: note `finished {0}` first", on.id),
            None => "note the run that printed them first, or name the machine with `--machine`"
                .to_owned(),
        },
    )
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

/// Whether a run with such pieces was ever begun.
fn begun_once(state: &State, sample: &Sample) -> Result<(), Refusal> {
    let such = |piece: &PlannedPiece| piece.part() == sample.part && piece.of() == sample.of;
    let mut begun = state.attempts.keys();
    if begun.any(|&key| state.planned(key).pieces.iter().any(such)) {
        return Ok(());
    }
    refuse(
        format!("no {} was ever begun", sample.part),
        "the run that printed it comes first",
    )
}

/// `3 copies of pin`.
fn counted(count: u32, sample: &Sample) -> String {
    let what = match (sample.of > 1, count) {
        (true, 1) => "length",
        (true, _) => "lengths",
        (false, 1) => "copy",
        (false, _) => "copies",
    };
    format!("{count} {what} of {}", sample.part)
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
