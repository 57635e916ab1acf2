//! Filament on hand over time, what to order by when, and the runs in which a spool ends.
//!
//! Knows: levels, orders, ends of spools. Must not know: how spools are allotted.
//! Promises: all colours share one time axis; every end of a spool is drawn and named; no two words on a drawing meet, however
//! narrow it is.

use std::fmt::Write;

use chrono::{DateTime, NaiveDate, Utc};
use maud::{Markup, PreEscaped, html};

use super::axis::{Axis, per_cent, short};
use super::colour::swatch;
use super::{Page, marks};
use crate::plan::{Level, Order, SpoolEnd};
use crate::report::local::day;
use crate::report::money::Hundredths;
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
    let mut ends: Vec<Vec<(usize, &SpoolEnd)>> =
        page.scenario.filaments.iter().map(|_| Vec::new()).collect();
    for (at, run) in page.plan.runs.iter().enumerate() {
        ends[run.filament.0].extend(run.spool.ends.iter().map(|end| (at, end)));
    }
    for ends in &mut ends {
        ends.sort_by_key(|(_, end)| end.at);
    }
    Some(html! {
        style { (PreEscaped(rarer_dates(&axis))) }
        p.lead { "Grams on hand from the start to the last run. " (marks::key(&marks::changed())) " a spool ends with somebody there, " (marks::key(&marks::alone())) " with nobody there; a step up is a delivery." }
        @for level in page.plan.sheets.levels.iter().filter(needed) { (one(page, &axis, level, &ends[level.filament.0])) }
    })
}

/// What an order comes to.
pub(super) fn price(page: &Page, order: &Order) -> String {
    let price = Hundredths::nearest(order.price(page.scenario));
    words::price(page.scenario, price)
}

fn one(page: &Page, axis: &Axis, level: &Level, ends: &[(usize, &SpoolEnd)]) -> Markup {
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
                            ", " (price(page, order)) ", by " b.warn[by < start] { (day(by)) @if by < start { ", before the start" } }
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
                    @for (week, (date, midnight)) in named(axis).into_iter().enumerate() {
                        @let x = per_cent(axis.at(midnight));
                        line.midnight x1=(x) x2=(x) y1="0" y2="100%" {}
                        svg.mark x=(x) { text.day.{ "w" (week) } x="4" y="12" { (day(date)) } }
                    }
                    @if let Some(by) = order.and_then(|order| order.order_by) {
                        @let at = noon(page, by);
                        @if axis.holds(at) {
                            @let x = per_cent(axis.at(at));
                            // From below the dates, so that it goes through none.
                            line.due x1=(x) x2=(x) y1="17" y2="100%" {}
                            @let left = axis.at(at) < 50.0;
                            svg.mark x=(x) y="0" { text.stage x=(if left { 5 } else { -5 }) y="28" text-anchor=(if left { "start" } else { "end" }) { "order by " (day(by)) } }
                        }
                    }
                    @for (_, end) in ends {
                        svg.mark x=(per_cent(axis.at(end.at))) y="100%" { g transform="translate(0 -16)" { (if end.attended { marks::changed() } else { marks::alone() }) } }
                    }
                    text.most x="100%" dx="-4" y="45" text-anchor="end" { (words::mass(crate::units::Grams(most))) " at most" }
                }
            }
            @if !ends.is_empty() {
                p.soft { "Spools end or are changed in:" }
                ul.ends {
                    @for (at, end) in ends {
                        li {
                            a href={ "#q" (at) } { (page.plan.runs[*at].id) } " " (page.local.full(end.at))
                            @if !end.attended { " " b.warn { (marks::key(&marks::alone())) " nobody there" } }
                            @if end.left.0 > 0.0 { ", with " (words::mass(end.left)) " left" }
                            ", then " (words::next_spool(page.scenario, &page.plan.runs[*at], end))
                        }
                    }
                }
            }
        }
    }
}

/// What `Mon 31 Jan` takes with a gap after it, px.
const DATE: f64 = 92.0;

/// A plan of no more days than this has the date of each of them, since it has few Mondays.
const SHORT: u64 = 14;

/// The days that bear their date, where there is room, with their first moments.
fn named(axis: &Axis) -> Vec<(NaiveDate, DateTime<Utc>)> {
    if axis.day_count() <= SHORT {
        axis.days().collect()
    } else {
        axis.dated().collect()
    }
}

/// Rules by which fewer dates are named the narrower a drawing is: all, every second, every fourth. One has room for what it is
/// named with if its neighbours that are still named are far enough, and the end of the drawing as well.
fn rarer_dates(axis: &Axis) -> String {
    let named = named(axis).into_iter();
    let places: Vec<f64> = named.map(|(_, at)| axis.at(at) / 100.0).collect();
    let mut rules = String::new();
    for (week, place) in places.iter().enumerate() {
        // The largest power of two that divides its number; the first one is named at all widths.
        let step = 1usize
            .checked_shl(week.trailing_zeros())
            .unwrap_or(usize::MAX);
        let next = week.checked_add(step).and_then(|next| places.get(next));
        let room = next.map_or(1.0, |next| *next) - place;
        let needs = DATE / room.max(0.001);
        let _ = write!(
            rules,
            "@container level (max-width:{needs:.0}px){{.level text.w{week}{{display:none}}}}"
        ); // writing to a String does not fail
    }
    rules
}

/// The middle of a local day, where its mark stands.
fn noon(page: &Page, date: NaiveDate) -> DateTime<Utc> {
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
