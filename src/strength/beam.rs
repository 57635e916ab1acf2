//! How far a straight beam sags at once, under its own weight and a load in the worst place.
//!
//! Knows: Euler–Bernoulli beams. Must not know: parts, scenarios.
//! Promises: small deflections of a slender beam of one section; no shear, no creep, no joints.
//!
//! Formulas: Roark's Formulas for Stress and Strain, 7th ed., Table 8.1; J. Gere, B. Goodno, Mechanics of Materials,
//! appendix on deflections (both from memory).

use crate::scenario::Ends;

/// Standard gravity, m/s²; exact by definition (CGPM 1901).
pub const GRAVITY: f64 = 9.806_65;

/// Weight per length in N/mm of a beam of so many grams per mm.
pub fn weight(grams_per_mm: f64) -> f64 {
    grams_per_mm * GRAVITY / 1000.0
}

/// Sag in mm under an even load `w` in N/mm, over a span `l` in mm, of a beam of flexural rigidity `ei` in N·mm²: in the
/// middle, or at a free end.
pub fn sag_even(ends: Ends, w: f64, l: f64, ei: f64) -> f64 {
    let factor = match ends {
        Ends::Simple => 5.0 / 384.0,
        Ends::Clamped => 1.0 / 384.0,
        Ends::Cantilever => 1.0 / 8.0,
    };
    factor * w * l.powi(4) / ei
}

/// Sag in mm under a point load `p` in N in the middle, or at a free end; otherwise as [`sag_even`].
pub fn sag_point(ends: Ends, p: f64, l: f64, ei: f64) -> f64 {
    let factor = match ends {
        Ends::Simple => 1.0 / 48.0,
        Ends::Clamped => 1.0 / 192.0,
        Ends::Cantilever => 1.0 / 3.0,
    };
    factor * p * l.powi(3) / ei
}

/// The largest bending moment in N·mm under both loads.
pub fn moment(ends: Ends, w: f64, p: f64, l: f64) -> f64 {
    let (even, point) = match ends {
        Ends::Simple => (1.0 / 8.0, 1.0 / 4.0),
        Ends::Clamped => (1.0 / 12.0, 1.0 / 8.0),
        Ends::Cantilever => (1.0 / 2.0, 1.0),
    };
    even * w * l * l + point * p * l
}
