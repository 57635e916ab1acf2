//! When each stage is due and complete.
//!
//! Knows: the dates of assemblies. Must not know: why they are so.
//! Promises: assemblies with a due date always, all others with `all` or where none has a date; how early or late one is
//! is not mixed up with its float.

use chrono::{DateTime, Utc};

use crate::plan::{AssemblyDates, Plan};
use crate::scenario::Scenario;
use crate::units::Minutes;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::report::words;

pub(super) fn stages(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let due = |dates: &AssemblyDates| scenario.assemblies[dates.assembly.0].due;
    let everything = look.all || !plan.assemblies.iter().any(|dates| due(dates).is_some());
    let mut grid = Grid::new([Fit::Upto(28), Fit::Upto(18), Fit::Upto(18)]);
    grid.head(["Stage", "Due", "Complete", "Early or late"]);
    let mut left_out = 0;
    for dates in &plan.assemblies {
        if !everything && due(dates).is_none() {
            left_out += 1;
            continue;
        }
        grid.row([
            Text::from(scenario.assemblies[dates.assembly.0].id.as_str()).tone(Tone::Strong),
            due(dates).map_or("–".into(), |moment| local.full(moment).into()),
            local.full(dates.complete).into(),
            standing(dates, due(dates)),
        ]);
    }
    if grid.is_empty() {
        return String::new();
    }
    let mut text = heading(look, "Stages") + &grid.render(look, 0);
    let float =
        "Float: by so much one may slip with no stage late for it and the last assembly no later.";
    text.push_str(&paragraph(look, 0, Text::from(float).tone(Tone::Quiet)));
    if let Some(path) = &plan.critical {
        let path = words::critical_path(scenario, plan, path);
        text.push_str(&paragraph(look, 0, format!("Critical path: {path}.")));
    }
    if left_out > 0 {
        let note = format!(
            "{} without a due date; --all shows them.",
            words::count(left_out, "assembly", "assemblies")
        );
        text.push_str(&paragraph(look, 0, Text::from(note).tone(Tone::Quiet)));
    }
    text
}

/// How early or late it is, and its float.
fn standing(dates: &AssemblyDates, due: Option<DateTime<Utc>>) -> Text {
    if dates.late_days > 0.0 {
        return Text::from(format!("late by {}", words::late(dates))).tone(Tone::Mark);
    }
    let float = match dates.float.value() {
        float if float > 0 => format!("float{TIE}{}", words::span(dates.float)),
        _ => format!("no{TIE}float"),
    };
    match due.map(|due| (due - dates.complete).num_minutes()) {
        None => float.into(),
        Some(early) if early > 0 => {
            format!("early by {}, {float}", words::span(Minutes(early))).into()
        }
        Some(_) => format!("just in time, {float}").into(),
    }
}
