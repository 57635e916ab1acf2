//! All that is measured of a mesh, or of one length of it.
//!
//! Knows: faces and edges. Must not know: parts, settings, machines.
//! Promises: every figure scales with the body: lengths, areas, volumes each by their own power.

use super::Mesh;
use super::lying::Lying;
use super::surface::Surface;

/// A body's measures, in mm, mm² and mm³.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Body {
    /// Least coordinates.
    pub low: [f64; 3],
    /// Greatest coordinates.
    pub high: [f64; 3],
    /// Enclosed volume; what faces inward (a void) is subtracted.
    pub volume: f64,
    /// Area of all faces, those of voids and cuts among them.
    pub area: f64,
    /// Centre of mass of a full body.
    pub centre: [f64; 3],
    /// How it lies with its x, y or z upright.
    pub lying: [Lying; 3],
}

impl Body {
    /// The three sides of its box, mm.
    pub fn size(&self) -> [f64; 3] {
        [0, 1, 2].map(|axis| self.high[axis] - self.low[axis])
    }

    /// The same body, so many times as large. (An outline's simplification grows along.)
    pub fn scaled(&self, by: f64) -> Self {
        Self {
            low: self.low.map(|value| value * by),
            high: self.high.map(|value| value * by),
            volume: self.volume * by.powi(3),
            area: self.area * by.powi(2),
            centre: self.centre.map(|value| value * by),
            lying: self.lying.each_ref().map(|lying| lying.scaled(by)),
        }
    }

    /// Whether two bodies are alike in all that is measured, wherever they are, to within rounding.
    pub fn is_like(&self, other: &Self) -> bool {
        let near =
            |one: f64, other: f64| (one - other).abs() <= 1e-6 * one.abs().max(other.abs()) + 1e-5;
        let sizes = self.size().into_iter().zip(other.size());
        sizes.into_iter().all(|(one, other)| near(one, other))
            && near(self.volume, other.volume)
            && near(self.area, other.area)
            && self
                .lying
                .iter()
                .zip(&other.lying)
                .all(|(one, other)| one.is_like(other, near))
    }

    /// Measures a surface; `None` where it encloses nothing.
    pub(super) fn of(surface: &Surface<'_>) -> Option<Self> {
        let [low, high] = surface.mesh.bounds()?;
        let middle = [0, 1, 2].map(|axis| (low[axis] + high[axis]) / 2.0);
        let (volume, centre) = surface.volume(middle);
        if !volume.is_finite() || volume <= 0.0 {
            return None;
        }
        let lying = |axis| Lying::of(surface, axis, [low, high]);
        Some(Self {
            low,
            high,
            volume,
            area: surface.faces.iter().map(|face| face.area).sum(),
            centre,
            lying: [lying(0)?, lying(1)?, lying(2)?],
        })
    }
}

impl Mesh {
    /// Measures the body; `None` if it encloses nothing, or is inside out.
    pub fn body(&self) -> Option<Body> {
        Body::of(&Surface::new(self))
    }
}
