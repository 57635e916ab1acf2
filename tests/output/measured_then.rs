//! What was weighed is compared with what was estimated of it then: at another scale, with other settings, of a part that was resized since.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use beamyard::estimate::Calibration;
use beamyard::planning::{Options, plan};
use beamyard::report;
use beamyard::scenario::{MachineIndex, Scenario, SettingsIndex, read_text};
use beamyard::search::portfolio::Limit;
use beamyard::shoplog::{Event, Log, Sample, basis, estimated, measured, progress};
use chrono::{DateTime, TimeZone, Utc};
use serde_json::{Value, json};
use tempfile::tempdir;

/// A bar so high, a brick beside it.
fn shop(height: u32, more: &str) -> String {
    format!(
        "build: {{name: Bars, start: 2027-01-11 07:00, timezone: UTC, scale: 1}}\n\
         bench: {{hours: {{mon-sun: [\"07:00-22:00\"]}}}}\n\
         machines: [{{id: one, kind: bed, bed: [300, 300], height: 300}}]\n\
         filaments: [{{id: white, material: PLA, spools: [5000]}}]\n\
         settings: {{draft: {{infill: 5%}}, fine: {{infill: 40%}}}}\n\
         parts:\n\
         - {{id: bar, quantity: 2, model: [200, 60, {height}], settings: draft}}\n\
         - {{id: brick, quantity: 2, model: [100, 50, 20], settings: draft}}\n\
         {more}\n"
    )
}

fn read(text: &str) -> Scenario {
    let reading = read_text("bars.yaml", text, Path::new(""));
    reading.unwrap_or_else(|all| panic!("{all}")).scenario
}

fn factor(scenario: &Scenario) -> f64 {
    let (machine, settings) = (MachineIndex(0), SettingsIndex(0));
    Calibration::new(scenario).grams(machine, settings).factor
}

fn beamyard(folder: &Path, arguments: &[&str]) -> (String, String) {
    let mut program = Command::cargo_bin("beamyard").expect("the program is built");
    let run = program.args(arguments).current_dir(folder).output();
    let run = run.expect("it ran");
    assert!(run.status.success(), "{run:?}");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (text(run.stdout), text(run.stderr))
}

const BAR: &str = "bar";

fn sample() -> Sample {
    Sample {
        part: BAR.to_owned(),
        machine: "one".to_owned(),
        pieces: 1,
        of: 1,
    }
}

fn at(hour: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2027, 1, 12, hour, 0, 0)
        .single()
        .expect("a moment")
}

#[test]
fn a_forecast_at_another_scale_or_with_other_settings_keeps_the_factor_that_was_measured() {
    let bare = tempdir().expect("a temporary folder");
    fs::write(bare.path().join("bars.yaml"), shop(30, "")).expect("a file");
    let grams = estimated(&read(&shop(30, "")), &sample())
        .expect("it is made")
        .grams;
    let row = format!(
        "measured: [{{part: bar, machine: one, grams: {}}}]",
        grams * 1.1
    );
    let weighed = tempdir().expect("a temporary folder");
    fs::write(weighed.path().join("bars.yaml"), shop(30, &row)).expect("a file");
    let expected = factor(&read(&shop(30, &row)));
    assert!(expected > 1.01, "{expected}");
    let told = |folder: &Path, also: &[&str]| -> Vec<f64> {
        let all = [
            &[
                "forecast",
                "bars.yaml",
                "--format",
                "json",
                "--scale",
                "1,1.2",
            ],
            also,
        ]
        .concat();
        let file: Value = serde_json::from_str(&beamyard(folder, &all).0).expect("JSON");
        let cases = file["forecasts"].as_array().expect("forecasts").iter();
        cases
            .map(|case| {
                let grams = &case["figures"]["filaments"][0]["grams"];
                grams.as_f64().expect("a number")
            })
            .collect()
    };
    for (without, with) in told(bare.path(), &[])
        .into_iter()
        .zip(told(weighed.path(), &[]))
    {
        assert!(
            (with / without - expected).abs() < 0.004,
            "{without} {with} {expected}"
        );
    }
    // Of other settings it says a little, as of any that were not measured: less, and in the same direction.
    let fine = ["--settings", "fine"];
    for (without, with) in told(bare.path(), &fine)
        .into_iter()
        .zip(told(weighed.path(), &fine))
    {
        let ratio = with / without;
        assert!(
            ratio > 1.0 && ratio < expected,
            "{without} {with} {expected}"
        );
    }
}

/// A log in which a bar was begun.
fn begun(path: &Path, scenario: &Scenario) -> Log {
    let options = Options {
        limit: Some(Limit::Moves(100)),
        ..Options::default()
    };
    let planned = plan(scenario, &options).unwrap_or_else(|none| panic!("{none:?}"));
    let mut log = Log::open(path, scenario).expect("a log");
    let text = report::json(scenario, &planned.plan);
    log.accept(text, basis(scenario), 0, at(7))
        .expect("accepted");
    let mut runs = planned.plan.runs.iter();
    let bar = runs.find(|run| run.pieces.iter().any(|piece| piece.part.0 == 0));
    let started = Event::Started {
        run: bar.expect("it is printed").id.clone(),
        spool: None,
    };
    log.note(started, at(7), at(7)).expect("begun");
    log
}

