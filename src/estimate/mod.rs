//! Plastic and minutes of a piece, from its box and its print settings; or as measured.
//!
//! Knows: parts, settings, what a machine's hot end sustains. Must not know: what fits where, plates, dates, prices.
//! Promises: never more plastic than the part's own volume; what was measured stands instead of what is computed.

mod plastic;
mod time;

pub use plastic::{Plastic, extruded_prism, extruded_volume, plastic};
pub use time::{OwnTime, layers, own_time, run_minutes};
