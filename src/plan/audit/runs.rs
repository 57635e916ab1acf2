//! Runs in time: order, lengths, setups, colour changes, outages, attendance, files, trials.
//!
//! Knows: what each run takes, bench hours, machines. Must not know: where pieces lie, assemblies, money.
//! Promises: one pass over each machine's queue.

use std::collections::BTreeSet;
use std::ops::Bound;

use super::Faults;
use super::evidence::{Evidence, begins};
use super::presence::{Minute, Presence, minute};
use super::rule::Rule;
use crate::plan::Run;
use crate::scenario::{Machine, PartIndex};

/// Grams that rounding may lose.
const GRAMS: f64 = 0.005;

pub(super) fn check(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    check_listing(evidence, faults);
    let machines = evidence.scenario.machines.iter().zip(&evidence.queues);
    for (at, (machine, queue)) in machines.enumerate() {
        // A run that is printing holds its machine; on a belt the next may follow it.
        let mut free = evidence.given.busy.get(&at).copied();
        let mut stands = evidence.given.stopping.contains(&at);
        for &at in queue {
            let run = &evidence.plan.runs[at];
            check_amounts(evidence, at, faults);
            check_setup(evidence, at, free.filter(|_| !stands), faults);
            check_time(evidence, presence, machine, run, free, faults);
            free = free.max(Some(minute(run.end)));
            stands = false;
        }
    }
    check_trials(evidence, presence, faults);
}

/// [`Rule::RunOrder`].
fn check_listing(evidence: &Evidence, faults: &mut Faults) {
    let runs = &evidence.plan.runs;
    for pair in runs.windows(2) {
        let [before, after] = [&pair[0], &pair[1]];
        faults.require(
            (before.machine, begins(before)) <= (after.machine, begins(after)),
            Rule::RunOrder,
            || format!("run {} is listed before {}", before.id, after.id),
        );
    }
}

/// [`Rule::RunHasPieces`], [`Rule::RunMinutes`], [`Rule::RunLength`], [`Rule::RunGrams`].
fn check_amounts(evidence: &Evidence, at: usize, faults: &mut Faults) {
    let (run, takes) = (&evidence.plan.runs[at], evidence.estimates[at]);
    faults.require(!run.pieces.is_empty(), Rule::RunHasPieces, || {
        format!("run {} is empty", run.id)
    });
    let lasts = minute(run.end) - minute(run.start);
    faults.require(run.minutes.value() == lasts, Rule::RunMinutes, || {
        format!(
            "run {} states {} min and lasts {lasts} min",
            run.id,
            run.minutes.value()
        )
    });
    faults.require(lasts == takes.minutes.value(), Rule::RunLength, || {
        format!(
            "run {} lasts {lasts} min; its pieces take {} min",
            run.id,
            takes.minutes.value()
        )
    });
    let off = (run.grams - takes.grams).value().abs();
    faults.require(
        off <= GRAMS + 1e-9 * takes.grams.value(),
        Rule::RunGrams,
        || {
            format!(
                "run {} states {} g; its pieces weigh {} g",
                run.id,
                run.grams.value(),
                takes.grams.value()
            )
        },
    );
}

/// [`Rule::SetupNeeded`], [`Rule::SetupLength`], [`Rule::SwapFrom`]; `free` is `None` before the machine's first run,
/// and after one that stood for want of filament.
fn check_setup(evidence: &Evidence, at: usize, free: Option<Minute>, faults: &mut Faults) {
    let (run, change) = (&evidence.plan.runs[at], evidence.changes[at]);
    let machine = &evidence.scenario.machines[run.machine.0];
    match run.setup {
        None => {
            // A belt that stands does not start itself, however long or short it stands.
            let at_once = free == Some(minute(run.start));
            let follows = machine.is_belt() && at_once && change.is_none();
            faults.require(follows, Rule::SetupNeeded, || {
                format!("run {} has no setup and needs one", run.id)
            });
        }
        Some(setup) => {
            let mut takes = machine.turnaround.value();
            if change.is_some() {
                takes += machine.swap.value();
            }
            let lasts = minute(run.start) - minute(setup);
            faults.require(lasts == takes, Rule::SetupLength, || {
                format!(
                    "run {} starts {lasts} min after its setup begins; the setup takes {takes} min",
                    run.id
                )
            });
        }
    }
    faults.require(run.swap_from == change, Rule::SwapFrom, || {
        let named = |swap: Option<Option<_>>| match swap {
            None => "no change",
            Some(None) => "a first filament",
            Some(Some(filament)) => evidence.filament_name(filament),
        };
        format!(
            "run {} says that {} comes off; it is {}",
            run.id,
            named(run.swap_from),
            named(change)
        )
    });
}

