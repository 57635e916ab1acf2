//! Plastic and minutes of a piece, from its box or its mesh and its print settings; or as measured.
//!
//! Knows: parts, settings, what a machine's hot end sustains. Must not know: what fits where, plates, dates, prices.
//! Promises: never more plastic than the part's own volume; what was measured stands instead of what is computed.

mod mesh;
mod plastic;
mod time;

pub use mesh::{Needs, mesh_needs};
pub use plastic::{Plastic, Solid, extruded_volume, plastic};
pub use time::{OwnTime, layers, own_time, run_minutes};
