//! What runs are called: a number on their machine, which means one run for ever.
//!
//! Knows: the accepted plan, numbers that were given. Must not know: moves, costs.
//! Promises: a run that the accepted plan has on that machine, with the same pieces, keeps its name, whenever it is, and which lengths of their
//! copies they are where those are alike; every other one has a number above all that were ever accepted there, rising in time.
//!
//! Sheets on a wall and notes in a log name runs; a name that came to mean another plate would put them wrong.

use chrono::{DateTime, Utc};

use crate::plan::Run;
use crate::progress::{PreviousRun, Progress};
use crate::scenario::{FilamentIndex, MachineIndex, PartIndex, Scenario};

/// What makes a run the same: where, of what, and its pieces by part, the first length that each is like, and lengths of the copy, in order.
type Plate = (MachineIndex, FilamentIndex, Vec<(usize, u32, u32)>);

/// Names that runs have had.
#[derive(Clone, Debug, Default)]
pub struct Names {
    /// By machine: the highest number of any.
    last: Vec<u32>,
    /// Runs of the accepted plan that are still to be made: those that stand by time, and behind them those that were scrapped; with their
    /// starts, which the latter have no more.
    open: Vec<(Plate, Option<DateTime<Utc>>, String)>,
}

/// What a piece is, whichever copy and whichever of lengths that are alike.
fn kind(scenario: &Scenario, part: PartIndex, length: u32, of: u32) -> (usize, u32, u32) {
    let part_of = &scenario.parts[part.0];
    (part.0, part_of.first_like(of, length), of)
}

/// The number in a name; 0: it has none.
fn number(id: &str) -> u32 {
    let last = id.rsplit('-').next();
    last.and_then(|n| n.parse().ok()).unwrap_or(0)
}

impl Names {
    /// Those that have been given when planning begins.
    pub fn given(scenario: &Scenario, progress: &Progress) -> Self {
        let mut last = vec![0; scenario.machines.len()];
        for (last, machine) in last.iter_mut().zip(&progress.machines) {
            *last = machine.runs.max(machine.last_number);
        }
        let previous = progress.previous.iter().flat_map(|plan| &plan.runs);
        let mut previous: Vec<&PreviousRun> = previous.collect();
        previous.sort_by_key(|run| (run.scrapped, run.start));
        let running = progress.running.iter().map(|run| (run.machine, &run.id));
        let named = previous.iter().map(|run| (run.machine, &run.id));
        for (machine, id) in named.chain(running) {
            if let Some(last) = last.get_mut(machine.0) {
                *last = number(id).max(*last);
            }
        }
        let whole = previous.into_iter().filter(|run| run.is_whole());
        let open = whole.map(|run| {
            let pieces = run.pieces.iter().map(|placed| placed.piece);
            let mut pieces: Vec<(usize, u32, u32)> = pieces
                .map(|p| kind(scenario, p.part, p.length, p.of))
                .collect();
            pieces.sort_unstable();
            let start = (!run.scrapped).then_some(run.start);
            ((run.machine, run.filament, pieces), start, run.id.clone())
        });
        Self {
            last,
            open: open.collect(),
        }
    }

    /// Names the runs of a plan, which are listed by machine, then by time.
    pub fn give(mut self, scenario: &Scenario, runs: &mut [Run]) {
        self.last.resize(scenario.machines.len(), 0);
        let plates = runs.iter().map(|run| {
            let mut pieces: Vec<(usize, u32, u32)> = (run.pieces.iter())
                .map(|piece| kind(scenario, piece.part, piece.length, piece.of))
                .collect();
            pieces.sort_unstable();
            (run.machine, run.filament, pieces)
        });
        let plates: Vec<Plate> = plates.collect();
        // Where one of several that are alike was scrapped, those that start when they were to are those that they were, and what is printed
        // again is none of them. Else they keep their order.
        let scrapped = self.open.iter().filter(|(_, start, _)| start.is_none());
        let scrapped: Vec<Plate> = scrapped.map(|(plate, ..)| plate.clone()).collect();
        let mut kept: Vec<Option<String>> = vec![None; runs.len()];
        for ((run, plate), kept) in runs.iter().zip(&plates).zip(&mut kept) {
            let stands = |(then, start, _): &(Plate, Option<DateTime<Utc>>, String)| {
                then == plate && *start == Some(run.start)
            };
            let mut open = self.open.iter();
            let same = open.position(stands).filter(|_| scrapped.contains(plate));
            *kept = same.map(|same| self.open.remove(same).2);
        }
        for ((run, plate), kept) in runs.iter_mut().zip(&plates).zip(kept) {
            let same = self.open.iter().position(|(then, ..)| then == plate);
            run.id = match (kept, same) {
                (Some(id), _) => id,
                (None, Some(same)) => self.open.remove(same).2,
                (None, None) => {
                    let last = &mut self.last[run.machine.0];
                    *last = last.saturating_add(1);
                    format!("{}-{last:03}", scenario.machines[run.machine.0].id)
                }
            };
        }
    }
}
