//! Machines that print only while somebody is there.

use beamyard::planning::{Options, plan};
use beamyard::scenario::{Scenario, read_text};
use beamyard::search::portfolio::Limit;
use chrono::Datelike;

/// A beam that only Saturday is long enough for, and is wanted first; five plates that an evening holds each.
fn shop() -> Scenario {
    let text = "
build: {start: 2027-01-11 07:00, timezone: UTC, each_day: 5}
bench: {hours: {mon-fri: [\"18:00-22:00\"], sat: [\"10:00-20:00\"]}, unattended: forbidden}
machines:
  - {id: one, kind: bed, bed: [200, 200], height: 200, loaded: black, turnaround: 10 min, warm_up: 0 min}
filaments:
  - {id: black, material: PLA, spools: [5000], spool: 1000}
parts:
  - {id: mast, filament: black, size: [180, 60, 50], grams: 300, minutes: {one: 540}}
  - {id: panel, quantity: 5, filament: black, size: [180, 150, 5], grams: 100, minutes: {one: 200}}
assemblies:
  - {id: rig, parts: {mast: 1}, due: 2027-01-12 20:00, late: 30}
  - {id: deck, parts: {panel: 5}, due: 2027-01-15 23:00, late: 10}
";
    match read_text("watched.yaml", text, "".as_ref()) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

#[test]
fn evenings_before_a_long_run_are_used_by_short_ones() {
    // The first queue of the rules does it already.
    for moves in [0, 20_000] {
        let options = Options {
            limit: Some(Limit::Moves(moves)),
            ..Options::default()
        };
        let plan = plan(&shop(), &options).expect("there is a plan").plan;
        let days: Vec<u32> = plan.runs.iter().map(|run| run.start.day()).collect();
        assert_eq!(days, [11, 12, 13, 14, 15, 16], "{moves} moves");
        assert_eq!(plan.runs[5].pieces[0].part.0, 0);
    }
}

#[test]
fn pieces_go_into_hours_that_are_left_by_moves_of_their_own() {
    let options = Options {
        limit: Some(Limit::Moves(40_000)),
        ..Options::default()
    };
    let planned = plan(&shop(), &options).expect("there is a plan");
    for name in ["backfill", "spread a run"] {
        let tally = planned.tallies.iter().find(|(known, _)| *known == name);
        assert!(tally.is_some_and(|(_, tally)| tally.tried > 0), "{name}");
    }
    // Where nothing must be watched there are none such.
    let mut free = shop();
    for machine in &mut free.machines {
        machine.unattended = true;
    }
    let planned = plan(&free, &options).expect("there is a plan");
    assert!(planned.tallies.iter().all(|(name, _)| *name != "backfill"));
}
