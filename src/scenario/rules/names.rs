//! Rules about names: each borne once, none unknown.
//!
//! Knows: names as written and what bears them. Must not know: what the named things are.
//! Promises: a second bearer and an unknown name are told, each where it stands.

use std::collections::HashMap;

use super::Facts;
use crate::scenario::collector::{At, Collector};
use crate::scenario::raw::Got;

/// No two things of a section have the same name. (The keys of `settings` and `joints` cannot repeat anyway.)
pub(super) fn ids_are_unique(facts: &Facts<'_>, collector: &mut Collector) {
    let raw = facts.raw;
    unique(raw.machines.iter().map(|m| (&m.id, &m.path)), collector);
    unique(raw.filaments.iter().map(|f| (&f.id, &f.path)), collector);
    unique(raw.parts.iter().map(|p| (&p.id, &p.path)), collector);
    unique(raw.assemblies.iter().map(|a| (&a.id, &a.path)), collector);
}

fn unique<'r>(
    items: impl Iterator<Item = (&'r Got<String>, &'r String)>,
    collector: &mut Collector,
) {
    let mut first: HashMap<&str, &At<String>> = HashMap::new();
    for (id, path) in items {
        let Some(id) = id.as_ref() else { continue };
        match first.get(id.value.as_str()) {
            None => {
                first.insert(&id.value, id);
            }
            Some(before) => {
                let rule = format!(
                    "is a second one of this name; the first is {}",
                    collector.line_of(before.spot, id.spot)
                );
                let fix = format!("give it another name, such as `{}-2`", id.value);
                collector.error(id.spot, &format!("{path}.id"), rule, &id.value, fix);
            }
        }
    }
}

/// Every name that is referred to is borne by something.
pub(super) fn names_are_known(facts: &Facts<'_>, collector: &mut Collector) {
    let names = facts.names;
    for machine in &facts.raw.machines {
        if let Some(At {
            value: Some(name),
            spot,
        }) = machine.loaded.as_ref()
        {
            let name = At {
                value: name.clone(),
                spot: *spot,
            };
            let field = format!("{}.loaded", machine.path);
            names.filaments.refuse_unknown(&name, &field, collector);
        }
    }
    for part in &facts.raw.parts {
        let field = |name: &str| format!("{}.{name}", part.path);
        let joint = part.split.as_ref().and_then(|split| split.joint.as_ref());
        for (name, field, known) in [
            (part.filament.as_ref(), field("filament"), &names.filaments),
            (part.settings.as_ref(), field("settings"), &names.settings),
            (joint, field("split.joint"), &names.joints),
        ] {
            if let Some(name) = name {
                known.refuse_unknown(name, &field, collector);
            }
        }
        for (name, _) in &part.minutes {
            names
                .machines
                .refuse_unknown(name, &field("minutes"), collector);
        }
        for (name, _) in &part.gcode {
            names
                .machines
                .refuse_unknown(name, &field("gcode"), collector);
        }
        for name in part.only.as_ref().into_iter().flat_map(|only| &only.value) {
            names
                .machines
                .refuse_unknown(name, &field("only"), collector);
        }
    }
    for one in &facts.raw.measured {
        for (name, field, known) in [
            (&one.part, "part", &names.parts),
            (&one.machine, "machine", &names.machines),
        ] {
            if let Some(name) = name.as_ref() {
                known.refuse_unknown(name, &format!("{}.{field}", one.path), collector);
            }
        }
    }
    for assembly in &facts.raw.assemblies {
        for (name, _) in &assembly.parts {
            let field = format!("{}.parts", assembly.path);
            names.parts.refuse_unknown(name, &field, collector);
        }
        for name in assembly
            .needs
            .as_ref()
            .into_iter()
            .flat_map(|needs| &needs.value)
        {
            let field = format!("{}.needs", assembly.path);
            names.assemblies.refuse_unknown(name, &field, collector);
        }
    }
}

/// Where there are several filaments or settings, a part says which.
pub(super) fn a_part_says_which_of_several(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        for (name, field, known) in [
            (&part.filament, "filament", &facts.names.filaments),
            (&part.settings, "settings", &facts.names.settings),
        ] {
            if name.is_absent() && known.several() {
                collector.error(
                    part.spot,
                    &format!("{}.{field}", part.path),
                    format!("is missing, and there are several {}", known.plural()),
                    "",
                    format!("write `{field}:` and one of {}", known.listed()),
                );
            }
        }
    }
}
