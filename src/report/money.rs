//! Money as it is shown: rounded so that the parts add up to the total.
//!
//! Knows: the parts of a plan's cost. Must not know: how they came about.
//! Promises: each part is rounded to the hundredth (a half away from zero), and **the total is the sum of the parts as
//! shown**. So whoever adds up the column gets the printed total; it is at most 4 hundredths off the exact sum (eight
//! parts, half a hundredth each).

use crate::plan::Cost;
use crate::units::Money;

/// A sum of money in whole hundredths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Hundredths(i64);

impl Hundredths {
    /// Rounded to the nearest, a half away from zero.
    pub(super) fn nearest(money: Money) -> Self {
        Self((money.0 * 100.0).round() as i64)
    }

    /// Rounded down, so that what no plan can beat is not overstated. A millionth is forgiven, so that 12.30 stays.
    pub(super) fn down(money: Money) -> Self {
        Self((money.0 * 100.0 + 1e-6).floor() as i64)
    }

    /// The sum of several, as they are shown.
    pub(super) fn sum(all: impl IntoIterator<Item = Self>) -> Self {
        Self(all.into_iter().map(|one| one.0).sum())
    }

    /// By how much it is more than another.
    pub(super) fn less(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }

    /// As a number, for JSON.
    pub(super) fn number(self) -> f64 {
        self.0 as f64 / 100.0
    }
}

impl std::fmt::Display for Hundredths {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let amount = self.0.unsigned_abs();
        write!(f, "{sign}{}.{:02}", amount / 100, amount % 100)
    }
}

/// A plan's cost as shown.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shown {
    pub(super) late: Hundredths,
    pub(super) standing: Hundredths,
    pub(super) machine: Hundredths,
    pub(super) energy: Hundredths,
    pub(super) bench: Hundredths,
    pub(super) purge: Hundredths,
    pub(super) plastic: Hundredths,
    pub(super) hardware: Hundredths,
    /// Shown only where it is something: there is none without an accepted plan.
    pub(super) calm: Hundredths,
}

impl Shown {
    pub(super) fn new(cost: &Cost) -> Self {
        Self {
            late: Hundredths::nearest(cost.late),
            standing: Hundredths::nearest(cost.standing),
            machine: Hundredths::nearest(cost.machine),
            energy: Hundredths::nearest(cost.energy),
            bench: Hundredths::nearest(cost.bench),
            purge: Hundredths::nearest(cost.purge),
            plastic: Hundredths::nearest(cost.plastic),
            hardware: Hundredths::nearest(cost.hardware),
            calm: Hundredths::nearest(cost.calm),
        }
    }

    /// Each part with its name.
    pub(super) fn parts(&self) -> Vec<(&'static str, Hundredths)> {
        let mut parts = vec![
            ("late", self.late),
            ("standing", self.standing),
            ("machine", self.machine),
            ("energy", self.energy),
            ("bench", self.bench),
            ("purge", self.purge),
            ("plastic", self.plastic),
            ("hardware", self.hardware),
        ];
        if self.calm.0 != 0 {
            parts.push(("calm", self.calm));
        }
        parts
    }

    /// The sum of the parts as shown.
    pub(super) fn total(&self) -> Hundredths {
        let sum = self
            .parts()
            .iter()
            .fold(0i64, |sum, (_, part)| sum.saturating_add(part.0));
        Hundredths(sum)
    }
}

/// By which share of what the plan decides it may still be dearer than the best: (decided − bound) / decided, and 0
/// where nothing is decided.
pub fn gap(decided: Money, bound: Money) -> f64 {
    if decided.0 > 0.0 {
        ((decided.0 - bound.0) / decided.0).max(0.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_total_is_the_sum_of_the_parts_as_shown() {
        // Eight parts of 0.004 are shown as 0.00 each, so the total is 0.00, though exactly it is 0.032.
        let each = Money(0.004);
        let cost = Cost {
            late: each,
            standing: each,
            machine: each,
            energy: each,
            bench: each,
            purge: each,
            plastic: each,
            hardware: each,
            calm: Money::ZERO,
        };
        assert_eq!(Shown::new(&cost).total().to_string(), "0.00");
        // 1.006 + 2.006 are shown as 1.01 + 2.01 = 3.02, though exactly they make 3.012.
        let cost = Cost {
            late: Money(1.006),
            bench: Money(2.006),
            ..Cost::default()
        };
        assert_eq!(Shown::new(&cost).total().to_string(), "3.02");
    }

    #[test]
    fn a_bound_is_rounded_down_but_not_by_rounding_error() {
        assert_eq!(Hundredths::down(Money(7.999)).to_string(), "7.99");
        // 0.29 × 100 is 28.999999999999996 in doubles.
        assert_eq!(Hundredths::down(Money(0.29)).to_string(), "0.29");
    }

    #[test]
    fn the_gap_is_a_share_of_what_the_plan_decides() {
        // (200 − 190) / 200 = 0.05.
        assert!((gap(Money(200.0), Money(190.0)) - 0.05).abs() < 1e-12);
        assert_eq!(gap(Money(0.0), Money(0.0)), 0.0);
        // A bound above the cost by rounding error is no gap below nothing.
        assert_eq!(gap(Money(1.0), Money(1.0 + 1e-12)), 0.0);
    }

    #[test]
    fn money_below_nothing_keeps_its_sign() {
        assert_eq!(Hundredths::nearest(Money(-0.05)).to_string(), "-0.05");
    }
}
