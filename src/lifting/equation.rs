//! The revised lifting equation of NIOSH: how much one person should lift in a given way.
//!
//! Knows: the equation, in metric units. Must not know: assemblies, masses.
//! Promises: never more than 23 kg; nothing at all beyond the equation's limits.

use crate::scenario::{Grip, Handling};
use crate::units::Grams;

/// The recommended weight limit for one seldom lift, the lesser of those at its start and at its end.
///
/// RWL = 23 kg · 25/H · (1 − 0.003·|V − 75|) · (0.82 + 4.5/D) · (1 − 0.0032·A) · CM, lengths in cm, A in degrees; H and D
/// under 25 count as 25; H over 63, V over 175, D over 175 or A over 135 leave nothing. The frequency multiplier is 1: no
/// more than one lift in five minutes, for an hour at most.
///
/// Source: T. R. Waters, V. Putz-Anderson, A. Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS
/// (NIOSH) 94-110, rev. 9/2021, doi 10.26616/NIOSHPUB94110revised092021.
pub fn recommended_limit(lift: &Handling) -> Grams {
    let travel = (lift.from - lift.to).abs();
    let at = |height: f64| {
        LOAD_CONSTANT
            * reach(lift.reach)
            * vertical(height)
            * distance(travel)
            * asymmetry(lift.turn)
            * coupling(lift.grip, height)
    };
    Grams(1000.0 * at(lift.from).min(at(lift.to)))
}

/// What may be lifted in the best posture, kg.
const LOAD_CONSTANT: f64 = 23.0;

fn reach(cm: f64) -> f64 {
    if cm > 63.0 { 0.0 } else { 25.0 / cm.max(25.0) }
}

fn vertical(cm: f64) -> f64 {
    if cm > 175.0 {
        0.0
    } else {
        1.0 - 0.003 * (cm - 75.0).abs()
    }
}

fn distance(cm: f64) -> f64 {
    if cm > 175.0 {
        0.0
    } else {
        0.82 + 4.5 / cm.max(25.0)
    }
}

fn asymmetry(degrees: f64) -> f64 {
    if degrees > 135.0 {
        0.0
    } else {
        1.0 - 0.003_2 * degrees
    }
}

fn coupling(grip: Grip, height: f64) -> f64 {
    match grip {
        Grip::Good => 1.0,
        Grip::Fair if height < 75.0 => 0.95,
        Grip::Fair => 1.0,
        Grip::Poor => 0.9,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn limit(reach: f64, from: f64, to: f64, turn: f64, grip: Grip) -> f64 {
        let lift = Handling {
            reach,
            from,
            to,
            turn,
            grip,
        };
        recommended_limit(&lift).0 / 1000.0
    }

    /// The limit at the start alone: the end is as high above 75 cm, or the better of the two.
    #[track_caller]
    fn is(value: f64, expected: f64) {
        assert!((value - expected).abs() < 1e-6, "{value} is not {expected}");
    }

    #[test]
    fn the_best_posture_allows_23_kg_and_every_multiplier_takes_its_share() {
        // All multipliers 1, with 25 cm of travel: 0.82 + 4.5 / 25 = 1.
        is(
            coupling(Grip::Good, 75.0) * distance(25.0) * vertical(75.0) * reach(25.0),
            1.0,
        );
        is(limit(25.0, 75.0, 75.0, 0.0, Grip::Good), 23.0);
        // H 63: 23 × 25 / 63 = 9.126984.
        is(limit(63.0, 75.0, 75.0, 0.0, Grip::Good), 9.126_984);
        // H 40, V 75, D 50: 23 × 0.625 × 1 × 0.91 = 13.081250 at the start; at the end, V 125, 0.85 of that.
        is(limit(40.0, 75.0, 125.0, 0.0, Grip::Good), 13.081_25 * 0.85);
        // H 50, V 20, D 100, A 30, fair: 23 × 0.5 × 0.835 × 0.865 × 0.904 × 0.95 = 7.133332 at the start, the end is V 120.
        let start: f64 = 7.133_332;
        let end = 23.0 * 0.5 * 0.865 * 0.865 * 0.904;
        is(limit(50.0, 20.0, 120.0, 30.0, Grip::Fair), start.min(end));
        // H 40, V 10, D 70, A 45, poor: 7.410380 with the manual's 0.94 for one lift a minute.
        is(limit(40.0, 10.0, 80.0, 45.0, Grip::Poor) * 0.94, 7.410_38);
    }

    #[test]
    fn beyond_the_equations_limits_nothing_is_to_be_lifted() {
        is(limit(63.1, 75.0, 75.0, 0.0, Grip::Good), 0.0);
        is(limit(25.0, 75.0, 176.0, 0.0, Grip::Good), 0.0);
        is(limit(25.0, 75.0, 75.0, 136.0, Grip::Good), 0.0);
    }

    #[test]
    fn the_manuals_worked_examples_come_out_but_for_its_two_systems_of_units() {
        // The manual reckons them in inches and pounds: 51 lb are 23.13 kg and 10 in are 25.4 cm, so some 3 % more than in
        // metric units, and it rounds each multiplier first.
        const INCH: f64 = 2.54;
        const POUND: f64 = 0.453_592_37;
        let pounds = |reach: f64, from: f64, to: f64, grip| {
            limit(reach * INCH, from * INCH, to * INCH, 0.0, grip) / POUND
        };
        // Example 1, loading press stock: H 23, V 15 to 64; printed 16.3 lb at the start, 14.5 at the end, the lesser.
        let stock = pounds(23.0, 15.0, 64.0, Grip::Fair);
        assert!((0.94..1.0).contains(&(stock / 14.5)), "{stock}");
        // Example 4, package inspection, end: H 20, V 22 to 59, printed 15.2 lb with 0.88 for three lifts a minute.
        let package = 0.88 * pounds(20.0, 22.0, 59.0, Grip::Fair);
        assert!((0.97..1.0).contains(&(package / 15.2)), "{package}");
    }

    proptest! {
        #[test]
        fn farther_and_more_twisted_never_allows_more(
            reach in 0.0..80f64, from in 0.0..200f64, to in 0.0..200f64, turn in 0.0..180f64,
            more in 0.0..20f64,
        ) {
            let of = |reach, turn| limit(reach, from, to, turn, Grip::Fair);
            let here = of(reach, turn);
            prop_assert!((0.0..=23.0).contains(&here));
            prop_assert!(of(reach + more, turn) <= here + 1e-12);
            prop_assert!(of(reach, turn + more) <= here + 1e-12);
        }
    }
}
