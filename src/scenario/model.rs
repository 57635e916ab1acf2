//! A scenario after validation: everything settled, nothing optional that a default decides.
//!
//! Knows: the words of the job. Must not know: YAML, files, plans.
//! Promises: every index points at something; sizes are finite, positive and already scaled; `needs` has no cycle.

use std::ops::RangeInclusive;
use std::sync::Arc;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use super::measured::Measurement;
use super::meshes::MeshShape;
use crate::units::{Grams, Millimetres, Minutes, Money, Seconds};

pub use super::farm::*;
pub use super::profile::Profile;
pub use super::wider::{Earlier, Ends, Grip, Handling, Original, Places, Span, Stiffener};

macro_rules! index {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);
    };
}

index! {
    /// Position of a machine in [`Scenario::machines`].
    MachineIndex
}
index! {
    /// Position of a filament in [`Scenario::filaments`].
    FilamentIndex
}
index! {
    /// Position of a print setting in [`Scenario::settings`].
    SettingsIndex
}
index! {
    /// Position of a joint in [`Scenario::joints`].
    JointIndex
}
index! {
    /// Position of a part in [`Scenario::parts`].
    PartIndex
}
index! {
    /// Position of an assembly in [`Scenario::assemblies`].
    AssemblyIndex
}

/// The whole job as the user wrote it, checked and completed with defaults.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// The file's name as the user gave it, for messages.
    pub file: String,
    /// What is built, from when, where.
    pub build: Build,
    /// ISO 4217 code or any short word; every sum of money is in it.
    pub currency: String,
    /// Who is there, when.
    pub bench: Bench,
    /// The farm.
    pub machines: Vec<Machine>,
    /// What is printed with.
    pub filaments: Vec<Filament>,
    /// How it is printed.
    pub settings: Vec<Settings>,
    /// How lengths of a split part are joined.
    pub joints: Vec<Joint>,
    /// What the designer drew.
    pub parts: Vec<Part>,
    /// The build graph.
    pub assemblies: Vec<Assembly>,
    /// What was weighed and timed.
    pub measured: Vec<Measurement>,
}

/// What is built, from when, where.
#[derive(Clone, Debug)]
pub struct Build {
    /// The build's name.
    pub name: String,
    /// Model to print scale; already applied to every part's `size`.
    pub scale: f64,
    /// Nothing is set up before this moment.
    pub start: DateTime<Utc>,
    /// The zone in which bench hours are written and dates are shown.
    pub zone: Tz,
    /// Money per day until the last assembly is complete.
    pub each_day: Money,
    /// When planning again, runs that start so soon stay as they were accepted; `None`: until the end of the next bench hours.
    pub firm: Option<Minutes>,
    /// Money for each later run that then changes its machine or moves by more than half a day.
    pub churn: Money,
    /// With this probability the spares of a part with `spares: auto` suffice, 0 to 1.
    pub confidence: f64,
    /// Share of what is printed from a spool that it is to hold besides, at least 10 g; 0: it is printed to the last gram.
    pub spool_margin: f64,
    /// What is being enlarged.
    pub original: Original,
    /// Earlier builds whose printed mass is known.
    pub earlier: Vec<Earlier>,
}

/// An axis of a part's own box.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Axis {
    /// First entry of `size`.
    X,
    /// Second entry.
    Y,
    /// Third entry.
    Z,
}

impl Axis {
    /// All three, in the order of `size`.
    pub const ALL: [Axis; 3] = [Axis::X, Axis::Y, Axis::Z];

    /// Its position in `size`.
    pub fn index(self) -> usize {
        match self {
            Axis::X => 0,
            Axis::Y => 1,
            Axis::Z => 2,
        }
    }
}

/// How a piece may be turned on a bed.
///
/// Pieces lie at these turns. Where a right angle is among them, a piece that fits at none of them may besides lie at
/// whatever angle lets its box fit. A box turns by right angles or not at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Turns {
    /// It lies as drawn.
    Never,
    /// By so many whole degrees, and any number of times so many; a part of 360.
    Every(u32),
}

impl Turns {
    /// What holds where a part does not say.
    pub const USUAL: Self = Self::Every(90);

    /// All turns from 0 up to a full one, in degrees.
    pub fn degrees(self) -> impl Iterator<Item = f64> {
        let step = match self {
            Self::Never => 360,
            // A step of 0 is refused when a scenario is read.
            Self::Every(step) => step.max(1),
        };
        (0..360 / step).map(move |at| f64::from(at * step))
    }

    /// Whether a right angle is among them.
    pub fn has_right_angle(self) -> bool {
        matches!(self, Self::Every(step) if 90 % step.max(1) == 0)
    }
}

/// In how many lengths a part may be made, and how they are joined.
#[derive(Clone, Debug)]
pub struct Split {
    /// The joint between neighbouring lengths.
    pub joint: JointIndex,
    /// Allowed numbers of lengths, at least 2.
    pub into: RangeInclusive<u32>,
}

