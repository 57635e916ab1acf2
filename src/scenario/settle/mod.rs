//! From the scenario as written to the scenario as meant.
//!
//! Knows: both, and what a field means that is left out. Must not know: YAML, complaints.
//! Promises: `None` only where something is missing that has been complained of.

mod farm;

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use chrono::{DateTime, NaiveDateTime, Utc};

use super::collector::At;
use super::fields::DENSITIES;
use super::kinds::Spares;
use super::measured::Measurement;
use super::model::*;
use super::moment::moment;
use super::names::Names;
use super::raw::*;
use crate::units::{Grams, Millimetres, Minutes, Money, Seconds};

/// The names of every section.
pub struct AllNames {
    /// Of `machines`.
    pub machines: Names,
    /// Of `filaments`.
    pub filaments: Names,
    /// Of `settings`.
    pub settings: Names,
    /// Of `joints`.
    pub joints: Names,
    /// Of the parts.
    pub parts: Names,
    /// Of `assemblies`.
    pub assemblies: Names,
}

impl AllNames {
    /// Takes in every name. Of a section that no build does without it has been said already if nothing is in it.
    pub fn new(raw: &RawScenario) -> Self {
        Self {
            machines: Names::new(
                "machine",
                !raw.machines.is_empty(),
                raw.machines.iter().map(|item| item.id.as_ref()),
            ),
            filaments: Names::new(
                "filament",
                !raw.filaments.is_empty(),
                raw.filaments.iter().map(|item| item.id.as_ref()),
            ),
            settings: Names::new(
                "settings",
                !raw.settings.is_empty(),
                raw.settings.iter().map(|item| item.id.as_ref()),
            ),
            joints: Names::new(
                "joint",
                true,
                raw.joints.iter().map(|item| item.id.as_ref()),
            ),
            parts: Names::new(
                "part",
                raw.parts_complete,
                raw.parts.iter().map(|item| item.id.as_ref()),
            ),
            assemblies: Names::new(
                "assembly",
                true,
                raw.assemblies.iter().map(|item| item.id.as_ref()),
            ),
        }
    }
}

/// The density of a filament: the user's, or the material's usual one.
pub fn density(filament: &RawFilament) -> Option<f64> {
    let material = &filament.material.as_ref()?.value;
    match filament.density.as_ref() {
        Some(density) => Some(density.value),
        None => DENSITIES
            .iter()
            .find(|(name, _)| name == material)
            .map(|(_, density)| *density),
    }
}

/// A part's box at print scale, mm.
pub fn size(part: &RawPart, scale: f64) -> Option<[f64; 3]> {
    if let Some(shape) = &part.shape {
        return Some(shape.whole.size()); // measured at print scale
    }
    match (part.size.as_ref(), part.model.as_ref()) {
        (Some(size), _) => Some(size.value),
        (None, Some(model)) => Some(model.value.map(|side| side * scale)),
        (None, None) => None,
    }
}

/// A part's box with room for its widest variant. What is measured of a mesh stays as it is.
fn widest(size: [f64; 3], part: &RawPart) -> [f64; 3] {
    let offsets = part.variants.iter().filter_map(|one| one.offset.value());
    let most = offsets.fold(0.0, f64::max);
    match part.shape {
        Some(_) => size,
        None => [size[0] + 2.0 * most, size[1] + 2.0 * most, size[2]],
    }
}

/// The scenario, if nothing is missing.
pub fn settle(file: &str, raw: &RawScenario) -> Option<Scenario> {
    let names = AllNames::new(raw);
    let settler = Settler {
        raw,
        names: &names,
        zone: raw.build.zone.as_ref()?.value,
        scale: raw.build.scale.as_ref()?.value,
    };
    let build = settler.build(file)?;
    let assemblies = settler.assemblies(&build.name)?;
    Some(Scenario {
        file: file.to_owned(),
        build,
        currency: raw.currency.as_ref()?.value.clone(),
        bench: settler.bench()?,
        machines: each(&raw.machines, |machine| settler.machine(machine))?,
        filaments: each(&raw.filaments, farm::filament)?,
        settings: each(&raw.settings, farm::settings)?,
        joints: each(&raw.joints, farm::joint)?,
        parts: each(&raw.parts, |part| settler.part(part))?,
        assemblies,
        measured: each(&raw.measured, |one| settler.measurement(one))?,
    })
}

