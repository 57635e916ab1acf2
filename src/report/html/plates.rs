//! Plate maps: where each piece lies, to scale, with its number in the table beside; a belt is drawn along its length.
//!
//! Knows: how large a drawing is shown on a screen and on paper. Must not know: times, prices.
//! Promises: pieces are numbered from 1 in the order of the table; no number is smaller than can be read, on a screen or on paper.

use std::fmt::Write;

use maud::{Markup, html};

use super::Page;
use super::axis::short;
use super::bed::{Bed, Shape, hundredths, path};
use super::colour::{shade, swatch};
use super::labels::{Label, Letters, labels};
use super::plate::Plate;
use crate::plan::Piece;
use crate::report::local::day;
use crate::report::words;
use crate::scenario::{Part, Scenario};

/// How far down a drawing is scaled on paper, at most; twice as large where pieces have no room for their numbers.
const SCALE: f64 = 0.25;
/// How wide a sheet of paper and each of its two columns are, mm.
const SHEET: f64 = 186.0;
const COLUMN: f64 = 89.0;
/// The smallest letters: 7.1 points on paper, in mm, and px on a screen.
const POINTS: f64 = 2.5;
const PIXELS: f64 = 10.2;
/// The largest, in sizes of the smallest.
const LARGEST: f64 = 1.8;
/// By what letters that are as large as a narrow screen needs are smaller elsewhere, in `look.css`.
const SMALLER: f64 = 0.55;
/// How wide a narrow screen is within its margins, px.
const NARROW: f64 = 358.0;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let standing = page.plan.standing().iter().enumerate();
    let standing = standing.map(|(at, run)| {
        let title = html! { (run.id) " " span.soft { (words::filament(page.scenario, run.filament)) ", prints until " (page.local.full(run.end)) } };
        figure(page, &format!("s{at}"), &run.into(), &title)
    });
    let runs = page.plan.runs.iter().enumerate().map(|(at, run)| {
        let title = html! {
            a href={ "#q" (at) } { (run.id) }
            " " span.soft { (page.filament(run)) ", starts " (day(page.local.date(run.start))) " " (page.local.clock(run.start)) }
        };
        figure(page, &format!("p{at}"), &run.into(), &title)
    });
    let plates: Vec<Markup> = standing.chain(runs).collect();
    Some(html! {
        p.lead {
            "Seen from above, front of the bed at the foot, a belt from its start at the left. On paper 1 : 4, with small pieces 1 : 2; a long belt as wide as the sheet. "
            "Like pieces are numbered as one reads, from left to right and from the back to the front; on a belt as they come off."
        }
        (frames(page))
        div.plates { @for plate in &plates { (plate) } }
    })
}

/// Every bed once, for all the plates on it: a farm's beds are few, its plates many.
fn frames(page: &Page) -> Markup {
    let machines = page.scenario.machines.iter().enumerate();
    let beds = machines.filter_map(|(at, machine)| Some((at, Bed::of_bed(machine)?)));
    html! {
        svg.frames width="0" height="0" aria-hidden="true" {
            @for (at, bed) in beds { g id={ "e" (at) } { (bed.frame()) } }
        }
    }
}

/// How a plate is shown, and its numbers at that size.
struct Shown {
    /// mm of paper for each of the drawing's.
    paper: f64,
    /// Across both columns.
    wide: bool,
    /// px for each mm of the drawing, at least.
    screen: f64,
    /// Whether its letters are as large as a narrow screen needs, and smaller elsewhere.
    narrow: bool,
    labels: Vec<Label>,
}

impl Shown {
    /// As small as leaves every number in its piece, if that is possible; else some stand beside theirs.
    fn new(bed: &Bed, shapes: &[Shape]) -> Self {
        let scale = SCALE.min(SHEET / bed.width);
        let whole = |label: &Label| label.leader.is_none() && !label.crowded;
        let least = POINTS / scale;
        if bed.belt {
            // On a narrow screen it need not scroll if there is room for letters as large as that needs.
            let large = (PIXELS * bed.width / NARROW).max(least);
            let first = Self::at(bed, shapes, scale, large);
            let level = |label: &Label| whole(label) && label.turn == 0.0;
            if first.labels.iter().all(level) {
                let narrow = SMALLER * large >= least.max(PIXELS);
                return Self { narrow, ..first };
            }
            return Self::at(bed, shapes, scale, least);
        }
        let first = Self::at(bed, shapes, scale, least);
        if first.labels.iter().all(whole) {
            return first;
        }
        let larger = (2.0 * SCALE).min(SHEET / bed.width);
        Self::at(bed, shapes, larger, POINTS / larger)
    }

