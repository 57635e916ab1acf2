//! The queue by day.
//!
//! Knows: runs, local days. Must not know: bench hours, costs.
//! Promises: a run stands under the day of its setup (or of its start, where it follows another without one), in the order of
//! time; each day begins with what still prints from the days before.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::Page;
use super::colour::swatch;
use crate::plan::Run;
use crate::report::local::day;
use crate::report::words;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let mut days: BTreeMap<NaiveDate, Vec<usize>> = BTreeMap::new();
    for (at, run) in page.plan.runs.iter().enumerate() {
        let begins = run.setup.unwrap_or(run.start);
        days.entry(page.local.date(begins)).or_default().push(at);
    }
    for runs in days.values_mut() {
        runs.sort_by_key(|&at| {
            let run = &page.plan.runs[at];
            (run.setup.unwrap_or(run.start), at)
        });
    }
    // Runs that began on a day that was shown and go on; few at a time, as a machine prints one.
    let mut going: Vec<usize> = Vec::new();
    let mut shown = Vec::new();
    for (&date, runs) in &days {
        going.retain(|&at| page.local.date(page.plan.runs[at].end) >= date);
        shown.push((date, going.clone(), runs));
        going.extend(runs);
    }
    Some(html! {
        p.lead {
            "Set up first, then it prints. " b { "☾" } " means that nobody is there for some of the time; "
            b { "⇄" } " a colour change; " b { "!" } " a spool that ends with nobody there."
        }
        @for (date, going, runs) in &shown {
            div.day {
                h3 { (day(*date)) }
                @if !going.is_empty() {
                    p.going { "Still printing: "
                        @for (n, &at) in going.iter().enumerate() {
                            @let run = &page.plan.runs[at];
                            @if n > 0 { ", " }
                            (run.id) " until " (page.local.seen_from(*date, run.end))
                        }
                    }
                }
                ol.runs {
                    @for &at in runs.iter() { (row(page, *date, at)) }
                }
            }
        }
    })
}

fn row(page: &Page, today: NaiveDate, at: usize) -> Markup {
    let run = &page.plan.runs[at];
    html! {
        li id={ "q" (at) } {
            p.who { (swatch(run.filament.0)) " " a href={ "#p" (at) } { (run.id) } }
            p.when {
                @match run.setup {
                    Some(setup) => { span.setup { (page.local.clock(setup)) } " set up, " },
                    None => "no setup, ",
                }
                b { (page.local.clock(run.start)) "–" (page.local.seen_from(today, run.end)) }
                @if run.alone { " " span.moon title="nobody there for some of the time" { "☾" } }
                " " span.soft { (words::span(run.minutes)) ", " (words::mass(run.grams)) }
            }
            p.what { (filament(page, today, run)) }
            p.pieces { (words::contents(page.scenario, page.plan, &run.pieces).join(", ")) }
        }
    }
}

/// The filament, and what is to be done about it at the setup or later.
pub(super) fn filament(page: &Page, today: NaiveDate, run: &Run) -> Markup {
    html! {
        (page.filament(run))
        @match words::changed_from(page.scenario, run) {
            None => {},
            Some("") => ", first load",
            Some(from) => { ", " b { "⇄ from " (from) } },
        }
        @if let Some(spool) = words::put_on(page.scenario, run) { ", put on " (spool) }
        @for end in &run.spool.ends {
            @let next = words::next_spool(page.scenario, run, end);
            @if end.left.0 > 0.0 {
                ", " b { "change the spool at " (page.local.seen_from(today, end.at)) } ", about " (words::mass(end.left)) " left on it, then " (next)
            } @else if end.attended {
                ", next spool at " (page.local.seen_from(today, end.at)) ": " (next)
            } @else {
                ", " b.warn { "! spool ends " (page.local.seen_from(today, end.at)) } ", then " (next)
            }
        }
        @if let Some(comes) = run.waits { ", waited for it: it is there " (page.local.seen_from(today, comes)) }
        @if run.put_off { ", " (words::PUT_OFF) }
    }
}
