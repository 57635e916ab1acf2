//! What a plan of the rest does otherwise than the accepted one, and why.
//!
//! Knows: the changes that the plan lists. Must not know: how they were found.
//! Promises: a plan that goes on from nothing accepted has no such section.

use crate::plan::{Change, Plan};
use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::report::money::{Hundredths, Shown};
use crate::scenario::{MachineIndex, Scenario};
use chrono::{DateTime, Utc};

pub(super) fn changes(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let Some(since) = plan
        .since
        .as_ref()
        .filter(|since| !since.changes.is_empty())
    else {
        return String::new();
    };
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
    let cost = Shown::new(&plan.cost).total();
    let title = match since.kept {
        // Both are rounded, one as a whole and one part by part.
        Some(kept) if (kept - plan.cost.total()).0.abs() < 0.005 => format!(
            "Changes: nothing better was found, the rest costs {cost} {}",
            scenario.currency
        ),
        Some(kept) => format!(
            "Changes: the rest costs {cost} {} so, {} as it was",
            scenario.currency,
            Hundredths::nearest(kept)
        ),
        None => "Changes".to_owned(),
    };
    heading(look, &title) + &text
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
    let place = |place: Option<(MachineIndex, DateTime<Utc>)>| {
        place.map_or("—".to_owned(), |(_, start)| local.full(start))
    };
    let now = change.to.map_or("—", |_| change.run.as_str());
    [
        Text::from(now).tone(Tone::Strong),
        Text::from(change.was.as_deref().unwrap_or("—")),
        Text::from(place(change.from)),
        Text::from(place(change.to)),
        Text::from(format!("{}", Hundredths::nearest(change.money))),
    ]
}
