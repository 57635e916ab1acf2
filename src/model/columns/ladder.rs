//! A goal's lateness cut into cells of time, and how far into a cell a run's end reaches.
//!
//! Knows: goals. Must not know: sheets, prices, the LP.
//! Promises: the cells' costs add up exactly to the goal's cost at every completion up to the ladder's top.
//!
//! With cells `(p₀,p₁], (p₁,p₂] …`, `p₀ ≥ due`, and `share_j(C) = clamp((C − p_j)/(p_{j+1} − p_j), 0, 1)`,
//! `cost(C) = cost(p₀) + Σ_j w_j·share_j(C)`, `w_j = rate·(p_{j+1} − p_j)`, for every `p₀ ≤ C ≤ top`. The variable `v_j` stands for
//! `share_j`; it is nondecreasing in `C`, and `C ≥` every run's reach, hence for each run (it is on exactly one sheet)
//! `Σ_s share_j(reach of the run on s)·x_s ≤ v_j`. Over fractional sheets, `Σ_j w_j·v_j` is then at least the integral over time of
//! the largest probability, over runs, to end later: stronger than one row per run for the lateness as a whole, which is the largest integral.

use std::collections::HashMap;
use std::sync::Arc;

use super::super::packed::PackedShop;
use super::dating::NEVER;
use super::goals::{Goal, Goals};
use crate::calendar::Minute;

/// The cells of one goal.
#[derive(Debug)]
pub struct Ladder {
    /// Ends of the cells, ascending; cell `j` is `(points[j], points[j + 1]]`.
    pub points: Vec<Minute>,
    /// Money for passing each cell.
    pub weight: Vec<f64>,
    /// Money at `points[0]`.
    pub base: f64,
}

impl Ladder {
    /// Cells of `step` minutes from the goal's due date (or floor, if later) to `top`.
    pub fn new(goal: &Goal, top: Minute, step: Minute) -> Self {
        let from = goal.due.max(goal.floor);
        let mut points = vec![from];
        let mut at = from;
        while at < top {
            at = at.saturating_add(step).min(top);
            points.push(at);
        }
        let weight = points
            .windows(2)
            .map(|p| f64::from(p[1] - p[0]) * goal.rate)
            .collect();
        Self {
            points,
            weight,
            base: goal.cost(from),
        }
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.weight.len()
    }

    /// Which part of cell `j` lies before `completion`, 0 to 1.
    pub fn share(&self, j: usize, completion: Minute) -> f64 {
        let (from, to) = (self.points[j], self.points[j + 1]);
        (f64::from(completion.clamp(from, to) - from)) / f64::from(to - from)
    }
}

/// How a run's end reaches a goal, as a table where nodes take time.
#[derive(Clone, Debug)]
pub enum Reach {
    /// The end itself.
    Direct,
    /// By minute of the end.
    Table(Arc<[Minute]>),
}

impl Reach {
    /// The reach of a run that ends at `end`.
    pub fn at(&self, end: Minute) -> Minute {
        match self {
            Self::Direct => end,
            Self::Table(table) => table.get(end as usize).copied().unwrap_or(NEVER),
        }
    }

    /// The latest end, up to `horizon`, whose reach is at most `limit`; −1 if there is none.
    pub fn latest(&self, limit: Minute, horizon: Minute) -> Minute {
        match self {
            Self::Direct => limit.min(horizon),
            Self::Table(table) => table.partition_point(|&c| c <= limit) as Minute - 1,
        }
    }
}

/// How each run reaches a goal, up to `horizon`, in the order of the goal's runs; runs that feed the same nodes share a table.
pub fn reaches(goals: &Goals, goal: &Goal, shop: &PackedShop, horizon: Minute) -> Vec<Reach> {
    if goals.direct(goal) {
        return goal.runs.iter().map(|_| Reach::Direct).collect();
    }
    let mut tables: HashMap<&[usize], Arc<[Minute]>> = HashMap::new();
    let table = |&run: &usize| {
        let table = tables.entry(&shop.runs[run].feeds).or_insert_with(|| {
            (0..=horizon)
                .map(|end| goals.reach(goal, run, end))
                .collect()
        });
        Reach::Table(Arc::clone(table))
    };
    goal.runs.iter().map(table).collect()
}
