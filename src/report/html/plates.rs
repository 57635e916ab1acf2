//! Plate maps: where each piece lies, to scale, with its number in the table beside; a belt is drawn along its length.
//!
//! Knows: pieces in millimetres from the bed's front left corner. Must not know: times, prices.
//! Promises: a map is in the bed's own millimetres, the front at the foot; pieces are numbered from 1 in the order of the table.

use std::fmt::Write;

use maud::{Markup, html};

use super::Page;
use super::axis::short;
use super::colour::{lettering, swatch};
use crate::plan::{Piece, Run};
use crate::report::local::day;
use crate::report::words;
use crate::scenario::{Machine, MachineKind, Part, Scenario};
use crate::units::Millimetres;

/// Numbers on pieces: not smaller than a tired eye reads, not larger than helps; mm.
const LETTERS: (f64, f64) = (7.0, 18.0);

pub(super) fn section(page: &Page) -> Option<Markup> {
    let runs = page.plan.runs.iter().enumerate();
    Some(html! {
        p.lead { "Seen from above, front of the bed at the foot, all at one scale: 1 : 5 on paper, belts 1 : 10." }
        (frames(page))
        div.plates {
            @for (at, run) in runs { (figure(page, at, run)) }
        }
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

fn figure(page: &Page, at: usize, run: &Run) -> Markup {
    let machine = &page.scenario.machines[run.machine.0];
    let bed = Bed::of(machine, run);
    let labels = bed.labels(&run.pieces);
    html! {
        figure.{ (if bed.belt { "plate belt" } else { "plate" }) } id={ "p" (at) } {
            figcaption {
                (swatch(run.filament.0)) " " a href={ "#q" (at) } { (run.id) }
                " " span.soft { (page.filament(run)) ", starts " (day(page.local.date(run.start))) " " (page.local.clock(run.start)) }
            }
            svg viewBox=(bed.view()) style={ "--w:" (short(bed.width)) } role="img" aria-label={ (run.id) ": " (words::count(run.pieces.len(), "piece", "pieces")) } {
                @if bed.belt { (bed.frame()) } @else { use href={ "#e" (run.machine.0) } {} }
                path.{ "bar f" (run.filament.0) } d=(bed.outlines(&run.pieces)) {}
                g.{ "t" (run.filament.0) } font-size=(tenths(usual_size(&labels))) { (bed.numbers(&labels, Some(usual_size(&labels)))) }
            }
            table {
                thead { tr { th scope="col" { "No." } th scope="col" { "Piece" } th scope="col" { "Copy" } th scope="col" { "For" } } }
                tbody {
                    @for row in rows(&page.scenario.parts, &run.pieces) {
                        @let piece = &run.pieces[row.0];
                        tr {
                            td { (numbers(row.0 + 1, row.1)) }
                            td { (name(page.scenario, piece)) }
                            td { (numbers(piece.number as usize, run.pieces[row.1 - 1].number as usize)) }
                            td { (whose(page.scenario, piece)) }
                        }
                    }
                }
            }
        }
    }
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

fn name(scenario: &Scenario, piece: &Piece) -> String {
    let part = &scenario.parts[piece.part.0];
    let mut name = part.id.clone();
    if piece.of > 1 {
        let _ = write!(name, " {}/{}", piece.length, piece.of); // writing to a String does not fail
    }
    if let Some(variant) = part.variant(piece.number) {
        let _ = write!(name, " ({})", words::variant(variant)); // nor here
    } else if piece.number <= part.trial {
        name.push_str(" (trial)");
    }
    name
}

/// The assembly whose tray a piece goes to.
pub(super) fn whose<'a>(scenario: &'a Scenario, piece: &Piece) -> &'a str {
    piece
        .assembly
        .map_or("spare", |assembly| &scenario.assemblies[assembly.0].id)
}

/// What pieces lie on, as it is drawn: a bed from above; a belt lying down, its start at the left.
struct Bed {
    width: f64,
    height: f64,
    margins: [f64; 2],
    belt: bool,
}

impl Bed {
    fn of(machine: &Machine, run: &Run) -> Self {
        let margin = machine.margin.0;
        match &machine.kind {
            MachineKind::Bed { bed, .. } => Self::plain(bed, margin),
            MachineKind::Belt { section, .. } => {
                // As far as the run reaches, and no less than the belt is wide.
                let corners = run.pieces.iter().flat_map(corners);
                let end = corners.map(|(_, along)| along).fold(section[0].0, f64::max);
                Self {
                    width: (end / 10.0).ceil() * 10.0,
                    height: section[0].0,
                    margins: [0.0, margin],
                    belt: true,
                }
            }
        }
    }

    fn of_bed(machine: &Machine) -> Option<Self> {
        match &machine.kind {
            MachineKind::Bed { bed, .. } => Some(Self::plain(bed, machine.margin.0)),
            MachineKind::Belt { .. } => None,
        }
    }

    fn plain(bed: &[Millimetres; 2], margin: f64) -> Self {
        Self {
            width: bed[0].0,
            height: bed[1].0,
            margins: [margin, margin],
            belt: false,
        }
    }

    fn view(&self) -> String {
        format!("0 0 {} {}", short(self.width), short(self.height))
    }

    /// From the machine's millimetres to the drawing's: the front is at the foot; a belt's run goes from left to right.
    fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        if self.belt {
            (y, x)
        } else {
            (x, self.height - y)
        }
    }

    fn frame(&self) -> Markup {
        let [across, along] = self.margins;
        let hundreds = |length: f64| {
            (1..)
                .map(|n| f64::from(n) * 100.0)
                .take_while(move |at| *at < length)
        };
        html! {
            rect.bed width=(short(self.width)) height=(short(self.height)) {}
            rect.margin x=(short(across)) y=(short(along)) width=(short(self.width - 2.0 * across)) height=(short(self.height - 2.0 * along)) {}
            @for at in hundreds(self.width) { path.tick d={ "M" (short(at)) " " (short(self.height)) "v-4" } {} }
            @for at in hundreds(self.height) { path.tick d={ "M0 " (short(self.height - at)) "h4" } {} }
        }
    }

    /// All outlines as one path; along the axes in its shorter steps.
    fn outlines(&self, pieces: &[Piece]) -> String {
        let mut path = String::new();
        for piece in pieces {
            let mut last: Option<(String, String)> = None;
            for corner in turned(&outline(piece), piece) {
                let (x, y) = self.place(corner);
                let (x, y) = (tenths(x), tenths(y));
                // Writing to a String does not fail.
                let _ = match &last {
                    None => write!(path, "M{x} {y}"),
                    Some(before) if before.1 == y => write!(path, "H{x}"),
                    Some(before) if before.0 == x => write!(path, "V{y}"),
                    Some(_) => write!(path, "L{x} {y}"),
                };
                last = Some((x, y));
            }
            path.push('Z');
        }
        path
    }

    /// Each piece's number; of the usual size, if there is one, without saying so.
    fn numbers(&self, labels: &[Label], usual: Option<f64>) -> Markup {
        html! {
            @for (at, label) in labels.iter().enumerate() {
                @let size = label.size;
                text x=(tenths(label.x)) y=(tenths(label.y + size * 0.36)) font-size=[(usual != Some(size)).then(|| tenths(size))] { (at + 1) }
            }
        }
    }

    /// Where the numbers of pieces stand in the drawing.
    fn labels(&self, pieces: &[Piece]) -> Vec<Label> {
        let labels = pieces.iter().zip(1..).map(|(piece, number)| {
            let outline = turned(&outline(piece), piece);
            let outline: Vec<_> = outline
                .into_iter()
                .map(|corner| self.place(corner))
                .collect();
            Label::new(&outline, number)
        });
        labels.collect()
    }
}

/// A number in an outline.
struct Label {
    x: f64,
    y: f64,
    /// How high its letters are, mm.
    size: f64,
}

impl Label {
    /// In the middle of the widest stretch, as large as there is room.
    fn new(outline: &[(f64, f64)], number: usize) -> Self {
        // A digit is about 0.6 of its height wide.
        let digits = (number.checked_ilog10().unwrap_or(0) + 1) as f64 * 0.6;
        let ((x, y), width) = middle(outline);
        let swapped: Vec<(f64, f64)> = outline.iter().map(|&(x, y)| (y, x)).collect();
        let here = |(low, high): &(f64, f64)| *low <= y && y <= *high;
        let (low, high) = stretches(&swapped, x)
            .into_iter()
            .find(here)
            .unwrap_or((y, y));
        let room = (0.6 * (high - low)).min(0.8 * width / digits);
        Self {
            x,
            y: (low + high) / 2.0,
            size: room.clamp(LETTERS.0, LETTERS.1),
        }
    }
}

/// How high the first number is, which is most often that of the others.
fn usual_size(labels: &[Label]) -> f64 {
    labels.first().map_or(LETTERS.0, |label| label.size)
}

/// Hundredths of a millimetre are finer than any printed line.
fn tenths(value: f64) -> String {
    short((value * 100.0).round() / 100.0)
}

/// The corners of a piece as it lies on its machine, in mm from the front left corner.
fn corners(piece: &Piece) -> Vec<(f64, f64)> {
    turned(&rectangle(piece), piece)
}

/// The box of a piece as it lies before turning, about its centre.
fn rectangle(piece: &Piece) -> Vec<(f64, f64)> {
    let [half, deep] = [piece.size[0].0 / 2.0, piece.size[1].0 / 2.0];
    vec![(-half, -deep), (half, -deep), (half, deep), (-half, deep)]
}

/// The outline of a piece as it lies before turning, about its centre: that of its mesh, or its box.
fn outline(piece: &Piece) -> Vec<(f64, f64)> {
    if let Some(outline) = &piece.outline {
        return outline.corners().iter().map(|&[x, y]| (x, y)).collect();
    }
    rectangle(piece)
}

/// A place for a number inside an outline: the middle of the widest stretch across it, of some heights the one nearest to its own
/// middle that has it; and how wide that is. The middle of its box may lie outside of it.
fn middle(outline: &[(f64, f64)]) -> ((f64, f64), f64) {
    let bounds = |pick: fn(&(f64, f64)) -> f64| {
        let values = || outline.iter().map(pick);
        (
            values().fold(f64::INFINITY, f64::min),
            values().fold(f64::NEG_INFINITY, f64::max),
        )
    };
    let ((left, right), (low, high)) = (bounds(|p| p.0), bounds(|p| p.1));
    let mut best = ((left + right) / 2.0, (low + high) / 2.0);
    let mut widest = 0.0;
    for share in [0.5, 0.3, 0.7, 0.15, 0.85] {
        let y = low + share * (high - low);
        for (from, to) in stretches(outline, y) {
            // A place further out has to be worth it.
            if to - from > widest * 1.2 {
                widest = to - from;
                best = ((from + to) / 2.0, y);
            }
        }
    }
    (best, widest)
}

/// Where a level line runs inside an outline: from and to.
fn stretches(outline: &[(f64, f64)], y: f64) -> Vec<(f64, f64)> {
    let ends = outline.iter().zip(outline.iter().cycle().skip(1));
    let mut crossings: Vec<f64> = ends
        // A corner on the line counts for the side above it only.
        .filter(|(a, b)| (a.1 > y) != (b.1 > y))
        .map(|(a, b)| a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0))
        .collect();
    crossings.sort_by(f64::total_cmp);
    let pairs = crossings.chunks_exact(2);
    pairs.map(|pair| (pair[0], pair[1])).collect()
}

