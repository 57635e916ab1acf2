//! Dates of assemblies, of the whole build, and the finishing of spares.
//!
//! Knows: copies, gluings, what needs what. Must not know: plates, hands, money.
//! Promises: where one date is wrong, the dates that rest on it are still checked against it as it stands.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::Faults;
use super::evidence::{Evidence, total};
use super::gluing::{cured, lengths};
use super::presence::minute;
use super::rule::Rule;
use crate::plan::{AssemblyDates, Work};
use crate::scenario::{Assembly, AssemblyIndex, PartIndex};
use crate::units::Seconds;

/// Days that rounding may lose: a tenth of a second.
const DAYS: f64 = 1e-6;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    let scenario = evidence.scenario;
    let listed = evidence
        .plan
        .assemblies
        .iter()
        .map(|dates| dates.assembly.0);
    faults.require(
        listed.eq(0..scenario.assemblies.len()),
        Rule::AssemblyListed,
        || {
            format!(
                "{} assemblies are listed, not each of {} once and in order",
                evidence.plan.assemblies.len(),
                scenario.assemblies.len()
            )
        },
    );
    let needs = Needs::gather(evidence);
    for dates in &evidence.plan.assemblies {
        check_one(evidence, &needs, dates, faults);
    }
    let finish = finish(evidence);
    faults.require(evidence.plan.finish == finish, Rule::Finish, || {
        format!(
            "the build is said to be finished at {}; its last assembly is complete at {}",
            evidence.shown(evidence.plan.finish),
            evidence.shown(finish)
        )
    });
    check_spares(evidence, faults);
}

/// When the last assembly is complete; the build's start if there is none.
pub(super) fn finish(evidence: &Evidence) -> DateTime<Utc> {
    let complete = evidence.plan.assemblies.iter().map(|dates| dates.complete);
    complete.max().unwrap_or(evidence.scenario.build.start)
}

/// Days from due to complete, none if it is in time or has no date.
pub(super) fn late_days(assembly: &Assembly, complete: DateTime<Utc>) -> f64 {
    assembly.due.map_or(0.0, |due| {
        let seconds = complete.timestamp() - due.timestamp();
        (seconds as f64 / 86_400.0).max(0.0)
    })
}

/// What assemblies wait for besides each other, and what their pieces ask of the bench.
struct Needs {
    /// By assembly: end of its last piece, and the finishing of all its pieces.
    pieces: BTreeMap<AssemblyIndex, (DateTime<Utc>, Seconds)>,
    /// By assembly: finishing of pieces that are there.
    there: BTreeMap<AssemblyIndex, Seconds>,
    /// By assembly: when its last glued copy is there.
    glued: BTreeMap<AssemblyIndex, DateTime<Utc>>,
    /// By assembly: when it is complete.
    complete: BTreeMap<AssemblyIndex, DateTime<Utc>>,
}

impl Needs {
    fn gather(evidence: &Evidence) -> Self {
        let mut pieces = BTreeMap::new();
        let mut glued = BTreeMap::new();
        let mut there: BTreeMap<AssemblyIndex, Seconds> = BTreeMap::new();
        for printed in evidence.copies.values().flatten() {
            if let Some(assembly) = printed.piece.assembly {
                let (end, finishing) = pieces
                    .entry(assembly)
                    .or_insert((printed.end, Seconds::ZERO));
                *end = printed.end.max(*end);
                *finishing += evidence.scenario.parts[printed.piece.part.0].finishing;
            }
        }
        let copies = evidence.given.pieces.values();
        let copies = copies.flat_map(|copy| copy.iter().map(move |given| (copy, given)));
        for (copy, given) in copies {
            if let Some(assembly) = given.assembly {
                let (end, finishing) = pieces
                    .entry(assembly)
                    .or_insert((given.printed, Seconds::ZERO));
                *end = given.printed.max(*end);
                let own = evidence.scenario.parts[given.part.0].finishing;
                *finishing += own;
                // Nobody finishes lengths of a copy that others are still missing of.
                if given.joined.is_some() || copy.len() as u32 == given.of {
                    *there.entry(assembly).or_insert(Seconds::ZERO) += own;
                }
                let joined = given.joined.unwrap_or(given.printed);
                let ready = glued.entry(assembly).or_insert(joined);
                *ready = joined.max(*ready);
            }
        }
        for gluing in &evidence.plan.gluings {
            if let Some(assembly) = gluing.assembly {
                let ready = glued.entry(assembly).or_insert(gluing.ready);
                *ready = gluing.ready.max(*ready);
            }
        }
        let complete = evidence
            .plan
            .assemblies
            .iter()
            .map(|dates| (dates.assembly, dates.complete))
            .collect();
        Self {
            pieces,
            there,
            glued,
            complete,
        }
    }
}

