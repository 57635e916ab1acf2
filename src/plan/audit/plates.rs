//! Pieces on a run: what may be made there, how it lies, what fits, how far apart.
//!
//! Knows: boxes, beds, belts, joints. Must not know: dates, assemblies, money.
//! Promises: distances are true ones between turned outlines; pieces far apart are passed over by a sweep.

use super::Faults;
use super::evidence::Evidence;
use super::outline::Outline;
use super::rule::Rule;
use crate::plan::{Piece, Run};
use crate::routes::RouteKind;
use crate::scenario::{Axis, Machine, MachineKind, Part, Turns};

/// Millimetres that rounding may lose: a hundredth of a thousandth, far below what any machine can place.
const LENGTH: f64 = 1e-5;

/// Millimetres by which an outline may differ from that of its mesh: lengths that differ by less count as one kind.
const ALIKE: f64 = 2e-4;

/// Degrees that rounding may lose when a turn is told square or not.
const ANGLE: f64 = 1e-6;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    for run in &evidence.plan.runs {
        check_run(evidence, run, faults);
    }
}

/// All rules of what lies on one run, in the plan or not.
pub(super) fn check_run(evidence: &Evidence, run: &Run, faults: &mut Faults) {
    let machine = &evidence.scenario.machines[run.machine.0];
    for piece in &run.pieces {
        let part = &evidence.scenario.parts[piece.part.0];
        let place = Place {
            evidence,
            run,
            machine,
            part,
            piece,
        };
        place.check_allowed(faults);
        place.check_lying(faults);
        place.check_outline(faults);
        place.check_fit(faults);
        place.check_split(faults);
        place.check_route(faults);
    }
    check_spacing(evidence, run, machine, faults);
}

/// One piece where it lies.
struct Place<'a> {
    evidence: &'a Evidence<'a>,
    run: &'a Run,
    machine: &'a Machine,
    part: &'a Part,
    piece: &'a Piece,
}

