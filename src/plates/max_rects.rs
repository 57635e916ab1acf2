//! The free space of a plate that is being filled, as all its maximal empty rectangles, and rules that choose among
//! them.
//!
//! Knows: one plate, one rectangle at a time. Must not know: in which order rectangles come, nor when to give up.
//! Promises: a spot that it offers overlaps nothing that was put down before; holes never contain one another.
//!
//! Source of the method and the rules' names: J. Jylänki, "A Thousand Ways to Pack the Bin: A Practical Approach to
//! Two-Dimensional Rectangle Bin Packing", 2010, ch. 4 (from memory).

use super::grains::{Bin, Item, Spot};

/// Which of the possible spots is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rule {
    /// The hole in which the smaller of the two remainders is smallest.
    ShortSide,
    /// The hole of least surface.
    Surface,
    /// The spot whose far side reaches least far along, then the one furthest left.
    Lowest,
}

/// A maximal empty rectangle, from its lower left to its upper right corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Hole {
    left: i64,
    low: i64,
    right: i64,
    high: i64,
}

impl Hole {
    fn contains(&self, other: &Hole) -> bool {
        self.left <= other.left
            && self.low <= other.low
            && self.right >= other.right
            && self.high >= other.high
    }

    /// Whether one of its edges is in line with the facing edge of the other.
    fn touches(&self, other: &Hole) -> bool {
        self.left == other.right
            || self.right == other.left
            || self.low == other.high
            || self.high == other.low
    }

    fn overlaps(&self, other: &Hole) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.low < other.high
            && other.low < self.high
    }
}

/// The holes of one plate. Kept from plate to plate, so that filling the next one allocates nothing.
#[derive(Clone, Debug, Default)]
pub(super) struct MaxRects {
    holes: Vec<Hole>,
    /// Of the rectangle put down last: the holes that it cut, those that end at its edges, what is left on one side.
    cut: Vec<Hole>,
    beside: Vec<Hole>,
    strips: Vec<Hole>,
}

impl MaxRects {
    /// Empties the plate.
    pub fn start(&mut self, bin: Bin) {
        self.holes.clear();
        self.holes.push(Hole {
            left: 0,
            low: 0,
            right: bin.width,
            high: bin.depth,
        });
    }

    /// Puts the item where the rule likes it best, and says where; `None` if there is no room for it.
    pub fn put(&mut self, item: &Item, rule: Rule) -> Option<Spot> {
        let spot = self.best(item, rule)?;
        let (across, along) = item.sides(spot.turned);
        self.occupy(Hole {
            left: spot.x,
            low: spot.y,
            right: spot.x + across,
            high: spot.y + along,
        });
        Some(spot)
    }

    fn best(&self, item: &Item, rule: Rule) -> Option<Spot> {
        let mut best = None;
        let mut least = (f64::INFINITY, i64::MAX);
        for (across, along, turned) in item.ways() {
            for hole in &self.holes {
                let spare_across = hole.right - hole.left - across;
                let spare_along = hole.high - hole.low - along;
                if spare_across < 0 || spare_along < 0 {
                    continue;
                }
                let short = spare_across.min(spare_along);
                let score = match rule {
                    Rule::ShortSide => (short as f64, spare_across.max(spare_along)),
                    Rule::Surface => {
                        let width = (hole.right - hole.left) as f64;
                        (width * (hole.high - hole.low) as f64, short)
                    }
                    Rule::Lowest => ((hole.low + along) as f64, hole.left),
                };
                if score < least {
                    least = score;
                    best = Some(Spot {
                        x: hole.left,
                        y: hole.low,
                        turned,
                    });
                }
            }
        }
        best
    }

