//! A part in one piece or in equal lengths, and all ways to make such a piece.
//!
//! Knows: splits, joints, fits, the estimate. Must not know: why something does not fit.
//! Promises: every form has a way; its lengths are equal and none is shorter than its joint allows.

use super::fit::{self, Fit, Room};
use super::{Form, Way};
use crate::estimate::{self, Calibration};
use crate::geometry::TOLERANCE;
use crate::scenario::{Axis, JointIndex, MachineIndex, Part, PartIndex, Scenario};
use crate::units::{Grams, Millimetres, Minutes, Money};

/// All forms of a part that some machine can make, fewest lengths first.
pub(super) fn forms(scenario: &Scenario, calibration: &Calibration, part: PartIndex) -> Vec<Form> {
    let part = &scenario.parts[part.0];
    allowed(scenario, part)
        .filter_map(|mut form| {
            form.ways = ways(scenario, calibration, part, form.lengths, form.piece);
            (!form.ways.is_empty()).then_some(form)
        })
        .collect()
}

/// Every form that the part allows, before its ways are found: whole, then in lengths.
pub(super) fn allowed<'a>(scenario: &'a Scenario, part: &'a Part) -> impl Iterator<Item = Form> {
    std::iter::once(whole(part)).chain(split(scenario, part))
}

/// The form in one piece.
fn whole(part: &Part) -> Form {
    Form {
        lengths: 1,
        piece: part.size,
        joint: None,
        glue: Minutes::ZERO,
        cure: Minutes::ZERO,
        hardware: Money::ZERO,
        joint_grams: Grams::ZERO,
        ways: Vec::new(),
    }
}

/// The forms in lengths that the part's split and its joint allow.
fn split<'a>(scenario: &'a Scenario, part: &'a Part) -> impl Iterator<Item = Form> {
    part.split.iter().flat_map(move |split| {
        let least = shortest_length(scenario, part, split.joint);
        let (_, length) = longest(part.size);
        split
            .into
            .clone()
            .take_while(move |&lengths| length / f64::from(lengths) >= least)
            .map(move |lengths| {
                let piece = divided(part.size, lengths);
                joined(scenario, split.joint, lengths, piece)
            })
    })
}

/// A length may be no shorter than this: what the joint needs, and never less than one line is wide, since nothing
/// thinner is printed (so that the lengths come to an end whatever the joint and the range say).
pub(super) fn shortest_length(scenario: &Scenario, part: &Part, joint: JointIndex) -> f64 {
    let joint = scenario.joints[joint.0].shortest.value();
    let line = scenario.settings[part.settings.0].line.value();
    joint.max(line) - TOLERANCE
}

/// The form in `lengths` pieces with a joint between any two neighbours.
fn joined(scenario: &Scenario, index: JointIndex, lengths: u32, piece: [Millimetres; 3]) -> Form {
    let joint = &scenario.joints[index.0];
    let joints = f64::from(lengths.saturating_sub(1));
    let (price, grams) = joint
        .hardware
        .as_ref()
        .map_or((Money::ZERO, Grams::ZERO), |hardware| {
            let length = hardware.length.value();
            (
                hardware.price_per_mm * length,
                Grams(hardware.grams_per_mm * length),
            )
        });
    Form {
        lengths,
        piece,
        joint: Some(index),
        glue: (joint.bench * joints).whole_minutes(),
        cure: joint.cure,
        hardware: price * joints,
        joint_grams: (joint.grams + grams) * joints,
        ways: Vec::new(),
    }
}

/// The position in `size` of the longest side (the first of equal ones) and its length in mm.
pub(super) fn longest(size: [Millimetres; 3]) -> (usize, f64) {
    let [x, y, z] = size.map(Millimetres::value);
    if x >= y && x >= z {
        (0, x)
    } else if y >= z {
        (1, y)
    } else {
        (2, z)
    }
}

/// The box of one of so many equal lengths, cut across the longest side.
pub(super) fn divided(mut size: [Millimetres; 3], lengths: u32) -> [Millimetres; 3] {
    let (axis, length) = longest(size);
    size[axis] = Millimetres(length / f64::from(lengths));
    size
}

/// Every machine and position for one of the `lengths` pieces of a part: by machine, the quickest first.
fn ways(
    scenario: &Scenario,
    calibration: &Calibration,
    part: &Part,
    lengths: u32,
    piece: [Millimetres; 3],
) -> Vec<Way> {
    let positions = fit::positions(piece, &part.lie);
    let mut ways: Vec<Way> = (0..scenario.machines.len())
        .filter(|&machine| fit::bars(scenario, part, machine).is_empty())
        .flat_map(|machine| {
            let room = Room::of(&scenario.machines[machine]);
            positions.iter().filter_map(move |&upright| {
                let size = fit::lying(piece, upright);
                let fit = fit::fit(room, size)?;
                let machine = MachineIndex(machine);
                Some(way(
                    scenario,
                    calibration,
                    part,
                    lengths,
                    machine,
                    upright,
                    size,
                    fit,
                ))
            })
        })
        .collect();
    // Stable: of equally quick positions, the one nearest to how the part is drawn stays first.
    ways.sort_by_key(|way| (way.machine, way.alone));
    ways
}

/// The way that a fit gives, with its estimate.
#[allow(clippy::too_many_arguments)] // each is one thing that the estimate rests on
fn way(
    scenario: &Scenario,
    calibration: &Calibration,
    part: &Part,
    lengths: u32,
    index: MachineIndex,
    upright: Axis,
    size: [Millimetres; 3],
    fit: Fit,
) -> Way {
    let machine = &scenario.machines[index.0];
    let settings = &scenario.settings[part.settings.0];
    let filament = &scenario.filaments[part.filament.0];
    let plastic = estimate::plastic(
        part,
        lengths,
        index,
        size,
        settings,
        filament,
        calibration.grams(index, part.settings).factor,
    );
    let layers = estimate::layers(size[2], settings.layer);
    let own = estimate::own_time(
        part,
        lengths,
        index,
        machine,
        plastic.volume,
        layers,
        calibration.minutes(index, part.settings).factor,
    );
    Way {
        machine: index,
        upright,
        size,
        straight: fit.straight,
        turned: fit.turned,
        diagonal: fit.diagonal,
        own_time: own.time,
        layers: own.layers,
        layer_time: own.layer_time,
        volume: plastic.volume,
        grams: plastic.grams,
        alone: estimate::run_minutes(machine.warm_up, own.time, own.layer_time),
    }
}
