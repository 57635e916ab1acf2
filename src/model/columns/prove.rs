//! The proof: column generation at each node of a best-first tree, until the bound meets the cost or the caller stops it.
//!
//! Knows: everything in this folder. Must not know: scenarios, plans, hands.
//! Promises: `Proof::bound` is at most the cost of every plan for the packed shop, and of every plan at all that packs its runs so (a plan with
//! limited hands is a plan without); the same limit in iterations gives the same proof.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::super::packed::PackedShop;
use super::ascent::{Ascent, envf};
use super::branch::{Choice, choose};
use super::domain::{Domain, Split};
use super::frame::Frame;
use super::master::{Answer, Pool};
use super::pricing::{Effort, Pricer, Prices, tighten};
use crate::calendar::Minute;

/// What is known before the proof starts.
#[derive(Clone, Debug)]
pub struct Known<'a> {
    /// Cost of the best plan known; infinite if there is none.
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
    /// No plan costs less.
    pub bound: f64,
    /// Whether nothing cheaper than the known cost (or `best`) is left.
    pub optimal: bool,
    /// A cheaper set of sheets, by machine, with its cost; hands not heeded.
    pub best: Option<(f64, Vec<Vec<usize>>)>,
    /// Pricing rounds.
    pub iterations: usize,
    /// Nodes of the tree that were looked at.
    pub nodes: usize,
    /// Sheets in the pool.
    pub columns: usize,
}

struct Node {
    bound: f64,
    number: usize,
    domain: Domain,
    prices: Option<Prices>,
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
    /// The lowest bound first, then the oldest.
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .bound
            .total_cmp(&self.bound)
            .then(other.number.cmp(&self.number))
    }
}

/// Money below which two costs are the same.
const SAME: f64 = 1e-6;

/// Bounds the cost of every plan from below, as long as `go_on` says so after each round.
pub fn prove(shop: &PackedShop, known: &Known, go_on: impl FnMut(&Progress) -> bool) -> Proof {
    let frame = Frame::new(shop, known.cost, envf("CELL", 120.0) as i32);
    let pricer = Pricer::new(&frame);
    let mut work = Work {
        frame,
        pool: Pool::default(),
        active: Vec::new(),
        pricer,
        upper: known.cost,
        best: None,
        iterations: 0,
        go_on,
        elsewhere: f64::INFINITY,
        open: 0,
        stopped: false,
        reported: f64::NEG_INFINITY,
    };
    work.active = vec![false; work.frame.rows()];
    for (machine, runs) in known.sheets {
        if let Some(column) = work.frame.column(*machine, runs) {
            work.pool.add(column);
        }
    }
    let root = Node {
        bound: f64::NEG_INFINITY,
        number: 0,
        domain: Domain::all(&work.frame),
        prices: None,
    };
    let mut heap = BinaryHeap::from([root]);
    let mut nodes = 0;
    while let Some(mut node) = heap.pop() {
        if node.bound >= work.upper - SAME {
            heap.clear();
            break;
        }
        work.elsewhere = heap.peek().map_or(f64::INFINITY, |n| n.bound);
        work.open = heap.len() + 1;
        let outcome = work.node(&mut node);
        if work.stopped {
            heap.push(node);
            break;
        }
        if let Some(split) = outcome {
            for yes in [true, false] {
                nodes += 1;
                heap.push(Node {
                    bound: node.bound,
                    number: nodes,
                    domain: node.domain.part(split, yes),
                    prices: node.prices.clone(),
                });
            }
        }
    }
    let bound = heap.peek().map_or(work.upper, |n| n.bound).min(work.upper);
    Proof {
        bound,
        optimal: bound >= work.upper - SAME,
        best: work.best,
        iterations: work.iterations,
        nodes: nodes + 1,
        columns: work.pool.columns().len(),
    }
}

struct Work<'a, F> {
    frame: Frame<'a>,
    pool: Pool,
    active: Vec<bool>,
    pricer: Pricer,
    upper: f64,
    best: Option<(f64, Vec<Vec<usize>>)>,
    iterations: usize,
    go_on: F,
    elsewhere: f64,
    open: usize,
    stopped: bool,
    reported: f64,
}

