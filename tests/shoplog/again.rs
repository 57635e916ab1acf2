//! A build from its log: planned, printed, planned again, to its end.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use serde_json::Value;
use tempfile::TempDir;

use crate::bench::LAMP;

pub struct Shop(pub TempDir);

impl Shop {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("lamp.yaml"), LAMP).expect("a file");
        Self(folder)
    }

    pub fn run(&self, arguments: &[&str]) -> (String, String) {
        let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
        let output = command
            .args(arguments)
            .current_dir(self.0.path())
            .output()
            .expect("it ran");
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
        assert!(
            output.status.success(),
            "{arguments:?}\n{}",
            text(&output.stderr)
        );
        (text(&output.stdout), text(&output.stderr))
    }

    /// The plan from a moment, accepted; and what was said besides.
    pub fn plan(&self, now: &str) -> (Value, String) {
        let arguments = [
            "plan", "lamp", "--effort", "200", "--format", "json", "--accept",
        ];
        let log = self.0.path().join("lamp.log.sqlite").exists();
        let now: &[&str] = if log { &["--now", now] } else { &[] };
        let (plan, said) = self.run(&[&arguments[..], now].concat());
        (serde_json::from_str(&plan).expect("JSON"), said)
    }

    pub fn log(&self, event: &[&str], now: &str) {
        self.run(&[&["log", "lamp"][..], event, &["--now", now]].concat());
    }
}

/// Pieces of a plan, by name.
pub fn pieces(plan: &Value) -> Vec<String> {
    let runs = plan["runs"].as_array().expect("runs").iter();
    let pieces = runs.flat_map(|run| run["pieces"].as_array().expect("pieces"));
    pieces
        .map(|piece| {
            format!(
                "{}:{}",
                piece["part"].as_str().expect("a part"),
                piece["number"]
            )
        })
        .collect()
}

pub fn first<'a>(plan: &'a Value, key: &str) -> &'a str {
    plan["runs"][0][key].as_str().expect("text")
}

#[test]
fn what_is_printed_counts_what_is_scrapped_comes_back_and_the_build_comes_to_its_end() {
    let shop = Shop::new();
    let (mut plan, _) = shop.plan("");
    let wanted = pieces(&plan).len();
    assert_eq!(wanted, 4);
    let mut made = BTreeSet::new();
    let mut called = BTreeMap::new();
    let mut runs = 0;
    while !plan["runs"].as_array().expect("runs").is_empty() {
        runs += 1;
        assert!(runs < 12, "it comes to no end");
        for run in plan["runs"].as_array().expect("runs") {
            let only = serde_json::json!({"runs": [run]});
            let mut parts: Vec<String> = pieces(&only)
                .iter()
                .map(|piece| piece.split(':').next().expect("a part").to_owned())
                .collect();
            parts.sort();
            let id = run["id"].as_str().expect("a name").to_owned();
            let before = called.insert(id.clone(), parts.clone());
            assert!(
                before.is_none_or(|before| before == parts),
                "{id} means another run now"
            );
        }
        let (start, end) = (
            first(&plan, "start").to_owned(),
            first(&plan, "end").to_owned(),
        );
        let on: Vec<String> = {
            let only = serde_json::json!({"runs": [plan["runs"][0]]});
            pieces(&only)
        };
        shop.log(&["started", "desk"], &start);
        // Every third goes wrong.
        if runs % 3 == 1 {
            shop.log(&["scrapped", "desk", "--why", "warped"], &end);
        } else {
            shop.log(&["finished", "desk"], &end);
            for piece in on {
                assert!(made.insert(piece.clone()), "{piece} twice");
            }
        }
        let (next, said) = shop.plan(&end);
        assert!(said.contains("planning what is left from "), "{said}");
        let left = pieces(&next);
        assert_eq!(left.len() + made.len(), wanted);
        assert!(
            left.iter().all(|piece| !made.contains(piece)),
            "{left:?} {made:?}"
        );
        plan = next;
    }
    assert_eq!(made.len(), wanted);
}

#[test]
fn a_run_that_prints_stands_and_nothing_begins_before_now() {
    let shop = Shop::new();
    let (plan, _) = shop.plan("");
    let start = first(&plan, "start").to_owned();
    let running = first(&plan, "id").to_owned();
    shop.log(&["started", "desk"], &start);
    let (next, _) = shop.plan(&start);
    let moment = |value: &Value, key: &str| {
        let text = value[key].as_str().expect("a moment");
        chrono::DateTime::parse_from_rfc3339(text).expect("RFC 3339")
    };
    let end = moment(&plan["runs"][0], "end");
    for run in next["runs"].as_array().expect("runs") {
        assert_ne!(run["id"].as_str(), Some(running.as_str()));
        assert!(moment(run, "setup") >= end, "{run}");
    }
    shop.log(&["finished", "desk"], &end.to_rfc3339());
}

