//! The command line: statuses, streams, the folder.

use std::fs;
use std::path::PathBuf;
use std::process::{Output, Stdio};

use beamyard::cli::plan::{Arguments, Limit, Search, run};
use beamyard::cli::{Screen, Stop};
use beamyard::plan::{Cost, Plan};
use beamyard::scenario::Scenario;
use beamyard::units::Money;
use clap::{Args, Command, FromArgMatches};
use tempfile::{TempDir, tempdir};

const SHELF: &str = r##"
build: {name: Shelf lamp, start: 2027-01-11 07:00, timezone: Europe/Oslo}
currency: EUR
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines:
  - {id: desk, kind: bed, bed: [200, 200], height: 200, materials: [PLA]}
filaments:
  - {id: white, material: PLA, colour: "#ffffff", density: 1.24, price_kg: 20, spools: [1000], spool: 1000}
settings:
  light: {layer: 0.3, line: 0.65, perimeters: 2, top: 3, bottom: 2, infill: 5%}
parts:
  - {id: foot, size: [LENGTH, 80, 20], filament: white, settings: light}
assemblies:
  - {id: lamp, parts: {foot: 1}}
"##;

/// A folder with `lamp.yaml`, a lamp on a foot so many millimetres long.
fn lamp(length: u32) -> (TempDir, PathBuf) {
    let folder = tempdir().expect("a temporary folder");
    let file = folder.path().join("lamp.yaml");
    fs::write(&file, SHELF.replace("LENGTH", &length.to_string())).expect("a file");
    (folder, file)
}

fn beamyard() -> assert_cmd::Command {
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    command.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

fn check(file: &PathBuf) -> Output {
    beamyard().arg("check").arg(file).output().expect("it ran")
}

#[test]
fn a_good_scenario_ends_with_0_and_its_table_on_standard_output() {
    let (_folder, file) = lamp(180);
    let output = check(&file);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("foot"));
    assert_eq!(text(&output.stderr), "");
}

#[test]
fn a_part_that_cannot_be_made_ends_with_1_after_the_table() {
    // 500 mm on a bed of 200: neither square nor on the diagonal.
    let (_folder, file) = lamp(500);
    let output = check(&file);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stdout).contains("cannot be made"));
    assert!(text(&output.stderr).contains("cannot be made: foot"));
}