impl Place<'_> {
    fn name(&self) -> String {
        format!(
            "{} on run {}",
            self.evidence.piece_name(self.piece),
            self.run.id
        )
    }

    /// [`Rule::OnlyMachines`], [`Rule::Material`], [`Rule::BeltAllowed`], [`Rule::OneFilament`],
    /// [`Rule::OneSetting`], [`Rule::Alone`].
    fn check_allowed(&self, faults: &mut Faults) {
        let Self {
            run, machine, part, ..
        } = self;
        let may = part.only.get(run.machine.0).copied().unwrap_or(false);
        faults.require(may, Rule::OnlyMachines, || {
            format!("{}: {} may not make it", self.name(), machine.id)
        });
        let material = &self.evidence.scenario.filaments[part.filament.0].material;
        faults.require(machine.materials.contains(material), Rule::Material, || {
            format!("{}: {} cannot print {material}", self.name(), machine.id)
        });
        faults.require(!machine.is_belt() || part.belt, Rule::BeltAllowed, || {
            format!("{}: it may not be made on a belt", self.name())
        });
        faults.require(part.filament == run.filament, Rule::OneFilament, || {
            format!(
                "{} is of {}, the run of {}",
                self.name(),
                self.evidence.filament_name(part.filament),
                self.evidence.filament_name(run.filament)
            )
        });
        faults.require(part.settings == run.settings, Rule::OneSetting, || {
            format!(
                "{} is printed {}, the run {}",
                self.name(),
                self.evidence.scenario.settings[part.settings.0].id,
                self.evidence.scenario.settings[run.settings.0].id
            )
        });
        faults.require(!part.alone || run.pieces.len() == 1, Rule::Alone, || {
            format!("{} is among {} pieces", self.name(), run.pieces.len())
        });
    }

    /// [`Rule::Lying`].
    fn check_lying(&self, faults: &mut Faults) {
        let size = self.piece.size.map(|side| side.value());
        let whole = self.part.size.map(|side| side.value());
        let longest = whole.into_iter().fold(0.0, f64::max);
        let measured = self.part.mesh();
        let own = measured
            .and_then(|mesh| mesh.body(self.piece.of, self.piece.length))
            .map(|body| laid(body.size(), self.piece.upright));
        let as_measured = own.is_some_and(|own| {
            self.part.lie.contains(&self.piece.upright)
                && (0..3).all(|axis| (size[axis] - own[axis]).abs() <= LENGTH)
        });
        // Where two sides are equally long, the cut may go through either.
        let as_box = measured.is_none()
            && (0..3)
                .filter(|&axis| whole[axis] >= longest - LENGTH)
                .any(|cut| {
                    let mut own = whole;
                    own[cut] /= f64::from(self.piece.of.max(1));
                    self.part.lie.iter().any(|&upright| {
                        let lying = laid(own, upright);
                        (0..3).all(|axis| (size[axis] - lying[axis]).abs() <= LENGTH)
                    })
                });
        faults.require(as_box || as_measured, Rule::Lying, || {
            let [x, y, z] = size;
            format!(
                "{} is {x} × {y} × {z} mm, which is no way that it may lie",
                self.name()
            )
        });
    }

    /// [`Rule::Outline`] and [`Rule::Turn`].
    fn check_outline(&self, faults: &mut Faults) {
        let own = self.part.mesh().and_then(|mesh| {
            let body = mesh.body(self.piece.of, self.piece.length)?;
            Some(body.lying[self.piece.upright as usize].outline.corners())
        });
        let said = self.piece.outline.as_ref().map(|said| said.corners());
        let same = match (own, said) {
            (Some(own), Some(said)) => is_same_line(own, said, self.piece.over),
            (None, None) => true,
            _ => false,
        };
        faults.require(same, Rule::Outline, || {
            format!("{} has an outline that is not its mesh's", self.name())
        });
        let turn = self.piece.turn;
        let step = match self.part.turns {
            Turns::Never => 360.0,
            Turns::Every(step) => f64::from(step),
        };
        let off = (turn / step - (turn / step).round()).abs() * step;
        let right_angle = (90.0 / step).fract() == 0.0;
        // A box that may be turned by a right angle may lie at any; an outline only where something on the bed fits at no
        // other.
        let slanted = || self.run.pieces.iter().any(|piece| !self.fits_square(piece));
        let may = off <= ANGLE || (right_angle && (said.is_none() || slanted()));
        faults.require(may, Rule::Turn, || {
            format!("{} is turned by {turn}°, which it may not be", self.name())
        });
    }

    /// Whether a piece's box lies square to the bed.
    fn fits_square(&self, piece: &Piece) -> bool {
        let MachineKind::Bed { bed, .. } = &self.machine.kind else {
            return true;
        };
        let free = bed.map(|side| side.value() - 2.0 * self.machine.margin.value() + LENGTH);
        let [x, y] = [piece.size[0].value(), piece.size[1].value()];
        (x <= free[0] && y <= free[1]) || (y <= free[0] && x <= free[1])
    }

    /// [`Rule::InsideBed`] and [`Rule::Height`].
    fn check_fit(&self, faults: &mut Faults) {
        let margin = self.machine.margin.value();
        let (across, along, tallest) = match &self.machine.kind {
            MachineKind::Bed { bed, height } => (
                (margin, bed[0].value() - margin),
                (margin, bed[1].value() - margin),
                height.value(),
            ),
            MachineKind::Belt {
                section, longest, ..
            } => (
                (margin, section[0].value() - margin),
                (0.0, longest.value()),
                section[1].value(),
            ),
        };
        let outline = outline(self.piece);
        for (axis, name, (low, high)) in [(0, "x", across), (1, "y", along)] {
            let (from, to) = outline.extent(axis);
            let inside = from >= low - LENGTH && to <= high + LENGTH;
            faults.require(inside, Rule::InsideBed, || {
                format!(
                    "{} reaches from {name} = {from} to {to} mm; {low} to {high} mm are free",
                    self.name()
                )
            });
        }
        let tall = self.piece.size[2].value();
        faults.require(tall <= tallest + LENGTH, Rule::Height, || {
            format!(
                "{} is {tall} mm tall; {} takes {tallest} mm",
                self.name(),
                self.machine.id
            )
        });
    }

    /// [`Rule::SplitInto`] and [`Rule::SplitShortest`].
    fn check_split(&self, faults: &mut Faults) {
        let of = self.piece.of;
        if of <= 1 {
            return;
        }
        let may = self
            .part
            .split
            .as_ref()
            .filter(|split| split.into.contains(&of));
        faults.require(may.is_some(), Rule::SplitInto, || {
            format!("{}: it may not be split into {of}", self.name())
        });
        let Some(split) = &self.part.split else {
            return;
        };
        let longest = self
            .part
            .size
            .iter()
            .map(|side| side.value())
            .fold(0.0, f64::max);
        let length = longest / f64::from(of);
        let shortest = self.evidence.scenario.joints[split.joint.0]
            .shortest
            .value();
        faults.require(length >= shortest - LENGTH, Rule::SplitShortest, || {
            format!(
                "{} is {length} mm long; its joint needs {shortest} mm",
                self.name()
            )
        });
    }

    /// [`Rule::RouteNamed`].
    fn check_route(&self, faults: &mut Faults) {
        let route = route(self.piece, self.machine);
        faults.require(self.piece.route == route, Rule::RouteNamed, || {
            format!(
                "{} is named {:?} and is {route:?}",
                self.name(),
                self.piece.route
            )
        });
    }
}

