//! What was weighed and timed, and how far estimates are off before anything is.
//!
//! Knows: parts, machines, spreads as data. Must not know: how a correction is fitted from them.
//! Promises: spreads are of logarithms, so they hold for a small part as for a large one.

use super::model::{Axis, MachineIndex, PartIndex, SettingsIndex};
use crate::units::Grams;

/// One run that was weighed or timed: pieces of one part, nothing else.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// What was printed.
    pub part: PartIndex,
    /// Where.
    pub machine: MachineIndex,
    /// Pieces of that run.
    pub pieces: u32,
    /// Each of them was one of so many lengths of a copy; 1: whole.
    pub lengths: u32,
    /// Which of the part's axes stood upright, if said.
    pub upright: Option<Axis>,
    /// Mass of all pieces together.
    pub grams: Option<Grams>,
    /// Minutes of the run, without warm-up.
    pub minutes: Option<f64>,
    /// What they are compared with, where that is not what is estimated now: a part that was resized since, another scale or settings.
    pub against: Option<Against>,
}

/// The uncorrected estimate of all pieces of a measurement together, and the settings that it speaks of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Against {
    /// The settings with which they were printed.
    pub settings: SettingsIndex,
    /// Their mass.
    pub grams: Grams,
    /// Minutes of their plastic through the hot end.
    pub minutes: f64,
    /// Minutes of their layers.
    pub layers: f64,
    /// Whether their volume comes from the part's own weighed mass, and is not corrected.
    pub typed: bool,
}

/// How far estimates are off before anything is measured: standard deviations of ln(real / estimated), in layers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spreads {
    /// From part to part and from run to run.
    pub noise: f64,
    /// From setting to setting on a machine.
    pub place: f64,
    /// From machine to machine.
    pub machine: f64,
    /// All of a farm together.
    pub farm: f64,
}

/// Of grams. That of the machine stands for the filament's thickness: ±0.05 mm on 1.75 mm are +5.80 % and −5.63 % of plastic,
/// taken as two spreads. The others are common practice, no source. Together: four estimates in five within −12 % and +14 %.
pub const GRAMS_SPREADS: Spreads = Spreads {
    noise: 0.08,
    place: 0.03,
    machine: 0.03,
    farm: 0.05,
};

/// Of minutes, common practice, no source: the estimate leaves out travel and acceleration. Together: four estimates in five
/// within −33 % and +48 %.
pub const MINUTES_SPREADS: Spreads = Spreads {
    noise: 0.15,
    place: 0.10,
    machine: 0.15,
    farm: 0.20,
};

/// Spread of the grams of a part that was weighed, from copy to copy: common practice, no source.
pub const WEIGHED_SPREAD: f64 = 0.02;

/// Spread of the grams of a part whose program was measured: the filament's thickness alone, see [`GRAMS_SPREADS`].
pub const PROGRAM_SPREAD: f64 = 0.03;
