//! What is lifted: mass and centre of mass of every assembly, how long it is at least, what one person should lift.
//!
//! Knows: which parts and assemblies go into which assembly and where, what a copy weighs. Must not know: dates, machines,
//! how it is cautioned.
//! Promises: every assembly has a mass; a centre only where every place is known that it depends on; what is needed by
//! several ways is counted once.

mod equation;

use std::collections::BTreeSet;

use crate::scenario::{Assembly, AssemblyIndex, PartIndex, Scenario};
use crate::units::{Grams, Millimetres};

pub use equation::recommended_limit;

/// An assembly as it is lifted.
#[derive(Clone, Debug, PartialEq)]
pub struct Lift {
    /// Which.
    pub assembly: AssemblyIndex,
    /// Printed pieces, hardware and glue, of everything that it needs as well.
    pub mass: Grams,
    /// Where its centre of mass is.
    pub centre: Centre,
    /// It is no shorter than this: the longest side of anything in it, or how far the centres of its parts are apart.
    pub at_least: Millimetres,
    /// Whether another assembly takes it, so that it is lifted into place.
    pub taken: bool,
    /// What one person should lift at most in the way that the assembly describes; `None`: it describes none.
    pub limit: Option<Grams>,
}

/// A centre of mass.
#[derive(Clone, Debug, PartialEq)]
pub enum Centre {
    /// In the assembly's own frame.
    At([Millimetres; 3]),
    /// Not known; these lack places: parts, needed assemblies, or needed ones whose own centre is not known.
    NotKnown(Vec<String>),
}

impl Lift {
    /// Whether the assembly gives any place.
    pub fn is_placed(&self, scenario: &Scenario) -> bool {
        let places = &scenario.assemblies[self.assembly.0].places;
        !(places.parts.is_empty() && places.needs.is_empty())
    }
}

