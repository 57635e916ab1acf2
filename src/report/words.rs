//! The words that several reports share: what lies on a run, what is changed, how long something takes.
//!
//! Knows: the scenario's names. Must not know: where the words end up.
//! Promises: the same run reads the same in every report.

use chrono::{DateTime, Utc};

use crate::plan::{
    AssemblyDates, CriticalPath, Idle, Link, LinkOf, Piece, Plan, Run, SpoolEnd, SpoolNote, Sums,
    Trial, Unused,
};
use crate::routes::{RouteKind, TooLong};
use crate::scenario::{Axis, FilamentIndex, MachineIndex, Part, PartIndex, Scenario, Variant};
use crate::units::{Grams, Minutes};

use super::grid::TIE;
use super::local::Local;
use super::money::Hundredths;

/// `9 colour changes and 3 first loads`: what goes onto an empty machine changes no colour.
pub fn changes(sums: &Sums) -> String {
    let changes = count(sums.changes, "colour change", "colour changes");
    match sums.first_loads {
        0 => changes,
        loads => format!(
            "{changes} and {}",
            count(loads, "first load", "first loads")
        ),
    }
}

/// `its spool ends Fri 07:24 with nobody there, and it stands until somebody is`.
pub fn stops(at: &str) -> String {
    format!("its spool ends {at} with nobody there, and it stands until somebody is")
}

/// Behind `in time`, where runs stop whose dates do not include it.
pub const UNLESS_ONE_STOPS: &str = ", unless a run that stops makes one late";

/// What it means that an order should have been sent before the build starts, and what to do.
pub const ORDER_BEFORE_THE_START: &str = "Before the start: sent later than that, the filament comes after it is needed, and no run \
    waits for it. Order now, or put the start of the build off by as many days.";

/// `33.00 EUR`, never broken.
pub fn price(scenario: &Scenario, money: Hundredths) -> String {
    format!("{money}{TIE}{}", scenario.currency)
}

/// `2 spares of bracket`, and for those that the program counted, with what probability they suffice; of one filament.
pub fn spares(scenario: &Scenario, plan: &Plan, filament: FilamentIndex) -> Vec<String> {
    let parts = scenario.parts.iter().enumerate();
    parts
        .filter(|(_, part)| part.filament == filament && (part.spares > 0 || part.reserve))
        .map(|(at, part)| {
            let spares = count(part.spares as usize, "spare", "spares");
            let asked = scenario.build.confidence;
            let reserve = plan.reserves.iter().find(|one| one.part.0 == at);
            let enough = reserve.map_or_else(String::new, |reserve| {
                format!(
                    " (enough for its {} with {}{} %{})",
                    part.quantity,
                    if reserve.exact { "" } else { "at least " },
                    reserve.per_cent(),
                    if reserve.falls_short(asked) {
                        format!(", not the {} % that you asked for", percent(asked))
                    } else {
                        String::new()
                    }
                )
            });
            format!("{spares} of {}{enough}", part.id)
        })
        .collect()
}

/// A share in percent, with no more decimals than it has, and at most two.
pub fn percent(share: f64) -> String {
    format!("{}", (share * 1e4).round() / 1e2)
}

/// `, one of tight: -0.1 mm, loose: +0.1 mm`; nothing for a part without variants.
pub(super) fn to_choose(part: &Part) -> String {
    let names: Vec<String> = part.variants.iter().map(variant).collect();
    if names.is_empty() {
        String::new()
    } else {
        format!(", one of {}", names.join(", "))
    }
}

/// Where in the plan the runs with a part's trial copies are; nowhere if all were printed before.
pub(super) fn trial_runs(scenario: &Scenario, plan: &Plan, trial: &Trial) -> Vec<usize> {
    let copies = scenario.parts[trial.part.0].trial;
    let is_trial = |piece: &Piece| piece.part == trial.part && piece.number <= copies;
    let runs = plan.runs.iter().enumerate();
    runs.filter(|(_, run)| run.pieces.iter().any(is_trial))
        .map(|(at, _)| at)
        .collect()
}

/// `printed on tall-001, tall-002`: where a part's trial copies come from.
pub(super) fn trial_from(scenario: &Scenario, plan: &Plan, trial: &Trial) -> String {
    let runs = trial_runs(scenario, plan, trial);
    if runs.is_empty() {
        return "printed already".to_owned();
    }
    let ids: Vec<&str> = runs.iter().map(|&at| plan.runs[at].id.as_str()).collect(); // each is one of the plan's
    format!("printed on {}", ids.join(", "))
}

