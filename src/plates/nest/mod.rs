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
use crate::geometry::{apart, sin_cos};
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

/// Where a piece lies: the middle of its box before turning, about which it is turned, from the area's lower left corner
/// in mm; and its turn in degrees, counter-clockwise.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Nested {
    /// Across.
    pub x: f64,
    /// Along.
    pub y: f64,
    /// Degrees.
    pub turn: f64,
}

/// A figure at one turn.
struct Shape {
    turn: f64,
    size: [f64; 2],
    /// About the middle of its box before turning.
    corners: Vec<[f64; 2]>,
    /// The middle of its box, from there.
    middle: [f64; 2],
    /// The figure turned by less than a right angle, and the right angles that are left.
    root: Root,
    quarters: u8,
}

/// A figure turned by less than a right angle (its bits, in degrees).
///
/// Roots have an order of their own, not that in which they were first met: which of two a region is computed for decides its
/// last digits, and with them whether a piece fits where it touches others. So a plate fits or not whatever was asked before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Root {
    figure: FigureId,
    turn: u64,
}

/// What pieces share: one figure, so many times, with the shapes that fit the bed.
struct Kind {
    figure: FigureId,
    count: usize,
    shapes: Vec<u32>,
    area: f64,
    /// The share of its box that it fills, and the longest side of that box, at the turn that it takes first.
    fills: f64,
    length: f64,
}

/// Nests pieces, and keeps what it computed of figures from plate to plate. Use one for one set of [`Figures`].
#[derive(Default)]
pub struct Nester {
    sums: Sums,
    cut: Cut,
    /// By figure and position of its turn.
    numbers: HashMap<(FigureId, u32), u32>,
    shapes: Vec<Shape>,
    /// By root, quarters and spacing (its bits): made ready for sums.
    ready: HashMap<(Root, u8, u64), Option<Ready>>,
    /// Where one root turned by so many quarters may not be for another as it is, with what spacing.
    forbidden: HashMap<Pair, Lines>,
}

/// Two roots, the quarters between them, and the spacing's bits.
type Pair = (Root, Root, u8, u64);

/// The order in which pieces are put down.
#[derive(Clone, Copy, Debug)]
enum Order {
    Surface,
    Length,
}

/// One way to lay pieces.
#[derive(Clone, Copy, Debug)]
struct Manner {
    order: Order,
    rule: Rule,
    /// Whether the first piece lies the other way round: an open frame in the corner takes another into its opening only
    /// if that is on the side where there is room.
    over: bool,
}

/// What is tried, the most promising first.
const WAYS: [Manner; 5] = [
    Manner::new(Order::Surface, Rule::Low),
    Manner::new(Order::Length, Rule::Left),
    Manner {
        over: true,
        ..Manner::new(Order::Surface, Rule::Low)
    },
    Manner::new(Order::Surface, Rule::Compact),
    Manner::new(Order::Length, Rule::Low),
];

/// So many of them for a quick look.
const QUICK_WAYS: usize = 3;
/// A piece that fills more of its box than this has no opening worth turning it over for.
const CLOSED: f64 = 0.75;

