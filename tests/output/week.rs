//! The weeks in characters.

use beamyard::report::{Look, table};

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
