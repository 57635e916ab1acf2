//! A scenario that is not what it was when its plan was accepted, and spares that follow what the log says.

use std::fs;

use serde_json::Value;

use crate::again::{Shop, first, pieces};
use crate::bench::LAMP;

/// The lamp's scenario with some of its text otherwise; each text is there.
fn lamp(changes: &[(&str, &str)]) -> String {
    changes.iter().fold(LAMP.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    })
}

fn write(shop: &Shop, text: &str) {
    fs::write(shop.0.path().join("lamp.yaml"), text).expect("a file");
}

fn sorted(plan: &Value) -> Vec<String> {
    let mut pieces = pieces(plan);
    pieces.sort();
    pieces
}

/// When each piece that two plans both have is printed, where it is another time in the second.
fn moved(before: &Value, after: &Value) -> Vec<String> {
    let dates = |plan: &Value| -> Vec<(String, Value)> {
        let runs = plan["runs"].as_array().expect("runs").iter();
        let pieces = runs.flat_map(|run| {
            let only = serde_json::json!({"runs": [run]});
            let when = serde_json::json!([run["machine"], run["start"]]);
            pieces(&only)
                .into_iter()
                .map(move |piece| (piece, when.clone()))
        });
        pieces.collect()
    };
    let after = dates(after);
    let elsewhere = |(piece, when): &(String, Value)| {
        after
            .iter()
            .any(|(other, then)| other == piece && then != when)
    };
    let moved = dates(before).into_iter().filter(elsewhere);
    moved.map(|(piece, _)| piece).collect()
}

#[test]
fn a_part_that_is_added_is_told_and_planned_and_what_was_planned_stays() {
    let shop = Shop::new();
    let (before, _) = shop.plan("");
    assert_eq!(sorted(&before), ["foot:1", "shade:1", "shade:2", "shade:3"]);
    let hook =
        "  - {id: hook, quantity: 2, size: [60, 40, 20], filament: white, settings: light}\n";
    write(
        &shop,
        &lamp(&[
            ("assemblies:", &format!("{hook}assemblies:")),
            ("shade: 2}", "shade: 2, hook: 2}"),
        ]),
    );
    let (after, said) = shop.plan("2026-01-05 07:00");
    assert!(said.contains("part hook is new: 2 to print"), "{said}");
    assert_eq!(
        sorted(&after),
        [
            "foot:1", "hook:1", "hook:2", "shade:1", "shade:2", "shade:3"
        ]
    );
    // The bench is open until 22:00: what starts by then is firm.
    let firm = |piece: &String| {
        let runs = before["runs"].as_array().expect("runs").iter();
        let mut runs =
            runs.filter(|run| run["start"].as_str().expect("a moment") < "2026-01-05T22:00");
        runs.any(|run| pieces(&serde_json::json!({"runs": [run]})).contains(piece))
    };
    assert!(pieces(&before).iter().any(firm), "else it says nothing");
    assert!(!moved(&before, &after).iter().any(firm), "{before} {after}");
    // Once it is accepted there is no more to tell.
    let (_, said) = shop.plan("2026-01-05 07:00");
    assert!(!said.contains("hook"), "{said}");
}

#[test]
fn a_quantity_that_is_cut_is_told_and_planned() {
    let one = lamp(&[
        ("quantity: 2, spares: 1", "quantity: 1"),
        ("shade: 2}", "shade: 1}"),
    ]);
    let shop = Shop::new();
    shop.plan("");
    write(&shop, &one);
    let (after, said) = shop.plan("2026-01-05 07:00");
    assert!(
        said.contains("part shade: 1 copies are wanted, 3 were planned"),
        "{said}"
    );
    assert_eq!(sorted(&after), ["foot:1", "shade:1"]);
}

#[test]
fn a_quantity_that_is_cut_to_what_is_printed_leaves_nothing_of_that_part_to_print() {
    let shop = Shop::new();
    let (mut plan, _) = shop.plan("");
    let mut end = String::new();
    let shades = |plan: &Value| {
        let pieces = pieces(plan).into_iter();
        pieces.filter(|piece| piece.starts_with("shade")).count()
    };
    // All but one of the shades.
    while shades(&plan) > 1 {
        let start = first(&plan, "start").to_owned();
        end = first(&plan, "end").to_owned();
        shop.log(&["started", "desk"], &start);
        shop.log(&["finished", "desk"], &end);
        plan = shop.plan(&end).0;
    }
    write(&shop, &lamp(&[("quantity: 2, spares: 1", "quantity: 2")]));
    let (after, said) = shop.plan(&end);
    assert!(
        said.contains("part shade: 2 copies are wanted, 3 were planned"),
        "{said}"
    );
    assert_eq!(shades(&after), 0, "{after}");
}

