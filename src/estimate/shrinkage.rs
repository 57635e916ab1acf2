//! How far estimates are off, from few measurements: the farm's share, each machine's, each setting's on it.
//!
//! Knows: logarithms of measured / estimated, where they were measured. Must not know: parts, what was measured.
//! Promises: without measurements nothing is corrected; with many that agree the correction is theirs; one that is far off
//! moves it by little.
//!
//! Each measurement is y = ln(measured / estimated) of a place, a machine with a setting. The model is a normal one in
//! layers: y = θ_place + noise, θ_place about the machine's φ, φ about the farm's μ, μ about 0. The fit is the least of
//!
//! Σ ρ((y − θ)/σ) + Σ (θ − φ)²/2τ_place² + Σ (φ − μ)²/2τ_machine² + μ²/2τ_farm²
//!
//! over all θ, φ and μ, with P. J. Huber's ρ (r²/2, beyond k = 1.345 as a straight line k·|r| − k²/2), so that a measurement
//! pulls only so hard, however far it is off. It is strictly convex and has one least point. (Huber, "Robust estimation of a
//! location parameter", Annals of Mathematical Statistics 35 (1964) 73–101; shrinkage in layers: A. Gelman et al., "Bayesian
//! Data Analysis", chapter 5. Both from memory.)

use std::collections::BTreeMap;

use crate::scenario::{MachineIndex, SettingsIndex, Spreads};

/// Where Huber's ρ becomes straight: 95 % as sharp as a mean where nothing is far off (from memory).
const STRAIGHT_FROM: f64 = 1.345;
/// The prior counts as so many pairs when the noise is judged.
const PRIOR_PAIRS: f64 = 5.0;
/// Median of |difference| of two normal numbers is 0.9539 of their spread (√2 · 0.67449); M. I. Shamos, 1976, from memory.
const PER_MEDIAN: f64 = 1.0 / 0.953_872_552_417_6;
/// However wild the measurements are, the noise is not taken to be more than so many times what is usual.
const WILDEST: f64 = 3.0;
/// Median of |deviation| of a normal number, as a share of its spread.
const PER_HALF: f64 = 0.674_489_750_196_1;
/// Steps of the fit at most; it stops where none moves by more than [`STILL`].
const STEPS: usize = 2000;
const STILL: f64 = 1e-14;

/// A place: a machine with a setting.
pub type Place = (MachineIndex, SettingsIndex);

/// A correction and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correction {
    /// Estimates are multiplied by it.
    pub factor: f64,
    /// Spread (standard deviation) of the logarithm of measured / corrected, of a further measurement.
    pub spread: f64,
    /// Whether several measurements there lie further from it than any that agree with the estimate would; then the spread is theirs.
    pub contradicted: bool,
}

/// A mean and a variance.
#[derive(Clone, Copy, Debug, Default)]
struct Guess {
    mean: f64,
    variance: f64,
}

/// What measurements teach.
#[derive(Clone, Debug)]
pub struct Fit {
    spreads: Spreads,
    noise: f64,
    farm: Guess,
    machines: BTreeMap<MachineIndex, Guess>,
    places: BTreeMap<Place, Guess>,
    /// Places whose measurements are off beyond [`WILDEST`] times the usual noise: how far, as a spread.
    scattered: BTreeMap<Place, f64>,
}

