//! The example scenarios, planned by the whole program: nothing in their plans is absurd.

use std::path::Path;

use beamyard::calendar::Calendar;
use beamyard::plan::{Plan, Run};
use beamyard::planning::{Options, plan};
use beamyard::routes::RouteKind;
use beamyard::scenario::{Hands, MachineIndex, Scenario, read};
use beamyard::search::portfolio::Limit;
use chrono::{DateTime, Utc};

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

/// Whether a run could have been set up in an earlier window than it is, everything else left as it stands.
fn idle_before(shop: &Scenario, calendar: &Calendar, plan: &Plan, run: &Run) -> Option<String> {
    let setup = run.setup?;
    let free = plan
        .runs
        .iter()
        .filter(|r| r.machine == run.machine && r.end <= setup)
        .map(|r| r.end)
        .max()
        .unwrap_or(shop.build.start);
    let waits = run.pieces.iter().any(|p| {
        let part = &shop.parts[p.part.0];
        part.trial > 0 && p.number > part.trial
    });
    if waits || !shop.machines[run.machine.0].unattended {
        return None;
    }
    let ready = run
        .pieces
        .iter()
        .filter_map(|p| shop.parts[p.part.0].ready)
        .max()
        .unwrap_or(free);
    let need = run.start - setup;
    let from = free.max(ready - need);
    let taken: Vec<(DateTime<Utc>, DateTime<Utc>)> = plan
        .runs
        .iter()
        .filter_map(|r| Some((r.setup?, r.start)))
        .collect();
    for window in calendar.windows() {
        let (open, close) = (calendar.moment(window.open), calendar.moment(window.close));
        if close > setup {
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
        let outages = calendar.outages(MachineIndex(run.machine.0));
        let (first, last) = (calendar.minute(at), calendar.minute(at + (run.end - setup)));
        let out = outages.iter().any(|o| o.open < last && first < o.close);
        if at + need <= close && !out {
            return Some(format!("{} is set up {setup} and could be {at}", run.id));
        }
    }
    None
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