#[test]
fn what_the_scenario_has_changed_is_told_and_planned() {
    let shop = Shop::new();
    shop.plan("");
    let more = LAMP.replace("quantity: 2, spares: 1", "quantity: 2, spares: 2");
    fs::write(shop.0.path().join("lamp.yaml"), more).expect("a file");
    let (next, said) = shop.plan("2026-01-05 07:00");
    assert!(
        said.contains("part shade: 4 copies are wanted, 3 were planned"),
        "{said}"
    );
    assert_eq!(pieces(&next).len(), 5);
}

#[test]
fn a_first_plan_begins_at_the_start_or_where_that_is_past_at_the_moment_that_is_said() {
    let shop = Shop::new();
    let plan = |now: &[&str]| {
        let arguments = ["plan", "lamp", "--effort", "200", "--format", "json"];
        let (plan, _) = shop.run(&[&arguments[..], now].concat());
        serde_json::from_str::<Value>(&plan).expect("JSON")
    };
    let usual = plan(&[]);
    assert_eq!(plan(&["--now", "2026-01-05 07:00"]), usual);
    assert_eq!(plan(&["--now", "2025-12-20 07:00"]), usual);
    let late = plan(&["--now", "2026-01-07 10:00"]);
    assert!(first(&late, "setup") >= "2026-01-07T10:00:00+01:00");
    // It is accepted at that moment, so that what follows can be rehearsed.
    let arguments = [
        "plan",
        "lamp",
        "--effort",
        "200",
        "--accept",
        "--now",
        "2026-01-05 07:00",
    ];
    shop.run(&arguments);
    let (shown, _) = shop.run(&["log", "lamp", "show"]);
    assert!(shown.contains("Mon 5 Jan 07:00"), "{shown}");
}

/// A build of several days: only the runs of the first are firm.
fn long_lamp() -> String {
    LAMP.replace("quantity: 2, spares: 1", "quantity: 9")
        .replace("shade: 2}", "shade: 9}")
        .replace(
            "due: 2026-01-20 18:00, late: 5",
            "due: 2026-01-06 20:00, late: 900",
        )
        .replace("spools: [1000]", "spools: [2000, 2000]")
}

fn with_shelf(lamp: &str) -> String {
    let shelf = "  - {id: shelf, kind: bed, bed: [200, 200], height: 200, materials: [PLA]}\n";
    lamp.replace("filaments:", &format!("{shelf}filaments:"))
}

fn on_shelf(plan: &Value) -> usize {
    let runs = plan["runs"].as_array().expect("runs");
    runs.iter().filter(|run| run["machine"] == "shelf").count()
}

#[test]
fn what_another_plan_could_gain_by_is_heeded_though_the_accepted_one_can_be_followed() {
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    fs::write(&scenario, long_lamp()).expect("a file");
    let (first, _) = shop.plan("");
    let (same, _) = shop.plan("2026-01-05 07:00");
    assert_eq!(first["runs"], same["runs"], "no news, no change");
    assert!(
        same["bound"].as_f64() > Some(0.0),
        "the kept plan has a bound"
    );

    fs::write(&scenario, with_shelf(&long_lamp())).expect("a file");
    let (next, _) = shop.plan("2026-01-05 07:00");
    assert!(on_shelf(&next) > 0, "{next}");
    let changes = next["changes"].as_array().expect("changes");
    let told = changes.iter().filter_map(|change| change["why"].as_str());
    assert!(
        told.into_iter().any(|why| why.contains("shelf")),
        "{changes:?}"
    );
    let total = |plan: &Value| plan["cost"]["total"].as_f64().expect("money");
    assert!(
        total(&next) < total(&same),
        "{} {}",
        total(&next),
        total(&same)
    );
}

