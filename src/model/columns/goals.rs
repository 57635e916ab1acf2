//! What lateness costs, flattened: every node that costs money becomes a *goal*, a nondecreasing function of the ends of
//! the runs under it.
//!
//! Knows: the build graph and the bench windows. Must not know: machines, sheets, prices.
//! Promises: a goal's completion is exactly the largest of its runs' `reach`, and of its `floor`.
//!
//! A node completes at `A(max of what it waits for)`, where `A` adds the work in bench minutes and the cure. `A` never
//! falls, so `A(max(a, b)) = max(A(a), A(b))`, and by induction over the graph a node's completion is the maximum over the
//! runs under it of that run's end carried along each path. Hands are not heeded: with fewer hands than work every
//! completion is later or equal, so a bound for this shop is a bound for the real one.

use super::super::packed::PackedShop;
use super::dating::NEVER;
use crate::calendar::{Minute, Window};

/// A cost that grows with the completion of a set of runs.
#[derive(Debug)]
pub struct Goal {
    /// Completion is never before.
    pub floor: Minute,
    /// Lateness counts from here.
    pub due: Minute,
    /// Money per minute late.
    pub rate: f64,
    /// Runs under it.
    pub runs: Vec<usize>,
    /// The node; `None`: all nodes (the whole build).
    node: Option<usize>,
}

impl Goal {
    /// Money for completion at `minute`.
    pub fn cost(&self, minute: Minute) -> f64 {
        f64::from((minute - self.due).max(0)) * self.rate
    }
}

/// The goals of a shop and how a run's end reaches them.
#[derive(Debug)]
pub struct Goals<'a> {
    shop: &'a PackedShop,
    /// All goals.
    pub list: Vec<Goal>,
    /// Minutes of presence before each window opens.
    before: Vec<i64>,
}

impl<'a> Goals<'a> {
    /// Flattens the graph.
    pub fn new(shop: &'a PackedShop) -> Self {
        let mut before = vec![0i64];
        for w in &shop.windows {
            before.push(before[before.len() - 1] + i64::from(w.close - w.open));
        }
        let mut goals = Self {
            shop,
            list: Vec::new(),
            before,
        };
        let dated = shop.nodes.iter().enumerate();
        let mut wanted: Vec<(Option<usize>, Minute, f64)> = dated
            .filter_map(|(k, n)| {
                n.due
                    .filter(|_| n.late > 0.0)
                    .map(|due| (Some(k), due, n.late))
            })
            .collect();
        if shop.each_day > 0.0 && !shop.nodes.is_empty() {
            wanted.push((None, 0, shop.each_day));
        }
        for (node, due, per_day) in wanted {
            let under = goals.under(node);
            let runs: Vec<usize> = (0..shop.runs.len())
                .filter(|&r| shop.runs[r].feeds.iter().any(|&n| under[n]))
                .collect();
            let mut goal = Goal {
                floor: 0,
                due,
                rate: per_day / 1440.0,
                runs,
                node,
            };
            goal.floor = goals.completion(&goal, None);
            goals.list.push(goal);
        }
        goals
    }

    /// Completion of a goal when one run ends at `end` and all others at once: the run's reach.
    pub fn reach(&self, goal: &Goal, run: usize, end: Minute) -> Minute {
        self.completion(goal, Some((run, end)))
    }

    /// Whether a run's reach is its end, at least from the goal's floor on: the nodes between take no time.
    pub fn direct(&self, goal: &Goal) -> bool {
        let under = self.under(goal.node);
        (0..self.shop.nodes.len())
            .all(|n| !under[n] || (self.shop.nodes[n].work == 0 && self.shop.nodes[n].cure == 0))
    }

    /// Completion of a goal by the ends of all runs.
    pub fn completion_of(&self, goal: &Goal, ends: &[Minute]) -> Minute {
        goal.runs
            .iter()
            .map(|&r| self.reach(goal, r, ends[r]))
            .max()
            .unwrap_or(0)
            .max(goal.floor)
    }

    fn under(&self, node: Option<usize>) -> Vec<bool> {
        let mut under = vec![node.is_none(); self.shop.nodes.len()];
        if let Some(node) = node {
            under[node] = true;
            for n in (0..=node).rev() {
                if under[n] {
                    for &b in &self.shop.nodes[n].needs {
                        under[b] = true;
                    }
                }
            }
        }
        under
    }

    fn completion(&self, goal: &Goal, run: Option<(usize, Minute)>) -> Minute {
        let last = goal.node.unwrap_or(self.shop.nodes.len() - 1);
        let mut complete: Vec<Minute> = Vec::with_capacity(last + 1);
        for (k, node) in self.shop.nodes[..=last].iter().enumerate() {
            let mut start = node.needs.iter().map(|&b| complete[b]).max().unwrap_or(0);
            if let Some((r, end)) = run
                && self.shop.runs[r].feeds.contains(&k)
            {
                start = start.max(end);
            }
            complete.push(self.worked(start, node.work).saturating_add(node.cure));
        }
        match goal.node {
            Some(node) => complete[node],
            None => complete.into_iter().max().unwrap_or(0),
        }
    }

    /// The moment at which `work` bench minutes from `start` on are over.
    fn worked(&self, start: Minute, work: Minute) -> Minute {
        if work == 0 {
            return start;
        }
        let windows = &self.shop.windows;
        let at = windows.partition_point(|w| w.close <= start);
        let Some(&Window { open, .. }) = windows.get(at) else {
            return NEVER;
        };
        let target = self.before[at] + i64::from((start - open).max(0)) + i64::from(work);
        // The window in which the target minute is reached: the last with less presence before it.
        let end = self.before.partition_point(|&b| b < target);
        if end > windows.len() {
            return NEVER;
        }
        windows[end - 1].open + (target - self.before[end - 1]) as Minute
    }
}