/// Points about a piece's centre, turned counter-clockwise and moved to where it lies.
fn turned(outline: &[(f64, f64)], piece: &Piece) -> Vec<(f64, f64)> {
    let (sin, cos) = piece.turn.to_radians().sin_cos();
    let points = outline.iter();
    points
        .map(|(x, y)| (piece.x.0 + x * cos - y * sin, piece.y.0 + x * sin + y * cos))
        .collect()
}

/// One run's plate as a drawing of its own in real millimetres, to print 1 : 1 and lay on the bed.
pub(in crate::report) fn sheet(scenario: &Scenario, run: &Run) -> String {
    let bed = Bed::of(&scenario.machines[run.machine.0], run);
    let filament = &scenario.filaments[run.filament.0];
    // Above the bed's back edge: what it is.
    let (head, foot) = (14.0, bed.height);
    let entries = words::contents(scenario, &run.pieces).join(", ");
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" width={ (short(bed.width)) "mm" } height={ (short(foot + head)) "mm" }
            viewBox={ "0 " (short(-head)) " " (short(bed.width)) " " (short(foot + head)) } font-family="Verdana, DejaVu Sans, sans-serif" {
            title { (run.id) ": " (entries) }
            text x="0" y="-4" font-size="6" fill="#000000" { (run.id) "  " (filament.id) "  " (short(bed.width)) " × " (short(bed.height)) " mm" }
            g fill="none" stroke="#000000" stroke-width="0.3" { (bed.frame()) }
            path d=(bed.outlines(&run.pieces)) fill=(filament.colour) stroke="#000000" stroke-width="0.5" {}
            g fill=(lettering(&filament.colour)) text-anchor="middle" { (bed.numbers(&bed.labels(&run.pieces), None)) }
        }
    };
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n",
        drawing.into_string()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::routes::RouteKind;
    use crate::scenario::PartIndex;

    fn piece(x: f64, y: f64, turn: f64) -> Piece {
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
    fn a_piece_turns_counter_clockwise_about_its_centre() {
        // 40 × 20 turned by 90° at (100, 50): its first corner (−20, −10) goes to (10, −20): (110, 30).
        let found = corners(&piece(100.0, 50.0, 90.0));
        let expected = [(110.0, 30.0), (110.0, 70.0), (90.0, 70.0), (90.0, 30.0)];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found.0 - expected.0).abs() < 1e-9 && (found.1 - expected.1).abs() < 1e-9);
        }
    }

    #[test]
    fn a_number_stands_inside_an_outline_whose_middle_is_not() {
        // A frame open at its right: 40 × 20 outside, its legs 4 wide. The middle (0, 0) is in the opening; the widest stretch
        // inside is along the lower or the upper leg, 40 long.
        let frame = [
            (-20.0, -10.0),
            (20.0, -10.0),
            (20.0, -6.0),
            (-16.0, -6.0),
            (-16.0, 6.0),
            (20.0, 6.0),
            (20.0, 10.0),
            (-20.0, 10.0),
        ];
        let ((x, y), width) = middle(&frame);
        assert_eq!((x, width), (0.0, 40.0));
        assert!(
            (-10.0..-6.0).contains(&y) || (6.0..10.0).contains(&y),
            "{y}"
        );
        // The leg is 4 wide, so the number is 2.4 high, but no smaller than can be read, and in the leg's middle.
        let label = Label::new(&frame, 3);
        assert_eq!((label.x, label.y.abs(), label.size), (0.0, 8.0, LETTERS.0));
        // Of a rectangle it is the middle; three digits, each 0.6 of its height wide, take 0.8 of 20 mm.
        let label = Label::new(
            &[(-10.0, -10.0), (10.0, -10.0), (10.0, 10.0), (-10.0, 10.0)],
            123,
        );
        assert_eq!((label.x, label.y), (0.0, 0.0));
        assert!((label.size - 16.0 / 1.8).abs() < 1e-9);
    }

    #[test]
    fn the_front_of_a_bed_is_at_the_foot_and_a_belt_runs_to_the_right() {
        let bed = Bed {
            width: 300.0,
            height: 200.0,
            margins: [5.0, 5.0],
            belt: false,
        };
        assert_eq!(bed.place((30.0, 20.0)), (30.0, 180.0));
        let belt = Bed { belt: true, ..bed };
        assert_eq!(belt.place((30.0, 20.0)), (20.0, 30.0));
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
