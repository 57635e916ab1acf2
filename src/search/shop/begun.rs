//! What exists when a search begins, as numbers: pieces that wait, copies that are half made, machines that print.
//!
//! Knows: minutes of the planner's clock, positions in the scenario. Must not know: where it was noted, plates, runs.
//! Promises: the empty one is the state at the build's start.

use crate::calendar::{Minute, clock_minutes};
use crate::routes::PartRoutes;

use super::{Class, NodeId, Shop};

/// What is there besides what the scenario still asks for. The empty one, which is the default, is nothing.
#[derive(Clone, Debug, Default)]
pub struct Begun {
    /// By assembly: when all its whole pieces that exist or print can be used, and the seconds of finishing that pieces need.
    pub assemblies: Vec<(Minute, f64)>,
    /// Copies of which some lengths are still to be printed; none of them is among the scenario's copies.
    pub open: Vec<OpenCopy>,
    /// Copies whose lengths all exist or print, to be joined.
    pub joins: Vec<OpenCopy>,
    /// By part: copies up to this number are the trial; 0: there is none, or it is approved.
    pub trial_numbers: Vec<u32>,
    /// By part: when the trial copies that exist or print are all printed.
    pub trials: Vec<Option<Minute>>,
    /// By machine: when the run on it ends.
    pub printing: Vec<Option<Minute>>,
}

/// A copy in lengths that are not all joined.
#[derive(Clone, Debug)]
pub struct OpenCopy {
    /// Position of the part.
    pub part: usize,
    /// Which copy.
    pub number: u32,
    /// Position of its form in the part's routes.
    pub form: usize,
    /// The assembly that takes it; `None`: a spare.
    pub assembly: Option<usize>,
    /// Which lengths are missing, from 1.
    pub missing: Vec<u32>,
    /// When those that are not are printed.
    pub printed: Minute,
}

/// A copy that is only to be joined, as numbers.
#[derive(Clone, Debug)]
pub struct Join {
    /// The copy.
    pub copy: OpenCopy,
    /// The node that takes it.
    pub node: NodeId,
    /// Minutes of bench work.
    pub work: Minute,
    /// Elapsed minutes afterwards.
    pub cure: Minute,
}

impl Begun {
    /// Half-made copies of a part.
    pub(super) fn open_of(&self, part: usize) -> impl Iterator<Item = &OpenCopy> {
        self.open.iter().filter(move |copy| copy.part == part)
    }

    /// Whether some half-made or unjoined copy of a part is a spare.
    pub(super) fn has_spare(&self, part: usize) -> bool {
        let copies = self.open.iter().chain(&self.joins);
        copies
            .into_iter()
            .any(|copy| copy.part == part && copy.assembly.is_none())
    }
}

impl Shop {
    /// Takes over, by node, when pieces are there and what finishing they need.
    pub(super) fn take_pieces(&mut self, begun: &Begun, node_of: &[NodeId]) {
        for (&(there, finishing), &node) in begun.assemblies.iter().zip(node_of) {
            let node = &mut self.nodes[node as usize];
            node.there = there;
            node.finishing = finishing;
        }
    }

    /// Takes over a part's copies that are only to be joined, those that are spares for `spare`.
    pub(super) fn take_joins(
        &mut self,
        routes: &[PartRoutes],
        begun: &Begun,
        part: usize,
        node_of: &[NodeId],
        spare: Option<NodeId>,
    ) {
        for copy in begun.joins.iter().filter(|copy| copy.part == part) {
            let form = &routes[copy.part].forms[copy.form];
            let Some(node) = copy.assembly.map(|a| node_of[a]).or(spare) else {
                continue;
            };
            let work = clock_minutes(form.glue);
            self.join_money += form.hardware.0 + f64::from(work) * self.bench_minute;
            self.joins.push(Join {
                copy: copy.clone(),
                node,
                work,
                cure: clock_minutes(form.cure),
            });
        }
    }
}

/// The lengths of a kind that a class has to print.
pub fn positions(class: &Class, kind: &[u32]) -> Vec<u32> {
    let missing = class.open.as_ref().map(|open| &open.missing);
    let wanted = |length: &u32| missing.is_none_or(|missing| missing.contains(length));
    kind.iter().copied().filter(wanted).collect()
}
