//! What the log asks of a scenario: names, what is in the machines and on the shelf at the start.
//!
//! Knows: the scenario. Must not know: events, files.
//! Promises: everything by name, since a log outlives changes of its scenario.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;

use crate::estimate::{Solid, plastic};
use crate::progress::spool_name;
use crate::scenario::{Axis, MachineIndex, Part, Scenario, Shape};

/// A scenario by name.
#[derive(Clone, Debug)]
pub struct Shop {
    /// The build's name.
    pub name: String,
    /// The build's start.
    pub start: DateTime<Utc>,
    /// The zone in which moments are shown.
    pub zone: Tz,
    /// Its machines.
    pub machines: BTreeMap<String, ShopMachine>,
    /// Its filaments.
    pub filaments: BTreeMap<String, ShopFilament>,
    /// Its parts.
    pub parts: BTreeMap<String, ShopPart>,
    /// Its assemblies.
    pub assemblies: BTreeMap<String, ShopAssembly>,
}

/// A part.
#[derive(Clone, Debug)]
pub struct ShopPart {
    /// Trial copies of it.
    pub trial: u32,
    /// Names of the variants that these are.
    pub variants: Vec<String>,
    /// Grams of a copy, on the machine where it should weigh least and on the one where most.
    pub grams: [f64; 2],
    /// By how many lengths make a copy, where not all are alike: for each the first that it is like.
    pub alike: BTreeMap<u32, Vec<u32>>,
}

impl ShopPart {
    /// The first of so many lengths that one is like: any such may stand for any other.
    pub fn first_like(&self, of: u32, length: u32) -> u32 {
        let Some(firsts) = self.alike.get(&of) else {
            return 1;
        };
        let at = (length as usize).checked_sub(1);
        let first = at.and_then(|at| firsts.get(at)).copied();
        first.unwrap_or(length)
    }
}

/// A machine.
#[derive(Clone, Debug)]
pub struct ShopMachine {
    /// The filament in it at the build's start.
    pub loaded: Option<String>,
    /// Grams lost in a change of filament.
    pub purge: f64,
}

/// A filament.
#[derive(Clone, Debug)]
pub struct ShopFilament {
    /// Grams on each spool at the build's start.
    pub spools: Vec<f64>,
    /// Grams on a new spool.
    pub new: f64,
}

/// An assembly.
#[derive(Clone, Debug)]
pub struct ShopAssembly {
    /// Copies of parts that go into it.
    pub parts: Vec<(String, u32)>,
    /// Assemblies that must be complete first.
    pub needs: Vec<String>,
    /// From the end of its bench work to when it is complete.
    pub cure: TimeDelta,
}

impl Shop {
    /// That of a scenario.
    pub fn new(scenario: &Scenario) -> Self {
        let filament = |index: usize| scenario.filaments[index].id.clone();
        Self {
            name: scenario.build.name.clone(),
            start: scenario.build.start,
            zone: scenario.build.zone,
            machines: scenario
                .machines
                .iter()
                .map(|machine| {
                    let known = ShopMachine {
                        loaded: machine.loaded.map(|loaded| filament(loaded.0)),
                        purge: machine.purge.0,
                    };
                    (machine.id.clone(), known)
                })
                .collect(),
            filaments: scenario
                .filaments
                .iter()
                .map(|filament| {
                    let known = ShopFilament {
                        spools: filament.spools.iter().map(|grams| grams.0).collect(),
                        new: filament.spool.0,
                    };
                    (filament.id.clone(), known)
                })
                .collect(),
            parts: scenario
                .parts
                .iter()
                .map(|part| {
                    let known = ShopPart {
                        trial: part.trial,
                        variants: (part.variants.iter())
                            .map(|variant| variant.name.clone())
                            .collect(),
                        grams: grams(scenario, part),
                        alike: alike(part),
                    };
                    (part.id.clone(), known)
                })
                .collect(),
            assemblies: scenario
                .assemblies
                .iter()
                .map(|assembly| {
                    let parts = assembly.parts.iter();
                    let known = ShopAssembly {
                        parts: parts
                            .map(|(part, count)| (scenario.parts[part.0].id.clone(), *count))
                            .collect(),
                        needs: assembly
                            .needs
                            .iter()
                            .map(|need| scenario.assemblies[need.0].id.clone())
                            .collect(),
                        // Cures are a few days at most: limits see to that.
                        cure: TimeDelta::try_minutes(assembly.cure.0).unwrap_or_default(),
                    };
                    (assembly.id.clone(), known)
                })
                .collect(),
        }
    }

    /// Whether a spool of this name is on the shelf at the start.
    pub fn has_spool(&self, name: &str) -> bool {
        self.filaments.iter().any(|(filament, known)| {
            let mut numbers = 1..=known.spools.len();
            numbers.any(|number| spool_name(filament, number) == name)
        })
    }

    /// A moment as messages have it, local to the build.
    pub fn shown(&self, moment: DateTime<Utc>) -> String {
        moment
            .with_timezone(&self.zone)
            .format("%a %-d %b %Y %H:%M")
            .to_string()
    }
}

/// By how many lengths make a copy: for each the first that it is like. Lengths of a box are all alike.
fn alike(part: &Part) -> BTreeMap<u32, Vec<u32>> {
    let cuts = part.mesh().into_iter().flat_map(|mesh| mesh.lengths.keys());
    let firsts = |of: u32| (1..=of).map(|length| part.first_like(of, length)).collect();
    cuts.map(|&of| (of, firsts(of))).collect()
}

/// What a copy should weigh: lying as the first of its ways, as anything else makes little difference.
fn grams(scenario: &Scenario, part: &Part) -> [f64; 2] {
    let settings = &scenario.settings[part.settings.0];
    let filament = &scenario.filaments[part.filament.0];
    let body = part.mesh().and_then(|mesh| mesh.body(1, 1));
    let upright = part.lie.first().copied().unwrap_or(Axis::Z);
    let solid = match (&part.shape, body) {
        (Shape::Box { solid }, _) => Solid::Share(*solid),
        (_, Some(body)) => Solid::Body(body, &body.lying[upright as usize]),
        (_, None) => Solid::Share(1.0),
    };
    let mut range = [f64::INFINITY, 0.0];
    for machine in (0..scenario.machines.len()).map(MachineIndex) {
        let copy = plastic(
            part, 1.0, machine, part.size, solid, settings, filament, 1.0,
        );
        range = [range[0].min(copy.grams.0), range[1].max(copy.grams.0)];
    }
    range
}
