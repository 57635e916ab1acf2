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

/// A command on the posts, at this moment; what it says.
fn command(folder: &std::path::Path, arguments: &[&str], now: &str, good: bool) -> String {
    let mut command = Command::cargo_bin("beamyard").expect("the program is built");
    let run = command
        .args(arguments)
        .args(["--now", now])
        .current_dir(folder);
    let output = run.output().expect("it runs");
    let told = [output.stdout, output.stderr].concat();
    let told = String::from_utf8_lossy(&told).into_owned();
    assert_eq!(output.status.success(), good, "{arguments:?}: {told}");
    told
}

#[test]
fn once_one_is_chosen_the_rest_is_named_so_and_what_cannot_be_used_is_printed_again() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let folder = folder.path();
    fs::write(folder.join("posts.yaml"), POSTS).expect("a file");
    let plan = |now: &str| {
        let arguments = [
            "plan",
            "posts.yaml",
            "--effort",
            "200",
            "--out",
            "week",
            "--accept",
        ];
        command(folder, &arguments, now, true);
        let text = fs::read_to_string(folder.join("week/plan.json")).expect("a plan");
        serde_json::from_str::<Value>(&text).expect("JSON")
    };
    let log = |arguments: &[&str], now: &str, good: bool| {
        let all = [&["log", "posts.yaml"], arguments].concat();
        command(folder, &all, now, good)
    };
    plan("2027-01-11 07:00");
    log(&["started", "desk"], "2027-01-11 07:30", true);
    log(&["finished", "desk"], "2027-01-11 16:00", true);
    let told = log(&["approved", "post"], "2027-01-11 16:10", false);
    assert!(
        told.contains("post has several variants: tight, loose"),
        "{told}"
    );
    let told = log(&["approved", "post", "tight"], "2027-01-11 16:10", true);
    assert!(
        told.contains("note `lost post:2` if you cannot use it"),
        "{told}"
    );
    let names = |plan: &Value| -> Vec<String> {
        let runs = plan["runs"].as_array().expect("runs").iter();
        let pieces = runs.flat_map(|run| run["pieces"].as_array().expect("pieces"));
        let names = pieces.map(|piece| variant(piece).map_or("none", |(name, _)| name).to_owned());
        names.collect()
    };
    // Four are wanted, of which two are there.
    assert_eq!(names(&plan("2027-01-11 16:15")), ["tight", "tight"]);
    for file in ["report.html", "day-sheets.html", "queue.csv", "plan.txt"] {
        let text = fs::read_to_string(folder.join("week").join(file)).expect(file);
        assert!(
            text.contains("tight"),
            "{file} does not say which post is to be printed"
        );
    }
    let told = log(
        &["lost", "post:2", "--why", "too loose"],
        "2027-01-11 16:20",
        true,
    );
    assert!(told.contains("lost: post:2 (too loose)"), "{told}");
    // The third is printed again as what was chosen, and under a number that no variant had.
    let again = plan("2027-01-11 16:25");
    assert_eq!(names(&again), ["tight", "tight", "tight"]);
    let told = log(&["show"], "2027-01-11 16:30", true);
    assert!(told.contains("lost: post:2 (too loose)"), "{told}");
}
