//! The runs whose spool ends with nobody there.
//!
//! Knows: runs, the ends of their spools. Must not know: how spools are allotted.
//! Promises: every such end is named, and with it the last setup at which another spool could have gone on; a spool is advised only
//! where it lasts.

use std::collections::BTreeMap;

use crate::plan::{Plan, Run};
use crate::scenario::Scenario;
use crate::units::Grams;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::Local;
use crate::report::words;

/// The heaviest spools that are sold, common practice, no source.
const HEAVIEST_SOLD: f64 = 10_000.0;

/// What would keep runs from stopping, besides somebody who is there.
#[derive(Default)]
struct Advice<'a> {
    /// Runs for which a spool that there is, or that is bought, would last, with its grams.
    fuller: Vec<(&'a str, f64)>,
    /// By part, of runs of one piece that no such spool lasts for.
    too_heavy: BTreeMap<usize, Vec<&'a str>>,
    /// By filament, the least spool that would last for all its runs, as far as any is sold.
    larger: BTreeMap<usize, f64>,
    /// Whether some run has no setup of its own.
    elsewhere: bool,
}

pub(super) fn marked(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let mut grid = Grid::new([Fit::Upto(20), Fit::Upto(20)]);
    let mut advice = Advice::default();
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
                    format!("{ends}; no setup since {}", before.id).into()
                }
                _ => ends.into(),
            },
        ]);
        advice.of(scenario, &plan.runs[..=at]);
    }
    if grid.is_empty() {
        return String::new();
    }
    heading(look, "Marked: the spool runs out")
        + &grid.render(look, 0)
        + &paragraph(look, 0, advice.said(scenario))
}

impl<'a> Advice<'a> {
    /// Adds what is advised for the last of these runs.
    fn of(&mut self, scenario: &Scenario, runs: &'a [Run]) {
        let Some(run) = runs.last() else { return };
        let filament = &scenario.filaments[run.filament.0];
        let spools = filament.spools.iter().chain([&filament.spool]);
        let largest = spools.map(|spool| spool.0).fold(0.0, f64::max);
        let with_margin = |grams: f64| grams * (1.0 + scenario.build.spool_margin);
        // Runs that follow it may be set up.
        let own = with_margin(run.grams.0 + crate::plan::purged(scenario, run).0);
        if with_margin(takes(scenario, runs)) <= largest {
            self.fuller.push((&run.id, largest));
            let before = setup_before(runs);
            self.elsewhere |= before.is_some_and(|before| before.id != run.id);
        } else if own > largest {
            if let [piece] = &run.pieces[..] {
                self.too_heavy
                    .entry(piece.part.0)
                    .or_default()
                    .push(&run.id);
            }
            let known = self.larger.entry(run.filament.0).or_insert(0.0);
            *known = own.max(*known);
        }
    }

    fn said(&self, scenario: &Scenario) -> String {
        let mut said = String::from(
            "The machine then stands, or prints nothing, until somebody comes, and whatever waits for it is later. No other \
             setup, smaller plate or later start that was tried avoids it with the stages as early. Be there at that time, or \
             plan with bench hours then.",
        );
        if !self.fuller.is_empty() {
            let runs = self.fuller.iter();
            let runs: Vec<String> = runs
                .map(|(run, grams)| format!("{run} ({})", words::mass(Grams(*grams))))
                .collect();
            said.push_str(&format!(
                " Or put a full spool on at the setup: {}",
                runs.join(", ")
            ));
            if self.elsewhere {
                said.push_str("; where a run has none, at that of the run named");
            }
            said.push('.');
        }
        for (&part, runs) in &self.too_heavy {
            let part = &scenario.parts[part];
            let runs = runs.join(", ");
            let way = match part.split {
                None => "let it be split",
                Some(_) => "let it be split into more lengths",
            };
            said.push_str(&format!(
                " No spool of those you have or buy lasts for a piece of {} ({runs}): {way}.",
                part.id
            ));
        }
        let larger = self
            .larger
            .iter()
            .filter(|(_, grams)| **grams <= HEAVIEST_SOLD);
        let larger: Vec<String> = larger
            .map(|(&filament, &grams)| {
                let filament = &scenario.filaments[filament].id;
                format!("{filament} {}", words::mass(Grams(grams)))
            })
            .collect();
        if !larger.is_empty() {
            let larger = larger.join(", ");
            said.push_str(&format!(" Or buy larger spools, with at least: {larger}."));
        }
        said
    }
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