impl Fit {
    /// Fits measurements, each its place and logarithm; `spreads` are what is expected before anything is measured.
    pub fn new(measured: &[(Place, f64)], spreads: Spreads) -> Self {
        let mut places: BTreeMap<Place, Vec<f64>> = BTreeMap::new();
        for &(place, log) in measured {
            places.entry(place).or_default().push(log);
        }
        let noise = noise(places.values(), spreads.noise);
        let mut fit = Self {
            spreads,
            noise,
            farm: Guess {
                mean: 0.0,
                variance: spreads.farm * spreads.farm,
            },
            machines: BTreeMap::new(),
            places: BTreeMap::new(),
            scattered: BTreeMap::new(),
        };
        if places.is_empty() {
            return fit;
        }
        // Weighted least squares again and again, each measurement weighing as little as its pull beyond k demands: each
        // step lowers the sum above, and it ends at its least.
        for _ in 0..STEPS {
            let before = fit.clone();
            fit.step(&places);
            let moved = |now: &Guess, then: Option<&Guess>| {
                then.is_none_or(|then| (now.mean - then.mean).abs() > STILL)
            };
            let restless = fit
                .places
                .iter()
                .any(|(place, guess)| moved(guess, before.places.get(place)))
                || moved(&fit.farm, Some(&before.farm));
            if !restless {
                break;
            }
        }
        for (&at, logs) in places.iter().filter(|(_, logs)| logs.len() > 1) {
            let mean = fit.places.get(&at).map_or(0.0, |guess| guess.mean);
            let mut off: Vec<f64> = logs.iter().map(|log| (log - mean).abs()).collect();
            off.sort_by(f64::total_cmp);
            let (low, high) = ((off.len() - 1) / 2, off.len() / 2);
            // Half of all; one slip among many that agree widens nothing.
            let spread = 0.5 * (off[low] + off[high]) / PER_HALF; // not empty
            if spread > WILDEST * spreads.noise {
                fit.scattered.insert(at, spread);
            }
        }
        fit
    }

    /// One step: with the weights that the last means give, the least point and the variances of its coordinates.
    fn step(&mut self, places: &BTreeMap<Place, Vec<f64>>) {
        let Spreads {
            farm,
            machine,
            place,
            ..
        } = self.spreads;
        let (noise, machine, place) = (self.noise.powi(2), machine.powi(2), place.powi(2));
        // Upward: what the places say of their machine, what the machines say of the farm, as precision and its product with
        // the mean.
        let mut of_place: BTreeMap<Place, [f64; 2]> = BTreeMap::new();
        let mut of_machine: BTreeMap<MachineIndex, [f64; 2]> = BTreeMap::new();
        for (&at, logs) in places {
            let mean = self.places.get(&at).map(|guess| guess.mean);
            let mut sum = [0.0; 2];
            for log in logs {
                let pull = mean.map_or(0.0, |mean| (log - mean).abs() / self.noise);
                let weight = if pull > STRAIGHT_FROM {
                    STRAIGHT_FROM / pull
                } else {
                    1.0
                };
                sum[0] += weight / noise;
                sum[1] += weight / noise * log;
            }
            of_place.insert(at, sum);
            // Seen through the spread between a machine's settings.
            let said = 1.0 / (1.0 / sum[0] + place);
            let machine = of_machine.entry(at.0).or_insert([0.0; 2]);
            machine[0] += said;
            machine[1] += said * sum[1] / sum[0];
        }
        let mut all = [1.0 / farm.powi(2), 0.0];
        for sum in of_machine.values() {
            let said = 1.0 / (1.0 / sum[0] + machine);
            all[0] += said;
            all[1] += said * sum[1] / sum[0];
        }
        // Downward: each is drawn to what stands above it.
        self.farm = Guess {
            mean: all[1] / all[0],
            variance: 1.0 / all[0],
        };
        self.machines = of_machine
            .iter()
            .map(|(&at, &sum)| (at, drawn(sum, self.farm, machine)))
            .collect();
        self.places = of_place
            .iter()
            .map(|(&at, &sum)| (at, drawn(sum, self.machines[&at.0], place))) // every place's machine is there
            .collect();
    }

    /// What holds for a place, measured or not.
    pub fn at(&self, place: Place) -> Correction {
        let unmeasured = |above: Guess, spread: f64| Guess {
            variance: above.variance + spread * spread,
            ..above
        };
        let guess = self.places.get(&place).copied().unwrap_or_else(|| {
            let machine = self.machines.get(&place.0).copied();
            let machine = machine.unwrap_or_else(|| unmeasured(self.farm, self.spreads.machine));
            unmeasured(machine, self.spreads.place)
        });
        Correction {
            factor: guess.mean.exp(),
            spread: (guess.variance + self.noise * self.noise)
                .sqrt()
                .max(self.scattered.get(&place).copied().unwrap_or(0.0)),
            contradicted: self.scattered.contains_key(&place),
        }
    }
}