/// `tight: -0.1 mm`: which file is to be exported.
pub(super) fn variant(variant: &Variant) -> String {
    format!("{}:{TIE}{:+}{TIE}mm", variant.name, variant.offset.0)
}

/// `8× jib-chord 1/2`, `1× cap (spare)`, `1× cap (trial)`: equal pieces counted together, in the order of the scenario's
/// parts, each entry broken at most before the bracket.
pub(super) fn contents(scenario: &Scenario, plan: &Plan, pieces: &[Piece]) -> Vec<String> {
    let mut kinds: Vec<(usize, u32, u32, bool, bool, Option<usize>)> = pieces
        .iter()
        .map(|piece| {
            let spare = piece.assembly.is_none();
            let part = &scenario.parts[piece.part.0];
            let trial = piece.number <= part.trial;
            // The lowest number of that variant tells all of it apart.
            let variant = plan.variant(scenario, piece.part, piece.number);
            let variant =
                variant.and_then(|variant| part.variants.iter().position(|one| one == variant));
            (piece.part.0, piece.of, piece.length, spare, trial, variant)
        })
        .collect();
    kinds.sort_unstable();
    kinds
        .chunk_by(|a, b| a == b)
        .map(|same| {
            let (part, of, length, spare, trial, variant) = same[0]; // `chunk_by` yields no empty chunk
            let mut entry = format!("{}×{TIE}{}", same.len(), scenario.parts[part].id);
            if of > 1 {
                entry.push_str(&format!("{TIE}{length}/{of}"));
            }
            if spare {
                entry.push_str(" (spare)");
            }
            let variant = variant.and_then(|at| scenario.parts[part].variants.get(at));
            if let Some(variant) = variant {
                entry.push_str(&format!(" ({})", self::variant(variant)));
            } else if trial {
                entry.push_str(" (trial)");
            }
            entry
        })
        .collect()
}

/// The name of a filament; of what prints, the scenario may have it no more.
pub fn filament(scenario: &Scenario, filament: Option<FilamentIndex>) -> &str {
    filament.map_or("a filament that is gone", |filament| {
        &scenario.filaments[filament.0].id
    })
}

/// The filament that a run's setup takes off: `None` without a change, an empty word for a machine that was empty.
pub(super) fn changed_from<'a>(scenario: &'a Scenario, run: &Run) -> Option<&'a str> {
    run.swap_from
        .map(|from| from.map_or("", |filament| scenario.filaments[filament.0].id.as_str()))
}

/// The word for a kind of route, as `plan.json` has it.
pub(super) fn route(kind: RouteKind) -> &'static str {
    match kind {
        RouteKind::Whole => "whole",
        RouteKind::Turned => "turned",
        RouteKind::Diagonal => "diagonal",
        RouteKind::Split => "split",
        RouteKind::Belt => "belt",
    }
}

/// `  boom-tip: takes 10.5 h on tall, where bench hours leave 9.8 h after the setup`.
pub(super) fn too_long(scenario: &Scenario, part: &TooLong) -> String {
    let id = &scenario.parts[part.part.0].id;
    let on = &scenario.machines[part.machine.0].id;
    let (takes, hours) = (span(part.takes), part.left_by_hours(span));
    format!("  {id}: takes {takes} on {on}, where bench hours {hours}")
}

/// `takes 10.5 h; bench hours leave 9.8 h after the setup`.
pub(super) fn lacking(part: &TooLong) -> String {
    let (takes, hours) = (span(part.takes), part.left_by_hours(span));
    format!("takes {takes}; bench hours {hours}")
}

/// `45 min`, `9.5 h`, `2.3 days`: a span in the unit that is easiest to grasp.
pub(super) fn span(minutes: Minutes) -> String {
    let count = minutes.value();
    if count.abs() < 90 {
        format!("{count}{TIE}min")
    } else if count.abs() < 48 * 60 {
        format!("{}{TIE}h", tenths(minutes.hours()))
    } else {
        days(minutes.hours() / 24.0)
    }
}

/// By how much an assembly is late.
pub(super) fn late(dates: &AssemblyDates) -> String {
    span(Minutes((dates.late_days * 1440.0).round() as i64))
}

