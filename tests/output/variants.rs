//! Variants of a trial: one of each, told apart wherever a piece is named.

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

const POSTS: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines: [{id: desk, kind: bed, bed: [200, 200], height: 150}]
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts:
  - id: post
    size: [40, 40, 20]
    quantity: 4
    variants: [{name: tight, offset: -0.2}, {name: loose, offset: 0.1}]
assemblies: [{id: frame, parts: {post: 4}, due: 2027-01-14 18:00}]
"#;

fn variant(piece: &Value) -> Option<(&str, f64)> {
    let variant = piece.get("variant").filter(|variant| !variant.is_null())?;
    Some((variant["name"].as_str()?, variant["offset"].as_f64()?))
}

#[test]
fn one_of_each_variant_is_printed_first_and_named_in_every_file() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("posts.yaml"), POSTS).expect("a file");
    Command::cargo_bin("beamyard")
        .expect("the program is built")
        .args(["plan", "posts.yaml", "--effort", "200", "--out", "week"])
        .current_dir(folder.path())
        .assert()
        .success();
    let read = |name: &str| fs::read_to_string(folder.path().join("week").join(name)).expect(name);

    let plan: Value = serde_json::from_str(&read("plan.json")).expect("JSON");
    let mut of_trial = Vec::new();
    let mut alike = 0;
    let (mut trial_ends, mut rest_begins) = (String::new(), String::from("9"));
    for run in plan["runs"].as_array().expect("runs") {
        for piece in run["pieces"].as_array().expect("pieces") {
            if let Some(variant) = variant(piece) {
                of_trial.push(variant);
                trial_ends = trial_ends.max(run["end"].as_str().expect("a moment").to_owned());
            } else {
                alike += 1;
                rest_begins = rest_begins.min(run["setup"].as_str().expect("a moment").to_owned());
            }
        }
    }
    of_trial.sort_by(|a, b| a.0.cmp(b.0));
    assert_eq!(of_trial, [("loose", 0.1), ("tight", -0.2)]);
    assert_eq!(alike, 2, "the rest is printed as chosen");
    assert!(trial_ends <= rest_begins, "{trial_ends} {rest_begins}");

    for file in ["report.html", "day-sheets.html", "queue.csv"] {
        let text = read(file);
        for name in ["tight", "loose"] {
            assert!(text.contains(name), "{file} does not name {name}");
        }
    }
}
