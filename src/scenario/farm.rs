//! The farm and the bench after validation: hours, machines, filaments, settings, joints.
//!
//! Knows: the words of the job. Must not know: YAML, files, parts, assemblies, plans.
//! Promises: as the rest of the model: what is here is settled, finite and within its limits.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};

use super::model::FilamentIndex;
use super::wider::Stiffener;
use crate::units::{
    Density, Flow, Grams, Megapascals, Millimetres, Minutes, Money, PricePerKilogram, Seconds,
    Watts,
};

/// A half-open span of one weekday, minutes after local midnight; `close` may be 1440.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct DaySpan {
    /// First minute somebody is there.
    pub open: u32,
    /// First minute nobody is.
    pub close: u32,
}

/// Pairs of hands at the bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hands {
    /// So many things at once, each taking one pair.
    Count(u32),
    /// Never a limit.
    Unlimited,
}

/// Who is there, when, and what their time and the power cost.
#[derive(Clone, Debug)]
pub struct Bench {
    /// Spans by weekday, Monday first; sorted, disjoint, those that touch not yet merged.
    pub hours: [Vec<DaySpan>; 7],
    /// Local dates on which nobody is there.
    pub away: BTreeSet<NaiveDate>,
    /// How many things can be done at once.
    pub hands: Hands,
    /// Whether machines may print while nobody is there.
    pub unattended: bool,
    /// Money per hour of bench work.
    pub bench_hour: Money,
    /// Money per kilowatt-hour.
    pub energy_kwh: Money,
}

/// What kind of machine, and what it can hold.
#[derive(Clone, Debug)]
pub enum MachineKind {
    /// A bed `[x, y]` with a build height.
    Bed {
        /// Bed size, mm; margins not yet taken off.
        bed: [Millimetres; 2],
        /// Build height.
        height: Millimetres,
    },
    /// A belt that carries what is finished away.
    Belt {
        /// Cross-section: across the belt, above the belt.
        section: [Millimetres; 2],
        /// Longest piece, with the outfeed table; also the longest stretch of one run.
        longest: Millimetres,
        /// Belt left free between two runs.
        gap: Millimetres,
    },
}

/// A span in which a machine cannot work.
#[derive(Clone, Debug, PartialEq)]
pub struct Outage {
    /// First moment out of use.
    pub from: DateTime<Utc>,
    /// First moment of use again.
    pub to: DateTime<Utc>,
    /// The reason, as the user wrote it; may be empty.
    pub why: String,
}

/// One machine of the farm.
#[derive(Clone, Debug)]
pub struct Machine {
    /// Its name in the scenario.
    pub id: String,
    /// Bed or belt.
    pub kind: MachineKind,
    /// Kept free along the edges (on a belt: along both sides).
    pub margin: Millimetres,
    /// Least distance between pieces.
    pub spacing: Millimetres,
    /// Nozzle diameter.
    pub nozzle: Millimetres,
    /// What the hot end sustains.
    pub flow: Flow,
    /// Lost at every layer.
    pub layer_time: Seconds,
    /// Names of materials it can print.
    pub materials: BTreeSet<String>,
    /// What is in it at the build's start; `None`: empty, so the first filament is a change.
    pub loaded: Option<FilamentIndex>,
    /// From start to first extrusion, each run.
    pub warm_up: Seconds,
    /// A person's time to clear and start.
    pub turnaround: Minutes,
    /// A person's further time to change the filament.
    pub swap: Minutes,
    /// Lost in one change, of the filament that comes in.
    pub purge: Grams,
    /// Mean draw while printing.
    pub watts: Watts,
    /// Money per printing hour (wear, nozzle, belt).
    pub hourly: Money,
    /// Share of runs that fail, 0 to 1.
    pub scrap: f64,
    /// Sorted, disjoint spans out of use.
    pub offline: Vec<Outage>,
    /// Whether it may print while nobody is there (the bench's word, unless the machine has its own).
    pub unattended: bool,
}

impl Machine {
    /// Whether this is a belt machine.
    pub fn is_belt(&self) -> bool {
        matches!(self.kind, MachineKind::Belt { .. })
    }
}

/// One filament: material, colour, price, stock.
#[derive(Clone, Debug)]
pub struct Filament {
    /// Its name in the scenario.
    pub id: String,
    /// PLA, PETG, …
    pub material: String,
    /// `#rrggbb`, lower case.
    pub colour: String,
    /// Mass density.
    pub density: Density,
    /// Modulus of elasticity of a print along its lines, where it is known.
    pub modulus: Option<Megapascals>,
    /// Price.
    pub price_kg: PricePerKilogram,
    /// Grams on each spool on hand.
    pub spools: Vec<Grams>,
    /// Diameter of the filament.
    pub diameter: Millimetres,
    /// Net mass of a new spool.
    pub spool: Grams,
    /// From order to arrival.
    pub lead: Minutes,
}

/// How the inside of a part is printed.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Its name in the scenario.
    pub id: String,
    /// Layer height.
    pub layer: Millimetres,
    /// Line width.
    pub line: Millimetres,
    /// Perimeters of each wall.
    pub perimeters: u32,
    /// Solid layers on top.
    pub top: u32,
    /// Solid layers at the bottom.
    pub bottom: u32,
    /// Share of the inside that is filled, 0 to 1.
    pub infill: f64,
    /// Whole degrees from upright by which a face may lean out over the bed without support.
    pub overhang: u32,
    /// Share of the space under an overhang that its support fills, 0 to 1.
    pub support: f64,
}

/// How two lengths of a part become one.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Its name in the scenario.
    pub id: String,
    /// What is bought and cut for each joint, if anything.
    pub hardware: Option<Hardware>,
    /// A length may be no shorter.
    pub shortest: Millimetres,
    /// Bench time per joint.
    pub bench: Seconds,
    /// Elapsed time until the joint holds.
    pub cure: Minutes,
    /// Mass that a joint adds besides its hardware (glue, sleeves); weighed, not printed.
    pub grams: Grams,
}

/// Rod, tube or dowel for one joint.
#[derive(Clone, Debug)]
pub struct Hardware {
    /// What it is called at the shop.
    pub item: String,
    /// Mass, g per mm.
    pub grams_per_mm: f64,
    /// Money per mm.
    pub price_per_mm: Money,
    /// Length cut for each joint.
    pub length: Millimetres,
    /// How it stiffens a beam that it lies in, where that is known.
    pub stiffener: Option<Stiffener>,
}
