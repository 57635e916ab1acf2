//! The sheets for the bench: its hours, each day's work, what is taken off when.
//!
//! Knows: runs, bench work, orders, presence. Must not know: how the sheets were made.
//! Promises: every task that the plan makes necessary is looked for, and every task on a sheet must be one of them.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::Faults;
use super::evidence::Evidence;
use super::presence::{Minute, Presence, Span, minute, opening};
use super::rule::Rule;
use crate::plan::{Job, Task, Work};

pub(super) fn check(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    check_hours(evidence, presence, faults);
    check_days(evidence, faults);
    check_taken_off(evidence, presence, faults);
}

/// [`Rule::HoursShown`].
fn check_hours(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let start = minute(evidence.scenario.build.start);
    let until = evidence.last_moment().max(minute(evidence.plan.finish));
    let shown: Vec<Span> = evidence
        .plan
        .sheets
        .hours
        .iter()
        .map(super::evidence::span)
        .collect();
    // Walk over the hours that there are: from each end on to the next minute at which somebody is there.
    let mut real = Vec::new();
    let mut from = start;
    while let Some(next) = presence.next(from) {
        let to = presence.holding(next, next).map_or(next, |span| span.to);
        // Hours without an end are shown for a day more than is needed.
        let shown = to.min(next.max(until) + 24 * 60);
        real.push(Span {
            from: next,
            to: shown,
        });
        if to > until || to <= from {
            break;
        }
        from = to;
    }
    faults.require(shown == real, Rule::HoursShown, || {
        format!(
            "{} spans of bench hours are shown, there are {} until {}",
            shown.len(),
            real.len(),
            evidence.shown_minute(until)
        )
    });
}

/// A task as it must be: its job without what it clears, and when it begins and ends.
type Due = (String, Minute, Minute);

/// [`Rule::DaySheets`].
fn check_days(evidence: &Evidence, faults: &mut Faults) {
    let zone = evidence.scenario.build.zone;
    let mut wanted: BTreeMap<Due, i64> = BTreeMap::new();
    for due in due(evidence) {
        *wanted.entry(due).or_default() += 1;
    }
    let mut last_day = None;
    for day in &evidence.plan.sheets.days {
        let mut last = None;
        for task in &day.tasks {
            let on = task.from.with_timezone(&zone).date_naive();
            let in_order = last <= Some(task.from) && last_day < Some(day.date);
            faults.require(on == day.date && in_order, Rule::DaySheets, || {
                format!(
                    "{} at {} on the sheet of {}",
                    name(&task.what),
                    evidence.shown(task.from),
                    day.date
                )
            });
            last = Some(task.from);
            if !matches!(task.what, Job::TakeOff(_)) {
                let due = (name(&task.what), minute(task.from), minute(task.to));
                *wanted.entry(due).or_default() -= 1;
            }
        }
        last_day = Some(day.date);
    }
    for ((name, from, _), count) in wanted {
        faults.require(count == 0, Rule::DaySheets, || {
            let is = if count > 0 {
                "is missing from the sheets"
            } else {
                "is on them too often"
            };
            format!("{name} at {} {is}", evidence.shown_minute(from))
        });
    }
}

/// Everything that has to stand on some day's sheet, save what is taken off.
fn due(evidence: &Evidence) -> Vec<Due> {
    let plan = evidence.plan;
    let moment =
        |job: &Job, from: DateTime<Utc>, to: DateTime<Utc>| (name(job), minute(from), minute(to));
    let mut due = Vec::new();
    for (at, run) in plan.runs.iter().enumerate() {
        due.push(match run.setup {
            Some(setup) => moment(
                &Job::SetUp {
                    run: at,
                    clears: Vec::new(),
                },
                setup,
                run.start,
            ),
            None => moment(&Job::Follows(at), run.start, run.start),
        });
        for (which, end) in run.spool.ends.iter().enumerate() {
            due.push(moment(&Job::SpoolEnd(at, which), end.at, end.at));
        }
    }
    for (at, trial) in plan.trials.iter().enumerate() {
        due.push(moment(&Job::Approve(at), trial.approved, trial.approved));
    }
    let mut work = |job: Job, work: &[Work]| {
        due.extend(
            work.iter()
                .map(|stretch| moment(&job, stretch.from, stretch.to)),
        );
    };
    for (at, gluing) in plan.gluings.iter().enumerate() {
        work(Job::Glue(at), &gluing.work);
    }
    for (at, dates) in plan.assemblies.iter().enumerate() {
        work(Job::Assemble(at), &dates.work);
    }
    for (at, spare) in plan.spare_work.iter().enumerate() {
        work(Job::FinishSpares(at), &spare.work);
    }
    for (at, dates) in plan.assemblies.iter().enumerate() {
        due.push(moment(&Job::Complete(at), dates.complete, dates.complete));
    }
    for (at, order) in plan.orders.iter().enumerate() {
        let midnight = order
            .order_by
            .and_then(|day| opening(evidence.scenario.build.zone, day, 0));
        due.extend(midnight.map(|midnight| (name(&Job::Order(at)), midnight, midnight)));
    }
    due
}

