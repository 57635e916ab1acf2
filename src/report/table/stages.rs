//! When each stage is due and complete.
//!
//! Knows: the dates of assemblies. Must not know: why they are so.
//! Promises: assemblies with a due date always, all others with `all` or where none has a date.

use crate::plan::{AssemblyDates, Plan};
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::report::words;

pub(super) fn stages(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let due = |dates: &AssemblyDates| scenario.assemblies[dates.assembly.0].due;
    let everything = look.all || !plan.assemblies.iter().any(|dates| due(dates).is_some());
    let mut grid = Grid::new([Fit::Upto(28), Fit::Upto(18), Fit::Upto(18)]);
    grid.head(["Stage", "Due", "Complete", "Late or float"]);
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
            standing(dates),
        ]);
    }
    if grid.is_empty() {
        return String::new();
    }
    let mut text = heading(look, "Stages") + &grid.render(look, 0);
    if left_out > 0 {
        let note = format!(
            "{} without a due date; --all shows them.",
            words::count(left_out, "assembly", "assemblies")
        );
        text.push_str(&paragraph(look, 0, Text::from(note).tone(Tone::Quiet)));
    }
    text
}

fn standing(dates: &AssemblyDates) -> Text {
    if dates.late_days > 0.0 {
        Text::from(format!("late by {}", words::late(dates))).tone(Tone::Mark)
    } else if dates.float.value() > 0 {
        format!("float {}", words::span(dates.float)).into()
    } else {
        "no float".into()
    }
}