/// [`Rule::OneRunAtATime`], [`Rule::SetupInWindow`], [`Rule::Offline`], [`Rule::AloneSaid`], [`Rule::Attended`], [`Rule::Ready`].
pub(super) fn check_time(
    evidence: &Evidence,
    presence: &Presence,
    machine: &Machine,
    run: &Run,
    free: Option<Minute>,
    faults: &mut Faults,
) {
    let (from, start, to) = (minute(begins(run)), minute(run.start), minute(run.end));
    if let Some(free) = free {
        faults.require(from >= free, Rule::OneRunAtATime, || {
            format!(
                "run {} needs {} from {}, which is free at {}",
                run.id,
                machine.id,
                evidence.shown_minute(from),
                evidence.shown_minute(free)
            )
        });
    }
    if run.setup.is_some() {
        let attended = presence.holding(from, start).is_some();
        faults.require(attended, Rule::SetupInWindow, || {
            format!(
                "the setup of run {} from {} to {} is in no bench window",
                run.id,
                evidence.shown_minute(from),
                evidence.shown_minute(start)
            )
        });
    }
    for outage in &machine.offline {
        let clear = to <= minute(outage.from) || minute(outage.to) <= from;
        faults.require(clear, Rule::Offline, || {
            format!(
                "run {} overlaps the outage of {} from {} to {}",
                run.id,
                machine.id,
                evidence.shown(outage.from),
                evidence.shown(outage.to)
            )
        });
    }
    let alone = presence.holding(start, to).is_none();
    faults.require(run.alone == alone, Rule::AloneSaid, || {
        format!("run {} prints with nobody there: {alone}", run.id)
    });
    if !machine.unattended {
        let attended = presence.holding(from, to).is_some();
        faults.require(attended, Rule::Attended, || {
            format!(
                "run {} from {} to {} is not in one bench window, and {} may not run unattended",
                run.id,
                evidence.shown_minute(from),
                evidence.shown_minute(to),
                machine.id
            )
        });
    }
    for piece in &run.pieces {
        if let Some(ready) = evidence.scenario.parts[piece.part.0].ready {
            faults.require(run.start >= ready, Rule::Ready, || {
                format!(
                    "run {} starts {} at {}, whose file is ready at {}",
                    run.id,
                    evidence.piece_name(piece),
                    evidence.shown(run.start),
                    evidence.shown(ready)
                )
            });
        }
    }
}

/// [`Rule::Trial`], [`Rule::TrialListed`].
fn check_trials(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let mut listed = evidence.plan.trials.iter();
    for (at, part) in evidence.scenario.parts.iter().enumerate() {
        let trial = evidence.given.trial[at];
        if part.trial == 0 || trial == 0 {
            continue;
        }
        let part = PartIndex(at);
        let copies = (part, 1)..=(part, trial);
        let given = evidence.given.pieces.range(copies.clone());
        let given = given.flat_map(|(_, pieces)| pieces.iter().map(|piece| minute(piece.printed)));
        let Some(printed) = evidence
            .copies
            .range(copies)
            .flat_map(|(_, pieces)| pieces.iter().map(|piece| minute(piece.end)))
            .chain(given)
            .max()
        else {
            continue; // Copies that are missing altogether are another rule's fault.
        };
        let now = minute(evidence.scenario.build.start);
        let approved = presence.next(printed.max(now));
        let said = approved.is_none_or(|approved| {
            listed.next().is_some_and(|said| {
                (said.part, minute(said.printed), minute(said.approved))
                    == (part, printed, approved)
            })
        });
        faults.require(said, Rule::TrialListed, || {
            format!("the trial of {} is not listed so", evidence.part_name(part))
        });
        let beyond = (
            Bound::Excluded((part, trial)),
            Bound::Included((part, u32::MAX)),
        );
        let rest: BTreeSet<usize> = evidence
            .copies
            .range(beyond)
            .flat_map(|(_, pieces)| pieces.iter().map(|piece| piece.run))
            .collect();
        for run in rest.into_iter().map(|at| &evidence.plan.runs[at]) {
            // What follows by itself leaves no time to look at the trial in the minute at which it begins.
            let after = approved.is_some_and(|approved| match run.setup {
                Some(setup) => minute(setup) >= approved,
                None => minute(run.start) > approved,
            });
            faults.require(after, Rule::Trial, || {
                format!(
                    "run {} begins at {}; the trial of {} is printed at {} and must be approved first",
                    run.id,
                    evidence.shown(begins(run)),
                    evidence.part_name(part),
                    evidence.shown_minute(printed)
                )
            });
        }
    }
    faults.require(listed.next().is_none(), Rule::TrialListed, || {
        String::from("a trial is listed that there is not")
    });
}
