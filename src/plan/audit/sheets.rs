//! The sheets for the bench: its hours, each day's work, what is taken off when, filament on hand, masses.
//!
//! Knows: runs, bench work, orders, presence. Must not know: how the sheets were made.
//! Promises: every task that the plan makes necessary is looked for, and every task on a sheet must be one of them.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::Faults;
use super::estimate;
use super::evidence::Evidence;
use super::presence::{Minute, Presence, Span, minute, opening};
use super::rule::Rule;
use crate::plan::{Job, Level, Task, Work};
use crate::units::Grams;

/// Grams that rounding may lose, and the share of a large sum.
const GRAMS: f64 = 0.005;
const SHARE: f64 = 1e-9;

pub(super) fn check(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    check_hours(evidence, presence, faults);
    check_days(evidence, faults);
    check_taken_off(evidence, presence, faults);
    check_levels(evidence, faults);
    check_masses(evidence, faults);
}

/// [`Rule::HoursShown`].
fn check_hours(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let start = minute(evidence.scenario.build.start);
    let until = evidence.last_moment().max(minute(evidence.plan.finish));
    let shown: Vec<Span> = evidence.plan.sheets.hours.iter().map(super::evidence::span).collect();
    // Walk over the hours that there are: from each end on to the next minute at which somebody is there.
    let mut real = Vec::new();
    let mut from = start;
    while let Some(next) = presence.next(from) {
        let to = presence.holding(next, next).map_or(next, |span| span.to);
        real.push(Span { from: next, to });
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
                format!("{} at {} on the sheet of {}", name(&task.what), evidence.shown(task.from), day.date)
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
            let is = if count > 0 { "is missing from the sheets" } else { "is on them too often" };
            format!("{name} at {} {is}", evidence.shown_minute(from))
        });
    }
}

/// Everything that has to stand on some day's sheet, save what is taken off.
fn due(evidence: &Evidence) -> Vec<Due> {
    let plan = evidence.plan;
    let moment = |job: &Job, from: DateTime<Utc>, to: DateTime<Utc>| (name(job), minute(from), minute(to));
    let mut due = Vec::new();
    for (at, run) in plan.runs.iter().enumerate() {
        due.push(match run.setup {
            Some(setup) => moment(&Job::SetUp { run: at, clears: Vec::new() }, setup, run.start),
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
        due.extend(work.iter().map(|stretch| moment(&job, stretch.from, stretch.to)));
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
                format!("run {} is taken off {} times, or too early, too late, or with nobody there", run.id, tasks.len())
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
                let dates = plan.assemblies.iter().find(|dates| dates.assembly == assembly);
                need(printed.run, dates.map_or(&[], |dates| &dates.work));
            }
            None => {
                let spares = plan.spare_work.iter().find(|spare| spare.part == printed.piece.part);
                need(printed.run, spares.map_or(&[], |spare| &spare.work));
            }
        }
    }
    needed
}

/// [`Rule::Levels`]: at every point that is shown, and at the end of every run.
fn check_levels(evidence: &Evidence, faults: &mut Faults) {
    let scenario = evidence.scenario;
    let levels = &evidence.plan.sheets.levels;
    let listed = levels.iter().map(|level| level.filament.0);
    faults.require(listed.eq(0..scenario.filaments.len()), Rule::Levels, || {
        String::from("the levels are not one for each filament, in the scenario's order")
    });
    for level in levels.iter().filter(|level| level.filament.0 < scenario.filaments.len()) {
        let name = &scenario.filaments[level.filament.0].id;
        let in_order = level.points.windows(2).all(|pair| pair[0].0 <= pair[1].0);
        faults.require(in_order && !level.points.is_empty(), Rule::Levels, || {
            format!("the points of {name} are none, or not in the order of time")
        });
        let last = last_points(level);
        let flow = Flow::of(evidence, level);
        // Once the last point is reached nothing more may be taken, so the last run's end is looked at too.
        let ends = flow.uses.iter().map(|one| one.end).max();
        let beyond = ends.into_iter().filter(|end| last.keys().next_back() < Some(end));
        let shown = last.iter().map(|(&at, &grams)| (at, grams));
        let beyond = beyond.map(|end| (end, last.values().next_back().copied().unwrap_or(Grams::ZERO)));
        for (at, grams) in shown.chain(beyond) {
            // What an order that comes too late lets fall below nothing is for its own rule to say.
            let is = flow.at(at).max(0.0);
            let right = (grams.value() - is).abs() <= GRAMS + SHARE * flow.scale;
            faults.require(right, Rule::Levels, || {
                format!("{name}: {} g are said to be on hand at {}; it is {is} g", grams.value(), evidence.shown_minute(at))
            });
        }
    }
}

