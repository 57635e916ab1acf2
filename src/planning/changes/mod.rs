//! What a new plan does otherwise than the accepted one: which run is which.
//!
//! Knows: the accepted plan, the new one, what has been done. Must not know: the search, why anything is (`reasons`, `pieces`).
//! Promises: a run that is neither listed here nor started stands on its machine, within half a day of when it stood; a firm one at its minute.
//! What the accepted plan had and the scenario has no more is listed too.

mod pieces;
mod reasons;

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};

use crate::calendar::Calendar;
use crate::plan::{Change, Plan, Run, Trial};
use crate::progress::{Gone, Placed, Previous, PreviousRun, Progress};
use crate::routes::PartRoutes;
use crate::scenario::{FilamentIndex, MachineIndex, Scenario};
use crate::search::calm::{Content, NEAR, content};
use crate::units::{Minutes, Money};

/// What changes are found from, and their reasons.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    /// The scenario as it is written.
    pub scenario: &'a Scenario,
    /// Its routes.
    pub routes: &'a [PartRoutes],
    /// What has been done.
    pub progress: &'a Progress,
    /// The accepted plan.
    pub previous: &'a Previous,
    /// Hours, from now on.
    pub calendar: &'a Calendar,
    /// Until when runs of the accepted plan are firm.
    pub firm: DateTime<Utc>,
    /// Whether the new plan costs less than the accepted one kept would.
    pub cheaper: bool,
    /// Whether what is left of a run can be laid out on its machine.
    pub fits: &'a dyn Fn(&PreviousRun) -> bool,
}

/// A run of the accepted plan.
struct Then<'a> {
    id: &'a str,
    /// Where, as far as the scenario has it still.
    machine: Option<MachineIndex>,
    named: &'a str,
    filament: Option<FilamentIndex>,
    start: DateTime<Utc>,
    minutes: Minutes,
    scrapped: bool,
    pieces: &'a [Placed],
    content: Content,
    /// Parts that were on it and that the scenario has no more.
    without: &'a [String],
    /// What became of it, where it cannot be made as it was.
    gone: Option<&'a Gone>,
    /// It as it was accepted, where it is not gone.
    run: Option<&'a PreviousRun>,
}

impl<'a> Then<'a> {
    fn all(case: &Case<'a>) -> Vec<Self> {
        let minutes =
            |start: DateTime<Utc>, end: DateTime<Utc>| Minutes((end - start).num_minutes());
        let runs = case.previous.runs.iter().map(|run| Self {
            id: &run.id,
            machine: Some(run.machine),
            named: &case.scenario.machines[run.machine.0].id,
            filament: Some(run.filament),
            start: run.start,
            minutes: minutes(run.start, run.end),
            scrapped: run.scrapped,
            pieces: &run.pieces,
            content: of_placed(&run.pieces),
            without: &run.without,
            gone: None,
            run: Some(run),
        });
        let gone = case.previous.gone.iter().map(|run| Self {
            id: &run.id,
            machine: run.on,
            named: &run.machine,
            filament: run.filament,
            start: run.start,
            minutes: minutes(run.start, run.end),
            scrapped: run.scrapped,
            pieces: &run.pieces,
            content: of_placed(&run.pieces),
            without: &[],
            gone: Some(&run.why),
            run: None,
        });
        let printing = &case.progress.running;
        // What prints is no change. What was started and has ended is not among them.
        runs.chain(gone)
            .filter(|then| !printing.iter().any(|run| run.id == then.id))
            .collect()
    }

    /// What it takes of its machine and of energy, as far as that is known.
    fn own(&self, scenario: &Scenario) -> Option<Money> {
        Some(own(scenario, self.machine?, self.minutes))
    }

    fn place(&self) -> (String, DateTime<Utc>) {
        (self.named.to_owned(), self.start)
    }
}

/// A way to tell that a run of the new plan is one of the accepted one.
type Way<'a> = dyn Fn(&Then, &Now) -> bool + 'a;

/// A run of the new plan.
struct Now<'a> {
    run: &'a Run,
    content: Content,
}

