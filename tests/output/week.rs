//! The weeks in characters.

use beamyard::plan::Since;
use beamyard::report::{Look, html, table};
use beamyard::scenario::Outage;
use beamyard::units::Money;

use crate::demo;

/// The section that begins with this heading.
fn section(text: &str, title: &str) -> String {
    let from = text
        .find(&format!("── {title}"))
        .expect("the section is there");
    let rest = &text[from..];
    let end = rest[3..].find("\n── ").map_or(rest.len(), |end| end + 3);
    rest[..end].to_owned()
}

fn week(width: u16) -> String {
    let scenario = demo::scenario();
    section(
        &table(&scenario, &demo::plan(&scenario), &Look::plain(width)),
        "The week",
    )
}

#[test]
fn the_week_at_80_columns() {
    insta::assert_snapshot!(week(80));
}

#[test]
fn the_week_at_120_columns() {
    insta::assert_snapshot!(week(120));
}

#[test]
fn every_week_has_a_strip_where_everything_is_shown() {
    let scenario = demo::scenario();
    let look = Look {
        all: true,
        ..Look::plain(80)
    };
    let text = section(
        &table(&scenario, &demo::plan(&scenario), &look),
        "The weeks",
    );
    // From Monday 11 to Wednesday 20 January: two strips.
    assert_eq!(text.matches("\nbench ").count(), 2);
}

#[test]
fn a_run_begins_at_its_letter_and_goes_on_as_long_as_it_prints() {
    // At 80 columns a sign is three hours. The only run on the first machine's first row from Monday 11 January.
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let at = |hour: i64| scenario.build.start + chrono::TimeDelta::hours(hour - 7);
    plan.runs.truncate(1);
    // 06:00 to 18:00: of eight signs the third to the sixth.
    plan.runs[0].start = at(6);
    plan.runs[0].setup = Some(at(6));
    plan.runs[0].end = at(18);
    plan.runs[0].minutes = beamyard::units::Minutes(720);
    let text = table(&scenario, &plan, &Look::plain(80));
    let name = &scenario.machines[plan.runs[0].machine.0].id;
    let letter = scenario.filaments[plan.runs[0].filament.0]
        .id
        .chars()
        .next()
        .expect("a name")
        .to_ascii_uppercase();
    assert!(
        text.contains(&format!("\n{name:<8}··{letter}━━━·· ")),
        "{text}"
    );
}

#[test]
fn a_machine_that_is_noted_as_down_is_out_of_use_in_the_week_and_on_the_page() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let of_tall = |text: &str| {
        let week = section(text, "The week");
        let row = week.lines().find(|line| line.starts_with("tall"));
        row.expect("tall has a row").matches('×').count()
    };
    let before = of_tall(&table(&scenario, &plan, &Look::plain(80)));
    let outage = Outage {
        from: demo::at("2027-01-17 00:00"),
        to: demo::at("2027-01-18 00:00"),
        why: "a belt that nobody ordered".to_owned(),
    };
    plan.since = Some(Since {
        now: demo::at("2027-01-11 07:00"),
        pieces: Vec::new(),
        running: Vec::new(),
        ended: Vec::new(),
        down: vec![(demo::TALL, outage)],
        complete: Vec::new(),
        churn: Money::ZERO,
        accepted: false,
        differences: Vec::new(),
        kept: None,
        shifted: 0,
        yielded: Vec::new(),
        changes: Vec::new(),
    });
    assert!(of_tall(&table(&scenario, &plan, &Look::plain(80))) > before);
    assert!(html(&scenario, &plan).contains("a belt that nobody ordered"));
}
