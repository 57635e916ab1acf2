//! Lengths as whole grains of 10⁻⁸ mm, and rectangles and areas in them.
//!
//! Knows: how a length is rounded, and that spacing is a rim. Must not know: how anything is packed.
//! Promises: what does not overlap in grains keeps its spacing to within a micrometre's thousandth; every number is
//! far from overflow.
//!
//! Whole numbers make a packing exact: an edge that should meet another one does, sums do not depend on their order,
//! and a fit such as 3 × 290/3 mm in 290 mm is neither lost to rounding nor granted by a different rounding elsewhere.

use super::{Area, Place, Rectangle};

/// Grains in a millimetre.
const PER_MILLIMETRE: f64 = 1e8;

/// Longer lengths (100 m) are refused: up to here a double holds every grain, and sums stay far inside 64 bits.
const LONGEST: f64 = 1e5;

/// Rectangles with a shorter side are refused, so that not even a count of the smallest in the largest area overflows
/// (10⁸ columns of 10⁸ rows).
const SHORTEST: f64 = 1e-3;

/// Grains by which an area is wider than written: half a grain of rounding for each of a hundred rectangles in a row.
const SLACK: i64 = 50;

/// The length in grains; `None` if it is no number, or absurd.
fn grains(millimetres: f64) -> Option<i64> {
    let usable = millimetres.is_finite() && millimetres.abs() <= LONGEST;
    usable.then(|| (millimetres * PER_MILLIMETRE).round() as i64)
}

/// The length in millimetres.
pub(super) fn millimetres(grains: i64) -> f64 {
    grains as f64 / PER_MILLIMETRE
}

/// An area to pack into. It is wider and deeper by one spacing than the usable area, since every rectangle in it
/// carries its spacing along its right and its upper side: two such rectangles that do not overlap are a spacing
/// apart, and the last one may hang over the edge by its rim.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Bin {
    pub width: i64,
    pub depth: i64,
}

impl Bin {
    /// `None` unless all lengths are numbers, the area is not negative and the spacing neither.
    pub fn new(area: Area, spacing: f64) -> Option<Self> {
        if spacing < 0.0 || area.width < 0.0 || area.depth < 0.0 {
            return None;
        }
        Some(Self {
            width: grains(area.width + spacing)? + SLACK,
            depth: grains(area.depth + spacing)? + SLACK,
        })
    }

    /// In square grains.
    pub fn surface(self) -> f64 {
        self.width as f64 * self.depth as f64
    }
}

/// A rectangle with its spacing, and the ways in which it fits a [`Bin`] alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Item {
    pub width: i64,
    pub depth: i64,
    pub straight: bool,
    pub turned: bool,
    /// Where it stood in the caller's list.
    pub index: usize,
}

impl Item {
    /// `None` if it fits in no allowed way, or has a side that is no number of at least a micrometre.
    pub fn new(rectangle: &Rectangle, spacing: f64, bin: Bin, index: usize) -> Option<Self> {
        if rectangle.width < SHORTEST || rectangle.depth < SHORTEST {
            return None;
        }
        let width = grains(rectangle.width + spacing)?;
        let depth = grains(rectangle.depth + spacing)?;
        let straight = rectangle.straight && width <= bin.width && depth <= bin.depth;
        // A square is not worth trying twice.
        let turned = rectangle.turned
            && depth <= bin.width
            && width <= bin.depth
            && !(straight && width == depth);
        (straight || turned).then_some(Self {
            width,
            depth,
            straight,
            turned,
            index,
        })
    }

    /// The sides across and along, in each allowed way, and whether that way is turned.
    pub fn ways(&self) -> impl Iterator<Item = (i64, i64, bool)> + use<> {
        let straight = self.straight.then_some((self.width, self.depth, false));
        let turned = self.turned.then_some((self.depth, self.width, true));
        straight.into_iter().chain(turned)
    }

    /// The sides across and along, when it lies so.
    pub fn sides(&self, turned: bool) -> (i64, i64) {
        if turned {
            (self.depth, self.width)
        } else {
            (self.width, self.depth)
        }
    }

    /// In square grains.
    pub fn surface(&self) -> f64 {
        self.width as f64 * self.depth as f64
    }

    /// What sets rectangles apart: equal kinds are interchangeable. Long ones sort first, then wide ones.
    pub fn kind(&self) -> impl Ord + use<> {
        let long = self.width.max(self.depth);
        let short = self.width.min(self.depth);
        (-long, -short, self.width, self.straight, self.turned)
    }
}

/// Where an [`Item`] lies: its lower left corner.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Spot {
    pub x: i64,
    pub y: i64,
    pub turned: bool,
}

impl Spot {
    /// The same in millimetres; the corner is the bare rectangle's too, since the rim lies on the other sides.
    pub fn place(self) -> Place {
        Place {
            x: millimetres(self.x),
            y: millimetres(self.y),
            turned: self.turned,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_thirds_of_a_length_fit_in_it() {
        // 290/3 = 96.66666666… rounds up to 9666666667 grains, three of them are one grain more than 290 mm.
        let area = Area {
            width: 290.0,
            depth: 1.0,
        };
        let bin = Bin::new(area, 0.0).unwrap();
        assert!(3 * grains(290.0 / 3.0).unwrap() <= bin.width);
        assert!(grains(290.000_001).unwrap() > bin.width);
    }

    #[test]
    fn absurd_lengths_are_refused() {
        for length in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300] {
            assert_eq!(grains(length), None);
        }
        let area = Area {
            width: 100.0,
            depth: 100.0,
        };
        assert_eq!(Bin::new(area, -1.0), None);
        assert_eq!(Bin::new(area, f64::NAN), None);
        let bin = Bin::new(area, 0.0).unwrap();
        for (width, depth) in [(0.0, 5.0), (5.0, -1.0), (f64::NAN, 5.0), (1e-12, 5.0)] {
            let rectangle = Rectangle {
                width,
                depth,
                straight: true,
                turned: true,
            };
            assert_eq!(Item::new(&rectangle, 0.0, bin, 0), None);
        }
    }
}
