//! Prices into sheets: the value of the Lagrangian dual at given prices, and the sheets that attain it.
//!
//! Knows: the frame, a domain, prices. Must not know: where prices come from.
//! Promises: `Priced::value` is a lower bound on the cost of every plan in the domain, whatever the prices are.
//!
//! **The bound.** Minimise Σ c_s x_s + Σ w_j v_j over sheets (one of each machine, each run once) and cells. For any prices
//! `π` (free) on the runs' rows and `λ ≥ 0` on the cells' rows, moving the rows into the objective cannot raise the
//! optimum: cost ≥ paid + Σ_r π_r + Σ_j min(0, w_j − Σ λ over the rows of cell j) + Σ_m min_s (c_s − Σ_{r∈s} π_r + Σ λ·share), as
//! `0 ≤ v ≤ 1`, and sheets of different machines are free of each other. The last minimum is what `labels` underbids.

mod labels;
mod memory;

use std::collections::VecDeque;

pub use labels::Fare;
use labels::{Lane, Table, cheapest};
pub use memory::Memory;
use rayon::prelude::*;

use super::domain::Domain;
use super::frame::{Column, Frame};
use super::master::Pool;

/// A sheet found by pricing.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The runs in order.
    pub runs: Vec<usize>,
}

/// Prices of the rows.
#[derive(Clone, Debug, Default)]
pub struct Prices {
    /// By run.
    pub runs: Vec<f64>,
    /// By late row of the frame, at least 0.
    pub late: Vec<f64>,
}

impl Prices {
    /// `self` moved toward `other` by `part` (0: stays, 1: becomes it).
    pub fn toward(&self, other: &Self, part: f64) -> Self {
        let mix = |a: &[f64], b: &[f64]| {
            a.iter()
                .zip(b)
                .map(|(a, b)| a + part * (b - a))
                .collect::<Vec<f64>>()
        };
        Self {
            runs: mix(&self.runs, &other.runs),
            late: mix(&self.late, &other.late),
        }
    }
}

/// What pricing found.
#[derive(Debug)]
pub struct Priced {
    /// The lower bound.
    pub value: f64,
    /// For each machine the best sheets, dated, cheapest first; the empty one is not listed.
    pub columns: Vec<Vec<Column>>,
    /// For each machine whether its first sheet undercuts the empty one.
    pub busy: Vec<bool>,
}

/// How hard to look.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Labels kept at a state by the coarse sweep.
    pub coarse: usize,
    /// Labels kept at a state by the fine sweep; 0: there is none.
    pub keep: usize,
    /// How far above the coarse value the fine sweep looks at first, as a part of that value.
    pub slack: f64,
    /// Whether to look as far as the empty sheet, and so find more sheets than the best.
    pub wide: bool,
    /// Sheets wanted from a machine.
    pub want: usize,
}

/// Pricing with what it learns on the way.
#[derive(Debug)]
pub struct Pricer {
    /// Which cycles are forbidden.
    pub memory: Memory,
    /// The sheets found last, by machine.
    recent: Vec<VecDeque<Column>>,
}

/// Sheets remembered of each machine.
const RECENT: usize = 24;

impl Pricer {
    /// Knows nothing yet.
    pub fn new(frame: &Frame) -> Self {
        Self {
            memory: Memory::new(frame.shop.runs.len()),
            recent: vec![VecDeque::new(); frame.tracks.len()],
        }
    }