    /// Takes `taken` out of every hole that it overlaps. What is left of such a hole is up to four overlapping strips.
    fn occupy(&mut self, taken: Hole) {
        self.cut.clear();
        self.beside.clear();
        let (cut, beside) = (&mut self.cut, &mut self.beside);
        self.holes.retain(|hole| {
            if hole.overlaps(&taken) {
                cut.push(*hole);
                return false;
            }
            if hole.touches(&taken) {
                beside.push(*hole);
            }
            true
        });
        for strip_of in SIDES {
            self.strips.clear();
            let strips = self.cut.iter().filter_map(|hole| strip_of(hole, &taken));
            self.strips.extend(strips);
            // Only a strip can be inside another hole: a hole that stayed whole was inside none before, and strips
            // are parts of former holes. A strip, say right of `taken`, begins at its right edge and lies beside some
            // of it; what contains the strip and does not overlap `taken` begins at that edge too. So it is a hole
            // that touches, or a strip on the same side. Of two equal strips the first stays.
            for (i, strip) in self.strips.iter().enumerate() {
                let inside = |hole: &Hole| hole.contains(strip);
                let needless = self.beside.iter().any(inside)
                    || self.strips[..i].iter().any(inside)
                    || self.strips[i + 1..]
                        .iter()
                        .any(|other| other.contains(strip) && other != strip);
                if !needless {
                    self.holes.push(*strip);
                }
            }
        }
    }
}

/// What is left of a hole on one side of what is taken out of it.
type StripOf = fn(&Hole, &Hole) -> Option<Hole>;

/// Left, right, below, above.
const SIDES: [StripOf; 4] = [
    |hole, taken| {
        (taken.left > hole.left).then_some(Hole {
            right: taken.left,
            ..*hole
        })
    },
    |hole, taken| {
        (taken.right < hole.right).then_some(Hole {
            left: taken.right,
            ..*hole
        })
    },
    |hole, taken| {
        (taken.low > hole.low).then_some(Hole {
            high: taken.low,
            ..*hole
        })
    },
    |hole, taken| {
        (taken.high < hole.high).then_some(Hole {
            low: taken.high,
            ..*hole
        })
    },
];

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn corners(hole: &Hole) -> [i64; 4] {
        [hole.left, hole.low, hole.right, hole.high]
    }

    /// All maximal empty rectangles of a plate of whole numbers, by looking at every rectangle there is.
    fn maximal(width: i64, depth: i64, taken: &[Hole]) -> Vec<[i64; 4]> {
        let mut empty = vec![];
        for left in 0..width {
            for right in left + 1..=width {
                for low in 0..depth {
                    for high in low + 1..=depth {
                        let hole = Hole {
                            left,
                            low,
                            right,
                            high,
                        };
                        if !taken.iter().any(|other| other.overlaps(&hole)) {
                            empty.push(hole);
                        }
                    }
                }
            }
        }
        let largest = |hole: &&Hole| !empty.iter().any(|h| h != *hole && h.contains(hole));
        let mut maximal: Vec<[i64; 4]> = empty.iter().filter(largest).map(corners).collect();
        maximal.sort_unstable();
        maximal
    }

    proptest! {
        #[test]
        fn the_holes_are_all_maximal_empty_rectangles(
            width in 1..9i64, depth in 1..9i64,
            sides in prop::collection::vec((1..5i64, 1..5i64), 1..8),
            rule in prop_oneof![Just(Rule::ShortSide), Just(Rule::Surface), Just(Rule::Lowest)],
        ) {
            let mut plate = MaxRects::default();
            let bin = Bin { width, depth };
            plate.start(bin);
            let mut taken = vec![];
            for (index, (width, depth)) in sides.into_iter().enumerate() {
                let item = Item { width, depth, straight: true, turned: true, index };
                if let Some(spot) = plate.put(&item, rule) {
                    let (across, along) = item.sides(spot.turned);
                    taken.push(Hole { left: spot.x, low: spot.y, right: spot.x + across, high: spot.y + along });
                }
                let mut holes: Vec<[i64; 4]> = plate.holes.iter().map(corners).collect();
                holes.sort_unstable();
                prop_assert_eq!(holes, maximal(bin.width, bin.depth, &taken));
            }
        }
    }
}
