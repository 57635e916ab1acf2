//! What is made, counted: every copy once, divided one way, for the assembly that takes it.
//!
//! Knows: pieces, copies, what assemblies take. Must not know: dates, plates, money.
//! Promises: counts only; looks at every piece once.

use std::collections::BTreeMap;

use super::Faults;
use super::evidence::{Evidence, Printed};
use super::rule::Rule;
use crate::scenario::{AssemblyIndex, PartIndex};

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    for (&(part, number), pieces) in &evidence.copies {
        check_copy(evidence, part, number, pieces, faults);
    }
    for (at, part) in evidence.scenario.parts.iter().enumerate() {
        let missing: Vec<u32> = (1..=part.copies())
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
    check_shares(evidence, faults);
}

/// [`Rule::CopiesOnce`] and [`Rule::OneDivision`] of one copy, and that all of it goes the same way.
fn check_copy(
    evidence: &Evidence,
    part: PartIndex,
    number: u32,
    pieces: &[Printed],
    faults: &mut Faults,
) {
    let name = || evidence.copy_name(part, number);
    let copies = evidence.scenario.parts[part.0].copies();
    faults.require((1..=copies).contains(&number), Rule::CopiesOnce, || {
        format!("{} is made, of {copies} copies wanted", name())
    });
    let of = pieces[0].piece.of;
    let agreed = pieces.iter().all(|piece| piece.piece.of == of);
    faults.require(agreed, Rule::OneDivision, || {
        format!("the lengths of {} disagree how many they are", name())
    });
    let mut lengths: Vec<u32> = pieces.iter().map(|piece| piece.piece.length).collect();
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
    let assembly = pieces[0].piece.assembly;
    let together = pieces.iter().all(|piece| piece.piece.assembly == assembly);
    faults.require(together, Rule::AssemblyShare, || {
        format!("the lengths of {} go to different assemblies", name())
    });
}

/// [`Rule::AssemblyShare`]: copies by part and assembly.
fn check_shares(evidence: &Evidence, faults: &mut Faults) {
    let mut shares: BTreeMap<(PartIndex, AssemblyIndex), (u64, u64)> = BTreeMap::new();
    for (at, assembly) in evidence.scenario.assemblies.iter().enumerate() {
        for &(part, takes) in &assembly.parts {
            shares.entry((part, AssemblyIndex(at))).or_default().0 += u64::from(takes);
        }
    }
    for (&(part, _), pieces) in &evidence.copies {
        if let Some(assembly) = pieces[0].piece.assembly {
            shares.entry((part, assembly)).or_default().1 += 1;
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
}
