//! What a plan says of failures: of each machine's share, and of parts whose spares are counted.
//!
//! Knows: the scenario, what was done, runs. Must not know: how many spares were asked for, how the plan works it out.
//! Promises: runs fail one after the other here, each with the share that those before it on its machine leave.

use std::collections::{BTreeMap, BTreeSet};

use super::Faults;
use super::evidence::Evidence;
use super::rule::Rule;
use crate::plan::Reserve;
use crate::progress::Progress;
use crate::scenario::PartIndex;

/// Runs for which a stated share counts; the README says so.
const LOOKED_ON: f64 = 20.0;
/// Probabilities that differ by less are equal.
const SAME: f64 = 1e-6;
/// With more ways to lose pieces a certainty is not worked out a second time.
const MOST_WAYS: usize = 20_000;

/// [`Rule::Failures`].
pub(super) fn check(evidence: &Evidence, progress: &Progress, faults: &mut Faults) {
    let plan = evidence.plan;
    let machines = evidence.scenario.machines.len();
    let known = |machine: usize| {
        let state = progress.machines.get(machine);
        state.map_or((0.0, 0.0), |state| (f64::from(state.runs), state.failed))
    };
    let stated: Vec<usize> = plan.failures.iter().map(|one| one.machine.0).collect();
    let each_once = stated.iter().copied().eq(0..machines);
    faults.require(each_once, Rule::Failures, || {
        "the plan does not say of each machine once how often its runs fail".to_owned()
    });
    if !each_once {
        return;
    }
    for one in &plan.failures {
        let machine = &evidence.scenario.machines[one.machine.0];
        let (runs, failed) = known(one.machine.0);
        let share = (machine.scrap * LOOKED_ON + failed) / (LOOKED_ON + runs);
        let right = (one.share - share).abs() < SAME
            && f64::from(one.runs) == runs
            && (one.failed - failed).abs() < SAME;
        faults.require(right, Rule::Failures, || {
            format!(
                "{}: {} of {} runs failed and {} will, it is said; it is {failed} of {runs}, and {share}",
                machine.id, one.failed, one.runs, one.share
            )
        });
    }
    let counted =
        (0..evidence.scenario.parts.len()).filter(|&p| evidence.scenario.parts[p].reserve);
    let counted: Vec<PartIndex> = counted.map(PartIndex).collect();
    let told: Vec<PartIndex> = plan.reserves.iter().map(|one| one.part).collect();
    faults.require(counted == told, Rule::Failures, || {
        "not just the parts with counted spares are told with their certainty".to_owned()
    });
    for one in plan
        .reserves
        .iter()
        .filter(|one| counted.contains(&one.part))
    {
        check_certainty(evidence, progress, one, faults);
    }
}

/// A piece by lengths of its copy, which of them, and which copy.
type Name = (u32, u32, u32);

fn check_certainty(evidence: &Evidence, progress: &Progress, told: &Reserve, faults: &mut Faults) {
    let part = told.part;
    let mut runs: Vec<(usize, Vec<Name>)> = Vec::new();
    for run in &progress.running {
        let pieces = run.pieces.iter().map(|placed| placed.piece);
        let own = pieces.filter(|piece| piece.part == part);
        let names = own.map(|piece| (piece.of, piece.length, piece.number));
        runs.push((run.machine.0, names.collect()));
    }
    for run in &evidence.plan.runs {
        let own = run.pieces.iter().filter(|piece| piece.part == part);
        let names = own.map(|piece| (piece.of, piece.length, piece.number));
        runs.push((run.machine.0, names.collect()));
    }
    let made = progress.made.iter().map(|made| made.piece);
    let made = made.filter(|piece| piece.part == part);
    let mut all: BTreeSet<Name> = made
        .map(|piece| (piece.of, piece.length, piece.number))
        .collect();
    all.extend(runs.iter().flat_map(|(_, names)| names));
    let whole =
        |&(of, _, number): &Name| (1..=of).all(|length| all.contains(&(of, length, number)));
    let copies = all
        .iter()
        .filter(|name| whole(name))
        .map(|(of, _, number)| (of, number))
        .collect::<BTreeSet<_>>()
        .len() as u32;
    faults.require(copies == told.copies, Rule::Failures, || {
        format!(
            "{}: {copies} copies are there, print or are planned, and {} are stated",
            evidence.part_name(part),
            told.copies
        )
    });
    for (_, names) in &mut runs {
        names.retain(whole);
    }
    runs.retain(|(_, names)| !names.is_empty());
    runs.sort_by_key(|(machine, _)| *machine);
    let spare = copies.saturating_sub(evidence.scenario.parts[part.0].quantity);
    let Some(probability) = probability(evidence, progress, &runs, spare) else {
        return;
    };
    let right = if told.exact {
        (told.certainty - probability).abs() < SAME
    } else {
        (0.0..=probability + SAME).contains(&told.certainty)
    };
    faults.require(right, Rule::Failures, || {
        format!(
            "{}: enough copies succeed with {probability}, and {} is stated",
            evidence.part_name(part),
            told.certainty
        )
    });
}

/// The probability that no more than `spare` copies are lost of these runs, sorted by machine; `None` if there are too many ways.
fn probability(
    evidence: &Evidence,
    progress: &Progress,
    runs: &[(usize, Vec<Name>)],
    spare: u32,
) -> Option<f64> {
    // By failures on the machine so far, and pieces lost by lengths of their copy and which of them.
    type Ways = BTreeMap<(u32, BTreeMap<(u32, u32), u32>), f64>;
    let mut ways: Ways = BTreeMap::from([((0, BTreeMap::new()), 1.0)]);
    let mut on = None;
    let mut before = 0.0;
    for (machine, names) in runs {
        if on != Some(machine) {
            on = Some(machine);
            before = 0.0;
            let mut joined = Ways::new();
            for ((_, lost), probability) in ways {
                *joined.entry((0, lost)).or_default() += probability;
            }
            ways = joined;
        }
        let state = progress.machines.get(*machine);
        let (seen, failed) =
            state.map_or((0.0, 0.0), |state| (f64::from(state.runs), state.failed));
        let prior = evidence.scenario.machines[*machine].scrap * LOOKED_ON + failed;
        let mut next = Ways::new();
        for ((failures, lost), probability) in ways {
            let fails = (prior + f64::from(failures)) / (LOOKED_ON + seen + before);
            *next.entry((failures, lost.clone())).or_default() += probability * (1.0 - fails);
            let mut more = lost;
            for &(of, length, _) in names {
                *more.entry((of, length)).or_default() += 1;
            }
            let mut by_form: BTreeMap<u32, u32> = BTreeMap::new();
            for (&(of, _), &n) in &more {
                let most = by_form.entry(of).or_default();
                *most = n.max(*most);
            }
            if by_form.values().sum::<u32>() <= spare {
                *next.entry((failures + 1, more)).or_default() += probability * fails;
            }
        }
        if next.len() > MOST_WAYS {
            return None;
        }
        ways = next;
        before += 1.0;
    }
    Some(ways.values().sum())
}
