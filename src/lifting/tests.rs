use std::path::Path;

use super::*;
use crate::scenario::read_text;

/// Bars of 10 × 10 × 100 mm, 10 g a copy; plates of 200 × 100 × 5, 100 g. The scale is 2, so places count twice.
fn shop(assemblies: &str) -> Scenario {
    let text = format!(
        "build: {{start: 2027-01-11, scale: 2}}\n\
         machines: [{{id: bed, kind: bed, bed: [250, 210], height: 200}}]\n\
         filaments: [{{id: grey, material: PLA}}]\n\
         parts:\n\
         - {{id: bar, size: [10, 10, 100], quantity: 9}}\n\
         - {{id: plate, size: [200, 100, 5], quantity: 9}}\n\
         assemblies:\n{assemblies}\n"
    );
    let reading = read_text("scenario.yaml", &text, Path::new(""));
    reading.unwrap_or_else(|wrong| panic!("{wrong}")).scenario
}

fn lifted(assemblies: &str) -> Vec<Lift> {
    lifts(&shop(assemblies), &[Grams(10.0), Grams(100.0)])
}

fn at(point: [f64; 3]) -> Centre {
    Centre::At(point.map(Millimetres))
}

fn lacks(names: &[&str]) -> Centre {
    Centre::NotKnown(names.iter().map(|&name| name.to_owned()).collect())
}

#[test]
fn a_centre_is_where_the_masses_balance() {
    // Two bars at x = ±20 (twice 10), a plate at z = 30: Σm = 120; z = 100 × 30 / 120 = 25, x and y balance.
    let lift = &lifted(
        "- {id: frame, parts: {bar: 2, plate: 1}, places: {bar: [[10, 0, 0], [-10, 0, 0]], plate: [0, 0, 15]}}",
    )[0];
    assert_eq!(lift.mass, Grams(120.0));
    assert_eq!(lift.centre, at([0.0, 0.0, 25.0]));
}

#[test]
fn what_lacks_a_place_is_named_and_no_centre_is_guessed() {
    let lift = &lifted("- {id: frame, parts: {bar: 2, plate: 1}, places: {plate: [0, 0, 15]}}")[0];
    assert_eq!((lift.mass, &lift.centre), (Grams(120.0), &lacks(&["bar"])));
    assert!(lift.is_placed(&shop(
        "- {id: frame, parts: {plate: 1}, places: {plate: [0, 0, 0]}}"
    )));
    // Who needs it lacks it too, wherever it stands.
    let whole = &lifted(
        "- {id: frame, parts: {bar: 2}}\n- {id: whole, parts: {plate: 1}, needs: [frame], places: {plate: [0, 0, 0], frame: [0, 0, 0]}}",
    )[1];
    assert_eq!(whole.centre, lacks(&["frame"]));
}

#[test]
fn a_needed_assembly_counts_with_its_own_centre_where_it_stands() {
    // The frame, 20 g, balances at (0, 0, 0) of its own; it stands at x = 100 (twice 50); a plate of 100 g at the origin:
    // 20 × 100 / 120 = 16.667.
    let lifts = lifted(
        "- {id: frame, parts: {bar: 2}, places: {bar: [[0, 5, 0], [0, -5, 0]]}}\n\
         - {id: whole, parts: {plate: 1}, needs: [frame], places: {plate: [0, 0, 0], frame: [50, 0, 0]}}",
    );
    let Centre::At(centre) = lifts[1].centre.clone() else {
        panic!("all places are known");
    };
    assert!((centre[0].0 - 2000.0 / 120.0).abs() < 1e-9);
    assert_eq!((lifts[0].taken, lifts[1].taken), (true, false));
    assert_eq!(
        heaviest_lift(&lifts).map(|lift| lift.assembly),
        Some(AssemblyIndex(0))
    );
}

#[test]
fn what_is_needed_by_two_ways_counts_once_and_then_no_centre_is_said() {
    let lifts = lifted(
        "- {id: base, parts: {plate: 1}, places: {plate: [0, 0, 0]}}\n\
         - {id: left, parts: {bar: 1}, needs: [base], places: {bar: [0, 0, 0], base: [0, 0, 0]}}\n\
         - {id: right, parts: {bar: 1}, needs: [base], places: {bar: [0, 0, 0], base: [9, 0, 0]}}\n\
         - {id: whole, needs: [left, right], places: {left: [0, 0, 0], right: [0, 0, 0]}}",
    );
    assert_eq!(lifts[3].mass, Grams(120.0));
    assert_eq!(lifts[3].centre, lacks(&[]));
    assert_eq!(lifts[1].centre, at([0.0, 0.0, 0.0]));
}

#[test]
fn an_assembly_is_at_least_as_long_as_its_longest_part_or_as_its_centres_are_apart() {
    let long = |places: &str| {
        lifted(&format!(
            "- {{id: frame, parts: {{bar: 2}}, places: {{{places}}}}}"
        ))[0]
            .at_least
    };
    assert_eq!(long(""), Millimetres(100.0));
    // 2 × (700 + 600) = 2600 mm apart.
    assert_eq!(
        long("bar: [[700, 0, 0], [-600, 0, 0]]"),
        Millimetres(2600.0)
    );
    let needs =
        &lifted("- {id: frame, parts: {plate: 1}}\n- {id: whole, parts: {bar: 1}, needs: [frame]}")
            [1];
    assert_eq!(needs.at_least, Millimetres(200.0));
}

#[test]
fn a_described_lift_has_a_limit_and_no_other() {
    let lifts = lifted(
        "- {id: frame, parts: {bar: 2}, lift: {reach_cm: 25, from_cm: 75, to_cm: 75, grip: good}}\n- {id: other, parts: {bar: 1}}",
    );
    assert_eq!(lifts[0].limit, Some(Grams(23_000.0)));
    assert_eq!(lifts[1].limit, None);
}
