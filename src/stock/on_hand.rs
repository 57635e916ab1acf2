//! What there is of each filament when planning begins, and from when on it can be had.
//!
//! Knows: the scenario, what has been done, delivery times. Must not know: runs, plates, prices.
//! Promises: what can be had never grows less with time, and from the moment on
//! at which an order that is sent today has come it is without limit.

use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};

use crate::calendar::{delivered, minute_after};
use crate::progress::Progress;
use crate::scenario::{FilamentIndex, MachineIndex, Scenario};
use crate::units::Grams;

/// A spool that is there, or on its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// Its name: see [`crate::progress::Spool::id`].
    pub name: Arc<str>,
    /// Plastic on it, when what prints has ended.
    pub grams: Grams,
    /// The machine that it is on.
    pub on: Option<MachineIndex>,
    /// From when on it can be used: it arrives then, or the run that prints from it ends. `None`: at once.
    pub from: Option<DateTime<Utc>>,
    /// Whether it arrives then.
    pub comes: bool,
}

/// All spools, and from which day on more can be ordered.
#[derive(Clone, Debug, PartialEq)]
pub struct OnHand {
    /// Spools by filament.
    pub spools: Vec<Vec<Held>>,
    /// The first local date on which an order can be sent; `None`: on any day before the build's start.
    pub today: Option<NaiveDate>,
}

/// So much of a filament can be had from a moment on, in all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The moment.
    pub from: DateTime<Utc>,
    /// Grams in all, since planning began; infinite from the moment on at which an order sent today has come.
    pub grams: f64,
}

impl OnHand {
    /// The scenario's own spools, as a plan from the build's start takes them.
    pub fn at_start(scenario: &Scenario) -> Self {
        Self::of(scenario, &Progress::none(scenario))
    }

    /// What there is at a moment. `scenario` is the one that is planned, which starts then.
    pub fn of(scenario: &Scenario, progress: &Progress) -> Self {
        let start = scenario.build.start;
        let held = |spool: &crate::progress::Spool| {
            let arrives = spool.arrives.map(minute_after).filter(|&at| at > start);
            let running = progress.running.iter();
            let prints = running
                .filter(|run| spool.on == Some(run.machine))
                .map(|run| minute_after(run.end))
                .filter(|&end| end > start)
                .max();
            Held {
                name: Arc::from(spool.id.as_str()),
                grams: spool.grams,
                on: spool.on,
                from: arrives.max(prints),
                comes: arrives.is_some(),
            }
        };
        Self {
            spools: progress
                .spools
                .iter()
                .map(|spools| spools.iter().map(held).collect())
                .collect(),
            today: progress
                .orders_from
                .map(|now| now.with_timezone(&scenario.build.zone).date_naive()),
        }
    }

    /// When an order of a filament that is sent today has come; `None` where it can be ordered in time.
    pub fn comes(&self, scenario: &Scenario, filament: FilamentIndex) -> Option<DateTime<Utc>> {
        delivered(scenario, filament, self.today?)
    }

    /// What can be had of a filament by when, from the start on; `None` where as much as is wanted can be there by then.
    pub fn supply(&self, scenario: &Scenario, filament: FilamentIndex) -> Option<Vec<Step>> {
        let start = scenario.build.start;
        let comes = self.comes(scenario, filament).filter(|&at| at > start)?;
        let mut spools: Vec<(DateTime<Utc>, f64)> = self.spools[filament.0]
            .iter()
            .filter(|held| held.grams.0 > super::least(scenario))
            .map(|held| (held.from.unwrap_or(start), held.grams.0))
            .filter(|&(from, _)| from < comes)
            .collect();
        spools.sort_by_key(|&(from, _)| from);
        let mut steps = vec![Step {
            from: start,
            grams: 0.0,
        }];
        for (from, grams) in spools {
            // There is a step at the start.
            let sum = steps.last().map_or(0.0, |step| step.grams) + grams;
            match steps.last_mut() {
                Some(step) if step.from == from => step.grams = sum,
                _ => steps.push(Step { from, grams: sum }),
            }
        }
        steps.push(Step {
            from: comes,
            grams: f64::INFINITY,
        });
        Some(steps)
    }
}
