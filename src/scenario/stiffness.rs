//! How stiff and heavy prints, rods and tubes are, where the user does not say.
//!
//! Knows: the tables of materials. Must not know: parts, spans.
//! Promises: what the user wrote wins over a table.

use super::fields::{MODULI, RODS};
use super::raw::{RawFilament, RawHardware};

/// The modulus of a filament's prints, N/mm²: the user's, or the material's usual one if that is known.
pub fn modulus(filament: &RawFilament) -> Option<f64> {
    let material = &filament.material.as_ref()?.value;
    let usual = MODULI.iter().find(|(name, _)| name == material);
    filament
        .modulus
        .value()
        .or(usual.map(|(_, modulus)| *modulus))
}

/// The modulus of a rod or tube, N/mm²: the user's, or its material's.
pub fn rod_modulus(hardware: &RawHardware) -> Option<f64> {
    let material = hardware.material.value().map(|material| RODS[material.0].1);
    hardware.modulus.value().or(material) // a material's position is one of the table
}

/// Mass of a rod or tube per mm: the user's, or its section's times its material's density, or nothing.
pub fn grams_per_mm(hardware: &RawHardware) -> f64 {
    let (section, material) = (hardware.section.value(), hardware.material.value());
    let reckoned = section.zip(material).map(|(profile, material)| {
        let (_, _, density) = RODS[material.0]; // a material's position is one of the table
        profile.section().area * density / 1000.0
    });
    hardware.grams_per_mm.value().or(reckoned).unwrap_or(0.0)
}
