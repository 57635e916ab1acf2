//! The search with the master that joins its sheets, which it has from here.

use std::fmt::Write;
use std::path::Path;

use super::join;
use crate::calendar::Calendar;
use crate::routes::routes;
use crate::scenario::{Scenario, read, read_text};
use crate::search::portfolio::{Found, Limit, PooledSheet, Settings, Unwatched, search};
use crate::search::shop::Shop;
use crate::search::snapshot::Snapshot;

/// Costs closer than this are equal: sums of a few hundred terms.
const SAME: f64 = 1e-6;

/// Moves of all chains by the ends of the first round and of the second: 2 × 20,000, and twice as many more.
const ENDS: [u64; 2] = [40_000, 120_000];

/// What the search finds with so many moves, as a plan asks it.
fn found(scenario: &Scenario, moves: u64) -> Found {
    let shop = Shop::new(scenario, Calendar::new(scenario), &routes(scenario));
    let join = |shop: &Shop, best: &Snapshot, pool: &[PooledSheet]| join::join(shop, best, pool);
    let settings = Settings {
        limit: Limit::Moves(moves),
        seed: 1,
        without: &[],
        recombine: Some(&join),
        proven: None,
        least: f64::NEG_INFINITY,
        start: None,
        anew: false,
        apart: true,
        watch: &Unwatched,
    };
    search(&shop, &settings).expect("there is time enough")
}

/// A little before and a little after the end of each round: what ends a round (dating afresh, joining sheets, tidying up, going on
/// from the best queue) never leaves a dearer queue than the round would have had that was cut short.
fn hold_ends_of_rounds(scenario: &Scenario) {
    let mut costs = Vec::new();
    for end in ENDS {
        for moves in [end - 1_000, end + 1_000] {
            let found = found(scenario, moves);
            assert_eq!(found.moves, moves);
            costs.push((moves, found.best.cost()));
        }
    }
    for pair in costs.windows(2) {
        assert!(pair[1].1 <= pair[0].1 + SAME, "{costs:?}");
    }
    // It does look for something.
    assert!(costs[3].1 < costs[0].1, "{costs:?}");
}

#[test]
fn more_moves_across_the_end_of_a_round_never_cost_more_where_hands_are_short() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/tide-clock.yaml");
    hold_ends_of_rounds(&read(&file).expect("an example is right").scenario);
}

#[test]
fn more_moves_across_the_end_of_a_round_never_cost_more_where_chains_share_a_queue() {
    // Four machines, and 130 plates by rule: from 120 on they do.
    let mut text = String::from(
        "
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 5}
bench: {hours: {mon-sun: [\"07:00-22:00\"]}, hands: unlimited}
machines:
",
    );
    // Writing to a String does not fail.
    for (machine, loaded) in ["a", "b", "c", "d"].iter().zip([0, 0, 1, 2]) {
        let _ = writeln!(
            text,
            "  - {{id: {machine}, kind: bed, bed: [200, 200], height: 100, materials: [PLA], loaded: f{loaded}}}"
        );
    }
    text += "filaments:\n";
    for filament in 0..3 {
        let _ = writeln!(
            text,
            "  - {{id: f{filament}, material: PLA, spools: [9000], spool: 9000}}"
        );
    }
    text += "parts:\n";
    for part in 0..13 {
        let (filament, minutes) = (part % 3, 90 + 47 * (part % 7));
        let _ = writeln!(
            text,
            "  - {{id: p{part}, quantity: 10, size: [150, 150, 20], filament: f{filament}, alone: true, grams: 60, \
             minutes: {{a: {minutes}, b: {minutes}, c: {}, d: {minutes}}}}}",
            minutes + 20
        );
    }
    text += "assemblies:\n";
    for (assembly, first, day) in [("one", 0, 16), ("two", 4, 20), ("three", 8, 26)] {
        let last = if first == 8 { 13 } else { first + 4 };
        let parts: Vec<String> = (first..last).map(|part| format!("p{part}: 10")).collect();
        let _ = writeln!(
            text,
            "  - {{id: {assembly}, parts: {{{}}}, due: 2027-01-{day} 18:00, late: 30}}",
            parts.join(", ")
        );
    }
    match read_text("packed.yaml", &text, Path::new(".")) {
        Ok(reading) => hold_ends_of_rounds(&reading.scenario),
        Err(complaints) => panic!("{complaints}"),
    }
}
