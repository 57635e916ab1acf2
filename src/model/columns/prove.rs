//! The proof: a best-first tree of domains, each bounded by pricing, until the bound meets the cost or the caller stops it.
//!
//! Knows: everything in this folder. Must not know: scenarios, plans, hands.
//! Promises: `Proof::bound` is at most the cost of every plan for the packed shop, so of every plan at all that packs its runs
//! this way (a plan with limited hands is a plan without the limit); bounds reported never fall; the same number of rounds gives the same proof,
//! whatever the number of cores.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::sync::Arc;

use super::super::packed::PackedShop;
use super::domain::Domain;
use super::frame::Frame;
use super::node::Work;
use super::pricing::Prices;
use crate::calendar::Minute;

/// What is known before the proof starts.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// Cost of the best plan known; infinite if there is none. The lower, the more the proof can rule out.
    pub cost: f64,
    /// Good sheets (machine, runs in order).
    pub sheets: &'a [(usize, Vec<usize>)],
}

/// How far a proof is.
#[derive(Clone, Copy, Debug)]
pub struct Progress {
    /// Pricing rounds so far.
    pub iterations: usize,
    /// No plan costs less.
    pub bound: f64,
    /// Sheets in the pool.
    pub columns: usize,
    /// Open nodes of the tree.
    pub open: usize,
}

/// A bound and what came with it.
#[derive(Clone, Debug)]
pub struct Proof {
    /// No plan costs less; infinite if there is no plan at all.
    pub bound: f64,
    /// Whether nothing cheaper than the known cost (or than `best`) is left.
    pub optimal: bool,
    /// A set of sheets, by machine, that costs less than what was known, and its cost; hands not heeded.
    pub best: Option<(f64, Vec<Vec<usize>>)>,
    /// Pricing rounds.
    pub iterations: usize,
    /// Nodes of the tree.
    pub nodes: usize,
    /// Sheets in the pool.
    pub columns: usize,
}

/// Money below which two costs are the same.
pub const SAME: f64 = 1e-6;

/// Length of a ladder's cells. With 1 h or 6 h instead, the bound at 60 runs is 1 % lower after the same number of rounds.
const CELL: Minute = 120;

/// A domain yet to be looked at.
#[derive(Debug)]
pub struct Node {
    /// No plan of the domain costs less.
    pub bound: f64,
    /// When it was made.
    pub number: usize,
    /// The plans.
    pub domain: Domain,
    /// Good prices, from the parent.
    pub prices: Option<Arc<Prices>>,
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Node {}
impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Node {
    /// The lowest bound is the greatest (a heap gives it first), then the oldest.
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .bound
            .total_cmp(&self.bound)
            .then(other.number.cmp(&self.number))
    }
}

/// Bounds the cost of every plan from below, as long as `go_on` says so after each round.
pub fn prove(shop: &PackedShop, known: &Known, go_on: impl FnMut(&Progress) -> bool) -> Proof {
    let without_columns = |bound: f64| {
        let bound = bound.min(known.cost);
        Proof {
            bound,
            optimal: bound > 0.0,
            best: None,
            iterations: 0,
            nodes: 0,
            columns: 0,
        }
    };
    if let Some(bound) = plain(shop) {
        return without_columns(bound);
    }
    let Some(frame) = Frame::new(shop, known.cost, CELL) else {
        return without_columns(0.0);
    };
    let root = Node {
        bound: f64::NEG_INFINITY,
        number: 0,
        domain: Domain::all(&frame),
        prices: None,
    };
    let mut work = Work::new(frame, known, go_on);
    let mut heap = BinaryHeap::from([root]);
    let mut nodes = 1;
    while let Some(mut node) = heap.pop() {
        // The heap gives the lowest bound first: if that one rules out a cheaper plan, so do all others.
        if node.bound >= work.upper() - SAME {
            heap.clear();
            break;
        }
        let split = work.node(
            &mut node,
            heap.peek().map_or(f64::INFINITY, |n| n.bound),
            heap.len() + 1,
        );
        if work.stopped() {
            heap.push(node);
            break;
        }
        for yes in split.iter().flat_map(|_| [true, false]) {
            if let Some(split) = split {
                let domain = node.domain.part(split, yes);
                heap.push(Node {
                    bound: node.bound,
                    number: nodes,
                    domain,
                    prices: node.prices.clone(),
                });
                nodes += 1;
            }
        }
    }
    let bound = heap
        .peek()
        .map_or(f64::INFINITY, |n| n.bound)
        .min(work.upper())
        .min(work.leaves());
    Proof {
        bound,
        optimal: bound >= work.upper() - SAME,
        iterations: work.iterations(),
        nodes,
        columns: work.columns(),
        best: work.best(),
    }
}

/// Shops that need no search: without runs the nodes' own cost; with a run that no machine can make there is no plan. A run that takes no
/// time breaks the promise of `packed` that dates move forward: nothing is proved (0) rather than something wrong.
fn plain(shop: &PackedShop) -> Option<f64> {
    if shop
        .runs
        .iter()
        .flat_map(|r| r.on.iter().flatten())
        .any(|&(minutes, _)| minutes < 1)
    {
        return Some(0.0);
    }
    if shop.runs.iter().any(|r| r.on.iter().all(Option::is_none)) {
        return Some(f64::INFINITY);
    }
    shop.runs.is_empty().then(|| {
        super::goals::Goals::new(shop)
            .list
            .iter()
            .map(|g| g.cost(g.floor))
            .sum()
    })
}
