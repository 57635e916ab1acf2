//! Pieces onto beds by their outlines, at the turns that they may take.
//!
//! Knows: outlines, angles, spacing, a rectangle to lie in. Must not know: parts, machines, time, what else is planned.
//! Promises: outlines lie inside the area and are the spacing apart, both to 10⁻⁶ mm and found so by a computation of
//! its own; the same pieces in any order get the same answer; neither clock nor chance decides. What it does not find
//! may exist all the same, unless the area says no.

mod around;
mod figure;
mod grid;
mod lay;
mod strip;
#[cfg(test)]
mod tests;

use std::collections::HashMap;

use super::{Area, Effort};
use crate::geometry::apart;
use figure::Figure;
use grid::{Cut, Lines, Ready, Sums};
use lay::{Laying, Rule};

pub use figure::{FigureId, Figures};

/// Millimetres by which a found nest may miss the area or the spacing.
const TOLERANCE: f64 = 1e-6;
/// Turns of one figure that are tried on a bed: the square ones, then those in which its box is smallest.
const MOST_TURNS: usize = 8;
/// Regions kept before their memory is emptied; about a kilobyte each.
const REMEMBERED: usize = 50_000;
/// No more pieces than this are nested: so many hardly share a bed, and the time grows with their square.
const MOST_PIECES: usize = 400;

/// Where a piece lies: the middle of its box after turning, from the area's lower left corner, in mm; and its turn in
/// degrees, counter-clockwise.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Nested {
    /// Across.
    pub x: f64,
    /// Along.
    pub y: f64,
    /// Degrees.
    pub turn: f64,
}

/// A figure at one turn, made ready for one spacing.
struct Shape {
    turn: f64,
    size: [f64; 2],
    /// About the middle of its box.
    corners: Vec<[f64; 2]>,
    ready: Ready,
}

/// What pieces share: one figure, so many times, with the shapes that fit the bed.
struct Kind {
    figure: FigureId,
    count: usize,
    shapes: Vec<u32>,
    area: f64,
    /// The longest side of its box, at the turn that it takes first.
    length: f64,
}

/// Nests pieces, and keeps what it computed of figures from plate to plate. Use one for one set of [`Figures`].
#[derive(Default)]
pub struct Nester {
    sums: Sums,
    cut: Cut,
    /// By figure, position of its turn and spacing.
    numbers: HashMap<(FigureId, u32, u64), Option<u32>>,
    shapes: Vec<Shape>,
    /// By two shapes: where the second may not be for the first.
    forbidden: HashMap<(u32, u32), Lines>,
}

/// The order in which pieces are put down.
#[derive(Clone, Copy, Debug)]
enum Order {
    Surface,
    Length,
}

/// What is tried, the most promising first.
const WAYS: [(Order, Rule); 4] = [
    (Order::Surface, Rule::Low),
    (Order::Length, Rule::Left),
    (Order::Surface, Rule::Compact),
    (Order::Length, Rule::Low),
];

impl Nester {
    /// Nests all pieces on one area, nowhere closer to each other than `spacing`; places in the order given.
    pub fn nest(
        &mut self,
        figures: &Figures,
        area: Area,
        spacing: f64,
        pieces: &[FigureId],
        effort: Effort,
    ) -> Option<Vec<Nested>> {
        if pieces.len() > MOST_PIECES || !may_fit(figures, area, spacing, pieces) {
            return None;
        }
        let kinds = self.kinds(figures, area, spacing, pieces)?;
        let tries = match effort {
            Effort::Quick => 0,
            Effort::Thorough { tries } => tries,
        };
        for (order, rule) in WAYS {
            let mut order = arranged(&kinds, order);
            for _ in 0..=tries {
                let mut laying = Laying::new(self, area, spacing, &kinds);
                match laying.lay(&order, rule) {
                    Ok(()) => return Some(handed_out(&kinds, pieces, laying.places())),
                    // Whatever found no room goes first next time.
                    Err(0) => break,
                    Err(at) => order[..=at].rotate_right(1),
                }
            }
        }
        None
    }

    /// The kinds of piece, each with the shapes that fit the area; `None` if there is a piece without.
    fn kinds(
        &mut self,
        figures: &Figures,
        area: Area,
        spacing: f64,
        pieces: &[FigureId],
    ) -> Option<Vec<Kind>> {
        let mut sorted = pieces.to_vec();
        sorted.sort_unstable();
        sorted
            .chunk_by(|a, b| a == b)
            .map(|alike| {
                let id = alike[0]; // a chunk is never empty
                let figure = figures.get(id);
                let turns = turns_on(figure, area);
                let length = turns.first().map(|&at| {
                    let [x, y] = figure.turns[at].size;
                    x.max(y)
                })?;
                let shapes = turns
                    .into_iter()
                    .filter_map(|at| self.shape(figure, id, at, spacing));
                Some(Kind {
                    figure: id,
                    count: alike.len(),
                    shapes: shapes.collect(),
                    area: figure.area,
                    length,
                })
            })
            .collect()
    }

