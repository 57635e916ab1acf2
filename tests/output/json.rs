//! `plan.json`: the keys that other programs rely on, and what stands under them.

use beamyard::plan::{CriticalPath, Link, LinkOf, SpareWork, Work};
use beamyard::report::json;
use chrono::{DateTime, Utc};
use serde_json::Value;

use crate::demo;

fn parsed() -> Value {
    let scenario = demo::scenario();
    let text = json(&scenario, &demo::plan(&scenario));
    serde_json::from_str(&text).expect("what is written as JSON reads as JSON")
}

fn keys(value: &Value) -> Vec<&str> {
    let object = value.as_object().expect("an object");
    object.keys().map(String::as_str).collect()
}

fn sorted<const N: usize>(mut keys: [&str; N]) -> Vec<&str> {
    keys.sort_unstable();
    keys.to_vec()
}

#[test]
fn these_keys_and_no_others() {
    let plan = parsed();
    assert_eq!(
        keys(&plan),
        sorted([
            "version",
            "build",
            "currency",
            "seed",
            "cost",
            "bound",
            "gap",
            "finish",
            "runs",
            "routes",
            "assemblies",
            "orders",
            "spares",
            "failures",
            "spans",
            "begins",
            "trials",
            "gluings",
            "spare_work",
            "critical_path",
            "idle",
            "cautions",
            "stopped",
        ])
    );
    assert_eq!(
        keys(&plan["cost"]),
        sorted([
            "total", "late", "standing", "machine", "energy", "bench", "purge", "plastic",
            "hardware",
        ])
    );
    let each = |list: &str, wanted: &[&str]| {
        let rows = plan[list].as_array().expect("a list");
        assert!(!rows.is_empty());
        for row in rows {
            assert_eq!(keys(row), wanted);
        }
    };
    each(
        "runs",
        &sorted([
            "id",
            "machine",
            "filament",
            "swap_from",
            "setup",
            "spool",
            "spool_name",
            "spool_ends",
            "start",
            "end",
            "minutes",
            "grams",
            "pieces",
        ]),
    );
    each(
        "routes",
        &sorted([
            "part", "quantity", "route", "pieces", "machine", "joint", "why",
        ]),
    );
    each(
        "assemblies",
        &sorted([
            "id",
            "printed",
            "start",
            "work",
            "complete",
            "due",
            "late_days",
            "float_hours",
            "mass_g",
            "centre",
            "centre_lacks",
            "one_person_g",
        ]),
    );
    each(
        "spares",
        &sorted([
            "part",
            "quantity",
            "spares",
            "confidence",
            "certainty",
            "exact",
            "together",
        ]),
    );
    each(
        "orders",
        &sorted([
            "filament", "grams", "on_hand", "spools", "order_by", "price",
        ]),
    );
    each(
        "gluings",
        &sorted([
            "part", "number", "assembly", "joint", "printed", "work", "ready",
        ]),
    );
    each("trials", &sorted(["part", "copies", "printed", "approved"]));
    for run in plan["runs"].as_array().expect("a list") {
        for piece in run["pieces"].as_array().expect("a list") {
            assert_eq!(
                keys(piece),
                sorted([
                    "part", "number", "length", "of", "assembly", "x", "y", "turn", "size",
                ])
            );
        }
    }
}

#[test]
fn keys_stand_in_the_documented_order() {
    let scenario = demo::scenario();
    let text = json(&scenario, &demo::plan(&scenario));
    let top: Vec<&str> = text
        .lines()
        .filter_map(|line| line.strip_prefix("  \"")?.split('"').next())
        .collect();
    assert_eq!(
        top,
        [
            "version",
            "build",
            "currency",
            "seed",
            "cost",
            "bound",
            "gap",
            "finish",
            "runs",
            "routes",
            "assemblies",
            "orders",
            "spares",
            "failures",
            "spans",
            "begins",
            "trials",
            "gluings",
            "spare_work",
            "critical_path",
            "idle",
            "cautions",
            "stopped",
        ]
    );
}

#[test]
fn the_parts_of_the_cost_add_up_to_the_total() {
    let plan = parsed();
    let cost = plan["cost"].as_object().expect("an object");
    let hundredths = |value: &Value| (value.as_f64().expect("a number") * 100.0).round() as i64;
    let parts: i64 = cost
        .iter()
        .filter(|(key, _)| *key != "total")
        .map(|(_, value)| hundredths(value))
        .sum();
    // 12.34 + 19.20 + 57.44 + 5.60 + 162.25 + 0.25 + 92.21 + 2.56 = 351.85; exactly it is 351.86.
    assert_eq!(parts, 35185);
    assert_eq!(hundredths(&cost["total"]), parts);
}

#[test]
fn bound_and_gap_are_those_of_what_the_plan_decides() {
    let plan = parsed();
    assert_eq!(plan["bound"], 248.13);
    // (259.649 − 248.137) / 259.649 = 0.0443368.
    assert_eq!(plan["gap"], 0.044337);
}

