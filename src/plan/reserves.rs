//! How often machines fail, as far as is known, and with what certainty the runs of a plan make up for it.
//!
//! Knows: the scenario, what was done, runs. Must not know: how they were found.
//! Promises: a certainty is of the runs as they are, each of which fails with all that is on it; what it cannot tell exactly it tells
//! too low.

use std::collections::{BTreeMap, BTreeSet};

use super::Run;
use crate::chance::{Batch, Share, certainty};
use crate::progress::{PieceName, Progress};
use crate::scenario::{Experience, MachineIndex, PartIndex, Scenario, failing};

/// What is known of a machine's runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Failing {
    /// Which machine.
    pub machine: MachineIndex,
    /// Its runs that have ended.
    pub runs: u32,
    /// Those of them that failed; of one that failed in part, the share of its pieces that are lost.
    pub failed: f64,
    /// The share of further runs that will fail, by expectation.
    pub share: f64,
}

/// The spares of a part with `spares: auto`, in this plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reserve {
    /// Which part.
    pub part: PartIndex,
    /// Copies that are there, print or are to be printed.
    pub copies: u32,
    /// The probability that as many of them as are wanted are good in the end, if those that are there stay so.
    pub certainty: f64,
    /// Whether it is that; else it is at least that.
    pub exact: bool,
}

impl Reserve {
    /// Whether it is less than was asked; by so little as sums are rounded by does not count.
    pub fn falls_short(&self, asked: f64) -> bool {
        self.certainty < asked - 1e-9
    }

    /// It in percent, to a tenth, down: what falls short is not shown as enough.
    pub fn per_cent(&self) -> f64 {
        ((self.certainty + 1e-9) * 1e3).floor() / 10.0
    }
}

/// What is known of each machine's runs, in the scenario's order.
pub fn failures(scenario: &Scenario, progress: &Progress) -> Vec<Failing> {
    let machines = (0..scenario.machines.len()).map(|machine| {
        let (runs, failed) = experience(progress, machine);
        Failing {
            machine: MachineIndex(machine),
            runs,
            failed,
            share: share(scenario, progress, machine).mean(),
        }
    });
    machines.collect()
}

/// With what certainty enough copies come of the runs, for each part with `spares: auto`.
pub fn reserves(scenario: &Scenario, progress: &Progress, runs: &[Run]) -> Vec<Reserve> {
    let parts = scenario.parts.iter().enumerate();
    let reserved: Vec<usize> = parts
        .filter(|(_, part)| part.reserve)
        .map(|(at, _)| at)
        .collect();
    if reserved.is_empty() {
        return Vec::new();
    }
    let shares: Vec<Share> = (0..scenario.machines.len())
        .map(|machine| share(scenario, progress, machine))
        .collect();
    let standing = progress.running.iter().map(|run| {
        let pieces = run.pieces.iter().map(|placed| placed.piece);
        (run.machine, pieces.collect::<Vec<PieceName>>())
    });
    let planned = runs.iter().map(|run| {
        let pieces = run.pieces.iter().map(|piece| PieceName {
            part: piece.part,
            number: piece.number,
            length: piece.length,
            of: piece.of,
        });
        (run.machine, pieces.collect())
    });
    let risked: Vec<(MachineIndex, Vec<PieceName>)> = standing.chain(planned).collect();
    let of_part = |part: usize| {
        let made = progress.made.iter().map(|made| &made.piece);
        let mut there: BTreeMap<(u32, u32), BTreeSet<u32>> = BTreeMap::new();
        for piece in made.chain(risked.iter().flat_map(|(_, pieces)| pieces)) {
            if piece.part.0 == part {
                let lengths = there.entry((piece.of, piece.number)).or_default();
                lengths.insert(piece.length);
            }
        }
        // A copy of which a length is neither there nor planned will be none.
        there.retain(|(of, _), lengths| lengths.len() as u32 >= *of);
        let copies = there.len() as u32;
        // Pieces are of one kind where they may stand in for each other: the same length of as many.
        let kinds: BTreeSet<(u32, u32)> = there
            .iter()
            .flat_map(|((of, _), lengths)| lengths.iter().map(move |&length| (*of, length)))
            .collect();
        let kinds: Vec<(u32, u32)> = kinds.into_iter().collect();
        let forms: BTreeSet<u32> = kinds.iter().map(|(of, _)| *of).collect();
        let group: Vec<usize> = kinds
            .iter()
            .map(|(of, _)| forms.range(..of).count())
            .collect();
        let batches = risked.iter().filter_map(|(machine, pieces)| {
            let mut holds = vec![0; kinds.len()];
            for piece in pieces.iter().filter(|piece| piece.part.0 == part) {
                if let Ok(kind) = kinds.binary_search(&(piece.of, piece.length))
                    && there.contains_key(&(piece.of, piece.number))
                {
                    holds[kind] += 1;
                }
            }
            holds.iter().any(|&n| n > 0).then_some(Batch {
                machine: machine.0,
                holds,
            })
        });
        let batches: Vec<Batch> = batches.collect();
        let spare = copies.saturating_sub(scenario.parts[part].quantity);
        let found = certainty(&shares, &batches, &group, spare);
        Reserve {
            part: PartIndex(part),
            copies,
            certainty: found.probability,
            exact: found.exact,
        }
    };
    reserved.into_iter().map(of_part).collect()
}

fn experience(progress: &Progress, machine: usize) -> (u32, f64) {
    let known = progress.machines.get(machine);
    known.map_or((0, 0.0), |known| (known.runs, known.failed))
}

fn share(scenario: &Scenario, progress: &Progress, machine: usize) -> Share {
    let (runs, failed) = experience(progress, machine);
    failing(&scenario.machines[machine], Experience { runs, failed })
}
