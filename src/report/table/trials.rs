//! Which trial copies are to be approved, and when.
//!
//! Knows: trials, the runs that they are on. Must not know: bench hours.
//! Promises: every part with a trial is named.

use crate::plan::Plan;
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, heading};
use crate::report::local::Local;
use crate::report::words;

pub(super) fn trials(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    if plan.trials.is_empty() {
        return String::new();
    }
    let local = Local(scenario.build.zone);
    let mut grid = Grid::new([Fit::Upto(32)]);
    for trial in &plan.trials {
        let part = &scenario.parts[trial.part.0];
        let rest = if part.trial < part.copies() {
            "; the rest is set up after that"
        } else {
            ""
        };
        grid.row([
            Text::from(format!("{}×{TIE}{}", part.trial, part.id)).tone(Tone::Strong),
            format!(
                "from {}, {}{}{rest}",
                local.full(trial.approved),
                words::trial_from(scenario, plan, trial),
                words::to_choose(part)
            )
            .into(),
        ]);
    }
    heading(look, "To approve") + &grid.render(look, 0)
}
