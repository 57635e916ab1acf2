//! What a new plan does otherwise than the accepted one, and why.
//!
//! Knows: the accepted plan, the new one, what has been done. Must not know: the search.
//! Promises: a run that is neither listed here nor started stands on its machine, within half a day of when it stood; a firm one at its minute.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};

use crate::plan::{Change, Run, Trial};
use crate::progress::{Previous, PreviousRun, Progress};
use crate::scenario::{MachineIndex, Scenario};
use crate::search::calm::{Content, NEAR, content};
use crate::units::{Minutes, Money};

/// Runs that moved, went, or came; of those that were to start by `firm` also what moved by a minute, and what is printed again.
pub fn changes(
    scenario: &Scenario,
    progress: &Progress,
    previous: &Previous,
    firm: DateTime<Utc>,
    runs: &[Run],
    trials: &[Trial],
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
                && !before.scrapped
                && moved <= within(before, firm)
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
            why: why(scenario, progress, then, run, (runs, trials)),
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

/// By how much a run may move and be no change.
fn within(before: &PreviousRun, firm: DateTime<Utc>) -> TimeDelta {
    if before.start <= firm {
        TimeDelta::zero()
    } else {
        TimeDelta::minutes(i64::from(NEAR))
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

/// When a run was to take its machine.
fn begins(before: &PreviousRun) -> DateTime<Utc> {
    before.setup.unwrap_or(before.start)
}

/// A moment on the local clock.
fn shown(scenario: &Scenario, moment: DateTime<Utc>) -> String {
    let local = moment.with_timezone(&scenario.build.zone);
    local.format("%a %-d %b %H:%M").to_string()
}

/// Why a run waits for its filament, if it does.
fn waits(scenario: &Scenario, run: &Run) -> Option<String> {
    let comes = shown(scenario, run.waits?);
    let filament = &scenario.filaments[run.filament.0].id;
    Some(format!("it waits for {filament}, which is there {comes}"))
}

/// Which trial a run could not begin before that is approved only after a moment, if there is one; of several the last.
fn tried(scenario: &Scenario, run: &Run, trials: &[Trial], since: DateTime<Utc>) -> Option<String> {
    let later = trials.iter().filter(|trial| trial.approved > since);
    let holds = later.filter(|trial| {
        let part = &scenario.parts[trial.part.0];
        let mut pieces = run.pieces.iter();
        pieces.any(|piece| piece.part == trial.part && piece.number > part.trial)
    });
    let last = holds.max_by_key(|trial| trial.approved)?;
    let part = &scenario.parts[last.part.0].id;
    Some(format!("it waits for the approval of {part}"))
}

/// Whether a machine is out of order when a run was to start.
fn down(progress: &Progress, before: &PreviousRun) -> bool {
    let state = progress.machines.get(before.machine.0);
    let until = state.and_then(|state| state.down_until);
    until.is_some_and(|until| until > progress.now && until > before.start)
}

/// What was said of a run that was scrapped.
const AGAIN: &str = "it was scrapped, and is printed again";

/// Why a run stands elsewhere than it stood; of the new plan: all runs, by machine and time, and its trials.
fn why(
    scenario: &Scenario,
    progress: &Progress,
    before: &PreviousRun,
    run: &Run,
    (runs, trials): (&[Run], &[Trial]),
) -> String {
    let id = |machine: MachineIndex| &scenario.machines[machine.0].id;
    if before.scrapped {
        return AGAIN.into();
    }
    if before.start < run.start
        && let Some(waits) = waits(scenario, run)
    {
        return waits;
    }
    if down(progress, before) {
        return format!("{} is out of order then", id(before.machine));
    }
    if before.start <= progress.now {
        return "it did not start when it should".into();
    }
    if let Some(printing) = (progress.running.iter())
        .find(|one| one.machine == before.machine && one.end.max(progress.now) > begins(before))
    {
        return format!("{} prints there still", printing.id);
    }
    if begins(before) < progress.now {
        return "its setup should have begun before".into();
    }
    if before.start < run.start
        && let Some(waits) = tried(scenario, run, trials, begins(before))
    {
        return waits;
    }
    if before.machine != run.machine {
        return format!("the whole costs less with it on {}", id(run.machine));
    }
    if run.put_off {
        return "somebody is there then when its spool ends".into();
    }
    if run.start < before.start {
        return "it can begin earlier".into();
    }
    in_its_way(scenario, before, run, runs)
}

/// Why a run starts later on its machine though nothing of its own holds it up: what is there until after its setup was to begin.
fn in_its_way(scenario: &Scenario, before: &PreviousRun, run: &Run, runs: &[Run]) -> String {
    let begins = begins(before);
    let here = runs.iter().filter(|one| one.machine == run.machine);
    let earlier = here.filter(|one| one.start < run.start && one.end > begins);
    let earlier: Vec<&Run> = earlier.collect();
    let Some(last) = earlier.iter().max_by_key(|one| one.start) else {
        // Other machines' setups may have had the hands then; which way round would have cost less was not asked.
        return "nothing cheaper was found that keeps its time".into();
    };
    // Of what is there, something may itself wait, and all behind it with it.
    let waiting = earlier
        .iter()
        .find_map(|one| Some((one, waits(scenario, one)?)));
    match waiting {
        Some((one, waits)) => format!("it comes after {}: {waits}", one.id),
        None => {
            let ends = shown(scenario, last.end);
            format!("it comes after {}, which ends {ends}", last.id)
        }
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
    let scrapped = if before.scrapped {
        "it was scrapped; "
    } else {
        ""
    };
    let out = match down(progress, before) && !before.scrapped {
        true => format!(
            "; {} is out of order then",
            scenario.machines[before.machine.0].id
        ),
        false => String::new(),
    };
    if now.is_empty() {
        format!("{scrapped}its pieces are on other runs, exist or are no longer wanted{out}")
    } else {
        format!("{scrapped}its pieces are on {} now{out}", names(&now))
    }
}
