//! Masses and centres of what is lifted, as a plan shows them.

use beamyard::lifting::lifts;
use beamyard::report::{Look, json, table};
use beamyard::scenario::{Grip, Handling};
use beamyard::units::{Grams, Millimetres};

use crate::demo::{self, CAP};

#[test]
fn a_light_build_without_places_has_no_section_and_masses_in_json_all_the_same() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    assert!(!table(&scenario, &plan, &Look::plain(80)).contains("Lifting ──"));
    let value: serde_json::Value = serde_json::from_str(&json(&scenario, &plan)).expect("JSON");
    // Six caps of the 140 g that the demo's copies weigh.
    assert_eq!(value["assemblies"][0]["mass_g"], 840.0);
    assert_eq!(value["assemblies"][0]["centre"], serde_json::Value::Null);
    assert_eq!(value["assemblies"][0]["centre_lacks"][0], "cap");
}

#[test]
fn places_give_a_centre_and_a_described_lift_its_limit() {
    let mut scenario = demo::scenario();
    // Six caps in a row, 0 to 100 mm, balance at 50; less than a tenth of a millimetre to the left is no minus nought.
    let points = [0.0, 20.0, 40.0, 60.0, 80.0, 100.0].map(|x| [x, -0.04, 7.0].map(Millimetres));
    scenario.assemblies[0].places.parts = vec![(CAP, points.to_vec())];
    scenario.assemblies[0].lift = Some(Handling {
        reach: 50.0,
        from: 75.0,
        to: 75.0,
        turn: 0.0,
        grip: Grip::Good,
    });
    let mut plan = demo::plan(&scenario);
    plan.lifts = lifts(&scenario, &[Grams(2600.0); 5]);
    let text = table(&scenario, &plan, &Look::plain(80));
    assert!(text.contains("50 · 0 · 7 mm"), "{text}");
    assert!(text.contains("15.6 kg     11.5 kg"), "{text}");
    assert!(text.contains("lifting equation of NIOSH"), "{text}");
    // The jib and the tower stand on it, and say nothing of where; both are heavy enough to be listed.
    assert!(
        text.contains("not known: no places for jib-chord"),
        "{text}"
    );
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
}
