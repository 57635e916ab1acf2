//! The day sheets: a page a day, in the order of the work at the bench.
//!
//! Knows: the plan's work by day. Must not know: how it was put in order.
//! Promises: every task has a box to tick and a time; what comes off a plate is named by its numbers on the plate's map, with the
//! tray that it goes to.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use maud::{Markup, html};

use super::Page;
use super::colour::swatch;
use super::plate::Plate;
use super::plates::numbers;
use crate::plan::{Day, Job, Off, Piece, Task, Work};
use crate::report::grid::TIE;
use crate::report::local::{day, day_and_year};
use crate::report::words;
use crate::scenario::AssemblyIndex;

/// On how many days there is something to do.
pub(super) fn summary(page: &Page) -> String {
    let days = &page.plan.sheets.days;
    let has_work = |today: &&Day| today.tasks.iter().any(|task| !is_note(&task.what));
    let named = |day: Option<&Day>| day.map_or_else(String::new, |day| self::day(day.date));
    format!(
        "{} with work, from {} to {}; then what goes into which assembly. Pieces have the numbers of their plate's map in the report.",
        words::count(days.iter().filter(has_work).count(), "day", "days"),
        named(days.iter().find(has_work)),
        named(days.iter().rfind(has_work)),
    )
}

pub(super) fn days(page: &Page) -> Markup {
    let days = &page.plan.sheets.days;
    // A day with nothing for the bench shares its sheet of paper with the next; after the last with work, with that one.
    let last = days.iter().rposition(|day| !is_brief(day));
    html! {
        @for (at, day) in days.iter().enumerate() {
            @let shares = at + 1 < days.len() && (is_brief(day) || last == Some(at));
            (sheet(page, day, shares))
        }
    }
}

/// Whether a day has no more than orders to send and what happens by itself.
fn is_brief(day: &Day) -> bool {
    day.tasks
        .iter()
        .all(|task| matches!(task.what, Job::Order(_)) || is_note(&task.what))
}

/// Whether a task is only to be known: there is nothing to tick.
fn is_note(job: &Job) -> bool {
    matches!(job, Job::Follows(_) | Job::Complete(_))
}

fn sheet(page: &Page, today: &Day, shares: bool) -> Markup {
    html! {
        section.sheet.brief[is_brief(today)].shares[shares] aria-labelledby={ "d" (today.date) } {
            header {
                h2 id={ "d" (today.date) } { (day_and_year(today.date)) }
                p {
                    (page.scenario.build.name) ", " (hours(page, today.date))
                    @if today.tasks.iter().any(|task| is_alone(page, task)) { br; "☾ nobody is there for some of the time that it prints" }
                }
            }
            ol.tasks { @for task in &today.tasks { (entry(page, today.date, task)) } }
        }
    }
}

/// When the bench is open that day.
fn hours(page: &Page, date: NaiveDate) -> String {
    let hours = &page.plan.sheets.hours;
    let first = hours.partition_point(|span| page.local.date(span.to) < date);
    let spans: Vec<String> = hours[first..]
        .iter()
        .take_while(|span| page.local.date(span.from) <= date)
        .map(|span| {
            format!(
                "{}–{}",
                page.local.seen_from(date, span.from),
                page.local.seen_from(date, span.to)
            )
        })
        .collect();
    match spans.as_slice() {
        [] => "nobody at the bench".to_owned(),
        spans => format!("bench {}", spans.join(" and ")),
    }
}

/// Whether a task starts a run that has the mark for it.
fn is_alone(page: &Page, task: &Task) -> bool {
    matches!(task.what, Job::SetUp { run, .. } if page.plan.runs[run].alone)
}

fn entry(page: &Page, today: NaiveDate, task: &Task) -> Markup {
    let note = is_note(&task.what);
    let clock = match task.what {
        Job::Order(_) => "today".to_owned(),
        _ => page.local.clock(task.from),
    };
    let text = html! {
        span.at { (clock) }
        span.do { (words_of(page, today, task)) }
    };
    html! {
        li.note[note] {
            @if note { (text) } @else { label { input type="checkbox"; (text) } }
        }
    }
}