    fn at(bed: &Bed, shapes: &[Shape], paper: f64, least: f64) -> Self {
        let letters = Letters {
            least,
            most: (LARGEST * POINTS / paper).max(least),
        };
        Self {
            paper,
            wide: bed.belt || bed.width * paper > COLUMN,
            screen: PIXELS / least,
            narrow: false,
            labels: labels(shapes, bed, letters),
        }
    }

    /// What the style needs to know of it, where it is not as most are.
    fn style(&self, bed: &Bed) -> String {
        let mut style = format!("--w:{}", short(bed.width));
        let usual = PIXELS * SCALE / POINTS;
        if (self.paper, self.screen) != (SCALE, usual) {
            let (paper, screen) = (short(self.paper), short(self.screen));
            let _ = write!(style, ";--p:{paper};--s:{screen}"); // writing to a String does not fail
        }
        style
    }

    /// Whether it is wider than a narrow screen.
    fn scrolls(&self, bed: &Bed) -> bool {
        bed.width * self.screen > NARROW
    }
}

fn figure(page: &Page, id: &str, run: &Plate, title: &Markup) -> Markup {
    let machine = &page.scenario.machines[run.machine.0];
    let filament = shade(page.scenario, run.filament);
    let bed = Bed::of(machine, run.pieces);
    let shapes = bed.outlines(run.pieces);
    let shown = Shown::new(&bed, &shapes);
    let usual = usual_size(&shown.labels);
    let map = html! {
        svg class=(if shown.narrow { "map narrow-map" } else { "map" }) viewBox=(bed.view()) style=(shown.style(&bed)) role="img" aria-label={ (run.id) ": " (words::count(run.pieces.len(), "piece", "pieces")) } {
            @if bed.belt { (bed.frame()) } @else { use href={ "#e" (run.machine.0) } {} }
            path.{ "bar f" (filament) } d=(path(&shapes)) {}
            (leaders(&shown.labels))
            g.{ "t" (filament) } font-size=(hundredths(usual)) { (numbers_of(&shown.labels, Some(usual))) }
        }
    };
    html! {
        figure.plate.wide-plate[shown.wide].large-plate[shown.wide && !bed.belt] id=(id) {
            figcaption {
                (swatch(filament)) " " (title)
            }
            @if shown.scrolls(&bed) { span.sideways { "↔ scrolls sideways" } }
            @if shown.scrolls(&bed) { div.scroll tabindex="0" role="region" aria-label={ "Plate of " (run.id) "; may scroll sideways" } { (map) } }
            @else { (map) }
            table {
                thead { tr { th scope="col" { "No." } th scope="col" { "Piece" } th scope="col" { "Copy" } th scope="col" { "For" } } }
                tbody {
                    @for row in rows(&page.scenario.parts, run.pieces) {
                        @let piece = &run.pieces[row.0];
                        tr {
                            td { (numbers(row.0 + 1, row.1)) }
                            td { (name(page, piece)) }
                            td { (numbers(piece.number as usize, run.pieces[row.1 - 1].number as usize)) }
                            td { (whose(page.scenario, piece)) }
                        }
                    }
                }
            }
        }
    }
}

/// Each piece's number; of the usual size, if there is one, without saying so.
pub(super) fn numbers_of(labels: &[Label], usual: Option<f64>) -> Markup {
    html! {
        @for (at, label) in labels.iter().enumerate() {
            @let (x, y) = (hundredths(label.at.0), hundredths(label.at.1 + label.size * 0.36));
            @let turned = label.turn != 0.0;
            @let class = match label.leader { Some(_) => Some("out"), None => label.crowded.then_some("over") };
            text class=[class] x=(x) y=(y) font-size=[(usual != Some(label.size)).then(|| hundredths(label.size))]
                transform=[turned.then(|| format!("rotate({} {x} {})", hundredths(label.turn), hundredths(label.at.1)))] { (at + 1) }
        }
    }
}