    /// The number of a figure's shape at one of its turns.
    fn shape(&mut self, figure: &Figure, id: FigureId, at: usize, spacing: f64) -> Option<u32> {
        let key = (id, at as u32, spacing.to_bits());
        if let Some(&known) = self.numbers.get(&key) {
            return known;
        }
        let turn = &figure.turns[at];
        let turned = figure.outline.turned(turn.degrees);
        let ready = self.sums.ready(&around_at(figure, turn.degrees), spacing);
        let number = ready.map(|ready| {
            self.shapes.push(Shape {
                turn: turn.degrees,
                size: turn.size,
                corners: turned.corners().to_vec(),
                ready,
            });
            (self.shapes.len() - 1) as u32
        });
        self.numbers.insert(key, number);
        number
    }

    /// Makes sure that it is known where `other` may not be for `one`.
    fn compare(&mut self, one: u32, other: u32) {
        if self.forbidden.contains_key(&(one, other)) {
            return;
        }
        let (a, b) = (&self.shapes[one as usize], &self.shapes[other as usize]);
        let lines = self.sums.forbidden(&a.ready, &b.ready);
        self.forbidden.insert((one, other), lines);
    }
}

/// Whether the area says that the pieces could fit. Pieces that are the spacing apart, each widened by half of it, do
/// not overlap, and lie in the area widened by the same.
fn may_fit(figures: &Figures, area: Area, spacing: f64, pieces: &[FigureId]) -> bool {
    let whole = |length: f64| length.is_finite() && length > 0.0 && length <= 1e5;
    if !(whole(area.width) && whole(area.depth) && spacing.is_finite() && spacing >= 0.0) {
        return false;
    }
    let room = (area.width + spacing + 1e-3) * (area.depth + spacing + 1e-3);
    let taken: f64 = pieces
        .iter()
        .map(|&piece| figures.get(piece).outline.widened_area(spacing / 2.0))
        .sum();
    taken <= room
}

/// The turns at which a figure lies in an area by itself, those to be tried first in front; no more than
/// [`MOST_TURNS`].
fn turns_on(figure: &Figure, area: Area) -> Vec<usize> {
    let fits =
        |size: [f64; 2]| size[0] <= area.width + TOLERANCE && size[1] <= area.depth + TOLERANCE;
    let mut turns: Vec<usize> = (0..figure.turns.len())
        .filter(|&at| fits(figure.turns[at].size))
        .collect();
    // To a hundredth of a square millimetre, so that rounding does not order what is alike.
    let box_of = |at: usize| (figure.turns[at].size.iter().product::<f64>() * 100.0).round() as i64;
    turns.sort_by_key(|&at| (!figure.turns[at].is_quarter(), box_of(at), at));
    turns.truncate(MOST_TURNS);
    turns
}

/// The polygon around a figure, turned as the figure is: about the middle of the figure's box, not of its own.
fn around_at(figure: &Figure, degrees: f64) -> Vec<[f64; 2]> {
    let (sin, cos) = crate::geometry::sin_cos(degrees);
    let turn = |[x, y]: [f64; 2]| [x * cos - y * sin, x * sin + y * cos];
    let ends = |axis: usize| {
        let corners = figure.outline.corners().iter();
        let along = corners.map(|&corner| turn(corner)[axis]);
        along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
            (low.min(at), high.max(at))
        })
    };
    let middle = [0, 1].map(|axis| (ends(axis).0 + ends(axis).1) / 2.0);
    let corners = figure.around.iter();
    corners
        .map(|&corner| {
            let [x, y] = turn(corner);
            [x - middle[0], y - middle[1]]
        })
        .collect()
}

/// Every piece as the position of its kind, in the order in which they are put down.
fn arranged(kinds: &[Kind], order: Order) -> Vec<usize> {
    let mut by: Vec<usize> = (0..kinds.len()).collect();
    let size = |at: usize| match order {
        Order::Surface => kinds[at].area,
        Order::Length => kinds[at].length,
    };
    by.sort_by(|&a, &b| size(b).total_cmp(&size(a)).then(a.cmp(&b)));
    let times = |kind: usize| std::iter::repeat_n(kind, kinds[kind].count);
    by.into_iter().flat_map(times).collect()
}

/// The places in the order in which the pieces were given; of like pieces the first gets the first place.
fn handed_out(kinds: &[Kind], pieces: &[FigureId], mut places: Vec<Vec<Nested>>) -> Vec<Nested> {
    for list in &mut places {
        list.reverse();
    }
    let kind = |piece: FigureId| kinds.iter().position(|kind| kind.figure == piece);
    pieces
        .iter()
        .filter_map(|&piece| places[kind(piece)?].pop())
        .collect()
}
