//! What is to be bought and cut, for a spreadsheet.

use beamyard::report::{hardware_csv, orders_csv};

use crate::demo;

#[test]
fn the_orders_of_a_plan() {
    let scenario = demo::scenario();
    insta::assert_snapshot!(orders_csv(&scenario, &demo::plan(&scenario)));
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