#[test]
fn what_is_missing_is_null_and_a_change_stays_visible() {
    let plan = parsed();
    let run = |id: &str| {
        let runs = plan["runs"].as_array().expect("a list");
        runs.iter()
            .find(|run| run["id"] == id)
            .expect("a run of this id")
            .clone()
    };
    assert_eq!(run("tall-001")["swap_from"], Value::Null);
    assert_eq!(run("belt-001")["swap_from"], "");
    assert_eq!(run("belt-001")["setup"], "2027-01-15T17:30:00+01:00");
    assert_eq!(run("belt-002")["setup"], Value::Null);
    // The seventh cap is the spare.
    assert_eq!(run("tall-003")["pieces"][2]["assembly"], "pivot");
    assert_eq!(run("tall-003")["pieces"][3]["assembly"], Value::Null);
    assert_eq!(plan["routes"][0]["joint"], "steel-rod");
    assert_eq!(plan["routes"][1]["joint"], Value::Null);
    assert_eq!(plan["assemblies"][0]["due"], Value::Null);
    assert_eq!(plan["orders"][0]["order_by"], Value::Null);
    assert_eq!(plan["orders"][1]["order_by"], "2027-01-08");
}

#[test]
fn what_is_done_by_hand_is_told_with_each_of_its_stretches() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let work = |from: &str, to: &str| Work {
        from: demo::at(from),
        to: demo::at(to),
    };
    let stretches = vec![
        work("2027-01-14 22:00", "2027-01-14 22:30"),
        work("2027-01-15 07:00", "2027-01-15 07:10"),
    ];
    plan.spare_work = vec![SpareWork {
        part: demo::CAP,
        work: stretches.clone(),
    }];
    plan.gluings[0].work = stretches;
    let written: Value = serde_json::from_str(&json(&scenario, &plan)).expect("JSON");
    let told = serde_json::json!([
        {"from": "2027-01-14T22:00:00+01:00", "to": "2027-01-14T22:30:00+01:00"},
        {"from": "2027-01-15T07:00:00+01:00", "to": "2027-01-15T07:10:00+01:00"},
    ]);
    assert_eq!(
        written["spare_work"],
        serde_json::json!([{"part": "cap", "work": told}])
    );
    assert_eq!(
        written["gluings"].as_array().map(Vec::len),
        Some(plan.gluings.len())
    );
    let gluing = &written["gluings"][0];
    assert_eq!(
        (&gluing["part"], &gluing["number"]),
        (&"jib-chord".into(), &1.into())
    );
    assert_eq!(
        (&gluing["joint"], &gluing["work"]),
        (&"steel-rod".into(), &told)
    );
    // Three caps, printed by 16:32; the bench opens at 17:30.
    assert_eq!(
        written["trials"],
        serde_json::json!([{
            "part": "cap", "copies": 3,
            "printed": "2027-01-11T16:32:00+01:00", "approved": "2027-01-11T17:30:00+01:00",
        }])
    );
    for (dates, row) in plan
        .assemblies
        .iter()
        .zip(written["assemblies"].as_array().expect("a list"))
    {
        assert_eq!(row["work"].as_array().map(Vec::len), Some(dates.work.len()));
    }
    assert_eq!(written["begins"], "2027-01-11T07:00:00+01:00");
}

#[test]
fn the_critical_path_is_told_link_by_link() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let link = |what, hands| Link { what, hands };
    plan.critical = Some(CriticalPath {
        links: vec![
            link(LinkOf::Run(0), false),
            link(LinkOf::Joining(0), false),
            link(LinkOf::Assembly(demo::JIB), true),
            link(LinkOf::Assembly(demo::TOWER), false),
        ],
    });
    let written: Value = serde_json::from_str(&json(&scenario, &plan)).expect("JSON");
    let row = |at: usize, key: &str| written["critical_path"][at][key].clone();
    let told: Vec<Value> = (0..4).map(|at| row(at, "what")).collect();
    assert_eq!(told, ["run", "joining", "assembly", "assembly"]);
    assert_eq!(
        (row(0, "id"), row(0, "hands")),
        (plan.runs[0].id.as_str().into(), false.into())
    );
    assert_eq!(
        (row(1, "id"), row(1, "number")),
        ("jib-chord".into(), plan.gluings[0].number.into())
    );
    // What is waited for of the jib is the end of its work, not of its cure.
    let moment = |at: usize| -> DateTime<Utc> {
        row(at, "until")
            .as_str()
            .expect("a moment")
            .parse()
            .expect("RFC 3339")
    };
    let jib = &plan.assemblies[demo::JIB.0];
    assert_eq!(moment(2), jib.work.last().expect("it has work").to);
    assert_eq!(row(2, "hands"), true);
    assert_eq!(moment(3), plan.assemblies[demo::TOWER.0].complete);
}

#[test]
fn a_plan_of_one_run_as_it_is_written() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    plan.runs.truncate(1);
    plan.runs[0].pieces.truncate(1);
    plan.routes.truncate(1);
    plan.assemblies.truncate(2);
    insta::assert_snapshot!(json(&scenario, &plan));
}
