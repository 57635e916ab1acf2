//! The example scenarios, planned by the whole program: nothing in their plans is absurd.

use std::path::Path;

use beamyard::calendar::Calendar;
use beamyard::plan::{Plan, Run};
use beamyard::planning::{Options, plan};
use beamyard::routes::RouteKind;
use beamyard::scenario::{Hands, MachineIndex, Scenario, read};
use beamyard::search::portfolio::Limit;
use chrono::{DateTime, TimeDelta, Utc};

/// Two whole rounds of two chains, 20,000 and 40,000 moves each.
const MOVES: u64 = 120_000;

fn scenario(name: &str) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{name}.yaml"));
    read(&path)
        .unwrap_or_else(|wrong| panic!("{}", wrong.render(false)))
        .scenario
}

/// A plan; it has passed its audit.
fn planned(shop: &Scenario) -> Plan {
    let options = Options {
        limit: Some(Limit::Moves(MOVES)),
        ..Options::default()
    };
    plan(shop, &options)
        .unwrap_or_else(|none| panic!("{none:?}"))
        .plan
}

/// The footbridge's long beams, by name.
const BEAMS: [&str; 3] = ["top-chord", "bottom-chord", "handrail"];

fn routes_of_beams(shop: &Scenario, plan: &Plan) -> Vec<(String, RouteKind)> {
    plan.routes
        .iter()
        .map(|r| (shop.parts[r.part.0].id.clone(), r.route))
        .filter(|(id, _)| BEAMS.contains(&id.as_str()))
        .collect()
}

#[test]
fn the_footbridges_beams_go_to_the_belt() {
    let shop = scenario("footbridge");
    let routes = routes_of_beams(&shop, &planned(&shop));
    assert_eq!(routes.len(), BEAMS.len(), "{routes:?}");
    assert!(routes.iter().all(|r| r.1 == RouteKind::Belt), "{routes:?}");
}

#[test]
fn the_footbridges_beams_are_split_where_the_belt_is_dear() {
    let mut shop = scenario("footbridge");
    for machine in shop.machines.iter_mut().filter(|m| m.is_belt()) {
        machine.hourly = machine.hourly * 10.0;
    }
    let routes = routes_of_beams(&shop, &planned(&shop));
    assert!(routes.iter().all(|r| r.1 == RouteKind::Split), "{routes:?}");
}

#[test]
fn the_footbridges_beams_are_split_where_there_is_no_belt() {
    let mut shop = scenario("footbridge");
    let belts: Vec<bool> = shop.machines.iter().map(|m| m.is_belt()).collect();
    let mut kept = belts.iter().map(|belt| !belt);
    shop.machines.retain(|_| kept.next() == Some(true));
    for part in &mut shop.parts {
        let mut kept = belts.iter().map(|belt| !belt);
        part.minutes.retain(|_| kept.next() == Some(true));
        let mut kept = belts.iter().map(|belt| !belt);
        part.only.retain(|_| kept.next() == Some(true));
    }
    let routes = routes_of_beams(&shop, &planned(&shop));
    assert!(
        !routes.is_empty() && routes.iter().all(|r| r.1 == RouteKind::Split),
        "{routes:?}"
    );
}

/// The first moment from `from` on at which a setup of `need` and then the run could be on a machine, all other runs left as
/// they stand, in a window that has closed by `before`.
fn first_setup(
    (shop, calendar, plan): (&Scenario, &Calendar, &Plan),
    machine: MachineIndex,
    from: DateTime<Utc>,
    (need, minutes): (TimeDelta, TimeDelta),
    before: DateTime<Utc>,
) -> Option<DateTime<Utc>> {
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
                Some(other) if matches!(shop.bench.hands, Hands::Count(1)) => at = other.1,
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
fn free_for(shop: &Scenario, plan: &Plan, run: &Run, setup: DateTime<Utc>) -> DateTime<Utc> {
    let same = plan.runs.iter().filter(|r| r.machine == run.machine);
    let ends = same.map(|r| r.end).filter(|&end| end <= setup);
    ends.max().unwrap_or(shop.build.start)
}

/// Whether a run holds copies that wait for the approval of others.
fn waits_for_approval(shop: &Scenario, run: &Run) -> bool {
    run.pieces.iter().any(|p| {
        let part = &shop.parts[p.part.0];
        part.trial > 0 && p.number > part.trial
    })
}

/// When all files of a run are finished.
fn ready(shop: &Scenario, run: &Run) -> Option<DateTime<Utc>> {
    let parts = run.pieces.iter().map(|p| &shop.parts[p.part.0]);
    parts.filter_map(|part| part.ready).max()
}

/// Whether a run could have been set up in an earlier window than it is, everything else left as it stands.
fn idle_before(shop: &Scenario, calendar: &Calendar, plan: &Plan, run: &Run) -> Option<String> {
    let setup = run.setup?;
    let free = free_for(shop, plan, run, setup);
    if waits_for_approval(shop, run) || !shop.machines[run.machine.0].unattended {
        return None;
    }
    let need = run.start - setup;
    let from = free.max(ready(shop, run).unwrap_or(free) - need);
    let length = (need, run.end - run.start);
    let at = first_setup((shop, calendar, plan), run.machine, from, length, setup)?;
    Some(format!("{} is set up {setup} and could be {at}", run.id))
}

/// A later run of the same filament that could be over before this one begins.
fn could_go_first<'a>(
    shop: &Scenario,
    calendar: &Calendar,
    plan: &'a Plan,
    run: &Run,
) -> Option<&'a Run> {
    let setup = run.setup?;
    let free = free_for(shop, plan, run, setup);
    let machine = &shop.machines[run.machine.0];
    if run.swap_from.is_some() || machine.is_belt() || !machine.unattended {
        return None;
    }
    plan.runs.iter().find(|later| {
        let need = TimeDelta::minutes(machine.turnaround.0);
        let from = free.max(ready(shop, later).map_or(free, |ready| ready - need));
        let length = (need, later.end - later.start);
        later.machine == run.machine
            && later.start > run.start
            && later.filament == run.filament
            && !waits_for_approval(shop, later)
            && first_setup((shop, calendar, plan), run.machine, from, length, setup)
                .is_some_and(|at| at + length.0 + length.1 <= setup)
    })
}

