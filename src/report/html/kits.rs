//! Kitting lists: for each assembly all its pieces, with the plate that each comes from.
//!
//! Knows: pieces, plates, whom they are for. Must not know: how plates were made up.
//! Promises: every piece stands on one list, with its number on its plate.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use maud::{Markup, html};

use super::Page;
use super::plates::{numbers, rows};
use crate::report::words;
use crate::scenario::AssemblyIndex;

/// One line: when it is printed, part, run and the pieces' places on its plate.
type Line = (String, DateTime<Utc>, usize, usize, usize);

pub(super) fn kits(page: &Page) -> Markup {
    let mut kits: BTreeMap<Option<AssemblyIndex>, Vec<Line>> = BTreeMap::new();
    for (at, run) in page.plan.runs.iter().enumerate() {
        for (from, to) in rows(&page.scenario.parts, &run.pieces) {
            let piece = &run.pieces[from]; // a row holds a piece
            let part = &page.scenario.parts[piece.part.0];
            let mut name = part.id.clone();
            if piece.of > 1 {
                name.push_str(&format!(" {}/{}", piece.length, piece.of));
            }
            if let Some(variant) = part.variant(piece.number) {
                name.push_str(&format!(" ({})", words::variant(variant)));
            }
            kits.entry(piece.assembly)
                .or_default()
                .push((name, run.end, at, from, to));
        }
    }
    // Assemblies in the scenario's order, spares last.
    let mut ordered: Vec<_> = kits.into_iter().collect();
    ordered.sort_by_key(|(assembly, _)| (assembly.is_none(), *assembly));
    html! {
        @for (assembly, mut lines) in ordered {
            @let () = lines.sort();
            @let pieces: usize = lines.iter().map(|line| line.4 - line.3).sum();
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
                        @for (name, end, at, from, to) in &lines {
                            tr {
                                td { input type="checkbox" aria-label={ (name) " from " (page.plan.runs[*at].id) " is in the tray" }; }
                                td { (name) }
                                td.num { (to - from) }
                                td { (page.plan.runs[*at].id) }
                                td.when { (numbers(from + 1, *to)) }
                                td.when { (page.local.full(*end)) }
                            }
                        }
                    }
                }
            }
        }
    }
}
