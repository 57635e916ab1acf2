//! Filament on hand over time, what to order by when, and the runs in which a spool ends.
//!
//! Knows: levels, orders, ends of spools. Must not know: how spools are allotted.
//! Promises: all colours share one time axis; every end of a spool is drawn and named.

use std::fmt::Write;

use maud::{Markup, html};

use super::Page;
use super::axis::{Axis, per_cent, short};
use super::colour::swatch;
use crate::plan::{Level, Run, SpoolEnd};
use crate::report::local::day;
use crate::report::words;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let last = page.plan.runs.iter().map(|run| run.end).max()?;
    let axis = Axis::of(page.local, page.plan.begins(page.scenario), last);
    let needed = |level: &&Level| {
        page.plan
            .orders
            .iter()
            .any(|order| order.filament == level.filament && order.grams.0 > 0.0)
    };
    // By filament, so that a long plan is walked over once.
    let mut ends: Vec<Vec<(&Run, &SpoolEnd)>> =
        page.scenario.filaments.iter().map(|_| Vec::new()).collect();
    for run in &page.plan.runs {
        ends[run.filament.0].extend(run.spool.ends.iter().map(|end| (run, end)));
    }
    for ends in &mut ends {
        ends.sort_by_key(|(_, end)| end.at);
    }
    Some(html! {
        p.lead { "Grams on hand from the start to the last run. " b { "▾" } " a spool ends with somebody there, " b.warn { "!" } " with nobody there; a step up is a delivery." }
        @for level in page.plan.sheets.levels.iter().filter(needed) { (one(page, &axis, level, &ends[level.filament.0])) }
    })
}

fn one(page: &Page, axis: &Axis, level: &Level, ends: &[(&Run, &SpoolEnd)]) -> Markup {
    let filament = &page.scenario.filaments[level.filament.0];
    let order = page
        .plan
        .orders
        .iter()
        .find(|order| order.filament == level.filament);
    let most = level
        .points
        .iter()
        .map(|(_, grams)| grams.0)
        .fold(1.0, f64::max);
    let start = page.local.date(page.plan.begins(page.scenario));
    html! {
        div.filament {
            h3 { (swatch(level.filament.0)) " " (filament.id) " " span.soft { (filament.material) } }
            @if let Some(order) = order {
                p { b { (words::mass(order.grams)) } " needed, " (words::mass(order.on_hand)) " on hand"
                    @match order.order_by {
                        Some(by) => {
                            ": order " b { (words::count(order.spools as usize, "spool", "spools")) " of " (words::mass(filament.spool)) }
                            " by " b.warn[by < start] { (day(by)) @if by < start { ", before the start" } }
                        },
                        None => ": enough",
                    }
                }
            }
            div.level {
                svg viewBox="0 0 1000 100" preserveAspectRatio="none" aria-hidden="true" focusable="false" {
                    path.{ "area f" (level.filament.0) } d=(area(axis, level, most)) {}
                }
                svg.over role="img" aria-label={ (filament.id) ": grams on hand over time" } {
                    @for (date, midnight) in axis.days().filter(|(date, _)| chrono::Datelike::weekday(date) == chrono::Weekday::Mon) {
                        @let x = per_cent(axis.at(midnight));
                        line.midnight x1=(x) x2=(x) y1="0" y2="100%" {}
                        svg.mark x=(x) { text.day x="4" y="12" { (day(date)) } }
                    }
                    @if let Some(by) = order.and_then(|order| order.order_by) {
                        @let at = noon(page, by);
                        @if axis.holds(at) {
                            @let x = per_cent(axis.at(at));
                            line.due x1=(x) x2=(x) y1="0" y2="100%" {}
                            svg.mark x=(x) y="0" { text.stage x="5" y="28" { "order by " (day(by)) } }
                        }
                    }
                    @for (_, end) in ends {
                        svg.mark x=(per_cent(axis.at(end.at))) y="100%" { text.{ (if end.attended { "end" } else { "end warn" }) } y="-4" text-anchor="middle" { (if end.attended { "▾" } else { "!" }) } }
                    }
                    text.most x="100%" dx="-4" y="34" text-anchor="end" { (words::mass(crate::units::Grams(most))) " at most" }
                }
            }
            @if !ends.is_empty() {
                p.soft { "Spools end: "
                    @for (n, (run, end)) in ends.iter().enumerate() {
                        @if n > 0 { "; " }
                        (run.id) " " (page.local.full(end.at))
                        @if !end.attended { " " b.warn { "! nobody there" } }
                        @if end.left.0 > 0.0 { " changed with " (words::mass(end.left)) " left" }
                        ", then " (words::mass(end.next))
                    }
                    "."
                }
            }
        }
    }
}

/// The middle of a local day, where its mark stands.
fn noon(page: &Page, date: chrono::NaiveDate) -> chrono::DateTime<chrono::Utc> {
    let noon = date.and_time(chrono::NaiveTime::MIN) + chrono::TimeDelta::hours(12);
    let local = noon.and_local_timezone(page.local.0).earliest();
    local.map_or_else(|| noon.and_utc(), |local| local.to_utc())
}

/// The area below the level, in a box of 1000 × 100.
fn area(axis: &Axis, level: &Level, most: f64) -> String {
    let first = level
        .points
        .first()
        .map_or(0.0, |(at, _)| axis.at(*at) * 10.0);
    let mut path = format!("M{} 100", short(tenth(first)));
    let mut last = 0.0;
    for (at, grams) in &level.points {
        last = axis.at(*at) * 10.0;
        let down = 100.0 - grams.0 / most * 88.0;
        let _ = write!(path, "L{} {}", short(tenth(last)), short(tenth(down))); // writing to a String does not fail
    }
    let end = level
        .points
        .last()
        .map_or(100.0, |(_, grams)| 100.0 - grams.0 / most * 88.0);
    let _ = write!(path, "L1000 {}L1000 100Z", short(tenth(end)));
    debug_assert!(last <= 1000.0, "a level ends with the last run");
    path
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
