//! A shop some time later: what of a plan has been done by a moment, with runs that fail.

#![allow(dead_code, reason = "each test that takes this in uses some of it")]

use beamyard::plan::{Plan, Run};
use beamyard::progress::{Made, PieceName, Placed, Previous, PreviousRun, Progress, Running};
use beamyard::scenario::{AssemblyIndex, Scenario};
use chrono::{DateTime, Utc};

/// What has been done by `now` if a plan is followed that goes on from `before`; a run for which `good` says no is scrapped when
/// it ends. What is approved is approved when the plan says.
pub fn later(
    scenario: &Scenario,
    plan: &Plan,
    before: &Progress,
    now: DateTime<Utc>,
    mut good: impl FnMut(&str) -> bool,
) -> Progress {
    let mut then = before.clone();
    then.now = now;
    // Pieces are used as the plan says.
    for given in plan.since.iter().flat_map(|since| &since.pieces) {
        let name = (given.part, given.number, given.length, given.of);
        for made in &mut then.made {
            let piece = made.piece;
            if (piece.part, piece.number, piece.length, piece.of) == name {
                made.assembly = given.assembly;
            }
        }
        for placed in then.running.iter_mut().flat_map(|run| &mut run.pieces) {
            let piece = placed.piece;
            if (piece.part, piece.number, piece.length, piece.of) == name {
                placed.assembly = given.assembly;
            }
        }
    }
    let begun = plan.runs.iter().filter(|run| run.start <= now);
    then.running.extend(begun.map(running));
    let (ended, going) = then.running.drain(..).partition(|run| run.end <= now);
    then.running = going;
    let mut ended: Vec<Running> = ended;
    ended.sort_by_key(|run| run.end);
    for run in &ended {
        let machine = &mut then.machines[run.machine.0];
        machine.loaded = run.filament;
        machine.runs += 1;
        if good(&run.id) {
            then.made.extend(run.pieces.iter().map(|placed| Made {
                piece: placed.piece,
                assembly: placed.assembly,
                printed: run.end,
                joined: None,
            }));
        } else {
            machine.failed += 1.0;
        }
    }
    for run in &then.running {
        then.machines[run.machine.0].loaded = run.filament;
    }
    for gluing in &plan.gluings {
        let done = gluing.work.last().map_or(gluing.printed, |work| work.to);
        let lengths =
            |made: &Made| (made.piece.part, made.piece.number) == (gluing.part, gluing.number);
        let there: Vec<&Made> = then.made.iter().filter(|made| lengths(made)).collect();
        let all = there
            .first()
            .is_some_and(|one| one.piece.of as usize == there.len());
        if done <= now && all {
            for made in then.made.iter_mut().filter(|made| lengths(made)) {
                made.joined = made.joined.or(Some(done));
            }
        }
    }
    // An assembly is done when its time has come and all that it takes is really there; what it needs may stand after it.
    for _ in &plan.assemblies {
        for dates in &plan.assemblies {
            let done = dates.work.last().map_or(dates.start, |work| work.to);
            let state = then.assemblies[dates.assembly.0];
            if done <= now && state.complete.is_none() && all_there(scenario, &then, dates.assembly)
            {
                then.assemblies[dates.assembly.0].complete = Some(done);
            }
        }
    }
    for trial in plan.trials.iter().filter(|trial| trial.approved <= now) {
        let asked = scenario.parts[trial.part.0].trial;
        let pieces = then
            .made
            .iter()
            .filter(|made| made.piece.part == trial.part);
        let first = pieces.filter(|made| made.piece.number <= asked);
        let copies: std::collections::BTreeSet<u32> = first.map(|made| made.piece.number).collect();
        if copies.len() as u32 == asked {
            then.trials[trial.part.0].approved = Some(trial.approved);
        }
    }
    then
}

/// Whether every copy that an assembly takes is whole, and all that it needs is complete.
pub fn all_there(scenario: &Scenario, then: &Progress, assembly: AssemblyIndex) -> bool {
    let shape = &scenario.assemblies[assembly.0];
    let needs = shape
        .needs
        .iter()
        .all(|need| then.assemblies[need.0].complete.is_some());
    needs
        && shape.parts.iter().all(|&(part, takes)| {
            let copies = then.made.iter().filter(|made| {
                let piece = made.piece;
                (piece.part, piece.length, made.assembly) == (part, 1, Some(assembly))
                    && (piece.of == 1 || made.joined.is_some())
            });
            copies.count() as u32 >= takes
        })
}

/// A run of a plan as one that has been started.
fn running(run: &Run) -> Running {
    Running {
        id: run.id.clone(),
        machine: run.machine,
        filament: Some(run.filament),
        settings: run.settings,
        start: run.start,
        end: run.end,
        stops: None,
        grams: run.grams,
        pieces: placed(run),
    }
}

/// What lies on a run.
pub fn placed(run: &Run) -> Vec<Placed> {
    let pieces = run.pieces.iter();
    pieces
        .map(|piece| Placed {
            piece: PieceName {
                part: piece.part,
                number: piece.number,
                length: piece.length,
                of: piece.of,
            },
            assembly: piece.assembly,
            at: [piece.x, piece.y],
            turn: piece.turn,
            size: piece.size,
            upright: piece.upright,
            over: piece.over,
        })
        .collect()
}

/// A plan that was accepted: its runs that begin after a moment.
pub fn accepted(plan: &Plan, now: DateTime<Utc>) -> Previous {
    accepted_but(plan, now, &[])
}

/// A plan that was accepted: its runs that begin after a moment, and those that were scrapped.
pub fn accepted_but(plan: &Plan, now: DateTime<Utc>, scrapped: &[&str]) -> Previous {
    let was_scrapped = |run: &Run| scrapped.contains(&run.id.as_str());
    let runs = plan.runs.iter();
    let runs = runs.filter(|run| run.start > now || was_scrapped(run));
    Previous {
        gone: Vec::new(),
        differences: Vec::new(),
        news: false,
        early: false,
        runs: runs
            .map(|run| PreviousRun {
                id: run.id.clone(),
                machine: run.machine,
                filament: run.filament,
                setup: run.setup,
                start: run.start,
                end: run.end,
                pieces: placed(run),
                without: Vec::new(),
                scrapped: was_scrapped(run),
            })
            .collect(),
        finish: Some(plan.finish),
        cost: plan.cost.total().0,
    }
}
