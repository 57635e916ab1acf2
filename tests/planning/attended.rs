//! Spools that end with nobody there, and what is done so that none does.

use beamyard::plan::{Plan, Run};
use beamyard::planning::{NoPlan, Options, again};
use beamyard::progress::Progress;
use beamyard::scenario::{Scenario, read_text};
use beamyard::units::Minutes;
use chrono::{DateTime, Utc};

use crate::moment::accepted;
use crate::support::the_rest as made;

/// One machine and one filament that is ordered in three days, in spools of a kilogram.
fn shop(start: &str, hours: &str, machine: &str, spools: &str, part: &str) -> Scenario {
    let text = format!(
        "
build: {{start: 2027-01-{start} 07:00, timezone: UTC, spool_margin: 3%}}
bench: {{hours: {hours}, hands: unlimited}}
machines:
  - {{id: one, {machine}, loaded: black, turnaround: 10 min, warm_up: 0 min}}
filaments:
  - {{id: black, material: PLA, spools: {spools}, spool: 1000, lead: 3 d}}
parts:
  - {{id: beam, filament: black, {part}}}
"
    );
    match read_text("attended.yaml", &text, "".as_ref()) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

const BELT: &str = "kind: belt, section: [100, 100], longest: 700";
const BED: &str = "kind: bed, bed: [200, 200], height: 200";
const AFTERNOONS: &str = "{mon-sun: [\"14:00-22:00\"]}";

fn beams(grams: u32, minutes: u32) -> String {
    format!("quantity: 2, size: [600, 50, 50], grams: {grams}, minutes: {{one: {minutes}}}")
}

fn at(text: &str) -> DateTime<Utc> {
    format!("2027-01-{}:00Z", text.replacen(' ', "T", 1))
        .parse()
        .expect("a day and a time")
}

fn planned(shop: &Scenario) -> Plan {
    made(shop, &Progress::none(shop))
}

fn setups(plan: &Plan) -> Vec<Option<DateTime<Utc>>> {
    plan.runs.iter().map(|run| run.setup).collect()
}

fn put_on(run: &Run) -> Option<f64> {
    run.spool.put_on.map(|grams| grams.0)
}

#[test]
fn a_belt_run_in_which_the_spool_would_end_unattended_is_set_up() {
    // 900 g in 20 h from Monday 14:10 until Tuesday 10:10. The 100 g that are left would end at 12:23; the bench opens at 14:00.
    let spools = shop("11", AFTERNOONS, BELT, "[1000, 1000]", &beams(900, 1200));
    let plan = planned(&spools);
    assert_eq!(setups(&plan), [Some(at("11 14:00")), Some(at("12 14:00"))]);
    assert_eq!(put_on(&plan.runs[1]), Some(1000.0));
    assert_eq!(plan.sums().stop, 0);
    // From a spool that lasts it follows by itself.
    let large = shop("11", AFTERNOONS, BELT, "[2000]", &beams(900, 1200));
    let plan = planned(&large);
    assert_eq!(setups(&plan), [Some(at("11 14:00")), None]);
    // So it does where somebody is there when the spool ends: 400 g are left of 600 g in 20 h, from 10:10 until 23:30, and the bench
    // is open from 14:00 until 22:00.
    let open = shop("11", AFTERNOONS, BELT, "[1000, 1000]", &beams(600, 1200));
    let plan = planned(&open);
    assert_eq!(setups(&plan), [Some(at("11 14:00")), None]);
    assert_eq!(plan.runs[1].spool.ends[0].at, at("12 21:55"));
    assert_eq!(plan.sums().stop, 0);
}

/// Two spools of 300 g, and more only in three days; 250 g in 15 h from Monday 14:10 until Tuesday 05:10: 50 g are left, for three hours.
fn two_ends() -> (Scenario, Progress) {
    let shop = shop("11", AFTERNOONS, BELT, "[300, 300]", &beams(250, 900));
    let progress = Progress {
        orders_from: Some(shop.build.start),
        ..Progress::none(&shop)
    };
    (shop, progress)
}

#[test]
fn where_the_spools_that_there_are_do_not_last_the_run_is_set_up() {
    let (shop, progress) = two_ends();
    let plan = made(&shop, &progress);
    assert_eq!(setups(&plan), [Some(at("11 14:00")), Some(at("12 14:00"))]);
    assert_eq!(put_on(&plan.runs[1]), Some(300.0));
    assert_eq!(plan.sums().stop, 0);
}

#[test]
fn a_plan_with_such_a_setup_is_kept() {
    let (shop, mut progress) = two_ends();
    let first = made(&shop, &progress);
    progress.previous = Some(accepted(&first, shop.build.start));
    let plan = made(&shop, &progress);
    assert_eq!(setups(&plan), setups(&first));
    let since = plan.since.expect("it goes on from an accepted plan");
    assert!(since.changes.is_empty(), "{:?}", since.changes);
    // Where something is news, the search begins anew and comes to the same.
    let previous = progress.previous.as_mut().expect("it was accepted");
    previous.news = true;
    assert_eq!(setups(&made(&shop, &progress)), setups(&first));
}

#[test]
fn a_plate_that_no_spool_lasts_for_becomes_two() {
    // Four of 400 g and five hours each: 1000 g end after 12 h 30 min, at 02:40, and one that is changed at 14:55 at 03:25.
    let part = "quantity: 4, size: [90, 90, 50], grams: 400, minutes: {one: 300}";
    let shop = shop("11", "{mon-sun: [\"14:00-15:00\"]}", BED, "[]", part);
    let plan = planned(&shop);
    let on: Vec<usize> = plan.runs.iter().map(|run| run.pieces.len()).collect();
    assert_eq!(on, [2, 2]);
    assert_eq!(plan.sums().stop, 0);
}

#[test]
fn a_run_is_put_off_so_that_somebody_is_there_when_its_spool_ends() {
    // 1500 g in 33 h: 1000 g end after 22 h. Begun on Thursday at 14:10 that is Friday 12:10, or 12:55 if it is changed at 14:55.
    // Begun on Friday it is Saturday 12:10, when somebody is there from 10:00 until 13:00.
    let part = "size: [100, 100, 50], grams: 1500, minutes: {one: 1980}";
    let hours = "{mon-fri: [\"14:00-15:00\"], sat: [\"10:00-13:00\"]}";
    let plan = planned(&shop("14", hours, BED, "[1000, 1000]", part));
    assert_eq!(setups(&plan), [Some(at("15 14:00"))]);
    assert!(plan.runs[0].put_off);
    assert_eq!(plan.sums().stop, 0);
    // It ends on Saturday at 23:10 then, and on Friday at 23:10 otherwise: not where that makes a stage late.
    let due = |moment: &str| {
        format!(
            "{part}}}\nassemblies:\n  - {{id: hull, parts: {{beam: 1}}, late: 40, due: 2027-01-{moment}"
        )
    };
    let plan = planned(&shop("14", hours, BED, "[1000, 1000]", &due("16 08:00")));
    assert_eq!(setups(&plan), [Some(at("14 14:00"))]);
    assert_eq!((plan.sums().stop, plan.cost.late.0), (1, 0.0));
    let plan = planned(&shop("14", hours, BED, "[1000, 1000]", &due("17 08:00")));
    assert!(plan.runs[0].put_off);
    // Without Saturday nothing helps: it starts as soon as it can, and is marked.
    let plan = planned(&shop(
        "14",
        "{mon-fri: [\"14:00-15:00\"]}",
        BED,
        "[1000, 1000]",
        part,
    ));
    assert_eq!(setups(&plan), [Some(at("14 14:00"))]);
    assert!(!plan.runs[0].put_off);
    assert_eq!(plan.sums().stop, 1);
}

#[test]
fn a_part_that_no_bench_hours_hold_is_named_with_what_is_missing() {
    // Ten hours on a machine that must be watched; the bench is open for eight, of which the setup takes ten minutes.
    let machine = format!("{BED}, unattended: forbidden");
    let part =
        |minutes: u32| format!("size: [100, 100, 50], grams: 100, minutes: {{one: {minutes}}}");
    let plan = |minutes| {
        let shop = shop("11", AFTERNOONS, &machine, "[1000]", &part(minutes));
        again(&shop, &Progress::none(&shop), &Options::default())
    };
    let Err(NoPlan::NoTime(parts)) = plan(600) else {
        panic!("there is a plan");
    };
    let told: Vec<_> = parts
        .iter()
        .map(|part| (part.part.0, part.machine.0, part.takes, part.most))
        .collect();
    assert_eq!(told, [(0, 0, Minutes(600), Some(Minutes(470)))]);
    assert!(plan(470).is_ok());
}

#[test]
fn pieces_go_on_runs_that_one_spool_lasts_for_however_much_a_plate_holds() {
    // Six staves of 300 g and four hours each, on a belt that holds all of them; somebody is there on three evenings of the week, and a
    // spool lasts for little more than half a day.
    let hours = "{tue: [\"18:00-21:30\"], thu: [\"18:00-21:30\"], sat: [\"10:00-16:00\"]}";
    let part = "quantity: 6, size: [100, 50, 50], grams: 300, minutes: {one: 240}";
    let plan = planned(&shop("11", hours, BELT, "[1000]", part));
    assert_eq!(plan.sums().stop, 0);
    let on: Vec<usize> = plan.runs.iter().map(|run| run.pieces.len()).collect();
    assert!(on.len() > 1, "{on:?}");
    // On spools that last for all of it, none is set up but the first.
    let large = planned(&shop("11", hours, BELT, "[3000]", part));
    let set_up = |plan: &Plan| plan.runs.iter().filter(|run| run.setup.is_some()).count();
    assert_eq!(set_up(&large), 1);
    assert!(set_up(&plan) > 1);
}

#[test]
fn one_stage_that_must_not_be_late_keeps_every_run_where_it_is() {
    // Two machines with a beam each, as heavy as one spool and a half: both would be put off by a day, and the hull with them. That it
    // is too late for the first must not be forgotten at the second.
    let text = "
build: {start: 2027-01-14 07:00, timezone: UTC, spool_margin: 3%}
bench: {hours: {mon-fri: [\"14:00-15:00\"], sat: [\"10:00-13:00\"]}, hands: unlimited}
machines:
  - {id: one, kind: bed, bed: [200, 200], height: 200, loaded: black, turnaround: 10 min, warm_up: 0 min}
  - {id: two, kind: bed, bed: [200, 200], height: 200, loaded: black, turnaround: 10 min, warm_up: 0 min}
filaments:
  - {id: black, material: PLA, spools: [1000, 1000, 1000, 1000], spool: 1000, lead: 3 d}
parts:
  - {id: left, only: [one], filament: black, size: [100, 100, 50], grams: 1500, minutes: {one: 1980}}
  - {id: right, only: [two], filament: black, size: [100, 100, 50], grams: 1500, minutes: {two: 1980}}
assemblies:
  - {id: hull, parts: {left: 1, right: 1}, bench: 30 min, late: 40, due: 2027-01-16 12:00}
";
    let scenario = |text: &str| match read_text("hull.yaml", text, "".as_ref()) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let plan = planned(&scenario(text));
    assert_eq!((plan.sums().stop, plan.cost.late.0), (2, 0.0));
    let later = text.replace("01-16 12:00", "01-20 12:00");
    let plan = planned(&scenario(&later));
    assert_eq!((plan.sums().stop, plan.cost.late.0), (0, 0.0));
}
