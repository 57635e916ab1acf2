//! Dates the bench work: gluing of split copies, then each assembly's finishing and bench minutes, then its cure.
//!
//! Knows: when pieces are printed, which minutes setups leave free. Must not know: machines, plates, prices.
//! Promises: setups go first; of what is ready, the most urgent is done first and may be interrupted; one pair of hands
//! at a time on one thing; nothing outside bench hours.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::calendar::Minute;

use super::hands::HandsProfile;
use super::shop::{ItemId, NodeId, Shop};

/// The item of a copy that is only to be joined: the task stands where its copy does in [`Shop::joins`].
pub const NO_ITEM: ItemId = ItemId::MAX;

/// Joining of one copy.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GlueTask {
    /// What is joined.
    pub item: ItemId,
    /// All its lengths are printed.
    pub release: Minute,
    /// Minutes of bench work.
    pub work: Minute,
    /// Elapsed minutes afterwards.
    pub cure: Minute,
    /// What waits for it.
    pub node: NodeId,
}

/// A stretch of work on a task, as recorded for the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Below the number of nodes: that node; from there on, glue tasks in the order given.
    pub task: u32,
    /// First minute.
    pub from: Minute,
    /// First minute after.
    pub to: Minute,
}

/// Workspace and result of dating the bench work.
#[derive(Clone, Debug, Default)]
pub struct BenchWork {
    /// For each node the minute it is complete.
    pub complete: Vec<Minute>,
    /// For each node the minute from which its own work could be done.
    pub could_start: Vec<Minute>,
    /// For each glue task the minute its copy is there.
    pub glued: Vec<Minute>,
    open: Vec<u32>,
    release: Vec<Minute>,
    left: Vec<Minute>,
    events: BinaryHeap<Reverse<(Minute, u32)>>,
    ready: BinaryHeap<Reverse<(u32, u32)>>,
    segments: Vec<(Minute, Minute, u32)>,
    held: Vec<(u32, u32)>,
    successors: Vec<Vec<NodeId>>,
}

impl BenchWork {
    /// A workspace for a shop.
    pub fn new(shop: &Shop) -> Self {
        let mut successors = vec![Vec::new(); shop.nodes.len()];
        for (n, node) in shop.nodes.iter().enumerate() {
            for &need in &node.needs {
                successors[need as usize].push(n as NodeId);
            }
        }
        Self {
            successors,
            ..Self::default()
        }
    }

    /// Dates everything. `printed[n]` is when node n's whole pieces are printed, `work[n]` its bench minutes with finishing.
    ///
    /// `false` if something is not complete before the horizon.
    pub fn date(
        &mut self,
        shop: &Shop,
        hands: &HandsProfile,
        printed: &[Minute],
        work: &[Minute],
        glue: &[GlueTask],
        mut record: Option<&mut Vec<Stretch>>,
    ) -> bool {
        let nodes = shop.nodes.len();
        self.complete.clear();
        self.complete.resize(nodes, Minute::MAX);
        self.could_start.clear();
        self.could_start.resize(nodes, 0);
        self.glued.clear();
        self.glued.resize(glue.len(), Minute::MAX);
        self.open.clear();
        self.open
            .extend(shop.nodes.iter().map(|n| n.needs.len() as u32));
        self.release.clear();
        self.release.extend_from_slice(printed);
        self.left.clear();
        self.left.extend_from_slice(work);
        self.left.extend(glue.iter().map(|g| g.work));
        self.events.clear();
        self.ready.clear();
        for (g, task) in glue.iter().enumerate() {
            self.open[task.node as usize] += 1;
            self.events
                .push(Reverse((task.release, (nodes + g) as u32)));
        }
        for n in 0..nodes {
            if self.open[n] == 0 {
                self.events.push(Reverse((self.release[n], n as u32)));
            }
        }
        let mut window = 0;
        let mut cursor = 0;
        self.segments.clear();
        let mut now = 0;
        loop {
            while let Some(&Reverse((at, task))) = self.events.peek() {
                if at > now {
                    break;
                }
                self.events.pop();
                if (task as usize) < nodes {
                    self.could_start[task as usize] = at;
                }
                if self.left[task as usize] == 0 {
                    self.done(shop, glue, task, at);
                } else {
                    self.ready
                        .push(Reverse((self.rank(shop, glue, task), task)));
                }
            }
            if self.ready.is_empty() {
                match self.events.peek() {
                    Some(&Reverse((at, _))) => {
                        now = now.max(at);
                        continue;
                    }
                    None => break,
                }
            }
            // The stretch of free hands that holds `now`, or the next one.
            let (from, to, free) = loop {
                while cursor < self.segments.len() && self.segments[cursor].1 <= now {
                    cursor += 1;
                }
                if let Some(&segment) = self.segments.get(cursor) {
                    break segment;
                }
                window = window.max(shop.calendar.window_at_or_after(now));
                if window >= shop.calendar.windows().len() {
                    return false;
                }
                self.free_hands(shop, hands, window);
                cursor = 0;
                window += 1;
            };
            if from > now {
                // Something more urgent may become ready before hands are free.
                now = match self.events.peek() {
                    Some(&Reverse((at, _))) if at <= from => at,
                    _ => from,
                };
                continue;
            }
            let mut until = to;
            if let Some(&Reverse((at, _))) = self.events.peek() {
                until = until.min(at);
            }
            self.held.clear();
            while (self.held.len() as u32) < free {
                let Some(Reverse(top)) = self.ready.pop() else {
                    break;
                };
                until = until.min(now + self.left[top.1 as usize]);
                self.held.push(top);
            }
            let spent = until - now;
            for i in 0..self.held.len() {
                let (rank, task) = self.held[i];
                if let Some(list) = record.as_deref_mut() {
                    list.push(Stretch {
                        task,
                        from: now,
                        to: until,
                    });
                }
                self.left[task as usize] -= spent;
                if self.left[task as usize] == 0 {
                    self.done(shop, glue, task, until);
                } else {
                    self.ready.push(Reverse((rank, task)));
                }
            }
            now = until;
        }
        self.complete.iter().all(|&c| c < Minute::MAX)
    }

