//! A part in one piece or in equal lengths, and all ways to make such a piece.
//!
//! Knows: splits, joints, fits, the estimate. Must not know: why something does not fit.
//! Promises: every kind of piece of a form has a way; its lengths are cut equally long and none is shorter than its
//! joint allows.

use std::sync::Arc;

use super::fit::{self, Fit, Room};
use super::{Form, Kind, Way};
use crate::estimate::{self, Calibration, Solid};
use crate::geometry::TOLERANCE;
use crate::scenario::{Axis, JointIndex, MachineIndex, Part, PartIndex, Scenario};
use crate::scenario::{Body, Lying};
use crate::units::{Grams, Millimetres, Minutes, Money};

/// All forms of a part that some machine can make, fewest lengths first.
pub(super) fn forms(scenario: &Scenario, calibration: &Calibration, part: PartIndex) -> Vec<Form> {
    let part = &scenario.parts[part.0];
    allowed(scenario, part)
        .filter_map(|mut form| {
            let kinds = form.kinds.iter().enumerate();
            let ways: Vec<Vec<Way>> = kinds
                .map(|(at, kind)| ways(scenario, calibration, part, form.lengths, at, kind))
                .collect();
            // A copy needs all of its lengths.
            let makeable = ways.iter().all(|ways| !ways.is_empty());
            form.ways = ways.into_iter().flatten().collect();
            makeable.then_some(form)
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
        kinds: vec![Kind {
            positions: vec![1],
            piece: part.size,
            share: 1.0,
        }],
        joint: None,
        glue: Minutes::ZERO,
        cure: Minutes::ZERO,
        hardware: Money::ZERO,
        joint_grams: Grams::ZERO,
        ways: Vec::new(),
    }
}

/// The forms in lengths that the part's split and its joint allow, and its mesh: a cut may leave no length empty.
fn split<'a>(scenario: &'a Scenario, part: &'a Part) -> impl Iterator<Item = Form> {
    part.split.iter().flat_map(move |split| {
        let least = shortest_length(scenario, part, split.joint);
        let (_, length) = longest(part.size);
        split
            .into
            .clone()
            .take_while(move |&lengths| length / f64::from(lengths) >= least)
            .filter_map(move |lengths| {
                let kinds = kinds(part, lengths)?;
                Some(joined(scenario, split.joint, lengths, kinds))
            })
    })
}

/// The kinds of piece that a part in so many lengths has; `None` if its mesh cannot be cut so.
fn kinds(part: &Part, lengths: u32) -> Option<Vec<Kind>> {
    let Some(mesh) = part.mesh() else {
        return Some(vec![Kind {
            positions: (1..=lengths).collect(),
            piece: divided(part.size, lengths),
            share: 1.0 / f64::from(lengths),
        }]);
    };
    let bodies = mesh.lengths.get(&lengths)?;
    let all: f64 = bodies.iter().map(|body| body.volume).sum();
    let mut kinds: Vec<Kind> = Vec::new();
    for (position, body) in (1..).zip(bodies) {
        let like = kinds.iter_mut().find(|kind| {
            let first = kind.positions[0] as usize - 1; // no kind is without a position
            bodies[first].is_like(body)
        });
        match like {
            Some(kind) => kind.positions.push(position),
            None => kinds.push(Kind {
                positions: vec![position],
                piece: body.size().map(Millimetres),
                share: body.volume / all,
            }),
        }
    }
    Some(kinds)
}

/// A length may be no shorter than this: what the joint needs, and never less than one line is wide, since nothing
/// thinner is printed (so that the lengths come to an end whatever the joint and the range say).
pub(super) fn shortest_length(scenario: &Scenario, part: &Part, joint: JointIndex) -> f64 {
    let joint = scenario.joints[joint.0].shortest.value();
    let line = scenario.settings[part.settings.0].line.value();
    joint.max(line) - TOLERANCE
}

