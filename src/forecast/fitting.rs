//! A scenario without the parts that cannot be made.
//!
//! Knows: how parts, assemblies and counts refer to each other. Must not know: why a part cannot be made.
//! Promises: all else stays as it is; every index still points at what it pointed at.

use crate::scenario::{PartIndex, Scenario};

/// The same scenario without some parts, which assemblies then do without.
pub(super) fn without(scenario: &Scenario, left_out: &[PartIndex]) -> Scenario {
    let mut fitting = scenario.clone();
    let mut position = vec![None; scenario.parts.len()];
    fitting.parts.clear();
    for (index, part) in scenario.parts.iter().enumerate() {
        if !left_out.contains(&PartIndex(index)) {
            position[index] = Some(PartIndex(fitting.parts.len()));
            fitting.parts.push(part.clone());
        }
    }
    for assembly in &mut fitting.assemblies {
        let parts = assembly.parts.iter();
        assembly.parts = parts
            .filter_map(|(part, count)| Some((position[part.0]?, *count)))
            .collect();
    }
    // What was measured of others still says how far estimates are off.
    fitting.measured.retain_mut(|one| {
        let kept = position[one.part.0];
        one.part = kept.unwrap_or(one.part);
        kept.is_some()
    });
    fitting
}
