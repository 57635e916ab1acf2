//! The scenario as written: every field by itself within its limits, nothing compared with anything else yet.
//!
//! Knows: the shape of a scenario file. Must not know: how it is written, which values go together.
//! Promises: each value remembers where it stands; one that could not be read has been complained of.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::sync::Arc;

use chrono::{NaiveDate, NaiveDateTime};
use chrono_tz::Tz;

use super::collector::{At, Spot};
use super::fields::RodMaterial;
use super::kinds::{Spares, WrittenSpan};
use super::meshes::MeshShape;
use super::model::{Axis, Ends, Grip, Hands, Turns};
use super::profile::Profile;

/// A field, read or not.
#[derive(Clone, Debug)]
pub enum Got<T> {
    /// Written within its limits, or left out and taken from the table's default.
    Read(At<T>),
    /// Left out, and no value says what that means.
    Absent,
    /// Complained of.
    Refused,
}

impl<T> Got<T> {
    /// The value and its place, if there is one.
    pub fn as_ref(&self) -> Option<&At<T>> {
        match self {
            Got::Read(at) => Some(at),
            Got::Absent | Got::Refused => None,
        }
    }

    /// Whether it was left out and has no default.
    pub fn is_absent(&self) -> bool {
        matches!(self, Got::Absent)
    }

    /// The same place with another value.
    pub fn map<U>(self, change: impl FnOnce(T) -> U) -> Got<U> {
        match self {
            Got::Read(at) => Got::Read(At {
                value: change(at.value),
                spot: at.spot,
            }),
            Got::Absent => Got::Absent,
            Got::Refused => Got::Refused,
        }
    }
}

impl<T: Copy> Got<T> {
    /// The bare value, if there is one.
    pub fn value(&self) -> Option<T> {
        self.as_ref().map(|at| at.value)
    }
}

/// A whole file.
pub struct RawScenario {
    /// `build`.
    pub build: RawBuild,
    /// `currency`.
    pub currency: Got<String>,
    /// `bench`.
    pub bench: RawBench,
    /// `machines`.
    pub machines: Vec<RawMachine>,
    /// `filaments`.
    pub filaments: Vec<RawFilament>,
    /// `settings`; one that is built in if there are none.
    pub settings: Vec<RawSettings>,
    /// `joints`.
    pub joints: Vec<RawJoint>,
    /// `parts` and `parts_from`.
    pub parts: Vec<RawPart>,
    /// Whether there are parts, and the table file, if any, could be read to its end.
    pub parts_complete: bool,
    /// `assemblies`.
    pub assemblies: Vec<RawAssembly>,
    /// `measured`.
    pub measured: Vec<RawMeasurement>,
}

/// One of `measured`.
pub struct RawMeasurement {
    /// Its path with its number.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    /// `part`.
    pub part: Got<String>,
    /// `machine`.
    pub machine: Got<String>,
    /// `pieces`.
    pub pieces: Got<u32>,
    /// `lengths`.
    pub lengths: Got<u32>,
    /// `upright`.
    pub upright: Got<Axis>,
    /// `grams`.
    pub grams: Got<f64>,
    /// `minutes`.
    pub minutes: Got<f64>,
}

/// `build`.
pub struct RawBuild {
    /// `name`.
    pub name: Got<String>,
    /// `scale`.
    pub scale: Got<f64>,
    /// `start`.
    pub start: Got<NaiveDateTime>,
    /// `timezone`.
    pub zone: Got<Tz>,
    /// `each_day`.
    pub each_day: Got<f64>,
    /// `spool_margin`, 0 to 1.
    pub spool_margin: Got<f64>,
    /// `firm`, s.
    pub firm: Got<f64>,
    /// `churn`.
    pub churn: Got<f64>,
    /// `confidence`, 0 to 1.
    pub confidence: Got<f64>,
    /// `original`.
    pub original: Option<RawOriginal>,
    /// `earlier`.
    pub earlier: Vec<RawEarlier>,
}

/// The build's `original`.
pub struct RawOriginal {
    /// `size`.
    pub size: Got<[f64; 3]>,
    /// `mass_g`.
    pub mass: Got<f64>,
}

/// One of the build's `earlier` ones.
pub struct RawEarlier {
    /// Its path.
    pub path: String,
    /// `name`.
    pub name: Got<String>,
    /// `scale`.
    pub scale: Got<f64>,
    /// `original_g`.
    pub original: Got<f64>,
    /// `printed_g`.
    pub printed: Got<f64>,
}

