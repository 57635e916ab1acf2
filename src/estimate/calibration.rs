//! What was weighed and timed corrects the estimate, by machine and setting.
//!
//! Knows: measurements, what the estimate says of the same. Must not know: how corrections are fitted (`shrinkage`), plans.
//! Promises: without measurements every factor is exactly 1; grams are fitted first, and minutes with their correction.

use std::collections::BTreeMap;

use super::mesh::mesh_needs;
use super::plastic::extruded_volume;
use super::shrinkage::{Correction, Fit, Place};
use super::time::layers;
use crate::scenario::{
    Against, Axis, GRAMS_SPREADS, MINUTES_SPREADS, MachineIndex, Measurement, PROGRAM_SPREAD,
    PartIndex, Scenario, SettingsIndex, WEIGHED_SPREAD,
};
use crate::units::{CubicMillimetres, Grams, Millimetres};

/// So many spreads to both sides hold four normal numbers in five.
pub const EIGHTY: f64 = 1.281_551_565_544_6;

/// The corrections of a scenario.
#[derive(Clone, Debug)]
pub struct Calibration {
    grams: Fit,
    minutes: Fit,
    counts: BTreeMap<Place, [usize; 2]>,
}

impl Calibration {
    /// Fits what a scenario's measurements say.
    pub fn new(scenario: &Scenario) -> Self {
        let mut counts: BTreeMap<Place, [usize; 2]> = BTreeMap::new();
        let mut logs = Vec::new();
        for one in &scenario.measured {
            if let Some(grams) = one.grams {
                let against = against(scenario, one);
                let place = (one.machine, against.settings);
                logs.push((place, (grams.value() / against.grams.value()).ln()));
                counts.entry(place).or_default()[0] += 1;
            }
        }
        let grams = Fit::new(&logs, GRAMS_SPREADS);
        logs.clear();
        for one in &scenario.measured {
            if let Some(minutes) = one.minutes {
                let against = against(scenario, one);
                let place = (one.machine, against.settings);
                let factor = if against.typed {
                    1.0
                } else {
                    grams.at(place).factor
                };
                let estimate = against.minutes * factor + against.layers;
                logs.push((place, (minutes / estimate).ln()));
                counts.entry(place).or_default()[1] += 1;
            }
        }
        Self {
            grams,
            minutes: Fit::new(&logs, MINUTES_SPREADS),
            counts,
        }
    }

    /// The correction of grams on a machine with a setting.
    pub fn grams(&self, machine: MachineIndex, settings: SettingsIndex) -> Correction {
        self.grams.at((machine, settings))
    }

    /// The correction of minutes, layers included and warm-up not, once grams are corrected.
    pub fn minutes(&self, machine: MachineIndex, settings: SettingsIndex) -> Correction {
        self.minutes.at((machine, settings))
    }

    /// How often grams and minutes were measured there.
    pub fn counts(&self, machine: MachineIndex, settings: SettingsIndex) -> [usize; 2] {
        self.counts
            .get(&(machine, settings))
            .copied()
            .unwrap_or_default()
    }
}

/// What a measurement is compared with: what is said of it, else what is estimated now.
pub fn against(scenario: &Scenario, one: &Measurement) -> Against {
    if let Some(against) = one.against {
        return against;
    }
    let part = &scenario.parts[one.part.0];
    let density = scenario.filaments[part.filament.0].density;
    let axis = upright(scenario, one);
    let (own, layers) = times(scenario, one, axis);
    Against {
        settings: part.settings,
        grams: lying_volume(scenario, one, axis) * density * f64::from(one.pieces),
        minutes: own / 60.0,
        layers: layers / 60.0,
        typed: part.grams.is_some(),
    }
}

/// Grams and minutes, without warm-up, that are estimated of all pieces of a measurement together, uncorrected.
pub fn uncorrected(scenario: &Scenario, one: &Measurement) -> (Grams, f64) {
    let against = against(scenario, one);
    (against.grams, against.minutes + against.layers)
}