/// `spool red-1 (430 g)`, `a new spool of 1000 g`, `an ordered spool of 430 g from belt`: the one that goes on at a run's setup; nothing
/// where the one on the machine stays.
pub(super) fn put_on(scenario: &Scenario, run: &Run) -> Option<String> {
    let SpoolNote { name, from, .. } = &run.spool;
    let grams = run.spool.put_on?;
    let told = match name {
        Some(name) => named(&["spool", name], grams),
        None => nameless(scenario, run, "spool", grams),
    };
    Some(told + &taken_from(scenario, *from))
}

/// `red-1 (430 g)`, `a new one of 1000 g`, `an ordered one of 430 g from belt`: the spool that follows where one of a run ends.
pub(super) fn next_spool(scenario: &Scenario, run: &Run, end: &SpoolEnd) -> String {
    let told = match &end.next_name {
        Some(name) => named(&[name], end.next),
        None => nameless(scenario, run, "one", end.next),
    };
    told + &taken_from(scenario, end.next_from)
}

/// A longer name of a spool than this may be broken off from what stands beside it, so that a narrow column need not cut it.
const LONG_NAME: usize = 16;

/// A spool that there is.
fn named(words: &[&str], grams: Grams) -> String {
    let long = words.iter().any(|word| word.chars().count() > LONG_NAME);
    let tie = if long { ' ' } else { TIE };
    let words = words.join(&tie.to_string());
    format!("{words}{tie}({})", mass(grams))
}

/// A spool that is to be ordered: new until something was printed from it.
fn nameless(scenario: &Scenario, run: &Run, what: &str, grams: Grams) -> String {
    let new = grams == scenario.filaments[run.filament.0].spool;
    let which = if new { "a\u{a0}new" } else { "an\u{a0}ordered" };
    format!("{which}{TIE}{what} of{TIE}{}", mass(grams))
}

/// The other machine that a spool has to be taken from.
fn taken_from(scenario: &Scenario, machine: Option<MachineIndex>) -> String {
    machine.map_or(String::new(), |machine| {
        format!(" from{TIE}{}", scenario.machines[machine.0].id)
    })
}

/// Of a run that could begin earlier, but a spool would then end alone.
pub(super) const PUT_OFF: &str = "put off so that somebody is there when its spool ends";

/// `early by 2 days`, `late by 3 h`, `complete`: how an assembly stands to its due date.
pub(super) fn standing(dates: &AssemblyDates, due: Option<DateTime<Utc>>) -> String {
    if dates.late_days > 0.0 {
        return format!("late by {}", late(dates));
    }
    match due.map(|due| (due - dates.complete).num_minutes()) {
        None => "complete".to_owned(),
        Some(early) if early > 0 => format!("early by {}", span(Minutes(early))),
        Some(_) => "just in time".to_owned(),
    }
}

/// `small prints nothing from Tue 2 Feb 18:00 on: …`: a machine without work, and why, as far as is known.
pub(super) fn idle(scenario: &Scenario, local: Local, idle: &Idle) -> String {
    let machine = &scenario.machines[idle.machine.0];
    let (begin, others) = match idle.from {
        None => (
            format!("{} prints nothing", machine.id),
            "what others print",
        ),
        Some(from) => (
            format!("{} prints nothing from {} on", machine.id, local.full(from)),
            "what others start after that",
        ),
    };
    let why = match &idle.why {
        Unused::Out => "it is out of use until the others have ended".to_owned(),
        Unused::Material => {
            let takes: Vec<&str> = machine.materials.iter().map(String::as_str).collect();
            format!(
                "{others} is of no material that it takes ({})",
                takes.join(", ")
            )
        }
        Unused::Forbidden => format!("none of {others} may be made on it (`only`, `belt`)"),
        Unused::Size => format!("none of {others} fits it"),
        Unused::NoWay => format!(
            "none of {others} can be made on it, by its size, its material, or as its `only` or `belt` says"
        ),
        Unused::Hours if machine.unattended => {
            "no bench hours are long enough for its setup".to_owned()
        }
        Unused::Hours => format!(
            "somebody must be there while it prints, and no bench hours are long enough for a piece of {others}"
        ),
        Unused::Dearer {
            moves,
            run,
            pieces,
            whole,
            by,
        } => {
            let mut counts: std::collections::BTreeMap<PartIndex, u32> = Default::default();
            for &(part, count) in pieces {
                *counts.entry(part).or_default() += count;
            }
            let pieces = counts.iter();
            let pieces: Vec<String> = pieces
                .map(|(part, count)| format!("{count}×{TIE}{}", scenario.parts[part.0].id))
                .collect();
            let what = if *whole {
                format!("all of {run}")
            } else {
                format!("{} of {run}", pieces.join(", "))
            };
            let makes = match by.0 {
                0.0 => "costs the same".to_owned(),
                by => format!("makes the plan {by:.2}{TIE}{} dearer", scenario.currency),
            };
            match moves {
                1 => format!("the one move to it that was tried, {what}, {makes}"),
                moves => {
                    format!("of {moves} moves to it that were tried, the cheapest, {what}, {makes}")
                }
            }
        }
        Unused::Fits(parts) => {
            let parts = count(*parts, "kind", "kinds");
            format!(
                "{parts} of part could be made on it; no move to it was found that leaves a better plan"
            )
        }
    };
    format!("{begin}: {why}.")
}