    /// Prices all machines.
    pub fn price(
        &mut self,
        frame: &Frame,
        domain: &Domain,
        prices: &Prices,
        effort: Effort,
    ) -> Priced {
        let table = table(frame, domain, prices);
        let last = (0..frame.shop.runs.len())
            .map(|r| domain.ends_of(frame, r).1)
            .max()
            .unwrap_or(0);
        let machines: Vec<usize> = (0..frame.tracks.len()).collect();
        let (memory, recent) = (&self.memory, &self.recent);
        let found: Vec<(f64, Vec<Column>)> = machines
            .par_iter()
            .map(|&m| {
                let fares: Vec<Fare> = frame.fares[m]
                    .iter()
                    .filter(|f| domain.allowed[m][f.run])
                    .copied()
                    .collect();
                let known = recent[m]
                    .iter()
                    .filter(|c| domain.allows(frame, c) && !memory.forbids(&c.runs))
                    .map(|c| (Pool::reduced(frame, domain, prices, c), c))
                    .min_by(|a, b| a.0.total_cmp(&b.0));
                let limit = known.map_or(0.0, |k| k.0.min(0.0));
                let lane = Lane {
                    track: &frame.tracks[m],
                    fares: &fares,
                    last,
                    colours: frame.colours,
                    table: &table,
                };
                let (value, sheets) = match frame.shop.runs.len() {
                    0..=64 => cheapest::<1>(&lane, &memory.bits(), effort, limit),
                    65..=128 => cheapest::<2>(&lane, &memory.bits(), effort, limit),
                    129..=192 => cheapest::<3>(&lane, &memory.bits(), effort, limit),
                    _ => cheapest::<7>(&lane, &memory.bits(), effort, limit),
                };
                let mut columns: Vec<Column> = sheets
                    .iter()
                    .filter_map(|s| frame.column(m, &s.runs))
                    .collect();
                if let Some((_, column)) =
                    known.filter(|k| effort.keep > 0 && k.0 < 0.0 && value >= k.0)
                {
                    columns.insert(0, column.clone());
                }
                (value, columns)
            })
            .collect();
        let cells = overspent(frame, domain, prices);
        let values: f64 = found.iter().map(|f| f.0).sum();
        let value = domain.paid(frame) + prices.runs.iter().sum::<f64>() + cells + values;
        let busy = found.iter().map(|f| f.0 < 0.0).collect();
        let columns: Vec<Vec<Column>> = found.into_iter().map(|f| f.1).collect();
        let memory = &self.memory;
        for (recent, columns) in self.recent.iter_mut().zip(&columns) {
            if let Some(column) = columns
                .iter()
                .find(|c| !memory.forbids(&c.runs))
                .filter(|c| !recent.contains(c))
            {
                recent.push_back(column.clone());
                if recent.len() > RECENT {
                    recent.pop_front();
                }
            }
        }
        Priced {
            value,
            busy,
            columns,
        }
    }
}

/// The domain without completions that cost too much: a plan that passes all cells of a goal up to a point costs at least
/// `value + Σ (weight − prices)` over them (their `v` is 1, where the dual function takes the least over `0 ≤ v ≤ 1`, which is 0
/// there), so where that reaches `upper` no cheaper plan is complete later.
pub fn tighten(frame: &Frame, domain: &mut Domain, prices: &Prices, value: f64, upper: f64) {
    for (k, (low, high)) in domain.goals.iter_mut().enumerate() {
        let mut least = value;
        for j in *low..*high {
            let spent: f64 = prices.late[frame.rows_of(k, j)].iter().sum();
            least += (frame.ladders[k].weight[j] - spent).max(0.0);
            if least >= upper {
                *high = j + 1;
                break;
            }
        }
    }
}

/// Σ over open cells of min(0, weight − prices of its rows): what is lost where prices add up to more than a cell is worth.
fn overspent(frame: &Frame, domain: &Domain, prices: &Prices) -> f64 {
    let cell = |goal: usize, cell: usize| {
        let spent: f64 = prices.late[frame.rows_of(goal, cell)].iter().sum();
        (frame.ladders[goal].weight[cell] - spent).min(0.0)
    };
    let goals = domain.goals.iter().enumerate();
    goals
        .flat_map(|(k, &(low, high))| (low..high).map(move |j| (k, j)))
        .map(|(k, j)| cell(k, j))
        .sum()
}

/// The price of every run at every end.
fn table(frame: &Frame, domain: &Domain, prices: &Prices) -> Table {
    let mut table = Table::new(frame.shop.runs.len(), frame.horizon);
    for run in 0..frame.shop.runs.len() {
        let (after, by) = domain.ends_of(frame, run);
        let values = table.row_mut(run);
        values.fill(-prices.runs[run]);
        for above in &frame.above[run] {
            let ladder = &frame.ladders[above.goal];
            let (low, high) = domain.goals[above.goal];
            let mut passed = 0.0;
            for j in low..high {
                let price = prices.late[frame.row(above.goal, j, above.place)];
                let from = above.reach.latest(ladder.points[j], frame.horizon) + 1;
                let to = above.reach.latest(ladder.points[j + 1], frame.horizon);
                for end in from.max(0)..=to {
                    values[end as usize] += passed + price * ladder.share(j, above.reach.at(end));
                }
                passed += price;
            }
        }
        let (after, by) = (after.clamp(-1, frame.horizon), by.clamp(-1, frame.horizon));
        values[..(after + 1) as usize].fill(f64::INFINITY);
        values[(by + 1) as usize..].fill(f64::INFINITY);
    }
    table
}
