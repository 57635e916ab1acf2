//! How far off estimates are, and by what they are corrected.
//!
//! Knows: measurements and what they teach. Must not know: plans.
//! Promises: one line where nothing is measured.

use crate::estimate::{Calibration, Correction, EIGHTY, uncorrected};
use crate::scenario::{Doubtful, MachineIndex, Scenario, SettingsIndex};

use super::Look;
use super::grid::{Fit, Grid, Text, Tone, heading, paragraph};

/// A measurement that is so many times what is estimated, or so small a part of it, is most probably a slip: common practice, no
/// source.
const SLIP: f64 = 10.0;

/// Measurements that are far from what is estimated.
pub fn doubtful(scenario: &Scenario) -> Vec<Doubtful> {
    let far = |real: f64, guess: f64| real > guess * SLIP || real * SLIP < guess;
    let mut doubtful = Vec::new();
    for (measurement, one) in scenario.measured.iter().enumerate() {
        let (grams, minutes) = uncorrected(scenario, one);
        let sides = [
            (true, one.grams.map(|grams| grams.0), grams.0, "g"),
            (false, one.minutes, minutes, "min"),
        ];
        for (is_grams, real, guess, unit) in sides {
            if let Some(real) = real.filter(|&real| far(real, guess)) {
                doubtful.push(Doubtful {
                    measurement,
                    is_grams,
                    measured: format!("{real} {unit}"),
                    estimated: format!("{guess:.1} {unit}"),
                });
            }
        }
    }
    doubtful
}

/// What measurements say of each machine and setting.
///
/// `logged`: how many of the measurements are the log's.
pub fn estimates(
    scenario: &Scenario,
    calibration: &Calibration,
    logged: usize,
    look: &Look,
) -> String {
    let first = (MachineIndex(0), SettingsIndex(0));
    if scenario.measured.is_empty() {
        let note = format!(
            "Nothing is measured yet: four estimates in five are taken to be off by {} in grams and {} in minutes.",
            range(calibration.grams(first.0, first.1)),
            range(calibration.minutes(first.0, first.1)),
        );
        return format!("\n{}", paragraph(look, 0, note));
    }
    let mut grid = Grid::new([Fit::Upto(16), Fit::Upto(12), Fit::Upto(28), Fit::Upto(28)]);
    grid.head(["Machine", "Setting", "Grams", "Minutes"]);
    for (machine, m) in scenario.machines.iter().enumerate() {
        for (settings, s) in scenario.settings.iter().enumerate() {
            let (at, with) = (MachineIndex(machine), SettingsIndex(settings));
            let [weighed, timed] = calibration.counts(at, with);
            grid.row([
                Text::from(m.id.as_str()).tone(Tone::Strong),
                s.id.as_str().into(),
                cell(calibration.grams(at, with), weighed).into(),
                cell(calibration.minutes(at, with), timed).into(),
            ]);
        }
    }
    let mut contradicted = false;
    for m in 0..scenario.machines.len() {
        for s in 0..scenario.settings.len() {
            let (at, with) = (MachineIndex(m), SettingsIndex(s));
            contradicted |= calibration.grams(at, with).contradicted;
            contradicted |= calibration.minutes(at, with).contradicted;
        }
    }
    let note = "The estimate times the factor; four in five are then off by what stands behind it. In brackets, how often it \
                was measured there: where it was not, other settings and machines tell a little.";
    let mut note = note.to_owned();
    if logged > 0 {
        note.push_str(&format!(" {logged} of them from the log."));
    }
    if contradicted {
        note.push_str(
            " !: measurements contradict the estimate there, so the range is as wide as they are: look for a slip among them, or for \
             what is printed otherwise than the scenario says.",
        );
    }
    heading(look, "What measurements say of the estimates")
        + &grid.render(look, 0)
        + &paragraph(look, 0, Text::from(note).tone(Tone::Quiet))
}

/// `× 1.05, −8 to +9 % (3)`.
fn cell(correction: Correction, count: usize) -> String {
    format!(
        "× {:.3}, {} ({count}){}",
        correction.factor,
        range(correction),
        if correction.contradicted { " !" } else { "" }
    )
}

/// `−12 to +14 %`.
fn range(correction: Correction) -> String {
    let off = |spreads: f64| 100.0 * ((spreads * correction.spread).exp() - 1.0);
    format!("−{:.0} to +{:.0} %", -off(-EIGHTY), off(EIGHTY))
}