#[test]
fn spares_that_the_program_counts_grow_with_runs_that_are_scrapped_and_the_orders_say_of_what_they_are_enough()
 {
    // 5 % of the runs are said to fail, which is worth 20 runs: a share about Beta(1, 19). With one shade more than the two that are wanted,
    // at most one of three fails with probability 19/22 + 3·19·20/(20·21·22) = 0.987; with none more 0.905. After a failure, Beta(2, 19): 0.966
    // with one more. After two, Beta(3, 19): 0.939 with one more, so there are two; after three, Beta(4, 19): 0.972 with two.
    let auto = lamp(&[
        ("quantity: 2, spares: 1", "quantity: 2, spares: auto"),
        ("materials: [PLA]}", "materials: [PLA], scrap: 5%}"),
    ]);
    let shop = Shop::new();
    write(&shop, &auto);
    let (mut plan, _) = shop.plan("");
    let mut end = String::new();
    for (scrapped, spares) in [1, 1, 2, 2].into_iter().enumerate() {
        if scrapped > 0 {
            let start = first(&plan, "start").to_owned();
            end = first(&plan, "end").to_owned();
            shop.log(&["started", "desk"], &start);
            shop.log(&["scrapped", "desk", "--why", "warped"], &end);
            plan = shop.plan(&end).0;
        }
        let told = &plan["spares"][0];
        assert_eq!(
            (
                &told["part"],
                &told["quantity"],
                &told["spares"],
                &told["confidence"]
            ),
            (&"shade".into(), &2.into(), &spares.into(), &0.95.into()),
            "{scrapped} scrapped"
        );
        let certainty = told["certainty"].as_f64().expect("a probability");
        assert!((0.95 - 1e-9..1.0).contains(&certainty), "{told}");
        // One of twenty and what was scrapped, of as many runs more.
        let failing = &plan["failures"][0];
        assert_eq!(
            (&failing["runs"], &failing["failed"]),
            (&scrapped.into(), &(scrapped as f64).into())
        );
        let share = failing["share"].as_f64().expect("a share");
        let expected = (1 + scrapped) as f64 / (20 + scrapped) as f64;
        assert!((share - expected).abs() < 1e-9, "{failing}");
        // They are planned, not only told: the foot, two shades and their spares.
        assert_eq!(pieces(&plan).len(), 3 + spares, "{scrapped} scrapped");
    }
    let (table, _) = shop.run(&["plan", "lamp", "--effort", "200", "--now", &end]);
    let table: Vec<&str> = table.split_whitespace().collect();
    let table = table.join(" ");
    assert!(
        table.contains("white: with 2 spares of shade (enough for its 2 with 97.2 %)."),
        "{table}"
    );
}

/// A plan of what is left as a table, and the folder that is written with it; nothing is accepted.
fn shown(shop: &Shop, now: &str) -> (String, std::path::PathBuf) {
    let arguments = [
        "plan", "lamp", "--effort", "200", "--out", "out", "--now", now,
    ];
    let (table, _) = shop.run(&arguments);
    (table, shop.0.path().join("out"))
}

#[test]
fn what_has_changed_in_the_scenario_and_in_the_plan_stands_in_every_report() {
    let shop = Shop::new();
    shop.plan("");
    let hook = "  - {id: hook, size: [60, 40, 20], filament: white, settings: light}\n";
    write(
        &shop,
        &lamp(&[
            ("assemblies:", &format!("{hook}assemblies:")),
            ("shade: 2}", "shade: 2, hook: 1}"),
            ("late: 5", "late: 6"),
            ("price_kg: 20", "price_kg: 22"),
        ]),
    );
    let (table, folder) = shown(&shop, "2026-01-05 07:00");
    let read = |name: &str| fs::read_to_string(folder.join(name)).expect("a file");
    let plan: Value = serde_json::from_str(&read("plan.json")).expect("JSON");
    let said = [
        "part hook is new: 1 to print",
        "filament white is otherwise than when the plan was accepted",
        "assembly lamp is otherwise than when the plan was accepted",
    ];
    assert_eq!(plan["differences"], serde_json::json!(said));
    let changes = plan["changes"].as_array().expect("changes");
    assert!(!changes.is_empty(), "{plan}");
    assert!(plan["kept"]["total"].as_f64().is_some(), "{plan}");
    for text in [&table, &read("plan.txt"), &read("report.html")] {
        for said in said {
            assert!(text.contains(said), "{said}\n{text}");
        }
        assert!(text.contains("the rest costs "), "{text}");
    }
    let report = read("report.html");
    for change in changes {
        let why = change["why"].as_str().expect("a reason");
        assert!(report.contains(why), "{why}");
    }
}

#[test]
fn where_nothing_changes_that_is_said() {
    let shop = Shop::new();
    shop.plan("");
    let (table, folder) = shown(&shop, "2026-01-05 07:00");
    assert!(
        table.contains("── Changes: none; the accepted plan goes on ─"),
        "{table}"
    );
    let report = fs::read_to_string(folder.join("report.html")).expect("a file");
    assert!(report.contains("none; the accepted plan goes on"));
}

#[test]
fn a_moment_before_the_last_entry_is_refused_though_both_are_before_the_start() {
    let shop = Shop::new();
    shop.plan("");
    shop.log(&["note", "the shelf is bought"], "2026-01-04 12:00");
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    let arguments = [
        "plan",
        "lamp",
        "--effort",
        "200",
        "--now",
        "2026-01-03 12:00",
    ];
    let output = command
        .args(arguments)
        .current_dir(shop.0.path())
        .output()
        .expect("it ran");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!output.status.success(), "{said}");
    assert!(
        said.contains("cannot be planned from Sat 3 Jan 2026 12:00"),
        "{said}"
    );
}