/// The form in `lengths` pieces with a joint between any two neighbours.
fn joined(scenario: &Scenario, index: JointIndex, lengths: u32, kinds: Vec<Kind>) -> Form {
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
        kinds,
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

/// Every machine and position for a kind of piece of a part in so many lengths: by machine, the quickest first.
fn ways(
    scenario: &Scenario,
    calibration: &Calibration,
    part: &Part,
    lengths: u32,
    at: usize,
    kind: &Kind,
) -> Vec<Way> {
    let stands = stands(scenario, part, lengths, kind);
    let mut ways: Vec<Way> = (0..scenario.machines.len())
        .filter(|&machine| fit::bars(scenario, part, machine).is_empty())
        .flat_map(|machine| {
            let room = Room::of(&scenario.machines[machine]);
            stands.iter().filter_map(move |stand| {
                let fit = fit::fit(room, stand.size)?;
                let machine = MachineIndex(machine);
                Some(way(
                    scenario,
                    calibration,
                    part,
                    (at, kind.share),
                    machine,
                    stand,
                    fit,
                ))
            })
        })
        .collect();
    // Stable: of equally quick positions, the one nearest to how the part is drawn stays first.
    ways.sort_by_key(|way| (way.machine, way.alone));
    ways
}

/// A position of a piece, on whatever machine.
struct Stand<'a> {
    upright: Axis,
    over: bool,
    /// Along x, along y, upright.
    size: [Millimetres; 3],
    /// The body that lies so; `None`: a box.
    body: Option<(&'a Body, Lying)>,
}

/// The positions of a piece. A mesh is put on its feet or on its head, whichever takes less support; as drawn if neither
/// is better, or if it was weighed.
fn stands<'a>(scenario: &Scenario, part: &'a Part, lengths: u32, kind: &Kind) -> Vec<Stand<'a>> {
    let settings = &scenario.settings[part.settings.0];
    let Some(mesh) = part.mesh() else {
        let positions = fit::positions(kind.piece, &part.lie).into_iter();
        return positions
            .map(|upright| Stand {
                upright,
                over: false,
                size: fit::lying(kind.piece, upright),
                body: None,
            })
            .collect();
    };
    let first = kind.positions[0]; // no kind is without a position
    let Some(body) = mesh.body(lengths, first) else {
        return Vec::new();
    };
    // Each position of a mesh is its own, even where boxes are alike.
    let allowed = [Axis::Z, Axis::Y, Axis::X];
    let allowed = allowed.into_iter().filter(|axis| part.lie.contains(axis));
    let support = |lying: &Lying| estimate::mesh_needs(body, lying, settings).support.value();
    allowed
        .map(|upright| {
            let lying = &body.lying[upright as usize];
            let turned = lying.turned_over();
            let over = part.grams.is_none() && support(&turned) < support(lying) * (1.0 - 1e-9);
            Stand {
                upright,
                over,
                size: fit::lying(kind.piece, upright),
                body: Some((body, if over { turned } else { lying.clone() })),
            }
        })
        .collect()
}

/// The way that a fit gives, with its estimate; `kind` with its place among the form's.
fn way(
    scenario: &Scenario,
    calibration: &Calibration,
    part: &Part,
    (kind, share): (usize, f64),
    index: MachineIndex,
    stand: &Stand<'_>,
    fit: Fit,
) -> Way {
    let machine = &scenario.machines[index.0];
    let settings = &scenario.settings[part.settings.0];
    let filament = &scenario.filaments[part.filament.0];
    let solid = match &stand.body {
        Some((body, lying)) => Solid::Body(body, lying),
        None => Solid::Share(part.solid()),
    };
    let plastic = estimate::plastic(
        part,
        share,
        index,
        stand.size,
        solid,
        settings,
        filament,
        calibration.grams(index, part.settings).factor,
    );
    let layers = estimate::layers(stand.size[2], settings.layer);
    let own = estimate::own_time(
        part,
        share,
        index,
        machine,
        plastic.volume,
        layers,
        calibration.minutes(index, part.settings).factor,
    );
    Way {
        machine: index,
        kind,
        upright: stand.upright,
        over: stand.over,
        size: stand.size,
        straight: fit.straight,
        turned: fit.turned,
        diagonal: fit.diagonal,
        own_time: own.time,
        layers: own.layers,
        layer_time: own.layer_time,
        volume: plastic.volume,
        grams: plastic.grams,
        support: plastic.support,
        outline: stand
            .body
            .as_ref()
            .map(|(_, lying)| Arc::new(lying.outline.clone())),
        alone: estimate::run_minutes(machine.warm_up, own.time, own.layer_time),
    }
}
