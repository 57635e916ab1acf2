//! How a plan really goes: runs that somebody starts late, and that take longer or less long than was reckoned.

use std::collections::BTreeMap;

use beamyard::plan::Plan;
use beamyard::scenario::{AssemblyIndex, PartIndex, Scenario};
use chrono::{DateTime, TimeDelta, Utc};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// The share of runs that somebody starts late, and by how many minutes at most.
const LATE: f64 = 0.12;
const LATEST: i64 = 600;
/// Real minutes, or grams, for each that is planned: from and to.
pub const REAL: [f64; 2] = [0.88, 1.14];

/// What does not happen in this stretch: later than anything that is planned.
const NEVER: TimeDelta = TimeDelta::days(10_000);

/// The plan with the dates at which things really happen; what is held up is put off, to be planned anew. `busy` is by machine when the
/// run will really have ended that prints already.
pub fn as_it_went(
    shop: &Scenario,
    plan: &Plan,
    busy: &BTreeMap<usize, DateTime<Utc>>,
    rng: &mut Pcg64Mcg,
) -> Plan {
    let drawn: Vec<(TimeDelta, f64)> = plan
        .runs
        .iter()
        .map(|_| {
            let late = if rng.random_range(0.0..1.0) < LATE {
                rng.random_range(10..LATEST)
            } else {
                0
            };
            let share = rng.random_range(REAL[0]..REAL[1]);
            (TimeDelta::minutes(late), share)
        })
        .collect();
    let mut went = plan.clone();
    // A trial that is late holds up what waits for it, and that may be another trial.
    let mut held: Vec<PartIndex> = Vec::new();
    loop {
        date_runs(plan, &mut went, busy, &drawn, |part, number| {
            held.contains(&part) && number > shop.parts[part.0].trial
        });
        let late: Vec<PartIndex> = plan
            .trials
            .iter()
            .filter(|trial| {
                let asked = shop.parts[trial.part.0].trial;
                let end = last_end(&went, |part, number, _| {
                    part == trial.part && number <= asked
                });
                end.is_some_and(|end| end > trial.approved) && !held.contains(&trial.part)
            })
            .map(|trial| trial.part)
            .collect();
        if late.is_empty() {
            break;
        }
        held.extend(late);
    }
    for trial in &mut went.trials {
        if held.contains(&trial.part) {
            trial.approved += NEVER;
        }
    }
    hold_up_bench_work(shop, plan, &mut went);
    went
}

/// Dates each machine's runs one after the other; from the first one that may not begin on, none does.
fn date_runs(
    plan: &Plan,
    went: &mut Plan,
    busy: &BTreeMap<usize, DateTime<Utc>>,
    drawn: &[(TimeDelta, f64)],
    waits: impl Fn(PartIndex, u32) -> bool,
) {
    let mut free: Option<(usize, DateTime<Utc>)> = None;
    for ((run, planned), &(late, share)) in went.runs.iter_mut().zip(&plan.runs).zip(drawn) {
        let before = free.filter(|(machine, _)| *machine == run.machine.0);
        let before = before.map(|(_, end)| end);
        let before = before.or_else(|| busy.get(&run.machine.0).copied());
        let setup = planned.start - planned.setup.unwrap_or(planned.start);
        let minutes = planned.minutes.0 as f64 * share;
        let from = match (planned.setup, before) {
            // What follows by itself on a belt does so when the run before it has ended.
            (None, Some(end)) => end,
            (Some(planned), Some(end)) => planned.max(end) + late,
            (begins, None) => begins.map_or(planned.start, |begins| begins + late),
        };
        let mut pieces = planned.pieces.iter();
        let put_off = if pieces.any(|piece| waits(piece.part, piece.number)) {
            NEVER
        } else {
            TimeDelta::zero()
        };
        run.setup = planned.setup.map(|_| from + put_off);
        run.start = from + setup + put_off;
        run.end = run.start + TimeDelta::minutes((minutes.round() as i64).max(1));
        free = Some((run.machine.0, run.end));
    }
}

/// When the last run ends that holds such a piece (part, number, assembly).
fn last_end(
    plan: &Plan,
    such: impl Fn(PartIndex, u32, Option<AssemblyIndex>) -> bool,
) -> Option<DateTime<Utc>> {
    let runs = plan.runs.iter().filter(|run| {
        let mut pieces = run.pieces.iter();
        pieces.any(|piece| such(piece.part, piece.number, piece.assembly))
    });
    runs.map(|run| run.end).max()
}

/// Puts off what cannot be done when it was planned, since what it takes is not there by then.
fn hold_up_bench_work(shop: &Scenario, plan: &Plan, went: &mut Plan) {
    let mut glued: Vec<(Option<AssemblyIndex>, DateTime<Utc>)> = Vec::new();
    for at in 0..went.gluings.len() {
        let planned = &plan.gluings[at];
        let name = (planned.part, planned.number);
        let printed = last_end(went, |part, number, _| (part, number) == name);
        let printed = printed.map_or(planned.printed, |end| end.max(planned.printed));
        let done = planned.work.last().map_or(planned.printed, |work| work.to);
        let gluing = &mut went.gluings[at];
        if planned.work.first().is_some_and(|work| work.from < printed) {
            for work in &mut gluing.work {
                work.from += NEVER;
                work.to += NEVER;
            }
        }
        gluing.printed = printed;
        let really = gluing.work.last().map_or(printed, |work| work.to);
        gluing.ready = really + (planned.ready - done);
        glued.push((gluing.assembly, gluing.ready));
    }
    // Each pass settles at least one more of those that need each other.
    for _ in 0..went.assemblies.len() {
        for at in 0..went.assemblies.len() {
            let planned = &plan.assemblies[at];
            let index = planned.assembly;
            let needs = &shop.assemblies[index.0].needs;
            let printed = last_end(went, |_, _, assembly| assembly == Some(index));
            let glued = glued
                .iter()
                .filter(|(assembly, _)| *assembly == Some(index));
            let needed = went
                .assemblies
                .iter()
                .filter(|other| needs.contains(&other.assembly))
                .map(|other| other.complete);
            let ready = printed
                .into_iter()
                .chain(glued.map(|(_, ready)| *ready))
                .chain(needed)
                .max();
            let begins = planned.work.first().map_or(planned.start, |work| work.from);
            let Some(ready) = ready.filter(|&ready| ready > begins) else {
                continue;
            };
            let dates = &mut went.assemblies[at];
            // What takes no hands is there when all that it takes is.
            let by = if planned.work.is_empty() {
                ready - begins
            } else {
                NEVER
            };
            dates.start = planned.start + by;
            dates.complete = planned.complete + by;
            dates.work.clone_from(&planned.work);
            for work in &mut dates.work {
                work.from += by;
                work.to += by;
            }
        }
    }
}