/// Runs that moved, went, or came; of those that were to start by `firm` also what moved by a minute, and what is printed again. Besides them
/// how many start at another minute and are no change.
pub fn changes(case: &Case, runs: &[Run], trials: &[Trial]) -> (Vec<Change>, usize) {
    let mut left = Then::all(case);
    let open = runs.iter().map(|run| Now {
        run,
        content: of_run(run),
    });
    let mut open: Vec<Now> = open.collect();
    // A run that kept its name is the same one; what else has such pieces is told by those that did not.
    let kept: BTreeSet<&str> = (left.iter().map(|then| then.id))
        .filter(|id| runs.iter().any(|run| run.id == *id))
        .collect();
    let alike = |then: &Then, now: &Now| {
        then.content == now.content
            && !kept.contains(then.id)
            && !kept.contains(now.run.id.as_str())
    };
    let same = |then: &Then, now: &Now| {
        let whole = then.gone.is_none() && then.without.is_empty();
        then.id == now.run.id
            || (alike(then, now) && whole && then.filament == Some(now.run.filament))
    };
    let mut shifted = 0;
    open.retain(|now| {
        let near = left.iter().position(|then| {
            let moved = (now.run.start - then.start).abs();
            same(then, now)
                && then.machine == Some(now.run.machine)
                && !then.scrapped
                && moved <= within(then, case.firm)
        });
        let then = near.map(|at| left.remove(at));
        let moves = |then: &Then| then.start != now.run.start;
        shifted += usize::from(then.as_ref().is_some_and(moves));
        then.is_none()
    });
    // What is nearest to being the same finds its own first.
    let here = |then: &Then, now: &Now| same(then, now) && then.machine == Some(now.run.machine);
    let lessened = |then: &Then, now: &Now| alike(then, now) && then.gone.is_none();
    let ways: [&Way; 4] = [&here, &same, &lessened, &alike];
    let mut found = Vec::new();
    for way in ways {
        open = (open.into_iter())
            .filter_map(|now| {
                let at = left.iter().position(|then| way(then, &now));
                let Some(at) = at else { return Some(now) };
                found.push((left.remove(at), now));
                None
            })
            .collect();
    }
    // By machine and time, as runs are listed.
    found.sort_by_key(|(_, now)| (now.run.machine, now.run.start));
    let mut changes = Vec::new();
    for (then, now) in &found {
        let run = now.run;
        let before = then.own(case.scenario);
        changes.push(Change {
            run: run.id.clone(),
            was: Some(then.id.to_owned()),
            from: Some(then.place()),
            to: Some((run.machine, run.start)),
            why: reasons::why(case, then, run, (runs, trials)),
            money: before.map(|before| own(case.scenario, run.machine, run.minutes) - before),
        });
    }
    let count = pieces::Count::new(case, &left, &open);
    for (at, now) in open.iter().enumerate() {
        let run = now.run;
        let waits = reasons::waits(case.scenario, run);
        changes.push(Change {
            run: run.id.clone(),
            was: None,
            from: None,
            to: Some((run.machine, run.start)),
            why: waits.unwrap_or_else(|| count.why_it_came(at)),
            money: Some(own(case.scenario, run.machine, run.minutes)),
        });
    }
    for (at, then) in left.iter().enumerate() {
        changes.push(Change {
            run: then.id.to_owned(),
            was: Some(then.id.to_owned()),
            from: Some(then.place()),
            to: None,
            why: count.why_it_went(at),
            money: then.own(case.scenario).map(|before| Money::ZERO - before),
        });
    }
    (changes, shifted)
}

/// Says of firm runs that no way to keep them was found, besides why they are otherwise; of one that is near where it was, too.
pub fn yielded(plan: &mut Plan, scenario: &Scenario, previous: &Previous, names: &[String]) {
    const WHY: &str = "it was firm, but no way to keep it was found";
    let Some(since) = &mut plan.since else { return };
    for name in names {
        let mut known = since.changes.iter_mut();
        if let Some(change) = known.find(|change| change.was.as_ref() == Some(name)) {
            change.why = format!("{}; {WHY}", change.why);
            continue;
        }
        let then = previous.runs.iter().find(|run| run.id == *name);
        let now = plan.runs.iter().find(|run| run.id == *name);
        let from = |run: &PreviousRun| (scenario.machines[run.machine.0].id.clone(), run.start);
        since.changes.push(Change {
            run: name.clone(),
            was: Some(name.clone()),
            from: then.map(from),
            to: now.map(|run| (run.machine, run.start)),
            why: WHY.into(),
            money: Some(Money::ZERO),
        });
    }
}

/// By how much a run may move and be no change.
fn within(then: &Then, firm: DateTime<Utc>) -> TimeDelta {
    if then.start <= firm {
        TimeDelta::zero()
    } else {
        TimeDelta::minutes(i64::from(NEAR))
    }
}

fn of_run(run: &Run) -> Content {
    let pieces = run.pieces.iter();
    content(pieces.map(|piece| (piece.part.0 as u32, piece.of, 1)))
}

fn of_placed(pieces: &[Placed]) -> Content {
    let pieces = pieces.iter().map(|placed| placed.piece);
    content(pieces.map(|piece| (piece.part.0 as u32, piece.of, 1)))
}

/// What a run takes of its machine and of energy.
fn own(scenario: &Scenario, machine: MachineIndex, minutes: Minutes) -> Money {
    let machine = &scenario.machines[machine.0];
    machine.hourly * minutes.hours()
        + scenario.bench.energy_kwh * machine.watts.kilowatt_hours(minutes)
}
