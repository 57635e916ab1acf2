//! Rules about the parts.
//!
//! Knows: parts, and the machines that may make them. Must not know: routes: whether a part fits anywhere is not decided here.
//! Promises: a part that passes is countable, sane in size, and of a material that some machine prints.

use super::{Facts, is_alike};
use crate::scenario::collector::Collector;
use crate::scenario::fields::{MOST_COPIES, SIZE};
use crate::scenario::kinds::Spares;
use crate::scenario::settle::{density, named_or_only, size};

/// A weighed part may exceed its filled box by so much: weighing, and filament that is thicker than its norm.
const MASS_ALLOWANCE: f64 = 1.1;

/// A model's box times the scale is as sane as a box written at print scale must be.
pub(super) fn scaled_sizes_are_sane(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(scale) = facts.raw.build.scale.as_ref() else {
        return;
    };
    for part in &facts.raw.parts {
        let Some(model) = part.model.as_ref() else {
            continue;
        };
        let sides = model.value.map(|side| side * scale.value);
        let limit = &SIZE.kind.each;
        if sides
            .iter()
            .any(|side| !(limit.least..=limit.most).contains(side))
        {
            collector.error(
                model.spot,
                &format!("{}.model", part.path),
                format!(
                    "times the scale of {} must be {} to {} mm on each side",
                    scale.value, limit.least, limit.most
                ),
                &format!("{} × {} × {} mm", sides[0], sides[1], sides[2]),
                "see whether `model` is in mm, and `build.scale` right",
            );
        }
    }
}

/// No more copies are tried than are wanted.
pub(super) fn trials_are_among_the_copies(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        if let (Some(trial), Some(quantity)) = (part.trial.as_ref(), part.quantity.as_ref())
            && trial.value > quantity.value
        {
            collector.error(
                trial.spot,
                &format!("{}.trial", part.path),
                format!("must be at most the quantity, {}", quantity.value),
                &trial.value.to_string(),
                format!("write `trial: {}` or less", quantity.value),
            );
        }
    }
}

/// Variants are several, of different names, no more than copies, and the trial themselves.
pub(super) fn variants_are_to_choose_from(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        let variants = &part.variants;
        let Some(first) = variants.first() else {
            continue;
        };
        let field = format!("{}.variants", part.path);
        if variants.len() == 1 {
            collector.error(
                first.spot,
                &field,
                "is only one; there is nothing to choose from",
                "",
                "write a second variant, or `trial: 1` to try one copy",
            );
        }
        if let Some(quantity) = part.quantity.as_ref()
            && variants.len() as u64 > u64::from(quantity.value)
        {
            collector.error(
                quantity.spot,
                &field,
                format!(
                    "are {}, each a copy of its own; the quantity is {}",
                    variants.len(),
                    quantity.value
                ),
                &quantity.value.to_string(),
                format!(
                    "write at most {} variants, or a larger quantity",
                    quantity.value
                ),
            );
        }
        if let Some(trial) = part.trial.as_ref()
            && trial.value > 0
        {
            collector.error(
                trial.spot,
                &format!("{}.trial", part.path),
                "stands beside `variants`, which are printed first themselves",
                &trial.value.to_string(),
                "leave out `trial`, or `variants`",
            );
        }
        for (at, variant) in variants.iter().enumerate() {
            let Some(name) = variant.name.as_ref() else {
                continue;
            };
            let before = variants[..at].iter().filter_map(|one| one.name.as_ref());
            if before.into_iter().any(|one| one.value == name.value) {
                collector.error(
                    name.spot,
                    &format!("{}.name", variant.path),
                    "is the name of another variant of this part",
                    &name.value,
                    "give each variant a name of its own",
                );
            }
        }
    }
}

/// All copies together are few enough to plan.
pub(super) fn copies_are_countable(facts: &Facts<'_>, collector: &mut Collector) {
    let copies = |part: &crate::scenario::raw::RawPart| {
        let spares = part.spares.value().and_then(Spares::count);
        u64::from(part.quantity.value().unwrap_or(0)) + u64::from(spares.unwrap_or(0))
    };
    let all: u64 = facts.raw.parts.iter().map(copies).sum();
    let most = facts.raw.parts.iter().max_by_key(|part| copies(part));
    if let Some(part) = most
        && all > MOST_COPIES
    {
        collector.error(
            part.quantity
                .as_ref()
                .map_or(part.spot, |quantity| quantity.spot),
            &format!("{}.quantity", part.path),
            format!(
                "makes {all} copies of all parts together; at most {MOST_COPIES} can be planned"
            ),
            &copies(part).to_string(),
            "see whether the quantity is right, or split the build into several scenarios",
        );
    }
}