/// What the designer drew.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its name in the scenario.
    pub id: String,
    /// Copies wanted, without spares.
    pub quantity: u32,
    /// Its box at print scale.
    pub size: [Millimetres; 3],
    /// What of the box it fills.
    pub shape: Shape,
    /// What it is printed with.
    pub filament: FilamentIndex,
    /// How it is printed.
    pub settings: SettingsIndex,
    /// Axes that may stand upright on the bed; never empty.
    pub lie: Vec<Axis>,
    /// How it may be turned on a bed, about the upright axis.
    pub turns: Turns,
    /// How it may be split, if at all.
    pub split: Option<Split>,
    /// Whether the belt may make it.
    pub belt: bool,
    /// Deburring and the like, per piece.
    pub finishing: Seconds,
    /// Copies printed beyond `quantity`.
    pub spares: u32,
    /// Whether the program says how many of them there are (`spares: auto`): see [`Scenario::reserve`].
    pub reserve: bool,
    /// With `spares: auto`: no run holds more copies (of copies in lengths: more for each of them), or the spares would not be enough.
    /// `None`: as many as find room.
    pub together: Option<u32>,
    /// So many copies are printed and approved before the rest.
    pub trial: u32,
    /// What the trial copies differ in, in the order of their numbers; as many as `trial`, or none: they are alike.
    pub variants: Vec<Variant>,
    /// Shares its plate with nothing.
    pub alone: bool,
    /// Not started before; `None`: the build's start.
    pub ready: Option<DateTime<Utc>>,
    /// Measured minutes by machine (alone, without warm-up); as long as [`Scenario::machines`].
    pub minutes: Vec<Option<f64>>,
    /// Machines that may make it; as long as [`Scenario::machines`].
    pub only: Vec<bool>,
    /// What it has to span, if anything.
    pub span: Option<Span>,
    /// Measured mass of one whole copy, if weighed.
    pub grams: Option<Grams>,
    /// What its machine program comes to, by machine; as long as [`Scenario::machines`].
    pub toolpaths: Vec<Option<Toolpath>>,
}

/// One way to export a part, to be chosen among at its trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// Its name, among those of its part.
    pub name: String,
    /// By so much its outline lies outside that of the part, all around, in its x and y; below 0: inside.
    pub offset: Millimetres,
}

/// What the program of one whole copy, alone, comes to on one machine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Toolpath {
    /// Printed mass.
    pub grams: Grams,
    /// Minutes of its moves, without warm-up.
    pub minutes: f64,
}

/// What a part fills of its box.
#[derive(Clone, Debug)]
pub enum Shape {
    /// A share of it, 0 to 1, nobody knows where.
    Box {
        /// The share.
        solid: f64,
    },
    /// What its mesh encloses, measured at print scale.
    Mesh(Arc<MeshShape>),
}

impl Part {
    /// What is measured of its mesh, if it has one.
    pub fn mesh(&self) -> Option<&MeshShape> {
        match &self.shape {
            Shape::Mesh(shape) => Some(shape),
            Shape::Box { .. } => None,
        }
    }

    /// Share of the box that is inside the part, 0 to 1.
    pub fn solid(&self) -> f64 {
        match &self.shape {
            Shape::Box { solid } => *solid,
            Shape::Mesh(shape) => {
                let room: f64 = shape.whole.size().iter().product();
                (shape.whole.volume / room).min(1.0)
            }
        }
    }

    /// The first of so many lengths of a copy that this one is like: any such may stand for any other. Both counted from 1.
    pub fn first_like(&self, lengths: u32, length: u32) -> u32 {
        let Some(mesh) = self.mesh() else {
            return 1;
        };
        let body = |length| mesh.body(lengths, length);
        let mut firsts: Vec<u32> = Vec::new();
        for one in 1..=length {
            let like = |first: &&u32| {
                let both = body(**first).zip(body(one));
                both.is_some_and(|(first, one)| first.is_like(one))
            };
            let first = firsts.iter().find(like).copied();
            if one == length {
                return first.unwrap_or(length);
            }
            if first.is_none() {
                firsts.push(one);
            }
        }
        length
    }

    /// Which variant a copy is, if any; copies are numbered from 1.
    pub fn variant(&self, number: u32) -> Option<&Variant> {
        self.variants.get(number.checked_sub(1)? as usize)
    }

    /// Copies to print: wanted and spare.
    pub fn copies(&self) -> u32 {
        self.quantity + self.spares
    }
}

/// A node of the build graph; with a due date, a stage.
#[derive(Clone, Debug)]
pub struct Assembly {
    /// Its name in the scenario.
    pub id: String,
    /// Parts that go into it, with counts above zero.
    pub parts: Vec<(PartIndex, u32)>,
    /// Assemblies that must be complete first.
    pub needs: Vec<AssemblyIndex>,
    /// Where its parts and what it needs are in it, as far as that is known.
    pub places: Places,
    /// How one person would lift it, where that is described.
    pub lift: Option<Handling>,
    /// Bench work of its own.
    pub bench: Minutes,
    /// Elapsed time after the bench work.
    pub cure: Minutes,
    /// When it should be complete.
    pub due: Option<DateTime<Utc>>,
    /// Money per day late.
    pub late: Money,
}

/// The build graph as pairs of positions in `assemblies`: the first must be complete before the second begins.
pub fn precedence(assemblies: &[Assembly]) -> Vec<(usize, usize)> {
    let numbered = assemblies.iter().enumerate();
    numbered
        .flat_map(|(index, assembly)| assembly.needs.iter().map(move |need| (need.0, index)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_an_assembly_needs_comes_before_it() {
        let assembly = |needs: &[usize]| Assembly {
            id: String::new(),
            parts: Vec::new(),
            needs: needs.iter().copied().map(AssemblyIndex).collect(),
            places: Default::default(),
            lift: None,
            bench: Minutes::ZERO,
            cure: Minutes::ZERO,
            due: None,
            late: Money::ZERO,
        };
        // The first needs the two others, the last needs the second.
        let assemblies = [assembly(&[1, 2]), assembly(&[]), assembly(&[1])];
        assert_eq!(precedence(&assemblies), [(1, 0), (2, 0), (1, 2)]);
    }
}
