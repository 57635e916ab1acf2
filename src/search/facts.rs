//! What a dated sheet comes to: its dates, its money, what it prints last for whom.
//!
//! Knows: dates and numbers of one sheet. Must not know: other machines, the graph.
//! Promises: facts begun from others are those of the runs that stay, until the later runs are entered.

use crate::calendar::Minute;

use super::dating::Dated;
use super::shop::ItemId;
use super::supply::Draw;

/// Lengths of split copies that end at one moment on one machine.
#[derive(Clone, Copy, Debug)]
pub struct LengthsEnd {
    /// Position of the run on its sheet.
    pub run: u32,
    /// Which item.
    pub item: ItemId,
    /// When they are printed.
    pub end: Minute,
    /// How many.
    pub count: u32,
}

/// Trial pieces that end at one moment on one machine.
#[derive(Clone, Copy, Debug)]
pub struct TrialEnd {
    /// Position of the run on its sheet.
    pub run: u32,
    /// Which trial.
    pub trial: u32,
    /// When they are printed.
    pub end: Minute,
}

/// What a dated sheet comes to.
#[derive(Clone, Debug, Default)]
pub struct SheetFacts {
    /// Dates of its runs, in order.
    pub dates: Vec<Dated>,
    /// Money of each run: setup, change, printing, plastic.
    pub money: Vec<f64>,
    /// Their sum.
    pub cost: f64,
    /// The accepted place that each run stands in, if a change costs something.
    pub places: Vec<u32>,
    /// Last end of whole pieces for each node; 0 where none is printed here.
    pub last: Vec<Minute>,
    /// Lengths of split copies, by run.
    pub lengths: Vec<LengthsEnd>,
    /// Trial pieces, by run.
    pub trials: Vec<TrialEnd>,
    /// What its runs take of filament that is short, by run.
    pub draws: Vec<Draw>,
}

impl SheetFacts {
    /// Facts of an empty sheet in a graph of so many nodes.
    pub fn new(nodes: usize) -> Self {
        Self {
            last: vec![0; nodes],
            ..Self::default()
        }
    }

    /// Takes over the first `same` runs of another sheet's facts. `cost` and `last` are still those of the whole other sheet:
    /// whoever enters the later runs corrects them by what changed, which is far less.
    pub fn begin_as(&mut self, other: &SheetFacts, same: usize) {
        self.dates.clear();
        self.dates.extend_from_slice(&other.dates[..same]);
        self.money.clear();
        self.money.extend_from_slice(&other.money[..same]);
        self.places.clear();
        let placed = other.places.len().min(same);
        self.places.extend_from_slice(&other.places[..placed]);
        self.cost = other.cost;
        self.last.clone_from(&other.last);
        let kept = other.lengths.partition_point(|l| (l.run as usize) < same);
        self.lengths.clear();
        self.lengths.extend_from_slice(&other.lengths[..kept]);
        let kept = other.trials.partition_point(|t| (t.run as usize) < same);
        self.trials.clear();
        self.trials.extend_from_slice(&other.trials[..kept]);
        let kept = other.draws.partition_point(|d| (d.run as usize) < same);
        self.draws.clear();
        self.draws.extend_from_slice(&other.draws[..kept]);
    }

    /// Takes over the other sheet's runs from `from` on, which have become runs from the present end on, dates unchanged.
    /// Not where filament is short: what they take may have to wait then. Nor where changes of an accepted plan cost something: which place a run
    /// takes depends on those before it.
    pub fn end_as(&mut self, other: &SheetFacts, from: usize) {
        let shift = self.dates.len() as i64 - from as i64;
        self.dates.extend_from_slice(&other.dates[from..]);
        self.money.extend_from_slice(&other.money[from..]);
        let kept = other.lengths.partition_point(|l| (l.run as usize) < from);
        self.lengths
            .extend(other.lengths[kept..].iter().map(|l| LengthsEnd {
                run: (i64::from(l.run) + shift) as u32,
                ..*l
            }));
        let kept = other.trials.partition_point(|t| (t.run as usize) < from);
        self.trials
            .extend(other.trials[kept..].iter().map(|t| TrialEnd {
                run: (i64::from(t.run) + shift) as u32,
                ..*t
            }));
    }
}
