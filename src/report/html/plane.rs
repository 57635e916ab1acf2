//! Lines, level boxes and outlines in a drawing.
//!
//! Knows: places in a plane. Must not know: pieces, numbers.
//! Promises: nothing rounds; lines that run along each other do not cross.

use super::bed::Place;

/// Where a level line runs inside an outline: from and to.
pub(super) fn stretches(outline: &[Place], y: f64) -> Vec<(f64, f64)> {
    let mut crossings: Vec<f64> = edges(outline)
        // A corner on the line counts for the side above it only.
        .filter(|(a, b)| (a.1 > y) != (b.1 > y))
        .map(|(a, b)| a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0))
        .collect();
    crossings.sort_by(f64::total_cmp);
    let pairs = crossings.chunks_exact(2);
    pairs.map(|pair| (pair[0], pair[1])).collect() // chunks of two
}

pub(super) fn edges(outline: &[Place]) -> impl Iterator<Item = (Place, Place)> + '_ {
    let ends = outline.iter().cycle().skip(1);
    outline.iter().zip(ends).map(|(&a, &b)| (a, b))
}

/// A level box.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Extent {
    pub(super) fn of(places: &[Place]) -> Self {
        let none = Self {
            left: f64::INFINITY,
            right: f64::NEG_INFINITY,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        };
        places.iter().fold(none, |all, &(x, y)| Self {
            left: all.left.min(x),
            right: all.right.max(x),
            low: all.low.min(y),
            high: all.high.max(y),
        })
    }

    pub(super) fn about((x, y): Place, (wide, high): (f64, f64)) -> Self {
        Self {
            left: x - wide,
            right: x + wide,
            low: y - high,
            high: y + high,
        }
    }

    pub(super) fn middle(&self) -> Place {
        ((self.left + self.right) / 2.0, (self.low + self.high) / 2.0)
    }

    pub(super) fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.low < other.high
            && other.low < self.high
    }

    pub(super) fn corners(&self) -> [Place; 4] {
        [
            (self.left, self.low),
            (self.right, self.low),
            (self.right, self.high),
            (self.left, self.high),
        ]
    }

    pub(super) fn holds(&self, (x, y): Place) -> bool {
        (self.left..=self.right).contains(&x) && (self.low..=self.high).contains(&y)
    }
}

/// Whether two lines cross, and where on the first: 0 at its beginning, 1 at its end.
pub(super) fn crossing(one: (Place, Place), other: (Place, Place)) -> Option<f64> {
    let ((a, b), (c, d)) = (one, other);
    let (along, across) = ((b.0 - a.0, b.1 - a.1), (d.0 - c.0, d.1 - c.1));
    let turn = along.0 * across.1 - along.1 * across.0;
    if turn.abs() < 1e-12 {
        return None;
    }
    let between = (c.0 - a.0, c.1 - a.1);
    let here = (between.0 * across.1 - between.1 * across.0) / turn;
    let there = (between.0 * along.1 - between.1 * along.0) / turn;
    ((0.0..=1.0).contains(&here) && (0.0..=1.0).contains(&there)).then_some(here)
}

pub(super) fn on((a, b): (Place, Place), share: f64) -> Place {
    (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share)
}