/// `bench`.
pub struct RawBench {
    /// `hours`.
    pub hours: Got<Vec<WrittenSpan>>,
    /// `away`.
    pub away: Got<BTreeSet<NaiveDate>>,
    /// `hands`.
    pub hands: Got<Hands>,
    /// `unattended`.
    pub unattended: Got<bool>,
    /// `bench_hour`.
    pub bench_hour: Got<f64>,
    /// `energy_kwh`.
    pub energy_kwh: Got<f64>,
}

/// What a machine can hold.
pub enum RawShape {
    /// `kind: bed`.
    Bed {
        /// `bed`.
        bed: Got<[f64; 2]>,
        /// `height`.
        height: Got<f64>,
    },
    /// `kind: belt`.
    Belt {
        /// `section`.
        section: Got<[f64; 2]>,
        /// `longest`.
        longest: Got<f64>,
        /// `gap`.
        gap: Got<f64>,
    },
}

/// One of `machines`.
pub struct RawMachine {
    /// Its path with its id.
    pub path: String,
    /// `id`.
    pub id: Got<String>,
    /// `kind`, and what belongs to it.
    pub shape: Option<RawShape>,
    /// `margin`.
    pub margin: Got<f64>,
    /// `spacing`.
    pub spacing: Got<f64>,
    /// `nozzle`.
    pub nozzle: Got<f64>,
    /// `flow`.
    pub flow: Got<f64>,
    /// `layer_time`, s.
    pub layer_time: Got<f64>,
    /// `materials`.
    pub materials: Got<BTreeSet<String>>,
    /// `loaded`.
    pub loaded: Got<Option<String>>,
    /// `warm_up`, s.
    pub warm_up: Got<f64>,
    /// `turnaround`, s.
    pub turnaround: Got<f64>,
    /// `swap`, s.
    pub swap: Got<f64>,
    /// `purge`.
    pub purge: Got<f64>,
    /// `watts`.
    pub watts: Got<f64>,
    /// `hourly`.
    pub hourly: Got<f64>,
    /// `acceleration`.
    pub acceleration: Got<f64>,
    /// `scrap`.
    pub scrap: Got<f64>,
    /// `offline`.
    pub offline: Vec<RawOutage>,
    /// `unattended`.
    pub unattended: Got<bool>,
}

/// One of a machine's `offline` spans.
pub struct RawOutage {
    /// Its path.
    pub path: String,
    /// `from`.
    pub from: Got<NaiveDateTime>,
    /// `to`.
    pub to: Got<NaiveDateTime>,
    /// `why`.
    pub why: Got<String>,
}

/// One of `filaments`.
pub struct RawFilament {
    /// Its path with its id.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    /// `id`.
    pub id: Got<String>,
    /// `material`, upper case.
    pub material: Got<String>,
    /// `colour`.
    pub colour: Got<String>,
    /// `density`.
    pub density: Got<f64>,
    /// `modulus`.
    pub modulus: Got<f64>,
    /// `diameter`.
    pub diameter: Got<f64>,
    /// `price_kg`.
    pub price_kg: Got<f64>,
    /// `spools`.
    pub spools: Got<Vec<f64>>,
    /// `spool`.
    pub spool: Got<f64>,
    /// `lead`, s.
    pub lead: Got<f64>,
}

/// One of `settings`.
pub struct RawSettings {
    /// Its path with its id.
    pub path: String,
    /// Its key.
    pub id: Got<String>,
    /// `layer`.
    pub layer: Got<f64>,
    /// `line`.
    pub line: Got<f64>,
    /// `perimeters`.
    pub perimeters: Got<u32>,
    /// `top`.
    pub top: Got<u32>,
    /// `bottom`.
    pub bottom: Got<u32>,
    /// `infill`.
    pub infill: Got<f64>,
    /// `overhang`, degrees from upright.
    pub overhang: Got<u32>,
    /// `support`.
    pub support: Got<f64>,
}

/// One of `joints`.
pub struct RawJoint {
    /// Its key.
    pub id: Got<String>,
    /// `hardware`.
    pub hardware: Option<RawHardware>,
    /// `shortest`.
    pub shortest: Got<f64>,
    /// `bench`, s.
    pub bench: Got<f64>,
    /// `cure`, s.
    pub cure: Got<f64>,
    /// `grams`.
    pub grams: Got<f64>,
}

