//! What was weighed and timed, fitted again.
//!
//! Knows: measurements, boxes, the spreads that are expected. Must not know: how the estimate fits them.
//! Promises: without measurements every factor is 1.
//!
//! The least of Σ ρ((y − θ)/σ) + Σ (θ − φ)²/2τ² + Σ (φ − μ)²/2τ² + μ²/2τ² (ρ of Huber, k = 1.345; y = ln(measured /
//! estimated)), found the slow and obvious way: one unknown after the other is put where the sum is least, until none moves.
//! The sum is strictly convex, so that is the only such place.

use std::collections::BTreeMap;

use super::estimate::{layers, shell_and_infill};
use super::mesh;
use crate::scenario::{
    Axis, GRAMS_SPREADS, MINUTES_SPREADS, MachineIndex, Measurement, Scenario, SettingsIndex,
    Shape, Spreads,
};
use crate::units::CubicMillimetres;

type Place = (MachineIndex, SettingsIndex);

/// ln of the factor of each place, and of what holds where nothing is measured.
#[derive(Clone, Debug, Default)]
struct Least {
    places: BTreeMap<Place, f64>,
    machines: BTreeMap<MachineIndex, f64>,
    farm: f64,
}

/// Factors of grams and of minutes.
#[derive(Clone, Debug, Default)]
pub(super) struct Factors {
    grams: Least,
    minutes: Least,
}

impl Factors {
    pub fn new(scenario: &Scenario) -> Self {
        let at = |one: &Measurement| {
            let own = scenario.parts[one.part.0].settings;
            (one.machine, one.against.map_or(own, |then| then.settings))
        };
        let mut weighed: BTreeMap<Place, Vec<f64>> = BTreeMap::new();
        let mut timed: BTreeMap<Place, Vec<f64>> = BTreeMap::new();
        for one in &scenario.measured {
            let Some(grams) = one.grams else { continue };
            let part = &scenario.parts[one.part.0];
            let density = scenario.filaments[part.filament.0].density;
            let all = match one.against {
                Some(then) => then.grams.value(),
                None => (Lying::of(scenario, one).volume * density).value() * f64::from(one.pieces),
            };
            weighed
                .entry(at(one))
                .or_default()
                .push((grams.value() / all).ln());
        }
        let grams = least(&weighed, GRAMS_SPREADS);
        for one in &scenario.measured {
            let Some(minutes) = one.minutes else { continue };
            let factor = grams.at(at(one)).exp();
            let seconds = match one.against {
                Some(then) if then.typed => (then.minutes + then.layers) * 60.0,
                Some(then) => (then.minutes * factor + then.layers) * 60.0,
                None => Lying::of(scenario, one).seconds(scenario, one, factor),
            };
            timed
                .entry(at(one))
                .or_default()
                .push((minutes * 60.0 / seconds).ln());
        }
        let minutes = least(&timed, MINUTES_SPREADS);
        Self { grams, minutes }
    }

    pub fn grams(&self, machine: MachineIndex, settings: SettingsIndex) -> f64 {
        self.grams.at((machine, settings)).exp()
    }

    pub fn minutes(&self, machine: MachineIndex, settings: SettingsIndex) -> f64 {
        self.minutes.at((machine, settings)).exp()
    }
}

impl Least {
    fn at(&self, place: Place) -> f64 {
        let machine = || self.machines.get(&place.0).copied();
        let place = self.places.get(&place).copied();
        place.or_else(machine).unwrap_or(self.farm)
    }
}

/// A measured piece as it lay.
struct Lying {
    volume: CubicMillimetres,
    layers: f64,
}

impl Lying {
    /// As said, or of the allowed positions the one of least time; z before y before x.
    fn of(scenario: &Scenario, one: &Measurement) -> Self {
        let part = &scenario.parts[one.part.0];
        let settings = &scenario.settings[part.settings.0];
        let mut sides = part.size;
        let longest = (0..3).fold(0, |best, side| {
            if sides[side] > sides[best] {
                side
            } else {
                best
            }
        });
        sides[longest] = sides[longest] * (1.0 / f64::from(one.lengths));
        let lying = |up: Axis| {
            let (x, y, z) = (sides[0], sides[1], sides[2]);
            let size = match up {
                Axis::X => [y, z, x],
                Axis::Y => [x, z, y],
                Axis::Z => [x, y, z],
            };
            Self {
                volume: match &part.shape {
                    Shape::Box { solid } => {
                        shell_and_infill(size.map(|side| side.value()), *solid, settings)
                    }
                    Shape::Mesh(mesh) => mesh::mean(mesh, one.lengths, up, settings),
                },
                layers: layers(size[2], settings),
            }
        };
        let mut best: Option<(f64, Lying)> = None;
        for up in [Axis::Z, Axis::Y, Axis::X] {
            let wanted = match one.upright {
                Some(said) => said == up,
                None => part.lie.contains(&up),
            };
            if wanted {
                let found = lying(up);
                let seconds = found.seconds(scenario, one, 1.0);
                if best.as_ref().is_none_or(|(least, _)| seconds < *least) {
                    best = Some((seconds, found));
                }
            }
        }
        best.map_or_else(|| lying(Axis::Z), |(_, found)| found)
    }

