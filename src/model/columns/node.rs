//! One node of the tree: raise its bound by prices, then say how to halve it.
//!
//! Knows: ascent, LP master, branching. Must not know: the other nodes but for their least bound.
//! Promises: every bound noted was computed by pricing in the node's own domain; a node is given up only when its bound reaches the
//! best cost known, or counts among the `leaves`.

use std::sync::Arc;

use super::ascent::Ascent;
use super::branch::{Choice, any, choose};
use super::domain::{Domain, Split};
use super::frame::Frame;
use super::master::Pool;
use super::pricing::{Effort, Pricer, Prices, tighten};
use super::prove::{Known, Node, Progress, SAME};
use crate::calendar::Minute;

/// Rounds of the ascent at the root and at other nodes.
const ROUNDS: [usize; 2] = [1000, 40];
/// First step of the ascent at the root and at other nodes, which start from good prices.
const STEP: [f64; 2] = [0.5, 0.2];
/// Rounds without a rise of `RISE` (as a part of the value) before an ascent is given up.
const PATIENCE: usize = 25;
const RISE: f64 = 2e-4;
/// Runs that a run keeps remembered. At 60 runs the root's bound is 107.6 with 12, 108.4 with 16, 108.9 with 32.
const MEMORY: usize = 32;
/// Columns in the pool.
const POOL: usize = 20_000;
/// For the first prices.
const COARSE: Effort = Effort {
    coarse: 2,
    keep: 0,
    slack: 0.0,
    wide: false,
    want: 1,
};
/// For the ascent, which needs the best sheet only.
const NARROW: Effort = Effort {
    coarse: 2,
    keep: 32,
    slack: 0.1,
    wide: false,
    want: 3,
};
/// For the LP, which needs many.
const WIDE: Effort = Effort {
    coarse: 2,
    keep: 32,
    slack: 10.0,
    wide: true,
    want: 10,
};

/// What all nodes share.
#[derive(Debug)]
pub struct Work<'a, F> {
    frame: Frame<'a>,
    pool: Pool,
    /// Late rows that the LP uses.
    active: Vec<bool>,
    pricer: Pricer,
    upper: f64,
    /// Least bound of nodes that cannot be halved.
    leaves: f64,
    best: Option<(f64, Vec<Vec<usize>>)>,
    iterations: usize,
    go_on: F,
    stopped: bool,
    /// Least bound of the other nodes, and number of open nodes.
    others: (f64, usize),
    reported: f64,
}

impl<'a, F: FnMut(&Progress) -> bool> Work<'a, F> {
    /// Nothing done yet.
    pub fn new(frame: Frame<'a>, known: &Known, go_on: F) -> Self {
        let mut pool = Pool::default();
        for (machine, runs) in known.sheets.iter().filter(|s| s.0 < frame.tracks.len()) {
            if let Some(column) = frame.column(*machine, runs) {
                pool.add(column);
            }
        }
        Self {
            pool,
            active: vec![false; frame.rows()],
            pricer: Pricer::new(&frame),
            frame,
            upper: known.cost,
            leaves: f64::INFINITY,
            best: None,
            iterations: 0,
            go_on,
            stopped: false,
            others: (f64::INFINITY, 0),
            reported: f64::NEG_INFINITY,
        }
    }

    /// Cost of the best plan known.
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// Least bound of the nodes that were given up with a bound below `upper`: at most one plan each, too close to tell by prices.
    pub fn leaves(&self) -> f64 {
        self.leaves
    }

    /// Whether the caller has had enough.
    pub fn stopped(&self) -> bool {
        self.stopped
    }

    /// Pricing rounds so far.
    pub fn iterations(&self) -> usize {
        self.iterations
    }

    /// Sheets in the pool.
    pub fn columns(&self) -> usize {
        self.pool.columns().len()
    }

    /// The best sheets found, if better than what was known.
    pub fn best(self) -> Option<(f64, Vec<Vec<usize>>)> {
        self.best
    }

