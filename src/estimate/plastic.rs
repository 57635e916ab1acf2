//! How much is extruded for a piece.
//!
//! Knows: boxes, walls, infill, measured masses. Must not know: machines, time.
//! Promises: more infill never means less plastic; full infill means the part's own volume.

use crate::geometry::Outline;
use crate::scenario::{Filament, Part, Settings};
use crate::units::{CubicMillimetres, Grams, Millimetres};

/// What one piece takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plastic {
    /// Extruded volume.
    pub volume: CubicMillimetres,
    /// Printed mass.
    pub grams: Grams,
}

/// The plastic in one of the `lengths` pieces of a copy, lying as the box `lying` (along x, along y, upright), with this
/// outline on the bed where it has one.
///
/// A measured mass of the part wins over the estimate, and gives the volume; a piece has its share of it.
pub fn plastic(
    part: &Part,
    lengths: u32,
    lying: [Millimetres; 3],
    outline: Option<&Outline>,
    settings: &Settings,
    filament: &Filament,
) -> Plastic {
    if let Some(copy) = part.grams {
        let grams = copy * (1.0 / f64::from(lengths));
        return Plastic {
            volume: grams.volume(filament.density),
            grams,
        };
    }
    let volume = match outline {
        Some(outline) => extruded_prism(outline, lying, part.solid, settings),
        None => extruded_volume(lying, part.solid, settings),
    };
    Plastic {
        volume,
        grams: volume * filament.density,
    }
}

/// The extruded volume of a part that lies as the box `lying` (along x, along y, upright) and fills the share `solid`
/// of it.
///
/// The shell is what perimeters, top and bottom layers make of a full box; a part that leaves some of its box empty is
/// taken to have the same shell as long as it has that much in it at all. The rest of it is filled by the infill share.
/// Plastic of a solid region is its volume, since neighbouring lines fill the corners between them. (Common practice,
/// no source.)
pub fn extruded_volume(
    lying: [Millimetres; 3],
    solid: f64,
    settings: &Settings,
) -> CubicMillimetres {
    let [a, b, c] = lying.map(Millimetres::value);
    let wall = 2.0 * f64::from(settings.perimeters) * settings.line.value();
    let skin = f64::from(settings.top + settings.bottom) * settings.layer.value();
    let outside = a * b * c;
    let inside = (a - wall).max(0.0) * (b - wall).max(0.0) * (c - skin).max(0.0);
    filled(outside - inside, solid * outside, settings)
}

/// The extruded volume of a prism that stands on its outline and fills the share `solid` of its box: walls along the
/// whole outline, top and bottom over its whole area, the rest filled by the infill share. (Common practice, no source.)
pub fn extruded_prism(
    outline: &Outline,
    lying: [Millimetres; 3],
    solid: f64,
    settings: &Settings,
) -> CubicMillimetres {
    let [a, b, c] = lying.map(Millimetres::value);
    let wall = f64::from(settings.perimeters) * settings.line.value();
    let skin = f64::from(settings.top + settings.bottom) * settings.layer.value();
    let inside = outline.shrunk_area(wall) * (c - skin).max(0.0);
    filled(outline.area() * c - inside, solid * a * b * c, settings)
}

/// A body of which a shell, no more than all of it, is printed full and the rest by the infill share.
fn filled(shell: f64, body: f64, settings: &Settings) -> CubicMillimetres {
    let shell = shell.min(body);
    let extruded = shell + settings.infill * (body - shell);
    debug_assert!(shell <= extruded * (1.0 + 1e-9) && extruded <= body * (1.0 + 1e-9));
    CubicMillimetres(extruded)
}
