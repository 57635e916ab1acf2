//! The command line: statuses, streams, the folder.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};

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

fn check(file: &Path) -> Output {
    beamyard().arg("check").arg(file).output().expect("it ran")
}

#[test]
fn a_good_scenario_ends_with_0_and_its_table_on_standard_output() {
    let (_folder, file) = lamp(180);
    let output = check(&file);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(text(&output.stdout).starts_with("Shelf lamp: no errors\n"));
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
    let told = text(&output.stderr);
    assert!(
        told.contains("error: parts[foot]: no machine can make it"),
        "{told}"
    );
    // Where it is written, and by how much it fails.
    assert!(told.contains("lamp.yaml:"), "{told}");
    assert!(told.contains("x needs 500 mm"), "{told}");
}

#[test]
fn a_part_that_cannot_be_made_is_told_together_with_all_else_that_is_wrong() {
    let (_folder, file) = lamp(500);
    let text_of = fs::read_to_string(&file).expect("a file");
    let wrong = text_of.replace("currency: EUR", "currency: [1]").replace(
        "{id: lamp, parts: {foot: 1}}",
        "{id: lamp, parts: {foot: 2}}",
    );
    fs::write(&file, wrong).expect("a file");
    for command in ["check", "plan", "forecast"] {
        let output = beamyard().arg(command).arg(&file).output().expect("it ran");
        assert_eq!(output.status.code(), Some(1));
        let told = text(&output.stderr);
        for wrong in [
            "currency:",
            "parts[foot].quantity: is less",
            "parts[foot]: no machine can make it",
            "3 errors",
        ] {
            assert!(told.contains(wrong), "{command}: {wrong}: {told}");
        }
    }
    // With a mistake of its own, it might fit once that is mended.
    let wrong = text_of.replace("size: [500,", "lie: [w], size: [500,");
    fs::write(&file, wrong).expect("a file");
    let told = beamyard().arg("plan").arg(&file).output().expect("it ran");
    assert!(!text(&told.stderr).contains("no machine can make it"));
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
    let output = check(Path::new("there/is/none.yaml"));
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

/// How `plan` of a file ends with these options; a search of so few moves ends at once.
fn plan(file: &Path, options: &[&str]) -> Output {
    let limited: &[&str] = if options.contains(&"--seconds") {
        &[]
    } else {
        &["--effort", "50"]
    };
    beamyard()
        .arg("plan")
        .arg(file)
        .args(limited)
        .args(options)
        .output()
        .expect("it ran")
}

#[test]
fn the_plan_is_shown_in_the_format_asked_for() {
    let (_folder, file) = lamp(180);
    let shown = |format: &str| {
        let output = plan(&file, &["--format", format]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        assert_eq!(text(&output.stderr), "");
        text(&output.stdout)
    };
    assert!(shown("table").starts_with("Shelf lamp\n"));
    assert!(shown("json").starts_with("{\n  \"version\": 1"));
    assert!(shown("csv").starts_with("run,machine,"));
}

#[test]
fn the_same_seed_and_effort_give_the_same_plan() {
    let (_folder, file) = lamp(180);
    let shown = |seed: &str| text(&plan(&file, &["--format", "json", "--seed", seed]).stdout);
    assert_eq!(shown("7"), shown("7"));
    assert!(shown("7").contains("\"seed\": 7"));
}

#[test]
fn a_number_below_zero_is_told_what_would_be_right() {
    let (_folder, file) = lamp(180);
    for (command, options, right) in [
        (
            "plan",
            ["--seconds", "-3"],
            "a whole number of seconds above zero",
        ),
        (
            "plan",
            ["--seconds", "0"],
            "a whole number of seconds above zero",
        ),
        (
            "plan",
            ["--effort", "-5"],
            "a whole number of moves, 1 or more",
        ),
        ("plan", ["--seed", "-1"], "a whole number, 0 or more"),
        ("plan", ["--prove", "-5s"], "a number and s, min or h"),
        ("forecast", ["--scale", "-4"], "a scale is 0.001 to 1000"),
    ] {
        let output = beamyard()
            .arg(command)
            .arg(&file)
            .args(options)
            .output()
            .expect("it ran");
        assert_eq!(output.status.code(), Some(2));
        let told = text(&output.stderr);
        assert!(told.contains(right), "{told}");
        assert!(!told.contains("-- "), "{told}");
    }
}

#[test]
fn seconds_and_effort_exclude_each_other_and_are_not_zero() {
    let (_folder, file) = lamp(180);
    for wrong in [
        &["--seconds", "1", "--effort", "5"][..],
        &["--seconds", "0"],
        &["--seconds", "soon"],
        &["--prove", "0s"],
        &["--format", "paper"],
    ] {
        let output = plan(&file, wrong);
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn a_wrong_effort_or_time_is_told_what_is_right() {
    let (_folder, file) = lamp(180);
    let said = |option: &str, value: &str| {
        let output = beamyard()
            .arg("plan")
            .arg(&file)
            .args([option, value])
            .output();
        text(&output.expect("it ran").stderr)
    };
    for wrong in ["x", "0", "1.5"] {
        let told = said("--effort", wrong);
        assert!(told.contains("1 or more"), "{told}");
    }
    assert!(said("--prove", "5").contains("`90s`"));
    assert!(said("--prove", "0s").contains("more than nothing"));
}

#[test]
fn a_time_to_prove_is_taken_with_and_without_blanks() {
    let (_folder, file) = lamp(180);
    for time in ["1s", "1 s"] {
        let output = plan(&file, &["--prove", time]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    }
}

#[test]
#[cfg(unix)]
fn a_folder_that_cannot_be_made_is_named_as_it_was_written() {
    // A file stands where its parent should be.
    let (folder, file) = lamp(180);
    let out = folder.path().join("lamp.yaml").join("out");
    let output = plan(&file, &["--out", path(&out)]);
    let told = text(&output.stderr);
    assert!(told.contains(path(&out)), "{told}");
    assert!(!told.contains(".beamyard-"), "{told}");
}

#[test]
fn the_folder_holds_the_plan_in_all_its_forms() {
    let (folder, file) = lamp(180);
    let out = folder.path().join("out");
    for _ in 0..2 {
        // The second time it replaces its own.
        let output = plan(&file, &["--out", path(&out)]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        assert!(text(&output.stdout).starts_with("Shelf lamp\n"));
        assert!(text(&output.stderr).contains(path(&out)));
    }
    for (name, begins) in [
        ("plan.json", "{"),
        ("queue.csv", "run,"),
        ("plan.txt", "Shelf lamp"),
        ("report.html", "<!DOCTYPE html>"),
        ("day-sheets.html", "<!DOCTYPE html>"),
        ("plates/desk-001.svg", "<?xml"),
    ] {
        let written = fs::read_to_string(out.join(name)).expect(name);
        assert!(written.starts_with(begins), "{name}: {written}");
    }
}

#[test]
fn a_folder_that_is_not_ours_is_refused_before_the_search() {
    let (folder, file) = lamp(180);
    let out = folder.path().join("out");
    fs::create_dir(&out).expect("a folder");
    let output = plan(&file, &["--out", path(&out)]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(text(&output.stdout), "");
    assert!(text(&output.stderr).contains("not written by beamyard"));
}

#[test]
fn where_no_plan_exists_the_reason_is_given_and_nothing_is_shown_or_written() {
    // 500 mm on a bed of 200.
    let (folder, file) = lamp(500);
    let out = folder.path().join("out");
    let output = plan(&file, &["--out", path(&out)]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(text(&output.stdout), "");
    let reason = text(&output.stderr);
    assert!(
        reason.contains("No plan exists") && reason.contains("foot") && reason.contains("desk"),
        "{reason}"
    );
    assert!(!out.exists());
}

fn path(file: &Path) -> &str {
    file.to_str().expect("a temporary path is UTF-8")
}
