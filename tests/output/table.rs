//! The plan as text at the widths of an old and a new terminal.

use beamyard::plan::SpoolNote;
use beamyard::report::{Look, table};
use unicode_width::UnicodeWidthStr;

use crate::demo;

/// The widest line, in columns of a terminal.
pub fn widest(text: &str) -> usize {
    text.lines().map(UnicodeWidthStr::width).max().unwrap_or(0)
}

#[test]
fn the_plan_at_80_columns() {
    let scenario = demo::scenario();
    let text = table(&scenario, &demo::plan(&scenario), &Look::plain(80));
    insta::assert_snapshot!(text);
}

#[test]
fn the_plan_at_120_columns() {
    let scenario = demo::scenario();
    let text = table(&scenario, &demo::plan(&scenario), &Look::plain(120));
    insta::assert_snapshot!(text);
}

#[test]
fn no_line_is_wider_than_asked() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    for width in [60, 72, 80, 99, 100, 120, 200] {
        for all in [false, true] {
            let look = Look {
                all,
                ..Look::plain(width)
            };
            let text = table(&scenario, &plan, &look);
            assert!(widest(&text) <= usize::from(width), "{width}:\n{text}");
        }
    }
}

#[test]
fn seven_days_are_shown_and_all_of_them_only_when_asked() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    // The first setup is on 11 January, so the seven days end with the 17th; belt-004 follows on the 18th and tall-003 is
    // set up on the 19th.
    let week = table(&scenario, &plan, &Look::plain(120));
    assert!(week.contains("belt-003") && !week.contains("belt-004") && !week.contains("tall-003"));
    assert!(week.contains("2 more runs"));
    let all = table(
        &scenario,
        &plan,
        &Look {
            all: true,
            ..Look::plain(120)
        },
    );
    assert!(all.contains("belt-004") && all.contains("tall-003"));
    assert!(!all.contains("more runs"));
}

#[test]
fn a_run_whose_spool_ends_with_nobody_there_is_named() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let text = table(&scenario, &plan, &Look::plain(80));
    let section = text.split("Marked").nth(1).expect("there is a marked run");
    assert!(section.contains("tall-002"));
    for run in &mut plan.runs {
        run.spool = SpoolNote::Lasts;
    }
    assert!(!table(&scenario, &plan, &Look::plain(80)).contains("Marked"));
}

#[test]
fn colour_changes_no_word() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let plain = table(&scenario, &plan, &Look::plain(80));
    let coloured = table(
        &scenario,
        &plan,
        &Look {
            colour: true,
            ..Look::plain(80)
        },
    );
    assert!(!plain.contains('\x1b'));
    assert!(coloured.contains('\x1b'));
    let words = |text: &str| -> Vec<String> {
        without_colour(text)
            .split_whitespace()
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(words(&plain), words(&coloured));
}

/// A text without its escape sequences `ESC [ … m`.
fn without_colour(text: &str) -> String {
    let mut parts = text.split('\x1b');
    let mut plain = parts.next().unwrap_or("").to_owned();
    for part in parts {
        plain.push_str(part.split_once('m').map_or("", |(_, rest)| rest));
    }
    plain
}
