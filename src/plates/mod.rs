//! Pieces onto beds and belt stretches, seen from above: rectangles in a rectangle, and outlines (`nest`).
//!
//! Knows: lengths in mm, rectangles that may lie straight, turned by 90°, or both. Must not know: parts, machines,
//! scenarios, time.
//! Promises: what it returns lies inside the area and keeps its spacing (both to 10⁻⁶ mm); the same rectangles in any
//! order get the same answer; a plate that it does not find may exist all the same, unless the area says no.
//! Does not choose which pieces should share a plate.

mod belt;
mod bins;
mod diagonal;
mod exact;
mod filling;
mod grains;
mod identical;
mod improve;
mod max_rects;
mod memo;
mod nest;
#[cfg(test)]
mod tests;

pub use belt::pack_belt;
pub use bins::bins_needed;
pub use diagonal::pack_diagonal;
pub use memo::PlateMemo;
pub use nest::{FigureId, Figures, Nested, Nester, crowding};

use exact::{Exact, Verdict};
use filling::{Filling, Order};
use grains::{Bin, Item, Spot};
use improve::Improver;
use max_rects::Rule;

/// Where pieces may lie: margins are taken off already. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Across, along x.
    pub width: f64,
    /// Along y.
    pub depth: f64,
}

/// A piece from above, as it lies before turning. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rectangle {
    /// Along x.
    pub width: f64,
    /// Along y.
    pub depth: f64,
    /// Whether it may lie as it is.
    pub straight: bool,
    /// Whether it may lie turned by 90°.
    pub turned: bool,
}

/// Where a rectangle lies.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    /// Its left edge, mm from the area's left edge.
    pub x: f64,
    /// Its lower edge, mm from the area's lower edge.
    pub y: f64,
    /// Whether it is turned by 90°: then its depth lies along x.
    pub turned: bool,
}

/// How hard to look for a packing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Effort {
    /// A few microseconds: equal rectangles in blocks, mixtures by a few fixed rules.
    Quick,
    /// [`Effort::Quick`] first; then a proof either way for few rectangles, and for more of them so many further
    /// orders.
    Thorough {
        /// Orders tried.
        tries: u32,
    },
}

/// Packs all rectangles onto one area, nowhere closer to each other than `spacing`; places in the order given.
///
/// Spacing counts along the sides, as if each rectangle were wider by half of it all round; corner to corner
/// the distance is then more than asked.
///
/// `None` if no packing is found, or if a length is not a number or beyond 100 m, a side less than a micrometre, or the
/// spacing negative.
pub fn pack(
    area: Area,
    spacing: f64,
    rectangles: &[Rectangle],
    effort: Effort,
) -> Option<Vec<Place>> {
    let mut packer = Packer::default();
    packer
        .pack(area, spacing, rectangles, effort)
        .map(<[Place]>::to_vec)
}

/// How many equal rectangles fit an empty area, by the best layout of blocks; never less than the better plain grid.
///
/// [`pack`] finds room for that many with any effort.
pub fn room_for(area: Area, spacing: f64, rectangle: &Rectangle) -> usize {
    let Some(bin) = Bin::new(area, spacing) else {
        return 0;
    };
    Item::new(rectangle, spacing, bin, 0).map_or(0, |item| {
        identical::layout(bin, &item, i64::MAX).count() as usize
    })
}

/// Packs like [`pack`], and keeps its working memory from plate to plate.
#[derive(Clone, Debug, Default)]
pub struct Packer {
    /// Sorted by kind.
    items: Vec<Item>,
    filling: Filling,
    improver: Improver,
    exact: Exact,
    /// By position in `items`.
    spots: Vec<Spot>,
    /// By position in the caller's list.
    places: Vec<Place>,
}

/// What the quick way tries, the most promising first: the four of twelve that together packed most of 5000 random
/// sets.
const QUICK: [(Order, Rule); 4] = [
    (Order::Girth, Rule::ShortSide),
    (Order::Length, Rule::ShortSide),
    (Order::Surface, Rule::Lowest),
    (Order::Thickness, Rule::Lowest),
];

