//! Which question to ask next at a node whose LP is solved but not whole.
//!
//! Knows: the LP's solution. Must not know: prices, bounds of other nodes.
//! Promises: a split that the solution breaks on both sides, or `Whole`: each machine has one sheet.

use std::collections::BTreeMap;

use super::domain::{Domain, Split};
use super::frame::Frame;
use super::master::Pool;
use crate::calendar::Minute;

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Choice {
    /// Halve the domain.
    Split(Split),
    /// The solution is a plan.
    Whole,
}

const WHOLE: f64 = 1e-3;

/// Chooses the split.
pub fn choose(frame: &Frame, domain: &Domain, pool: &Pool, used: &[(usize, f64)]) -> Choice {
    goal(frame, domain, pool, used)
        .or_else(|| machine(frame, domain, pool, used))
        .or_else(|| end(frame, pool, used))
        .map_or(Choice::Whole, Choice::Split)
}

/// A split by the domain alone, for when no solution tells: the widest span of ends, else a run on several machines; `None` if one
/// plan is left at most.
pub fn any(frame: &Frame, domain: &Domain) -> Option<Split> {
    let spans = (0..frame.shop.runs.len()).map(|run| (run, domain.ends_of(frame, run)));
    let widest = spans.max_by_key(|&(run, (after, by))| (by - after, std::cmp::Reverse(run)));
    if let Some((run, (after, by))) = widest.filter(|(_, (after, by))| by - after > 1) {
        return Some(Split::End {
            run,
            by: after + (by - after) / 2,
        });
    }
    (0..frame.shop.runs.len()).find_map(|run| {
        let open: Vec<usize> = machines(frame, domain, run).collect();
        (open.len() > 1).then(|| Split::On {
            run,
            machine: open[0],
        })
    })
}

/// The machines that a run may be on.
fn machines(frame: &Frame, domain: &Domain, run: usize) -> impl Iterator<Item = usize> {
    (0..frame.tracks.len())
        .filter(move |&m| domain.allowed[m][run] && frame.fares[m].iter().any(|f| f.run == run))
}

/// A point of a goal's ladder: if complete later, all cells before it are paid in full; if by then, what passes it must be made early.
fn goal(frame: &Frame, domain: &Domain, pool: &Pool, used: &[(usize, f64)]) -> Option<Split> {
    let mut best: Option<(f64, Split)> = None;
    for (k, ladder) in frame.ladders.iter().enumerate() {
        let (low, high) = domain.goals[k];
        // Largest share, over runs, of each open cell.
        let mut by_run: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for &(number, amount) in used {
            let column = &pool.columns()[number];
            for (&run, &end) in column.runs.iter().zip(&column.ends) {
                for above in frame.above[run].iter().filter(|a| a.goal == k) {
                    let shares = by_run.entry(run).or_insert_with(|| vec![0.0; high - low]);
                    for cell in low..high {
                        shares[cell - low] += amount * ladder.share(cell, above.reach.at(end));
                    }
                }
            }
        }
        let mut level = vec![0.0f64; high - low];
        for shares in by_run.values() {
            for (l, s) in level.iter_mut().zip(shares) {
                *l = l.max(*s);
            }
        }
        let mut unpaid = 0.0;
        for point in low + 1..high {
            let passed = level[point - 1 - low].min(1.0);
            unpaid += ladder.weight[point - 1] * (1.0 - passed);
            let after: f64 = (point..high).map(|j| level[j - low]).fold(0.0, f64::max);
            let score = unpaid.min(3.0) * after;
            if after > WHOLE && unpaid > WHOLE && best.is_none_or(|(s, _)| score > s) {
                best = Some((score, Split::Goal { goal: k, point }));
            }
        }
    }
    best.map(|(_, split)| split)
}

/// A run that is on several machines: on this one or not. Only where both answers rule something out.
fn machine(frame: &Frame, domain: &Domain, pool: &Pool, used: &[(usize, f64)]) -> Option<Split> {
    let mut on = vec![vec![0.0; frame.tracks.len()]; frame.shop.runs.len()];
    for &(number, amount) in used {
        let column = &pool.columns()[number];
        for &run in &column.runs {
            on[run][column.machine] += amount;
        }
    }
    let mut best: Option<(f64, Split)> = None;
    for (run, row) in on.iter().enumerate() {
        let total: f64 = row.iter().sum();
        if machines(frame, domain, run).count() < 2 || total <= WHOLE {
            continue;
        }
        for (machine, &amount) in row.iter().enumerate() {
            let score = 0.5 - (amount / total - 0.5).abs();
            if score > WHOLE && best.is_none_or(|(s, _)| score > s) {
                best = Some((score, Split::On { run, machine }));
            }
        }
    }
    best.map(|(_, split)| split)
}

/// A run that ends at several moments: by this one or later.
fn end(frame: &Frame, pool: &Pool, used: &[(usize, f64)]) -> Option<Split> {
    let mut ends: Vec<BTreeMap<Minute, f64>> = vec![BTreeMap::new(); frame.shop.runs.len()];
    for &(number, amount) in used {
        let column = &pool.columns()[number];
        for (&run, &end) in column.runs.iter().zip(&column.ends) {
            *ends[run].entry(end).or_default() += amount;
        }
    }
    let mut best: Option<(f64, Split)> = None;
    for (run, ends) in ends.iter().enumerate() {
        let total: f64 = ends.values().sum();
        let mut before = 0.0;
        let mut last: Option<Minute> = None;
        for (&at, amount) in ends {
            if let Some(by) = last {
                let score = 0.5 - f64::abs(before / total - 0.5);
                if score > WHOLE && best.is_none_or(|(s, _)| score > s) {
                    best = Some((score, Split::End { run, by }));
                }
            }
            before += amount;
            last = Some(at);
        }
    }
    best.map(|(_, split)| split)
}
