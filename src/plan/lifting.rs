//! What is lifted: the mass of every assembly with all that it needs.
//!
//! Knows: which parts and assemblies go into which assembly, what a copy weighs. Must not know: dates, machines, what is
//! cautioned.
//! Promises: every assembly has a mass; what is needed by several ways is counted once.

use std::collections::BTreeSet;

use crate::scenario::{AssemblyIndex, Scenario};
use crate::units::Grams;

/// An assembly as it is lifted.
#[derive(Clone, Debug, PartialEq)]
pub struct Lift {
    /// Which.
    pub assembly: AssemblyIndex,
    /// Printed pieces, hardware and glue, of everything that it needs as well.
    pub mass: Grams,
    /// Whether another assembly takes it, so that it is lifted into place.
    pub taken: bool,
}

/// Every assembly as it is lifted, in the scenario's order; `copy_grams`: mass of one finished copy of each part.
pub fn lifts(scenario: &Scenario, copy_grams: &[Grams]) -> Vec<Lift> {
    let needed: BTreeSet<AssemblyIndex> = scenario
        .assemblies
        .iter()
        .flat_map(|assembly| assembly.needs.iter().copied())
        .collect();
    (0..scenario.assemblies.len())
        .map(AssemblyIndex)
        .map(|assembly| Lift {
            assembly,
            mass: assembled(scenario, copy_grams, assembly),
            taken: needed.contains(&assembly),
        })
        .collect()
}

/// The heaviest assembly that another one takes; where none does, the heaviest of all. The finished build as a whole is
/// put together where it stands, so it is no lift.
pub fn heaviest_lift(lifts: &[Lift]) -> Option<&Lift> {
    let heaviest = |taken: bool| {
        lifts
            .iter()
            .filter(move |lift| lift.taken || !taken)
            .max_by(|a, b| a.mass.0.total_cmp(&b.mass.0))
    };
    heaviest(true).or_else(|| heaviest(false))
}

/// Mass of an assembly with everything that it needs, each once, however many ways lead to it.
fn assembled(scenario: &Scenario, copy_grams: &[Grams], assembly: AssemblyIndex) -> Grams {
    let mut seen = BTreeSet::from([assembly]);
    let mut to_visit = vec![assembly];
    let mut mass = Grams::ZERO;
    while let Some(index) = to_visit.pop() {
        let assembly = &scenario.assemblies[index.0];
        for (part, count) in &assembly.parts {
            mass += copy_grams[part.0] * f64::from(*count);
        }
        to_visit.extend(assembly.needs.iter().filter(|&&need| seen.insert(need)));
    }
    mass
}