/// A coordinate with what is said from below (precision, precision × mean), drawn to the one above it, which it is about with
/// this variance.
fn drawn([precision, product]: [f64; 2], above: Guess, variance: f64) -> Guess {
    let own = 1.0 / (precision + 1.0 / variance);
    let share = own / variance;
    Guess {
        mean: own * product + share * above.mean,
        variance: own + share * share * above.variance,
    }
}

/// The noise of one measurement: the usual one and that of the measurements, weighed by how many there are.
fn noise<'m>(places: impl Iterator<Item = &'m Vec<f64>>, usual: f64) -> f64 {
    let (mut differences, mut pairs) = (Vec::new(), 0.0);
    for logs in places {
        pairs += logs.len().saturating_sub(1) as f64;
        for (at, one) in logs.iter().enumerate() {
            differences.extend(logs[at + 1..].iter().map(|other| (one - other).abs()));
        }
    }
    if differences.is_empty() {
        return usual;
    }
    differences.sort_by(f64::total_cmp);
    let (low, high) = ((differences.len() - 1) / 2, differences.len() / 2);
    let median = 0.5 * (differences[low] + differences[high]); // not empty
    let found = (median * PER_MEDIAN).min(WILDEST * usual);
    ((PRIOR_PAIRS * usual * usual + pairs * found * found) / (PRIOR_PAIRS + pairs)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64;

    const SPREADS: Spreads = Spreads {
        noise: 0.08,
        place: 0.03,
        machine: 0.03,
        farm: 0.05,
    };

    fn place(machine: usize, settings: usize) -> Place {
        (MachineIndex(machine), SettingsIndex(settings))
    }

    #[test]
    fn without_measurements_the_factor_is_exactly_one_and_the_spread_the_usual() {
        let correction = Fit::new(&[], SPREADS).at(place(3, 1));
        assert_eq!(correction.factor, 1.0);
        // √(0.08² + 0.03² + 0.03² + 0.05²) = √0.0107 = 0.10344.
        assert!((correction.spread - 0.0107_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn one_measurement_is_shrunk_as_worked_out_by_hand() {
        // y = 0.05, within 1.345 · 0.08 of everything, so ρ is square throughout. All four spreads lie in a row, with variances
        // 0.0064 (noise), 0.0009, 0.0009, 0.0025: together 0.0107, of which all but the noise is the place's:
        // θ = 0.05 · 0.0043 / 0.0107, φ: 0.0034, μ: 0.0025.
        let fit = Fit::new(&[(place(0, 0), 0.05)], SPREADS);
        for (at, variance) in [
            (place(0, 0), 0.0043),
            (place(0, 1), 0.0034),
            (place(1, 0), 0.0025),
        ] {
            let expected = 0.05 * variance / 0.0107;
            assert!((fit.at(at).factor.ln() - expected).abs() < 1e-12, "{at:?}");
        }
        // What is left of 0.0043 once y is known: 0.0043 − 0.0043²/0.0107; and the noise.
        let left: f64 = 0.0043 - 0.0043 * 0.0043 / 0.0107 + 0.0064;
        assert!((fit.at(place(0, 0)).spread - left.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_measurement_far_off_pulls_only_with_k_times_the_noise() {
        // y = 3, far beyond: its pull is 1.345 / 0.08 = 16.8125. The three springs in a row have the variance 0.0043 together, so
        // θ = 16.8125 · 0.0043 = 0.0722938.
        let fit = Fit::new(&[(place(0, 0), 3.0)], SPREADS);
        assert!((fit.at(place(0, 0)).factor.ln() - 0.072_293_75).abs() < 1e-9);
    }

    #[test]
    fn many_that_agree_are_believed() {
        let ratio = 1.2_f64;
        let mut last = f64::INFINITY;
        for count in [1, 10, 100, 1000] {
            let measured = vec![(place(0, 0), ratio.ln()); count];
            let off = (Fit::new(&measured, SPREADS).at(place(0, 0)).factor - ratio).abs();
            assert!(off < last, "{count}: {off}");
            last = off;
        }
        assert!(last < 0.001, "{last}");
    }

    #[test]
    fn one_far_off_among_many_moves_it_little() {
        let mut measured: Vec<_> = (0..20)
            .map(|n| (place(0, 0), 0.1 + 0.01 * f64::from(n % 5 - 2)))
            .collect();
        let without = Fit::new(&measured, SPREADS).at(place(0, 0));
        for wild in [2.0, -5.0, 50.0] {
            measured.push((place(0, 0), wild));
            let with = Fit::new(&measured, SPREADS).at(place(0, 0));
            let moved = (with.factor / without.factor).ln().abs();
            assert!(moved < 0.01, "{wild}: {moved}");
            measured.pop();
        }
    }

    #[test]
    fn measurements_that_contradict_the_estimate_widen_its_range() {
        // 62 g planned, 300 weighed seven times and 4 once: ln is 1.58 and −2.74. The correction is far from both.
        let mut measured = vec![(place(0, 0), (300.0_f64 / 62.0).ln()); 7];
        measured.push((place(0, 0), (4.0_f64 / 62.0).ln()));
        let fit = Fit::new(&measured, SPREADS);
        let own = fit.at(place(0, 0));
        let reach = |spreads: f64| own.factor * (spreads * own.spread).exp();
        assert!(
            own.contradicted && reach(super::super::EIGHTY) > 300.0 / 62.0,
            "{own:?}"
        );
        // Another setting has no such measurements, and seven that agree with each other and the estimate are no contradiction.
        assert!(!fit.at(place(0, 1)).contradicted);
        let agree = vec![(place(0, 0), 0.1); 7];
        let agree = Fit::new(&[agree, vec![(place(0, 0), 2.0)]].concat(), SPREADS).at(place(0, 0));
        assert!(!agree.contradicted && agree.spread < 0.2, "{agree:?}");
    }

    #[test]
    fn what_holds_on_one_machine_holds_a_little_on_the_others() {
        let measured: Vec<_> = (0..10).map(|_| (place(0, 0), 0.2)).collect();
        let fit = Fit::new(&measured, SPREADS);
        let own = fit.at(place(0, 0)).factor;
        let setting = fit.at(place(0, 1)).factor;
        let other = fit.at(place(1, 0)).factor;
        assert!(own > setting && setting > other && other > 1.0);
    }

    /// A normal number, by the sum of twelve even ones.
    fn normal(draw: &mut Pcg64, spread: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| draw.random_range(0.0..1.0)).sum();
        spread * (sum - 6.0)
    }

    #[test]
    fn four_further_measurements_in_five_lie_in_the_range() {
        // Farms drawn as the model has them; on each a few measurements, then one more at every place. Within 1.2816 spreads are
        // 80 % of normal numbers. 600 farms of 6 places: ±2.5 % is more than three times the error of the count.
        let mut draw = Pcg64::seed_from_u64(11);
        let (mut within, mut all) = (0, 0);
        for _ in 0..600 {
            let farm = normal(&mut draw, SPREADS.farm);
            let (mut measured, mut truth) = (Vec::new(), Vec::new());
            for machine in 0..3 {
                let machine_off = farm + normal(&mut draw, SPREADS.machine);
                for settings in 0..2 {
                    let off = machine_off + normal(&mut draw, SPREADS.place);
                    truth.push((place(machine, settings), off));
                    for _ in 0..draw.random_range(0..5) {
                        let log = off + normal(&mut draw, SPREADS.noise);
                        measured.push((place(machine, settings), log));
                    }
                }
            }
            let fit = Fit::new(&measured, SPREADS);
            for (at, off) in truth {
                let correction = fit.at(at);
                let further = off + normal(&mut draw, SPREADS.noise);
                let miss = (further - correction.factor.ln()).abs();
                all += 1;
                within += u32::from(miss <= super::super::EIGHTY * correction.spread);
            }
        }
        let share = f64::from(within) / f64::from(all);
        assert!((share - 0.8).abs() < 0.025, "{share}");
    }
}