    /// Nodes that need a node.
    pub fn successors(&self, node: usize) -> &[NodeId] {
        &self.successors[node]
    }

    /// The same where nothing needs the bench besides setups: a node is complete with its last piece and what it needs.
    pub fn without_work(&mut self, shop: &Shop, printed: &[Minute]) {
        self.complete.clear();
        self.could_start.clear();
        for (node, &printed) in shop.nodes.iter().zip(printed) {
            let start = node
                .needs
                .iter()
                .map(|&need| self.complete[need as usize])
                .fold(printed, Minute::max);
            self.could_start.push(start);
            self.complete.push(start.saturating_add(node.cure));
        }
    }

    /// Gluing goes just before what it is for.
    fn rank(&self, shop: &Shop, glue: &[GlueTask], task: u32) -> u32 {
        let nodes = shop.nodes.len();
        match (task as usize).checked_sub(nodes) {
            None => 2 * shop.nodes[task as usize].rank + 1,
            Some(g) => 2 * shop.nodes[glue[g].node as usize].rank,
        }
    }

    fn done(&mut self, shop: &Shop, glue: &[GlueTask], task: u32, at: Minute) {
        let nodes = shop.nodes.len();
        if let Some(g) = (task as usize).checked_sub(nodes) {
            let there = at.saturating_add(glue[g].cure);
            self.glued[g] = there;
            self.wait_over(glue[g].node, there);
        } else {
            let complete = at.saturating_add(shop.nodes[task as usize].cure);
            self.complete[task as usize] = complete;
            for i in 0..self.successors[task as usize].len() {
                self.wait_over(self.successors[task as usize][i], complete);
            }
        }
    }

    fn wait_over(&mut self, node: NodeId, at: Minute) {
        let n = node as usize;
        self.release[n] = self.release[n].max(at);
        self.open[n] -= 1;
        if self.open[n] == 0 {
            self.events.push(Reverse((self.release[n], node)));
        }
    }

    /// Splits a window into stretches with the number of hands that setups leave free, those with none left out.
    fn free_hands(&mut self, shop: &Shop, hands: &HandsProfile, window: usize) {
        self.segments.clear();
        let span = shop.calendar.windows()[window];
        let Some(count) = shop.hands else {
            self.segments.push((span.open, span.close, u32::MAX));
            return;
        };
        let busy = hands.busy(window);
        if count == 1 {
            let mut at = span.open;
            for setup in busy {
                if setup.open > at {
                    self.segments.push((at, setup.open, 1));
                }
                at = at.max(setup.close);
            }
            if at < span.close {
                self.segments.push((at, span.close, 1));
            }
            return;
        }
        let mut edges: Vec<Minute> = busy.iter().flat_map(|s| [s.open, s.close]).collect();
        edges.extend([span.open, span.close]);
        edges.sort_unstable();
        edges.dedup();
        for pair in edges.windows(2) {
            let used = busy
                .iter()
                .filter(|s| s.open <= pair[0] && pair[0] < s.close)
                .count() as u32;
            if used < count {
                self.segments.push((pair[0], pair[1], count - used));
            }
        }
    }
}
