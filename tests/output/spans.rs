//! Parts that span, as `check` and `plan` show them.

use beamyard::plan::Plan;
use beamyard::report::{Look, html, json, spans, table};
use beamyard::scenario::{Ends, Profile, Scenario, Span, Stiffener};
use beamyard::strength;
use beamyard::units::{Grams, Megapascals, Millimetres};

use crate::demo;

/// The demo's crane, whose chord is 1380 × 48 × 48 mm here and carries a load, and whose rod is of steel.
fn shop(load: f64, ends: Ends) -> (Scenario, Plan) {
    let mut scenario = demo::scenario();
    let chord = &mut scenario.parts[demo::CHORD.0];
    chord.size = [1380.0, 48.0, 48.0].map(Millimetres);
    chord.span = Some(Span {
        length: None,
        load: Grams(load),
        ends,
        limit: None,
        down: None,
    });
    for filament in &mut scenario.filaments {
        filament.modulus = Some(Megapascals(2500.0));
    }
    let hardware = scenario.joints[0].hardware.as_mut().expect("a rod");
    hardware.stiffener = Some(Stiffener {
        profile: Profile::Rod { diameter: 8.0 },
        modulus: Megapascals(210_000.0),
    });
    let mut plan = demo::plan(&scenario);
    plan.spans = strength::spans(&scenario);
    (scenario, plan)
}

fn shown(load: f64, ends: Ends) -> String {
    let (scenario, plan) = shop(load, ends);
    spans(&scenario, &plan.spans, &Look::plain(80))
}

/// A text on one line, as a reader takes it in.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_rod_that_makes_it_sag_more_is_said_to() {
    let text = flat(&shown(0.0, Ends::Simple));
    assert!(text.contains("enough as printed"), "{text}");
    assert!(
        text.contains("sags more, it weighs more than it stiffens"),
        "{text}"
    );
}

#[test]
fn a_span_that_nothing_holds_says_so_and_a_free_end_is_named() {
    let text = flat(&shown(20_000.0, Ends::Cantilever));
    assert!(
        text.contains("free end: too much, with any rod or tube"),
        "{text}"
    );
}

#[test]
fn every_figure_stands_over_a_word_on_creep_joints_and_proof() {
    let text = flat(&shown(500.0, Ends::Simple));
    for word in ["at once", "creeps", "glued joint is weaker", "no proof"] {
        assert!(text.contains(word), "{word}: {text}");
    }
}

#[test]
fn without_spans_there_is_no_section() {
    let scenario = demo::scenario();
    assert_eq!(spans(&scenario, &[], &Look::plain(80)), "");
    let plan = demo::plan(&scenario);
    assert!(!table(&scenario, &plan, &Look::plain(80)).contains("Spans ──"));
}

#[test]
fn a_plan_shows_each_span_in_a_line_and_all_of_it_in_json() {
    let (scenario, plan) = shop(500.0, Ends::Simple);
    let text = table(&scenario, &plan, &Look::plain(80));
    assert!(text.contains("── Spans ──"));
    assert!(text.lines().all(|line| line.chars().count() <= 80));
    let value: serde_json::Value = serde_json::from_str(&json(&scenario, &plan)).expect("JSON");
    let span = &value["spans"][0];
    assert_eq!(span["part"], "jib-chord");
    assert_eq!(
        (span["mm"].as_f64(), span["sag_limit"].as_f64()),
        (Some(1380.0), Some(5.52))
    );
    let sag = span["sag"].as_f64().expect("a number");
    assert!((sag - plan.spans[0].sag.0).abs() < 1e-4);
    assert_eq!(span["rods"].as_array().map(Vec::len), Some(1));
    assert!(Millimetres(sag) > Millimetres::ZERO);
}

#[test]
fn the_report_has_the_spans_in_the_same_words() {
    let (scenario, plan) = shop(500.0, Ends::Simple);
    let page = html(&scenario, &plan);
    assert!(page.contains("<a href=\"#spans\">Spans</a>"));
    let section = page
        .split_once("<section id=\"spans\"")
        .expect("it is there")
        .1;
    let section = section.split_once("</section>").expect("its end").0;
    let text = flat(&shown(500.0, Ends::Simple)).replace('\u{a0}', " ");
    let said = section.replace('\u{a0}', " ");
    // What the text says of the part and of the rod, figure for figure, is on the page as well.
    let rows = said.split("<tr").skip(2);
    let mut cells = 0;
    for cell in rows.flat_map(|row| row.split("<td").skip(1)) {
        let words = cell.split_once('>').expect("a cell").1;
        let words = words
            .rsplit_once("</svg>")
            .map_or(words, |(_, words)| words);
        let words = words.split_once("</td>").expect("its end").0;
        let words = words.trim_start_matches("<b>").trim_end_matches("</b>");
        assert!(text.contains(words), "{words}: {text}");
        cells += usize::from(!words.is_empty());
    }
    assert!(cells >= 8, "{section}");
    // A plan without spans has no such section.
    let scenario = demo::scenario();
    assert!(!html(&scenario, &demo::plan(&scenario)).contains("#spans"));
}