/// The last point of each minute.
fn last_points(level: &Level) -> BTreeMap<Minute, Grams> {
    level.points.iter().map(|&(at, grams)| (minute(at), grams)).collect()
}

/// What one run takes of a filament.
struct Taken {
    start: Minute,
    end: Minute,
    grams: f64,
    purge: f64,
}

/// What there is of a filament and what is taken.
struct Flow {
    on_hand: f64,
    comes: Option<(Minute, f64)>,
    uses: Vec<Taken>,
    scale: f64,
}

impl Flow {
    fn of(evidence: &Evidence, level: &Level) -> Self {
        let scenario = evidence.scenario;
        let filament = &scenario.filaments[level.filament.0];
        let runs = evidence.plan.runs.iter().enumerate();
        let uses: Vec<Taken> = runs
            .filter(|(_, run)| run.filament == level.filament)
            .map(|(at, run)| Taken {
                start: minute(run.start),
                end: minute(run.end),
                grams: evidence.estimates[at].grams.value(),
                purge: match evidence.changes[at] {
                    Some(_) => scenario.machines[run.machine.0].purge.value(),
                    None => 0.0,
                },
            })
            .collect();
        let orders = evidence.plan.orders.iter();
        let mut order = orders.filter(|order| order.filament == level.filament);
        let comes = order.next().and_then(|order| {
            let sent = opening(scenario.build.zone, order.order_by?.succ_opt()?, 0)?;
            let there = sent.saturating_add(filament.lead.value());
            Some((there, filament.spool.value() * f64::from(order.spools)))
        });
        let on_hand: f64 = filament.spools.iter().map(|spool| spool.value()).sum();
        let scale = on_hand + uses.iter().map(|one| one.grams + one.purge).sum::<f64>();
        Self { on_hand, comes, uses, scale }
    }

    /// Grams at the end of everything that happens at a minute.
    fn at(&self, now: Minute) -> f64 {
        let come = self.comes.filter(|(at, _)| *at <= now).map_or(0.0, |(_, grams)| grams);
        let used = self.uses.iter().filter(|one| one.start <= now).map(|one| {
            let whole = (one.end - one.start).max(1) as f64;
            one.purge + one.grams * (((now - one.start) as f64) / whole).min(1.0)
        });
        self.on_hand + come - used.sum::<f64>()
    }
}

/// [`Rule::Masses`].
fn check_masses(evidence: &Evidence, faults: &mut Faults) {
    let scenario = evidence.scenario;
    // The heaviest copy of each part, as some are made in one way and some in another.
    let mut copies = vec![0.0_f64; scenario.parts.len()];
    for ((part, _), printed) in &evidence.copies {
        let pieces = printed.iter().map(|one| estimate::of_piece(scenario, one.piece).value());
        let joints = printed.len().saturating_sub(1) as f64;
        let joint = scenario.parts[part.0].split.as_ref().map_or(0.0, |split| {
            let joint = &scenario.joints[split.joint.0];
            let cut = joint.hardware.as_ref();
            joint.grams.value() + cut.map_or(0.0, |cut| cut.grams_per_mm * cut.length.value())
        });
        copies[part.0] = copies[part.0].max(pieces.sum::<f64>() + joints * joint);
    }
    let own: Vec<f64> = scenario
        .assemblies
        .iter()
        .map(|assembly| {
            let parts = assembly.parts.iter();
            parts.map(|(part, count)| copies[part.0] * f64::from(*count)).sum()
        })
        .collect();
    let masses = &evidence.plan.sheets.masses;
    faults.require(masses.len() == own.len(), Rule::Masses, || {
        format!("{} masses are stated for {} assemblies", masses.len(), own.len())
    });
    for (at, (mass, own_mass)) in masses.iter().zip(&own).enumerate() {
        let mut all = BTreeSet::from([at]);
        loop {
            let needs = all.iter().flat_map(|&one| &scenario.assemblies[one].needs);
            let more: Vec<usize> = needs.map(|need| need.0).filter(|need| !all.contains(need)).collect();
            if more.is_empty() {
                break;
            }
            all.extend(more);
        }
        let whole: f64 = all.iter().map(|&one| own[one]).sum();
        let near = |stated: Grams, is: f64| (stated.value() - is).abs() <= GRAMS + SHARE * is;
        faults.require(near(mass.own, *own_mass) && near(mass.whole, whole), Rule::Masses, || {
            format!(
                "{}: {} g and {} g with all that it needs are stated; it is {own_mass} g and {whole} g",
                scenario.assemblies[at].id,
                mass.own.value(),
                mass.whole.value()
            )
        });
    }
}