#[test]
fn a_plan_that_can_be_followed_is_not_changed_for_a_dearer_one() {
    // One spool: the second machine has nothing to print from while the first does.
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    let one_spool = long_lamp().replace("spools: [2000, 2000]", "spools: [4000]");
    fs::write(&scenario, &one_spool).expect("a file");
    let (first, _) = shop.plan("");
    fs::write(&scenario, with_shelf(&one_spool)).expect("a file");
    let (next, _) = shop.plan("2026-01-05 07:00");
    let total = |plan: &Value| plan["cost"]["total"].as_f64().expect("money");
    assert!(
        total(&next) <= total(&first) + 0.005,
        "{} {}",
        total(&next),
        total(&first)
    );
}

#[test]
fn what_is_refused_makes_no_log_and_leaves_the_plan_as_it_was() {
    let shop = Shop::new();
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    let output = command
        .args(["log", "lamp", "started", "desk-001"])
        .current_dir(shop.0.path())
        .output()
        .expect("it ran");
    assert_eq!(output.status.code(), Some(1));
    assert!(!shop.0.path().join("lamp.log.sqlite").exists());
}

#[test]
fn a_log_without_deeds_is_planned_from_any_moment() {
    let shop = Shop::new();
    shop.log(&["note", "the desk stands"], "2026-01-05 08:00");
    let (plan, _) = shop.plan("2026-01-05 10:00");
    assert!(first(&plan, "setup") >= "2026-01-05T10:00:00+01:00");
}

#[test]
fn a_machine_that_is_back_early_is_used_where_that_pays() {
    let shop = Shop::new();
    fs::write(shop.0.path().join("lamp.yaml"), with_shelf(&long_lamp())).expect("a file");
    shop.log(
        &["down", "shelf", "--until", "2026-01-19 12:00"],
        "2026-01-05 07:00",
    );
    let (without, _) = shop.plan("2026-01-05 07:00");
    assert_eq!(on_shelf(&without), 0, "it is out of order for two weeks");
    shop.log(&["up", "shelf"], "2026-01-05 07:10");
    let (with, _) = shop.plan("2026-01-05 07:10");
    assert!(on_shelf(&with) > 0, "{with}");
}

#[test]
fn what_is_built_in_is_gone_by_count_whatever_it_was_printed_for() {
    const PINS: &str = r#"
build: {name: Pins, start: 2026-01-05 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["07:00-22:00"]}, hands: unlimited}
machines: [{id: desk, kind: bed, bed: [100, 100], height: 100, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts: [{id: pin, size: [60, 60, 20], quantity: 4, filament: grey, alone: true}]
assemblies:
  - {id: a, parts: {pin: 2}, due: 2026-01-06 18:00, late: 50}
  - {id: b, parts: {pin: 2}, due: 2026-01-09 18:00, late: 1}
"#;
    let shop = Shop::new();
    fs::write(shop.0.path().join("lamp.yaml"), PINS).expect("a file");
    let (plan, _) = shop.plan("");
    let runs = plan["runs"].as_array().expect("runs").clone();
    assert_eq!(runs.len(), 4);
    // The second is lost; the third, which was for b, goes into a.
    for (at, run) in runs.iter().take(3).enumerate() {
        let text = |key: &str| run[key].as_str().expect("text");
        shop.log(&["started", text("id")], text("start"));
        let end = if at == 1 { "scrapped" } else { "finished" };
        shop.log(&[end, text("id")], text("end"));
    }
    let end = runs[2]["end"].as_str().expect("a moment");
    shop.log(&["assembly", "complete", "a"], end);
    let (mut plan, _) = shop.plan(end);
    assert_eq!(pieces(&plan).len(), 2, "b needs two");
    let mut turns = 0;
    while !plan["runs"].as_array().expect("runs").is_empty() {
        turns += 1;
        assert!(turns < 5);
        let (start, end) = (
            first(&plan, "start").to_owned(),
            first(&plan, "end").to_owned(),
        );
        shop.log(&["started", "desk"], &start);
        shop.log(&["finished", "desk"], &end);
        plan = shop.plan(&end).0;
    }
    shop.log(&["assembly", "complete", "b"], "2026-01-12 12:00");
}

#[test]
fn a_printing_run_whose_spool_ends_with_nobody_there_is_marked_and_nothing_follows_it_by_itself() {
    const RAILS: &str = r#"
build: {name: Rails, start: 2026-01-05 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["17:00-21:00"]}}
machines: [{id: desk, kind: belt, section: [100, 100], longest: 700, materials: [PLA], warm_up: 0 s}]
filaments: [{id: grey, material: PLA, spools: [3000, 1000]}]
parts: [{id: rail, size: [600, 40, 40], quantity: 3, filament: grey, alone: true, grams: 400, minutes: {desk: 480}}]
"#;
    let shop = Shop::new();
    fs::write(shop.0.path().join("lamp.yaml"), RAILS).expect("a file");
    let (plan, _) = shop.plan("");
    assert!(plan.get("printing").is_none());
    shop.log(&["started", "desk"], "2026-01-05 17:10");
    shop.log(&["spool", "opened", "grey-1", "desk"], "2026-01-05 17:10");
    shop.log(&["spool", "weighed", "grey-1", "300"], "2026-01-05 17:10");
    // 300 of 400 g are out after six of eight hours. At 17:00 somebody comes, and the last two hours end at 19:00.
    let said = shop
        .run(&[
            "plan",
            "lamp",
            "--now",
            "2026-01-05 17:20",
            "--effort",
            "200",
        ])
        .0;
    assert!(
        said.contains(
            "Spools    desk-001 prints: its spool ends 23:10 with nobody there, and it stands\n          \
             until somebody is; dates include it\n"
        ),
        "{said}"
    );
    let said = said.replace("\n  ", " ");
    let told = "still printing: desk-001 until Tue\u{a0}19:00 (! its spool ends 23:10 with nobody there, and";
    assert!(
        said.replace('\u{a0}', " ")
            .contains(&told.replace('\u{a0}', " ")),
        "{said}"
    );
    let (next, _) = shop.plan("2026-01-05 17:20");
    assert_eq!(
        next["printing"],
        serde_json::json!([{
            "id": "desk-001", "machine": "desk", "filament": "grey",
            "start": "2026-01-05T17:10:00+01:00", "end": "2026-01-06T19:00:00+01:00",
            "stops": "2026-01-05T23:10:00+01:00",
        }])
    );
    assert_eq!(first(&next, "setup"), "2026-01-06T19:00:00+01:00");
}