    /// Raises the node's bound; a split if it must be halved, `None` if it is done with (or the caller has had enough).
    pub fn node(&mut self, node: &mut Node, elsewhere: f64, open: usize) -> Option<Split> {
        self.others = (elsewhere, open);
        self.pool.halve(POOL);
        let mean = self.ascend(node)?;
        let choice = choose(&self.frame, &node.domain, &self.pool, &mean);
        if let Choice::Split(split) = choice {
            return Some(split);
        }
        // The average is all but one plan. If it is as cheap as the bound, nothing better is left here.
        self.found(&mean);
        if node.bound >= self.upper - SAME {
            None
        } else {
            self.settle(node)
        }
    }

    /// The ascent; its average, or `None` if the node is done with.
    fn ascend(&mut self, node: &mut Node) -> Option<Vec<(usize, f64)>> {
        let later = usize::from(node.prices.is_some());
        let start = match node.prices.as_deref() {
            Some(prices) => prices.clone(),
            None => self.warm_up(node)?,
        };
        let mut ascent = Ascent::new(&self.frame, &node.domain, start, STEP[later]);
        let mut risen = (0, f64::NEG_INFINITY);
        for round in 0..ROUNDS[later] {
            let target = self.upper.min(ascent.value.max(node.bound) * 1.05 + 0.1);
            let trial = ascent.trial(&self.frame, &node.domain, target);
            let priced = self.pricer.price(&self.frame, &node.domain, &trial, NARROW);
            for column in priced.columns.iter().flatten() {
                self.pricer.memory.learn(&column.runs, MEMORY);
            }
            if ascent.learn(&self.frame, &node.domain, &mut self.pool, trial, &priced) {
                node.prices = Some(Arc::new(ascent.best.clone()));
            }
            for column in priced.columns.into_iter().flatten() {
                self.pool.add(column);
            }
            if !self.report(node, ascent.value) {
                return None;
            }
            if ascent.value > risen.1 + RISE * ascent.value.abs() {
                risen = (round, ascent.value);
            } else if round > risen.0 + PATIENCE {
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
        }
        Some(ascent.mean)
    }

    /// First prices: an ascent by coarse sweeps, where no goal takes more than its likely part of the lateness that the best known plan can pay for. Its clock is
    /// much shorter than that of all plans (57 days after the due dates at 400 runs); its values bound nothing, so every now and then its prices are tried on the whole domain.
    fn warm_up(&mut self, node: &mut Node) -> Option<Prices> {
        let mut ascent = Ascent::new(&self.frame, &node.domain, self.first_prices(), STEP[0]);
        let domain = self.likely(&node.domain);
        let mut risen = (0, f64::NEG_INFINITY);
        for round in 0..ROUNDS[0] {
            let target = self.upper.min(ascent.value * 1.05 + 0.1);
            let trial = ascent.trial(&self.frame, &domain, target);
            let priced = self.pricer.price(&self.frame, &domain, &trial, COARSE);
            for column in priced.columns.iter().flatten() {
                self.pricer.memory.learn(&column.runs, MEMORY);
            }
            ascent.learn(&self.frame, &domain, &mut self.pool, trial, &priced);
            let value = if round % 32 == 0 {
                self.pricer
                    .price(&self.frame, &node.domain, &ascent.best, COARSE)
                    .value
            } else {
                f64::NEG_INFINITY
            };
            if !self.report(node, value) {
                return None;
            }
            if ascent.value >= self.upper {
                break;
            }
            if ascent.value > risen.1 + 10.0 * RISE * ascent.value.abs() {
                risen = (round, ascent.value);
            } else if round > risen.0 + PATIENCE {
                break;
            }
        }
        Some(ascent.best)
    }

    /// The part of a domain where no goal is later than four times its even part of the money for lateness allows.
    fn likely(&self, domain: &Domain) -> Domain {
        let mut likely = domain.clone();
        let prices = self.first_prices();
        let spare = self.upper - prices.runs.iter().sum::<f64>() - domain.paid(&self.frame);
        let part = 4.0 * spare / self.frame.ladders.len().max(1) as f64;
        for (ladder, (low, high)) in self.frame.ladders.iter().zip(&mut likely.goals) {
            let mut paid = 0.0;
            for j in *low..*high {
                paid += ladder.weight[j];
                if paid > part {
                    *high = j + 1;
                    break;
                }
            }
        }
        likely
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
        // A node's bound is at least its parent's, so the least of all never falls but by rounding.
        self.reported = node
            .bound
            .min(self.others.0)
            .min(self.upper)
            .min(self.leaves)
            .max(self.reported);
        let progress = Progress {
            iterations: self.iterations,
            bound: self.reported,
            columns: self.pool.columns().len(),
            open: self.others.1,
        };
        self.stopped = !(self.go_on)(&progress);
        !self.stopped && node.bound < self.upper - SAME
    }

    /// Column generation by the LP, from the node's prices: exact where the ascent only comes near.
    fn settle(&mut self, node: &mut Node) -> Option<Split> {
        let mut dear = 10.0
            + 3.0
                * self
                    .frame
                    .fares
                    .iter()
                    .flatten()
                    .map(|f| f.first)
                    .fold(0.0, f64::max);
        let mut best = node.prices.as_deref().cloned()?;
        let mut value = node.bound;
        let mut weight = 0.5;
        let mut stalled = 0;
        for (active, price) in self.active.iter_mut().zip(&best.late) {
            *active |= *price > 0.02;
        }
        let memory = &self.pricer.memory;
        self.pool.retain(|c| !memory.forbids(&c.runs));
        loop {
            let spare = if self.columns() < 1500 {
                f64::INFINITY
            } else {
                self.upper.min(value * 1.2) - value
            };
            let answer = self.pool.solve(
                &self.frame,
                &node.domain,
                &self.active,
                dear,
                (&best, spare),
                1e-6,
            );
            let Some(answer) = answer else {
                return self.halve(node);
            };
            let added =
                self.pool
                    .separate(&self.frame, &node.domain, &mut self.active, &answer.used, 2);
            let prices = best.toward(&answer.prices, weight);
            let priced = self.pricer.price(&self.frame, &node.domain, &prices, WIDE);
            stalled = if priced.value > value + 1e-4 * (answer.value - value).abs() {
                0
            } else {
                stalled + 1
            };
            if priced.value > value {
                value = priced.value;
                best = prices;
                node.prices = Some(Arc::new(best.clone()));
            }
            let (mut new, mut learnt) = (0, 0);
            for column in priced.columns.into_iter().flatten() {
                learnt += usize::from(self.pricer.memory.learn(&column.runs, MEMORY));
                let reduced = Pool::reduced(&self.frame, &node.domain, &answer.prices, &column);
                let cut = answer.machines[column.machine].min(0.0);
                new += usize::from(reduced < cut - 1e-6 && self.pool.add(column));
            }
            if !self.report(node, priced.value) {
                return None;
            }
            let gap = answer.value - node.bound;
            if answer.missing > 1e-4 && gap < 0.05 * dear {
                dear *= 3.0;
            } else if (gap < 1e-3 * (1.0 + answer.value.abs()) && added == 0 || stalled > 8)
                && learnt == 0
            {
                match choose(&self.frame, &node.domain, &self.pool, &answer.used) {
                    Choice::Split(split) => return Some(split),
                    Choice::Whole => self.found(&answer.used),
                }
                if node.bound >= self.upper - SAME {
                    return None;
                }
                if stalled > 16 {
                    return self.halve(node);
                }
            }
            if learnt > 0 {
                let memory = &self.pricer.memory;
                self.pool.retain(|c| !memory.forbids(&c.runs));
            }
            weight = if new == 0 {
                (weight + 0.2f64).min(1.0)
            } else {
                0.4
            };
        }
    }

    /// A split by the domain alone.
    fn halve(&mut self, node: &Node) -> Option<Split> {
        let split = any(&self.frame, &node.domain);
        if split.is_none() {
            self.leaves = self.leaves.min(node.bound);
        }
        split
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
