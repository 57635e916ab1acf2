//! Names of runs: each means one run, whichever plan has it.
//!
//! Knows: the plan, the accepted one, the highest number given on each machine. Must not know: how names are given.
//! Promises: one pass over the runs.

use std::collections::HashSet;

use super::Faults;
use super::evidence::Evidence;
use super::rule::Rule;
use crate::plan::Run;
use crate::progress::{PreviousRun, Progress};
use crate::scenario::{PartIndex, Scenario};

/// [`Rule::RunIds`] and [`Rule::RunIdsStay`].
pub(super) fn check(evidence: &Evidence, progress: &Progress, faults: &mut Faults) {
    let mut seen = HashSet::new();
    for run in &evidence.plan.runs {
        faults.require(seen.insert(run.id.as_str()), Rule::RunIds, || {
            format!("run {} is listed twice", run.id)
        });
    }
    let previous = progress.previous.iter().flat_map(|plan| &plan.runs);
    let accepted: Vec<&PreviousRun> = previous.filter(|run| run.is_whole()).collect();
    let named = |id: &str| accepted.iter().find(|then| then.id == id).copied();
    let machines = evidence.scenario.machines.iter().zip(&evidence.queues);
    for (at, (machine, queue)) in machines.enumerate() {
        let state = progress.machines.get(at);
        let mut last_number = state.map_or(0, |state| u64::from(state.last_number));
        for &at in queue {
            let run = &evidence.plan.runs[at];
            if let Some(then) = named(&run.id) {
                faults.require(
                    is_the_same(evidence.scenario, then, run),
                    Rule::RunIdsStay,
                    || format!("run {} has other pieces than it was accepted with", run.id),
                );
                continue;
            }
            match number_in(&run.id, &machine.id) {
                Some(number) if number > last_number => last_number = number,
                _ => faults.report(
                    Rule::RunIds,
                    format!(
                        "run {} of machine {} follows its number {last_number}",
                        run.id, machine.id
                    ),
                ),
            }
            let kept = |then: &&&PreviousRun| {
                is_the_same(evidence.scenario, then, run) && !has(evidence, then)
            };
            if let Some(then) = accepted.iter().find(kept) {
                faults.report(
                    Rule::RunIdsStay,
                    format!("run {} was accepted as {}", run.id, then.id),
                );
            }
        }
    }
}

/// Whether the plan has a run of this name.
fn has(evidence: &Evidence, then: &PreviousRun) -> bool {
    evidence.plan.runs.iter().any(|run| run.id == then.id)
}

/// Whether two are on one machine, of one filament, with pieces of the same parts and lengths; which of lengths that are alike is all the same.
fn is_the_same(scenario: &Scenario, then: &PreviousRun, run: &Run) -> bool {
    let place = (then.machine, then.filament) == (run.machine, run.filament);
    if !place || then.pieces.len() != run.pieces.len() {
        return false;
    }
    let mut open: Vec<(PartIndex, u32, u32)> = (run.pieces.iter())
        .map(|piece| (piece.part, piece.length, piece.of))
        .collect();
    then.pieces.iter().all(|placed| {
        let was = placed.piece;
        let like = |&(part, length, of): &(PartIndex, u32, u32)| {
            (part, of) == (was.part, was.of) && alike(scenario, was.part, of, was.length, length)
        };
        let found = open.iter().position(like);
        found.map(|at| open.swap_remove(at)).is_some()
    })
}

/// Whether two of so many lengths of a part may stand for each other: of a box they are all the same, of a mesh those whose bodies are.
fn alike(scenario: &Scenario, part: PartIndex, of: u32, one: u32, other: u32) -> bool {
    let Some(mesh) = scenario.parts[part.0].mesh() else {
        return true;
    };
    let bodies = mesh.body(of, one).zip(mesh.body(of, other));
    one == other || bodies.is_some_and(|(one, other)| one.is_like(other))
}

/// The number in `machine-NNN`.
fn number_in(id: &str, machine: &str) -> Option<u64> {
    let digits = id.strip_prefix(machine)?.strip_prefix('-')?;
    (digits.len() >= 3 && digits.bytes().all(|byte| byte.is_ascii_digit()))
        .then(|| digits.parse().ok())
        .flatten()
}