/// For every part there is a machine that may make it and prints its material.
pub(super) fn some_machine_prints_the_material(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        let filament = named_or_only(&part.filament, &facts.names.filaments);
        // A found name's position is that of a filament.
        let filament = filament.map(|at| &facts.raw.filaments[at]);
        let Some(material) = filament.and_then(|filament| filament.material.as_ref()) else {
            continue;
        };
        let machines = facts.raw.machines.iter().enumerate();
        let allowed: Vec<_> = machines
            .filter(|(at, machine)| facts.may_make(*at, machine, part))
            .map(|(_, machine)| machine)
            .collect();
        // A machine whose materials could not be read may print anything, and an unknown one in `only` as well.
        let unknown = part.only.as_ref().into_iter().flat_map(|only| &only.value);
        let unsure = unknown
            .into_iter()
            .any(|name| facts.names.machines.find(&name.value).is_none());
        let prints = allowed
            .iter()
            .any(|machine| match machine.materials.as_ref() {
                Some(materials) => materials.value.contains(&material.value),
                None => true,
            });
        if prints || unsure || facts.raw.machines.is_empty() {
            continue;
        }
        let paths: Vec<&str> = allowed.iter().take(4).map(|m| m.path.as_str()).collect();
        if paths.is_empty() {
            // Only `belt: never` can leave none of the machines that there are.
            let rule = match part.only.is_absent() {
                true => "is never, and there is no machine but belts",
                false => "is never, and `only` names no machine but belts",
            };
            collector.error(
                part.belt.as_ref().map_or(part.spot, |belt| belt.spot),
                &format!("{}.belt", part.path),
                rule,
                "never",
                "write `belt: allowed`, or name a bed machine in `only`",
            );
            continue;
        }
        let printed = allowed
            .iter()
            .filter_map(|machine| machine.materials.as_ref());
        let mut printed = printed.flat_map(|materials| materials.value.iter().map(String::as_str));
        let fix = match printed.find(|known| is_alike(known, &material.value)) {
            Some(known) => {
                format!("write `{known}` for the filament's `material`, as for the machines")
            }
            None => format!(
                "add {} to the `materials` of {}, or take another filament",
                material.value,
                paths.join(" or ")
            ),
        };
        collector.error(
            part.filament
                .as_ref()
                .map_or(part.spot, |filament| filament.spot),
            &format!("{}.filament", part.path),
            format!("no machine that may make it prints {}", material.value),
            filament
                .and_then(|filament| filament.id.as_ref())
                .map_or("", |id| id.value.as_str()),
            fix,
        );
    }
}

/// A split that is asked for leaves lengths that its joint allows, or it does nothing.
pub(super) fn splits_can_leave_lengths(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(scale) = facts.raw.build.scale.as_ref() else {
        return;
    };
    for part in &facts.raw.parts {
        let split = part.split.as_ref();
        let Some((split, sides)) = split.zip(size(part, scale.value)) else {
            continue;
        };
        let joint = named_or_only(&split.joint, &facts.names.joints);
        let shortest = joint.and_then(|at| facts.raw.joints[at].shortest.as_ref());
        let (Some(shortest), Some(into)) = (shortest, split.into.as_ref()) else {
            continue;
        };
        let longest = sides.into_iter().fold(0.0, f64::max);
        let least = (*into.value.start()).max(2);
        let length = longest / f64::from(least);
        if length < shortest.value {
            let spot = split.joint.as_ref().map_or(into.spot, |joint| joint.spot);
            collector.warn(
                spot,
                &format!("{}.split", part.path),
                format!(
                    "can leave no length that the joint allows: in {least} each is {length:.0} mm, and `shortest` is {} mm",
                    shortest.value
                ),
                &format!("{longest:.0} mm in all"),
                format!("give the joint `shortest: {}` or less, or write `split: never`", length.floor()),
            );
        }
    }
}

/// Minutes and programs are measured on machines that may make the part.
pub(super) fn measured_machines_are_allowed(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        let minutes = part.minutes.iter().map(|(name, _)| ("minutes", name));
        let gcode = part.gcode.iter().map(|(name, _)| ("gcode", name));
        for (field, name) in minutes.chain(gcode) {
            let Some(at) = facts.names.machines.find(&name.value) else {
                continue;
            };
            if !facts.may_make(at, &facts.raw.machines[at], part) {
                collector.warn(
                    name.spot,
                    &format!("{}.{field}.{}", part.path, name.value),
                    "is measured on a machine that may not make the part",
                    &name.value,
                    "see `only` and `belt` of the part, or leave it out",
                );
            }
        }
    }
}

/// A part weighs no more than its box would, filled.
pub(super) fn measured_mass_is_possible(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(scale) = facts.raw.build.scale.as_ref() else {
        return;
    };
    for part in &facts.raw.parts {
        let filament = named_or_only(&part.filament, &facts.names.filaments);
        let density = filament.and_then(|at| density(&facts.raw.filaments[at]));
        let (Some(grams), Some([x, y, z]), Some(density)) =
            (part.grams.as_ref(), size(part, scale.value), density)
        else {
            continue;
        };
        // mm³ × g/cm³ / 1000 = g.
        let filled = x * y * z * density / 1000.0;
        if grams.value > filled * MASS_ALLOWANCE {
            collector.warn(
                grams.spot,
                &format!("{}.grams", part.path),
                format!("is more than its box weighs when filled, {filled:.1} g"),
                &format!("{} g", grams.value),
                "see whether `grams` is that of one copy, and whether the size is in mm",
            );
        }
    }
}

/// A measurement has grams or minutes.
pub(super) fn measurements_measure_something(facts: &Facts<'_>, collector: &mut Collector) {
    for one in &facts.raw.measured {
        if one.grams.is_absent() && one.minutes.is_absent() {
            collector.error(
                one.spot,
                &one.path,
                "measures nothing",
                "",
                "write `grams: 195` (all pieces together), `minutes: 340` (without warm-up), or both",
            );
        }
    }
}

/// A file that is finished only in many years is a slip of the pen.
pub(super) fn ready_dates_are_near(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        facts.refuse_remote(&part.ready, &format!("{}.ready", part.path), collector);
    }
}
