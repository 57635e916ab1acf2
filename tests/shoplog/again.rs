//! A build from its log: planned, printed, planned again, to its end.

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;
use tempfile::TempDir;

use crate::bench::LAMP;

struct Shop(TempDir);

impl Shop {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("lamp.yaml"), LAMP).expect("a file");
        Self(folder)
    }

    fn run(&self, arguments: &[&str]) -> (String, String) {
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
    fn plan(&self, now: &str) -> (Value, String) {
        let arguments = [
            "plan", "lamp", "--effort", "200", "--format", "json", "--accept",
        ];
        let log = self.0.path().join("lamp.log.sqlite").exists();
        let now: &[&str] = if log { &["--now", now] } else { &[] };
        let (plan, said) = self.run(&[&arguments[..], now].concat());
        (serde_json::from_str(&plan).expect("JSON"), said)
    }

    fn log(&self, event: &[&str], now: &str) {
        self.run(&[&["log", "lamp"][..], event, &["--now", now]].concat());
    }
}

/// Pieces of a plan, by name.
fn pieces(plan: &Value) -> Vec<String> {
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

fn first<'a>(plan: &'a Value, key: &str) -> &'a str {
    plan["runs"][0][key].as_str().expect("text")
}

#[test]
fn what_is_printed_counts_what_is_scrapped_comes_back_and_the_build_comes_to_its_end() {
    let shop = Shop::new();
    let (mut plan, _) = shop.plan("");
    let wanted = pieces(&plan).len();
    assert_eq!(wanted, 4);
    let mut made = BTreeSet::new();
    let mut runs = 0;
    while !plan["runs"].as_array().expect("runs").is_empty() {
        runs += 1;
        assert!(runs < 12, "it comes to no end");
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
fn now_is_refused_without_a_log() {
    let shop = Shop::new();
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    let output = command
        .args(["plan", "lamp", "--now", "2026-01-05 07:00"])
        .current_dir(shop.0.path())
        .output()
        .expect("it ran");
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8(output.stderr).expect("UTF-8");
    assert!(
        said.starts_with(
            "`--now` is for a scenario with a log, and lamp.log.sqlite: there is no log yet"
        ),
        "{said}"
    );
}

#[test]
fn what_another_plan_could_gain_by_is_heeded_though_the_accepted_one_can_be_followed() {
    let shop = Shop::new();
    let (first, _) = shop.plan("");
    let (same, said) = shop.plan("2026-01-05 07:00");
    assert_eq!(first["runs"], same["runs"], "no news, no change");
    assert!(!said.contains("moves"), "{said}");
    assert!(
        same["bound"].as_f64() > Some(0.0),
        "the kept plan has a bound"
    );

    // The stage is wanted sooner, dearly, and there is a second machine.
    let richer = LAMP
        .replace("filaments:", "  - {id: shelf, kind: bed, bed: [200, 200], height: 200, materials: [PLA]}\nfilaments:")
        .replace("due: 2026-01-20 18:00, late: 5", "due: 2026-01-05 20:00, late: 900");
    fs::write(shop.0.path().join("lamp.yaml"), richer).expect("a file");
    let (next, said) = shop.plan("2026-01-05 07:00");
    let on = |machine: &str| {
        let runs = next["runs"].as_array().expect("runs");
        runs.iter().filter(|run| run["machine"] == machine).count()
    };
    assert!(on("desk") > 0 && on("shelf") > 0, "{next}");
    assert!(said.contains("shelf"), "what changed is told: {said}");
    assert!(next["finish"].as_str() < first["finish"].as_str());
}
