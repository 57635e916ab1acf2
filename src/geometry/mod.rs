//! Boxes and outlines: what fits inside what, at which angle.
//!
//! Knows: lengths and angles. Must not know: machines, parts, margins, time.
//! Promises: whatever it says fits does so to within [`TOLERANCE`], and it refuses nothing that truly fits.

pub mod mesh;
mod outline;
mod rectangle;

pub use outline::Outline;
pub use rectangle::{TOLERANCE, fits_at_some_angle, least_angle, longest_at_width, turned_box};
