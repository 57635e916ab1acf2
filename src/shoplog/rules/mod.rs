//! What can have happened: each event held against the state before it.
//!
//! Knows: the state, the names of shop and plans. Must not know: files, the command line.
//! Promises: an event that is let through adds up; a refusal says what would be right.

mod assemblies;
mod machines;
mod measured;
mod pieces;
mod runs;
mod spools;

use chrono::{DateTime, Datelike, TimeDelta, Utc};

use super::accepted::{Accepted, YEARS};
use super::event::Event;
use super::known;
use super::state::State;
use assemblies::assembled;
use machines::{down, up};
use measured::{likely, measured, timed};
use pieces::{approved, joined, lost, rejected};
use runs::{finished, long_enough, printing, started};
use spools::{bought, opened, weighed_spool};

pub(super) use assemblies::whole_copies;
pub(super) use runs::contents;

/// Clocks of two computers differ by so much at most; what is later than that by ours has not happened yet.
const CLOCKS: TimeDelta = TimeDelta::minutes(2);

/// More grams on a spool, or in pieces, than this is no mass of a print.
const MOST_GRAMS: f64 = 100_000.0;

/// Nothing is noted of a time before: 1 January 1970.
const EARLIEST: DateTime<Utc> = DateTime::UNIX_EPOCH;

/// What is to come later than this after an event is a slip; sums of such moments would leave the calendar.
const LONGEST_WAIT: TimeDelta = TimeDelta::days(3653);

/// A longer text is no note.
const LONGEST_TEXT: usize = 4000;

/// Why an event is not noted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what}; {fix}")]
pub struct Refusal {
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub fix: String,
}

/// A refusal.
pub(super) fn refuse<T>(what: impl Into<String>, fix: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal {
        what: what.into(),
        fix: fix.into(),
    })
}

/// Whether an event can have happened then. Undoing is checked by whoever knows all entries.
///
/// # Errors
/// If it cannot; why.
pub fn check(
    state: &State,
    event: &Event,
    at: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<(), Refusal> {
    in_time(state, at, now)?;
    short(event)?;
    match event {
        Event::PlanAccepted { plan, .. } => match Accepted::read(plan) {
            Ok(_) => Ok(()),
            Err(what) => refuse(what, "accept what `beamyard plan` found, with `--accept`"),
        },
        Event::Started { run, spool } => started(state, run, spool.as_deref(), at),
        Event::Finished {
            run,
            scrapped,
            sure,
            ..
        } => {
            finished(state, run, scrapped, at)?;
            if *sure {
                return Ok(());
            }
            long_enough(state, run, scrapped, at)
        }
        Event::Scrapped { run, grams, .. } => {
            let key = printing(state, run, at)?;
            let most = state.planned(key).grams;
            grams.map_or(Ok(()), |grams| {
                within("grams", grams, 0.0, (most * 1.5).max(most + 100.0))
            })
        }
        Event::Joined { part, number } => joined(state, part, *number, at),
        Event::Weighed { sample, grams, .. } => {
            measured(state, sample, at)?;
            within("grams", *grams, 0.001, MOST_GRAMS)?;
            likely(state, sample, *grams)
        }
        Event::Timed {
            sample, minutes, ..
        } => {
            measured(state, sample, at)?;
            within("minutes", *minutes, 0.1, 60.0 * 24.0 * 60.0)?;
            timed(state, sample, *minutes, at)
        }
        Event::Approved { part, variant } => approved(state, part, variant.as_deref(), at),
        Event::Rejected { part, .. } => rejected(state, part, at),
        Event::Lost { pieces, .. } => lost(state, pieces, at),
        Event::SpoolOpened { spool, machine } => opened(state, spool, machine),
        Event::SpoolWeighed { spool, grams } => weighed_spool(state, spool, *grams),
        Event::SpoolBought {
            spool,
            filament,
            grams,
            arrives,
        } => {
            foreseen(state, *arrives, at)?;
            bought(state, spool, filament, *grams)
        }
        Event::SpoolEmpty { spool } => {
            let known = known::spool(state, spool)?.filter(|_| !state.restoring);
            if known.is_some_and(|known| known.grams == 0.0) {
                return refuse(
                    format!("{spool} is empty already"),
                    "nothing is to be noted",
                );
            }
            Ok(())
        }
        Event::Down {
            machine,
            until,
            why,
        } => down(state, machine, why, *until, at),
        Event::Up { machine } => up(state, machine, at),
        Event::AssemblyStarted { assembly } => assembled(state, assembly, at, false),
        Event::AssemblyComplete { assembly } => assembled(state, assembly, at, true),
        Event::Note { text } if text.trim().is_empty() => {
            refuse("the note is empty", "write what is worth knowing")
        }
        Event::Note { .. } | Event::Undone { .. } => Ok(()),
    }
}

/// Whether a moment lies in the calendar and has come.
pub(super) fn in_time(state: &State, at: DateTime<Utc>, now: DateTime<Utc>) -> Result<(), Refusal> {
    if at.year() >= YEARS.end {
        return refuse(
            format!("the year {} is out of the calendar", at.year()),
            "give the moment at which it happened",
        );
    }
    if at < EARLIEST {
        return refuse(
            format!("{} is before anything was printed", at.format("%Y-%m-%d")),
            "give the moment at which it happened",
        );
    }
    if at > now + CLOCKS {
        return refuse(
            format!(
                "{} has not come yet: it is {}",
                state.shop.shown(at),
                state.shop.shown(now)
            ),
            "note what has happened; if the clock of this computer is wrong, set it, or give `--now`",
        );
    }
    Ok(())
}

/// Whether what is expected is near enough to be reckoned with.
fn foreseen(state: &State, until: Option<DateTime<Utc>>, at: DateTime<Utc>) -> Result<(), Refusal> {
    match until.filter(|until| *until - at > LONGEST_WAIT) {
        Some(until) => refuse(
            format!("{} is more than ten years on", until.format("%Y-%m-%d")),
            format!("give a moment nearer to {}", state.shop.shown(at)),
        ),
        None => Ok(()),
    }
}

fn short(event: &Event) -> Result<(), Refusal> {
    let text = match event {
        Event::Note { text } => text,
        Event::Finished { why, .. }
        | Event::Scrapped { why, .. }
        | Event::Rejected { why, .. }
        | Event::Lost { why, .. }
        | Event::Down { why, .. } => why,
        _ => return Ok(()),
    };
    if text.len() > LONGEST_TEXT {
        return refuse(
            format!("the text is {} bytes long", text.len()),
            format!("write {LONGEST_TEXT} at most"),
        );
    }
    Ok(())
}

fn within(what: &str, value: f64, least: f64, most: f64) -> Result<(), Refusal> {
    if (least..=most).contains(&value) {
        return Ok(());
    }
    refuse(
        format!("{value} is no number of {what} that can be"),
        format!("write {least} to {most:.0} {what}"),
    )
}
