//! Plastic and minutes of a piece, from its box or its mesh and its print settings; or as measured.
//!
//! Knows: parts, settings, what a machine's hot end sustains. Must not know: what fits where, plates, dates, prices.
//! Promises: what was measured stands instead of what is computed; without measurements nothing is corrected, and there is
//! never more plastic than the part's own volume.

mod calibration;
mod mesh;
mod plastic;
mod shrinkage;
mod time;

pub use calibration::{Calibration, EIGHTY, against, grams_spread, uncorrected};
pub use mesh::{Needs, mesh_needs};
pub use plastic::{Plastic, Solid, extruded_volume, plastic};
pub use shrinkage::Correction;
pub use time::{OwnTime, layers, own_time, run_minutes};
