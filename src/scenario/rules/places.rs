//! Rules about where things are in an assembly.
//!
//! Knows: what an assembly takes and needs, and which places it gives. Must not know: masses, centres.
//! Promises: a place that passes belongs to something in the assembly, and each copy of a part has one.

use super::Facts;
use crate::scenario::collector::{At, Collector};
use crate::scenario::names::nearest;
use crate::scenario::raw::RawAssembly;

/// Places are of what an assembly takes or needs: of a part one for each copy, of an assembly one.
pub(super) fn places_are_of_what_is_in_the_assembly(facts: &Facts<'_>, collector: &mut Collector) {
    for assembly in &facts.raw.assemblies {
        for (name, points) in &assembly.places {
            check(assembly, name, points, collector);
        }
    }
}

fn check(
    assembly: &RawAssembly,
    name: &At<String>,
    points: &At<Vec<[f64; 3]>>,
    collector: &mut Collector,
) {
    let field = format!("{}.places.{}", assembly.path, name.value);
    let taken = assembly
        .parts
        .iter()
        .find(|(part, _)| part.value == name.value);
    let needs = || {
        assembly
            .needs
            .as_ref()
            .into_iter()
            .flat_map(|needs| &needs.value)
    };
    let needed = needs().any(|need| need.value == name.value);
    let given = points.value.len();
    let wanted = match (taken, needed) {
        (Some(_), true) => {
            let rule =
                "is both a part and an assembly here, so it is not clear whose places these are";
            let fix = "give one of the two another name";
            collector.error(name.spot, &field, rule, &name.value, fix);
            return;
        }
        (Some((_, count)), false) => *count as usize,
        (None, true) => 1,
        (None, false) => {
            let parts = assembly.parts.iter().map(|(part, _)| part.value.as_str());
            let known = parts.chain(needs().map(|need| need.value.as_str()));
            let fix = match nearest(&name.value, known) {
                Some(nearest) => format!("did you mean `{nearest}`?"),
                None => "give places to what stands under `parts` and `needs` only".to_owned(),
            };
            let rule = "the assembly neither takes nor needs it";
            collector.error(name.spot, &field, rule, &name.value, fix);
            return;
        }
    };
    if given != wanted {
        let of = if taken.is_some() { "copies" } else { "of it" };
        collector.error(
            points.spot,
            &field,
            format!("has {given} places, and the assembly has {wanted} {of}"),
            &given.to_string(),
            "give each its point, `[[0, 0, 40], [0, 0, -40]]`, or leave the places out",
        );
    }
}
