//! Every move of the search finds something by itself.

use std::collections::BTreeSet;
use std::path::Path;

use beamyard::calendar::Calendar;
use beamyard::routes::routes;
use beamyard::scenario::{Scenario, read, read_text};
use beamyard::search::fitter::Fitter;
use beamyard::search::moves;
use beamyard::search::plate::Load;
use beamyard::search::portfolio::{Limit, Settings, Unwatched, search};
use beamyard::search::shop::{ItemId, Shop};
use beamyard::search::snapshot::Snapshot;
use beamyard::search::state::State;

/// Moves that alone better what the rules construct of an example.
const OF_EXAMPLES: [(&str, &str); 8] = [
    ("relocate", "tide-clock"),
    ("exchange", "tide-clock"),
    ("gather colours", "footbridge"),
    ("shift pieces", "footbridge"),
    ("trade pieces", "footbridge"),
    ("merge plates", "footbridge"),
    ("rebuild", "tide-clock"),
    ("transfer", "footbridge"),
];

/// The same of the tide clocks where somebody must watch the machines.
const WATCHED: [&str; 2] = ["backfill", "spread a run"];

/// Moves that alone better a queue that is made for them, in the tests below.
const OF_TINY_STARTS: [&str; 4] = [
    "divide a plate",
    "reroute",
    "reassign copies",
    "yield hands",
];

fn example(name: &str) -> Scenario {
    let file = format!("{}/scenarios/{name}.yaml", env!("CARGO_MANIFEST_DIR"));
    read(file.as_ref()).expect("an example is right").scenario
}

fn numbers(scenario: &Scenario) -> Shop {
    Shop::new(scenario, Calendar::new(scenario), &routes(scenario))
}

/// What is saved by moves of one kind alone, from a queue, or from those that the rules construct.
fn saved(shop: &Shop, name: &str, start: Option<&Snapshot>) -> f64 {
    let moves = moves::all();
    let others = moves.iter().map(|one| one.name().to_owned());
    let others: Vec<String> = others.filter(|other| other != name).collect();
    let settings = Settings {
        limit: Limit::Moves(3_000),
        seed: 1,
        without: &others,
        recombine: None,
        proven: None,
        least: f64::NEG_INFINITY,
        start,
        anew: false,
        apart: true,
        watch: &Unwatched,
    };
    let found = search(shop, &settings).expect("there is time enough");
    found.constructed - found.best.cost()
}

#[test]
fn every_move_is_tried_by_these_tests() {
    let named: BTreeSet<&str> = OF_EXAMPLES
        .iter()
        .map(|(name, _)| *name)
        .chain(WATCHED)
        .chain(OF_TINY_STARTS)
        .collect();
    let moves = moves::all();
    let all: BTreeSet<&str> = moves.iter().map(|one| one.name()).collect();
    assert_eq!(named, all);
    assert_eq!(moves.len(), all.len(), "each has a name of its own");
}

#[test]
fn each_move_alone_betters_what_is_constructed_of_an_example() {
    for (name, of) in OF_EXAMPLES {
        let saved = saved(&numbers(&example(of)), name, None);
        assert!(saved > 0.5, "{name}, {of}: {saved}");
    }
}

#[test]
fn moves_for_watched_machines_alone_better_what_is_constructed() {
    let mut scenario = example("tide-clock");
    for machine in &mut scenario.machines {
        machine.unattended = false;
    }
    let shop = numbers(&scenario);
    for name in WATCHED {
        let saved = saved(&shop, name, None);
        assert!(saved > 0.5, "{name}: {saved}");
    }
}

