//! The rows of the master that tie lateness to sheets: which of them are in use.
//!
//! Knows: the frame's ladders. Must not know: the LP's solver, pricing.
//! Promises: a row keeps its number for good.

use std::collections::HashMap;

use super::domain::Domain;
use super::frame::Frame;
use super::pricing::Prices;

/// Σ over sheets of the share of the goal's cell that the run passes ≤ v of that cell (proof in `ladder`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct LateRow {
    /// The goal.
    pub goal: usize,
    /// The cell of its ladder.
    pub cell: usize,
    /// The run.
    pub run: usize,
}

/// The rows in use.
#[derive(Debug, Default)]
pub struct Rows {
    list: Vec<LateRow>,
    number: HashMap<LateRow, usize>,
}

impl Rows {
    /// All rows by number.
    pub fn list(&self) -> &[LateRow] {
        &self.list
    }

    /// The number of a row.
    pub fn find(&self, row: LateRow) -> Option<usize> {
        self.number.get(&row).copied()
    }

    /// Takes a row into use; says whether it is new.
    pub fn add(&mut self, row: LateRow) -> bool {
        let next = self.list.len();
        if *self.number.entry(row).or_insert(next) == next {
            self.list.push(row);
            return true;
        }
        false
    }

    /// Whether a row can bind in a domain: its cell is neither passed by all plans nor closed to all.
    pub fn open(row: LateRow, domain: &Domain) -> bool {
        let (low, high) = domain.goals[row.goal];
        low <= row.cell && row.cell < high
    }

    /// Σ over open cells of min(0, weight − prices of its rows): what is lost where prices add up to more than a cell is worth.
    pub fn overspent(&self, frame: &Frame, domain: &Domain, prices: &Prices) -> f64 {
        let mut left: Vec<Vec<f64>> = frame.ladders.iter().map(|l| l.weight.clone()).collect();
        for (row, price) in self
            .list
            .iter()
            .zip(&prices.late)
            .filter(|(row, _)| Self::open(**row, domain))
        {
            left[row.goal][row.cell] -= price.max(0.0);
        }
        left.iter().flatten().map(|l| l.min(0.0)).sum()
    }
}
