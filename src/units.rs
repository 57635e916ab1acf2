//! Quantities with their units in the type, so that millimetres never meet minutes.
//!
//! Knows: arithmetic that means something. Must not know: scenarios, machines, files.
//! Promises: only products with a meaning compile; a value prints without its unit (the column names it).

use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Sub, SubAssign};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            /// The bare number, in the unit that the type names.
            pub fn value(self) -> f64 {
                self.0
            }
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                self.0 -= other.0;
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
                // From nought, not from the negative nought that the sum of no numbers is.
                Self(items.fold(0.0, |sum, q| sum + q.0))
            }
        }
    };
}

quantity! {
    /// A length in millimetres.
    Millimetres
}
quantity! {
    /// A volume in cubic millimetres.
    CubicMillimetres
}
quantity! {
    /// A mass in grams.
    Grams
}
quantity! {
    /// A span of time in seconds, where whole minutes are too coarse (a layer, one piece's deburring).
    Seconds
}
quantity! {
    /// Money in the scenario's currency.
    Money
}
quantity! {
    /// Money per kilogram.
    PricePerKilogram
}
quantity! {
    /// Mass density in g/cm³.
    Density
}
quantity! {
    /// Volumetric flow in mm³/s.
    Flow
}
quantity! {
    /// Stress, or a modulus of elasticity, in N/mm².
    Megapascals
}
quantity! {
    /// Electrical power in watts.
    Watts
}

/// A span of whole minutes; the resolution of every date in a plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Minutes(pub i64);

impl Minutes {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// The bare number of minutes.
    pub fn value(self) -> i64 {
        self.0
    }

    /// The same span in hours.
    pub fn hours(self) -> f64 {
        self.0 as f64 / 60.0
    }
}

impl Add for Minutes {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Mul<i64> for Minutes {
    type Output = Self;
    fn mul(self, factor: i64) -> Self {
        Self(self.0 * factor)
    }
}

impl Sum for Minutes {
    fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
        Self(items.map(|m| m.0).sum())
    }
}

impl Seconds {
    /// Rounded up to the whole minute, as every run and every stretch of bench work is.
    ///
    /// A billionth of a minute is forgiven, so that a sum such as 3 × 20 s does not become two minutes by rounding error.
    pub fn whole_minutes(self) -> Minutes {
        Minutes((self.0 / 60.0 - 1e-9).ceil() as i64)
    }
}

impl Mul<PricePerKilogram> for Grams {
    type Output = Money;
    fn mul(self, price: PricePerKilogram) -> Money {
        Money(self.0 * price.0 / 1000.0)
    }
}

impl Mul<Density> for CubicMillimetres {
    type Output = Grams;
    /// 1 g/cm³ is 10⁻³ g/mm³.
    fn mul(self, density: Density) -> Grams {
        Grams(self.0 * density.0 / 1000.0)
    }
}

impl Grams {
    /// The volume that this mass of a material takes up.
    pub fn volume(self, density: Density) -> CubicMillimetres {
        CubicMillimetres(self.0 * 1000.0 / density.0)
    }
}

impl CubicMillimetres {
    /// The least time in which this volume passes a hot end that sustains `flow`.
    pub fn time_at(self, flow: Flow) -> Seconds {
        Seconds(self.0 / flow.0)
    }
}

impl Watts {
    /// Kilowatt-hours used in `minutes`: W·h / 1000.
    pub fn kilowatt_hours(self, minutes: Minutes) -> f64 {
        self.0 * minutes.hours() / 1000.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_round_up_to_whole_minutes_but_not_by_rounding_error() {
        assert_eq!(Seconds(60.0).whole_minutes(), Minutes(1));
        assert_eq!(Seconds(60.1).whole_minutes(), Minutes(2));
        assert_eq!(Seconds(0.1 * 600.0).whole_minutes(), Minutes(1));
        assert_eq!(Seconds(0.0).whole_minutes(), Minutes(0));
    }

    #[test]
    fn grams_times_price_is_money_per_kilogram() {
        // 250 g at 20 per kg is 5.
        assert_eq!(Grams(250.0) * PricePerKilogram(20.0), Money(5.0));
    }

    #[test]
    fn power_over_time_is_energy() {
        // 130 W for 512 min: 130 × 512 / 60 / 1000 = 1.109333 kWh.
        assert!((Watts(130.0).kilowatt_hours(Minutes(512)) - 1.109333).abs() < 1e-6);
    }
}