impl<F: FnMut(&Progress) -> bool> Work<'_, F> {
    /// Raises the node's bound; a split if it must be halved, `None` if it is done with.
    fn node(&mut self, node: &mut Node) -> Option<Split> {
        let debug = std::env::var("COLDBG").is_ok();
        let start = node.prices.clone().unwrap_or_else(|| self.first_prices());
        let fresh = node.prices.is_none();
        let mut ascent = Ascent::new(
            &self.frame,
            &node.domain,
            start,
            if fresh { envf("THETA", 0.5) } else { 0.2 },
        );
        let rounds = if fresh {
            envf("ROUNDS", 300.0)
        } else {
            envf("NROUNDS", 40.0)
        } as usize;
        let keep = envf("KEEP", 32.0) as usize;
        let mut mark = (0, f64::NEG_INFINITY);
        for round in 0..rounds {
            let target = self
                .upper
                .min(ascent.value.max(node.bound) * envf("TGT", 1.05) + 0.1);
            let trial = ascent.trial(&self.frame, &node.domain, target);
            let t0 = std::time::Instant::now();
            let priced = self.pricer.price(
                &self.frame,
                &node.domain,
                &trial,
                Effort {
                    keep,
                    want: 3,
                    coarse: envf("COARSE", 2.0) as usize,
                    slack: envf("SLACK", 0.1),
                    wide: false,
                },
            );
            let t2 = t0.elapsed();
            let value = priced.value;
            for column in priced.columns.iter().flatten() {
                self.pricer
                    .memory
                    .learn(&column.runs, envf("NG", 32.0) as usize);
            }
            ascent.learn(&self.frame, &node.domain, &mut self.pool, trial, &priced);
            for column in priced
                .columns
                .into_iter()
                .flatten()
                .filter(|c| c.cost.is_finite())
            {
                self.pool.add(column);
            }
            if debug && (fresh || round + 1 == rounds) {
                eprintln!(
                    "asc {round} open {} value {value:.3} best {:.3} mean {} {}  price {t2:?}",
                    self.open,
                    ascent.value,
                    ascent.mean.len(),
                    ascent.state()
                );
            }
            node.prices = Some(ascent.best.clone());
            if ascent.value > mark.1 + 2e-4 * ascent.value.abs() {
                mark = (round, ascent.value);
            } else if round > mark.0 + envf("PATIENCE", 25.0) as usize {
                break;
            }
            if round % 16 == 15 {
                tighten(
                    &self.frame,
                    &mut node.domain,
                    &ascent.best,
                    ascent.value,
                    self.upper,
                );
            }
            if !self.report(node, ascent.value) {
                return None;
            }
        }
        let split = choose(&self.frame, &node.domain, &self.pool, &ascent.mean);
        if debug {
            eprintln!(
                "NODE {} bound {:.3} {:?} goals {:?}",
                node.number, node.bound, split, node.domain.goals
            );
        }
        if let Choice::Split(split) = split
            && self.upper - node.bound > envf("POL", 0.0) * self.upper
        {
            return Some(split);
        }
        self.polish(node)
    }

    /// Prices at which no sheet is worth printing, but nearly: each run at its cheapest.
    fn first_prices(&self) -> Prices {
        let mut runs = vec![f64::INFINITY; self.frame.shop.runs.len()];
        for fare in self.frame.fares.iter().flatten() {
            runs[fare.run] = runs[fare.run].min(fare.cost[0]).min(fare.cost[1]);
        }
        Prices {
            runs,
            late: vec![0.0; self.frame.rows()],
        }
    }

    /// Notes a valid bound of a node and tells the caller; false if the node is done with or the caller has had enough.
    fn report(&mut self, node: &mut Node, value: f64) -> bool {
        self.iterations += 1;
        node.bound = node.bound.max(value);
        let progress = Progress {
            iterations: self.iterations,
            bound: node
                .bound
                .min(self.elsewhere)
                .min(self.upper)
                .max(self.reported),
            columns: self.pool.columns().len(),
            open: self.open,
        };
        self.reported = progress.bound;
        self.stopped = !(self.go_on)(&progress);
        !self.stopped && node.bound < self.upper - SAME
    }

    /// Column generation by the LP, near the node's prices.
    fn polish(&mut self, node: &mut Node) -> Option<Split> {
        let memory = &self.pricer.memory;
        self.pool.retain(|c| !memory.forbids(&c.runs));
        let mut dear = 10.0
            + 3.0
                * self
                    .frame
                    .fares
                    .iter()
                    .flatten()
                    .map(|f| f.first)
                    .fold(0.0, f64::max);
        let debug = std::env::var("COLDBG").is_ok();
        let mut best = node.prices.clone()?;
        let mut best_value = node.bound;
        let mut smooth = 0.5;
        let mut stalled = 0;
        for (row, price) in best.late.iter().enumerate() {
            self.active[row] |= *price > 0.02;
        }
        loop {
            let t0 = std::time::Instant::now();
            let near = (
                &best,
                if self.pool.columns().len() < 1500 {
                    f64::INFINITY
                } else {
                    self.upper.min(best_value * 1.2) - best_value
                },
            );
            let answer =
                self.pool
                    .solve(&self.frame, &node.domain, &self.active, dear, near, 1e-6)?;
            let t1 = t0.elapsed();
            let added =
                self.pool
                    .separate(&self.frame, &node.domain, &mut self.active, &answer.used, 2);
            let prices = best.toward(&answer.prices, 1.0 - smooth);
            let t0 = std::time::Instant::now();
            let priced = self.pricer.price(
                &self.frame,
                &node.domain,
                &prices,
                Effort {
                    keep: 32,
                    want: 10,
                    coarse: 2,
                    slack: 10.0,
                    wide: true,
                },
            );
            let t2 = t0.elapsed();
            if priced.value > best_value {
                best_value = priced.value;
                best = prices;
                node.prices = Some(best.clone());
            }
            if priced.value > node.bound + 1e-4 * (answer.value - node.bound).abs() {
                stalled = 0;
            } else {
                stalled += 1;
            }
            let (mut new, mut learnt) = (0, 0);
            for column in priced.columns.into_iter().flatten() {
                learnt += usize::from(
                    self.pricer
                        .memory
                        .learn(&column.runs, envf("NG", 32.0) as usize),
                );
                let reduced = Pool::reduced(&self.frame, &node.domain, &answer.prices, &column);
                let cut = answer.machines[column.machine].min(0.0);
                new += usize::from(reduced < cut - 1e-6 && self.pool.add(column));
            }
            if learnt > 0 {
                let memory = &self.pricer.memory;
                self.pool.retain(|c| !memory.forbids(&c.runs));
            }
            if debug {
                eprintln!(
                    "it {} open {} lp {:.3} missing {:.2} value {:.3} bound {:.3} cols {} rows {}(+{}) new {} learnt {} smooth {:.2} lp {:?} price {:?}",
                    self.iterations,
                    self.open,
                    answer.value,
                    answer.missing,
                    priced.value,
                    node.bound.max(priced.value),
                    answer.width,
                    self.active.iter().filter(|a| **a).count(),
                    added,
                    new,
                    learnt,
                    smooth,
                    t1,
                    t2
                );
            }
            if !self.report(node, priced.value) {
                return None;
            }
            let gap = answer.value - node.bound;
            if answer.missing > 1e-4 && gap < 0.05 * dear {
                dear *= 3.0;
                continue;
            }
            let tight = gap < 1e-3 * (1.0 + answer.value.abs()) && added == 0;
            if (tight || stalled > 8) && learnt == 0 && answer.missing < 1e-4 {
                match choose(&self.frame, &node.domain, &self.pool, &answer.used) {
                    Choice::Split(split) => return Some(split),
                    Choice::Whole => {
                        if gap < 1e-5 || (new == 0 && added == 0 && smooth == 0.0) {
                            self.found(&answer.used);
                            return None;
                        }
                    }
                }
            }
            smooth = if new == 0 {
                (smooth - 0.2f64).max(0.0)
            } else {
                0.6
            };
        }
    }

    /// A set of whole sheets that is a plan: each run printed once.
    fn found(&mut self, used: &[(usize, f64)]) {
        let mut sheets = vec![Vec::new(); self.frame.tracks.len()];
        let mut ends = vec![None; self.frame.shop.runs.len()];
        let mut cost = 0.0;
        for &(number, _) in used.iter().filter(|u| u.1 > 0.5) {
            let column = &self.pool.columns()[number];
            sheets[column.machine] = column.runs.clone();
            cost += column.cost;
            for (&run, &end) in column.runs.iter().zip(&column.ends) {
                if ends[run].replace(end).is_some() {
                    return;
                }
            }
        }
        let Some(ends) = ends.into_iter().collect::<Option<Vec<Minute>>>() else {
            return;
        };
        cost += self
            .frame
            .goals
            .list
            .iter()
            .map(|g| g.cost(self.frame.goals.completion_of(g, &ends)))
            .sum::<f64>();
        if cost < self.upper - SAME {
            self.upper = cost;
            self.best = Some((cost, sheets));
        }
    }
}
