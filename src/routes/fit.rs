//! How one box or outline lies on one machine, and which rules keep a part off a machine.
//!
//! Knows: boxes, machines, what a part allows. Must not know: lengths, joints, costs.
//! Promises: a fit holds for the box alone, margins taken off, to within the geometry's tolerance.

use crate::geometry::{Outline, TOLERANCE, least_angle};
use crate::scenario::{Axis, Machine, MachineKind, Part, Scenario, Turns};
use crate::units::Millimetres;

/// What a machine has to offer to one piece, margins taken off; mm. Nothing fits where a side is not above zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Room {
    /// Along x; on a belt: across it.
    pub x: f64,
    /// Along y; on a belt: along it.
    pub y: f64,
    /// Upright.
    pub height: f64,
    /// Whether a piece may lie at an angle. Not on a belt: the next piece follows on it, square to its sides.
    pub any_angle: bool,
}

impl Room {
    pub(super) fn of(machine: &Machine) -> Self {
        let margins = 2.0 * machine.margin.value();
        match machine.kind {
            MachineKind::Bed {
                bed: [x, y],
                height,
            } => Self {
                x: x.value() - margins,
                y: y.value() - margins,
                height: height.value(),
                any_angle: true,
            },
            MachineKind::Belt {
                section: [across, above],
                longest,
                ..
            } => Self {
                x: across.value() - margins,
                y: longest.value(),
                height: above.value(),
                any_angle: false,
            },
        }
    }
}

/// At which angles a box lies in a room; at one of them at least.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit {
    pub straight: bool,
    pub turned: bool,
    /// The least angle in degrees, where neither of the others holds.
    pub diagonal: Option<f64>,
}

/// A piece as it lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lying<'a> {
    /// Its box: along x, along y, upright.
    pub size: [Millimetres; 3],
    /// Its outline, where that is known.
    pub outline: Option<&'a Outline>,
    /// By how much that outline is larger or smaller than it is drawn.
    pub scale: f64,
    /// How it may be turned.
    pub turns: Turns,
}

impl<'a> Lying<'a> {
    /// A box of a part with one of its axes upright; the outline is that of a part in one piece.
    pub fn new(part: &'a Part, piece: [Millimetres; 3], upright: Axis) -> Self {
        let mesh = part.mesh().filter(|_| piece == part.size);
        Self {
            size: lying(piece, upright),
            // Turned over it would be mirrored, which takes the same room at the opposite turn.
            outline: mesh.map(|mesh| &mesh.whole.lying[upright.index()].outline),
            scale: 1.0,
            turns: part.turns,
        }
    }

    /// A part in one piece, so many times as large.
    pub fn scaled(part: &'a Part, scale: f64, upright: Axis) -> Self {
        Self {
            size: lying(part.size.map(|side| side * scale), upright),
            scale,
            ..Self::new(part, part.size, upright)
        }
    }

    /// The box around its outline after a turn.
    pub fn turned(&self, outline: &Outline, degrees: f64) -> [f64; 2] {
        outline.turned(degrees).size().map(|side| side * self.scale)
    }
}

/// How a piece lies in a room, if it does.
///
/// A turned outline lies in a room exactly if the box around it does.
pub(super) fn fit(room: Room, piece: &Lying) -> Option<Fit> {
    let [x, y, height] = piece.size.map(Millimetres::value);
    if height > room.height + TOLERANCE {
        return None;
    }
    let square = |x: f64, y: f64| x <= room.x + TOLERANCE && y <= room.y + TOLERANCE;
    let right = piece.turns.has_right_angle();
    let (straight, turned) = (square(x, y), right && square(y, x));
    let slanted = || {
        let by_outline = piece.outline.and_then(|outline| {
            piece.turns.degrees().find(|&degrees| {
                let [x, y] = piece.turned(outline, degrees);
                square(x, y)
            })
        });
        let by_box = || right.then(|| least_angle(x, y, room.x, room.y)).flatten();
        by_outline.or_else(by_box)
    };
    let fit = Fit {
        straight,
        turned,
        diagonal: (room.any_angle && !straight && !turned)
            .then(slanted)
            .flatten(),
    };
    (fit.straight || fit.turned || fit.diagonal.is_some()).then_some(fit)
}

/// What belongs to each axis of a box (its length, its name), as the box lies with one axis upright: along x, along y,
/// upright. With `z` upright it lies as drawn.
pub(super) fn lying<T>([x, y, z]: [T; 3], upright: Axis) -> [T; 3] {
    match upright {
        Axis::Z => [x, y, z],
        Axis::Y => [x, z, y],
        Axis::X => [y, z, x],
    }
}

/// The axes that may stand upright, the position as drawn first, without those that lie like an earlier one but for a
/// turn by 90°: a beam of square section lies on either side alike.
pub(super) fn positions(piece: [Millimetres; 3], allowed: &[Axis]) -> Vec<Axis> {
    let mut distinct: Vec<Axis> = Vec::with_capacity(3);
    for axis in [Axis::Z, Axis::Y, Axis::X] {
        // Two positions of one box with the same height have the same two sides lying down.
        let height = |axis: Axis| lying(piece, axis)[2];
        if allowed.contains(&axis) && distinct.iter().all(|&one| height(one) != height(axis)) {
            distinct.push(axis);
        }
    }
    distinct
}

/// The positions of a piece of a part, the position as drawn first. Each of a mesh is its own, even where boxes are alike.
pub(super) fn uprights(part: &Part, piece: [Millimetres; 3]) -> Vec<Axis> {
    if part.mesh().is_none() {
        return positions(piece, &part.lie);
    }
    let all = [Axis::Z, Axis::Y, Axis::X].into_iter();
    all.filter(|axis| part.lie.contains(axis)).collect()
}

/// A rule, other than size, that keeps a part off a machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Bar {
    /// The machine does not print the filament's material.
    Material,
    /// The part names the machines that may make it, and this is none of them.
    Only,
    /// The part may not be made on a belt.
    Belt,
}

/// All rules that keep a part off the machine at `index`.
pub(super) fn bars(scenario: &Scenario, part: &Part, index: usize) -> Vec<Bar> {
    let machine = &scenario.machines[index];
    let material = &scenario.filaments[part.filament.0].material;
    let named = part.only.get(index).copied().unwrap_or(true);
    [
        (Bar::Material, !machine.materials.contains(material)),
        (Bar::Only, !named),
        (Bar::Belt, machine.is_belt() && !part.belt),
    ]
    .into_iter()
    .filter_map(|(bar, holds)| holds.then_some(bar))
    .collect()
}
