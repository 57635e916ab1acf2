//! Rules about machines, filaments and settings.
//!
//! Knows: machines, filaments, settings. Must not know: assemblies, dates of the build.
//! Promises: what passes leaves room on every machine and a density to every filament.

use super::{Facts, is_alike};
use crate::scenario::collector::{At, Collector};
use crate::scenario::fields::DENSITIES;
use crate::scenario::raw::{RawMachine, RawPart, RawSettings, RawShape};
use crate::scenario::settle::named_or_only;

/// Narrowest and widest line, and highest layer, that a nozzle lays well, as shares of its diameter.
/// Common practice, no source.
const LINE_SHARES: [f64; 2] = [0.75, 2.0];
const LAYER_SHARE: f64 = 0.8;
/// So that 0.45 mm is not less than 0.75 × 0.6 mm by rounding error.
const ROUNDING: f64 = 1e-9;

/// Margins on both sides leave something of the bed, or of the belt's width.
pub(super) fn margins_leave_room(facts: &Facts<'_>, collector: &mut Collector) {
    for machine in &facts.raw.machines {
        let Some(margin) = machine.margin.as_ref() else {
            continue;
        };
        let (side, what) = match &machine.shape {
            Some(RawShape::Bed { bed, .. }) => (bed.value().map(|[x, y]| x.min(y)), "bed"),
            Some(RawShape::Belt { section, .. }) => (section.value().map(|[x, _]| x), "belt"),
            None => continue,
        };
        let Some(side) = side else { continue };
        if 2.0 * margin.value >= side {
            collector.error(
                margin.spot,
                &format!("{}.margin", machine.path),
                format!("leaves no room on a {what} of {side} mm"),
                &format!("{} mm on each side", margin.value),
                format!("write less than {}", side / 2.0),
            );
        }
    }
}

/// Spans out of use run forward and do not overlap.
pub(super) fn outages_run_forward_and_apart(facts: &Facts<'_>, collector: &mut Collector) {
    for machine in &facts.raw.machines {
        let mut spans = Vec::new();
        for outage in &machine.offline {
            let (Some(from), Some(to)) = (outage.from.as_ref(), outage.to.as_ref()) else {
                continue;
            };
            let (first, last) = (facts.moment(from.value), facts.moment(to.value));
            if first >= last {
                collector.error(
                    to.spot,
                    &format!("{}.to", outage.path),
                    "must be after `from`",
                    &to.value.format("%Y-%m-%d %H:%M").to_string(),
                    format!("write a time after {}", from.value.format("%Y-%m-%d %H:%M")),
                );
                continue;
            }
            spans.push((first, last, from, &outage.path));
        }
        spans.sort_by_key(|(first, ..)| *first);
        for pair in spans.windows(2) {
            let [(_, end, ..), (begin, _, from, path)] = pair else {
                continue;
            };
            if begin < end {
                collector.error(
                    from.spot,
                    &format!("{path}.from"),
                    "overlaps another span out of use",
                    &from.value.format("%Y-%m-%d %H:%M").to_string(),
                    "make one span of the two",
                );
            }
        }
    }
}

/// A machine can print what is in it, or its first run begins with a change.
pub(super) fn what_is_loaded_can_be_printed(facts: &Facts<'_>, collector: &mut Collector) {
    for machine in &facts.raw.machines {
        let (
            Some(At {
                value: Some(name),
                spot,
            }),
            Some(materials),
        ) = (machine.loaded.as_ref(), machine.materials.as_ref())
        else {
            continue;
        };
        let filament = facts.names.filaments.find(name);
        // A found name's position is that of a filament.
        let material = filament.and_then(|at| facts.raw.filaments[at].material.as_ref());
        if let Some(material) = material
            && !materials.value.contains(&material.value)
        {
            let words: Vec<&str> = materials.value.iter().map(String::as_str).collect();
            collector.warn(
                *spot,
                &format!("{}.loaded", machine.path),
                format!(
                    "is {}, and the machine prints only {}",
                    material.value,
                    words.join(", ")
                ),
                name,
                format!(
                    "add {} to `materials`, or write `loaded: none`; as it is, the first run changes the filament",
                    material.value
                ),
            );
        }
    }
}

