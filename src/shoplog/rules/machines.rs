//! What can have happened to machines: down, and up again.
//!
//! Knows: the state. Must not know: runs beyond when they were started.
//! Promises: no two outages of a machine at one time, and none of a moment at which a run was started on it.

use chrono::{DateTime, Utc};

use super::{Refusal, foreseen, refuse};
use crate::shoplog::known;
use crate::shoplog::state::State;

pub(super) fn down(
    state: &State,
    machine: &str,
    why: &str,
    until: Option<DateTime<Utc>>,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    known::machine(state, machine)?;
    foreseen(state, until, at)?;
    if let Some(until) = until.filter(|until| *until <= at) {
        return refuse(
            format!(
                "{machine} went down {}, and would be up again by {}",
                state.shop.shown(at),
                state.shop.shown(until)
            ),
            "give a later moment with `--until`",
        );
    }
    let Some(log) = state.machines.get(machine) else {
        return Ok(());
    };
    match log.down.as_ref() {
        Some((since, ..)) if *since > at => refuse(
            format!("{machine} went down only {}", state.shop.shown(*since)),
            "give a later moment with `--at`, or undo that entry",
        ),
        // More is known of the same outage.
        Some((since, why_then, then))
            if (until.is_none() || until == *then) && (why.is_empty() || why == why_then) =>
        {
            refuse(
                format!("{machine} is down since {}", state.shop.shown(*since)),
                format!(
                    "say with `--until` when it should be up again, or note `up {machine}` if it is"
                ),
            )
        }
        Some(_) => Ok(()),
        None if state.restoring => Ok(()),
        None => {
            let mut outages = log.outages.iter();
            match outages.find(|(from, to)| (*from..*to).contains(&at)) {
                Some((from, to)) => refuse(
                    format!(
                        "{machine} was down from {} to {}, as it is noted",
                        state.shop.shown(*from),
                        state.shop.shown(*to)
                    ),
                    "give another moment with `--at`, or undo that it was up",
                ),
                None => Ok(()),
            }
        }
    }
}

pub(super) fn up(state: &State, machine: &str, at: DateTime<Utc>) -> Result<(), Refusal> {
    known::machine(state, machine)?;
    let log = state.machines.get(machine);
    let Some((log, (since, ..))) = log.and_then(|log| Some((log, log.down.as_ref()?))) else {
        return refuse(format!("{machine} is not down"), "nothing is to be noted");
    };
    if *since > at {
        return refuse(
            format!("{machine} went down only at {}", state.shop.shown(*since)),
            "give a later moment with `--at`",
        );
    }
    if state.restoring {
        return Ok(());
    }
    let mut outages = log.outages.iter();
    if let Some((from, to)) = outages.find(|(from, to)| since < to && *from < at) {
        return refuse(
            format!(
                "{machine} went down {}, and was down from {} to {} as well",
                state.shop.shown(*since),
                state.shop.shown(*from),
                state.shop.shown(*to)
            ),
            format!(
                "give a moment with `--at` that is no later than {}, or undo the entry that is wrong",
                state.shop.shown(*from)
            ),
        );
    }
    // What was started before the outage was noted shows that it worked by then.
    let attempts = state.attempts.iter();
    let started = attempts.filter_map(|(&key, attempt)| {
        let planned = state.planned(key);
        let inside = *since < attempt.started && attempt.started < at;
        (planned.machine == machine && inside).then_some((attempt.started, &planned.id))
    });
    match started.min() {
        Some((when, run)) => refuse(
            format!(
                "{run} was started on {machine} {}, so it was up by then",
                state.shop.shown(when)
            ),
            "give a moment with `--at` that is no later than that, or undo the entry that is wrong",
        ),
        None => Ok(()),
    }
}