fn words_of(page: &Page, today: NaiveDate, task: &Task) -> Markup {
    let plan = page.plan;
    let until = || page.local.seen_from(today, task.to);
    html! {
        @match &task.what {
            Job::Order(at) => {
                @let order = &plan.orders[*at];
                @let filament = &page.scenario.filaments[order.filament.0];
                b { "Order " (words::count(order.spools as usize, "spool", "spools")) " of " (words::mass(filament.spool)) " " (filament.id) }
                " (" (filament.material) "), " (super::filament::price(page, order))
            },
            Job::SpoolEnd(run, which) => {
                @let run = &plan.runs[*run];
                @let end = &run.spool.ends[*which];
                @if end.attended { b { "Change the spool" } " on " (page.machine(run)) ": " }
                @else { b.warn { "! The spool ends" } " on " (page.machine(run)) " with nobody there; as soon as you are: " }
                (page.filament(run)) ", put on " (words::next_spool(page.scenario, run, end))
                @if end.left.0 > 0.0 { "; about " (words::mass(end.left)) " is left on the one that comes off: it goes back on the shelf" }
            },
            Job::TakeOff(runs) => { b { "Take off" } " " (taken_off(page, runs)) },
            Job::Approve(at) => {
                @let trial = &plan.trials[*at];
                @let part = &page.scenario.parts[trial.part.0];
                b { "Try and approve" } " " (part.trial) "× " (part.id) (words::to_choose(part)) "; the rest is set up after that"
            },
            Job::SetUp { run, clears } => {
                @let run = &plan.runs[*run];
                @if !clears.is_empty() { b { "Clear" } " " (taken_off(page, clears)) br; }
                b { "Set up " (run.id) } " " (swatch(run.filament.0)) " " (super::queue::filament(page, today, run))
                @if run.swap_from.is_some() { " (purge " (words::mass(page.scenario.machines[run.machine.0].purge)) ")" }
                "; starts " b { (page.local.seen_from(today, run.start)) } ", ends " b { (page.local.seen_from(today, run.end)) }
                @if run.alone { " ☾" }
                br;
                span.soft { (words::contents(page.scenario, page.plan, &run.pieces).join(", ")) }
            },
            Job::Follows(run) => {
                @let run = &plan.runs[*run];
                (run.id) " starts by itself, ends " (page.local.seen_from(today, run.end))
            },
            Job::Glue(at) => {
                @let gluing = &plan.gluings[*at];
                @let turn = Turn::of(&gluing.work, task);
                b { (if turn.first { "Glue" } else { "Go on with gluing" }) } " " (page.scenario.parts[gluing.part.0].id) " " (gluing.number) " with " (page.scenario.joints[gluing.joint.0].id)
                " until " (until()) (turn.next(page, today))
                @if turn.again.is_none() { ", cured " (page.local.seen_from(today, gluing.ready)) }
            },
            Job::Assemble(at) => {
                @let dates = &plan.assemblies[*at];
                @let turn = Turn::of(&dates.work, task);
                b { (if turn.first { "Deburr and assemble" } else { "Go on with" }) " " (page.scenario.assemblies[dates.assembly.0].id) } " until " (until())
                (turn.next(page, today))
            },
            Job::FinishSpares(at) => {
                @let spare = &plan.spare_work[*at];
                @let turn = Turn::of(&spare.work, task);
                b { (if turn.first { "Deburr spares" } else { "Go on with the spares" }) } " of " (page.scenario.parts[spare.part.0].id) " until " (until())
                (turn.next(page, today))
            },
            Job::Complete(at) => {
                @let dates = &plan.assemblies[*at];
                b { (page.scenario.assemblies[dates.assembly.0].id) } " is complete"
                @if dates.late_days > 0.0 { ", " b.warn { "late by " (words::late(dates)) } }
            },
        }
    }
}

/// Which stretch of a work that may be interrupted a task is.
struct Turn {
    /// The first: before, nothing of it was done.
    first: bool,
    /// When the next begins.
    again: Option<DateTime<Utc>>,
}

impl Turn {
    fn of(work: &[Work], task: &Task) -> Self {
        let later = |stretch: &&Work| stretch.from > task.from;
        Self {
            first: work.iter().all(|stretch| stretch.from >= task.from),
            again: work.iter().find(later).map(|stretch| stretch.from),
        }
    }

    /// When it goes on, if it does.
    fn next(&self, page: &Page, today: NaiveDate) -> String {
        let again = self.again.map(|at| page.local.seen_from(today, at));
        again.map_or(String::new(), |at| format!("; it goes on {at}"))
    }
}

/// `tall-012 (pieces 1–8, 11 → tray jib; 9–10 → tray pivot)`.
fn taken_off(page: &Page, runs: &[Off]) -> Markup {
    html! {
        @for (n, &at) in runs.iter().enumerate() {
            @let run = Plate::of(page.plan, at);
            @if n > 0 { "; " }
            b { (run.id) } " (" (trays(page, run.pieces)) ")"
            @if run.stops { ", " b.warn { "only once it has ended" } ": it stood still when its spool was empty, and what follows here is later by that" }
        }
    }
}

/// Which pieces of a run go where, by their numbers on its map and in the order of these.
fn trays(page: &Page, pieces: &[Piece]) -> Markup {
    let mut trays: BTreeMap<Option<AssemblyIndex>, Vec<usize>> = BTreeMap::new();
    for (piece, number) in pieces.iter().zip(1..) {
        trays.entry(piece.assembly).or_default().push(number);
    }
    let mut trays: Vec<(Option<AssemblyIndex>, Vec<usize>)> = trays.into_iter().collect();
    trays.sort_by(|a, b| a.1.cmp(&b.1));
    let word = if pieces.len() == 1 {
        "piece "
    } else {
        "pieces "
    };
    html! {
        (word)
        @for (n, (assembly, numbers)) in trays.iter().enumerate() {
            @if n > 0 { "; " }
            b { (ranges(numbers)) } (TIE) "→" (TIE) "tray" (TIE) (assembly.map_or("spares", |assembly| &page.scenario.assemblies[assembly.0].id))
        }
    }
}

/// `1–8, 11`: numbers in order, those that follow each other as from and to.
fn ranges(numbers: &[usize]) -> String {
    let follows = |a: &usize, b: &usize| *b == a + 1;
    let ranges = numbers.chunk_by(follows).filter_map(|range| {
        let (first, last) = (range.first()?, range.last()?);
        Some(self::numbers(*first, *last))
    });
    ranges.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_follow_each_other_are_named_by_first_and_last() {
        assert_eq!(ranges(&[1, 2, 3, 5, 8, 9]), "1–3, 5, 8–9");
        assert_eq!(ranges(&[7]), "7");
    }
}
