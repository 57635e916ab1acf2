//! What a new plan does otherwise than the accepted one, and why.
//!
//! Knows: the accepted plan, the new one, what has been done. Must not know: the search.
//! Promises: a run that is neither listed here nor started stands on its machine, within half a day of when it stood.

use std::collections::BTreeSet;

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
    // A run that kept its name is the same one; what else has such pieces is told by those that did not.
    let kept: BTreeSet<&str> = (left.iter().map(|(before, _)| before.id.as_str()))
        .filter(|id| runs.iter().any(|run| run.id == *id))
        .collect();
    let same = |before: &PreviousRun, then: &Content, run: &Run, what: &Content| {
        before.id == run.id
            || (then == what
                && !kept.contains(before.id.as_str())
                && !kept.contains(run.id.as_str()))
    };
    open.retain(|(run, what)| {
        let near = left.iter().position(|(before, then)| {
            let moved = (run.start - before.start).abs();
            same(before, then, run, what)
                && before.machine == run.machine
                && moved <= TimeDelta::minutes(i64::from(NEAR))
        });
        near.map(|at| left.remove(at)).is_none()
    });
    let mut changes = Vec::new();
    let mut came = Vec::new();
    for (run, what) in open {
        let found = (left.iter()).position(|(before, then)| same(before, then, run, &what));
        let Some(at) = found else {
            came.push((run, what));
            continue;
        };
        let then = left.remove(at).0;
        changes.push(Change {
            run: run.id.clone(),
            was: Some(then.id.clone()),
            from: Some((then.machine, then.start)),
            to: Some((run.machine, run.start)),
            why: why(scenario, progress, then, run),
            money: own(scenario, run.machine, run.minutes)
                - own(scenario, then.machine, minutes(then)),
        });
    }
    for (run, what) in &came {
        changes.push(Change {
            run: run.id.clone(),
            was: None,
            from: None,
            to: Some((run.machine, run.start)),
            why: waits(scenario, run).unwrap_or_else(|| why_it_came(what, &left)),
            money: own(scenario, run.machine, run.minutes),
        });
    }
    for (before, what) in &left {
        changes.push(Change {
            run: before.id.clone(),
            was: Some(before.id.clone()),
            from: Some((before.machine, before.start)),
            to: None,
            why: why_it_went(scenario, progress, before, what, &came),
            money: Money::ZERO - own(scenario, before.machine, minutes(before)),
        });
    }
    changes
}

/// Says of firm runs that no way to keep them was found, as the reason of their change; of one that is near where it was, too.
pub fn yielded(changes: &mut Vec<Change>, previous: &Previous, runs: &[Run], names: &[String]) {
    const WHY: &str = "it was firm, but no way to keep it was found";
    for name in names {
        let known = changes
            .iter_mut()
            .find(|change| change.was.as_ref() == Some(name));
        if let Some(change) = known {
            change.why = WHY.into();
            continue;
        }
        let then = previous.runs.iter().find(|run| run.id == *name);
        let now = runs.iter().find(|run| run.id == *name);
        changes.push(Change {
            run: name.clone(),
            was: Some(name.clone()),
            from: then.map(|run| (run.machine, run.start)),
            to: now.map(|run| (run.machine, run.start)),
            why: WHY.into(),
            money: Money::ZERO,
        });
    }
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

/// Why a run waits for its filament, if it does.
fn waits(scenario: &Scenario, run: &Run) -> Option<String> {
    let comes = run.waits?.with_timezone(&scenario.build.zone);
    let filament = &scenario.filaments[run.filament.0].id;
    let comes = comes.format("%a %-d %b %H:%M");
    Some(format!("it waits for {filament}, which is there {comes}"))
}

/// Whether a machine is out of order when a run was to start.
fn down(progress: &Progress, before: &PreviousRun) -> bool {
    let state = progress.machines.get(before.machine.0);
    let until = state.and_then(|state| state.down_until);
    until.is_some_and(|until| until > progress.now && until > before.start)
}

/// Why a run stands elsewhere than it stood.
fn why(scenario: &Scenario, progress: &Progress, before: &PreviousRun, run: &Run) -> String {
    let id = |machine: MachineIndex| &scenario.machines[machine.0].id;
    if before.start < run.start
        && let Some(waits) = waits(scenario, run)
    {
        return waits;
    }
    if down(progress, before) {
        format!("{} is out of order then", id(before.machine))
    } else if before.start <= progress.now {
        "it did not start when it should".into()
    } else if before.machine != run.machine {
        format!("the whole costs less with it on {}", id(run.machine))
    } else if run.put_off {
        "somebody is there then when its spool ends".into()
    } else if run.start > before.start {
        "what goes before it takes its place".into()
    } else {
        "the whole costs less with it earlier".into()
    }
}

/// Runs of which some pieces are like some of these, by name.
fn sharing<'a, R>(
    what: &Content,
    runs: &'a [(R, Content)],
    id: impl Fn(&'a R) -> &'a str,
) -> Vec<&'a str> {
    let alike = |then: &Content| {
        then.iter()
            .any(|piece| what.iter().any(|one| (one.0, one.1) == (piece.0, piece.1)))
    };
    let sharing = runs.iter().filter(|(_, then)| alike(then));
    sharing.map(|(run, _)| id(run)).collect()
}

/// So many runs are named, and the rest counted.
const MOST_NAMES: usize = 3;

fn names(ids: &[&str]) -> String {
    let (named, more) = ids.split_at(ids.len().min(MOST_NAMES));
    match more.len() {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

/// Why there is a run that the accepted plan did not have; `gone`: runs that it had and there are no more.
fn why_it_came(what: &Content, gone: &[(&PreviousRun, Content)]) -> String {
    let before = sharing(what, gone, |run| run.id.as_str());
    // Pieces of it that no run was to print that is gone.
    let mut fresh = 0;
    for piece in what {
        let like = gone.iter().flat_map(|(_, then)| then);
        let like = like.filter(|one| (one.0, one.1) == (piece.0, piece.1));
        fresh += piece.2.saturating_sub(like.map(|one| one.2).sum());
    }
    let pieces = match fresh {
        1 => "1 piece that was lost or is new".to_owned(),
        fresh => format!("{fresh} pieces that were lost or are new"),
    };
    match (before.is_empty(), fresh) {
        (true, _) => "its pieces were lost or are new".into(),
        (false, 0) => format!("it has pieces of what was {}", names(&before)),
        (false, _) => format!("it has pieces of what was {}, and {pieces}", names(&before)),
    }
}

/// Why there is a run no more; `came`: runs that there were not.
fn why_it_went(
    scenario: &Scenario,
    progress: &Progress,
    before: &PreviousRun,
    what: &Content,
    came: &[(&Run, Content)],
) -> String {
    let now = sharing(what, came, |run| run.id.as_str());
    let out = match down(progress, before) {
        true => format!(
            "; {} is out of order then",
            scenario.machines[before.machine.0].id
        ),
        false => String::new(),
    };
    if now.is_empty() {
        format!("its pieces exist or are no longer wanted{out}")
    } else {
        format!("its pieces are on {} now{out}", names(&now))
    }
}
