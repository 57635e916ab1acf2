//! What a new plan does otherwise than the accepted one, and why.
//!
//! Knows: the accepted plan, the new one, what has been done. Must not know: the search.
//! Promises: a run that is neither listed here nor started stands on its machine, within half a day of when it stood.

use chrono::TimeDelta;

use crate::plan::{Change, Run};
use crate::progress::{Previous, PreviousRun, Progress};
use crate::scenario::{MachineIndex, Scenario};
use crate::search::calm::{Content, NEAR, content};
use crate::units::{Minutes, Money};

/// Runs that moved, went, or came.
pub fn changes(
    scenario: &Scenario,
    progress: &Progress,
    previous: &Previous,
    runs: &[Run],
) -> Vec<Change> {
    let mut left: Vec<(&PreviousRun, Content)> = previous
        .runs
        .iter()
        .map(|run| (run, of_previous(run)))
        .collect();
    // What prints is no change. What was started and has ended is not among them.
    left.retain(|(run, _)| !progress.running.iter().any(|r| r.id == run.id));
    let mut open: Vec<(&Run, Content)> = runs.iter().map(|run| (run, of_run(run))).collect();
    open.retain(|(run, what)| {
        let near = left.iter().position(|(before, then)| {
            let moved = (run.start - before.start).abs();
            then == what
                && before.machine == run.machine
                && moved <= TimeDelta::minutes(i64::from(NEAR))
        });
        near.map(|at| left.remove(at)).is_none()
    });
    let mut changes = Vec::new();
    for (run, what) in open {
        let then = left.iter().position(|(_, then)| *then == what);
        let then = then.map(|at| left.remove(at).0);
        changes.push(Change {
            run: run.id.clone(),
            was: then.map(|before| before.id.clone()),
            from: then.map(|before| (before.machine, before.start)),
            to: Some((run.machine, run.start)),
            why: why(scenario, progress, then, Some(run)),
            money: own(scenario, run.machine, run.minutes)
                - then.map_or(Money::ZERO, |b| own(scenario, b.machine, minutes(b))),
        });
    }
    for (before, _) in left {
        changes.push(Change {
            run: before.id.clone(),
            was: Some(before.id.clone()),
            from: Some((before.machine, before.start)),
            to: None,
            why: why(scenario, progress, Some(before), None),
            money: Money::ZERO - own(scenario, before.machine, minutes(before)),
        });
    }
    changes
}

fn of_run(run: &Run) -> Content {
    content(
        run.pieces
            .iter()
            .map(|piece| (piece.part.0 as u32, piece.of, 1)),
    )
}

fn of_previous(run: &PreviousRun) -> Content {
    let pieces = run.pieces.iter().map(|placed| placed.piece);
    content(pieces.map(|piece| (piece.part.0 as u32, piece.of, 1)))
}

fn minutes(run: &PreviousRun) -> Minutes {
    Minutes((run.end - run.start).num_minutes())
}

/// What a run takes of its machine and of energy.
fn own(scenario: &Scenario, machine: MachineIndex, minutes: Minutes) -> Money {
    let machine = &scenario.machines[machine.0];
    machine.hourly * minutes.hours()
        + scenario.bench.energy_kwh * machine.watts.kilowatt_hours(minutes)
}

fn why(
    scenario: &Scenario,
    progress: &Progress,
    before: Option<&PreviousRun>,
    now: Option<&Run>,
) -> String {
    let down = |machine: MachineIndex| {
        let state = progress.machines.get(machine.0)?;
        state.down_until.filter(|&until| until > progress.now)
    };
    let later = |run: &&Run| before.is_none_or(|before| before.start < run.start);
    if let Some(run) = now.filter(later)
        && let Some(comes) = run.waits
    {
        let filament = &scenario.filaments[run.filament.0].id;
        let comes = comes.with_timezone(&scenario.build.zone);
        let comes = comes.format("%a %-d %b %H:%M");
        return format!("it waits for {filament}, which comes {comes}");
    }
    match (before, now) {
        (Some(before), _) if down(before.machine).is_some_and(|until| until > before.start) => {
            format!(
                "{} is out of order then",
                scenario.machines[before.machine.0].id
            )
        }
        (Some(before), Some(_)) if before.start <= progress.now => {
            "it did not start when it should".into()
        }
        (Some(before), Some(run)) if before.machine != run.machine => {
            format!(
                "the whole costs less with it on {}",
                scenario.machines[run.machine.0].id
            )
        }
        (Some(before), Some(run)) if run.start > before.start => {
            "what goes before it takes its place".into()
        }
        (Some(_), Some(_)) => "the whole costs less with it earlier".into(),
        (None, _) => "its pieces were lost, are new, or share another plate".into(),
        (Some(_), None) => "its pieces exist, are no longer wanted, or share another plate".into(),
    }
}
