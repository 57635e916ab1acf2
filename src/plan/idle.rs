//! Machines that print nothing while others do: from when on, and why, as far as that was found out.
//!
//! Knows: the scenario's words, moments in UTC. Must not know: how it was found out.
//! Promises: data only; a reason says no more than what was tried.

use chrono::{DateTime, Utc};

use crate::scenario::{MachineIndex, PartIndex};
use crate::units::Money;

/// A machine that prints nothing, or nothing more, while others print.
#[derive(Clone, Debug, PartialEq)]
pub struct Idle {
    /// Which.
    pub machine: MachineIndex,
    /// From when on; `None`: in the whole plan.
    pub from: Option<DateTime<Utc>>,
    /// Why.
    pub why: Unused,
}

/// Why nothing of what others print, from then on, is printed on a machine.
#[derive(Clone, Debug, PartialEq)]
pub enum Unused {
    /// It is out of use until the others have ended.
    Out,
    /// It takes none of the materials.
    Material,
    /// Its parts may not be made on it, as they say.
    Forbidden,
    /// None of them fits it: too large, or too long for its belt.
    Size,
    /// None of them can be made on it, each for one of the reasons above.
    NoWay,
    /// Somebody must watch it, and bench hours are too short for any piece.
    Hours,
    /// Moves of runs, or of some of their pieces, to it were dated and costed one by one, and none is cheaper.
    Dearer {
        /// How many moves.
        moves: usize,
        /// Of the cheapest: the run, its name.
        run: String,
        /// Its pieces that would move: part and number; all of the run's where `whole`.
        pieces: Vec<(PartIndex, u32)>,
        /// Whether the whole run would move.
        whole: bool,
        /// By how much the plan would be dearer; nothing: it would cost the same.
        by: Money,
    },
    /// So many kinds of part could be made on it; more is not known.
    Fits(usize),
}
