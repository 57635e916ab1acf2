//! Mass by comparison with an original and with earlier builds.
//!
//! Knows: masses and scales. Must not know: parts, plans.
//! Promises: what is known of an earlier build comes out again for that build; a solid's mass goes with the cube of the
//! scale, a hollow print's with something between square and cube.

use crate::scenario::Earlier;
use crate::units::Grams;

/// What an earlier build says of this one's mass.
#[derive(Clone, Debug, PartialEq)]
pub struct Analogy {
    /// The earlier build's name.
    pub name: String,
    /// Its printed mass over that of its original enlarged solid.
    pub share: f64,
    /// Mass of this build if that share is the same here: if walls grow with the scale, or all is filled alike.
    pub by_share: Grams,
    /// Mass of this build if it goes with the surface: if walls are as thick as they were there.
    pub by_surface: Grams,
}

/// Mass of an original enlarged by `scale` in all directions, as solid as it is: volume, and with it mass, goes with the
/// cube of the length.
pub fn solid_mass(original: Grams, scale: f64) -> Grams {
    original * scale.powi(3)
}

/// Mass of a build whose original weighs `original` at `scale`, by an earlier one.
///
/// The share printed / (original × scale³) of the earlier build, applied here, holds where both are equally full. A hollow
/// print is shell for the most part, and a shell of one thickness goes with the surface, so with volume^⅔:
/// printed × (original × scale³ here / there)^⅔. What is printed lies between the two as a rule. Both are common practice
/// without a source; volume and surface of like bodies are geometry.
pub fn by_analogy(earlier: &Earlier, original: Grams, scale: f64) -> Analogy {
    let here = solid_mass(original, scale);
    let there = solid_mass(earlier.original, earlier.scale);
    let times = here.value() / there.value();
    Analogy {
        name: earlier.name.clone(),
        share: earlier.printed.value() / there.value(),
        by_share: earlier.printed * times,
        by_surface: earlier.printed * times.powf(2.0 / 3.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bridge() -> Earlier {
        Earlier {
            name: "Lift bridge".into(),
            scale: 5.0,
            original: Grams(1200.0),
            printed: Grams(38_000.0),
        }
    }

    #[test]
    fn an_original_at_twice_the_scale_weighs_eight_times_as_much() {
        assert_eq!(solid_mass(Grams(1200.0), 5.0), Grams(150_000.0));
        assert_eq!(solid_mass(Grams(1200.0), 10.0), Grams(1_200_000.0));
    }

    #[test]
    fn an_earlier_build_weighs_what_it_weighed() {
        let itself = by_analogy(&bridge(), Grams(1200.0), 5.0);
        assert!((itself.by_share.0 - 38_000.0).abs() < 1e-9);
        assert!((itself.by_surface.0 - 38_000.0).abs() < 1e-9);
        // 38 / 150 = 0.25333.
        assert!((itself.share - 0.253_333).abs() < 1e-6);
    }

    #[test]
    fn by_the_share_mass_goes_with_the_cube_and_by_the_surface_with_the_square() {
        // The same original at 10 in place of 5: 8 × 38 = 304 kg, 4 × 38 = 152 kg.
        let twice = by_analogy(&bridge(), Grams(1200.0), 10.0);
        assert!((twice.by_share.0 - 304_000.0).abs() < 1e-6);
        assert!((twice.by_surface.0 - 152_000.0).abs() < 1e-6);
    }

    #[test]
    fn another_original_counts_by_its_own_mass() {
        // 780 g at 6: 168.48 kg solid; × 0.253333 = 42.6816 kg. Surface: 38 × (168.48 / 150)^⅔ = 38 × 1.080533 = 41.0603.
        let crane = by_analogy(&bridge(), Grams(780.0), 6.0);
        assert!((crane.by_share.0 - 42_681.6).abs() < 0.1);
        assert!((crane.by_surface.0 - 41_060.3).abs() < 0.1);
    }
}
