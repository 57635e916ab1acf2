use std::path::Path;

use super::*;
use crate::scenario::{Change, read_text_changed};
use crate::units::Money;

/// Two boxes, one drawn to be scaled and one as it is, and the settings that fill them.
fn written(parts: &str, further: &str) -> String {
    format!(
        "build: {{start: 2027-01-11, scale: 2, original: {{size: [100, 60, 50], mass_g: 50}}}}\n\
         bench: {{bench_hour: 12}}\n\
         machines: [{{id: bed, kind: bed, bed: [250, 210], height: 200, margin: 5, hourly: 0.5}}]\n\
         filaments: [{{id: grey, material: PLA, density: 1.25, spool: 500}}]\n\
         settings: {{full: {{infill: 100%}}, thin: {{infill: 0%, perimeters: 1, top: 1, bottom: 1}}}}\n\
         joints: {{glue: {{}}}}\n\
         parts:\n{parts}\n{further}\n"
    )
}

fn read(text: &str, scale: Option<f64>, settings: Option<&str>) -> Reading {
    let change = Change {
        scale,
        settings: settings.map(str::to_owned),
    };
    read_text_changed("scenario.yaml", text, Path::new(""), &change)
        .unwrap_or_else(|wrong| panic!("{wrong}"))
}

fn forecast_of(text: &str, scale: Option<f64>, settings: Option<&str>) -> Forecast {
    forecast(&read(text, scale, settings), settings).unwrap_or_else(|none| panic!("{none:?}"))
}

fn mass(text: &str, scale: f64, settings: &str) -> f64 {
    let forecast = forecast_of(text, Some(scale), Some(settings));
    forecast.figures.expect("it is planned").mass.0
}

const BLOCK: &str = "- {id: block, model: [20, 20, 20], settings: full}";

#[test]
fn at_twice_the_scale_a_solid_weighs_eight_times_as_much_and_a_hollow_print_less() {
    let text = written(BLOCK, "");
    // 20 mm cubed at scale 1 is 8000 mm³, 10 g at 1.25 g/cm³.
    assert!((mass(&text, 1.0, "full") - 10.0).abs() < 1e-9);
    assert!((mass(&text, 2.0, "full") - 80.0).abs() < 1e-9);
    // A shell of one thickness goes with the surface, so with the square, but for its edges.
    let times = mass(&text, 2.0, "thin") / mass(&text, 1.0, "thin");
    assert!((3.9..4.3).contains(&times), "{times}");
}

#[test]
fn a_part_given_by_its_size_is_as_large_at_any_scale_and_counted() {
    let text = written("- {id: block, size: [20, 20, 20], settings: full}", "");
    for scale in [1.0, 3.0] {
        let forecast = forecast_of(&text, Some(scale), None);
        assert_eq!(forecast.taken_as_is, 1);
        assert!((forecast.figures.expect("planned").mass.0 - 10.0).abs() < 1e-9);
    }
    assert_eq!(forecast_of(&written(BLOCK, ""), None, None).taken_as_is, 0);
}

#[test]
fn the_scenarios_own_scale_and_settings_change_nothing() {
    let text = written(
        "- {id: block, model: [20, 20, 20], settings: full, grams: 70, minutes: {bed: 100}}",
        "",
    );
    let own = forecast_of(&text, None, None);
    let same = forecast_of(&text, Some(2.0), Some("full"));
    assert_eq!((own.unmeasured, same.unmeasured), (0, 0));
    let figures = |f: Forecast| f.figures.expect("planned");
    let (own, same) = (figures(own), figures(same));
    assert_eq!((own.mass, own.cost), (same.mass, same.cost));
    // As measured: 70 g, and 100 min with 6 min of warm-up.
    assert_eq!((own.mass.0, own.machine.0), (70.0, 106));
}

#[test]
fn what_was_measured_under_other_conditions_is_estimated() {
    let parts = "- {id: block, model: [20, 20, 20], settings: full, grams: 70}\n\
                 - {id: peg, size: [20, 20, 20], settings: thin, minutes: {bed: 9}}";
    let text = written(parts, "");
    // At another scale the block is another, the peg the same; with other settings the peg is another.
    assert_eq!(forecast_of(&text, Some(1.0), None).unmeasured, 1);
    assert_eq!(forecast_of(&text, None, Some("full")).unmeasured, 1);
    assert_eq!(forecast_of(&text, Some(1.0), Some("full")).unmeasured, 2);
    let block = &read(&text, Some(1.0), None).scenario.parts[0];
    assert_eq!(block.grams, None);
}

#[test]
fn what_fits_nowhere_is_named_and_the_rest_is_as_if_it_were_not_there() {
    // At scale 2 the long one is 400 mm, and no bed has that; its like of 100 × 2 = 200 mm fits.
    let long = "- {id: long, model: [200, 20, 5], settings: full}";
    let with = forecast_of(&written(&format!("{long}\n{BLOCK}"), ""), None, None);
    let without = forecast_of(&written(BLOCK, ""), None, None);
    assert_eq!(with.nowhere, [PartIndex(0)]);
    assert_eq!(with.scenario.parts.len(), 2);
    assert!(with.routes[0].refusals[0].reason.contains("400"));
    let (with, without) = (with.figures.expect("some"), without.figures.expect("all"));
    assert_eq!((with.mass, with.pieces), (without.mass, without.pieces));
    assert_eq!((with.cost, with.finish), (without.cost, without.finish));
    let nothing = forecast_of(&written(long, ""), None, None);
    assert_eq!(nothing.figures.err(), Some(Unplanned::NothingFits));
    // At scale 1 all of it fits.
    assert_eq!(forecast_of(&written(long, ""), Some(1.0), None).nowhere, []);
}

