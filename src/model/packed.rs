//! The shop with its runs already packed, as numbers: what dating, pricing and exact search need and no more.
//!
//! Knows: minutes, money, colours by number. Must not know: scenarios, pieces, plates, files, how a plan is found.
//! Promises nothing of its own: whoever fills it in keeps `windows` sorted and disjoint, indices in range, node order
//! topological, minutes and money finite and not negative.

use crate::calendar::{Minute, Window};

/// Runs as packed, on machines, feeding a build graph.
#[derive(Clone, Debug)]
pub struct PackedShop {
    /// Bench windows, sorted, disjoint.
    pub windows: Vec<Window>,
    /// The machines.
    pub machines: Vec<PackedMachine>,
    /// The runs.
    pub runs: Vec<PackedRun>,
    /// The build graph, in topological order.
    pub nodes: Vec<PackedNode>,
    /// Money per day until the last node is complete.
    pub each_day: f64,
}

/// A machine as numbers.
#[derive(Clone, Debug)]
pub struct PackedMachine {
    /// Setup minutes without a colour change.
    pub turnaround: Minute,
    /// Further setup minutes for a change.
    pub swap: Minute,
    /// What is loaded at the start.
    pub loaded: Option<usize>,
    /// Money for a change to each colour (purge; bench minutes of the change not counted).
    pub change_cost: Vec<f64>,
    /// Money per setup minute.
    pub setup_minute: f64,
    /// Spans out of use, sorted, disjoint: neither setup nor run overlaps one.
    pub outages: Vec<Window>,
    /// Whether a run may print while nobody is there; otherwise setup and run lie in one window.
    pub unattended: bool,
    /// A belt: a run of the colour that is loaded follows the one before it with no setup, nobody needed. Here it may do so
    /// whenever it is ready and no outage is in its way; a plan has it set up anew unless it follows at once. Leaving that setup
    /// out makes no end later and no sheet dearer, so the bound holds.
    pub belt: bool,
}

/// A run as numbers.
#[derive(Clone, Debug)]
pub struct PackedRun {
    /// Filament.
    pub colour: usize,
    /// Printing does not start before.
    pub ready: Minute,
    /// For each machine its length in minutes and its money (printing hours, energy, plastic); `None`: not there.
    pub on: Vec<Option<(Minute, f64)>>,
    /// Nodes of the build graph that wait for this run.
    pub feeds: Vec<usize>,
}

/// A node of the build graph as numbers.
#[derive(Clone, Debug)]
pub struct PackedNode {
    /// Nodes that must be complete first; all of smaller index.
    pub needs: Vec<usize>,
    /// Bench minutes (one pair of hands, in windows, may be interrupted).
    pub work: Minute,
    /// Elapsed minutes after the work.
    pub cure: Minute,
    /// Due minute, if any.
    pub due: Option<Minute>,
    /// Money per day late.
    pub late: f64,
}
