//! The plan as text: what a tired person wants to know first stands first.
//!
//! Knows: the order of the sections. Must not know: how wide text is (`grid`), how the plan was found.
//! Promises: every section says what it has, or is left out; a marked run and a late stage are named, not only coloured.

mod changes;
mod filament;
mod headline;
mod idle;
mod levels;
mod lifts;
mod marked;
mod queue;
mod stages;
mod trials;
mod ways;
mod week;

use crate::plan::Plan;
use crate::scenario::Scenario;

use super::Look;
use super::grid::{Fit, Grid, Text, heading};
use super::spans::spans_in_short;

/// The plan for a terminal: headline, week, queue, trials, spools that run out, long parts, stages, filament, cautions.
pub fn table(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    [
        headline::headline(scenario, plan, look),
        changes::changes(scenario, plan, look),
        week::week(scenario, plan, look),
        queue::queue(scenario, plan, look),
        trials::trials(scenario, plan, look),
        marked::marked(scenario, plan, look),
        idle::idle(scenario, plan, look),
        ways::ways(scenario, plan, look),
        spans_in_short(scenario, &plan.spans, look),
        stages::stages(scenario, plan, look),
        filament::orders(scenario, plan, look),
        levels::levels(scenario, plan, look),
        lifts::lifts(scenario, plan, look),
        cautions(plan, look),
    ]
    .concat()
}

fn cautions(plan: &Plan, look: &Look) -> String {
    if plan.cautions.is_empty() {
        return String::new();
    }
    let mut grid = Grid::new([Fit::Upto(1)]);
    for caution in &plan.cautions {
        grid.row(["•".into(), Text::from(caution.as_str())]);
    }
    heading(look, "Take care") + &grid.render(look, 0)
}