#[test]
fn no_machine_waits_for_a_file_or_an_approval_while_a_later_run_could_go_first() {
    for name in ["first-week", "tide-clock", "footbridge", "quayside-crane"] {
        let shop = scenario(name);
        let calendar = Calendar::new(&shop);
        let plan = planned(&shop);
        let idle: Vec<(&str, &str)> = plan
            .runs
            .iter()
            .filter_map(|run| Some((run, could_go_first(&shop, &calendar, &plan, run)?)))
            .map(|(run, first)| (run.id.as_str(), first.id.as_str()))
            .collect();
        assert!(idle.is_empty(), "{name}: {idle:?}");
    }
}

#[test]
fn no_machine_stands_idle_through_hours_in_which_its_next_run_could_be_set_up() {
    for name in ["first-week", "tide-clock", "footbridge", "quayside-crane"] {
        let shop = scenario(name);
        let calendar = Calendar::new(&shop);
        let plan = planned(&shop);
        let idle: Vec<String> = plan
            .runs
            .iter()
            // One that is put off waits for somebody to be there when its spool ends.
            .filter(|run| !run.put_off)
            .filter_map(|run| idle_before(&shop, &calendar, &plan, run))
            .collect();
        assert!(idle.is_empty(), "{name}: {idle:#?}");
    }
}

#[test]
fn no_change_of_filament_is_saved_by_exchanging_two_runs_of_one_day() {
    for name in ["first-week", "tide-clock", "footbridge", "quayside-crane"] {
        let shop = scenario(name);
        let plan = planned(&shop);
        for machine in 0..shop.machines.len() {
            let runs: Vec<&Run> = plan
                .runs
                .iter()
                .filter(|r| r.machine.0 == machine)
                .collect();
            for at in 1..runs.len() {
                let (first, second) = (runs[at - 1], runs[at]);
                let day = |run: &Run| {
                    run.setup
                        .map(|s| s.with_timezone(&shop.build.zone).date_naive())
                };
                // Only where the two end on one day as well: then nothing at the bench is later than that evening for it.
                let local = |t: DateTime<Utc>| t.with_timezone(&shop.build.zone).date_naive();
                if day(first) != day(second) || local(first.end) != local(second.end) {
                    continue;
                }
                let before = match at.checked_sub(2) {
                    Some(i) => Some(runs[i].filament),
                    None => shop.machines[machine].loaded,
                };
                let after = runs.get(at + 1).map(|r| r.filament);
                let changes = |order: [beamyard::scenario::FilamentIndex; 2]| {
                    u32::from(before != Some(order[0]))
                        + u32::from(order[0] != order[1])
                        + u32::from(after.is_some_and(|a| a != order[1]))
                };
                let (now, then) = (
                    changes([first.filament, second.filament]),
                    changes([second.filament, first.filament]),
                );
                let rest = |run: &Run| run.pieces.iter().any(|p| shop.parts[p.part.0].trial > 0);
                let ready = |run: &Run| {
                    run.pieces
                        .iter()
                        .any(|p| shop.parts[p.part.0].ready.is_some())
                };
                let bound = rest(first) || rest(second) || ready(second);
                assert!(
                    bound || now <= then,
                    "{name}: {} and {} the other way round save {} changes",
                    first.id,
                    second.id,
                    now - then
                );
            }
        }
    }
}
