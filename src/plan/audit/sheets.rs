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
use crate::plan::{Job, Off, Piece, Task, Work};
use crate::scenario::MachineIndex;

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

/// Something that comes off a machine, and what that depends on.
struct Loaded<'a> {
    off: Off,
    id: &'a str,
    machine: MachineIndex,
    end: DateTime<Utc>,
    /// The next setup on its machine.
    by: Option<DateTime<Utc>>,
}

/// All that comes off: runs that were printing before all of the plan, and each of the plan.
fn on_machines<'a>(evidence: &Evidence<'a>) -> Vec<Loaded<'a>> {
    let plan = evidence.plan;
    let next = |machine: usize, from: usize| {
        let queue = evidence.queues.get(machine);
        let later = queue
            .and_then(|queue| queue.get(from..))
            .unwrap_or_default();
        let mut setups = later.iter().filter_map(|&at| plan.runs[at].setup);
        setups.next()
    };
    let standing = plan.standing().iter().enumerate();
    let standing = standing.map(|(at, run)| Loaded {
        off: Off::Standing(at),
        id: &run.id,
        machine: run.machine,
        end: run.end,
        by: next(run.machine.0, 0),
    });
    let queues = evidence.queues.iter().flat_map(|queue| {
        queue.iter().enumerate().map(|(position, &at)| {
            let run = &plan.runs[at];
            Loaded {
                off: Off::Run(at),
                id: &run.id,
                machine: run.machine,
                end: run.end,
                by: next(run.machine.0, position + 1),
            }
        })
    });
    standing.chain(queues).collect()
}

/// [`Rule::TakenOff`].
fn check_taken_off(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let plan = evidence.plan;
    let mut taken: BTreeMap<Off, Vec<&Task>> = BTreeMap::new();
    for task in plan.sheets.days.iter().flat_map(|day| &day.tasks) {
        let (Job::SetUp { clears: runs, .. } | Job::TakeOff(runs)) = &task.what else {
            continue;
        };
        for &run in runs {
            taken.entry(run).or_default().push(task);
        }
    }
    let unknown = taken.keys().find(|off| match off {
        Off::Standing(at) => *at >= plan.standing().len(),
        Off::Run(at) => *at >= plan.runs.len(),
    });
    faults.require(unknown.is_none(), Rule::TakenOff, || {
        String::from("a run is taken off that there is not")
    });
    let needed = needed(evidence);
    for on in on_machines(evidence) {
        let tasks = taken.get(&on.off).map_or(&[][..], Vec::as_slice);
        let right = match tasks {
            [task] => {
                let on_machine = match &task.what {
                    Job::SetUp { run: next, .. } => plan
                        .runs
                        .get(*next)
                        .is_some_and(|next| next.machine == on.machine),
                    _ => true,
                };
                on_machine
                    && task.from >= on.end
                    && presence.at(minute(task.from))
                    && on.by.is_none_or(|by| task.from <= by)
                    // Work that begins before its pieces are printed breaks another rule.
                    && needed.get(&on.off).is_none_or(|&need| need < on.end || task.from <= need)
            }
            _ => false,
        };
        faults.require(right, Rule::TakenOff, || {
            format!(
                "run {} is taken off {} times, or too early, too late, or with nobody there",
                on.id,
                tasks.len()
            )
        });
    }
}

/// For each run, when work first begins that takes a piece of it.
fn needed(evidence: &Evidence) -> BTreeMap<Off, DateTime<Utc>> {
    let plan = evidence.plan;
    let copies = evidence.copies.values().flatten();
    let mut pieces: Vec<(Off, &Piece)> = copies
        .map(|printed| (Off::Run(printed.run), printed.piece))
        .collect();
    for (at, run) in plan.standing().iter().enumerate() {
        pieces.extend(run.pieces.iter().map(|piece| (Off::Standing(at), piece)));
    }
    let mut glued: BTreeMap<_, &[Work]> = BTreeMap::new();
    for gluing in &plan.gluings {
        glued.insert((gluing.part, gluing.number), &gluing.work);
    }
    let mut needed: BTreeMap<Off, DateTime<Utc>> = BTreeMap::new();
    let mut need = |off: Off, work: &[Work]| {
        if let Some(first) = work.first() {
            let by = needed.entry(off).or_insert(first.from);
            *by = first.from.min(*by);
        }
    };
    for (off, piece) in pieces {
        if let Some(work) = glued.get(&(piece.part, piece.number)) {
            need(off, work);
        }
        match piece.assembly {
            Some(assembly) => {
                let mut all = plan.assemblies.iter();
                let dates = all.find(|dates| dates.assembly == assembly);
                need(off, dates.map_or(&[], |dates| &dates.work));
            }
            None => {
                let mut all = plan.spare_work.iter();
                let spare = all.find(|spare| spare.part == piece.part);
                need(off, spare.map_or(&[], |spare| &spare.work));
            }
        }
    }
    needed
}