#[test]
fn a_wrong_scenario_ends_with_1_and_its_complaints_on_standard_error() {
    let (_folder, file) = lamp(180);
    let wrong = SHELF.replace("density: 1.24", "density: heavy");
    fs::write(&file, wrong).expect("a file");
    let output = check(&file);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(text(&output.stdout), "");
    assert!(
        text(&output.stderr).contains("density"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn a_missing_scenario_ends_with_1() {
    let output = check(&PathBuf::from("there/is/none.yaml"));
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("there/is/none.yaml"));
}

#[test]
fn wrong_usage_ends_with_2_and_help_with_0() {
    let ends = |arguments: &[&str]| {
        let output = beamyard().args(arguments).output().expect("it ran");
        (output.status.code(), output.stdout.is_empty())
    };
    assert_eq!(ends(&[]), (Some(2), true));
    assert_eq!(ends(&["check"]), (Some(2), true));
    assert_eq!(ends(&["chekc", "lamp.yaml"]), (Some(2), true));
    assert_eq!(ends(&["--help"]), (Some(0), false));
    assert_eq!(ends(&["--version"]), (Some(0), false));
}

#[test]
fn what_is_not_written_to_a_terminal_has_no_colour() {
    let (_folder, file) = lamp(500);
    let output = check(&file);
    assert!(!output.stdout.contains(&b'\x1b') && !output.stderr.contains(&b'\x1b'));
}

#[test]
fn no_colour_is_honoured_even_where_colour_would_be() {
    let (_folder, file) = lamp(180);
    let coloured = |no_color: bool| {
        let mut command = beamyard();
        command.arg("check").arg(&file).env("CLICOLOR_FORCE", "1");
        if no_color {
            command.env("NO_COLOR", "1");
        }
        command.output().expect("it ran").stdout.contains(&b'\x1b')
    };
    assert!(coloured(false));
    assert!(!coloured(true));
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let (_folder, file) = lamp(180);
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("beamyard"))
        .arg("check")
        .arg(&file)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_eq!(text(&output.stderr), "");
}

/// A plan in which nothing is printed.
fn nothing(scenario: &Scenario, search: Search) -> Plan {
    Plan {
        seed: search.seed,
        cost: Cost::default(),
        bound: Money::ZERO,
        decided: Money::ZERO,
        finish: scenario.build.start,
        runs: Vec::new(),
        routes: Vec::new(),
        gluings: Vec::new(),
        assemblies: Vec::new(),
        spare_work: Vec::new(),
        orders: Vec::new(),
        cautions: Vec::new(),
    }
}

fn arguments(words: &[&str]) -> Result<Arguments, clap::Error> {
    let command = Arguments::augment_args(Command::new("plan").no_binary_name(true));
    Arguments::from_arg_matches(&command.try_get_matches_from(words)?)
}

/// What `plan` writes to its two streams with a planner that plans nothing, and how it ends.
fn planned(words: &[&str]) -> (Result<(), Stop>, String, String, Option<Search>) {
    let arguments = arguments(words).expect("right usage");
    let (mut out, mut notes) = (Vec::new(), Vec::new());
    let mut asked = None;
    let mut screen = Screen::plain(&mut out, &mut notes, 80);
    let ended = run(&arguments, &mut screen, |scenario, search, _| {
        asked = Some(search);
        Ok(nothing(scenario, search))
    });
    (ended, text(&out), text(&notes), asked)
}

fn path(file: &std::path::Path) -> &str {
    file.to_str().expect("a temporary path is UTF-8")
}

#[test]
fn the_search_is_limited_as_the_user_asks() {
    let (_folder, file) = lamp(180);
    let asked = |options: &[&str]| planned(&[&[path(&file)], options].concat()).3;
    let search = |limit, seed| Some(Search { limit, seed });
    assert_eq!(asked(&[]), search(Limit::Usual, 1));
    assert_eq!(
        asked(&["--effort", "500", "--seed", "7"]),
        search(Limit::Moves(500), 7)
    );
    assert_eq!(asked(&["--seconds", "30"]), search(Limit::Seconds(30), 1));
    assert!(arguments(&["lamp.yaml", "--seconds", "30", "--effort", "5"]).is_err());
    assert!(arguments(&["lamp.yaml", "--seconds", "0"]).is_err());
}

#[test]
fn the_plan_is_shown_in_the_format_asked_for() {
    let (_folder, file) = lamp(180);
    let shown = |format: &str| planned(&[path(&file), "--format", format]).1;
    assert!(shown("table").starts_with("Shelf lamp\n"));
    assert!(shown("json").starts_with("{\n  \"version\": 1"));
    assert!(shown("csv").starts_with("run,machine,"));
}

#[test]
fn the_folder_holds_the_plan_in_all_three_forms() {
    let (folder, file) = lamp(180);
    let out = folder.path().join("out");
    let (ended, shown, notes, _) = planned(&[path(&file), "--out", path(&out)]);
    assert_eq!(ended, Ok(()));
    assert!(shown.starts_with("Shelf lamp\n"));
    assert!(notes.contains(path(&out)));
    for name in ["plan.json", "queue.csv", "plan.txt"] {
        assert!(out.join(name).exists(), "{name}");
    }
}

#[test]
fn a_folder_that_is_not_ours_is_refused_before_the_search() {
    let (folder, file) = lamp(180);
    let out = folder.path().join("out");
    fs::create_dir(&out).expect("a folder");
    let (ended, shown, _, asked) = planned(&[path(&file), "--out", path(&out)]);
    assert!(matches!(ended, Err(Stop::Failed(_))), "{ended:?}");
    assert_eq!((shown.as_str(), asked), ("", None));
}

#[test]
fn where_no_plan_exists_nothing_is_shown_or_written() {
    let (folder, file) = lamp(180);
    let out = folder.path().join("out");
    let arguments = arguments(&[path(&file), "--out", path(&out)]).expect("right usage");
    let (mut shown, mut notes) = (Vec::new(), Vec::new());
    let mut screen = Screen::plain(&mut shown, &mut notes, 80);
    let ended = run(&arguments, &mut screen, |_, _, _| {
        Err("foot fits no machine".into())
    });
    assert_eq!(ended, Err(Stop::Failed("foot fits no machine".into())));
    assert_eq!(text(&shown), "");
    assert!(!out.exists());
}