/// A job in a word, without the runs that it takes off.
fn name(job: &Job) -> String {
    match job {
        Job::Order(at) => format!("order {at}"),
        Job::SpoolEnd(run, which) => format!("end {which} of the spool of run {run}"),
        Job::TakeOff(_) => String::from("taking off"),
        Job::Approve(at) => format!("approval {at}"),
        Job::SetUp { run, .. } => format!("the setup of run {run}"),
        Job::Follows(run) => format!("the start of run {run}"),
        Job::Glue(at) => format!("gluing {at}"),
        Job::Assemble(at) => format!("assembling {at}"),
        Job::FinishSpares(at) => format!("finishing spares {at}"),
        Job::Complete(at) => format!("completion {at}"),
    }
}

/// [`Rule::TakenOff`].
fn check_taken_off(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let plan = evidence.plan;
    let mut taken: BTreeMap<usize, Vec<&Task>> = BTreeMap::new();
    for task in plan.sheets.days.iter().flat_map(|day| &day.tasks) {
        let (Job::SetUp { clears: runs, .. } | Job::TakeOff(runs)) = &task.what else {
            continue;
        };
        for &run in runs {
            taken.entry(run).or_default().push(task);
        }
    }
    let unknown = taken.keys().find(|&&run| run >= plan.runs.len());
    faults.require(unknown.is_none(), Rule::TakenOff, || {
        String::from("a run is taken off that there is not")
    });
    let needed = needed(evidence);
    for queue in &evidence.queues {
        for (position, &at) in queue.iter().enumerate() {
            let run = &plan.runs[at];
            let later = queue[position + 1..].iter().map(|&next| &plan.runs[next]);
            let mut setups = later.filter_map(|next| next.setup);
            let by = setups.next();
            let tasks = taken.get(&at).map_or(&[][..], Vec::as_slice);
            let right = match tasks {
                [task] => {
                    let on_machine = match &task.what {
                        Job::SetUp { run: next, .. } => plan
                            .runs
                            .get(*next)
                            .is_some_and(|next| next.machine == run.machine),
                        _ => true,
                    };
                    on_machine
                        && task.from >= run.end
                        && presence.at(minute(task.from))
                        && by.is_none_or(|by| task.from <= by)
                        // Work that begins before its pieces are printed breaks another rule.
                        && needed.get(&at).is_none_or(|&need| need < run.end || task.from <= need)
                }
                _ => false,
            };
            faults.require(right, Rule::TakenOff, || {
                format!(
                    "run {} is taken off {} times, or too early, too late, or with nobody there",
                    run.id,
                    tasks.len()
                )
            });
        }
    }
}

/// For each run, when work first begins that takes a piece of it.
fn needed(evidence: &Evidence) -> BTreeMap<usize, DateTime<Utc>> {
    let plan = evidence.plan;
    let mut needed: BTreeMap<usize, DateTime<Utc>> = BTreeMap::new();
    let mut need = |run: usize, work: &[Work]| {
        if let Some(first) = work.first() {
            let by = needed.entry(run).or_insert(first.from);
            *by = first.from.min(*by);
        }
    };
    for gluing in &plan.gluings {
        let pieces = evidence.copies.get(&(gluing.part, gluing.number));
        for printed in pieces.into_iter().flatten() {
            need(printed.run, &gluing.work);
        }
    }
    for printed in evidence.copies.values().flatten() {
        match printed.piece.assembly {
            Some(assembly) => {
                let dates = plan
                    .assemblies
                    .iter()
                    .find(|dates| dates.assembly == assembly);
                need(printed.run, dates.map_or(&[], |dates| &dates.work));
            }
            None => {
                let spares = plan
                    .spare_work
                    .iter()
                    .find(|spare| spare.part == printed.piece.part);
                need(printed.run, spares.map_or(&[], |spare| &spare.work));
            }
        }
    }
    needed
}
