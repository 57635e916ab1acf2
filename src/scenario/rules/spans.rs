//! Rules about what spans, and what may be laid into it.
//!
//! Knows: parts that span, filaments, hardware. Must not know: how far anything sags.
//! Promises: for a span that passes there is all that its sag is reckoned from.

use super::Facts;
use crate::scenario::collector::Collector;
use crate::scenario::settle::{named_or_only, size};
use crate::scenario::stiffness::{modulus, rod_modulus};

/// Two lengths that differ by less are the same, mm.
const ALIKE: f64 = 1e-6;

/// A part spans no more than it is long, and sags across that.
pub(super) fn spans_are_within_their_parts(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(scale) = facts.raw.build.scale.value() else {
        return;
    };
    for part in &facts.raw.parts {
        let (Some(span), Some(sides)) = (&part.span, size(part, scale)) else {
            continue;
        };
        let longest = sides.into_iter().fold(0.0, f64::max);
        if let Some(length) = span.length.as_ref()
            && length.value > longest + ALIKE
        {
            collector.error(
                length.spot,
                &format!("{}.span.mm", part.path),
                format!("is more than the part's longest side, {longest} mm"),
                &format!("{} mm", length.value),
                "write the span at print scale, or leave it out for the longest side",
            );
        }
        let along = sides.iter().position(|side| *side == longest);
        if let Some(down) = span.down.as_ref()
            && Some(down.value.index()) == along
        {
            collector.error(
                down.spot,
                &format!("{}.span.down", part.path),
                "is the axis along the span; a beam sags across it",
                "",
                "write one of the other two axes, or leave it out",
            );
        }
    }
}

/// The sag of a part needs the modulus of what it is printed with.
pub(super) fn what_spans_has_a_modulus(facts: &Facts<'_>, collector: &mut Collector) {
    for part in facts.raw.parts.iter().filter(|part| part.span.is_some()) {
        let filament = named_or_only(&part.filament, &facts.names.filaments);
        // A found name's position is that of a filament.
        let Some(filament) = filament.map(|at| &facts.raw.filaments[at]) else {
            continue;
        };
        let Some(material) = filament.material.as_ref() else {
            continue;
        };
        if modulus(filament).is_none() && filament.modulus.is_absent() {
            collector.error(
                filament.spot,
                &format!("{}.modulus", filament.path),
                format!(
                    "is missing; it is not known for {}, and {} spans",
                    material.value, part.path
                ),
                "",
                "write the modulus of elasticity of prints with it, in N/mm², such as `modulus: 1500`",
            );
        }
    }
}

/// A section stiffens by its material, and a material by its section.
pub(super) fn rods_have_section_and_material(facts: &Facts<'_>, collector: &mut Collector) {
    for hardware in facts
        .raw
        .joints
        .iter()
        .filter_map(|joint| joint.hardware.as_ref())
    {
        let modulus = rod_modulus(hardware);
        let said = !hardware.material.is_absent() || !hardware.modulus.is_absent();
        if let Some(section) = hardware.section.as_ref()
            && !said
        {
            collector.error(
                section.spot,
                &format!("{}.section", hardware.path),
                "stiffens nothing without a material",
                "",
                "write `material: steel` (or aluminium, carbon, beech), or `modulus` in N/mm²",
            );
        }
        if hardware.section.is_absent() && modulus.is_some() {
            collector.warn(
                hardware.spot,
                &hardware.path,
                "has a material and no section, so it stiffens nothing",
                "",
                "write `section: M8`, `rod 8`, `tube 12 x 1` or `square 15 x 1`",
            );
        }
    }
}
