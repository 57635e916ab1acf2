//! Machines that print nothing, or nothing more, while others do.
//!
//! Knows: such machines, and the reasons that were found. Must not know: how.
//! Promises: a line for each; nothing where there is none.

use crate::plan::Plan;
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, heading};
use crate::report::local::Local;
use crate::report::words;

pub(super) fn idle(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    if plan.idle.is_empty() {
        return String::new();
    }
    let local = Local(scenario.build.zone);
    let mut grid = Grid::new([Fit::Upto(1)]);
    for idle in &plan.idle {
        grid.row(["•".into(), Text::from(words::idle(scenario, local, idle))]);
    }
    heading(look, "Machines without work") + &grid.render(look, 0)
}