/// `wide-037, then joining, then machinery-house, then, when hands are free, crane`.
pub(super) fn critical_path(scenario: &Scenario, plan: &Plan, path: &CriticalPath) -> String {
    let run = |at: usize| plan.runs.get(at).map_or("", |run| run.id.as_str());
    let part = |part: PartIndex| scenario.parts[part.0].id.as_str();
    let mut text = String::new();
    let mut hands = false;
    // Copies of one part that hands join one after the other are one link in words.
    let part_of = |link: &Link| match link.what {
        LinkOf::Joining(at) => plan.gluings.get(at).map(|gluing| gluing.part),
        _ => None,
    };
    let like = |a: &Link, b: &Link| a.hands && part_of(a).is_some() && part_of(a) == part_of(b);
    for links in path.links.chunk_by(like) {
        let [.., link] = links else { continue };
        if !text.is_empty() {
            text.push_str(if hands {
                ", then, when hands are free, "
            } else {
                ", then "
            });
        }
        hands = link.hands;
        match link.what {
            LinkOf::Run(at) => text.push_str(run(at)),
            LinkOf::Standing(at) => {
                text.push_str(plan.standing().get(at).map_or("", |run| run.id.as_str()));
            }
            LinkOf::Setup(at) => text.push_str(&format!("the setup of {}", run(at))),
            LinkOf::Joining(at) if links.len() > 1 => {
                let copies = count(links.len(), "copy", "copies");
                let part = plan.gluings.get(at).map_or("", |gluing| part(gluing.part));
                text.push_str(&format!("joining {copies} of {part}"));
            }
            LinkOf::Joining(at) => {
                text.push_str("joining");
                if let Some(gluing) = plan.gluings.get(at) {
                    text.push_str(&format!(" {} {}", part(gluing.part), gluing.number));
                }
            }
            LinkOf::Assembly(at) => text.push_str(&scenario.assemblies[at.0].id),
        }
    }
    text
}

/// `1 day`, `2.3 days`.
pub(super) fn days(days: f64) -> String {
    let shown = tenths(days);
    let unit = if shown == "1" { "day" } else { "days" };
    format!("{shown}{TIE}{unit}")
}

/// One decimal, and none where it is a nought.
fn tenths(value: f64) -> String {
    let shown = format!("{value:.1}");
    shown.strip_suffix(".0").unwrap_or(&shown).to_owned()
}

/// `1 run`, `3 runs`: a count with its noun, never broken.
pub(super) fn count(number: usize, one: &str, several: &str) -> String {
    let noun = if number == 1 { one } else { several };
    format!("{number}{TIE}{noun}")
}

/// A mass for people: whole grams, kilograms from 10 kg.
pub(super) fn mass(grams: Grams) -> String {
    if grams.0 < 10_000.0 {
        format!("{:.0}{TIE}g", grams.0)
    } else {
        format!("{:.1}{TIE}kg", grams.0 / 1000.0)
    }
}

/// Which axis of a part stands upright, with a minus where the part stands on its head.
pub fn upright(axis: Axis, over: bool) -> &'static str {
    match (axis, over) {
        (Axis::X, false) => "x",
        (Axis::Y, false) => "y",
        (Axis::Z, false) => "z",
        (Axis::X, true) => "-x",
        (Axis::Y, true) => "-y",
        (Axis::Z, true) => "-z",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_is_in_the_unit_that_is_easiest_to_grasp() {
        assert_eq!(span(Minutes(89)), "89\u{a0}min");
        assert_eq!(span(Minutes(90)), "1.5\u{a0}h");
        assert_eq!(span(Minutes(120)), "2\u{a0}h");
        // 3312 min are 55.2 h, 2.3 days.
        assert_eq!(span(Minutes(3312)), "2.3\u{a0}days");
        assert_eq!(days(1.0), "1\u{a0}day");
    }
}
