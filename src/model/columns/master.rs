//! The master LP over the columns found so far, in one domain.
//!
//! Knows: columns, rows, the small LP interface. Must not know: how columns are priced, which domain comes next.
//! Promises: nothing that a bound rests on; its duals are good prices to try.
//!
//! min Σ c_s x_s + Σ w_j v_j + Σ dear·a_r, s.t. each run once (`a_r`: not printed at all, dear), each machine at most one sheet (none: the empty
//! one), and those late rows (proof in `ladder`) that are in use.

use std::collections::{BTreeMap, HashMap};

use super::super::lp::{Lp, LpColumn, Sense, solve};
use super::domain::Domain;
use super::frame::{Column, Frame};
use super::pricing::Prices;

/// The columns found so far.
#[derive(Debug, Default)]
pub struct Pool {
    columns: Vec<Column>,
    seen: HashMap<(usize, Vec<usize>), usize>,
}

/// A solution of the master.
#[derive(Debug)]
pub struct Answer {
    /// The objective, up to the solver's tolerance.
    pub value: f64,
    /// Prices of runs and rows.
    pub prices: Prices,
    /// What a sheet of each machine must undercut.
    pub machines: Vec<f64>,
    /// Columns in use (by number in the pool) and how much.
    pub used: Vec<(usize, f64)>,
    /// How many runs are not printed.
    pub missing: f64,
}

impl Pool {
    /// Takes a column in; says whether it is new.
    pub fn add(&mut self, column: Column) -> bool {
        let before = self.columns.len();
        self.number(column);
        self.columns.len() > before
    }

    /// Drops columns.
    pub fn retain(&mut self, keep: impl Fn(&Column) -> bool) {
        self.columns.retain(|c| keep(c));
        self.count_again();
    }

    /// Forgets the older half once there are more than `most`; numbers change then.
    pub fn halve(&mut self, most: usize) {
        if self.columns.len() > most {
            self.columns.drain(..self.columns.len() / 2);
            self.count_again();
        }
    }

    fn count_again(&mut self) {
        let columns = self.columns.iter().enumerate();
        self.seen = columns
            .map(|(i, c)| ((c.machine, c.runs.clone()), i))
            .collect();
    }

    /// The columns.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// The number of a column that is in the pool, taking it in if need be.
    pub fn number(&mut self, column: Column) -> usize {
        let key = (column.machine, column.runs.clone());
        if let Some(&number) = self.seen.get(&key) {
            return number;
        }
        self.columns.push(column);
        self.seen.insert(key, self.columns.len() - 1);
        self.columns.len() - 1
    }

    /// Reduced cost of a column, its machine's price not counted.
    pub fn reduced(frame: &Frame, domain: &Domain, prices: &Prices, column: &Column) -> f64 {
        let wanted: f64 = column.runs.iter().map(|&r| prices.runs[r]).sum();
        let mut late = 0.0;
        frame.passes(domain, column, |l| late += l.share * prices.late[l.row]);
        column.cost - wanted + late
    }

    /// Solves the master over the allowed columns whose reduced cost at `near` is at most `limit` above their machine's best.
    pub fn solve(
        &self,
        frame: &Frame,
        domain: &Domain,
        active: &[bool],
        dear: f64,
        near: (&Prices, f64),
        tolerance: f64,
    ) -> Option<Answer> {
        let (runs, machines) = (frame.shop.runs.len(), frame.tracks.len());
        let mut lp = Lp::default();
        lp.rows
            .extend(std::iter::repeat_n((Sense::Equal, 1.0), runs));
        lp.rows
            .extend(std::iter::repeat_n((Sense::AtMost, 1.0), machines));
        for run in 0..runs {
            lp.columns.push(LpColumn {
                cost: dear,
                entries: vec![(run, 1.0)],
            });
        }
        let mut place = vec![None; frame.rows()];
        for (k, &(low, high)) in domain.goals.iter().enumerate() {
            for j in low..high {
                let mut entries = Vec::new();
                for row in frame.rows_of(k, j).filter(|&row| active[row]) {
                    place[row] = Some(lp.rows.len());
                    entries.push((lp.rows.len(), -1.0));
                    lp.rows.push((Sense::AtMost, 0.0));
                }
                if !entries.is_empty() {
                    lp.columns.push(LpColumn {
                        cost: frame.ladders[k].weight[j],
                        entries,
                    });
                }
            }
        }
        let first = lp.columns.len();
        let allowed = self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, c)| domain.allows(frame, c));
        let mut valued: Vec<(usize, f64)> = allowed
            .map(|(i, c)| (i, Self::reduced(frame, domain, near.0, c)))
            .collect();
        let mut least = vec![f64::INFINITY; machines];
        for &(i, value) in &valued {
            let least = &mut least[self.columns[i].machine];
            *least = least.min(value);
        }
        valued.retain(|&(i, value)| value <= least[self.columns[i].machine] + near.1);
        let mut taken = Vec::new();
        for (number, _) in valued {
            let column = &self.columns[number];
            let mut entries: BTreeMap<usize, f64> = BTreeMap::new();
            for &run in &column.runs {
                *entries.entry(run).or_default() += 1.0;
            }
            entries.insert(runs + column.machine, 1.0);
            frame.passes(domain, column, |l| {
                if let Some(at) = place[l.row] {
                    *entries.entry(at).or_default() += l.share;
                }
            });
            lp.columns.push(LpColumn {
                cost: column.cost,
                entries: entries.into_iter().collect(),
            });
            taken.push(number);
        }
        let solved = solve(&lp, tolerance).ok()?;
        if !solved.duals.iter().all(|d| d.is_finite()) {
            return None;
        }
        let late = place
            .iter()
            .map(|at| at.map_or(0.0, |at| (-solved.duals[at]).max(0.0)))
            .collect();
        let amounts = &solved.amounts;
        let used = taken
            .iter()
            .enumerate()
            .map(|(i, &number)| (number, amounts[first + i]));
        Some(Answer {
            value: solved.value + domain.paid(frame),
            prices: Prices {
                runs: solved.duals[..runs].to_vec(),
                late,
            },
            machines: solved.duals[runs..runs + machines].to_vec(),
            used: used.filter(|u| u.1 > 1e-6).collect(),
            missing: amounts[..runs].iter().sum(),
        })
    }

    /// Takes into use, cell by cell, the rows that the solution breaks most, up to `most` in a cell; says how many.
    pub fn separate(
        &self,
        frame: &Frame,
        domain: &Domain,
        active: &mut [bool],
        used: &[(usize, f64)],
        most: usize,
    ) -> usize {
        let mut passed = vec![0.0; frame.rows()];
        for &(number, amount) in used {
            frame.passes(domain, &self.columns[number], |l| {
                passed[l.row] += amount * l.share
            });
        }
        let mut added = 0;
        for (k, &(low, high)) in domain.goals.iter().enumerate() {
            for j in low..high {
                let rows = frame.rows_of(k, j);
                let level = rows
                    .clone()
                    .filter(|&r| active[r])
                    .map(|r| passed[r])
                    .fold(0.0, f64::max);
                let mut broken: Vec<usize> = rows
                    .filter(|&r| !active[r] && passed[r] > level + 0.005)
                    .collect();
                broken.sort_by(|&a, &b| passed[b].total_cmp(&passed[a]));
                for row in broken.into_iter().take(most) {
                    active[row] = true;
                    added += 1;
                }
            }
        }
        added
    }
}