#[test]
fn a_moment_before_what_the_log_has_is_refused() {
    let shop = Shop::new();
    shop.plan("");
    shop.log(&["started", "desk"], "2026-01-05 07:10");
    shop.log(&["note", "it creaks"], "2026-01-05 08:30");
    let at = |now: &str| {
        let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
        let output = command
            .args(["plan", "lamp", "--effort", "200", "--now", now])
            .current_dir(shop.0.path())
            .output()
            .expect("it ran");
        let said = String::from_utf8(output.stderr).expect("UTF-8");
        (output.status.code(), said)
    };
    let (status, said) = at("2026-01-05 08:29");
    assert_eq!(status, Some(1));
    assert_eq!(
        said,
        "what is left cannot be planned from Mon 5 Jan 2026 08:29: lamp.log.sqlite has something that happened \
         Mon 5 Jan 2026 08:30. Give that moment or a later one: `--now \"2026-01-05 08:30\"`; or undo the entry, if it is \
         wrong\n"
    );
    assert_eq!(at("2026-01-05 08:30").0, Some(0));
    // What was undone did not happen.
    shop.log(&["undo"], "2026-01-05 08:31");
    assert_eq!(at("2026-01-05 08:29").0, Some(0));
}

#[test]
fn orders_that_an_accepted_plan_takes_to_be_sent_are_to_be_noted() {
    let shop = Shop::new();
    let (_, said) = shop.plan("");
    assert!(!said.contains("spool bought"), "{said}");
    // 20 g are on hand, an order takes four days.
    let shop = Shop::new();
    let short = LAMP.replace(
        "spools: [1000], spool: 1000",
        "spools: [20], spool: 1000, lead: 4 d",
    );
    fs::write(shop.0.path().join("lamp.yaml"), short).expect("a file");
    let (_, said) = shop.plan("");
    assert!(
        said.ends_with(
            "the plan takes it that this filament is ordered before it begins; note it when you have ordered it:\n  \
             beamyard log lamp spool bought white --arrives TIME\n"
        ),
        "{said}"
    );
}

/// A build of several days on two machines, with a trial of the shade.
fn two_machines(spools: &str) -> String {
    with_shelf(&long_lamp())
        .replace("spools: [2000, 2000]", &format!("spools: {spools}"))
        .replace("quantity: 9", "quantity: 9, trial: 1")
}

