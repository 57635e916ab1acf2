//! Good prices without an LP: the volume method (a subgradient method that keeps an average of what pricing finds).
//!
//! Knows: pricing. Must not know: the LP, branching.
//! Promises: prices stay in the region where no cell is overspent; the average weighs at most one sheet on each machine.
//!
//! Source: F. Barahona and R. Anbil, "The volume algorithm: producing primal solutions with a subgradient method",
//! Mathematical Programming 87 (2000), 385–399. At prices (π, λ) the sheets that pricing finds are a supergradient of the dual function: `1 − times
//! printed` for a run, the share passed for a late row. λ is moved and then projected, cell by cell, on `{λ ≥ 0, Σ λ ≤ weight}`,
//! where the cell's own term is 0.

use super::domain::Domain;
use super::frame::{Column, Frame};
use super::master::Pool;
use super::pricing::{Priced, Prices};

// Tuned at 60 and 150 runs; the bound after 200 rounds moves by less than 1 % between half and twice each of them.
/// How much of the average the newest sheets may take.
const LEAST_PART: f64 = 0.01;
const MOST_PART: f64 = 0.1;
/// Fruitless rounds before the step is shortened.
const FAILS: usize = 3;
const SHORTER: f64 = 0.7;
const LONGER: f64 = 1.1;
const LONGEST: f64 = 1.5;

/// The state of an ascent in one domain.
#[derive(Clone, Debug)]
pub struct Ascent {
    /// The best prices.
    pub best: Prices,
    /// Their value.
    pub value: f64,
    /// The average: columns of the pool and how much.
    pub mean: Vec<(usize, f64)>,
    /// Supergradient of the average.
    slope: Option<Prices>,
    theta: f64,
    fails: usize,
}

impl Ascent {
    /// An ascent from given prices.
    pub fn new(frame: &Frame, domain: &Domain, prices: Prices, theta: f64) -> Self {
        let mut best = prices;
        project(frame, domain, &mut best);
        Self {
            best,
            value: f64::NEG_INFINITY,
            mean: Vec::new(),
            slope: None,
            theta,
            fails: 0,
        }
    }

    /// Prices to try next, toward a dual value of `target`.
    pub fn trial(&self, frame: &Frame, domain: &Domain, target: f64) -> Prices {
        let Some(slope) = &self.slope else {
            return self.best.clone();
        };
        let moved = |step: f64| {
            let mut next = self.best.clone();
            for (p, s) in next.runs.iter_mut().zip(&slope.runs) {
                *p += step * s;
            }
            for (p, s) in next.late.iter_mut().zip(&slope.late) {
                *p += step * s;
            }
            project(frame, domain, &mut next);
            next
        };
        // The length of the slope is that of the move after projection, found by one step of guessed size.
        let guess = 0.05;
        let tried = moved(guess);
        let square = |a: &[f64], b: &[f64]| {
            a.iter()
                .zip(b)
                .map(|(a, b)| ((a - b) / guess).powi(2))
                .sum::<f64>()
        };
        let length = square(&tried.runs, &self.best.runs) + square(&tried.late, &self.best.late);
        if length < 1e-12 {
            return self.best.clone();
        }
        moved(self.theta * (target - self.value).max(1e-3) / length)
    }

    /// Takes in what pricing found at `trial`; says whether the value rose.
    pub fn learn(
        &mut self,
        frame: &Frame,
        domain: &Domain,
        pool: &mut Pool,
        trial: Prices,
        priced: &Priced,
    ) -> bool {
        let mut runs = vec![1.0; frame.shop.runs.len()];
        let mut late = vec![0.0; frame.rows()];
        let mut found = Vec::new();
        for (columns, &busy) in priced.columns.iter().zip(&priced.busy) {
            if let (Some(column), true) = (columns.first(), busy) {
                column.runs.iter().for_each(|&r| runs[r] -= 1.0);
                frame.passes(domain, column, |l| late[l.row] += l.share);
                found.push(pool.number(Column::clone(column)));
            }
        }
        let fresh = Prices { runs, late };
        let part = match &self.slope {
            None => 1.0,
            Some(slope) => shortest(slope, &fresh).clamp(LEAST_PART, MOST_PART),
        };
        let slope = match &self.slope {
            None => fresh.clone(),
            Some(slope) => slope.toward(&fresh, part),
        };
        self.mean.iter_mut().for_each(|m| m.1 *= 1.0 - part);
        for number in found {
            match self.mean.iter_mut().find(|m| m.0 == number) {
                Some(m) => m.1 += part,
                None => self.mean.push((number, part)),
            }
        }
        self.mean.retain(|m| m.1 > 1e-4);
        let rose = priced.value > self.value;
        if rose {
            let along: f64 = slope.runs.iter().zip(&fresh.runs).map(|(a, b)| a * b).sum();
            if along > 0.0 {
                self.theta = (self.theta * LONGER).min(LONGEST);
            }
            self.value = priced.value;
            self.best = trial;
            self.fails = 0;
        } else {
            self.fails += 1;
            if self.fails.is_multiple_of(FAILS) {
                self.theta *= SHORTER;
            }
        }
        self.slope = Some(slope);
        rose
    }
}

/// The part of `fresh` that makes the mixture of both shortest.
fn shortest(old: &Prices, fresh: &Prices) -> f64 {
    let pairs = || old.runs.iter().zip(&fresh.runs);
    let length: f64 = pairs().map(|(a, b)| (a - b).powi(2)).sum();
    let along: f64 = pairs().map(|(a, b)| a * (a - b)).sum();
    if length > 0.0 { along / length } else { 1.0 }
}

/// Projects each cell's prices on `{λ ≥ 0, Σ λ ≤ weight}`; prices of closed cells become 0.
fn project(frame: &Frame, domain: &Domain, prices: &mut Prices) {
    for (k, ladder) in frame.ladders.iter().enumerate() {
        for j in 0..ladder.cells() {
            let cell = &mut prices.late[frame.rows_of(k, j)];
            if !domain.open(k, j) {
                cell.fill(0.0);
                continue;
            }
            cell.iter_mut().for_each(|p| *p = p.max(0.0));
            let mut over = cell.iter().sum::<f64>() - ladder.weight[j];
            // Takes the same from each that has some, until the sum fits: ends, as each round but the last empties one.
            while over > 1e-12 {
                let count = cell.iter().filter(|p| **p > 0.0).count();
                if count == 0 {
                    break;
                }
                let least = cell
                    .iter()
                    .copied()
                    .filter(|p| *p > 0.0)
                    .fold(f64::INFINITY, f64::min);
                let take = (over / count as f64).min(least);
                cell.iter_mut()
                    .filter(|p| **p > 0.0)
                    .for_each(|p| *p = (*p - take).max(0.0));
                over -= take * count as f64;
            }
        }
    }
}