fn each<R, T>(raw: &[R], settle: impl FnMut(&R) -> Option<T>) -> Option<Vec<T>> {
    raw.iter().map(settle).collect()
}

fn minutes(seconds: &Got<f64>) -> Option<Minutes> {
    Some(Seconds(seconds.as_ref()?.value).whole_minutes())
}

struct Settler<'r> {
    raw: &'r RawScenario,
    names: &'r AllNames,
    zone: chrono_tz::Tz,
    scale: f64,
}

impl Settler<'_> {
    fn moment(&self, local: &Got<NaiveDateTime>) -> Option<DateTime<Utc>> {
        local.value().map(|local| moment(self.zone, local))
    }

    fn build(&self, file: &str) -> Option<Build> {
        let build = &self.raw.build;
        let stem = Path::new(file)
            .file_stem()
            .map_or("build".to_owned(), |stem| {
                stem.to_string_lossy().into_owned()
            });
        Some(Build {
            name: build.name.as_ref().map_or(stem, |name| name.value.clone()),
            scale: self.scale,
            start: self.moment(&build.start)?,
            zone: self.zone,
            each_day: Money(build.each_day.value()?),
            firm: minutes(&build.firm),
            churn: Money(build.churn.value()?),
            confidence: build.confidence.value()?,
            spool_margin: build.spool_margin.value()?,
            original: build
                .original
                .as_ref()
                .map_or_else(Original::default, |original| Original {
                    size: original.size.value().map(|size| size.map(Millimetres)),
                    mass: original.mass.value().map(Grams),
                }),
            earlier: each(&build.earlier, earlier)?,
        })
    }

    fn part(&self, part: &RawPart) -> Option<Part> {
        let split = match &part.split {
            Some(split) => Some(Split {
                joint: JointIndex(self.names.joints.find(&split.joint.as_ref()?.value)?),
                into: split.into.as_ref()?.value.clone(),
            }),
            None => None,
        };
        let machine = |name: &At<String>| self.names.machines.find(&name.value);
        let mut measured = vec![None; self.raw.machines.len()];
        for (name, minutes) in &part.minutes {
            measured[machine(name)?] = Some(*minutes); // positions are those of the machines
        }
        let only = &part.only.as_ref()?.value;
        let mut allowed = vec![only.is_empty(); self.raw.machines.len()];
        for name in only {
            allowed[machine(name)?] = true;
        }
        Some(Part {
            id: part.id.as_ref()?.value.clone(),
            quantity: part.quantity.value()?,
            size: widest(size(part, self.scale)?, part).map(Millimetres),
            shape: match (&part.shape, &part.mesh) {
                (Some(shape), _) => Shape::Mesh(Arc::clone(shape)),
                (None, Got::Absent) => Shape::Box {
                    solid: part.solid.value()?,
                },
                (None, _) => return None,
            },
            filament: FilamentIndex(named_or_only(&part.filament, &self.names.filaments)?),
            settings: SettingsIndex(named_or_only(&part.settings, &self.names.settings)?),
            lie: part.lie.as_ref()?.value.clone(),
            turns: part.turn.as_ref()?.value,
            split,
            belt: part.belt.value()?,
            finishing: Seconds(part.finishing.value()?),
            // Counted when all else is settled.
            spares: part.spares.value()?.count().unwrap_or(0),
            reserve: part.spares.value()? == Spares::Auto,
            together: None,
            trial: match part.variants.len() {
                0 => part.trial.value()?,
                variants => u32::try_from(variants).ok()?,
            },
            variants: each(&part.variants, |variant| {
                Some(Variant {
                    name: variant.name.as_ref()?.value.clone(),
                    offset: Millimetres(variant.offset.value()?),
                })
            })?,
            alone: part.alone.value()?,
            ready: self.moment(&part.ready),
            minutes: measured,
            only: allowed,
            span: match &part.span {
                Some(span) => Some(Span {
                    length: span.length.value().map(Millimetres),
                    load: Grams(span.load.value()?),
                    ends: span.ends.value()?,
                    limit: span.limit.value().map(Millimetres),
                    down: span.down.value(),
                }),
                None => None,
            },
            grams: part.grams.value().map(Grams),
            // The files are read when all else is settled.
            toolpaths: vec![None; self.raw.machines.len()],
        })
    }

    fn measurement(&self, one: &RawMeasurement) -> Option<Measurement> {
        Some(Measurement {
            part: PartIndex(self.names.parts.find(&one.part.as_ref()?.value)?),
            machine: MachineIndex(self.names.machines.find(&one.machine.as_ref()?.value)?),
            pieces: one.pieces.value()?,
            against: None,
            lengths: one.lengths.value()?,
            upright: one.upright.value(),
            grams: one.grams.value().map(Grams),
            minutes: one.minutes.value(),
        })
    }

    /// The assemblies; if there are none, one that takes every part.
    fn assemblies(&self, build: &str) -> Option<Vec<Assembly>> {
        if !self.raw.assemblies.is_empty() {
            return each(&self.raw.assemblies, |assembly| self.assembly(assembly));
        }
        let parts = self.raw.parts.iter().enumerate();
        let parts = parts.map(|(at, part)| Some((PartIndex(at), part.quantity.value()?)));
        Some(vec![Assembly {
            id: build.to_owned(),
            parts: parts.collect::<Option<_>>()?,
            needs: Vec::new(),
            places: Places::default(),
            lift: None,
            bench: Minutes::ZERO,
            cure: Minutes::ZERO,
            due: None,
            late: Money::ZERO,
        }])
    }

    /// Places are in the model's millimetres: the scale multiplies them.
    fn places(&self, assembly: &RawAssembly) -> Option<Places> {
        let mut places = Places::default();
        for (name, points) in &assembly.places {
            let scaled = |point: &[f64; 3]| point.map(|along| Millimetres(along * self.scale));
            let takes = |(taken, _): &(At<String>, u32)| taken.value == name.value;
            if assembly.parts.iter().any(takes) {
                let part = PartIndex(self.names.parts.find(&name.value)?);
                places
                    .parts
                    .push((part, points.value.iter().map(scaled).collect()));
            } else {
                let need = AssemblyIndex(self.names.assemblies.find(&name.value)?);
                places.needs.push((need, scaled(points.value.first()?)));
            }
        }
        Some(places)
    }

    fn assembly(&self, assembly: &RawAssembly) -> Option<Assembly> {
        let needs: BTreeSet<usize> = assembly
            .needs
            .as_ref()?
            .value
            .iter()
            .map(|name| self.names.assemblies.find(&name.value))
            .collect::<Option<_>>()?;
        Some(Assembly {
            id: assembly.id.as_ref()?.value.clone(),
            parts: each(&assembly.parts, |(name, count)| {
                Some((PartIndex(self.names.parts.find(&name.value)?), *count))
            })?,
            needs: needs.into_iter().map(AssemblyIndex).collect(),
            places: self.places(assembly)?,
            lift: match &assembly.lift {
                Some(lift) => Some(handling(lift)?),
                None => None,
            },
            bench: minutes(&assembly.bench)?,
            cure: minutes(&assembly.cure)?,
            due: self.moment(&assembly.due),
            late: match assembly.due.as_ref() {
                Some(_) => Money(assembly.late.value()?),
                None => Money::ZERO,
            },
        })
    }
}

fn handling(lift: &RawHandling) -> Option<Handling> {
    Some(Handling {
        reach: lift.reach.value()?,
        from: lift.from.value()?,
        to: lift.to.value()?,
        turn: lift.turn.value()?,
        grip: lift.grip.value()?,
    })
}

/// The position of a name; without one, of the only thing there is.
pub fn named_or_only(name: &Got<String>, names: &Names) -> Option<usize> {
    match name {
        Got::Read(name) => names.find(&name.value),
        Got::Absent => names.only(),
        Got::Refused => None,
    }
}

fn earlier(earlier: &RawEarlier) -> Option<Earlier> {
    Some(Earlier {
        name: earlier.name.as_ref()?.value.clone(),
        scale: earlier.scale.value()?,
        original: Grams(earlier.original.value()?),
        printed: Grams(earlier.printed.value()?),
    })
}