/// What a piece's route is called.
pub(super) fn route(piece: &Piece, machine: &Machine) -> RouteKind {
    // Half a turn counts as lying as drawn: it brings a rectangle back onto itself.
    let turn = piece.turn.rem_euclid(180.0);
    let near = |degrees: f64| (turn - degrees).abs() <= ANGLE;
    if piece.of > 1 {
        RouteKind::Split
    } else if machine.is_belt() {
        RouteKind::Belt
    } else if near(0.0) || near(180.0) {
        RouteKind::Whole
    } else if near(90.0) {
        RouteKind::Turned
    } else {
        RouteKind::Diagonal
    }
}

/// Whether a piece's outline is the measured one, mirrored about x where it lies turned over; wherever its list begins.
fn is_same_line(own: &[[f64; 2]], said: &[[f64; 2]], over: bool) -> bool {
    let mut own: Vec<[f64; 2]> = own.to_vec();
    if over {
        own.reverse();
        for corner in &mut own {
            corner[1] = -corner[1];
        }
    }
    let near = |p: &[f64; 2], q: &[f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]) <= ALIKE;
    own.len() == said.len()
        && (0..own.len()).any(|first| {
            let turned = own.iter().cycle().skip(first);
            said.iter().zip(turned).all(|(p, q)| near(p, q))
        })
}

/// A box with one of its own axes upright: along x, along y, up.
fn laid([x, y, z]: [f64; 3], upright: Axis) -> [f64; 3] {
    match upright {
        Axis::Z => [x, y, z],
        Axis::Y => [x, z, y],
        Axis::X => [y, z, x],
    }
}

fn outline(piece: &Piece) -> Outline {
    let centre = [piece.x.value(), piece.y.value()];
    if let Some(outline) = &piece.outline {
        return Outline::shaped(centre, outline.corners(), piece.turn);
    }
    Outline::turned(
        centre,
        piece.size[0].value(),
        piece.size[1].value(),
        piece.turn,
    )
}

/// [`Rule::Spacing`]: for each piece the first one after it, along the longer side of the plate, that is too near.
fn check_spacing(evidence: &Evidence, run: &Run, machine: &Machine, faults: &mut Faults) {
    let spacing = machine.spacing.value();
    let outlines: Vec<Outline> = run.pieces.iter().map(outline).collect();
    let spread = |axis: usize| {
        let (low, high) = outlines
            .iter()
            .map(|outline| outline.extent(axis))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at.0), high.max(at.1))
            });
        high - low
    };
    let axis = usize::from(spread(1) > spread(0));
    let mut order: Vec<(f64, f64, usize)> = outlines
        .iter()
        .enumerate()
        .map(|(at, outline)| {
            let (low, high) = outline.extent(axis);
            (low, high, at)
        })
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (place, &(_, high, one)) in order.iter().enumerate() {
        // Whatever begins further on than `spacing` past this piece's end is far enough away, and so is all behind it.
        let too_near = order[place + 1..]
            .iter()
            .take_while(|(low, ..)| *low < high + spacing)
            .map(|&(.., other)| (other, outlines[one].distance(&outlines[other])))
            .find(|(_, distance)| *distance < spacing - LENGTH);
        if let Some((other, distance)) = too_near {
            faults.report(
                Rule::Spacing,
                format!(
                    "{} and {} on run {} are {distance} mm apart; {} needs {spacing} mm",
                    evidence.piece_name(&run.pieces[one]),
                    evidence.piece_name(&run.pieces[other]),
                    run.id,
                    machine.id
                ),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_upright_axis_has_its_own_order_of_sides() {
        // x by y on the bed with z upright; x by z with y upright; y by z with x upright.
        let own = [3.0, 2.0, 1.0];
        assert_eq!(laid(own, Axis::Z), [3.0, 2.0, 1.0]);
        assert_eq!(laid(own, Axis::Y), [3.0, 1.0, 2.0]);
        assert_eq!(laid(own, Axis::X), [2.0, 1.0, 3.0]);
    }
}
