//! Every way to make each part: on which machine, lying how, whole or in lengths.
//!
//! Knows: parts, machines, what fits inside what, the estimate. Must not know: plates with several pieces, dates, plans.
//! Promises: every way listed fits its machine alone; a part without a way comes with the reason, machine by machine.

mod fit;
mod forms;
mod hours;
mod refusal;
mod remedy;
mod words;

use std::sync::Arc;

use crate::estimate::Calibration;
use crate::geometry::Outline;
use crate::scenario::{Axis, JointIndex, MachineIndex, PartIndex, Scenario};
use crate::units::{CubicMillimetres, Grams, Millimetres, Minutes, Money, Seconds};

pub use hours::RunLimits;

/// A part that no bench hours are long enough for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooLong {
    /// Which.
    pub part: PartIndex,
    /// The machine that comes nearest.
    pub machine: MachineIndex,
    /// What a run of its longest piece alone takes there.
    pub takes: Minutes,
    /// The longest run that the hours leave after its setup; `None`: they do not hold the setup.
    pub most: Option<Minutes>,
}

impl TooLong {
    /// What bench hours do: `leave 9.8 h after the setup`, where `shown` says a span so.
    pub fn left_by_hours(&self, shown: impl FnOnce(Minutes) -> String) -> String {
        match self.most {
            Some(most) => format!("leave {} after the setup", shown(most)),
            None => "do not even hold the setup".to_owned(),
        }
    }
}

/// The kinds of route.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RouteKind {
    /// In one piece, sides along the bed's, as drawn.
    Whole,
    /// In one piece, turned by 90°.
    Turned,
    /// In one piece, at an angle on the bed.
    Diagonal,
    /// In equal lengths, joined afterwards.
    Split,
    /// In one piece on the belt machine.
    Belt,
}

/// One way for one piece to lie on one machine.
#[derive(Clone, Debug)]
pub struct Way {
    /// The machine.
    pub machine: MachineIndex,
    /// Which of the form's kinds of piece lies so; its place in [`Form::kinds`].
    pub kind: usize,
    /// Which of the part's axes stands upright.
    pub upright: Axis,
    /// Whether it stands on its head: a mesh turned over, since so it needs less support.
    pub over: bool,
    /// The piece's box as it lies before turning: along x, along y, upright.
    pub size: [Millimetres; 3],
    /// Whether it lies square to the bed at 0°.
    pub straight: bool,
    /// Whether it lies square to the bed at 90°.
    pub turned: bool,
    /// Where its box fits neither straight nor turned: the least angle in degrees at which it fits alone, strictly between
    /// 0 and 90 for a box, one of its part's turns for an outline.
    pub diagonal: Option<f64>,
    /// Printing time that this piece adds to a run: extruded volume over flow, or its measured time. Layers and warm-up come on top.
    pub own_time: Seconds,
    /// Layers that it needs, 0 where its time is measured (a measured time holds its layers).
    pub layers: u32,
    /// Lost at these layers, which pieces on a run share.
    pub layer_time: Seconds,
    /// Extruded volume.
    pub volume: CubicMillimetres,
    /// Printed mass, support included.
    pub grams: Grams,
    /// Of it support, which is taken off after printing.
    pub support: Grams,
    /// Its outline as it lies before turning, about the centre of its box; `None`: the whole rectangle of `size`.
    pub outline: Option<Arc<Outline>>,
    /// Length of the run (whole minutes) with this piece alone.
    pub alone: Minutes,
}

/// Lengths of a form that are alike in every way.
#[derive(Clone, Debug)]
pub struct Kind {
    /// Which lengths of a copy, from 1, from the low end of the longest side; ascending.
    pub positions: Vec<u32>,
    /// The piece's own box, in the part's axes.
    pub piece: [Millimetres; 3],
    /// The share of a copy that one such piece is, by volume.
    pub share: f64,
}

