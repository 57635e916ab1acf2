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

/// The room between two boxes, px.
const ROOM: (f64, f64) = (46.0, 18.0);
/// How many letters of a name a line of a box holds at least, and at most; and how wide a letter and the room beside them are, px.
const LINE: (usize, usize) = (17, 32);
const LETTER: f64 = 9.8;
const BESIDE: f64 = 24.0;
/// How high a line is, and a box with one line for its name, px.
const LINE_HEIGHT: f64 = 17.0;
const BOX_HEIGHT: f64 = 68.0;

/// What all boxes of a graph have in common: as wide and high as the longest name takes, on two lines at most.
#[derive(Clone, Copy)]
struct Boxes {
    /// Letters on a line.
    letters: usize,
    lines: usize,
}

impl Boxes {
    fn of<'a>(names: impl Iterator<Item = &'a str>) -> Self {
        let longest = names.map(|name| name.chars().count()).max().unwrap_or(0);
        if longest <= LINE.0 {
            return Self {
                letters: LINE.0,
                lines: 1,
            };
        }
        // Names break where a word ends, so that their lines are not alike.
        let half = longest.div_ceil(2) + 6;
        Self {
            letters: half.clamp(LINE.0, LINE.1),
            lines: 2,
        }
    }

    fn size(self) -> (f64, f64) {
        let wide = (self.letters as f64 * LETTER + BESIDE).ceil();
        (wide, BOX_HEIGHT + (self.lines - 1) as f64 * LINE_HEIGHT)
    }

    /// A name on its lines, broken where a word of it ends if one does; what they do not hold is left out, and is in the table.
    fn lines(self, name: &str) -> Vec<String> {
        let mut rest: Vec<char> = name.chars().collect();
        let mut lines = Vec::new();
        while rest.len() > self.letters && lines.len() + 1 < self.lines {
            let ends = |&at: &usize| matches!(rest[at - 1], '-' | '_' | '.' | ' ');
            let least = rest.len().saturating_sub(self.letters).max(1);
            let at = (least..=self.letters).rev().find(ends);
            let after = rest.split_off(at.unwrap_or(self.letters));
            lines.push(rest.into_iter().collect());
            rest = after;
        }
        if rest.len() > self.letters {
            rest.truncate(self.letters - 1); // never below the least
            rest.push('…');
        }
        lines.push(rest.into_iter().collect());
        lines
    }
}

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
    let boxes = Boxes::of(assemblies.iter().map(|assembly| assembly.id.as_str()));
    let size = boxes.size();
    let places = places(page, size);
    let extent = |pick: fn(&(f64, f64)) -> f64, size: f64| {
        places.iter().map(pick).fold(0.0, f64::max) + size + 4.0
    };
    let (width, height) = (
        extent(|place| place.0, size.0),
        extent(|place| place.1, size.1),
    );
    Some(html! {
        @let path = page.plan.critical.as_ref().map(|path| words::critical_path(page.scenario, page.plan, path));
        @if let Some(path) = path { p.lead { "The end waits for: " b #critical { (path) } "." } }
        p.sideways { "↔ both scroll sideways" }
        div.scroll tabindex="0" role="region" aria-label="Build graph; scrolls sideways" {
            svg.graph width=(width) height=(height) viewBox={ "0 0 " (width) " " (height) } role="img" aria-label="What needs what; the table below says the same" {
                @for (at, assembly) in assemblies.iter().enumerate() {
                    @for need in &assembly.needs {
                        @let (x, y) = (places[need.0].0 + size.0, places[need.0].1 + size.1 / 2.0);
                        @let (to, down) = (places[at].0, places[at].1 + size.1 / 2.0);
                        @let middle = (x + to) / 2.0;
                        path.{ (if critical.contains(&at) && critical.contains(&need.0) { "edge critical" } else { "edge" }) }
                            data-from=(assemblies[need.0].id) data-to=(assembly.id) d={ "M" (x) " " (y) "C" (middle) " " (y) " " (middle) " " (down) " " (to) " " (down) } {}
                    }
                }
                @for (at, dates) in page.plan.assemblies.iter().enumerate() {
                    svg data-assembly=(assemblies[at].id) x=(places[at].0) y=(places[at].1) width=(size.0) height=(size.1) {
                        rect.{ (if critical.contains(&at) { "node critical" } else { "node" }) } x="2" y="2" width=(size.0 - 4.0) height=(size.1 - 4.0) {}
                        text.name x="12" y="23" {
                            title { (assemblies[at].id) }
                            @for (line, words) in boxes.lines(&assemblies[at].id).iter().enumerate() {
                                tspan x="12" dy=[(line > 0).then_some(LINE_HEIGHT)] { (words) }
                            }
                        }
                        text.complete x="12" y=(size.1 - 28.0) { (page.local.full(dates.complete)) }
                        text.float.warn[dates.late_days > 0.0] x="12" y=(size.1 - 12.0) { (float(dates)) }
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
                            td { @if assembly.parts.is_empty() { "no pieces" } @else { (page.local.full(dates.printed)) } }
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
fn places(page: &Page, size: (f64, f64)) -> Vec<(f64, f64)> {
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
            columns[at] as f64 * (size.0 + ROOM.0),
            *row as f64 * (size.1 + ROOM.1),
        );
        *row += 1;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_broken_where_a_word_ends_and_none_of_it_is_lost_while_it_fits() {
        // 43 letters: half of them and six are 28 on a line.
        let name = "upper-boom-with-both-chords-and-its-lacings";
        let boxes = Boxes::of([name, "crane"].into_iter());
        assert_eq!(
            boxes.lines(name),
            ["upper-boom-with-both-chords-", "and-its-lacings"]
        );
        assert_eq!(boxes.lines("crane"), ["crane"]);
        // One word: wherever the line ends. What two lines of 32 do not hold is left out.
        let word = "a".repeat(70);
        let boxes = Boxes::of([word.as_str()].into_iter());
        let lines = boxes.lines(&word);
        assert_eq!(lines[0], "a".repeat(32));
        assert_eq!(lines[1], format!("{}…", "a".repeat(31)));
        let short = Boxes::of(["crane"].into_iter());
        assert_eq!(short.size(), (191.0, 68.0));
    }
}
