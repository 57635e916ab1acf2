//! Gluing of split copies: each once, for as long as it takes, after its lengths are printed.
//!
//! Knows: copies, joints, the dates of gluings. Must not know: plates, assemblies' own work, money.
//! Promises: where one date is wrong, the dates that rest on it are still checked against it as it stands.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::Faults;
use super::evidence::{Evidence, Printed, total};
use super::presence::{Minute, minute};
use super::rule::Rule;
use crate::plan::Gluing;
use crate::scenario::PartIndex;
use crate::units::Minutes;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    let mut glued: BTreeMap<_, usize> = BTreeMap::new();
    for gluing in &evidence.plan.gluings {
        let copy = (gluing.part, gluing.number);
        *glued.entry(copy).or_default() += 1;
        match split_of(evidence, copy) {
            Some(of) => check_one(evidence, gluing, of, faults),
            None => faults.report(
                Rule::GluingOnce,
                format!(
                    "{} is glued and is not made in lengths",
                    evidence.copy_name(gluing.part, gluing.number)
                ),
            ),
        }
    }
    let copies: BTreeSet<_> = evidence
        .copies
        .keys()
        .chain(evidence.given.pieces.keys())
        .collect();
    for copy in copies
        .into_iter()
        .filter(|&&copy| split_of(evidence, copy).is_some())
    {
        let times = glued.get(copy).copied().unwrap_or(0);
        faults.require(times == 1, Rule::GluingOnce, || {
            format!(
                "{} is glued {times} times",
                evidence.copy_name(copy.0, copy.1)
            )
        });
    }
}

/// In how many lengths a copy is made that must be joined; `None` if it is whole, or joined already.
fn split_of(evidence: &Evidence, copy: (PartIndex, u32)) -> Option<u32> {
    let given = evidence.given_of(copy);
    if given.iter().any(|one| one.joined.is_some()) {
        return None;
    }
    let planned = evidence
        .copies
        .get(&copy)
        .map_or(0, |pieces| lengths(pieces));
    let of = given.iter().map(|one| one.of).fold(planned, u32::max);
    (of > 1).then_some(of)
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
fn check_one(evidence: &Evidence, gluing: &Gluing, of: u32, faults: &mut Faults) {
    let copy = (gluing.part, gluing.number);
    let planned = evidence.copies.get(&copy).map_or(&[][..], Vec::as_slice);
    let given = evidence.given_of(copy);
    let name = || evidence.copy_name(gluing.part, gluing.number);
    let part = &evidence.scenario.parts[gluing.part.0];
    let joint = &evidence.scenario.joints[gluing.joint.0];
    let own_joint = part.split.as_ref().map(|split| split.joint) == Some(gluing.joint);
    let planned_for = planned.first().map(|one| one.piece.assembly);
    let used_for = planned_for.or(given.first().map(|one| one.assembly));
    let own_assembly = used_for == Some(gluing.assembly);
    faults.require(own_joint && own_assembly, Rule::GluingNamed, || {
        format!(
            "{} is glued with the joint {} of another part, or for another assembly",
            name(),
            joint.id
        )
    });
    let ends = planned.iter().map(|one| one.end);
    if let Some(printed) = ends.chain(given.iter().map(|one| one.printed)).max() {
        faults.require(gluing.printed == printed, Rule::GluingPrinted, || {
            format!(
                "{} is printed at {}, its gluing says {}",
                name(),
                evidence.shown(printed),
                evidence.shown(gluing.printed)
            )
        });
    }
    let joints = of.saturating_sub(1);
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
    let could = gluing.printed.max(evidence.scenario.build.start);
    let ready = cured(&gluing.work, could, joint.cure);
    faults.require(minute(gluing.ready) == ready, Rule::GluingReady, || {
        format!(
            "{} is there at {}; it has cured at {}",
            name(),
            evidence.shown(gluing.ready),
            evidence.shown_minute(ready)
        )
    });
}
