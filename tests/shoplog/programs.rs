//! `beamyard log --json`: what other programs are answered.

use std::fs;

use serde_json::{Value, json};

use crate::command::{Bench, text};

fn json_of(line: &str) -> Value {
    serde_json::from_str(line).unwrap_or_else(|error| panic!("{line}: {error}"))
}

#[test]
fn what_was_noted_has_its_number_and_what_is_odd_about_it() {
    let bench = Bench::planned();
    let noted = json_of(&bench.noted("note squeaks --json"));
    assert_eq!(
        (&noted["number"], &noted["warnings"]),
        (&json!(2), &json!([]))
    );
    assert_eq!(noted["event"], json!({"note": {"text": "squeaks"}}));
    bench.noted("spool bought white --arrives 2090-01-01T00:00:00Z --now 2089-12-31T00:00:00Z");
    let noted = json_of(&bench.noted("spool opened white-2 desk --json"));
    assert_eq!(noted["number"], 4);
    let odd = noted["warnings"][0].as_str().expect("text");
    assert!(odd.starts_with("white-2 was to arrive Sun 1 Jan"), "{odd}");
}

#[test]
fn shown_entries_have_their_numbers_and_whether_they_are_undone() {
    let bench = Bench::planned();
    bench.noted("note the door was open");
    bench.noted("down desk --why fan");
    let undone = bench.noted("undo --json");
    assert_eq!(json_of(&undone)["number"], 4);
    let shown = bench.noted("show --last 3 --json");
    let shown: Vec<Value> = shown.lines().map(json_of).collect();
    let told: Vec<(Option<u64>, Option<bool>)> = shown
        .iter()
        .map(|entry| (entry["number"].as_u64(), entry["undone"].as_bool()))
        .collect();
    let (yes, no) = (Some(true), Some(false));
    assert_eq!(told, [(Some(2), no), (Some(3), yes), (Some(4), no)]);
    assert_eq!(shown[2]["event"]["undone"]["id"], shown[1]["id"]);
    assert_eq!(bench.noted("show --json").lines().count(), 4);
}

#[test]
fn what_is_refused_says_what_is_wrong_and_what_would_be_right_apart() {
    let bench = Bench::planned();
    let refused = |arguments: &str| {
        let output = bench.run(&format!("log lamp {arguments} --json"));
        assert_eq!(output.status.code(), Some(1));
        assert!(!output.stderr.is_empty());
        json_of(&text(&output.stdout))
    };
    assert_eq!(
        refused("up desk"),
        json!({"refused": "desk is not down", "fix": "nothing is to be noted"})
    );
    assert_eq!(
        refused("joined foot"),
        json!({"refused": "`foot` names no copy", "fix": "write `chord:2` for copy 2 of chord"})
    );
    assert_eq!(refused("undo 9")["refused"], "there is no entry 9");
    let line = r#"{"at": "2026-01-05T06:30:00Z", "event": {"up": {"machine": "desk"}}}"#;
    fs::write(bench.0.path().join("in.jsonl"), format!("\n{line}\n")).expect("a file");
    let told = refused("import in.jsonl");
    assert_eq!(told["line"], 2);
    assert_eq!(told["refused"], "desk is not down; nothing is to be noted");
    fs::write(bench.0.path().join("lamp.log.sqlite"), "nothing of ours").expect("a file");
    let told = refused("up desk");
    assert_eq!(
        told["failed"],
        "lamp.log.sqlite: it is no log of this program; it was left as it is"
    );
    assert_eq!(
        told["fix"],
        "move it away, with the files of its name that end in `-wal` and `-shm`, if there are any; then put a copy of the log in its place, if you have one"
    );
}

#[test]
fn a_moment_is_given_only_with_what_is_noted() {
    let bench = Bench::planned();
    fs::write(bench.0.path().join("in.jsonl"), "").expect("a file");
    for what in ["import in.jsonl", "export", "show"] {
        let said = bench.refused(&format!("{what} --at 07:00"));
        assert!(
            said.starts_with("`--at` says when what is noted happened"),
            "{said}"
        );
    }
    for what in ["2300-01-01T00:00:00Z", "+262142-12-31T23:30Z"] {
        let said = bench.run(&format!("status lamp --now {what}"));
        assert!(text(&said.stderr).contains("is no moment"), "{what}");
    }
}

#[test]
fn a_setup_says_that_it_waits_for_a_trial_and_changes_the_filament() {
    let bench = Bench::new();
    let lamp = fs::read_to_string(bench.0.path().join("lamp.yaml")).expect("a file");
    let lamp = lamp.replace("quantity: 2, spares: 1,", "quantity: 2, trial: 1,");
    fs::write(bench.0.path().join("lamp.yaml"), lamp).expect("a file");
    let planned = bench.run("plan lamp --effort 200 --accept --now 2026-01-05T06:00:00+01:00");
    assert!(planned.status.success(), "{}", text(&planned.stderr));
    let status = bench.run("status lamp --json --now 2026-01-05T06:30:00+01:00");
    let status = json_of(&text(&status.stdout));
    let next = status["next"].as_array().expect("a list");
    let set_up = next.iter().filter(|next| next["task"] == "set-up");
    let told: Vec<(bool, &str)> = set_up
        .map(|next| {
            let change = next["change"].as_bool().expect("said of each setup");
            (change, next["trial"].as_str().unwrap_or("-"))
        })
        .collect();
    // The machine is empty at first; the second shade waits for the first.
    assert!(
        told[0].0 && told[1..].iter().all(|(change, _)| !change),
        "{told:?}"
    );
    assert!(told.iter().any(|(_, trial)| *trial == "shade"), "{told:?}");
}

#[test]
fn the_log_has_the_plan_that_was_written_byte_for_byte() {
    let bench = Bench::new();
    let planned = bench.run("plan lamp --effort 200 --accept --out out");
    assert!(planned.status.success(), "{}", text(&planned.stderr));
    let entry = json_of(&bench.noted("export"));
    let plan = entry["event"]["plan-accepted"]["plan"].as_str();
    let written = fs::read_to_string(bench.0.path().join("out/plan.json")).expect("a file");
    assert_eq!(plan, Some(written.as_str()));
}
