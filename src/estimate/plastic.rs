//! How much is extruded for a piece.
//!
//! Knows: boxes, walls, infill, measured masses. Must not know: what machines are, time.
//! Promises: more infill never means less plastic; full infill means the part's own volume.

use super::mesh::mesh_needs;
use crate::geometry::mesh::{Body, Lying};
use crate::scenario::{Filament, MachineIndex, Part, Settings};
use crate::units::{CubicMillimetres, Grams, Millimetres};

/// What a piece fills of its box as it lies.
#[derive(Clone, Copy, Debug)]
pub enum Solid<'a> {
    /// A share of it.
    Share(f64),
    /// A body, lying so.
    Body(&'a Body, &'a Lying),
}

/// What one piece takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plastic {
    /// Extruded volume, support included.
    pub volume: CubicMillimetres,
    /// Printed mass, support included.
    pub grams: Grams,
    /// Of it support, which is taken off after printing.
    pub support: Grams,
}

/// The plastic in a piece that is this `share` of a copy and fills `solid` of the box `lying` (along x, along y, upright).
///
/// A measured mass of the part wins over what its program comes to on the machine at `index`, and that over the
/// estimate, corrected by `factor`; either gives the volume, and a piece has its share of it. Whatever support was
/// weighed is in it.
#[allow(clippy::too_many_arguments)] // each is one thing that the estimate rests on
pub fn plastic(
    part: &Part,
    share: f64,
    index: MachineIndex,
    lying: [Millimetres; 3],
    solid: Solid<'_>,
    settings: &Settings,
    filament: &Filament,
    factor: f64,
) -> Plastic {
    let program = part.toolpaths.get(index.0).copied().flatten();
    if let Some(copy) = part.grams.or(program.map(|program| program.grams)) {
        let grams = copy * share;
        return Plastic {
            volume: grams.volume(filament.density),
            grams,
            support: Grams::ZERO,
        };
    }
    let (volume, support) = match solid {
        Solid::Share(share) => (
            extruded_volume(lying, share, settings),
            CubicMillimetres::ZERO,
        ),
        Solid::Body(body, lying) => {
            let needs = mesh_needs(body, lying, settings);
            (needs.piece + needs.support, needs.support)
        }
    };
    let (volume, support) = (volume * factor, support * factor);
    Plastic {
        volume,
        grams: volume * filament.density,
        support: support * filament.density,
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
    let body = solid * outside;
    let shell = (outside - inside).min(body);
    let extruded = shell + settings.infill * (body - shell);
    debug_assert!(shell <= extruded + 1e-9 * outside && extruded <= body + 1e-9 * outside);
    CubicMillimetres(extruded)
}
