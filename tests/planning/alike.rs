//! Machines that are alike print runs that are alike, and leave spools with the same mass on each other's machines.

use std::fmt::Write;
use std::path::Path;

use beamyard::planning::{Options, plan};
use beamyard::scenario::read_text;
use beamyard::search::portfolio::Limit;

/// So many machines alike, two colours, parts of which four fill a plate.
fn hall(machines: usize, parts: usize, copies: usize, spools: &str) -> String {
    let mut text = String::from(
        "build: {name: Hall, start: 2027-01-11 07:00, timezone: Europe/Oslo}\n\
         bench: {hands: unlimited, hours: {mon-sun: [\"07:00-22:00\"]}}\nmachines:\n",
    );
    // Writing to a String does not fail.
    for m in 0..machines {
        let loaded = ["moss", "sky"][m % 2];
        let _ = writeln!(
            text,
            "  - {{id: m{m}, kind: bed, bed: [220, 220], height: 200, loaded: {loaded}}}"
        );
    }
    let _ = writeln!(
        text,
        "filaments:\n  - {{id: moss, material: PLA, spools: {spools}, spool: 2000}}\n  \
         - {{id: sky, material: PLA, spools: {spools}, spool: 2000}}\nparts:"
    );
    for p in 0..parts {
        let _ = writeln!(
            text,
            "  - {{id: panel-{p}, quantity: {copies}, size: [101, 101, {}], solid: 0.3, filament: {}, lie: [z]}}",
            40 + p % 3 * 10,
            ["moss", "sky"][p % 2]
        );
    }
    text
}

#[test]
fn a_spool_that_is_like_another_may_be_either() {
    for (machines, parts) in [(6, 6), (8, 12), (12, 24)] {
        for spools in ["[]", "[1000, 1000]", "[500, 500, 500, 500]"] {
            for seed in [1, 2, 3] {
                let text = hall(machines, parts, 24, spools);
                let scenario = match read_text("hall.yaml", &text, Path::new("")) {
                    Ok(reading) => reading.scenario,
                    Err(complaints) => panic!("{complaints}"),
                };
                let options = Options {
                    limit: Some(Limit::Moves(200)),
                    seed,
                    ..Options::default()
                };
                // A plan comes out only if its audit finds nothing.
                if let Err(none) = plan(&scenario, &options) {
                    panic!("{machines} machines, {parts} parts, {spools}, seed {seed}: {none:?}");
                }
            }
        }
    }
}