/// A joint's `hardware`.
pub struct RawHardware {
    /// Its path.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    /// `item`.
    pub item: Got<String>,
    /// `g_per_mm`.
    pub grams_per_mm: Got<f64>,
    /// `price_per_mm`.
    pub price_per_mm: Got<f64>,
    /// `length`.
    pub length: Got<f64>,
    /// `section`.
    pub section: Got<Profile>,
    /// `material`.
    pub material: Got<RodMaterial>,
    /// `modulus`.
    pub modulus: Got<f64>,
}

/// A part's `span`.
pub struct RawSpan {
    /// `mm`.
    pub length: Got<f64>,
    /// `load_g`.
    pub load: Got<f64>,
    /// `ends`.
    pub ends: Got<Ends>,
    /// `sag_limit`.
    pub limit: Got<f64>,
    /// `down`.
    pub down: Got<Axis>,
}

/// A part's `split`.
pub struct RawSplit {
    /// `joint`.
    pub joint: Got<String>,
    /// `into`.
    pub into: Got<RangeInclusive<u32>>,
}

/// One of the parts, whichever file it comes from.
pub struct RawPart {
    /// Its path with its id.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    /// `id`.
    pub id: Got<String>,
    /// `quantity`.
    pub quantity: Got<u32>,
    /// `model`.
    pub model: Got<[f64; 3]>,
    /// `size`.
    pub size: Got<[f64; 3]>,
    /// `mesh`: the path as written.
    pub mesh: Got<String>,
    /// What was measured of the mesh, once it is read.
    pub shape: Option<Arc<MeshShape>>,
    /// The folder of the file that it stands in, from which `mesh` is found.
    pub folder: PathBuf,
    /// `solid`.
    pub solid: Got<f64>,
    /// `filament`.
    pub filament: Got<String>,
    /// `settings`.
    pub settings: Got<String>,
    /// `lie`.
    pub lie: Got<Vec<Axis>>,
    /// `turn`.
    pub turn: Got<Turns>,
    /// `split`.
    pub split: Option<RawSplit>,
    /// `belt`.
    pub belt: Got<bool>,
    /// `finishing`, s.
    pub finishing: Got<f64>,
    /// `spares`.
    pub spares: Got<Spares>,
    /// `trial`.
    pub trial: Got<u32>,
    /// `variants`.
    pub variants: Vec<RawVariant>,
    /// `alone`.
    pub alone: Got<bool>,
    /// `ready`.
    pub ready: Got<NaiveDateTime>,
    /// `minutes`, by machine.
    pub minutes: Vec<(At<String>, f64)>,
    /// `span`.
    pub span: Option<RawSpan>,
    /// `gcode`: paths by machine.
    pub gcode: Vec<(At<String>, At<String>)>,
    /// `only`.
    pub only: Got<Vec<At<String>>>,
    /// `grams`.
    pub grams: Got<f64>,
}

/// One of a part's `variants`.
pub struct RawVariant {
    /// Its path with its number.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    /// `name`.
    pub name: Got<String>,
    /// `offset`.
    pub offset: Got<f64>,
}

/// One of an assembly's `places`: a part or needed assembly, and where it is.
pub type RawPlace = (At<String>, At<Vec<[f64; 3]>>);

/// An assembly's `lift`.
pub struct RawHandling {
    /// `reach_cm`.
    pub reach: Got<f64>,
    /// `from_cm`.
    pub from: Got<f64>,
    /// `to_cm`.
    pub to: Got<f64>,
    /// `turn`.
    pub turn: Got<f64>,
    /// `grip`.
    pub grip: Got<Grip>,
}

/// One of `assemblies`.
pub struct RawAssembly {
    /// Its path with its id.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    /// `id`.
    pub id: Got<String>,
    /// `parts`, with counts.
    pub parts: Vec<(At<String>, u32)>,
    /// `needs`.
    pub needs: Got<Vec<At<String>>>,
    /// `places`, by part or needed assembly.
    pub places: Vec<RawPlace>,
    /// `lift`.
    pub lift: Option<RawHandling>,
    /// `bench`, s.
    pub bench: Got<f64>,
    /// `cure`, s.
    pub cure: Got<f64>,
    /// `due`.
    pub due: Got<NaiveDateTime>,
    /// `late`.
    pub late: Got<f64>,
    /// Whether `late` is written.
    pub late_written: bool,
}
