//! Boxes and outlines: what fits inside what, at which angle.
//!
//! Knows: lengths and angles. Must not know: machines, parts, margins, time.
//! Promises: whatever it says fits does so to within [`TOLERANCE`], and it refuses nothing that truly fits.

mod apart;
mod outline;
mod rectangle;

pub use apart::apart;
pub use outline::{Outline, sin_cos};
pub use rectangle::{TOLERANCE, fits_at_some_angle, least_angle, longest_at_width, turned_box};