/// A material without a usual density needs the user's.
pub(super) fn densities_are_known(facts: &Facts<'_>, collector: &mut Collector) {
    for filament in &facts.raw.filaments {
        let Some(material) = filament.material.as_ref() else {
            continue;
        };
        let usual = DENSITIES.iter().any(|(name, _)| *name == material.value);
        if !usual && filament.density.is_absent() {
            let known: Vec<&str> = DENSITIES.iter().map(|(name, _)| *name).collect();
            let alike = known.iter().find(|known| is_alike(known, &material.value));
            let fix = match alike {
                Some(alike) => format!("did you mean `material: {alike}`?"),
                None => String::from(
                    "write the density in g/cm³ from the filament's data sheet, such as `density: 1.24`",
                ),
            };
            collector.error(
                filament.spot,
                &format!("{}.density", filament.path),
                format!("is missing, and is known only for {}", known.join(", ")),
                &material.value,
                fix,
            );
        }
    }
}

/// A line has round edges as high as the layer, so it is at least as wide as high.
pub(super) fn lines_are_wider_than_high(facts: &Facts<'_>, collector: &mut Collector) {
    for settings in &facts.raw.settings {
        if let (Some(layer), Some(line)) = (settings.layer.as_ref(), settings.line.as_ref())
            && line.value < layer.value
        {
            collector.error(
                line.spot,
                &format!("{}.line", settings.path),
                format!("must be at least the layer height, {} mm", layer.value),
                &format!("{} mm", line.value),
                format!("write for example `line: {}`", rounded(layer.value * 2.0)),
            );
        }
    }
}

/// Line width and layer height suit the nozzle of every machine that may use them.
pub(super) fn lines_suit_the_nozzle(facts: &Facts<'_>, collector: &mut Collector) {
    for (settings_at, settings) in facts.raw.settings.iter().enumerate() {
        let users: Vec<&RawPart> = facts
            .raw
            .parts
            .iter()
            .filter(|part| {
                named_or_only(&part.settings, &facts.names.settings) == Some(settings_at)
            })
            .collect();
        for (at, machine) in facts.raw.machines.iter().enumerate() {
            if users.iter().any(|part| facts.may_make(at, machine, part)) {
                warn_of_line(settings, machine, collector);
                warn_of_layer(settings, machine, collector);
            }
        }
    }
}

fn warn_of_line(settings: &RawSettings, machine: &RawMachine, collector: &mut Collector) {
    let (Some(line), Some(nozzle)) = (settings.line.as_ref(), machine.nozzle.as_ref()) else {
        return;
    };
    let [least, most] = LINE_SHARES.map(|share| share * nozzle.value);
    if line.value < least - ROUNDING || line.value > most + ROUNDING {
        collector.warn(
            line.spot,
            &format!("{}.line", settings.path),
            format!(
                "does not suit the nozzle of {}, {} mm",
                machine.path, nozzle.value
            ),
            &format!("{} mm", line.value),
            format!(
                "a line of {} to {} mm is usual, or name other machines in the parts' `only`",
                rounded(least),
                rounded(most)
            ),
        );
    }
}

fn warn_of_layer(settings: &RawSettings, machine: &RawMachine, collector: &mut Collector) {
    let (Some(layer), Some(nozzle)) = (settings.layer.as_ref(), machine.nozzle.as_ref()) else {
        return;
    };
    let most = LAYER_SHARE * nozzle.value;
    if layer.value > most + ROUNDING {
        collector.warn(
            layer.spot,
            &format!("{}.layer", settings.path),
            format!(
                "is high for the nozzle of {}, {} mm",
                machine.path, nozzle.value
            ),
            &format!("{} mm", layer.value),
            format!(
                "a layer of at most {} mm is usual, or name other machines in the parts' `only`",
                rounded(most)
            ),
        );
    }
}

fn rounded(length: f64) -> f64 {
    (length * 1000.0).round() / 1000.0
}
