//! The critical path of a finished plan.

use beamyard::plan::{CriticalPath, Plan, critical_path};
use beamyard::scenario::Scenario;

use crate::tide_clock;

fn path(shop: &Scenario, plan: &Plan) -> CriticalPath {
    critical_path(shop, &plan.runs, &plan.gluings, &plan.assemblies).expect("there are assemblies")
}

fn names(shop: &Scenario, path: &CriticalPath) -> Vec<String> {
    let ids = path.assemblies.iter();
    ids.map(|a| shop.assemblies[a.0].id.clone()).collect()
}

#[test]
fn the_clock_waits_for_its_stand_and_the_stand_for_its_joined_pillar() {
    let (shop, plan) = (tide_clock::shop(), tide_clock::plan());
    let path = path(&shop, &plan);
    // The first pillar is joined at 16:25 on the 11th and has cured at 00:25: later than anything else of the stand is
    // printed; and the clock needs the stand.
    assert_eq!(names(&shop, &path), ["stand", "clock"]);
    assert!(path.joined);
    let run = &plan.runs[path.run.expect("a run printed the pillar")];
    assert_eq!(run.end, plan.gluings[0].printed);
}

#[test]
fn where_the_needed_assembly_is_there_first_the_path_begins_with_the_last_run() {
    let (shop, mut plan) = (tide_clock::shop(), tide_clock::plan());
    let clock = shop
        .assemblies
        .iter()
        .position(|a| a.id == "clock")
        .expect("it is there");
    let last = plan
        .runs
        .iter()
        .position(|run| {
            run.pieces
                .iter()
                .any(|p| p.assembly.is_some_and(|a| a.0 == clock))
        })
        .expect("the clock has pieces");
    // Its dial comes a week later than all else.
    plan.runs[last].end += chrono::TimeDelta::days(7);
    let path = path(&shop, &plan);
    assert_eq!(names(&shop, &path), ["clock"]);
    assert_eq!(path.run, Some(last));
    assert!(!path.joined);
}
