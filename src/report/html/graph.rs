//! The build graph: what needs what, the critical path, float.
//!
//! Knows: assemblies, what they need, their dates. Must not know: runs, save the one that the critical path begins with.
//! Promises: an assembly stands to the right of all that it needs; the critical path is thicker and said in words; everything
//! drawn stands in the table below as well.

use std::collections::BTreeSet;

use maud::{Markup, html};

use super::Page;
use crate::plan::AssemblyDates;
use crate::report::words;
use crate::scenario::AssemblyIndex;

/// A node's box and the room between, px.
const BOX: (f64, f64) = (190.0, 68.0);
const ROOM: (f64, f64) = (46.0, 18.0);
/// How many letters of a name a box holds.
const NAME: usize = 17;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let assemblies = &page.scenario.assemblies;
    if page.plan.assemblies.len() != assemblies.len() || assemblies.is_empty() {
        return None;
    }
    let critical: BTreeSet<usize> = page
        .plan
        .critical
        .iter()
        .flat_map(|path| path.assemblies())
        .map(|a| a.0)
        .collect();
    let places = places(page);
    let extent = |pick: fn(&(f64, f64)) -> f64, size: f64| {
        places.iter().map(pick).fold(0.0, f64::max) + size + 4.0
    };
    let (width, height) = (
        extent(|place| place.0, BOX.0),
        extent(|place| place.1, BOX.1),
    );
    Some(html! {
        @let path = page.plan.critical.as_ref().map(|path| words::critical_path(page.scenario, page.plan, path));
        @if let Some(path) = path { p.lead { "The end waits for: " b #critical { (path) } "." } }
        p.sideways { "↔ both scroll sideways" }
        div.scroll tabindex="0" role="region" aria-label="Build graph; scrolls sideways" {
            svg.graph width=(width) height=(height) viewBox={ "0 0 " (width) " " (height) } role="img" aria-label="What needs what; the table below says the same" {
                @for (at, assembly) in assemblies.iter().enumerate() {
                    @for need in &assembly.needs {
                        @let (x, y) = (places[need.0].0 + BOX.0, places[need.0].1 + BOX.1 / 2.0);
                        @let (to, down) = (places[at].0, places[at].1 + BOX.1 / 2.0);
                        @let middle = (x + to) / 2.0;
                        path.{ (if critical.contains(&at) && critical.contains(&need.0) { "edge critical" } else { "edge" }) }
                            data-from=(assemblies[need.0].id) data-to=(assembly.id) d={ "M" (x) " " (y) "C" (middle) " " (y) " " (middle) " " (down) " " (to) " " (down) } {}
                    }
                }
                @for (at, dates) in page.plan.assemblies.iter().enumerate() {
                    svg data-assembly=(assemblies[at].id) x=(places[at].0) y=(places[at].1) width=(BOX.0) height=(BOX.1) {
                        rect.{ (if critical.contains(&at) { "node critical" } else { "node" }) } x="2" y="2" width=(BOX.0 - 4.0) height=(BOX.1 - 4.0) {}
                        text.name x="12" y="23" { (fitted(&assemblies[at].id)) title { (assemblies[at].id) } }
                        text.complete x="12" y="40" { (page.local.full(dates.complete)) }
                        text.float.warn[dates.late_days > 0.0] x="12" y="56" { (float(dates)) }
                    }
                }
            }
        }
        div.scroll tabindex="0" role="region" aria-label="Assemblies" {
            table.wide {
                thead { tr { @for head in ["Assembly", "Needs", "Printed", "Complete", "Due", "Early or late", "Float"] { th scope="col" { (head) } } } }
                tbody {
                    @for (assembly, dates) in assemblies.iter().zip(&page.plan.assemblies) {
                        tr {
                            th scope="row" { (assembly.id) }
                            td { (assembly.needs.iter().map(|need| assemblies[need.0].id.as_str()).collect::<Vec<_>>().join(", ")) }
                            td { (page.local.full(dates.printed)) }
                            td { (page.local.full(dates.complete)) }
                            td { @if let Some(due) = assembly.due { (page.local.full(due)) } @else { "–" } }
                            td.warn[dates.late_days > 0.0] { @if assembly.due.is_some() { (words::standing(dates, assembly.due)) } @else { "–" } }
                            td { @if dates.float.value() > 0 { (words::span(dates.float)) } @else { "none" } }
                        }
                    }
                }
            }
        }
    })
}

/// A name as far as a box holds it; the table has the whole of it.
fn fitted(name: &str) -> String {
    if name.chars().count() <= NAME {
        return name.to_owned();
    }
    name.chars().take(NAME - 1).chain(['…']).collect()
}

fn float(dates: &AssemblyDates) -> String {
    if dates.late_days > 0.0 {
        format!("late by {}", words::late(dates))
    } else if dates.float.value() > 0 {
        format!("float {}", words::span(dates.float))
    } else {
        "no float".to_owned()
    }
}

/// The left upper corner of each box: columns by how many assemblies come before at most, in a column by date.
fn places(page: &Page) -> Vec<(f64, f64)> {
    let assemblies = &page.scenario.assemblies;
    // Needs have no ring, so an assembly's column is settled once all that it needs are: at most so many rounds.
    let mut columns = vec![0usize; assemblies.len()];
    for _ in 0..assemblies.len() {
        let mut moved = false;
        for (at, assembly) in assemblies.iter().enumerate() {
            let before = |need: &AssemblyIndex| columns[need.0] + 1;
            let column = assembly.needs.iter().map(before).max().unwrap_or(0);
            moved |= column != columns[at];
            columns[at] = column;
        }
        if !moved {
            break;
        }
    }
    // What only one thing needs stands right before it, not at the far left.
    let mut order: Vec<usize> = (0..assemblies.len()).collect();
    order.sort_by_key(|&at| std::cmp::Reverse(columns[at]));
    for &at in &order {
        let after = assemblies
            .iter()
            .enumerate()
            .filter(|(_, other)| other.needs.iter().any(|need| need.0 == at));
        if let Some(first) = after.map(|(other, _)| columns[other]).min() {
            columns[at] = first - 1;
        }
    }
    let mut rows = vec![0usize; columns.iter().max().map_or(0, |last| last + 1)];
    order.sort_by_key(|&at| page.plan.assemblies[at].complete);
    let mut places = vec![(0.0, 0.0); assemblies.len()];
    for at in order {
        let row = &mut rows[columns[at]];
        places[at] = (
            columns[at] as f64 * (BOX.0 + ROOM.0),
            *row as f64 * (BOX.1 + ROOM.1),
        );
        *row += 1;
    }
    places
}
