//! Boxes and outlines: what fits inside what, at which angle; cross-sections: how stiff they are.
//!
//! Knows: lengths and angles. Must not know: machines, parts, margins, time.
//! Promises: whatever it says fits does so to within [`TOLERANCE`], and it refuses nothing that truly fits.

mod apart;
pub mod mesh;
mod outline;
mod rectangle;
mod section;

pub use apart::apart;
pub use outline::{Extent, Outline, sin_cos};
pub use rectangle::{TOLERANCE, fits_at_some_angle, least_angle, longest_at_width, turned_box};
pub use section::{
    Section, Walls, coarse_pitch, full_box, hollow_box, inside, rod, square_tube, threaded_rod,
    tube,
};
