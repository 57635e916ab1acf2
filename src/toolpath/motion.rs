//! How long moves take for a head that cannot change its speed at once.
//!
//! Knows: lengths, directions, speeds, one acceleration. Must not know: filament, files.
//! Promises: the speed is continuous along the path but for corners, never above the one asked for; the plan never
//! needs a longer way to stop than it has; memory is bounded.
//!
//! Every move is a trapezoid of speed over time (a triangle where it is short): it speeds up and slows down evenly. Before
//! a corner the head slows down to what the corner allows, and no further; to know how soon, the plan looks ahead, as is
//! common for motion planners (common practice, no source).

use std::collections::VecDeque;

use super::Move;

/// So many moves ahead are looked at; at their end the head is taken to stop. A real machine looks ahead less far.
const WINDOW: usize = 256;

/// How fast a head may change its speed and its direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kinematics {
    /// Acceleration along the path and toward the inside of a bend, mm/s².
    pub acceleration: f64,
    /// By how many mm a corner may be cut, see [`Planner`].
    pub deviation: f64,
}

impl Kinematics {
    /// Where nothing is said: 1000 mm/s² and 0.02 mm (common practice, no source).
    pub const USUAL: Self = Self {
        acceleration: 1000.0,
        deviation: 0.02,
    };
}

/// A move that is planned and not yet done. Speeds are squared, mm²/s².
#[derive(Clone, Copy, Debug)]
struct Block {
    length: f64,
    acceleration: f64,
    /// Most along it.
    most: f64,
    /// Most at its beginning.
    corner: f64,
    /// At its beginning, so that the head can stop within the moves that are known.
    entry: f64,
}

/// Adds up the time of moves as they come.
///
/// A corner is passed as if it were rounded: on the circle that touches both moves, no further from the corner than
/// `deviation` and no further along either move than its half, at the speed at which the acceleration keeps the head on
/// that circle, v² = a·r. With the angle θ between the moves (180°: straight on) the first of these gives
/// r = d·sin(θ/2) / (1 − sin(θ/2)), the second r = l/2·tan(θ/2). A curve that is drawn as many short moves is so passed
/// as fast as the arc itself. (Plain geometry; the idea is common practice, no source.)
#[derive(Clone, Debug)]
pub struct Planner {
    kinematics: Kinematics,
    blocks: VecDeque<Block>,
    /// Speed at the beginning of the first block, squared.
    entry: f64,
    /// The last move: its direction at its end, its length, its speed squared. `None`: the head stands.
    last: Option<([f64; 3], f64, f64)>,
    seconds: f64,
    /// The rest of what the sum of the seconds has rounded off.
    rest: f64,
}

impl Planner {
    /// A head at rest.
    pub fn new(kinematics: Kinematics) -> Self {
        Self {
            kinematics,
            blocks: VecDeque::with_capacity(WINDOW + 1),
            entry: 0.0,
            last: None,
            seconds: 0.0,
            rest: 0.0,
        }
    }

    /// Another acceleration from the next move on, mm/s².
    pub fn accelerate_by(&mut self, acceleration: f64) {
        self.kinematics.acceleration = acceleration;
    }

    /// Plans a move; one that has no length and presses nothing takes no time.
    pub fn take(&mut self, step: &Move) {
        if step.length <= 0.0 {
            self.stand();
            let length = step.filament.abs();
            if length > 0.0 {
                self.push(length, step.speed * step.speed, 0.0);
                self.stand();
            }
            return;
        }
        let acceleration = self.kinematics.acceleration;
        let asked = step.speed * step.speed;
        let most = match step.radius {
            // The same that holds the head on the circle of a corner holds it on an arc.
            Some(radius) => asked.min(acceleration * radius),
            None => asked,
        };
        let corner = match self.last {
            Some((direction, length, speed)) => {
                let bend = self.corner(direction, step.out, length.min(step.length));
                bend.min(speed).min(most)
            }
            None => 0.0,
        };
        self.push(step.length, most, corner);
        self.last = Some((step.arrival, step.length, most));
    }

