//! What a scenario says that plans depend on, as digests: of all of it, and of each thing in it by name.
//!
//! Knows: the scenario. Must not know: the log, plans.
//! Promises: two scenarios with the same digest of all are planned alike; a thing's own digest does not depend on what else there is, nor on the
//! order in which it is written.

use std::collections::BTreeMap;
use std::fmt::Debug;

use serde::{Deserialize, Serialize};

use crate::scenario::{
    Assembly, FilamentIndex, JointIndex, MachineIndex, Part, PartIndex, Scenario, SettingsIndex,
};
use crate::units::{Millimetres, Minutes};

/// Digests of a scenario.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "Written", into = "Written")]
pub struct Basis {
    /// Of all that plans depend on, whatever it is called and wherever it lies.
    pub whole: String,
    /// Of each thing in it; of logs that were written before there were any, none.
    pub things: Option<Box<Things>>,
}

/// Digests of what a scenario has, by name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Things {
    /// The build, its name aside.
    pub build: String,
    /// The bench.
    pub bench: String,
    /// What was weighed and timed.
    pub measured: String,
    /// Machines.
    pub machines: BTreeMap<String, String>,
    /// Filaments, their colours aside.
    pub filaments: BTreeMap<String, String>,
    /// Print settings.
    pub settings: BTreeMap<String, String>,
    /// Joints.
    pub joints: BTreeMap<String, String>,
    /// Parts.
    pub parts: BTreeMap<String, PartThing>,
    /// Assemblies, their dates aside.
    pub assemblies: BTreeMap<String, String>,
}

/// What of a part is told by itself, and a digest of all else.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartThing {
    /// Copies wanted; where the program counts the spares, without them.
    pub copies: u32,
    /// Whether the program counts them.
    pub auto: bool,
    /// Its filament.
    pub filament: String,
    /// A digest of its box.
    pub size: String,
    /// A digest of all else.
    pub rest: String,
}

/// As it is written down.
#[derive(Serialize, Deserialize)]
#[serde(untagged)]
enum Written {
    Whole(String),
    Both { whole: String, things: Box<Things> },
}

impl From<Written> for Basis {
    fn from(written: Written) -> Self {
        let (whole, things) = match written {
            Written::Whole(whole) => (whole, None),
            Written::Both { whole, things } => (whole, Some(things)),
        };
        Self { whole, things }
    }
}

impl From<String> for Basis {
    /// One of all alone.
    fn from(whole: String) -> Self {
        Self {
            whole,
            things: None,
        }
    }
}

impl From<Basis> for Written {
    fn from(basis: Basis) -> Self {
        match basis.things {
            None => Self::Whole(basis.whole),
            Some(things) => Self::Both {
                whole: basis.whole,
                things,
            },
        }
    }
}

/// Digests of all that a scenario says and plans depend on.
pub fn basis(scenario: &Scenario) -> Basis {
    let nameless = nameless(scenario);
    Basis {
        whole: blake3::hash(format!("{nameless:?}").as_bytes())
            .to_hex()
            .to_string(),
        things: Some(Box::new(things(&nameless))),
    }
}

/// Without what no plan depends on.
fn nameless(scenario: &Scenario) -> Scenario {
    let mut nameless = Scenario {
        file: String::new(),
        currency: String::new(),
        ..scenario.clone()
    };
    // Of builds like it only forecasts speak.
    nameless.build.name.clear();
    nameless.build.original = Default::default();
    nameless.build.earlier.clear();
    for filament in &mut nameless.filaments {
        filament.colour.clear();
    }
    for outage in nameless.machines.iter_mut().flat_map(|m| &mut m.offline) {
        outage.why.clear();
    }
    for hardware in nameless
        .joints
        .iter_mut()
        .filter_map(|joint| joint.hardware.as_mut())
    {
        hardware.item.clear();
    }
    nameless
}

