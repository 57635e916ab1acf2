//! From printed pieces to complete nodes, and what their lateness costs; only what a change touches is computed again.
//!
//! Knows: the build graph, facts of sheets. Must not know: plates, moves, machines' prices.
//! Promises: after `note` and `settle` the dates are those of the facts; `take_back` restores those before.

use crate::calendar::Minute;

use super::bench_work::{BenchWork, GlueTask, Stretch};
use super::facts::SheetFacts;
use super::hands::HandsProfile;
use super::shop::{Node, NodeId, Shop};

/// Dates of nodes and their cost.
#[derive(Clone, Debug)]
pub struct Completion {
    /// When the last whole piece of each node is printed.
    printed: Vec<Minute>,
    /// Complete and could-start dates.
    pub work: BenchWork,
    /// Money of lateness and of the days until the end.
    cost: f64,
    /// Of that, the money of lateness.
    late: f64,
    touched: Vec<NodeId>,
    is_touched: Vec<bool>,
    undo_printed: Vec<(NodeId, Minute)>,
    undo_complete: Vec<(NodeId, Minute)>,
    undo_cost: f64,
    undo_late: f64,
}

impl Completion {
    /// Nothing printed, nothing dated.
    pub fn new(shop: &Shop) -> Self {
        let nodes = shop.nodes.len();
        Self {
            printed: shop.nodes.iter().map(|node| node.there).collect(),
            work: BenchWork::new(shop),
            cost: 0.0,
            late: 0.0,
            touched: Vec::new(),
            is_touched: vec![false; nodes],
            undo_printed: Vec::new(),
            undo_complete: Vec::new(),
            undo_cost: 0.0,
            undo_late: 0.0,
        }
    }

    /// Money of lateness and of the days until the end.
    pub fn cost(&self) -> f64 {
        self.cost
    }

    /// Of that, the money of lateness.
    pub fn late(&self) -> f64 {
        self.late
    }

    /// Notes that a node's pieces may have moved.
    pub fn touch(&mut self, node: NodeId) {
        let known = &mut self.is_touched[node as usize];
        if !*known {
            *known = true;
            self.touched.push(node);
        }
    }

    /// Begins a change that may be taken back.
    pub fn begin(&mut self) {
        self.undo_printed.clear();
        self.undo_complete.clear();
        self.undo_cost = self.cost;
        self.undo_late = self.late;
    }

    /// Restores what was before `begin`.
    pub fn take_back(&mut self) {
        for (node, printed) in self.undo_printed.drain(..) {
            self.printed[node as usize] = printed;
        }
        for (node, complete) in self.undo_complete.drain(..).rev() {
            self.work.complete[node as usize] = complete;
        }
        self.cost = self.undo_cost;
        self.late = self.undo_late;
    }

    /// Brings `printed` up to date for the touched nodes. `changed` are the facts set aside, with their machines.
    pub fn note(
        &mut self,
        shop: &Shop,
        facts: &[SheetFacts],
        changed: &[(usize, SheetFacts, usize)],
    ) {
        for &node in &self.touched {
            let n = node as usize;
            self.is_touched[n] = false;
            let before = self.printed[n];
            let (mut was, mut is) = (0, 0);
            for (machine, old, _) in changed {
                was = was.max(old.last[n]);
                is = is.max(facts[*machine].last[n]);
            }
            // Only where a sheet that was the last is so no longer must the others be asked.
            let now = if is >= before {
                is
            } else if was < before {
                before
            } else {
                last(shop, facts, n)
            };
            if now != before {
                self.undo_printed.push((node, before));
                self.printed[n] = now;
            }
        }
        self.touched.clear();
    }

    /// Brings `printed` up to date for all nodes.
    pub fn note_all(&mut self, shop: &Shop, facts: &[SheetFacts]) {
        self.touched.clear();
        self.is_touched.fill(false);
        for (n, printed) in self.printed.iter_mut().enumerate() {
            *printed = last(shop, facts, n);
        }
    }

    /// Dates the nodes after those whose printing moved, where nothing but setups needs the bench.
    pub fn settle(&mut self, shop: &Shop) {
        debug_assert!(!shop.has_bench_work);
        let mut open = 0;
        let mut first = usize::MAX;
        for &(node, _) in &self.undo_printed {
            self.is_touched[node as usize] = true;
            open += 1;
            first = first.min(node as usize);
        }
        // Nodes stand in topological order, so one pass meets each after all that it needs.
        let mut n = first;
        while open > 0 {
            if std::mem::take(&mut self.is_touched[n]) {
                open -= 1;
                let node = &shop.nodes[n];
                let needs = node.needs.iter();
                let start = needs
                    .map(|&need| self.work.complete[need as usize])
                    .fold(self.printed[n], Minute::max);
                let now = start.saturating_add(node.cure);
                let before = std::mem::replace(&mut self.work.complete[n], now);
                if now != before {
                    self.undo_complete.push((n as NodeId, before));
                    let later = late(node, now) - late(node, before);
                    self.late += later;
                    self.cost += later;
                    for &after in self.work.successors(n) {
                        let waiting = &mut self.is_touched[after as usize];
                        open += usize::from(!*waiting);
                        *waiting = true;
                    }
                }
            }
            n += 1;
        }
        if shop.each_minute > 0.0 && !self.undo_complete.is_empty() {
            self.recount(shop);
        }
    }

    /// Dates everything afresh. `false` if something is not complete before the horizon.
    pub fn settle_all(
        &mut self,
        shop: &Shop,
        hands: &HandsProfile,
        minutes: &[Minute],
        glue: &[GlueTask],
        record: Option<&mut Vec<Stretch>>,
    ) -> bool {
        if shop.has_bench_work {
            if !self
                .work
                .date(shop, hands, &self.printed, minutes, glue, record)
            {
                return false;
            }
        } else {
            self.work.without_work(shop, &self.printed);
        }
        self.recount(shop);
        true
    }

    fn recount(&mut self, shop: &Shop) {
        let mut finish = 0;
        self.late = 0.0;
        for (node, &complete) in shop.nodes.iter().zip(&self.work.complete) {
            self.late += late(node, complete);
            if node.assembly.is_some() {
                finish = finish.max(complete);
            }
        }
        self.cost = self.late + f64::from(finish) * shop.each_minute;
    }
}

/// When a node's last whole piece is printed, on any sheet or before the search began.
fn last(shop: &Shop, facts: &[SheetFacts], node: usize) -> Minute {
    let sheets = facts.iter().map(|f| f.last[node]);
    sheets.fold(shop.nodes[node].there, Minute::max)
}

/// Money of a node's lateness.
fn late(node: &Node, complete: Minute) -> f64 {
    f64::from(complete.saturating_sub(node.due).max(0)) * node.late
}