/// The lines from pieces to numbers beside them, each with a dot where it touches its piece.
pub(super) fn leaders(labels: &[Label]) -> Markup {
    let lines: Vec<_> = labels
        .iter()
        .filter_map(|label| Some((label.leader?, label.size)))
        .collect();
    html! {
        @if !lines.is_empty() {
            path.leader d=(lines.iter().map(|((from, to), _)| format!("M{} {}L{} {}", hundredths(from.0), hundredths(from.1), hundredths(to.0), hundredths(to.1))).collect::<String>()) fill="none" stroke="#000000" stroke-width=(hundredths(lines[0].1 * 0.08)) {}
            @for ((from, _), size) in &lines { circle.dot cx=(hundredths(from.0)) cy=(hundredths(from.1)) r=(hundredths(size * 0.14)) {} }
        }
    }
}

/// How high the first number is, which is most often that of the others.
fn usual_size(labels: &[Label]) -> f64 {
    labels.first().map_or(0.0, |label| label.size)
}

/// Runs of like pieces: from the first to before the end.
pub(super) fn rows(parts: &[Part], pieces: &[Piece]) -> Vec<(usize, usize)> {
    // A variant is a file of its own.
    let is_variant = |piece: &Piece| {
        let part = parts.get(piece.part.0);
        part.is_some_and(|part| part.variant(piece.number).is_some())
    };
    let mut rows: Vec<(usize, usize)> = Vec::new();
    for (at, piece) in pieces.iter().enumerate() {
        let like = |before: &Piece| {
            let next = piece.of == 1 && piece.number == before.number + 1;
            let same =
                (before.part, before.of, before.assembly) == (piece.part, piece.of, piece.assembly);
            next && same && !is_variant(before) && !is_variant(piece)
        };
        match rows.last_mut() {
            Some(row) if like(&pieces[row.1 - 1]) => row.1 = at + 1,
            _ => rows.push((at, at + 1)),
        }
    }
    rows
}

/// `4`, `4–9`.
pub(super) fn numbers(first: usize, last: usize) -> String {
    if first == last {
        first.to_string()
    } else {
        format!("{first}–{last}")
    }
}

fn name(page: &Page, piece: &Piece) -> String {
    let part = &page.scenario.parts[piece.part.0];
    let mut name = part.id.clone();
    if piece.of > 1 {
        let _ = write!(name, " {}/{}", piece.length, piece.of); // writing to a String does not fail
    }
    if let Some(variant) = page.plan.variant(page.scenario, piece.part, piece.number) {
        let _ = write!(name, " ({})", words::variant(variant)); // nor here
    } else if piece.number <= part.trial {
        name.push_str(" (trial)");
    }
    name
}

/// The assembly whose tray a piece goes to.
fn whose<'a>(scenario: &'a Scenario, piece: &Piece) -> &'a str {
    piece
        .assembly
        .map_or("spare", |assembly| &scenario.assemblies[assembly.0].id)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::routes::RouteKind;
    use crate::scenario::PartIndex;
    use crate::units::Millimetres;

    pub(in crate::report::html) fn piece(x: f64, y: f64, turn: f64) -> Piece {
        Piece {
            part: PartIndex(0),
            number: 1,
            length: 1,
            of: 1,
            assembly: None,
            route: RouteKind::Whole,
            x: Millimetres(x),
            y: Millimetres(y),
            turn,
            size: [40.0, 20.0, 10.0].map(Millimetres),
            upright: crate::scenario::Axis::Z,
            over: false,
            outline: None,
        }
    }

    #[test]
    fn like_pieces_whose_copies_follow_each_other_share_a_row() {
        let numbered = |number| Piece {
            number,
            ..piece(0.0, 0.0, 0.0)
        };
        let pieces = [
            numbered(1),
            numbered(2),
            numbered(4),
            Piece {
                of: 2,
                ..numbered(5)
            },
            Piece {
                of: 2,
                ..numbered(6)
            },
        ];
        assert_eq!(rows(&[], &pieces), [(0, 2), (2, 3), (3, 4), (4, 5)]);
    }
}