fn things(scenario: &Scenario) -> Things {
    fn named<'a, T: 'a>(
        all: &'a [T],
        id: impl Fn(&'a T) -> &'a String,
        says: impl Fn(&'a T) -> String,
    ) -> BTreeMap<String, String> {
        all.iter().map(|one| (id(one).clone(), says(one))).collect()
    }
    let filament = |index: FilamentIndex| &scenario.filaments[index.0].id;
    let measured = scenario.measured.iter().map(|one| {
        let mut nameless = one.clone();
        (nameless.part, nameless.machine) = (PartIndex(0), MachineIndex(0));
        let part = &scenario.parts[one.part.0].id;
        (part, &scenario.machines[one.machine.0].id, nameless)
    });
    Things {
        build: digest(&scenario.build),
        bench: digest(&scenario.bench),
        measured: digest(&measured.collect::<Vec<_>>()),
        machines: named(
            &scenario.machines,
            |machine| &machine.id,
            |machine| {
                let mut nameless = machine.clone();
                nameless.loaded = None;
                // Where it is the bench's word, that is said there.
                let own = machine.unattended != scenario.bench.unattended;
                nameless.unattended = false;
                digest(&(nameless, machine.loaded.map(filament), own))
            },
        ),
        filaments: named(&scenario.filaments, |filament| &filament.id, digest),
        settings: named(&scenario.settings, |settings| &settings.id, digest),
        joints: named(&scenario.joints, |joint| &joint.id, digest),
        parts: (scenario.parts.iter())
            .map(|part| (part.id.clone(), part_thing(scenario, part)))
            .collect(),
        assemblies: named(
            &scenario.assemblies,
            |assembly| &assembly.id,
            |one| assembly(scenario, one),
        ),
    }
}

fn part_thing(scenario: &Scenario, part: &Part) -> PartThing {
    let machines = || scenario.machines.iter().map(|machine| &machine.id);
    let all = part.only.iter().all(|&may| may);
    let only = machines().zip(&part.only).filter(|(_, may)| !all && **may);
    let only: Vec<&String> = only.map(|(machine, _)| machine).collect();
    let minutes = machines().zip(&part.minutes);
    let minutes: Vec<_> = minutes.filter(|(_, minutes)| minutes.is_some()).collect();
    let toolpaths = machines().zip(&part.toolpaths);
    let toolpaths: Vec<_> = toolpaths
        .filter(|(_, toolpath)| toolpath.is_some())
        .collect();
    let joint = part
        .split
        .as_ref()
        .map(|split| &scenario.joints[split.joint.0].id);
    let settings = &scenario.settings[part.settings.0].id;
    let mut nameless = part.clone();
    (nameless.quantity, nameless.spares) = (0, 0);
    // The program's own, too.
    nameless.together = None;
    nameless.size = [Millimetres(0.0); 3];
    (nameless.filament, nameless.settings) = (FilamentIndex(0), SettingsIndex(0));
    if let Some(split) = &mut nameless.split {
        split.joint = JointIndex(0);
    }
    nameless.minutes.clear();
    nameless.only.clear();
    nameless.toolpaths.clear();
    let copies = if part.reserve {
        part.quantity
    } else {
        part.copies()
    };
    PartThing {
        copies,
        auto: part.reserve,
        filament: scenario.filaments[part.filament.0].id.clone(),
        size: digest(&part.size),
        rest: digest(&(nameless, only, minutes, toolpaths, joint, settings)),
    }
}

fn assembly(scenario: &Scenario, assembly: &Assembly) -> String {
    let part = |part: PartIndex| &scenario.parts[part.0].id;
    let need = |at: usize| &scenario.assemblies[at].id;
    let mut parts: Vec<_> = (assembly.parts.iter())
        .map(|&(index, count)| (part(index), count))
        .collect();
    parts.sort_unstable();
    let mut needs: Vec<_> = assembly.needs.iter().map(|index| need(index.0)).collect();
    needs.sort_unstable();
    let places = &assembly.places;
    let of_parts = places.parts.iter().map(|(index, at)| (part(*index), at));
    let of_needs = places.needs.iter().map(|(index, at)| (need(index.0), at));
    let (of_parts, of_needs): (Vec<_>, Vec<_>) = (of_parts.collect(), of_needs.collect());
    let work: [Minutes; 2] = [assembly.bench, assembly.cure];
    digest(&(
        parts,
        needs,
        of_parts,
        of_needs,
        &assembly.lift,
        work,
        assembly.late,
    ))
}

/// Characters of the digest of a thing: enough that no two scenarios of one build have the same by chance.
const SHORT: usize = 16;

/// A digest of all that can be shown of something.
fn digest(thing: &impl Debug) -> String {
    let digest = blake3::hash(format!("{thing:?}").as_bytes()).to_hex();
    digest.as_str().chars().take(SHORT).collect()
}