impl Manner {
    const fn new(order: Order, rule: Rule) -> Self {
        Self {
            order,
            rule,
            over: false,
        }
    }
}

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
        // Of the sum of many doubles the last digits are lost.
        if pieces.len() > MOST_PIECES || crowding(figures, area, spacing, pieces) > 1.0 + 1e-6 {
            return None;
        }
        let kinds = self.kinds(figures, area, pieces)?;
        let (ways, tries) = match effort {
            Effort::Quick => (&WAYS[..QUICK_WAYS], 0),
            Effort::Thorough { tries } => (&WAYS[..], tries),
        };
        for manner in ways {
            let mut order = arranged(&kinds, manner.order);
            let open = order
                .first()
                .is_some_and(|&kind| kinds[kind].fills < CLOSED);
            if manner.over && !open {
                continue;
            }
            for _ in 0..=tries {
                let mut laying = Laying::new(self, figures, area, spacing, &kinds);
                laying.first_over = manner.over;
                match laying.lay(&order, manner.rule) {
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
    fn kinds(&mut self, figures: &Figures, area: Area, pieces: &[FigureId]) -> Option<Vec<Kind>> {
        let mut sorted = pieces.to_vec();
        sorted.sort_unstable();
        sorted
            .chunk_by(|a, b| a == b)
            .map(|alike| {
                let id = alike[0]; // a chunk is never empty
                let figure = figures.get(id);
                let turns = turns_on(figure, area);
                let [x, y] = figure.turns[*turns.first()?].size;
                let shapes = turns.into_iter().map(|at| self.shape(figure, id, at));
                Some(Kind {
                    figure: id,
                    count: alike.len(),
                    shapes: shapes.collect(),
                    area: figure.extent.area,
                    fills: figure.extent.area / (x * y),
                    length: x.max(y),
                })
            })
            .collect()
    }

    /// The number of a figure's shape at one of its turns.
    fn shape(&mut self, figure: &Figure, id: FigureId, at: usize) -> u32 {
        if let Some(&known) = self.numbers.get(&(id, at as u32)) {
            return known;
        }
        let turn = &figure.turns[at];
        let quarters = (turn.degrees / 90.0).floor();
        let rest = turn.degrees - 90.0 * quarters;
        let root = Root {
            figure: id,
            turn: rest.to_bits(),
        };
        let number = self.shapes.len() as u32;
        let corners = figure.outline.swung(turn.degrees);
        self.shapes.push(Shape {
            turn: turn.degrees,
            size: turn.size,
            middle: middle(&corners),
            corners,
            root,
            quarters: quarters.rem_euclid(4.0) as u8,
        });
        self.numbers.insert((id, at as u32), number);
        number
    }

    /// Of a figure's shapes, the one that is the first turned by half a turn.
    fn over(&self, shapes: &[u32]) -> Option<usize> {
        let quarters = |shape: u32| {
            (
                self.shapes[shape as usize].root,
                self.shapes[shape as usize].quarters,
            )
        };
        let (root, first) = quarters(*shapes.first()?);
        let over = (root, (first + 2) % 4);
        shapes.iter().position(|&shape| quarters(shape) == over)
    }

    /// Which pair says where `other` may not be for `one`, and by how many quarters its region is to be turned.
    ///
    /// Only the turn between two pieces matters, and where the first may not be for the second is the same region
    /// turned by half a turn: so of two roots there are four pairs at most.
    fn pair(&self, one: u32, other: u32, spacing: f64) -> (Pair, u8) {
        let (a, b) = (&self.shapes[one as usize], &self.shapes[other as usize]);
        let between = (4 + b.quarters - a.quarters) % 4;
        let swapped = (a.root, between) > (b.root, (4 - between) % 4);
        let bits = spacing.to_bits();
        if swapped {
            ((b.root, a.root, (4 - between) % 4, bits), b.quarters + 2)
        } else {
            ((a.root, b.root, between, bits), a.quarters)
        }
    }

    /// Makes sure that it is known where `other` may not be for `one`.
    fn compare(&mut self, figures: &Figures, one: &Drawn, other: &Drawn, spacing: f64) {
        let (pair, _) = self.pair(one.shape, other.shape, spacing);
        if self.forbidden.contains_key(&pair) {
            return;
        }
        let (first, second, quarters, _) = pair;
        for (root, quarters) in [(first, 0), (second, quarters)] {
            let drawn = [one, other]
                .into_iter()
                .find(|drawn| self.shapes[drawn.shape as usize].root == root);
            // Both roots are those of the two shapes.
            let Some(drawn) = drawn else { return };
            let key = (root, quarters, spacing.to_bits());
            if !self.ready.contains_key(&key) {
                let shape = &self.shapes[drawn.shape as usize];
                let rest = shape.turn - 90.0 * (shape.turn / 90.0).floor();
                let corners = around_at(figures.get(drawn.figure), rest);
                let turned: Vec<[f64; 2]> = corners
                    .into_iter()
                    .map(|corner| grid::quartered(corner, quarters))
                    .collect();
                let ready = self.sums.ready(&turned, spacing);
                self.ready.insert(key, ready);
            }
        }
        let bits = spacing.to_bits();
        let ready = |root, quarters| self.ready.get(&(root, quarters, bits))?.as_ref();
        let lines = match (ready(first, 0), ready(second, quarters)) {
            (Some(a), Some(b)) => self.sums.forbidden(a, b),
            // Of a figure that is less than a step of the grid nothing is left to keep off.
            _ => Lines::new(),
        };
        self.forbidden.insert(pair, lines);
    }
}

/// A shape and the figure that it is of.
struct Drawn {
    shape: u32,
    figure: FigureId,
}

/// The share of the area that the pieces need at least, spacing counted in: above 1 they cannot fit. Infinite where a
/// length is not a number, the area not above zero or beyond 100 m, or the spacing negative.
///
/// Pieces that are the spacing apart, each widened by half of it, do not overlap, and lie in the area widened by as much.
pub fn crowding(figures: &Figures, area: Area, spacing: f64, pieces: &[FigureId]) -> f64 {
    let sane = |length: f64| length.is_finite() && length > 0.0 && length <= 1e5;
    if !(sane(area.width) && sane(area.depth) && spacing.is_finite() && spacing >= 0.0) {
        return f64::INFINITY;
    }
    let slack = 2.0 * TOLERANCE;
    let room = (area.width + spacing + slack) * (area.depth + spacing + slack);
    let taken: f64 = pieces
        .iter()
        .map(|&piece| figures.get(piece).extent.widened(spacing / 2.0))
        .sum();
    taken / room
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
    let [x, y] = middle(&figure.outline.swung(degrees));
    let (sin, cos) = sin_cos(degrees);
    let corners = figure.around.iter();
    corners
        .map(|[u, v]| [u * cos - v * sin - x, u * sin + v * cos - y])
        .collect()
}

/// The middle of the box around corners.
fn middle(corners: &[[f64; 2]]) -> [f64; 2] {
    [0, 1].map(|axis| {
        let along = corners.iter().map(|corner| corner[axis]);
        let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
            (low.min(at), high.max(at))
        });
        (low + high) / 2.0
    })
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
