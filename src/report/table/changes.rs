//! What a plan of the rest does otherwise than the accepted one, and why.
//!
//! Knows: the changes that the plan lists. Must not know: how they were found.
//! Promises: a plan that goes on from nothing accepted has no such section.

use chrono::{DateTime, Utc};

use crate::plan::{Change, Plan, Since};
use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::report::money::Hundredths;
use crate::report::since::{by_part, in_short};
use crate::scenario::Scenario;

pub(super) fn changes(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let Some(since) = plan.since.as_ref().filter(|since| since.accepted) else {
        return String::new();
    };
    let title = in_short(scenario, plan, since);
    let mut text = heading(look, &format!("Changes: {title}"));
    if let Some(parts) = by_part(plan, since) {
        text.push_str(&paragraph(look, 0, parts));
    }
    for difference in &since.differences {
        text.push_str(&paragraph(look, 0, difference.as_str()));
    }
    if !since.changes.is_empty() {
        text.push_str(&rows(scenario, since, look));
    }
    text
}

fn rows(scenario: &Scenario, since: &Since, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    // All rows share their columns; the reason stands below each, where there is room for it.
    let mut all = columns();
    all.row(NAMES.map(|name| Text::from(name).tone(Tone::Quiet)));
    let rows: Vec<_> = since
        .changes
        .iter()
        .map(|change| cells(local, change))
        .collect();
    for row in &rows {
        all.row(row.clone());
    }
    let widths = all.widths(look, 0);
    let mut heads = columns();
    heads.row(NAMES.map(|name| Text::from(name).tone(Tone::Quiet)));
    let mut text = heads.render_in(&widths, look, 0);
    for (change, row) in since.changes.iter().zip(rows) {
        let mut grid = columns();
        grid.row(row);
        text.push_str(&grid.render_in(&widths, look, 0));
        text.push_str(&paragraph(look, INDENT, change.why.as_str()));
    }
    text
}

/// Columns by which a reason is set in.
const INDENT: u16 = 2;

const NAMES: [&str; 5] = ["Run", "Before", "Was to start", "Starts", "Dearer by"];

fn columns() -> Grid {
    Grid::new([
        Fit::Upto(16),
        Fit::Upto(16),
        Fit::Upto(18),
        Fit::Upto(18),
        Fit::Number(9),
    ])
}

fn cells(local: Local, change: &Change) -> [Text; 5] {
    // A run's name says on which machine it is.
    let place = |start: Option<DateTime<Utc>>| start.map_or("—".to_owned(), |at| local.full(at));
    let now = change.to.map_or("—", |_| change.run.as_str());
    let money = change.money.map(Hundredths::nearest);
    [
        Text::from(now).tone(Tone::Strong),
        Text::from(change.was.as_deref().unwrap_or("—")),
        Text::from(place(change.from.as_ref().map(|(_, start)| *start))),
        Text::from(place(change.to.map(|(_, start)| start))),
        Text::from(money.map_or("—".to_owned(), |money| money.to_string())),
    ]
}
