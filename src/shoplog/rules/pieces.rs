//! What can have happened to pieces: joined, measured, approved.
//!
//! Knows: the state. Must not know: machines' runs beyond what they printed.
//! Promises: nothing is said of pieces that were not printed by then.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::assemblies::{used, whole_copies};
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
        return Ok(()); // rules of before let pass what was still printing
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
    if !state.restoring {
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
            if !whole.contains(&number) {
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
        let left = left.difference(&lost).count() as u32;
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
        return Ok(()); // which copies were trial ones the scenario says
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
