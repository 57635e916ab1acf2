//! The runs whose spool ends with nobody there.
//!
//! Knows: runs, the ends of their spools. Must not know: how spools are allotted.
//! Promises: every such end is named, and with it the last setup at which another spool could have gone on.

use crate::plan::{Plan, Run};
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::Local;

pub(super) fn marked(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let mut grid = Grid::new([Fit::Upto(20), Fit::Upto(20)]);
    let mut elsewhere = false;
    for (at, run) in plan.runs.iter().enumerate() {
        let ends: Vec<String> = run.spool.alone().map(|end| local.full(end.at)).collect();
        if ends.is_empty() {
            continue;
        }
        let ends = format!("ends {} with nobody there", ends.join(" and "));
        grid.row([
            Text::from(run.id.as_str()).tone(Tone::Mark),
            scenario.filaments[run.filament.0].id.as_str().into(),
            match setup_before(&plan.runs[..=at]) {
                Some(before) if before.id != run.id => {
                    elsewhere = true;
                    format!("{ends}; no setup since {}", before.id).into()
                }
                _ => ends.into(),
            },
        ]);
    }
    if grid.is_empty() {
        return String::new();
    }
    let mut advice = String::from(
        "The machine then stands, or prints nothing, until somebody comes, and whatever waits for it is later. Be there \
         at that time, or put a fuller spool on at the run's setup",
    );
    advice.push_str(if elsewhere {
        "; where it has none, at that of the run named."
    } else {
        "."
    });
    heading(look, "Marked: the spool runs out")
        + &grid.render(look, 0)
        + &paragraph(look, 0, advice)
}

/// The last of these runs, all of its machine, that has a setup: itself, or one that it follows without.
fn setup_before(runs: &[Run]) -> Option<&Run> {
    let run = runs.last()?;
    runs.iter()
        .rev()
        .take_while(|before| before.machine == run.machine)
        .find(|before| before.setup.is_some())
}
