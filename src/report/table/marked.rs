//! The runs whose spool ends with nobody there.
//!
//! Knows: runs, the ends of their spools. Must not know: how spools are allotted.
//! Promises: every such end is named, and with it the last setup at which another spool could have gone on.

use std::collections::BTreeMap;

use crate::plan::{Plan, Run};
use crate::scenario::Scenario;
use crate::units::Grams;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::report::words;

pub(super) fn marked(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let mut grid = Grid::new([Fit::Upto(20), Fit::Upto(20)]);
    let (mut elsewhere, mut fuller) = (false, false);
    let mut larger: BTreeMap<usize, f64> = BTreeMap::new();
    for (at, run) in plan.runs.iter().enumerate() {
        let ends: Vec<String> = run.spool.alone().map(|end| local.full(end.at)).collect();
        if ends.is_empty() {
            continue;
        }
        let takes = takes(scenario, &plan.runs[..=at]);
        let filament = &scenario.filaments[run.filament.0];
        let spools = filament.spools.iter().chain([&filament.spool]);
        let largest = spools.map(|spool| spool.0).fold(0.0, f64::max);
        // Runs that follow it may be set up.
        let own = run.grams.0 + crate::plan::purged(scenario, run).0;
        let least = own * (1.0 + scenario.build.spool_margin);
        if largest > takes {
            fuller = true;
        } else if least > largest {
            let known = larger.entry(run.filament.0).or_insert(0.0);
            *known = least.max(*known);
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
        "The machine then stands, or prints nothing, until somebody comes, and whatever waits for it is later. No other \
         setup, smaller plate or later start that was tried avoids it with the stages as early. Be there at that time, or plan with bench hours then",
    );
    advice.push_str(match (fuller, elsewhere) {
        (false, _) => "",
        (true, false) => ", or put a fuller spool on at the run's setup",
        (true, true) => {
            ", or put a fuller spool on at the run's setup; where it has none, at that of the run named"
        }
    });
    if !larger.is_empty() {
        let larger: Vec<String> = larger
            .iter()
            .map(|(&filament, &grams)| {
                let filament = &scenario.filaments[filament].id;
                format!("{filament} {}", words::mass(Grams(grams)))
            })
            .collect();
        advice.push_str(&format!(
            ", or buy larger spools, with at least: {}",
            larger.join(", ")
        ));
    }
    advice.push('.');
    heading(look, "Marked: the spool runs out")
        + &grid.render(look, 0)
        + &paragraph(look, 0, advice)
}

/// Grams that the last of these runs and those that it follows without a setup take.
fn takes(scenario: &Scenario, runs: &[Run]) -> f64 {
    let Some(run) = runs.last() else {
        return 0.0;
    };
    let first = setup_before(runs).map_or(run.start, |first| first.start);
    runs.iter()
        .filter(|one| one.machine == run.machine && one.start >= first)
        .map(|one| one.grams.0 + crate::plan::purged(scenario, one).0)
        .sum()
}

/// The last of these runs, all of its machine, that has a setup: itself, or one that it follows without.
fn setup_before(runs: &[Run]) -> Option<&Run> {
    let run = runs.last()?;
    runs.iter()
        .rev()
        .take_while(|before| before.machine == run.machine)
        .find(|before| before.setup.is_some())
}