/// All rules of one assembly.
fn check_one(evidence: &Evidence, needs: &Needs, dates: &AssemblyDates, faults: &mut Faults) {
    let name = evidence.assembly_name(dates.assembly);
    let assembly = &evidence.scenario.assemblies[dates.assembly.0];
    if let Some(&complete) = evidence.given.complete.get(&dates.assembly) {
        let says = [dates.printed, dates.start, dates.complete].map(minute);
        let right = says == [complete; 3] && dates.work.is_empty();
        faults.require(right, Rule::AssemblyComplete, || {
            format!(
                "assembly {name} is complete at {} and has other dates, or work",
                evidence.shown_minute(complete)
            )
        });
        check_lateness(evidence, dates, faults);
        return;
    }
    let (printed, finishing) = needs
        .pieces
        .get(&dates.assembly)
        .copied()
        .unwrap_or((evidence.scenario.build.start, Seconds::ZERO));
    faults.require(dates.printed == printed, Rule::AssemblyPrinted, || {
        format!(
            "assembly {name} is said to be printed at {}; its last piece is at {}",
            evidence.shown(dates.printed),
            evidence.shown(printed)
        )
    });

    let bench = assembly.bench.value();
    let mut takes = bench.saturating_add(finishing.whole_minutes().value());
    // What was begun has been worked on in all bench hours since, for no longer than its work and what is there take.
    if let Some(&worked) = evidence.given.worked.get(&dates.assembly) {
        let there = needs.there.get(&dates.assembly).copied();
        let there = (there.unwrap_or(Seconds::ZERO).0 / 60.0) as i64;
        takes -= worked.min(bench.saturating_add(there));
    }
    let works = total(&dates.work);
    faults.require(works == takes, Rule::AssemblyWork, || {
        format!("assembly {name} is worked on for {works} min; it takes {takes} min")
    });

    let before = assembly
        .needs
        .iter()
        .filter_map(|need| needs.complete.get(need))
        .chain(needs.glued.get(&dates.assembly));
    let now = evidence.scenario.build.start;
    let possible = before.copied().fold(printed.max(now), DateTime::max);
    for stretch in &dates.work {
        faults.require(stretch.from >= possible, Rule::AssemblyAfter, || {
            format!(
                "assembly {name} is worked on at {}; all that it needs is there at {}",
                evidence.shown(stretch.from),
                evidence.shown(possible)
            )
        });
    }
    let start = dates.work.first().map_or(possible, |stretch| stretch.from);
    faults.require(dates.start == start, Rule::AssemblyStart, || {
        format!(
            "assembly {name} is said to start at {}; it starts at {}",
            evidence.shown(dates.start),
            evidence.shown(start)
        )
    });
    let complete = cured(&dates.work, start, assembly.cure);
    faults.require(
        minute(dates.complete) == complete,
        Rule::AssemblyComplete,
        || {
            format!(
                "assembly {name} is said to be complete at {}; it is at {}",
                evidence.shown(dates.complete),
                evidence.shown_minute(complete)
            )
        },
    );
    check_lateness(evidence, dates, faults);
}

/// [`Rule::LateDays`].
fn check_lateness(evidence: &Evidence, dates: &AssemblyDates, faults: &mut Faults) {
    let name = evidence.assembly_name(dates.assembly);
    let assembly = &evidence.scenario.assemblies[dates.assembly.0];
    let late = late_days(assembly, dates.complete);
    faults.require(
        (dates.late_days - late).abs() <= DAYS,
        Rule::LateDays,
        || {
            format!(
                "assembly {name} is said to be {} days late; it is {late}",
                dates.late_days
            )
        },
    );
}

/// Pieces of one part that belong to no assembly.
#[derive(Default)]
struct Spares {
    /// What finishing them all takes.
    finishing: Seconds,
    /// When the last of them is printed.
    printed: Option<DateTime<Utc>>,
    /// The stretches in which they are finished.
    work: Vec<Work>,
}

/// [`Rule::SpareWork`] and [`Rule::SpareAfterPrinted`].
fn check_spares(evidence: &Evidence, faults: &mut Faults) {
    let mut by_part: BTreeMap<PartIndex, Spares> = BTreeMap::new();
    for pieces in evidence.copies.values() {
        for printed in pieces {
            if printed.piece.assembly.is_none() {
                let part = printed.piece.part;
                let spares = by_part.entry(part).or_default();
                // Lengths that exist are finished with those that are printed; whole spares that exist are.
                let all = f64::from(lengths(pieces)) / pieces.len() as f64;
                spares.finishing += evidence.scenario.parts[part.0].finishing * all;
                spares.printed = spares.printed.max(Some(printed.end));
            }
        }
    }
    for done in &evidence.plan.spare_work {
        let spares = by_part.entry(done.part).or_default();
        spares.work.extend(&done.work);
    }
    for (part, spares) in by_part {
        let name = evidence.part_name(part);
        let works = total(&spares.work);
        let takes = spares.finishing.whole_minutes().value();
        faults.require(works == takes, Rule::SpareWork, || {
            format!("spares of {name} are finished for {works} min; they take {takes} min")
        });
        for stretch in &spares.work {
            let after = spares.printed.is_none_or(|printed| stretch.from >= printed);
            faults.require(after, Rule::SpareAfterPrinted, || {
                format!(
                    "spares of {name} are finished at {}, before the last is printed",
                    evidence.shown(stretch.from)
                )
            });
        }
    }
}
