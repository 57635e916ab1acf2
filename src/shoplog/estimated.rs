//! What was estimated of a sample when it was weighed or timed: parts and settings may be others later.
//!
//! Knows: the scenario, samples. Must not know: how estimates are corrected.
//! Promises: what is compared with a measurement is what was estimated of it then, or the measurement is left out.

use serde::{Deserialize, Serialize};

use super::Log;
use super::basis::basis;
use super::event::Sample;
use super::progress::Names;
use super::records::Measured;
use crate::estimate;
use crate::scenario::{Against, Measurement, Scenario, SettingsIndex};
use crate::units::Grams;

/// An uncorrected estimate of all pieces of a sample.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Estimated {
    /// The settings that they were to be printed with.
    pub settings: String,
    /// Their mass.
    pub grams: f64,
    /// Minutes of their plastic through the hot end.
    pub minutes: f64,
    /// Minutes of their layers.
    pub layers: f64,
    /// Whether their volume was taken from grams that the scenario gives, and so is not corrected by what was weighed.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub typed: bool,
}

/// What the scenario estimates of a sample; `None` where it does not know its part or machine, or estimates nothing of it.
pub fn estimated(scenario: &Scenario, sample: &Sample) -> Option<Estimated> {
    let one = measurement(&Names::new(scenario), sample)?;
    let against = estimate::against(scenario, &one);
    let sound = |value: f64| value.is_finite() && value > 0.0;
    if !sound(against.grams.0) || !sound(against.minutes + against.layers) {
        return None;
    }
    Some(Estimated {
        settings: scenario.settings.get(against.settings.0)?.id.clone(),
        grams: against.grams.0,
        minutes: against.minutes,
        layers: against.layers,
        typed: against.typed,
    })
}

/// What was weighed and timed by a log, and how many entries are left out since what was estimated then is not known, and the scenario has
/// changed since.
pub fn measured(scenario: &Scenario, log: &Log) -> (Vec<Measurement>, usize) {
    of_all(scenario, &log.state().measured)
}

pub(super) fn of_all(scenario: &Scenario, all: &[Measured]) -> (Vec<Measurement>, usize) {
    let names = Names::new(scenario);
    let mut now = None;
    let mut measured = Vec::new();
    let mut unknown = 0;
    for one in all {
        let Some(mut measurement) = measurement(&names, &one.sample) else {
            continue; // a part or machine that is no more
        };
        match &one.estimated {
            Some(then) => {
                let mut settings = scenario.settings.iter();
                let Some(settings) = settings.position(|known| known.id == then.settings) else {
                    continue; // what was learnt of settings that are no more
                };
                measurement.against = Some(Against {
                    settings: SettingsIndex(settings),
                    grams: Grams(then.grams),
                    minutes: then.minutes,
                    layers: then.layers,
                    typed: then.typed,
                });
            }
            // Noted by an older program: as now, unless the scenario is known to have been another.
            None => {
                let now = now.get_or_insert_with(|| basis(scenario).whole);
                if one.basis.as_ref().is_some_and(|then| then != now) {
                    unknown += 1;
                    continue;
                }
            }
        }
        measurement.grams = one.grams.map(Grams);
        measurement.minutes = one.minutes;
        measured.push(measurement);
    }
    (measured, unknown)
}

fn measurement(names: &Names, sample: &Sample) -> Option<Measurement> {
    Some(Measurement {
        part: names.part(&sample.part)?,
        machine: names.machine(&sample.machine)?,
        pieces: sample.pieces,
        lengths: sample.of,
        upright: None,
        grams: None,
        minutes: None,
        against: None,
    })
}