#[test]
fn a_part_that_was_resized_after_it_was_weighed_spoils_no_estimate() {
    let folder = tempdir().expect("a temporary folder");
    let before = read(&shop(30, ""));
    let path = folder.path().join("bars.log.sqlite");
    let found = estimated(&before, &sample()).expect("it is made");
    let line = |estimated: Option<Value>| {
        let mut entry = json!({"id": "6f0f7a3e-5b1c-4a52-9d0e-0d5a3c2b1a90", "at": "2027-01-12T08:00:00Z", "noted": "2027-01-12T08:00:00Z", "event": {"weighed": {
            "sample": {"part": BAR, "machine": "one"}, "grams": found.grams * 1.1}}});
        if let Some(estimated) = estimated {
            entry["event"]["weighed"]["estimated"] = estimated;
        }
        entry.to_string()
    };
    let mut log = begun(&path, &before);
    let then = serde_json::to_value(&found).expect("JSON");
    log.import(&line(Some(then)), at(9)).expect("an entry");
    let told = |scenario: &Scenario| {
        let log = Log::read(&path, scenario).expect("a log").expect("it");
        let (progress, _) = progress(scenario, &log, at(10));
        let mut known = scenario.clone();
        known.measured.extend(progress.measured.iter().cloned());
        (factor(&known), progress.unmeasured)
    };
    let (same, other) = (told(&before), told(&read(&shop(90, ""))));
    assert!(same.0 > 1.01, "{same:?}");
    assert!((same.0 - other.0).abs() < 1e-12, "{same:?} {other:?}");
}

#[test]
fn what_an_older_program_noted_counts_only_while_the_scenario_is_what_it_was() {
    let folder = tempdir().expect("a temporary folder");
    let before = read(&shop(30, ""));
    let path = folder.path().join("bars.log.sqlite");
    let mut log = begun(&path, &before);
    let line = json!({"id": "6f0f7a3e-5b1c-4a52-9d0e-0d5a3c2b1a90", "at": "2027-01-12T08:00:00Z", "noted": "2027-01-12T08:00:00Z", "event": {"weighed": {
        "sample": {"part": BAR, "machine": "one"}, "grams": 60.0}}});
    log.import(&line.to_string(), at(9)).expect("an entry");
    let told = |scenario: &Scenario| {
        let log = Log::read(&path, scenario).expect("a log").expect("it");
        let (found, unknown) = measured(scenario, &log);
        (found.len(), unknown)
    };
    assert_eq!(told(&before), (1, 0));
    assert_eq!(told(&read(&shop(90, ""))), (0, 1));
    // And `check` says so.
    fs::write(folder.path().join("bars.yaml"), shop(90, "")).expect("a file");
    let (_, notes) = beamyard(folder.path(), &["check", "bars.yaml"]);
    assert!(
        notes.contains("1 of the log's measurements are not used"),
        "{notes}"
    );
}

#[test]
fn check_and_forecast_use_what_the_log_has_measured_and_a_damaged_log_is_told() {
    let folder = tempdir().expect("a temporary folder");
    let folder = folder.path();
    fs::write(folder.join("bars.yaml"), shop(30, "")).expect("a file");
    let forecast = || beamyard(folder, &["forecast", "bars.yaml", "--format", "json"]).0;
    let without = forecast();
    let before = read(&shop(30, ""));
    let path = folder.join("bars.log.sqlite");
    let found = estimated(&before, &sample()).expect("it is made");
    let line = json!({"id": "6f0f7a3e-5b1c-4a52-9d0e-0d5a3c2b1a90", "at": "2027-01-12T08:00:00Z", "noted": "2027-01-12T08:00:00Z", "event": {"weighed": {
        "sample": {"part": BAR, "machine": "one"}, "grams": found.grams * 1.1, "estimated": found}}});
    let mut log = begun(&path, &before);
    log.import(&line.to_string(), at(9)).expect("an entry");
    drop(log);
    let (check, _) = beamyard(folder, &["check", "bars.yaml"]);
    let said = check.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("1 of them from the log."), "{said}");
    assert_ne!(forecast(), without);
    fs::write(&path, "no log at all, though it is long enough to be one").expect("a file");
    let (_, notes) = beamyard(folder, &["check", "bars.yaml"]);
    assert!(notes.contains("what it measured is not used"), "{notes}");
}

#[test]
fn measurements_that_contradict_the_estimate_are_told_and_widen_the_range() {
    let folder = tempdir().expect("a temporary folder");
    let folder = folder.path();
    // A bar of some 60 g: once 4 g, seven times 300.
    let rows = "- {part: bar, machine: one, grams: 300}\n".repeat(7);
    let rows = format!("measured:\n{rows}- {{part: bar, machine: one, grams: 5}}");
    fs::write(folder.join("bars.yaml"), shop(30, &rows)).expect("a file");
    let (check, _) = beamyard(folder, &["check", "bars.yaml"]);
    let said = check.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("!: measurements contradict the estimate there"),
        "{said}"
    );
    let arguments = ["plan", "bars.yaml", "--effort", "100", "--format", "json"];
    let plan: Value = serde_json::from_str(&beamyard(folder, &arguments).0).expect("JSON");
    let order = &plan["orders"][0];
    let [low, high] = [0, 1].map(|at| order["range"][at].as_f64().expect("a number"));
    let grams = order["grams"].as_f64().expect("a number");
    // Before, it was a tenth to either side.
    assert!(high > 2.0 * grams && low < grams / 2.0, "{order}");
    let cautions = plan["cautions"].to_string();
    assert!(
        cautions.contains("contradicts the estimates (one with draft)"),
        "{cautions}"
    );
}