    /// The head stops, and everything else waits for so many seconds.
    pub fn wait(&mut self, seconds: f64) {
        self.stand();
        self.add(seconds);
    }

    /// The head stops.
    pub fn stand(&mut self) {
        let all = self.blocks.len();
        self.finish_first(all);
        self.last = None;
    }

    /// Seconds of all moves, the head at rest after the last.
    pub fn finish(mut self) -> f64 {
        self.stand();
        self.seconds + self.rest
    }

    /// Most speed, squared, in a corner between two moves of which the shorter has this length.
    fn corner(&self, before: [f64; 3], after: [f64; 3], shorter: f64) -> f64 {
        let cosine = (0..3).map(|axis| before[axis] * after[axis]).sum::<f64>();
        if cosine >= 1.0 - 1e-12 {
            return f64::INFINITY;
        }
        // θ = 180° less the turn: sin(θ/2) = √((1 + cos turn) / 2), tan(θ/2) = √((1 + cos turn) / (1 − cos turn)).
        let ahead = (1.0 + cosine).max(0.0);
        let sine = (0.5 * ahead).sqrt();
        let by_deviation = self.kinematics.deviation * sine / (1.0 - sine);
        let by_length = 0.5 * shorter * (ahead / (1.0 - cosine)).sqrt();
        self.kinematics.acceleration * by_deviation.min(by_length)
    }

    fn push(&mut self, length: f64, most: f64, corner: f64) {
        if self.blocks.len() >= WINDOW {
            self.finish_first(WINDOW / 2);
        }
        self.blocks.push_back(Block {
            length,
            acceleration: self.kinematics.acceleration,
            most,
            corner,
            entry: 0.0,
        });
    }

    /// Does the first so many moves, with the head at rest after the last that is known.
    fn finish_first(&mut self, count: usize) {
        // Backward: no faster into a move than it can slow down in it to what comes after.
        let mut after = 0.0;
        for block in self.blocks.iter_mut().rev() {
            let slowing = after + 2.0 * block.acceleration * block.length;
            block.entry = block.corner.min(slowing);
            after = block.entry;
        }
        // Forward: no faster out of a move than it can speed up in it. The first block's entry is what the moves before have
        // left, and what follows now only lets it be slowed down later: it can always be kept.
        let mut entry = self.entry;
        for at in 0..count {
            let block = self.blocks[at]; // `count` is at most what there is
            let wish = self.blocks.get(at + 1).map_or(0.0, |next| next.entry);
            let exit = wish.min(entry + 2.0 * block.acceleration * block.length);
            self.add(seconds(&block, entry, exit));
            entry = exit;
        }
        self.blocks.drain(..count);
        self.entry = entry;
    }

    /// Adds with the rounding error carried along (W. Kahan, 1965; from memory), since a long file has millions of moves.
    fn add(&mut self, seconds: f64) {
        let more = seconds + self.rest;
        let sum = self.seconds + more;
        self.rest = more - (sum - self.seconds);
        self.seconds = sum;
    }
}

/// Seconds of one move with these speeds (squared) at its ends.
fn seconds(block: &Block, entry: f64, exit: f64) -> f64 {
    let Block {
        length,
        acceleration,
        most,
        ..
    } = *block;
    // Speeding up from u to p and slowing down to w takes (p² − u² + p² − w²) / 2a of way: all of it at the peak p.
    let peak = (acceleration * length + 0.5 * (entry + exit)).min(most.max(entry).max(exit));
    let (top, from, to) = (peak.sqrt(), entry.sqrt(), exit.sqrt());
    let changing = ((top - from) + (top - to)) / acceleration;
    let steady = length - (2.0 * peak - entry - exit) / (2.0 * acceleration);
    changing + steady.max(0.0) / top
}

#[cfg(test)]
#[path = "motion_tests.rs"]
mod tests;
