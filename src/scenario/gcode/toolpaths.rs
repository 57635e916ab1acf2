//! Measures the programs that parts name, once each.
//!
//! Knows: which part names which file on which machine. Must not know: how a program is read.
//! Promises: a file that cannot be measured is complained of where it is named, with the line in it.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::super::collector::Collector;
use super::super::complaint::Complaint;
use super::super::model::{Scenario, Toolpath};
use super::super::raw::RawScenario;
use super::super::settle::AllNames;
use super::{Measured, measure};
use crate::toolpath::Kinematics;
use crate::units::Grams;

/// A copy may weigh more than its filled box by so much: brim, supports, a first line beside it.
const MASS_ALLOWANCE: f64 = 1.5;

/// Fills in what the named programs come to; paths start from the folder `base`.
pub fn measure_all(
    raw: &RawScenario,
    base: &Path,
    scenario: &mut Scenario,
    collector: &mut Collector,
) {
    let names = AllNames::new(raw);
    let mut known: HashMap<(PathBuf, u64), Result<Measured, Box<Complaint>>> = HashMap::new();
    for (part, written) in scenario.parts.iter_mut().zip(&raw.parts) {
        let filament = &scenario.filaments[part.filament.0]; // an index points at something
        for (name, file) in &written.gcode {
            let Some(at) = names.machines.find(&name.value) else {
                continue; // complained of already
            };
            let Some(acceleration) = raw.machines[at].acceleration.value() else {
                continue; // complained of already
            };
            let path = base.join(file.value.trim());
            let kinematics = Kinematics {
                acceleration,
                ..Kinematics::USUAL
            };
            let measured = known
                .entry((path.clone(), acceleration.to_bits()))
                .or_insert_with(|| measure(&path, kinematics));
            let field = format!("{}.gcode.{}", written.path, name.value);
            let figures = match measured {
                Ok(measured) => measured.figures,
                Err(complaint) => {
                    let rule = match &complaint.place {
                        Some(place) => {
                            format!("line {} of the program: {}", place.line, complaint.rule)
                        }
                        None => complaint.rule.clone(),
                    };
                    let found = match complaint.found.as_str() {
                        "" => file.value.clone(),
                        found => format!("{found} in {}", file.value),
                    };
                    collector.error(file.spot, &field, rule, &found, complaint.fix.clone());
                    continue;
                }
            };
            let grams = figures.volume(filament.diameter) * filament.density;
            let minutes = figures.time.value() / 60.0;
            if grams.value() <= 0.0 || minutes <= 0.0 {
                let fix = "name the program that prints one copy of the part";
                collector.error(
                    file.spot,
                    &field,
                    "the program lays nothing",
                    &file.value,
                    fix,
                );
                continue;
            }
            let [x, y, z] = part.size.map(|side| side.value());
            let filled = Grams(x * y * z * filament.density.value() / 1000.0);
            if grams > filled * MASS_ALLOWANCE {
                collector.warn(
                    file.spot,
                    &field,
                    format!(
                        "lays much more than its box weighs when filled, {:.1} g",
                        filled.value()
                    ),
                    &format!("{:.1} g", grams.value()),
                    "see whether the program is that of one copy, and whether the size is in mm",
                );
            }
            part.toolpaths[at] = Some(Toolpath { grams, minutes }); // as long as the machines
        }
    }
}
