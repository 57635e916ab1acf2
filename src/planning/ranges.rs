//! Between which masses the filament that a plan needs will stay.
//!
//! Knows: routes, finished runs, how sure estimates are. Must not know: spools.
//! Promises: no range is narrower than it would be if all pieces were off in the same direction.

use std::collections::BTreeSet;

use crate::estimate::{Calibration, EIGHTY, grams_spread};
use crate::plan::{self, Order, Run};
use crate::units::Grams;

use super::finish::Ground;

/// Gives every order its range, if something was measured.
///
/// The share by which an estimate is off is lognormal with the spread of its machine and setting; four in five are within
/// 1.2816 spreads. The pieces of a machine share most of what they are off by, so sums are taken as if they shared all.
///
/// What comes back is a caution, where measurements contradict the estimates that the plan rests on.
pub fn give(ground: &Ground, runs: &[Run], orders: &mut [Order]) -> Option<String> {
    let scenario = ground.scenario;
    if scenario.measured.is_empty() {
        return None;
    }
    let calibration = Calibration::new(scenario);
    for order in orders {
        let (mut low, mut high) = (Grams::ZERO, Grams::ZERO);
        for run in runs.iter().filter(|run| run.filament == order.filament) {
            let purge = plan::purged(scenario, run);
            low += purge;
            high += purge;
            for piece in &run.pieces {
                let forms = &ground.routes[piece.part.0].forms;
                let ways = forms.iter().filter(|form| form.lengths == piece.of);
                let way = ways
                    .flat_map(|form| &form.ways)
                    .find(|way| way.machine == run.machine && way.size == piece.size);
                let grams = way.map_or(Grams::ZERO, |way| way.grams);
                let spread = grams_spread(scenario, &calibration, piece.part, run.machine);
                low += grams * (-EIGHTY * spread).exp();
                high += grams * (EIGHTY * spread).exp();
            }
        }
        order.range = Some([low, high]);
    }
    let places: BTreeSet<_> = runs.iter().map(|run| (run.machine, run.settings)).collect();
    let contradicted = places.into_iter().filter(|&(machine, settings)| {
        calibration.grams(machine, settings).contradicted
            || calibration.minutes(machine, settings).contradicted
    });
    let names: Vec<String> = contradicted
        .map(|(machine, settings)| {
            let (machine, settings) = (
                &scenario.machines[machine.0],
                &scenario.settings[settings.0],
            );
            format!("{} with {}", machine.id, settings.id)
        })
        .collect();
    (!names.is_empty()).then(|| {
        format!(
            "Measurements: what was weighed or timed contradicts the estimates ({}). Grams and minutes may be far off there; `check` shows by how \
             much. Look for a slip among the measurements, or for what is printed otherwise than the scenario says.",
            names.join(", ")
        )
    })
}
