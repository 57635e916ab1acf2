//! What a machine program comes to, on the screen, for other programs, and in a scenario.

use std::fs;
use std::path::Path;

use beamyard::planning::{self, Options};
use beamyard::routes::routes;
use beamyard::scenario;
use beamyard::search::portfolio::Limit;
use tempfile::tempdir;

fn beamyard(arguments: &[&str], folder: &Path) -> (Option<i32>, String, String) {
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    command.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
    let output = command
        .arg("measure")
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("it ran");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn here() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_figures_of_a_program_at_80_columns() {
    let (status, out, err) = beamyard(&["demo-data/rail-clip.gcode"], here());
    assert_eq!((status, err.as_str()), (Some(0), ""));
    insta::assert_snapshot!(out);
}

#[test]
fn the_figures_for_other_programs_are_those_of_one_line_worked_out_by_hand() {
    // 1000 mm of filament of 2.85 mm are 6379.397 mm³, at 1.04 g/cm³ 6.635 g. 100 mm at 50 mm/s and 1000 mm/s²: 2.05 s.
    let folder = tempdir().expect("a temporary folder");
    fs::write(folder.path().join("one.gcode"), "G1 Y100 E1000 F3000\n").expect("a file");
    let arguments = [
        "one.gcode",
        "--format",
        "json",
        "--diameter",
        "2.85",
        "--density",
        "1.04",
    ];
    let (status, out, _) = beamyard(&arguments, folder.path());
    assert_eq!(status, Some(0));
    let found: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(found["filament_mm"], 1000.0);
    assert_eq!(found["volume_mm3"], 6379.397);
    assert_eq!(found["grams"], 6.635);
    assert_eq!(found["seconds"], 2.05);
    assert_eq!(found["high"], serde_json::json!([0.0, 100.0, 0.0]));
}

#[test]
fn a_wrong_line_is_shown_with_its_number_and_what_would_be_right() {
    let folder = tempdir().expect("a temporary folder");
    fs::write(folder.path().join("bad.gcode"), "G1 X5 F600\nG1 Xfive\n").expect("a file");
    let (status, out, err) = beamyard(&["bad.gcode"], folder.path());
    assert_eq!((status, out.as_str()), (Some(1), ""));
    insta::assert_snapshot!(err);
    let (status, _, err) = beamyard(&["none.gcode"], folder.path());
    assert_eq!(status, Some(1));
    assert!(err.contains("there is no such file"), "{err}");
}

#[test]
fn a_wrong_option_and_an_unknown_filament_are_refused() {
    let clip = "demo-data/rail-clip.gcode";
    for number in ["0", "NaN", "-1", "1e9", "thick"] {
        let (status, _, err) = beamyard(&[clip, &format!("--diameter={number}")], here());
        assert_eq!(status, Some(2), "{number}: {err}");
    }
    let scenario = "scenarios/first-week.yaml";
    let (status, _, err) = beamyard(
        &[clip, "--scenario", scenario, "--filament", "blue"],
        here(),
    );
    assert_eq!(status, Some(1));
    assert!(err.contains("take one of"), "{err}");
    assert_eq!(beamyard(&[clip, "--scenario", scenario], here()).0, Some(2));
}

/// A shop of two machines with a part that has a program for the first.
fn shop(more: &str) -> String {
    format!(
        "build: {{start: 2027-01-11 07:00, each_day: 0}}\n\
         bench: {{bench_hour: 0, energy_kwh: 0}}\n\
         machines:\n\
         - {{id: one, kind: bed, bed: [200, 200], height: 200, warm_up: 0 min, hourly: 0, loaded: white}}\n\
         - {{id: two, kind: bed, bed: [200, 200], height: 200, warm_up: 0 min, hourly: 0, loaded: white}}\n\
         filaments: [{{id: white, material: PLA, spools: [1000]}}]\n\
         parts:\n\
         - {{id: clip, quantity: 2, size: [40, 20, 20], {more}}}\n"
    )
}

/// Filament of 1.75 mm at 1.24 g/cm³: 2.405282 · 1.24 = 2.98255 g/m, so 3 m are 8.94765 g; and a wait of ten
/// minutes with next to no move.
const PROGRAM: &str = "G1 X0.001 E3000 F60000\nG4 S600\n";

fn read(more: &str) -> scenario::Scenario {
    let folder = tempdir().expect("a temporary folder");
    fs::write(folder.path().join("clip.gcode"), PROGRAM).expect("a file");
    let reading = scenario::read_text("shop.yaml", &shop(more), folder.path());
    reading
        .unwrap_or_else(|complaints| panic!("{complaints}"))
        .scenario
}

#[test]
fn a_program_takes_the_place_of_the_estimate_on_its_machine_only() {
    let scenario = read("gcode: {one: clip.gcode}");
    let found = routes(&scenario);
    let ways = &found[0].forms[0].ways;
    let (on_one, on_two): (Vec<_>, Vec<_>) = ways.iter().partition(|way| way.machine.0 == 0);
    for way in on_one {
        assert!((way.grams.value() - 8.94765).abs() < 1e-4, "{way:?}");
        assert_eq!((way.alone.value(), way.layers), (11, 0));
    }
    assert!(
        on_two
            .iter()
            .all(|way| (way.grams.value() - 8.94765).abs() > 0.1 && way.layers > 0)
    );
}

#[test]
fn figures_typed_by_hand_take_the_place_of_the_programs() {
    let scenario = read("gcode: {one: clip.gcode}, grams: 12, minutes: {one: 30}");
    let found = routes(&scenario);
    for way in &found[0].forms[0].ways {
        assert!((way.grams.value() - 12.0).abs() < 1e-12);
        assert!(way.machine.0 == 1 || way.alone.value() == 30);
    }
}

#[test]
fn a_plan_knows_that_the_same_part_takes_less_plastic_on_one_machine() {
    // Only plastic costs anything here. On machine two each clip takes what the estimate says; on one, by its program, more than
    // three times the body of its box would: so both are printed on two, and the audit has agreed.
    let heavy = "G1 X0.001 E9000 F60000\n";
    let folder = tempdir().expect("a temporary folder");
    fs::write(folder.path().join("clip.gcode"), heavy).expect("a file");
    let text = shop("gcode: {one: clip.gcode}");
    let scenario = scenario::read_text("shop.yaml", &text, folder.path())
        .expect("it reads")
        .scenario;
    let options = Options {
        limit: Some(Limit::Moves(2000)),
        ..Options::default()
    };
    let planned = planning::plan(&scenario, &options);
    let plan = planned.unwrap_or_else(|none| panic!("{none:?}")).plan;
    assert!(
        plan.runs.iter().all(|run| run.machine.0 == 1),
        "{:?}",
        plan.runs
    );
    // Nothing is decided but that: the bound is the plan's cost.
    assert!(plan.bound.value() <= plan.decided.value() + 1e-9);
}

#[test]
fn a_program_that_cannot_be_measured_is_told_where_it_is_named() {
    let folder = tempdir().expect("a temporary folder");
    fs::write(folder.path().join("bad.gcode"), "G1 X5 F600\nG1 Xfive\n").expect("a file");
    fs::write(folder.path().join("idle.gcode"), "G1 X5 F600\n").expect("a file");
    for (file, says) in [
        (
            "bad.gcode",
            "parts[clip].gcode.one: line 2 of the program: is no number (found Xf in bad.gcode)",
        ),
        (
            "idle.gcode",
            "parts[clip].gcode.one: the program lays nothing (found idle.gcode)",
        ),
        (
            "none.gcode",
            "parts[clip].gcode.one: there is no such file (found none.gcode)",
        ),
        (
            ".",
            "parts[clip].gcode.one: this is a directory, not a file (found .)",
        ),
    ] {
        let text = shop(&format!("gcode: {{one: {file}}}"));
        let complaints = scenario::read_text("shop.yaml", &text, folder.path()).expect_err(file);
        assert!(complaints.to_string().contains(says), "{complaints}");
    }
    let text = shop("gcode: {three: idle.gcode}");
    let complaints =
        scenario::read_text("shop.yaml", &text, folder.path()).expect_err("no machine");
    assert!(
        complaints.to_string().contains("no machine of this name"),
        "{complaints}"
    );
}

#[test]
fn a_table_of_parts_may_name_programs_relative_to_the_scenario() {
    let folder = tempdir().expect("a temporary folder");
    fs::create_dir(folder.path().join("programs")).expect("a folder");
    fs::write(folder.path().join("programs/clip.gcode"), PROGRAM).expect("a file");
    let table = "id,size,gcode\nclip,\"[40, 20, 20]\",\"{one: programs/clip.gcode}\"\n";
    fs::write(folder.path().join("parts.csv"), table).expect("a file");
    let text = shop("x");
    let head = &text[..text.find("parts:").expect("parts")];
    let text = format!("{head}parts_from: parts.csv\n");
    let reading = scenario::read_text("shop.yaml", &text, folder.path());
    let scenario = reading
        .unwrap_or_else(|complaints| panic!("{complaints}"))
        .scenario;
    let program = scenario.parts[0].toolpaths[0].expect("a program");
    assert!((program.grams.value() - 8.94765).abs() < 1e-4);
    assert!((program.minutes - 10.0).abs() < 0.1);
}