/// Every assembly as it is lifted, in the scenario's order; `copy_grams`: mass of one finished copy of each part.
pub fn lifts(scenario: &Scenario, copy_grams: &[Grams]) -> Vec<Lift> {
    let count = scenario.assemblies.len();
    let needs = scenario.assemblies.iter().flat_map(|a| &a.needs);
    let taken: BTreeSet<AssemblyIndex> = needs.copied().collect();
    let mut centres: Vec<Option<Centre>> = vec![None; count];
    let masses: Vec<Grams> = (0..count)
        .map(|at| assembled(scenario, copy_grams, AssemblyIndex(at)))
        .collect();
    let ground = Ground {
        scenario,
        copy_grams,
        masses: &masses,
    };
    for assembly in in_order(scenario) {
        centres[assembly.0] = Some(ground.centre(assembly, &centres));
    }
    (0..count)
        .map(AssemblyIndex)
        .map(|assembly| Lift {
            assembly,
            mass: masses[assembly.0],
            // In order every assembly comes once, since no ring of needs passes the rules.
            centre: centres[assembly.0]
                .take()
                .unwrap_or_else(|| Centre::NotKnown(Vec::new())),
            at_least: at_least(scenario, assembly),
            taken: taken.contains(&assembly),
            limit: scenario.assemblies[assembly.0]
                .lift
                .as_ref()
                .map(recommended_limit),
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

/// The assembly and everything that it needs, each once, however many ways lead to it.
fn within(scenario: &Scenario, assembly: AssemblyIndex) -> BTreeSet<AssemblyIndex> {
    let mut seen = BTreeSet::from([assembly]);
    let mut to_visit = vec![assembly];
    while let Some(index) = to_visit.pop() {
        let needs = &scenario.assemblies[index.0].needs;
        to_visit.extend(needs.iter().filter(|&&need| seen.insert(need)));
    }
    seen
}

fn assembled(scenario: &Scenario, copy_grams: &[Grams], assembly: AssemblyIndex) -> Grams {
    let parts = within(scenario, assembly)
        .into_iter()
        .flat_map(|index| &scenario.assemblies[index.0].parts);
    parts
        .map(|(part, count)| copy_grams[part.0] * f64::from(*count))
        .sum()
}

/// All assemblies, each after those that it needs.
fn in_order(scenario: &Scenario) -> Vec<AssemblyIndex> {
    let mut order = Vec::new();
    let mut begun = vec![false; scenario.assemblies.len()];
    for first in 0..scenario.assemblies.len() {
        // A stack of its own, so that a long chain of needs cannot fill the program's.
        let mut stack = vec![(AssemblyIndex(first), false)];
        while let Some((assembly, needs_done)) = stack.pop() {
            if needs_done {
                order.push(assembly);
            } else if !std::mem::replace(&mut begun[assembly.0], true) {
                stack.push((assembly, true));
                let needs = &scenario.assemblies[assembly.0].needs;
                stack.extend(needs.iter().map(|&need| (need, false)));
            }
        }
    }
    order
}

struct Ground<'a> {
    scenario: &'a Scenario,
    copy_grams: &'a [Grams],
    masses: &'a [Grams],
}

impl Ground<'_> {
    /// The centre of an assembly, from the places of its parts (each at the centre of its box, taken as even inside) and
    /// the centres of what it needs.
    fn centre(&self, index: AssemblyIndex, centres: &[Option<Centre>]) -> Centre {
        let assembly = &self.scenario.assemblies[index.0];
        let mut missing = Vec::new();
        let mut sum = Moments::default();
        for &(part, count) in &assembly.parts {
            let copy = self.copy_grams[part.0];
            match places_of(assembly, part) {
                Some(points) => points.iter().for_each(|&point| sum.add(copy, point)),
                None if copy.0 * f64::from(count) > 0.0 => {
                    missing.push(self.scenario.parts[part.0].id.clone());
                }
                None => {}
            }
        }
        for &need in &assembly.needs {
            let mass = self.masses[need.0];
            let origin = assembly.places.needs.iter().find(|(at, _)| *at == need);
            match (origin, &centres[need.0]) {
                (Some((_, origin)), Some(Centre::At(centre))) => {
                    let moved = [0, 1, 2].map(|axis| origin[axis] + centre[axis]);
                    sum.add(mass, moved);
                }
                _ if mass.0 > 0.0 => {
                    missing.push(self.scenario.assemblies[need.0].id.clone());
                }
                _ => {}
            }
        }
        // Where something is needed by two ways, its places may disagree; then nothing is said.
        let once = (sum.mass - self.masses[index.0].0).abs() <= 1e-6 * (1.0 + sum.mass);
        match sum.centre() {
            Some(centre) if missing.is_empty() && once => Centre::At(centre),
            _ => Centre::NotKnown(missing),
        }
    }
}

/// Masses by their places.
#[derive(Default)]
struct Moments {
    mass: f64,
    by_axis: [f64; 3],
}

impl Moments {
    fn add(&mut self, mass: Grams, at: [Millimetres; 3]) {
        self.mass += mass.0;
        for (moment, along) in self.by_axis.iter_mut().zip(at) {
            *moment += mass.0 * along.0;
        }
    }

    /// Σ m·x / Σ m along each axis; `None` without mass.
    fn centre(&self) -> Option<[Millimetres; 3]> {
        (self.mass > 0.0).then(|| self.by_axis.map(|moment| Millimetres(moment / self.mass)))
    }
}

fn places_of(assembly: &Assembly, part: PartIndex) -> Option<&[[Millimetres; 3]]> {
    let mut places = assembly.places.parts.iter();
    places
        .find(|(at, _)| *at == part)
        .map(|(_, points)| points.as_slice())
}

/// How long an assembly is at least. Boxes may be turned in it, so only what holds at any turn counts.
fn at_least(scenario: &Scenario, assembly: AssemblyIndex) -> Millimetres {
    let mut longest: f64 = 0.0;
    for index in within(scenario, assembly) {
        let assembly = &scenario.assemblies[index.0];
        for (part, _) in &assembly.parts {
            let sides = scenario.parts[part.0].size.map(Millimetres::value);
            longest = sides.into_iter().fold(longest, f64::max);
        }
        let points = || assembly.places.parts.iter().flat_map(|(_, points)| points);
        for axis in 0..3 {
            let along = points().map(|point| point[axis].0);
            let (least, most) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
                (a.min(x), b.max(x))
            });
            longest = longest.max(most - least); // of no points at all that is less than nothing
        }
    }
    Millimetres(longest)
}

#[cfg(test)]
mod tests;
