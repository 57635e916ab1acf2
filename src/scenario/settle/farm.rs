//! The farm and the bench, from what is written to what is meant.
//!
//! Knows: machines, hours, filaments, settings, joints. Must not know: parts, assemblies, YAML, complaints.
//! Promises: `None` only where something is missing that has been complained of.

use super::super::model::*;
use super::super::raw::*;
use super::super::stiffness::{grams_per_mm, modulus, rod_modulus};
use super::{Settler, density, each, minutes};
use crate::units::{
    Density, Flow, Grams, Megapascals, Millimetres, Money, PricePerKilogram, Seconds, Watts,
};

impl Settler<'_> {
    pub(super) fn bench(&self) -> Option<Bench> {
        let bench = &self.raw.bench;
        let mut hours: [Vec<DaySpan>; 7] = Default::default();
        for written in &bench.hours.as_ref()?.value {
            hours[written.day].push(written.span); // a day is 0 to 6
        }
        for spans in &mut hours {
            spans.sort_unstable();
        }
        Some(Bench {
            hours,
            away: bench.away.as_ref()?.value.clone(),
            hands: bench.hands.value()?,
            unattended: bench.unattended.value()?,
            bench_hour: Money(bench.bench_hour.value()?),
            energy_kwh: Money(bench.energy_kwh.value()?),
        })
    }

    pub(super) fn machine(&self, machine: &RawMachine) -> Option<Machine> {
        let loaded = match &machine.loaded.as_ref()?.value {
            Some(name) => Some(FilamentIndex(self.names.filaments.find(name)?)),
            None => None,
        };
        let mut offline = each(&machine.offline, |outage| {
            Some(Outage {
                from: self.moment(&outage.from)?,
                to: self.moment(&outage.to)?,
                why: outage
                    .why
                    .as_ref()
                    .map_or(String::new(), |why| why.value.clone()),
            })
        })?;
        offline.sort_by_key(|outage| outage.from);
        Some(Machine {
            id: machine.id.as_ref()?.value.clone(),
            kind: kind(machine.shape.as_ref()?)?,
            margin: Millimetres(machine.margin.value()?),
            spacing: Millimetres(machine.spacing.value()?),
            nozzle: Millimetres(machine.nozzle.value()?),
            flow: Flow(machine.flow.value()?),
            layer_time: Seconds(machine.layer_time.value()?),
            materials: machine.materials.as_ref()?.value.clone(),
            loaded,
            warm_up: Seconds(machine.warm_up.value()?),
            turnaround: minutes(&machine.turnaround)?,
            swap: minutes(&machine.swap)?,
            purge: Grams(machine.purge.value()?),
            watts: Watts(machine.watts.value()?),
            hourly: Money(machine.hourly.value()?),
            scrap: machine.scrap.value()?,
            offline,
            unattended: match machine.unattended.as_ref() {
                Some(own) => own.value,
                None => self.raw.bench.unattended.value()?,
            },
        })
    }
}

fn kind(shape: &RawShape) -> Option<MachineKind> {
    Some(match shape {
        RawShape::Bed { bed, height } => MachineKind::Bed {
            bed: bed.value()?.map(Millimetres),
            height: Millimetres(height.value()?),
        },
        RawShape::Belt {
            section,
            longest,
            gap,
        } => MachineKind::Belt {
            section: section.value()?.map(Millimetres),
            longest: Millimetres(longest.value()?),
            gap: Millimetres(gap.value()?),
        },
    })
}

pub(super) fn filament(filament: &RawFilament) -> Option<Filament> {
    Some(Filament {
        id: filament.id.as_ref()?.value.clone(),
        material: filament.material.as_ref()?.value.clone(),
        colour: filament.colour.as_ref()?.value.clone(),
        density: Density(density(filament)?),
        modulus: modulus(filament).map(Megapascals),
        price_kg: PricePerKilogram(filament.price_kg.value()?),
        spools: filament
            .spools
            .as_ref()?
            .value
            .iter()
            .copied()
            .map(Grams)
            .collect(),
        diameter: Millimetres(filament.diameter.value()?),
        spool: Grams(filament.spool.value()?),
        lead: minutes(&filament.lead)?,
    })
}

pub(super) fn settings(settings: &RawSettings) -> Option<Settings> {
    Some(Settings {
        id: settings.id.as_ref()?.value.clone(),
        layer: Millimetres(settings.layer.value()?),
        line: Millimetres(settings.line.value()?),
        perimeters: settings.perimeters.value()?,
        top: settings.top.value()?,
        bottom: settings.bottom.value()?,
        infill: settings.infill.value()?,
        overhang: settings.overhang.value()?,
        support: settings.support.value()?,
    })
}

pub(super) fn joint(joint: &RawJoint) -> Option<Joint> {
    let hardware = match &joint.hardware {
        Some(hardware) => Some(Hardware {
            item: hardware.item.as_ref()?.value.clone(),
            grams_per_mm: grams_per_mm(hardware),
            price_per_mm: Money(hardware.price_per_mm.value()?),
            length: Millimetres(hardware.length.value()?),
            stiffener: hardware.section.value().zip(rod_modulus(hardware)).map(
                |(profile, modulus)| Stiffener {
                    profile,
                    modulus: Megapascals(modulus),
                },
            ),
        }),
        None => None,
    };
    Some(Joint {
        id: joint.id.as_ref()?.value.clone(),
        hardware,
        shortest: Millimetres(joint.shortest.value()?),
        bench: Seconds(joint.bench.value()?),
        cure: minutes(&joint.cure)?,
        grams: Grams(joint.grams.value()?),
    })
}
