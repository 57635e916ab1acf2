//! The pages of each scenario in a real browser. Skipped, with a word, where no browser is found.

mod chart;
#[allow(dead_code, reason = "a benchmark uses the rest of it")]
mod devtools;
mod drawings;
#[path = "../common/hall.rs"]
mod hall;
mod pages;
mod paper;

use std::fs;
use std::path::{Path, PathBuf};

use beamyard::plan::Plan;
use beamyard::planning::{Options, plan};
use beamyard::report;
use beamyard::scenario::{Scenario, read_text};
use beamyard::search::portfolio::Limit;
use serde_json::Value;
use tempfile::{TempDir, tempdir};

/// Moves of the search; the plans need not be good.
const MOVES: u64 = 300;

const SCENARIOS: [&str; 4] = ["first-week", "tide-clock", "footbridge", "quayside-crane"];

fn scenario(name: &str, change: impl Fn(String) -> String) -> Scenario {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let file = format!("{name}.yaml");
    let text = fs::read_to_string(folder.join(&file)).expect("a scenario");
    match read_text(&file, &change(text), &folder) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn planned(scenario: &Scenario) -> Plan {
    let options = Options {
        limit: Some(Limit::Moves(MOVES)),
        ..Options::default()
    };
    match plan(scenario, &options) {
        Ok(planned) => planned.plan,
        Err(none) => panic!("{none:?}"),
    }
}

/// A plan's folder, and where it is.
fn written(scenario: &Scenario, plan: &Plan) -> (TempDir, PathBuf) {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    report::write_folder(
        &out,
        &report::files(scenario, plan, &report::Issue::first(scenario.build.start)),
    )
    .expect("nothing is in the way");
    (above, out)
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// Minutes since 1970 of an RFC 3339 moment.
fn minutes(moment: &Value) -> f64 {
    let moment: chrono::DateTime<chrono::Utc> =
        moment.as_str().expect("text").parse().expect("a moment");
    moment.timestamp() as f64 / 60.0
}
