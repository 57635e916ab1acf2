//! What can have happened to runs: started once, ended once, with the pieces that are on them.
//!
//! Knows: the state. Must not know: what pieces are for, spools' masses.
//! Promises: no two runs on one machine, no end before its start, no more pieces than were printed.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};

use super::spools::opened;
use super::{Refusal, refuse};
use crate::shoplog::event::PieceId;
use crate::shoplog::known;
use crate::shoplog::state::{RunKey, State};

pub(super) fn started(
    state: &State,
    run: &str,
    spool: Option<&str>,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    if state.running(run).is_some() {
        return refuse(
            format!("{run} is printing already"),
            format!("note `finished {run}` or `scrapped {run}` when it ends"),
        );
    }
    let key = known::run(state, run)?;
    let planned = state.planned(key);
    let machine = planned.machine.as_str();
    if at < state.shop.start && !state.restoring {
        return refuse(
            format!("the build starts {}", state.shop.shown(state.shop.start)),
            "set `build.start` to when it really began, or give a later moment with `--at`",
        );
    }
    if let Some(&on) = state.running.get(machine) {
        let before = state.attempts.get(&on).is_some_and(|on| at < on.started);
        let on = &state.planned(on).id;
        return refuse(
            format!("{machine} is printing {on}"),
            match before {
                true => forgotten(state, run, machine, at),
                false => format!("note `finished {on}` or `scrapped {on}` first"),
            },
        );
    }
    // Which lengths stand for others, and so whether all of a run are there, rests on the scenario, too.
    let over = match state.restoring {
        true => state.ended(key).is_some_and(|ended| !ended.scrapped),
        false => !state.is_open(key),
    };
    if over {
        let next = next_on(state, machine);
        return refuse(format!("{run} has been printed"), next);
    }
    if let Some(part) = state.waits_for_trial(key).filter(|_| !state.restoring) {
        let rejected = state.trials.get(part).is_some_and(|t| t.rejected > 0);
        return refuse(
            format!("{run} has copies of {part} that wait for its trial, which is not approved"),
            match rejected {
                true => format!(
                    "plan again for new trial copies, or note `approved {part}` when they are"
                ),
                false => format!("note `approved {part}` first, or plan again"),
            },
        );
    }
    if let Some((part, when)) = state.approved_after(key, at).filter(|_| !state.restoring) {
        return refuse(
            format!(
                "{run} has copies of {part} that wait for its trial, which was approved only {}",
                state.shop.shown(when)
            ),
            "give a later moment with `--at`; if it was approved before, undo that and note it with the moment",
        );
    }
    let Some(log) = state.machines.get(machine) else {
        return Ok(());
    };
    if let Some((since, ..)) = log.down.as_ref().filter(|(since, ..)| *since <= at) {
        return refuse(
            format!("{machine} is down since {}", state.shop.shown(*since)),
            format!("note `up {machine}` first"),
        );
    }
    let mut outages = log.outages.iter();
    if let Some((from, to)) = outages.find(|(from, to)| (*from..*to).contains(&at)) {
        return refuse(
            format!(
                "{run} cannot have started {}: {machine} was down from {} to {}",
                state.shop.shown(at),
                state.shop.shown(*from),
                state.shop.shown(*to)
            ),
            "give another moment with `--at`, or undo the entry that is wrong",
        );
    }
    if let Some(free) = log.free.filter(|free| at < *free) {
        return refuse(
            format!(
                "{run} cannot have started {}: the run before it on {machine} ended {}",
                state.shop.shown(at),
                state.shop.shown(free)
            ),
            format!(
                "give a later moment with `--at`; {}",
                forgotten(state, run, machine, at)
            ),
        );
    }
    let Some(spool) = spool else {
        return Ok(());
    };
    opened(state, spool, machine)?;
    let Some(on) = known::spool(state, spool)?.map(|known| &known.filament) else {
        return Ok(());
    };
    if *on != planned.filament {
        return refuse(
            format!(
                "{spool} is {on}, and {run} prints with {}",
                planned.filament
            ),
            format!(
                "name a spool of {}: {}",
                planned.filament,
                known::spools_of(state, &planned.filament)
            ),
        );
    }
    Ok(())
}

