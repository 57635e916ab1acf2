//! Whether a few rectangles fit a plate at all: every packing that matters, by branch and bound.
//!
//! Knows: one plate, a handful of rectangles. Must not know: heuristics.
//! Promises: `Impossible` is a proof (to the last grain), a packing is a packing, and the work is limited by nodes,
//! not by time.
//!
//! Any packing can be pushed left and down until each rectangle touches something on its left and below it.
//! Rectangles in a plane can always be put down in such an order that none lies right of *and* above the lower left
//! corner of a later one with any part of itself (L. J. Guibas, F. F. Yao, "On translating a set of rectangles", STOC
//! 1980, from memory). What is put down in that order has a staircase as its upper right outline, all that lies under
//! the staircase is lost for later ones, and each next rectangle has its corner in an inner corner of the staircase.
//! So it is enough to try each rectangle in each corner, as in S. Martello, D. Pisinger, D. Vigo, "The
//! three-dimensional bin packing problem", Operations Research 48 (2000) 256–267, which in two dimensions leaves no
//! packing out.

use std::collections::HashSet;

use super::grains::{Bin, Item, Spot};

/// What the search came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    /// A packing was found.
    Packed,
    /// There is none.
    Impossible,
    /// The nodes were used up first.
    GaveUp,
}

/// No more rectangles than this: the staircase then has one tread more at most.
pub(super) const MOST: usize = 12;

/// An inner corner of the staircase: from `x` on (to the next corner) everything below `y` is lost.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Corner {
    x: i64,
    y: i64,
}

/// The inner corners from left to right, and so from high to low. Left of the first one all is lost.
#[derive(Clone, Copy, Debug)]
struct Stairs {
    corners: [Corner; MOST + 1],
    len: usize,
}

impl Stairs {
    /// Those of an empty plate: its lower left corner.
    const FLOOR: Self = Self {
        corners: [Corner { x: 0, y: 0 }; MOST + 1],
        len: 1,
    };

    fn corners(&self) -> &[Corner] {
        &self.corners[..self.len]
    }

    fn push(&mut self, corner: Corner) {
        self.corners[self.len] = corner;
        self.len += 1;
    }

    /// The stairs once all is lost that lies left of `x` and below `y`: the upper right corner of a rectangle put
    /// into one of the corners. One corner more at most, since that one is gone and two come.
    fn raised(&self, x: i64, y: i64, fits: impl Fn(Corner) -> bool) -> Self {
        let mut raised = Self { len: 0, ..*self };
        let mut push = |corner| {
            if fits(corner) {
                raised.push(corner);
            }
        };
        let corners = self.corners();
        let above = corners.partition_point(|corner| corner.y > y);
        let passed = corners.partition_point(|corner| corner.x <= x);
        // The corner that held the rectangle is neither above its top nor right of its right side.
        debug_assert!(above < passed);
        corners[..above].iter().copied().for_each(&mut push);
        push(Corner {
            x: corners[above].x,
            y,
        });
        push(Corner {
            x,
            y: corners[passed - 1].y,
        });
        corners[passed..].iter().copied().for_each(&mut push);
        raised
    }

    /// The surface under the stairs.
    fn lost(&self, bin: Bin) -> f64 {
        let mut surface = 0.0;
        let mut from = 0;
        let mut height = bin.depth;
        for corner in self.corners() {
            surface += (corner.x - from) as f64 * height as f64;
            (from, height) = (corner.x, corner.y);
        }
        surface + (bin.width - from) as f64 * height as f64
    }
}

/// Rectangles that are interchangeable.
#[derive(Clone, Copy, Debug)]
struct Kind {
    item: Item,
    /// Position of the first of them among the items; the others follow.
    first: usize,
    /// How many are yet to be put down.
    left: usize,
}

impl Kind {
    /// Whether there is one left that fits beside and above `corner`.
    fn fits(&self, bin: Bin, corner: Corner) -> bool {
        self.left > 0
            && self.item.ways().any(|(across, along, _)| {
                corner.x + across <= bin.width && corner.y + along <= bin.depth
            })
    }
}

/// The search's memory, kept from plate to plate.
#[derive(Clone, Debug, Default)]
pub(super) struct Exact {
    kinds: Vec<Kind>,
    /// Situations (what is left, the stairs) from which there is no packing: the same one is met in many orders.
    hopeless: HashSet<Box<[i64]>>,
    nodes: u32,
}

impl Exact {
    /// Looks for a packing of `items`, sorted by kind, and writes it to `spots`; takes each step from `nodes`.
    ///
    /// With more than [`MOST`] items it gives up at once.
    pub fn search(
        &mut self,
        bin: Bin,
        items: &[Item],
        nodes: &mut u32,
        spots: &mut [Spot],
    ) -> Verdict {
        if items.len() > MOST {
            return Verdict::GaveUp;
        }
        self.kinds.clear();
        for (i, item) in items.iter().enumerate() {
            match self.kinds.last_mut() {
                Some(kind) if kind.item.kind() == item.kind() => kind.left += 1,
                _ => self.kinds.push(Kind {
                    item: *item,
                    first: i,
                    left: 1,
                }),
            }
        }
        self.hopeless.clear();
        self.nodes = *nodes;
        let surface = items.iter().map(Item::surface).sum();
        let verdict = self.descend(bin, &Stairs::FLOOR, surface, spots);
        *nodes = self.nodes;
        verdict
    }

    /// `surface` is that of all rectangles yet to be put down.
    fn descend(&mut self, bin: Bin, stairs: &Stairs, surface: f64, spots: &mut [Spot]) -> Verdict {
        if self.kinds.iter().all(|kind| kind.left == 0) {
            return Verdict::Packed;
        }
        // The rest has to lie beside and above the stairs.
        if stairs.lost(bin) + surface > bin.surface() * (1.0 + 1e-12) {
            return Verdict::Impossible;
        }
        let situation = self.situation(stairs);
        if self.hopeless.contains(&situation) {
            return Verdict::Impossible;
        }
        if self.nodes == 0 {
            return Verdict::GaveUp;
        }
        self.nodes -= 1;
        for k in 0..self.kinds.len() {
            let Kind { item, first, left } = self.kinds[k];
            if left == 0 {
                continue;
            }
            self.kinds[k].left -= 1;
            for (across, along, turned) in item.ways() {
                for &Corner { x, y } in stairs.corners() {
                    let (right, high) = (x + across, y + along);
                    if right > bin.width || high > bin.depth {
                        continue;
                    }
                    spots[first + left - 1] = Spot { x, y, turned };
                    // A corner in which no remaining rectangle fits is filled in: nothing can come to lie there later
                    // either, since each corner that is new lies right of an old one or above it.
                    let raised = stairs.raised(right, high, |corner| {
                        self.kinds.iter().any(|kind| kind.fits(bin, corner))
                    });
                    let verdict = self.descend(bin, &raised, surface - item.surface(), spots);
                    if verdict != Verdict::Impossible {
                        return verdict;
                    }
                }
            }
            self.kinds[k].left = left;
        }
        self.hopeless.insert(situation);
        Verdict::Impossible
    }

    fn situation(&self, stairs: &Stairs) -> Box<[i64]> {
        let left = self.kinds.iter().map(|kind| kind.left as i64);
        left.chain(
            stairs
                .corners()
                .iter()
                .flat_map(|corner| [corner.x, corner.y]),
        )
        .collect()
    }
}
