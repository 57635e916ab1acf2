//! What is made, counted: every copy once, divided one way, for the assembly that takes it.
//!
//! Knows: pieces, copies, what assemblies take. Must not know: dates, plates, money.
//! Promises: counts only; looks at every piece once.

use std::collections::{BTreeMap, BTreeSet};

use super::Faults;
use super::evidence::Evidence;
use super::rule::Rule;
use crate::scenario::{AssemblyIndex, PartIndex};

/// A copy: its lengths, how many of them there should be by each, and what each is for; what exists and what is planned.
struct Copy {
    lengths: Vec<u32>,
    of: Vec<u32>,
    assembly: Vec<Option<AssemblyIndex>>,
}

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    let mut copies: BTreeMap<(PartIndex, u32), Copy> = BTreeMap::new();
    let planned = evidence.copies.iter().flat_map(|(&copy, pieces)| {
        let pieces = pieces.iter().map(|one| one.piece);
        pieces.map(move |piece| (copy, piece.length, piece.of, piece.assembly))
    });
    let given = evidence.given.pieces.iter().flat_map(|(&copy, pieces)| {
        pieces
            .iter()
            .map(move |one| (copy, one.length, one.of, one.assembly))
    });
    for (copy, length, of, assembly) in planned.chain(given) {
        let copy = copies.entry(copy).or_insert_with(|| Copy {
            lengths: Vec::new(),
            of: Vec::new(),
            assembly: Vec::new(),
        });
        copy.lengths.push(length);
        copy.of.push(of);
        copy.assembly.push(assembly);
    }
    for (&(part, number), copy) in &copies {
        check_copy(evidence, part, number, copy, faults);
    }
    if evidence.given.any {
        check_numbers(evidence, faults);
    } else {
        check_all_made(evidence, faults);
    }
    check_shares(evidence, &copies, faults);
}

/// [`Rule::CopiesOnce`] where nothing has been done: numbers from 1 on.
fn check_all_made(evidence: &Evidence, faults: &mut Faults) {
    for (at, part) in evidence.scenario.parts.iter().enumerate() {
        let wanted = 1..=part.copies();
        for &(_, number) in evidence.copies.keys().filter(|copy| copy.0.0 == at) {
            faults.require(wanted.contains(&number), Rule::CopiesOnce, || {
                let name = evidence.copy_name(PartIndex(at), number);
                format!("{name} is made, of {} copies wanted", part.copies())
            });
        }
        let missing: Vec<u32> = wanted
            .filter(|&number| !evidence.copies.contains_key(&(PartIndex(at), number)))
            .collect();
        faults.require(missing.is_empty(), Rule::CopiesOnce, || {
            format!(
                "{}: {} of {} copies are not made, the first is number {}",
                part.id,
                missing.len(),
                part.copies(),
                missing[0]
            )
        });
    }
}

/// [`Rule::CopiesOnce`] of what is left: no number of a copy that has gone into something is given again.
fn check_numbers(evidence: &Evidence, faults: &mut Faults) {
    for copy in evidence.copies.keys() {
        let again = evidence.given.whole.contains(copy);
        faults.require(!again, Rule::CopiesOnce, || {
            let name = evidence.copy_name(copy.0, copy.1);
            format!("{name} is made again")
        });
    }
}

/// [`Rule::CopiesOnce`] and [`Rule::OneDivision`] of one copy, and that all of it goes the same way.
fn check_copy(evidence: &Evidence, part: PartIndex, number: u32, copy: &Copy, faults: &mut Faults) {
    let name = || evidence.copy_name(part, number);
    let of = copy.of[0];
    let agreed = copy.of.iter().all(|&one| one == of);
    faults.require(agreed, Rule::OneDivision, || {
        format!("the lengths of {} disagree how many they are", name())
    });
    let mut lengths = copy.lengths.clone();
    lengths.sort_unstable();
    // As many as there should be, no two alike, the first 1 and the last the number of them: each exactly once.
    let once = lengths.windows(2).all(|pair| pair[0] < pair[1])
        && lengths.first() == Some(&1)
        && lengths.last() == Some(&of)
        && lengths.len() == of as usize;
    // Lengths that disagree how many they are cannot be complete either; one fault is enough to say so.
    faults.require(once || !agreed, Rule::CopiesOnce, || {
        format!("{} is made of the lengths {lengths:?} of {of}", name())
    });
    let together = copy.assembly.iter().all(|one| *one == copy.assembly[0]);
    faults.require(together, Rule::AssemblyShare, || {
        format!("the lengths of {} go to different assemblies", name())
    });
}

/// [`Rule::AssemblyShare`]: copies by part and assembly; what is complete takes nothing more. Spares as many as there are to be,
/// or as there are.
fn check_shares(
    evidence: &Evidence,
    copies: &BTreeMap<(PartIndex, u32), Copy>,
    faults: &mut Faults,
) {
    let mut shares: BTreeMap<(PartIndex, AssemblyIndex), (u64, u64)> = BTreeMap::new();
    let mut spares: Vec<(u64, u64)> = Vec::new();
    spares.extend(
        evidence
            .scenario
            .parts
            .iter()
            .map(|part| (u64::from(part.copies()), 0)),
    );
    for (at, assembly) in evidence.scenario.assemblies.iter().enumerate() {
        for &(part, takes) in &assembly.parts {
            let spares = &mut spares[part.0].0;
            *spares = spares.saturating_sub(u64::from(takes));
            if !evidence.given.complete.contains_key(&AssemblyIndex(at)) {
                shares.entry((part, AssemblyIndex(at))).or_default().0 += u64::from(takes);
            }
        }
    }
    let mut planned_spares: BTreeSet<PartIndex> = BTreeSet::new();
    for (&(part, number), copy) in copies {
        match copy.assembly[0] {
            Some(assembly) => shares.entry((part, assembly)).or_default().1 += 1,
            None => {
                spares[part.0].1 += 1;
                if !evidence.given.pieces.contains_key(&(part, number)) {
                    planned_spares.insert(part);
                }
            }
        }
    }
    for ((part, assembly), (takes, gets)) in shares {
        faults.require(gets == takes, Rule::AssemblyShare, || {
            format!(
                "assembly {} takes {takes} of {} and gets {gets}",
                evidence.assembly_name(assembly),
                evidence.part_name(part)
            )
        });
    }
    if !evidence.given.any {
        return;
    }
    for (at, (wanted, are)) in spares.into_iter().enumerate() {
        let part = PartIndex(at);
        let right = are == wanted || (are > wanted && !planned_spares.contains(&part));
        faults.require(right, Rule::CopiesOnce, || {
            let name = evidence.part_name(part);
            format!("{name}: there are to be {wanted} spares, and will be {are}")
        });
    }
}