/// What the thorough way chooses from.
const RULES: [Rule; 3] = [Rule::ShortSide, Rule::Surface, Rule::Lowest];

/// Up to so many rectangles a proof is quicker than trying orders.
const FEW: usize = 6;

/// What a thorough search may spend.
struct Budget {
    /// Orders to try.
    tries: u32,
    /// Steps of the exact search.
    nodes: u32,
}

impl Budget {
    /// Twenty steps of the exact search take about as long as ten rectangles put down once.
    fn new(tries: u32) -> Self {
        Self {
            tries,
            nodes: tries.saturating_mul(20),
        }
    }
}

impl Packer {
    /// See [`pack`].
    pub fn pack(
        &mut self,
        area: Area,
        spacing: f64,
        rectangles: &[Rectangle],
        effort: Effort,
    ) -> Option<&[Place]> {
        let bin = Bin::new(area, spacing)?;
        self.take(bin, spacing, rectangles)?;
        let found = match effort {
            Effort::Quick => self.quick(bin),
            Effort::Thorough { tries } => {
                self.quick(bin) || self.thorough(bin, &mut Budget::new(tries))
            }
        };
        found.then(|| self.places())
    }

    /// Takes up the rectangles; `None` if one of them does not fit the bin alone, or all of them have more surface.
    fn take(&mut self, bin: Bin, spacing: f64, rectangles: &[Rectangle]) -> Option<()> {
        self.items.clear();
        for (index, rectangle) in rectangles.iter().enumerate() {
            self.items.push(Item::new(rectangle, spacing, bin, index)?);
        }
        // A sum of doubles is off by less than this share of it.
        let surface: f64 = self.items.iter().map(Item::surface).sum();
        if surface > bin.surface() * (1.0 + 1e-12) {
            return None;
        }
        self.items
            .sort_unstable_by_key(|item| (item.kind(), item.index));
        self.spots.clear();
        self.spots.resize(self.items.len(), Spot::default());
        Some(())
    }

    /// The item that they all are, if they are all alike.
    fn only_kind(&self) -> Option<Item> {
        let (first, last) = (self.items.first()?, self.items.last()?);
        (first.kind() == last.kind()).then_some(*first)
    }

    fn quick(&mut self, bin: Bin) -> bool {
        if let Some(item) = self.only_kind() {
            return self.quick_identical(bin, item);
        }
        QUICK.iter().any(|&(order, rule)| {
            self.filling.arrange(&self.items, order);
            self.filling
                .fill_all(bin, &self.items, rule, &mut self.spots)
        })
    }

    fn quick_identical(&mut self, bin: Bin, item: Item) -> bool {
        let wanted = self.items.len() as i64;
        let layout = identical::layout(bin, &item, wanted);
        for (spot, found) in self.spots.iter_mut().zip(layout.spots(item)) {
            *spot = found;
        }
        layout.count() >= wanted
    }

    fn thorough(&mut self, bin: Bin, budget: &mut Budget) -> bool {
        if self.items.len() > FEW {
            return self.improve(bin, budget) || self.prove(bin, budget) == Verdict::Packed;
        }
        match self.prove(bin, budget) {
            Verdict::Packed => true,
            Verdict::Impossible => false,
            Verdict::GaveUp => self.improve(bin, budget),
        }
    }

    fn improve(&mut self, bin: Bin, budget: &mut Budget) -> bool {
        let spots = &mut self.spots;
        self.improver
            .search(bin, &self.items, &RULES, &mut budget.tries, spots)
    }

    fn prove(&mut self, bin: Bin, budget: &mut Budget) -> Verdict {
        let spots = &mut self.spots;
        self.exact
            .search(bin, &self.items, &mut budget.nodes, spots)
    }

    fn places(&mut self) -> &[Place] {
        self.places.clear();
        self.places.resize(self.items.len(), Place::default());
        for (item, spot) in self.items.iter().zip(&self.spots) {
            self.places[item.index] = spot.place();
        }
        &self.places
    }
}
