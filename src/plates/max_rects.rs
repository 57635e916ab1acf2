//! The free space of a plate that is being filled, as all its maximal empty rectangles, and rules that choose among them.
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
#[derive(Clone, Copy, Debug)]
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
    cut: Vec<Hole>,
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
        let cut = &mut self.cut;
        self.holes.retain(|hole| {
            if !hole.overlaps(&taken) {
                return true;
            }
            if taken.left > hole.left {
                cut.push(Hole {
                    right: taken.left,
                    ..*hole
                });
            }
            if taken.right < hole.right {
                cut.push(Hole {
                    left: taken.right,
                    ..*hole
                });
            }
            if taken.low > hole.low {
                cut.push(Hole {
                    high: taken.low,
                    ..*hole
                });
            }
            if taken.high < hole.high {
                cut.push(Hole {
                    low: taken.high,
                    ..*hole
                });
            }
            false
        });
        // Only a strip can be inside another hole: a hole that stayed whole was inside none before, and strips are
        // parts of former holes. Of two equal strips the first stays.
        let kept = self.holes.len();
        for (i, strip) in self.cut.iter().enumerate() {
            let inside = |other: &Hole| other.contains(strip);
            let needless = self.holes[..kept].iter().any(inside)
                || self.cut[..i].iter().any(inside)
                || self.cut[i + 1..]
                    .iter()
                    .any(|other| other.contains(strip) && !strip.contains(other));
            if !needless {
                self.holes.push(*strip);
            }
        }
    }
}
