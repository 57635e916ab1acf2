//! What a plan of the rest does otherwise than the accepted one, and why.
//!
//! Knows: the changes that the plan lists. Must not know: how they were found.
//! Promises: a plan that goes on from nothing accepted has no such section.

use crate::plan::Plan;
use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, heading};
use crate::report::local::{Local, day};
use crate::report::money::Hundredths;
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
    let place = |place: Option<(MachineIndex, DateTime<Utc>)>| match place {
        Some((machine, start)) => format!(
            "{}, {}{TIE}{}",
            scenario.machines[machine.0].id,
            day(local.date(start)),
            local.clock(start)
        ),
        None => "—".to_owned(),
    };
    let mut grid = Grid::new([Fit::Upto(4)]);
    for change in &since.changes {
        grid.row([
            Text::from(change.run.as_str()),
            Text::from(place(change.from)),
            Text::from(place(change.to)),
            Text::from(format!("{}", Hundredths::nearest(change.money))),
            Text::from(change.why.as_str()),
        ]);
    }
    let title = match since.kept {
        Some(kept) => format!(
            "Changes: the rest costs {} {} so, {} as it was",
            Hundredths::nearest(plan.cost.total()),
            scenario.currency,
            Hundredths::nearest(kept)
        ),
        None => "Changes".to_owned(),
    };
    heading(look, &title) + &grid.render(look, 0)
}
