//! Kitting lists: for each assembly all its pieces, with the plate that each comes from.
//!
//! Knows: pieces, plates, whom they are for. Must not know: how plates were made up.
//! Promises: every piece stands on one list, with its number on its plate; what is there already is on it too, so that the counts are
//! what the assembly takes.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use maud::{Markup, html};

use super::Page;
use super::plate::Plate;
use super::plates::{numbers, rows};
use crate::plan::{Given, Piece};
use crate::report::words;
use crate::scenario::{AssemblyIndex, PartIndex};

/// Where pieces come from.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Source {
    /// They were printed before, and the lengths of the copy joined, or not.
    There { glued: bool },
    /// A run that prints.
    Standing(usize),
    /// A run of the plan.
    Run(usize),
}

/// One line, in the order of the list: like pieces of one plate.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Line {
    name: String,
    printed: DateTime<Utc>,
    from: Source,
    /// Their places on its plate, from 0, until before the other; how many they are where that is not known.
    places: (usize, usize),
}

/// All lines, by whom they are for: assemblies in the scenario's order, spares last.
fn lists(page: &Page) -> Vec<(Option<AssemblyIndex>, Vec<Line>)> {
    let mut kits: BTreeMap<(bool, Option<AssemblyIndex>), Vec<Line>> = BTreeMap::new();
    let mut put = |assembly: Option<AssemblyIndex>, line: Line| {
        let key = (assembly.is_none(), assembly);
        kits.entry(key).or_default().push(line);
    };
    let standing = page.plan.standing().iter().enumerate();
    let standing = standing.map(|(at, run)| (Source::Standing(at), run.end, run.pieces.as_slice()));
    let runs = page.plan.runs.iter().enumerate();
    let runs = runs.map(|(at, run)| (Source::Run(at), run.end, run.pieces.as_slice()));
    for (from, printed, pieces) in standing.chain(runs) {
        for places in rows(&page.scenario.parts, pieces) {
            let piece = &pieces[places.0]; // a row holds a piece
            let name = name(page, piece.part, piece.number, piece.length, piece.of);
            let line = Line {
                name,
                printed,
                from,
                places,
            };
            put(piece.assembly, line);
        }
    }
    let mut there: BTreeMap<_, usize> = BTreeMap::new();
    let given = page.plan.since.iter().flat_map(|since| &since.pieces);
    for one in given.filter(|one| !prints(page, one)) {
        let name = name(page, one.part, one.number, one.length, one.of);
        let glued = one.joined.is_some();
        *there
            .entry((one.assembly, name, one.printed, glued))
            .or_default() += 1;
    }
    for ((assembly, name, printed, glued), count) in there {
        let line = Line {
            name,
            printed,
            from: Source::There { glued },
            places: (0, count),
        };
        put(assembly, line);
    }
    let kits = kits.into_iter();
    kits.map(|((_, assembly), mut lines)| {
        lines.sort();
        (assembly, lines)
    })
    .collect()
}

/// Whether a piece is on a run that prints.
fn prints(page: &Page, one: &Given) -> bool {
    let is = |piece: &Piece| {
        (piece.part, piece.number, piece.length, piece.of)
            == (one.part, one.number, one.length, one.of)
    };
    let mut standing = page.plan.standing().iter();
    standing.any(|run| run.end == one.printed && run.pieces.iter().any(is))
}

fn name(page: &Page, part: PartIndex, number: u32, length: u32, of: u32) -> String {
    let index = part;
    let part = &page.scenario.parts[part.0];
    let mut name = part.id.clone();
    if of > 1 {
        name.push_str(&format!(" {length}/{of}"));
    }
    if let Some(variant) = page.plan.variant(page.scenario, index, number) {
        name.push_str(&format!(" ({})", words::variant(variant)));
    }
    name
}

/// The plate that a line's pieces come from, in words.
fn source(page: &Page, from: Source) -> String {
    match from {
        Source::There { glued: true } => "printed and glued already".to_owned(),
        Source::There { glued: false } => "printed already".to_owned(),
        Source::Standing(at) => {
            let run = Plate::from(&page.plan.standing()[at]); // `lists` names what is there
            format!("{}, prints now", run.id)
        }
        Source::Run(at) => page.plan.runs[at].id.clone(), // as above
    }
}

pub(super) fn kits(page: &Page) -> Markup {
    html! {
        @for (assembly, lines) in lists(page) {
            @let pieces: usize = lines.iter().map(|line| line.places.1 - line.places.0).sum();
            section.kit {
                header {
                    h2 { "Tray " (assembly.map_or("spares", |assembly| &page.scenario.assemblies[assembly.0].id)) }
                    p { (words::count(pieces, "piece", "pieces"))
                        @if let Some(assembly) = assembly {
                            @let needs = &page.scenario.assemblies[assembly.0].needs;
                            @if !needs.is_empty() { "; needs " (needs.iter().map(|need| page.scenario.assemblies[need.0].id.as_str()).collect::<Vec<_>>().join(", ")) }
                        }
                    }
                }
                table {
                    thead { tr { th scope="col" { "In" } th scope="col" { "Piece" } th.num scope="col" { "Count" } th scope="col" { "Plate" } th scope="col" { "No. on it" } th scope="col" { "Printed" } } }
                    tbody {
                        @for line in &lines {
                            @let source = source(page, line.from);
                            @let (first, after) = line.places;
                            tr {
                                td { input type="checkbox" aria-label={ (line.name) @if matches!(line.from, Source::There { .. }) { ", " } @else { " from " } (source) @if matches!(line.from, Source::Run(_)) { " is in the tray" } @else { ", is in the tray" } }; }
                                td { (line.name) }
                                td.num { (after - first) }
                                td { (source) }
                                td.when { @if !matches!(line.from, Source::There { .. }) { (numbers(first + 1, after)) } }
                                td.when { (page.local.full(line.printed)) }
                            }
                        }
                    }
                }
            }
        }
    }
}