/// What is noted after a plan was accepted, all at one moment within the firm hours, and then planned again from: the changes.
fn changes_after(spools: &str, events: &[&[&str]], edit: impl Fn(String) -> String) -> Vec<Value> {
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    fs::write(&scenario, two_machines(spools)).expect("a file");
    shop.plan("");
    for event in events {
        match event {
            ["plan"] => drop(shop.plan("2026-01-05 07:00")),
            event => shop.log(event, "2026-01-05 07:00"),
        }
    }
    fs::write(&scenario, edit(two_machines(spools))).expect("a file");
    // A plan that comes out has passed its audit.
    let (plan, _) = shop.plan("2026-01-05 07:00");
    assert!(!plan["runs"].as_array().expect("runs").is_empty());
    plan["changes"].as_array().cloned().unwrap_or_default()
}

fn reasons(changes: &[Value]) -> Vec<&str> {
    let why = changes.iter().filter_map(|change| change["why"].as_str());
    why.collect()
}

#[test]
fn nothing_that_happens_while_runs_are_firm_ends_in_no_plan() {
    let same = |text: String| text;
    // What was on the shelf is not: all waits for an order.
    let empty: [&[&str]; 2] = [
        &["spool", "empty", "white-1"],
        &["spool", "empty", "white-2"],
    ];
    let changes = changes_after("[2000, 2000]", &empty, same);
    let waits = |why: &&str| why.starts_with("it waits for white");
    assert!(reasons(&changes).iter().any(waits), "{changes:?}");
    // Both machines want the one spool that is left.
    changes_after("[2000, 2000]", &empty[..1], same);
    // Far less is on them than was thought, and than a run takes.
    let light: [&[&str]; 2] = [
        &["spool", "weighed", "white-1", "30"],
        &["spool", "weighed", "white-2", "12"],
    ];
    changes_after("[2000, 2000]", &light, same);
    // What is on its way comes a week later than was noted.
    let late: [&[&str]; 4] = [
        &[
            "spool",
            "bought",
            "white",
            "4000",
            "--arrives",
            "2026-01-05 12:00",
        ],
        &["plan"],
        &["undo", "2"],
        &[
            "spool",
            "bought",
            "white",
            "4000",
            "--arrives",
            "2026-01-12 12:00",
        ],
    ];
    changes_after("[40]", &late, same);
    // A machine is out of order in the firm hours, for longer, or both are.
    for until in ["2026-01-05 12:00", "2026-01-09 12:00"] {
        let desk: &[&str] = &["down", "desk", "--until", until];
        let shelf: &[&str] = &["down", "shelf", "--until", until];
        changes_after("[2000, 2000]", &[desk], same);
        changes_after("[2000, 2000]", &[desk, shelf], same);
    }
    // A part is wanted no longer.
    let without = |text: String| {
        let lines = text.lines().filter(|line| !line.contains("id: shade"));
        let text: Vec<&str> = lines.collect();
        text.join("\n").replace(", shade: 9", "")
    };
    changes_after("[2000, 2000]", &[], without);
}

#[test]
fn a_trial_that_is_rejected_while_what_waits_for_it_is_firm_is_printed_again_first() {
    let shop = Shop::new();
    fs::write(
        shop.0.path().join("lamp.yaml"),
        two_machines("[2000, 2000]"),
    )
    .expect("a file");
    let (plan, _) = shop.plan("");
    let runs = plan["runs"].as_array().expect("runs").iter();
    let tries = |run: &&Value| {
        let only = serde_json::json!({"runs": [run]});
        pieces(&only).contains(&"shade:1".to_owned())
    };
    let trial = runs.clone().find(tries).expect("a trial").clone();
    let text = |run: &Value, key: &str| run[key].as_str().expect("text").to_owned();
    let before = runs.filter(|run| {
        run["machine"] == trial["machine"] && text(run, "start") <= text(&trial, "start")
    });
    for run in before.cloned().collect::<Vec<Value>>() {
        shop.log(&["started", &text(&run, "id")], &text(&run, "start"));
        shop.log(&["finished", &text(&run, "id")], &text(&run, "end"));
    }
    let end = text(&trial, "end");
    shop.log(&["approved", "shade"], &end);
    shop.plan(&end);
    // On another look it is not right after all.
    shop.log(&["rejected", "shade", "--why", "cracked"], &end);
    let (again, _) = shop.plan(&end);
    let shades = again["runs"]
        .as_array()
        .expect("runs")
        .iter()
        .filter(|run| {
            let only = serde_json::json!({"runs": [run]});
            pieces(&only).iter().any(|piece| piece.starts_with("shade"))
        });
    let first = shades.min_by_key(|run| text(run, "start")).expect("shades");
    assert!(tries(&first), "{first}");
}
