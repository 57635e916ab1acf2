//! What `measured` does to what is shown, and what is said of wrong measurements.

use std::fs;
use std::path::Path;

use beamyard::scenario::{self, Axis};
use beamyard::units::Grams;
use tempfile::tempdir;

fn shop(measured: &str) -> String {
    format!(
        "build: {{name: Bricks, start: 2027-01-11 07:00}}\n\
         machines:\n\
         - {{id: one, kind: bed, bed: [300, 300], height: 200}}\n\
         - {{id: two, kind: bed, bed: [300, 300], height: 200}}\n\
         filaments: [{{id: white, material: PLA, spools: [100]}}]\n\
         parts: [{{id: brick, quantity: 4, size: [100, 50, 20]}}]\n\
         {measured}\n"
    )
}

const THREE: &str = "measured:\n\
    - {part: brick, machine: one, pieces: 2, grams: 110, minutes: 190, date: 2027-01-04, note: first}\n\
    - {part: brick, machine: one, grams: 52}\n\
    - {part: brick, machine: two, lengths: 2, upright: z, minutes: 80}";

fn shown(command: &[&str], measured: &str) -> String {
    let folder = tempdir().expect("a temporary folder");
    fs::write(folder.path().join("bricks.yaml"), shop(measured)).expect("a file");
    let mut program = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    program.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
    let output = program
        .args(command)
        .current_dir(folder.path())
        .output()
        .expect("it ran");
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).expect("UTF-8")
}

#[test]
fn check_shows_by_what_estimates_are_corrected_and_how_sure_they_are() {
    insta::assert_snapshot!(shown(&["check", "bricks.yaml"], THREE));
}

#[test]
fn check_says_how_sure_estimates_are_where_nothing_is_measured() {
    // Grams: e^(−1.2816 · 0.10344) = 0.876, e^(+…) = 1.142. Minutes: √(0.0225 + 0.01 + 0.0225 + 0.04) = 0.30822: 0.674, 1.484.
    let text = shown(&["check", "bricks.yaml"], "");
    let words: Vec<&str> = text.split_whitespace().collect();
    let said = words.join(" ");
    assert!(said.ends_with(
        "Nothing is measured yet: four estimates in five are taken to be off by −12 to +14 % in grams and −33 to +48 % in minutes."
    ), "{said}");
}

#[test]
fn a_plan_shows_between_which_masses_its_filament_stays() {
    let command = ["plan", "bricks.yaml", "--effort", "500"];
    let text = shown(&command, THREE);
    let orders = &text[text.find("── Filament to order").expect("orders")..];
    let end = orders.find("\n\n").unwrap_or(orders.len());
    insta::assert_snapshot!(&orders[..end]);
    let json = shown(&[&command[..], &["--format", "json"]].concat(), THREE);
    let plan: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let order = &plan["orders"][0];
    let range: Vec<f64> = order["range"]
        .as_array()
        .expect("a range")
        .iter()
        .map(|end| end.as_f64().expect("a number"))
        .collect();
    let needed = order["grams"].as_f64().expect("a number");
    assert!(range[0] < needed && needed < range[1], "{order}");
    // Without measurements there is no such key, and no such line.
    assert!(!shown(&[&command[..], &["--format", "json"]].concat(), "").contains("\"range\""));
    assert!(!shown(&command, "").contains("four times in five"));
}

#[test]
fn measurements_are_read() {
    let reading = scenario::read_text("bricks.yaml", &shop(THREE), Path::new(""));
    let scenario = reading
        .unwrap_or_else(|complaints| panic!("{complaints}"))
        .scenario;
    let [first, second, third] = &scenario.measured[..] else {
        panic!("{:?}", scenario.measured);
    };
    assert_eq!((first.part.0, first.machine.0), (0, 0));
    assert_eq!((first.pieces, first.lengths, first.upright), (2, 1, None));
    assert_eq!(
        (first.grams, first.minutes),
        (Some(Grams(110.0)), Some(190.0))
    );
    assert_eq!(
        (second.pieces, second.grams, second.minutes),
        (1, Some(Grams(52.0)), None)
    );
    assert_eq!(
        (third.machine.0, third.lengths, third.upright),
        (1, 2, Some(Axis::Z))
    );
}

#[test]
fn a_wrong_measurement_is_told_with_what_would_be_right() {
    for (written, says) in [
        (
            "{part: brick, machine: one}",
            "measured[#1]: measures nothing; write `grams: 195`",
        ),
        (
            "{part: brik, machine: one, grams: 5}",
            "measured[#1].part: there is no part of this name (found brik); did you mean `brick`?",
        ),
        (
            "{part: brick, machine: three, grams: 5}",
            "measured[#1].machine: there is no machine of this name (found three)",
        ),
        (
            "{part: brick, grams: 5}",
            "measured[#1].machine: is missing",
        ),
        (
            "{part: brick, machine: one, grams: -5}",
            "measured[#1].grams: must be 0.001 to 1000000 g",
        ),
        (
            "{part: brick, machine: one, minutes: .nan}",
            "measured[#1].minutes: must be",
        ),
        (
            "{part: brick, machine: one, grams: 5, upright: q}",
            "measured[#1].upright: must be x or y or z",
        ),
        (
            "{part: brick, machine: one, grams: 5, gram: 5}",
            "did you mean `grams`?",
        ),
        (
            "{part: brick, machine: one, grams: 5, date: yesterday}",
            "measured[#1].date: must be",
        ),
    ] {
        let text = shop(&format!("measured: [{written}]"));
        let complaints =
            scenario::read_text("bricks.yaml", &text, Path::new("")).expect_err(written);
        assert!(
            complaints.to_string().contains(says),
            "{written}: {complaints}"
        );
    }
}

#[test]
fn a_measurement_ten_times_off_is_warned_of_where_it_stands() {
    // 100 × 50 × 20 mm of white: 31.2 g a brick by the estimate, 62.4 g the two.
    let said = |measured: &str| {
        let folder = tempdir().expect("a temporary folder");
        fs::write(folder.path().join("bricks.yaml"), shop(measured)).expect("a file");
        let mut program = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
        program.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
        let output = program
            .args(["check", "bricks.yaml"])
            .current_dir(folder.path())
            .output()
            .expect("it ran");
        assert!(output.status.success(), "{output:?}");
        String::from_utf8(output.stderr).expect("UTF-8")
    };
    assert_eq!(said(THREE), "");
    let odd =
        said("measured:\n    - {part: brick, machine: one, pieces: 2, grams: 2, minutes: 190}");
    let told = "warning: measured[#1].grams: is more than ten times as much as is estimated, or less than a tenth: ";
    assert!(odd.starts_with(told), "{odd}");
    assert!(odd.contains("bricks.yaml:8:53"), "{odd}");
    assert!(odd.contains("found 2 g"), "{odd}");
    assert!(!odd.contains("].minutes"), "{odd}");
}
