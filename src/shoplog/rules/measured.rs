//! What can have been weighed and timed.
//!
//! Knows: the state, planned runs. Must not know: how estimates are corrected.
//! Promises: nothing is measured before it was printed; what is timed is a whole run of one part; what no print comes to is taken for a slip.

use chrono::{DateTime, Utc};

use super::{Refusal, refuse};
use crate::shoplog::accepted::{PlannedPiece, PlannedRun};
use crate::shoplog::event::Sample;
use crate::shoplog::known;
use crate::shoplog::state::State;

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

/// Whether a run can have been timed, and have taken so long.
pub(super) fn timed(
    state: &State,
    sample: &Sample,
    minutes: f64,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    if state.restoring {
        return Ok(());
    }
    let kind = (sample.machine.clone(), sample.part.clone(), sample.of);
    let came_off = state.came_off.get(&kind).into_iter();
    let mut came_off = came_off.flat_map(|all| all.range(..=at));
    let ended = came_off.any(|(_, count)| *count >= sample.pieces);
    let begun = state.attempts.keys().map(|&key| state.planned(key));
    let mut such: Vec<&PlannedRun> = begun.filter(|run| is_of(run, sample)).collect();
    such.sort_by_key(|run| run.end - run.start);
    let (Some(first), Some(last), true) = (such.first(), such.last(), ended) else {
        return refuse(
            format!(
                "no run with {}, and nothing else on it, has ended on {} by {}",
                counted(sample.pieces, sample),
                sample.machine,
                state.shop.shown(at)
            ),
            "a run is timed as a whole, and tells something of a part only where it has nothing else on it: name the run",
        );
    };
    let [least, most] = [first, last].map(|run| (run.end - run.start).num_minutes() as f64);
    if (least / UNLIKELY..=most * UNLIKELY).contains(&minutes) {
        return Ok(());
    }
    let (run, planned, than) = match minutes > most {
        true => (&last.id, most, "more"),
        false => (&first.id, least, "less"),
    };
    refuse(
        format!(
            "{minutes:.0} min for {run} is {than} than a factor of {UNLIKELY} from its planned {planned:.0} min"
        ),
        "see how long it took; if the plan is so far off, give the part's `minutes` in the scenario",
    )
}

/// Whether a run has so many pieces of one kind, and nothing else, on it.
pub(in crate::shoplog) fn is_of(run: &PlannedRun, sample: &Sample) -> bool {
    let alike = |piece: &PlannedPiece| piece.part() == sample.part && piece.of() == sample.of;
    run.machine == sample.machine
        && run.pieces.len() == sample.pieces as usize
        && run.pieces.iter().all(alike)
}
