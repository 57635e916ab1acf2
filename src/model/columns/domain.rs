//! What is still open at one node of the branching: completions, machines and ends that are allowed.
//!
//! Knows: the frame. Must not know: prices, the LP, which node comes next.
//! Promises: two domains made by one `Split` share no plan, and together allow all that their parent does.

use std::sync::Arc;

use super::dating::NEVER;
use super::frame::{Column, Frame};
use crate::calendar::Minute;

/// The plans of one node.
#[derive(Clone, Debug)]
pub struct Domain {
    /// For each goal: its completion lies after point `.0` (0: no limit) and not after point `.1` of its ladder.
    pub goals: Vec<(usize, usize)>,
    /// For each machine and run whether it may be there.
    pub allowed: Arc<Vec<Vec<bool>>>,
    /// For each run: it ends after `.0` and not after `.1`.
    pub ends: Vec<(Minute, Minute)>,
}

/// A question that halves a domain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Split {
    /// Is the goal complete by this point of its ladder?
    Goal { goal: usize, point: usize },
    /// Is the run on this machine?
    On { run: usize, machine: usize },
    /// Does the run end by this minute?
    End { run: usize, by: Minute },
}

impl Domain {
    /// All plans.
    pub fn all(frame: &Frame) -> Self {
        Self {
            goals: frame.ladders.iter().map(|l| (0, l.cells())).collect(),
            allowed: Arc::new(vec![
                vec![true; frame.shop.runs.len()];
                frame.shop.machines.len()
            ]),
            ends: vec![(-1, NEVER); frame.shop.runs.len()],
        }
    }

    /// The part where the answer is yes, or no.
    pub fn part(&self, split: Split, yes: bool) -> Self {
        let mut part = self.clone();
        match split {
            Split::Goal { goal, point } if yes => part.goals[goal].1 = point,
            Split::Goal { goal, point } => part.goals[goal].0 = point,
            Split::On { run, machine } => {
                let allowed = Arc::make_mut(&mut part.allowed);
                for (m, row) in allowed.iter_mut().enumerate() {
                    if (m == machine) != yes {
                        row[run] = false;
                    }
                }
            }
            Split::End { run, by } if yes => part.ends[run].1 = by,
            Split::End { run, by } => part.ends[run].0 = by,
        }
        part
    }

    /// The ends of a run that are open: after `.0`, not after `.1`.
    pub fn ends_of(&self, frame: &Frame, run: usize) -> (Minute, Minute) {
        let (after, mut by) = self.ends[run];
        by = by.min(frame.horizon);
        for above in &frame.above[run] {
            let top = frame.ladders[above.goal].points[self.goals[above.goal].1];
            by = by.min(above.reach.latest(top, frame.horizon));
        }
        (after, by)
    }

    /// Money that every plan of the domain pays for lateness passed already.
    pub fn paid(&self, frame: &Frame) -> f64 {
        let paid = |(k, ladder): (usize, &super::ladder::Ladder)| {
            ladder.base + ladder.weight[..self.goals[k].0].iter().sum::<f64>()
        };
        frame.ladders.iter().enumerate().map(paid).sum()
    }

    /// Whether a cell is open: neither passed by all plans nor closed to all.
    pub fn open(&self, goal: usize, cell: usize) -> bool {
        let (low, high) = self.goals[goal];
        low <= cell && cell < high
    }

    /// Whether a column is allowed.
    pub fn allows(&self, frame: &Frame, column: &Column) -> bool {
        column.runs.iter().zip(&column.ends).all(|(&run, &end)| {
            let (after, by) = self.ends[run];
            self.allowed[column.machine][run]
                && after < end
                && end <= by
                && frame.above[run]
                    .iter()
                    .all(|a| a.reach.at(end) <= frame.ladders[a.goal].points[self.goals[a.goal].1])
        })
    }
}