    /// All pieces through the hot end, and the layers once.
    fn seconds(&self, scenario: &Scenario, one: &Measurement, grams_factor: f64) -> f64 {
        let part = &scenario.parts[one.part.0];
        let machine = &scenario.machines[one.machine.0];
        let density = scenario.filaments[part.filament.0].density;
        let volume = match part.grams {
            Some(copy) => (copy * (1.0 / f64::from(one.lengths))).volume(density),
            None => self.volume * grams_factor,
        };
        f64::from(one.pieces) * volume.time_at(machine.flow).value()
            + self.layers * machine.layer_time.value()
    }
}

/// The place where the sum is least.
fn least(measured: &BTreeMap<Place, Vec<f64>>, spreads: Spreads) -> Least {
    let mut least = Least::default();
    if measured.is_empty() {
        return least;
    }
    let sigma = noise(measured, spreads.noise);
    for &place in measured.keys() {
        least.places.insert(place, 0.0);
        least.machines.insert(place.0, 0.0);
    }
    let weight = |spread: f64| 1.0 / (spread * spread);
    for _ in 0..20_000 {
        let before = least.clone();
        for (&(machine, settings), logs) in measured {
            let above = least.machines[&machine]; // every place's machine is there
            let theta = one_place(logs, above, sigma, weight(spreads.place));
            least.places.insert((machine, settings), theta);
        }
        let farm = least.farm;
        for (machine, phi) in &mut least.machines {
            let own = least.places.iter().filter(|(place, _)| place.0 == *machine);
            let (mut sum, mut weights) = (farm * weight(spreads.machine), weight(spreads.machine));
            for (_, theta) in own {
                sum += theta * weight(spreads.place);
                weights += weight(spreads.place);
            }
            *phi = sum / weights;
        }
        let machines = least.machines.values();
        let sum: f64 = machines.map(|phi| phi * weight(spreads.machine)).sum();
        let count = least.machines.len() as f64;
        least.farm = sum / (count * weight(spreads.machine) + weight(spreads.farm));
        let still = |now: f64, then: f64| (now - then).abs() < 1e-15;
        let places = least.places.iter().zip(&before.places);
        if still(least.farm, before.farm) && places.into_iter().all(|(a, b)| still(*a.1, *b.1)) {
            break;
        }
    }
    least
}

/// Where one θ is best, all else held: the slope of its terms rises with it, so it is halved in until nothing is left.
fn one_place(logs: &[f64], above: f64, sigma: f64, weight: f64) -> f64 {
    let slope = |theta: f64| {
        let pulls = logs
            .iter()
            .map(|y| ((theta - y) / sigma).clamp(-1.345, 1.345) / sigma);
        pulls.sum::<f64>() + weight * (theta - above)
    };
    let (mut low, mut high) = (above, above);
    for y in logs {
        low = low.min(*y);
        high = high.max(*y);
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if slope(middle) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    0.5 * (low + high)
}

/// The spread of one measurement: what is usual counts as five pairs, every further measurement of a place as one, with the
/// median difference of its pairs over 0.9538725524 (that of normal numbers), at most three times what is usual.
fn noise(measured: &BTreeMap<Place, Vec<f64>>, usual: f64) -> f64 {
    let mut apart = Vec::new();
    let mut further = 0.0;
    for logs in measured.values() {
        for (at, one) in logs.iter().enumerate() {
            further += f64::from(u8::from(at > 0));
            apart.extend(logs[..at].iter().map(|other| (one - other).abs()));
        }
    }
    if apart.is_empty() {
        return usual;
    }
    apart.sort_by(f64::total_cmp);
    let middle = apart.len() / 2;
    let median = if apart.len() % 2 == 1 {
        apart[middle]
    } else {
        0.5 * (apart[middle - 1] + apart[middle]) // even and not empty: two at least
    };
    let found = (median / 0.953_872_552_417_6).min(3.0 * usual);
    ((5.0 * usual.powi(2) + further * found.powi(2)) / (5.0 + further)).sqrt()
}
