//! No machine stands idle while it could print.

use beamyard::plan::{Plan, Run};
use beamyard::scenario::{Hands, MachineIndex, Scenario};
use chrono::{DateTime, TimeDelta, Utc};

use crate::{Looked, Shop};

/// The first moment from `from` on at which a setup of `need` and then the run could be on a machine, all other runs left as
/// they stand, in a window that has closed by `before`.
pub fn first_setup(
    shop: &Shop,
    machine: MachineIndex,
    from: DateTime<Utc>,
    (need, minutes): (TimeDelta, TimeDelta),
    before: DateTime<Utc>,
) -> Option<DateTime<Utc>> {
    let Shop {
        scenario,
        calendar,
        plan,
    } = shop;
    let taken: Vec<(DateTime<Utc>, DateTime<Utc>)> = plan
        .runs
        .iter()
        .filter_map(|r| Some((r.setup?, r.start)))
        .collect();
    for window in calendar.windows() {
        let (open, close) = (calendar.moment(window.open), calendar.moment(window.close));
        if close > before {
            return None;
        }
        let mut at = open.max(from);
        // The first moment in the window at which no other setup is in the way.
        while at + need <= close {
            match taken.iter().find(|t| t.0 < at + need && at < t.1) {
                Some(other) if matches!(scenario.bench.hands, Hands::Count(1)) => at = other.1,
                _ => break,
            }
        }
        let (first, last) = (calendar.minute(at), calendar.minute(at + need + minutes));
        let mut outages = calendar.outages(machine).iter();
        let out = outages.any(|o| o.open < last && first < o.close);
        if at + need <= close && !out {
            return Some(at);
        }
    }
    None
}

/// When a machine is free for a run.
fn free_for(scenario: &Scenario, plan: &Plan, run: &Run, setup: DateTime<Utc>) -> DateTime<Utc> {
    let same = plan.runs.iter().filter(|r| r.machine == run.machine);
    let ends = same.map(|r| r.end).filter(|&end| end <= setup);
    ends.max().unwrap_or(scenario.build.start)
}

/// Whether a run holds copies that wait for the approval of others.
pub fn waits_for_approval(scenario: &Scenario, run: &Run) -> bool {
    run.pieces.iter().any(|p| {
        let part = &scenario.parts[p.part.0];
        part.trial > 0 && p.number > part.trial
    })
}

/// When all files of a run are finished.
fn ready(scenario: &Scenario, run: &Run) -> Option<DateTime<Utc>> {
    let parts = run.pieces.iter().map(|p| &scenario.parts[p.part.0]);
    parts.filter_map(|part| part.ready).max()
}

/// Runs that could have been set up in an earlier window than they are, everything else left as it stands.
pub fn idles(shop: &Shop) -> Looked {
    let Shop { scenario, plan, .. } = shop;
    let mut looked = Looked::default();
    // One that is put off waits for somebody to be there when its spool ends.
    for run in plan.runs.iter().filter(|run| !run.put_off) {
        let Some(setup) = run.setup else { continue };
        if waits_for_approval(scenario, run) || !scenario.machines[run.machine.0].unattended {
            continue;
        }
        looked.compared += 1;
        let free = free_for(scenario, plan, run, setup);
        let need = run.start - setup;
        let from = free.max(ready(scenario, run).unwrap_or(free) - need);
        let length = (need, run.end - run.start);
        if let Some(at) = first_setup(shop, run.machine, from, length, setup) {
            let id = &run.id;
            looked
                .absurd
                .push(format!("{id} is set up {setup} and could be {at}"));
        }
    }
    looked
}

/// Runs before which a later run of the same filament could be over.
pub fn could_go_first(shop: &Shop) -> Looked {
    let Shop { scenario, plan, .. } = shop;
    let mut looked = Looked::default();
    for run in &plan.runs {
        let Some(setup) = run.setup else { continue };
        let machine = &scenario.machines[run.machine.0];
        if run.swap_from.is_some() || machine.is_belt() || !machine.unattended {
            continue;
        }
        let free = free_for(scenario, plan, run, setup);
        let need = TimeDelta::minutes(machine.turnaround.0);
        let later = plan.runs.iter().filter(|later| {
            later.machine == run.machine
                && later.start > run.start
                && later.filament == run.filament
                && !waits_for_approval(scenario, later)
        });
        for later in later {
            looked.compared += 1;
            let from = free.max(ready(scenario, later).map_or(free, |ready| ready - need));
            let length = (need, later.end - later.start);
            let at = first_setup(shop, run.machine, from, length, setup);
            if at.is_some_and(|at| at + length.0 + length.1 <= setup) {
                let (run, later) = (&run.id, &later.id);
                looked.absurd.push(format!("{later} before {run}"));
            }
        }
    }
    looked
}

#[test]
fn a_plan_that_stands_idle_is_refused() {
    let mut shop = crate::planned("first-week", 2_000);
    assert_eq!(
        (idles(&shop).absurd, could_go_first(&shop).absurd),
        (vec![], vec![])
    );
    // All that comes after the second run is a week later.
    for run in &mut shop.plan.runs[2..] {
        let by = TimeDelta::days(7);
        run.setup = run.setup.map(|setup| setup + by);
        run.start += by;
        run.end += by;
    }
    let third = &shop.plan.runs[2].id;
    let found = idles(&shop).absurd;
    assert!(
        found.iter().any(|told| told.starts_with(third.as_str())),
        "{found:?}"
    );
    let found = could_go_first(&shop).absurd;
    assert!(!found.is_empty(), "{:#?}", shop.plan.runs);
}
