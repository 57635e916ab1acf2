//! What a plan of the rest of a build goes on from: pieces that exist or print, and runs that stand.
//!
//! Knows: the scenario's words, moments in UTC. Must not know: where it was noted.
//! Promises: data only; moments that are planned from are whole minutes, rounded up; when a run was started, stops or has ended is as
//! it was noted.

use chrono::{DateTime, Utc};

use super::{Cost, Piece};
pub use crate::progress::Ended;
use crate::scenario::{AssemblyIndex, FilamentIndex, MachineIndex, Outage, PartIndex};
use crate::units::Money;

/// What there is when the rest is planned. The plan's cost is of what is left: what was printed, and what prints, is paid.
#[derive(Clone, Debug, PartialEq)]
pub struct Since {
    /// The moment; nothing is set up before it.
    pub now: DateTime<Utc>,
    /// Pieces that the plan counts on. What has gone into a complete assembly is not among them.
    pub pieces: Vec<Given>,
    /// Runs that are printing.
    pub running: Vec<Standing>,
    /// Runs that have ended, each with every start that has come to an end, in the order of these.
    pub ended: Vec<Ended>,
    /// Machines that are out of order, from that moment on, besides what the scenario says.
    pub down: Vec<(MachineIndex, Outage)>,
    /// Assemblies whose bench work is done: when each is or will be complete, its cure included; in the scenario's order.
    pub complete: Vec<(AssemblyIndex, DateTime<Utc>)>,
    /// What each run costs that the accepted plan does not have on that machine within half a day.
    pub churn: Money,
    /// Whether there is an accepted plan.
    pub accepted: bool,
    /// In words: where the scenario is otherwise than when that was accepted.
    pub differences: Vec<String>,
    /// What the rest would cost if the accepted plan's order were kept; `None`: there is none, or it cannot be kept.
    pub kept: Option<Cost>,
    /// What is done otherwise than in the accepted plan.
    pub changes: Vec<Change>,
    /// Runs besides that start at another minute than was accepted, on their machine within half a day.
    pub shifted: usize,
    /// Firm runs of the accepted plan that may be possible as they were accepted, but for which no queue was found that has them so: their
    /// names there. Each is among the changes.
    pub yielded: Vec<String>,
}

/// A run that is otherwise than in the accepted plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Its name: in the new plan, or in the accepted one where the new one has no such run.
    pub run: String,
    /// Its name in the accepted plan; `None`: that had no such run.
    pub was: Option<String>,
    /// Where and when it would have started; a machine's name, since the scenario may have it no more.
    pub from: Option<(String, DateTime<Utc>)>,
    /// Where and when it starts; `None`: not at all.
    pub to: Option<(MachineIndex, DateTime<Utc>)>,
    /// The reason, in words.
    pub why: String,
    /// By how much its machine and energy cost more than before; `None`: the machine that it was on is gone.
    pub money: Option<Money>,
}

/// A piece that exists or prints.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Given {
    /// Which part.
    pub part: PartIndex,
    /// Which copy of it, from 1.
    pub number: u32,
    /// Which length of that copy, from 1.
    pub length: u32,
    /// Lengths that make the copy.
    pub of: u32,
    /// What it is used for; `None`: a spare.
    pub assembly: Option<AssemblyIndex>,
    /// When it is printed.
    pub printed: DateTime<Utc>,
    /// When its copy's joint has cured, if it has been joined.
    pub joined: Option<DateTime<Utc>>,
}

/// A run that was started and stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Its name in the plan that it was started from.
    pub id: String,
    /// Where.
    pub machine: MachineIndex,
    /// What it prints with; `None`: what the scenario has no more.
    pub filament: Option<FilamentIndex>,
    /// When it was started.
    pub start: DateTime<Utc>,
    /// When it should end, as long as it stands without filament included; no sooner than now.
    pub end: DateTime<Utc>,
    /// When it should have ended, where that is before now and its end is not noted.
    pub overdue: Option<DateTime<Utc>>,
    /// When its spool ends with nobody there, so that it stands until somebody comes. `None`: it does not.
    pub stops: Option<DateTime<Utc>>,
    /// What is on it, in the order of its map; each for what it is used for now. What serves nothing is a spare.
    pub pieces: Vec<Piece>,
}

impl Since {
    /// Whether an assembly's bench work is done.
    pub fn is_complete(&self, assembly: AssemblyIndex) -> bool {
        self.complete_at(assembly).is_some()
    }

    /// When an assembly whose bench work is done is complete.
    pub fn complete_at(&self, assembly: AssemblyIndex) -> Option<DateTime<Utc>> {
        let found = self.complete.iter().find(|(done, _)| *done == assembly);
        found.map(|&(_, at)| at)
    }
}