/// A shop that is open from 07:00 to 22:00, where nothing is paid by the day; an hour at the bench costs 15, and a setup takes ten minutes.
fn shop(hands: &str, rest: &str) -> Shop {
    let text = format!(
        "
build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 0}}
bench: {{hours: {{mon-sun: [\"07:00-22:00\"]}}, hands: {hands}, bench_hour: 15}}
filaments: [{{id: grey, material: PLA, spools: [9000]}}]
{rest}"
    );
    match read_text("tiny.yaml", &text, Path::new(".")) {
        Ok(reading) => numbers(&reading.scenario),
        Err(complaints) => panic!("{complaints}"),
    }
}

/// The item of the class of a part that an assembly takes, in so many lengths.
fn item(shop: &Shop, part: u32, assembly: u32, lengths: u32) -> ItemId {
    let found = (0..shop.items.len() as ItemId).find(|&item| {
        let class = shop.class_of(item);
        let node = &shop.nodes[class.node as usize];
        (class.part, node.assembly) == (part, Some(assembly))
            && shop.items[item as usize].lengths == lengths
    });
    found.expect("it is wanted")
}

/// A queue of one piece of each of these items, or several, by machine and run.
fn queue(shop: &Shop, sheets: &[&[&[(ItemId, u32)]]]) -> Snapshot {
    let load = |&(item, count): &(ItemId, u32)| Load { item, count };
    let mut copies = vec![0; shop.items.len()];
    for &(item, count) in sheets.iter().copied().flatten().copied().flatten() {
        copies[item as usize] += count / shop.items[item as usize].each;
    }
    let sheets: Vec<Vec<Vec<Load>>> = sheets
        .iter()
        .map(|sheet| {
            let runs = sheet.iter();
            runs.map(|run| run.iter().map(load).collect()).collect()
        })
        .collect();
    let state = State::of_sheets(shop, &mut Fitter::default(), &sheets, &copies);
    Snapshot::of(&state.expect("it fits"))
}

const ONE_BED: &str =
    "machines: [{id: bed, kind: bed, bed: [200, 200], height: 100, loaded: grey}]\n";

#[test]
fn a_plate_is_divided_where_half_of_it_is_urgent() {
    let parts = "
parts:
  - {id: urgent, size: [90, 90, 20], grams: 60, minutes: {bed: 120}}
  - {id: other, size: [90, 90, 20], grams: 60, minutes: {bed: 480}}
assemblies:
  - {id: one, parts: {urgent: 1}, due: 2027-01-11 08:00, late: 120}
  - {id: two, parts: {other: 1}}
";
    let shop = shop("unlimited", &format!("{ONE_BED}{parts}"));
    let (urgent, other) = (item(&shop, 0, 0, 1), item(&shop, 1, 1, 1));
    let start = queue(&shop, &[&[&[(urgent, 1), (other, 1)]]]);
    // 480 minutes sooner at 5 an hour are 40; a setup more is 2.50, and a warm-up.
    let saved = saved(&shop, "divide a plate", Some(&start));
    assert!(saved > 35.0 && saved < 37.6, "{saved}");
}

#[test]
fn a_copy_takes_another_route_where_that_is_cheaper() {
    let rest = "
machines:
  - {id: bed, kind: bed, bed: [320, 320], height: 100, loaded: grey, hourly: 3}
  - {id: belt, kind: belt, section: [200, 200], longest: 900, loaded: grey, hourly: 0.3}
joints: {peg: {shortest: 100, bench: 30 min}}
parts: [{id: rail, size: [600, 40, 40], split: {joint: peg, into: 2}, belt: allowed, grams: 300, minutes: {bed: 300, belt: 600}}]
assemblies: [{id: one, parts: {rail: 1}}]
";
    let shop = shop("unlimited", rest);
    let lengths = item(&shop, 0, 0, 2);
    let start = queue(&shop, &[&[&[(lengths, 2)]], &[]]);
    // The gluing alone is 7.50.
    let saved = saved(&shop, "reroute", Some(&start));
    assert!(saved > 7.5, "{saved}");
}

#[test]
fn a_copy_that_is_printed_first_goes_to_the_assembly_that_is_due_first() {
    let parts = "
parts: [{id: pin, quantity: 2, size: [90, 90, 20], alone: true, grams: 60, minutes: {bed: 240}}]
assemblies:
  - {id: one, parts: {pin: 1}, due: 2027-01-11 08:00, late: 120}
  - {id: two, parts: {pin: 1}}
";
    let shop = shop("unlimited", &format!("{ONE_BED}{parts}"));
    let (urgent, other) = (item(&shop, 0, 0, 1), item(&shop, 0, 1, 1));
    let start = queue(&shop, &[&[&[(other, 1)], &[(urgent, 1)]]]);
    // Four hours and a setup at 5 an hour.
    let saved = saved(&shop, "reassign copies", Some(&start));
    assert!(saved > 20.0, "{saved}");
}

#[test]
fn the_setup_goes_first_for_which_the_hands_are_wanted_more() {
    let rest = "
machines:
  - {id: left, kind: bed, bed: [200, 200], height: 100, loaded: grey}
  - {id: right, kind: bed, bed: [200, 200], height: 100, loaded: grey}
parts:
  - {id: urgent, size: [90, 90, 20], only: [right], grams: 60, minutes: {right: 240}}
  - {id: other, size: [90, 90, 20], only: [left], grams: 60, minutes: {left: 240}}
assemblies:
  - {id: one, parts: {urgent: 1}, due: 2027-01-11 08:00, late: 1440}
  - {id: two, parts: {other: 1}}
";
    let shop = shop("1", rest);
    let (urgent, other) = (item(&shop, 0, 0, 1), item(&shop, 1, 1, 1));
    // At one moment the left machine goes first.
    let start = queue(&shop, &[&[&[(other, 1)]], &[&[(urgent, 1)]]]);
    // Ten minutes at 1 a minute.
    let saved = saved(&shop, "yield hands", Some(&start));
    assert!((saved - 10.0).abs() < 0.01, "{saved}");
}
