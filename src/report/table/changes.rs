//! What a plan of the rest does otherwise than the accepted one, and why.
//!
//! Knows: the changes that the plan lists. Must not know: how they were found.
//! Promises: a plan that goes on from nothing accepted has no such section.

use crate::plan::Plan;
use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, heading};
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
    let mut grid = Grid::new([Fit::Upto(28), Fit::Upto(18), Fit::Upto(18), Fit::Number(9)]);
    grid.head(["Run", "Was to start", "Starts", "Dearer by", "Why"]);
    for change in &since.changes {
        // A run's name says where it is; the machine is named only where it is another one.
        let moves = change
            .from
            .zip(change.to)
            .is_some_and(|(from, to)| from.0 != to.0);
        let place = |place: Option<(MachineIndex, DateTime<Utc>)>| {
            let Some((machine, start)) = place else {
                return "—".to_owned();
            };
            let start = local.full(start);
            match moves {
                true => format!("{start} on {}", scenario.machines[machine.0].id),
                false => start,
            }
        };
        grid.row([
            Text::from(match &change.was {
                _ if change.to.is_none() => format!("{}, in the plan before", change.run),
                Some(was) if *was != change.run => format!("{}, was {was}", change.run),
                _ => change.run.clone(),
            }),
            Text::from(place(change.from)),
            Text::from(place(change.to)),
            Text::from(format!("{}", Hundredths::nearest(change.money))),
            Text::from(change.why.as_str()),
        ]);
    }
    let title = match since.kept {
        Some(kept) => format!(
            "Changes: the rest costs {} {} so, {} as it was",
            Shown::new(&plan.cost).total(),
            scenario.currency,
            Hundredths::nearest(kept)
        ),
        None => "Changes".to_owned(),
    };
    heading(look, &title) + &grid.render(look, 0)
}
