//! What a rod or tube looks like across.
//!
//! Knows: how its section follows from what a shop calls it. Must not know: materials, loads.
//! Promises: a wall is thinner than half the outside.

use crate::geometry::{Section, coarse_pitch, rod, square_tube, threaded_rod, tube};

/// The cross-section of a rod or tube; mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Profile {
    /// A rod with a coarse metric thread, by its nominal diameter.
    Thread {
        /// Nominal diameter.
        diameter: u32,
        /// Pitch.
        pitch: f64,
    },
    /// A plain round bar.
    Rod {
        /// Diameter.
        diameter: f64,
    },
    /// A round tube.
    Tube {
        /// Outside diameter.
        outside: f64,
        /// Wall.
        wall: f64,
    },
    /// A square tube.
    Square {
        /// Outside.
        side: f64,
        /// Wall.
        wall: f64,
    },
}

impl Profile {
    /// Area and stiffness.
    pub fn section(&self) -> Section {
        match *self {
            Profile::Thread { diameter, pitch } => threaded_rod(f64::from(diameter), pitch),
            Profile::Rod { diameter } => rod(diameter),
            Profile::Tube { outside, wall } => tube(outside, wall),
            Profile::Square { side, wall } => square_tube(side, wall),
        }
    }

    /// The room that it needs on each side, mm.
    pub fn outside(&self) -> f64 {
        match *self {
            Profile::Thread { diameter, .. } => f64::from(diameter),
            Profile::Rod { diameter } => diameter,
            Profile::Tube { outside, .. } => outside,
            Profile::Square { side, .. } => side,
        }
    }

    /// A threaded rod; `None` where no coarse thread has this diameter.
    pub(super) fn thread(diameter: u32) -> Option<Self> {
        coarse_pitch(diameter).map(|pitch| Profile::Thread { diameter, pitch })
    }
}