/// One way to divide a part: in one piece, or in `lengths` equal ones; with all ways to make such a piece.
#[derive(Clone, Debug)]
pub struct Form {
    /// Number of pieces that make one copy; 1: not split.
    pub lengths: u32,
    /// The kinds of piece of one copy: one, where all are alike. Together they have every length once.
    pub kinds: Vec<Kind>,
    /// The joint, where `lengths > 1`.
    pub joint: Option<JointIndex>,
    /// Gluing per copy: joints × `joint.bench`, rounded up.
    pub glue: Minutes,
    /// Elapsed time after gluing until the copy is there.
    pub cure: Minutes,
    /// Hardware per copy.
    pub hardware: Money,
    /// Mass of hardware and glue per copy.
    pub joint_grams: Grams,
    /// Every kind, machine and position; no kind without; for each kind and machine the quickest first.
    pub ways: Vec<Way>,
}

impl Form {
    /// The ways of one kind of piece on one machine, the quickest first.
    pub fn ways_of(&self, kind: usize, machine: MachineIndex) -> impl Iterator<Item = &Way> {
        self.ways
            .iter()
            .filter(move |way| way.kind == kind && way.machine == machine)
    }

    /// What one copy has of something at least, over every way of each of its pieces.
    pub fn least_of_copy(&self, of: impl Fn(&Way) -> f64) -> f64 {
        let least = |kind: usize| {
            let ways = self.ways.iter().filter(|way| way.kind == kind);
            ways.map(&of).fold(f64::INFINITY, f64::min)
        };
        let kinds = self.kinds.iter().enumerate();
        kinds
            .map(|(at, kind)| kind.positions.len() as f64 * least(at))
            .sum()
    }
}

/// Why a part cannot be made on a machine in one piece.
#[derive(Clone, Debug)]
pub struct Refusal {
    /// The machine.
    pub machine: MachineIndex,
    /// By how many millimetres which axis fails, or which rule forbids it; in words.
    pub reason: String,
}

/// All that can be said of one part.
#[derive(Clone, Debug)]
pub struct PartRoutes {
    /// The part.
    pub part: PartIndex,
    /// Ways to divide and make it, fewest lengths first; empty if it cannot be made.
    pub forms: Vec<Form>,
    /// Machines that cannot make it whole, and why.
    pub refusals: Vec<Refusal>,
    /// What would make it possible, where it is not; in words.
    pub remedies: Vec<String>,
}

impl PartRoutes {
    /// The mass of the support that a copy takes at least, over every way to make it; `None` if it cannot be made.
    pub fn least_support(&self) -> Option<Grams> {
        let copies = self.forms.iter();
        let copies = copies.map(|form| form.least_of_copy(|way| way.support.0));
        copies.min_by(f64::total_cmp).map(Grams)
    }
}

/// Every way to make each part of a scenario, in the scenario's order.
pub fn routes(scenario: &Scenario) -> Vec<PartRoutes> {
    let calibration = Calibration::new(scenario);
    (0..scenario.parts.len())
        .map(PartIndex)
        .map(|part| {
            let forms = forms::forms(scenario, &calibration, part);
            PartRoutes {
                part,
                refusals: refusal::refusals(scenario, part),
                remedies: if forms.is_empty() {
                    remedy::remedies(scenario, part)
                } else {
                    Vec::new()
                },
                forms,
            }
        })
        .collect()
}

/// The kind of route that a piece is on: one of `lengths` pieces of its copy, turned by so many degrees, on a belt
/// machine or not.
///
/// A joint says more about a part than where its lengths lie, and the belt more than a turn: so the first of split,
/// belt, diagonal, turned and whole that holds.
pub fn kind_of(lengths: u32, on_belt: bool, turn: f64) -> RouteKind {
    /// Degrees by which a turn may miss a right angle and still count as one.
    const NEAR: f64 = 1e-6;
    let off_half_turn = (turn / 180.0 - (turn / 180.0).round()).abs() * 180.0;
    if lengths > 1 {
        RouteKind::Split
    } else if on_belt {
        RouteKind::Belt
    } else if off_half_turn <= NEAR {
        RouteKind::Whole
    } else if (off_half_turn - 90.0).abs() <= NEAR {
        RouteKind::Turned
    } else {
        RouteKind::Diagonal
    }
}

#[cfg(test)]
mod tests;
