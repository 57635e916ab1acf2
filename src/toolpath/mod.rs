//! What the moves of a tool head come to: how long they take, how much filament they press, how large what they lay is.
//!
//! Knows: plain moves, one after the other. Must not know: files, the words of a program, scenarios.
//! Promises: memory does not grow with the number of moves (but for the different heights, of which there are
//! [`MOST_HEIGHTS`]); never less time than a move's length at its speed.

mod arc;
mod motion;
mod tally;

pub use arc::{Arc, NoArc};
pub use motion::{Kinematics, Planner};
pub use tally::{Figures, MOST_HEIGHTS, MOST_TOOLS, Tally, TooMany};

/// One move, in mm.
#[derive(Clone, Copy, Debug)]
pub struct Move {
    /// How far the head goes along its path; 0: it stands.
    pub length: f64,
    /// Direction in which it sets out, of length 1 (of no meaning where it stands).
    pub out: [f64; 3],
    /// Direction in which it arrives.
    pub arrival: [f64; 3],
    /// Least and greatest coordinates on the path.
    pub reach: [[f64; 3]; 2],
    /// The radius of an arc.
    pub radius: Option<f64>,
    /// Filament pressed, mm; negative: drawn back.
    pub filament: f64,
    /// The speed that is asked for, mm/s, above 0: along the path, or of the filament where the head stands.
    pub speed: f64,
}

impl Move {
    /// A straight move (or none, where both ends are the same).
    pub fn line(from: [f64; 3], to: [f64; 3], filament: f64, speed: f64) -> Self {
        let way = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
        let length = (way[0] * way[0] + way[1] * way[1] + way[2] * way[2]).sqrt();
        let direction = way.map(|side| if length > 0.0 { side / length } else { 0.0 });
        let low = [0, 1, 2].map(|axis| from[axis].min(to[axis]));
        let high = [0, 1, 2].map(|axis| from[axis].max(to[axis]));
        Self {
            length,
            out: direction,
            arrival: direction,
            reach: [low, high],
            radius: None,
            filament,
            speed,
        }
    }

    /// A move along an arc.
    pub fn arc(arc: &Arc, filament: f64, speed: f64) -> Self {
        let (out, arrival) = arc.directions();
        Self {
            length: arc.length(),
            out,
            arrival,
            reach: arc.reach(),
            radius: Some(arc.radius()),
            filament,
            speed,
        }
    }
}