#[test]
fn parts_that_must_be_split_or_go_to_a_belt_are_told_apart() {
    let text = written(
        "- {id: beam, model: [200, 20, 20], settings: thin, split: {joint: glue, into: 2..4}}",
        "",
    );
    let split = forecast_of(&text, None, None);
    assert_eq!(split.only_split, [PartIndex(0)]);
    assert_eq!(split.only_belt, []);
    let belt = "machines: [{id: belt, kind: belt, section: [100, 100], longest: 900}, {id: bed, ";
    let belt = forecast_of(&text.replace("machines: [{id: bed, ", belt), None, None);
    assert_eq!(belt.only_split, []);
    assert_eq!(belt.only_belt, [PartIndex(0)]);
    let short = forecast_of(&text, Some(1.0), None);
    assert_eq!((short.only_split, short.only_belt), (vec![], vec![]));
}

#[test]
fn size_and_the_solids_mass_come_from_the_original() {
    let known = forecast_of(&written(BLOCK, ""), Some(4.0), None);
    assert_eq!(
        known.size,
        Size::Whole([400.0, 240.0, 200.0].map(Millimetres))
    );
    // 50 g × 4³ = 3200 g.
    assert_eq!(known.solid, Some(Grams(3200.0)));
    let parts = format!("{BLOCK}\n- {{id: rod, model: [30, 2, 2], settings: full}}");
    let text = written(&parts, "").replace(", original: {size: [100, 60, 50], mass_g: 50}", "");
    let unknown = forecast_of(&text, Some(4.0), None);
    assert_eq!(unknown.size, Size::LargestPart(PartIndex(1)));
    assert_eq!((unknown.solid, unknown.analogies.len()), (None, 0));
}

#[test]
fn stages_weigh_what_they_need_as_well_and_the_heaviest_lift_is_what_another_takes() {
    let assemblies = "assemblies:\n\
        - {id: base, parts: {block: 3}}\n\
        - {id: arm, parts: {block: 1}, due: 2027-02-01}\n\
        - {id: whole, parts: {block: 1}, needs: [base, arm], due: 2027-03-01}";
    let text = written(&BLOCK.replace("block,", "block, quantity: 5,"), assemblies);
    let figures = forecast_of(&text, Some(1.0), None)
        .figures
        .expect("planned");
    // Blocks of 10 g: the arm one of them, the whole all five; the base is heavier than the arm, and lifted.
    let named = |id: &str, grams: f64| (id.to_owned(), Grams(grams));
    assert_eq!(figures.stages, [named("arm", 10.0), named("whole", 50.0)]);
    assert_eq!(figures.heaviest, Some(named("base", 30.0)));
    assert_eq!(figures.mass, Grams(50.0));
}

#[test]
fn spools_are_whole_and_money_and_hours_are_the_plans() {
    // At scale 2 a block is 80 g; seven are 560 g, a second spool of 500 begun, and none on hand.
    let text = written(&BLOCK.replace("block,", "block, quantity: 7,"), "");
    let figures = forecast_of(&text, None, None).figures.expect("planned");
    let need = &figures.filaments[0];
    // The machine is empty at first, so one change loses the default 12 g.
    assert!((need.grams.0 - 572.0).abs() < 1e-9, "{need:?}");
    assert_eq!((need.spools, need.order, figures.pieces), (2, 2, 7));
    let hours = figures.machine.hours();
    assert!((figures.cost.machine.0 - 0.5 * hours).abs() < 1e-9);
    let bench = Money(12.0) * figures.bench.hours();
    assert!((figures.cost.bench.0 - bench.0).abs() < 1e-9);
}

#[test]
fn a_span_grows_with_its_part_and_sags_with_more_than_its_length() {
    let beam = |span: &str| {
        written(
            &format!("- {{id: beam, model: [100, 5, 5], settings: full, span: {span}}}"),
            "",
        )
    };
    // Written at scale 2 the part is 200 mm long and spans 150 of it; at scale 1 it spans 75.
    let reading = read(&beam("{mm: 150}"), Some(1.0), None);
    let span = reading.scenario.parts[0].span.expect("it spans");
    assert!((span.length.expect("written").0 - 75.0).abs() < 1e-9);
    // Of one shape, sag under its own weight goes with the square of the scale and its limit with the scale: so a beam that
    // is enough at one scale is not at another.
    let sagging = |scale: f64| {
        let forecast = forecast_of(&beam("{sag_limit: 0.008}"), Some(scale), None);
        assert_eq!(forecast.spans, 1);
        forecast.sagging.len()
    };
    assert_eq!((sagging(1.0), sagging(2.2)), (0, 1));
}
