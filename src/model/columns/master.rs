//! The master LP over the columns found so far, in one domain.
//!
//! Knows: columns, rows, the small LP interface. Must not know: how columns are priced, which domain comes next.
//! Promises: nothing that a bound rests on; its duals are good prices to try.
//!
//! min Σ c_s x_s + Σ w_j v_j + Σ dear·a_r, s.t. each run once (`a_r`: not printed at all, dear), each machine at most one sheet (none: the empty
//! one), and the rows of `rows`.

use std::collections::{HashMap, HashSet};

use super::super::lp::{Lp, LpColumn, Sense, solve};
use super::domain::Domain;
use super::frame::{Column, Frame};
use super::pricing::Prices;
use super::rows::{LateRow, Rows};

/// The columns found so far.
#[derive(Debug, Default)]
pub struct Pool {
    columns: Vec<Column>,
    seen: HashSet<(usize, Vec<usize>)>,
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
    /// Columns that took part.
    pub width: usize,
}

impl Pool {
    /// Takes a column in; says whether it is new.
    pub fn add(&mut self, column: Column) -> bool {
        let new = self.seen.insert((column.machine, column.runs.clone()));
        if new {
            self.columns.push(column);
        }
        new
    }

    /// Drops columns.
    pub fn retain(&mut self, keep: impl Fn(&Column) -> bool) {
        self.columns.retain(|c| keep(c));
        self.seen = self
            .columns
            .iter()
            .map(|c| (c.machine, c.runs.clone()))
            .collect();
    }

    /// The columns.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// Reduced cost of a column, its machine's price not counted.
    pub fn reduced(
        frame: &Frame,
        domain: &Domain,
        rows: &Rows,
        prices: &Prices,
        column: &Column,
    ) -> f64 {
        let wanted: f64 = column.runs.iter().map(|&r| prices.runs[r]).sum();
        let mut late = 0.0;
        passes(frame, domain, column, |row, share| {
            if let Some(i) = rows.find(row) {
                late += share * prices.late.get(i).copied().unwrap_or(0.0);
            }
        });
        column.cost - wanted + late
    }

    /// Solves the master over the allowed columns of reduced cost below `limit` at `near`.
    pub fn solve(
        &self,
        frame: &Frame,
        domain: &Domain,
        rows: &Rows,
        dear: f64,
        near: Option<(&Prices, f64)>,
        tolerance: f64,
    ) -> Option<Answer> {
        let (runs, machines) = (frame.shop.runs.len(), frame.tracks.len());
        let mut lp = Lp::default();
        lp.rows
            .extend(std::iter::repeat_n((Sense::Equal, 1.0), runs));
        lp.rows
            .extend(std::iter::repeat_n((Sense::AtMost, 1.0), machines));
        let mut place = vec![None; rows.list().len()];
        let mut cells: HashMap<(usize, usize), usize> = HashMap::new();
        for run in 0..runs {
            lp.columns.push(LpColumn {
                cost: dear,
                entries: vec![(run, 1.0)],
            });
        }
        for (i, row) in rows
            .list()
            .iter()
            .enumerate()
            .filter(|(_, row)| Rows::open(**row, domain))
        {
            place[i] = Some(lp.rows.len());
            let cell = *cells.entry((row.goal, row.cell)).or_insert_with(|| {
                lp.columns.push(LpColumn {
                    cost: frame.ladders[row.goal].weight[row.cell],
                    entries: Vec::new(),
                });
                lp.columns.len() - 1
            });
            lp.columns[cell].entries.push((lp.rows.len(), -1.0));
            lp.rows.push((Sense::AtMost, 0.0));
        }
        let first = lp.columns.len();
        let mut taken = Vec::new();
        for (number, column) in self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, c)| domain.allows(frame, c))
        {
            if near.is_some_and(|(prices, limit)| {
                Self::reduced(frame, domain, rows, prices, column) > limit
            }) {
                continue;
            }
            let mut entries: HashMap<usize, f64> = HashMap::new();
            for &run in &column.runs {
                *entries.entry(run).or_default() += 1.0;
            }
            entries.insert(runs + column.machine, 1.0);
            passes(frame, domain, column, |row, share| {
                if let Some(at) = rows.find(row).and_then(|i| place[i]) {
                    *entries.entry(at).or_default() += share;
                }
            });
            let mut entries: Vec<(usize, f64)> = entries.into_iter().collect();
            entries.sort_unstable_by_key(|e| e.0);
            lp.columns.push(LpColumn {
                cost: column.cost,
                entries,
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
            width: taken.len(),
        })
    }

    /// Takes into use, cell by cell, the rows that the solution breaks most; says how many.
    pub fn separate(
        &self,
        frame: &Frame,
        domain: &Domain,
        rows: &mut Rows,
        answer: &Answer,
        most: usize,
    ) -> usize {
        let mut passed: HashMap<LateRow, f64> = HashMap::new();
        for &(number, amount) in &answer.used {
            passes(frame, domain, &self.columns[number], |row, share| {
                *passed.entry(row).or_default() += amount * share;
            });
        }
        let mut level: HashMap<(usize, usize), f64> = HashMap::new();
        for (row, &share) in passed.iter().filter(|(row, _)| rows.find(**row).is_some()) {
            let level = level.entry((row.goal, row.cell)).or_default();
            *level = level.max(share);
        }
        let mut broken: Vec<(LateRow, f64)> = passed
            .into_iter()
            .filter(|(row, share)| {
                rows.find(*row).is_none()
                    && *share > level.get(&(row.goal, row.cell)).copied().unwrap_or(0.0) + 0.005
            })
            .collect();
        broken.sort_by(|a, b| {
            let key = |row: &LateRow| (row.goal, row.cell);
            key(&a.0)
                .cmp(&key(&b.0))
                .then(b.1.total_cmp(&a.1))
                .then(a.0.run.cmp(&b.0.run))
        });
        let mut added = 0;
        let mut last = (usize::MAX, usize::MAX, 0);
        for (row, _) in broken {
            let count = if (last.0, last.1) == (row.goal, row.cell) {
                last.2 + 1
            } else {
                1
            };
            last = (row.goal, row.cell, count);
            if count <= most && rows.add(row) {
                added += 1;
            }
        }
        added
    }
}

/// Calls `each` for every row that a column passes in the domain, with the share of the cell.
fn passes(frame: &Frame, domain: &Domain, column: &Column, mut each: impl FnMut(LateRow, f64)) {
    for (&run, &end) in column.runs.iter().zip(&column.ends) {
        for (goal, reach) in &frame.above[run] {
            let ladder = &frame.ladders[*goal];
            let (low, high) = domain.goals[*goal];
            let completion = reach.at(end);
            for cell in low..high {
                if ladder.points[cell] >= completion {
                    break;
                }
                each(
                    LateRow {
                        goal: *goal,
                        cell,
                        run,
                    },
                    ladder.share(cell, completion),
                );
            }
        }
    }
}
