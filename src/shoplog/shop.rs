//! What the log asks of a scenario: names, what is in the machines and on the shelf at the start.
//!
//! Knows: the scenario. Must not know: events, files.
//! Promises: everything by name, since a log outlives changes of its scenario.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use crate::scenario::Scenario;

/// A scenario by name.
#[derive(Clone, Debug)]
pub struct Shop {
    /// The build's start.
    pub start: DateTime<Utc>,
    /// The zone in which moments are shown.
    pub zone: Tz,
    /// Its machines.
    pub machines: BTreeMap<String, ShopMachine>,
    /// Its filaments.
    pub filaments: BTreeMap<String, ShopFilament>,
    /// Its parts: trial copies of each.
    pub parts: BTreeMap<String, u32>,
    /// Its assemblies.
    pub assemblies: BTreeMap<String, ShopAssembly>,
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
}

impl Shop {
    /// That of a scenario.
    pub fn new(scenario: &Scenario) -> Self {
        let filament = |index: usize| scenario.filaments[index].id.clone();
        Self {
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
                .map(|part| (part.id.clone(), part.trial))
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
                    };
                    (assembly.id.clone(), known)
                })
                .collect(),
        }
    }

    /// A moment as messages have it, local to the build.
    pub fn shown(&self, moment: DateTime<Utc>) -> String {
        moment
            .with_timezone(&self.zone)
            .format("%a %-d %b %Y %H:%M")
            .to_string()
    }
}