/// The spread of the logarithm of real / planned grams of a part on a machine: as weighed, by its program, or estimated.
pub fn grams_spread(
    scenario: &Scenario,
    calibration: &Calibration,
    part: PartIndex,
    machine: MachineIndex,
) -> f64 {
    let part = &scenario.parts[part.0];
    let program = part.toolpaths.get(machine.0).copied().flatten();
    match (part.grams, program) {
        (Some(_), _) => WEIGHED_SPREAD,
        (None, Some(_)) => PROGRAM_SPREAD,
        (None, None) => calibration.grams(machine, part.settings).spread,
    }
}

/// The box of one measured piece, lying with an axis upright: two sides, and the upright one.
fn lying(scenario: &Scenario, one: &Measurement, upright: Axis) -> [Millimetres; 3] {
    let mut size = scenario.parts[one.part.0].size;
    // Cut across the longest side, the first of equal ones.
    let mut longest = 0;
    for side in 1..3 {
        if size[side] > size[longest] {
            longest = side;
        }
    }
    size[longest] = size[longest] * (1.0 / f64::from(one.lengths));
    let [x, y, z] = size;
    match upright {
        Axis::X => [y, z, x],
        Axis::Y => [x, z, y],
        Axis::Z => [x, y, z],
    }
}

/// Which axis of it stood upright: as said, or the allowed one of least time (of equal ones z, then y).
fn upright(scenario: &Scenario, one: &Measurement) -> Axis {
    let part = &scenario.parts[one.part.0];
    let seconds = |axis: Axis| {
        let (own, layers) = times(scenario, one, axis);
        own + layers
    };
    one.upright.unwrap_or_else(|| {
        [Axis::Z, Axis::Y, Axis::X]
            .into_iter()
            .filter(|axis| part.lie.contains(axis))
            .reduce(|best, axis| {
                if seconds(axis) < seconds(best) {
                    axis
                } else {
                    best
                }
            })
            .unwrap_or(Axis::Z)
    })
}

/// Extruded volume of one measured piece, by the estimate alone.
fn lying_volume(scenario: &Scenario, one: &Measurement, axis: Axis) -> CubicMillimetres {
    let part = &scenario.parts[one.part.0];
    let settings = &scenario.settings[part.settings.0];
    let Some(mesh) = part.mesh() else {
        return extruded_volume(lying(scenario, one, axis), part.solid(), settings);
    };
    // Which of the lengths it was is not said: the mean of all.
    let bodies = (1..=one.lengths).filter_map(|length| mesh.body(one.lengths, length));
    let volumes = bodies.map(|body| {
        let drawn = &body.lying[axis as usize];
        let [drawn, over] = [drawn, &drawn.turned_over()].map(|l| mesh_needs(body, l, settings));
        let better = over.support.value() < drawn.support.value() * (1.0 - 1e-9);
        let needs = if better { over } else { drawn };
        needs.piece + needs.support
    });
    volumes.sum::<CubicMillimetres>() * (1.0 / f64::from(one.lengths))
}

/// Seconds of all pieces of a measurement without their layers, and of the layers that they share.
fn times(scenario: &Scenario, one: &Measurement, axis: Axis) -> (f64, f64) {
    let part = &scenario.parts[one.part.0];
    let machine = &scenario.machines[one.machine.0];
    let settings = &scenario.settings[part.settings.0];
    let density = scenario.filaments[part.filament.0].density;
    // A part that is weighed has its volume from that.
    let volume = match part.grams {
        Some(copy) => (copy * (1.0 / f64::from(one.lengths))).volume(density),
        None => lying_volume(scenario, one, axis),
    };
    let layers = layers(lying(scenario, one, axis)[2], settings.layer);
    (
        f64::from(one.pieces) * volume.time_at(machine.flow).value(),
        f64::from(layers) * machine.layer_time.value(),
    )
}
