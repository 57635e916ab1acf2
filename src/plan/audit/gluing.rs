//! Gluing of split copies: each once, for as long as it takes, after its lengths are printed.
//!
//! Knows: copies, joints, the dates of gluings. Must not know: plates, assemblies' own work, money.
//! Promises: where one date is wrong, the dates that rest on it are still checked against it as it stands.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::Faults;
use super::evidence::{Evidence, Printed, total};
use super::presence::{Minute, minute};
use super::rule::Rule;
use crate::plan::Gluing;
use crate::units::Minutes;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    let mut glued: BTreeMap<_, usize> = BTreeMap::new();
    for gluing in &evidence.plan.gluings {
        let copy = (gluing.part, gluing.number);
        *glued.entry(copy).or_default() += 1;
        match evidence.copies.get(&copy).filter(|pieces| is_split(pieces)) {
            Some(pieces) => check_one(evidence, gluing, pieces, faults),
            None => faults.report(
                Rule::GluingOnce,
                format!(
                    "{} is glued and is not made in lengths",
                    evidence.copy_name(gluing.part, gluing.number)
                ),
            ),
        }
    }
    for (copy, _) in evidence.copies.iter().filter(|(_, made)| is_split(made)) {
        let times = glued.get(copy).copied().unwrap_or(0);
        faults.require(times == 1, Rule::GluingOnce, || {
            format!(
                "{} is glued {times} times",
                evidence.copy_name(copy.0, copy.1)
            )
        });
    }
}

/// Whether a copy is made in several lengths.
pub(super) fn is_split(pieces: &[Printed]) -> bool {
    lengths(pieces) > 1
}

/// In how many lengths a copy is made; the most, where they disagree.
pub(super) fn lengths(pieces: &[Printed]) -> u32 {
    pieces.iter().map(|piece| piece.piece.of).max().unwrap_or(0)
}

/// End of the last stretch of work and then the cure, or the cure from `ready` on if there is no work.
pub(super) fn cured(work: &[crate::plan::Work], ready: DateTime<Utc>, cure: Minutes) -> Minute {
    let done = work.last().map_or(ready, |stretch| stretch.to);
    minute(done).saturating_add(cure.value())
}

/// [`Rule::GluingNamed`], [`Rule::GluingPrinted`], [`Rule::GluingWork`], [`Rule::GluingAfterPrinted`],
/// [`Rule::GluingReady`].
fn check_one(evidence: &Evidence, gluing: &Gluing, pieces: &[Printed], faults: &mut Faults) {
    let name = || evidence.copy_name(gluing.part, gluing.number);
    let part = &evidence.scenario.parts[gluing.part.0];
    let joint = &evidence.scenario.joints[gluing.joint.0];
    let own_joint = part.split.as_ref().map(|split| split.joint) == Some(gluing.joint);
    let own_assembly = pieces[0].piece.assembly == gluing.assembly;
    faults.require(own_joint && own_assembly, Rule::GluingNamed, || {
        format!(
            "{} is glued with the joint {} of another part, or for another assembly",
            name(),
            joint.id
        )
    });
    if let Some(printed) = pieces.iter().map(|piece| piece.end).max() {
        faults.require(gluing.printed == printed, Rule::GluingPrinted, || {
            format!(
                "{} is printed at {}, its gluing says {}",
                name(),
                evidence.shown(printed),
                evidence.shown(gluing.printed)
            )
        });
    }
    let joints = lengths(pieces).saturating_sub(1);
    let takes = (joint.bench * f64::from(joints)).whole_minutes().value();
    let works = total(&gluing.work);
    faults.require(works == takes, Rule::GluingWork, || {
        format!(
            "{} is glued for {works} min; {joints} joints take {takes} min",
            name()
        )
    });
    for stretch in &gluing.work {
        faults.require(
            stretch.from >= gluing.printed,
            Rule::GluingAfterPrinted,
            || {
                format!(
                    "{} is glued at {} and printed at {}",
                    name(),
                    evidence.shown(stretch.from),
                    evidence.shown(gluing.printed)
                )
            },
        );
    }
    let ready = cured(&gluing.work, gluing.printed, joint.cure);
    faults.require(minute(gluing.ready) == ready, Rule::GluingReady, || {
        format!(
            "{} is there at {}; it has cured at {}",
            name(),
            evidence.shown(gluing.ready),
            evidence.shown_minute(ready)
        )
    });
}
