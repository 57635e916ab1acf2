//! What is to be bought and cut, for a spreadsheet.

use beamyard::report::{Look, day_sheets, hardware_csv, html, json, orders_csv, table};

use crate::demo;

#[test]
fn the_orders_of_a_plan() {
    let scenario = demo::scenario();
    insta::assert_snapshot!(orders_csv(&scenario, &demo::plan(&scenario)));
}

#[test]
fn what_an_order_costs_is_told_wherever_it_stands() {
    // 1 spool of black and 3 of grey, of a kilogram each, at 21 EUR a kilogram; yellow is enough.
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let file: serde_json::Value = serde_json::from_str(&json(&scenario, &plan)).expect("JSON");
    let orders = file["orders"].as_array().expect("a list").iter();
    let prices: Vec<f64> = orders
        .map(|order| order["price"].as_f64().expect("a number"))
        .collect();
    assert_eq!(prices, [0.0, 21.0, 63.0]);

    let text = table(&scenario, &plan, &Look::plain(80));
    let (_, orders) = text
        .split_once("── Filament to order ")
        .expect("its section");
    let words: Vec<&str> = orders.split_whitespace().collect();
    for row in [
        &["3", "spools", "of", "1000", "g", "63.00"][..],
        &["1", "spool", "of", "1000", "g", "21.00"],
        &["Together", "84.00", "EUR."],
    ] {
        assert!(words.windows(row.len()).any(|there| there == row), "{text}");
    }

    let page = html(&scenario, &plan).replace('\u{a0}', " ");
    assert!(
        page.contains("<b>3 spools of 1000 g</b>, 63.00 EUR, by "),
        "{page}"
    );
    let sheets = day_sheets(&scenario, &plan).replace('\u{a0}', " ");
    assert!(
        sheets.contains("Order 3 spools of 1000 g grey</b> (PLA), 63.00 EUR"),
        "{sheets}"
    );
}

#[test]
fn the_hardware_of_a_plan() {
    // Chords are made in two lengths each, so with one joint each.
    let scenario = demo::scenario();
    insta::assert_snapshot!(hardware_csv(&scenario, &demo::plan(&scenario)));
}

#[test]
fn names_that_begin_like_formulas_are_guarded() {
    let mut scenario = demo::scenario();
    scenario.filaments[0].id = "=1+1".into();
    scenario.parts[0].id = "=2+2".into();
    let plan = demo::plan(&scenario);
    assert!(orders_csv(&scenario, &plan).contains("\r\n'=1+1,"));
    assert!(hardware_csv(&scenario, &plan).contains(",'=2+2,"));
}