/// How a run that nobody has noted is noted before others, as advice: what a machine prints from, and is purged of, goes on from run to run.
fn forgotten(state: &State, run: &str, machine: &str, at: DateTime<Utc>) -> String {
    let attempts = state.attempts.iter();
    let later = attempts.filter_map(|(&key, attempt)| {
        let planned = state.planned(key);
        let last = attempt.ended.as_ref().map_or(attempt.started, |end| end.at);
        (planned.machine == machine && last > at).then_some((attempt.started, planned.id.as_str()))
    });
    let later: BTreeSet<(DateTime<Utc>, &str)> = later.collect();
    let later: Vec<&str> = later.into_iter().map(|(_, id)| id).collect();
    format!(
        "if {run} was forgotten, undo what is noted of {}, the last first (`log SCENARIO show` has the numbers), note {run}, and note that again",
        later.join(" and ")
    )
}

/// What would be started next on a machine, as advice.
pub(super) fn next_on(state: &State, machine: &str) -> String {
    let mut open = state.open_runs().into_iter();
    match open.find(|&key| state.planned(key).machine == machine) {
        Some(next) => format!("the next on {machine} is {}", state.planned(next).id),
        None => format!("nothing is left to start on {machine}"),
    }
}

/// The run that is printing, if it can have ended then.
pub(super) fn printing(state: &State, run: &str, at: DateTime<Utc>) -> Result<RunKey, Refusal> {
    let Some(key) = state.running(run) else {
        let key = known::run(state, run)?;
        return match state.ended(key) {
            Some(ended) => refuse(
                format!("{run} ended {}", state.shop.shown(ended.at)),
                if ended.scrapped {
                    format!("note `started {run}` if it was started again")
                } else {
                    "undo that entry if it is wrong".to_owned()
                },
            ),
            None => refuse(
                format!("{run} has not been started"),
                format!("note `started {run}` first, with `--at` for when it was"),
            ),
        };
    };
    let started = state.attempts.get(&key).map(|attempt| attempt.started);
    match started.filter(|started| at < *started) {
        Some(started) => refuse(
            format!(
                "{run} was started {}, after {}",
                state.shop.shown(started),
                state.shop.shown(at)
            ),
            "give a later moment with `--at`, or set this computer's clock if it is slow",
        ),
        None => Ok(key),
    }
}

pub(super) fn finished(
    state: &State,
    run: &str,
    scrapped: &[PieceId],
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let key = printing(state, run, at)?;
    let on: Vec<PieceId> = state.planned(key).pieces.iter().map(|p| p.id()).collect();
    for (position, piece) in scrapped.iter().enumerate() {
        if !on.contains(piece) {
            let listed = contents(&on);
            return refuse(
                format!("{piece} is not on {run}"),
                format!("on it are {listed}"),
            );
        }
        if scrapped[..position].contains(piece) {
            return refuse(format!("{piece} is named twice"), "name it once");
        }
    }
    Ok(())
}

/// A run that is over within such a share of its planned minutes did not print all that is said of it: minutes that nobody has
/// timed may be wrong by a factor of two, and then some (judgement).
const SOON: f64 = 1.0 / 3.0;

/// Whether a run that came to its end may have printed its good pieces in the time since its start.
pub(super) fn long_enough(
    state: &State,
    run: &str,
    scrapped: &[PieceId],
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let key = printing(state, run, at)?;
    let started = state.attempts.get(&key).map(|attempt| attempt.started);
    let Some(started) = started.filter(|_| !state.restoring) else {
        return Ok(());
    };
    let planned = state.planned(key);
    // Pieces that were given up halfway take no more time.
    let good = planned.pieces.len().saturating_sub(scrapped.len()) as f64;
    let share = good / planned.pieces.len().max(1) as f64;
    let whole = (planned.end - planned.start).num_minutes();
    let took = (at - started).num_minutes();
    if took as f64 >= whole as f64 * share * SOON {
        return Ok(());
    }
    refuse(
        format!(
            "{run} was started {}, {took} min before, and takes {whole} min by the plan",
            state.shop.shown(started)
        ),
        format!(
            "say with `--at` when it ended, or undo its start and note that with `--at`; note `scrapped {run}` if nothing of it \
             is good, or name what is not with `--scrapped`; say `--sure` if it was so"
        ),
    )
}

/// `3× sheave, 2× stay-bar`, for messages.
pub(in crate::shoplog) fn contents(pieces: &[PieceId]) -> String {
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for piece in pieces {
        match counts.iter_mut().find(|(part, _)| *part == piece.part) {
            Some((_, count)) => *count += 1,
            None => counts.push((&piece.part, 1)),
        }
    }
    let told: Vec<String> = counts.iter().map(|(p, n)| format!("{n}× {p}")).collect();
    told.join(", ")
}
