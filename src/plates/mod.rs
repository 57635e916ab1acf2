//! Pieces onto beds and belt stretches, seen from above: rectangles in a rectangle.
//!
//! Knows: lengths in mm, rectangles that may lie straight, turned by 90°, or both. Must not know: parts, machines,
//! scenarios, time.
//! Promises: what it returns lies inside the area and keeps its spacing (both to 10⁻⁶ mm); the same rectangles in any
//! order get the same answer; a plate that it does not find may exist all the same, unless the area says no.
//! Does not choose which pieces should share a plate.

mod grains;
mod identical;
mod max_rects;

#[cfg(test)]
mod tests;

use grains::{Bin, Item, Spot};
use max_rects::{MaxRects, Rule};

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
}

/// Packs all rectangles onto one area, nowhere closer to each other than `spacing`; places in the order given.
///
/// Spacing counts along the sides, as if each rectangle were wider by half of it all round; corner to corner
/// the distance is then more than asked.
///
/// `None` if no packing is found, or if a length is not a number, a side not positive, or the spacing negative.
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
    order: Vec<usize>,
    max_rects: MaxRects,
    /// By position in `items`.
    spots: Vec<Spot>,
    /// By position in the caller's list.
    places: Vec<Place>,
}

/// In which order rectangles are put down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Order {
    /// Longest side first.
    Length,
    /// Largest first.
    Surface,
}

/// What the quick way tries, best first.
const QUICK: [(Order, Rule); 4] = [
    (Order::Length, Rule::ShortSide),
    (Order::Length, Rule::Lowest),
    (Order::Surface, Rule::Surface),
    (Order::Surface, Rule::ShortSide),
];

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
        self.items.clear();
        for (index, rectangle) in rectangles.iter().enumerate() {
            self.items.push(Item::new(rectangle, spacing, bin, index)?);
        }
        let surface: f64 = self.items.iter().map(Item::surface).sum();
        if surface > bin.surface() * (1.0 + 1e-12) {
            return None;
        }
        self.items
            .sort_unstable_by_key(|item| (item.kind(), item.index));
        self.spots.clear();
        self.spots.resize(self.items.len(), Spot::default());
        let found = match effort {
            Effort::Quick => self.quick(bin),
        };
        found.then(|| self.places())
    }

    fn quick(&mut self, bin: Bin) -> bool {
        let (Some(first), Some(last)) = (self.items.first(), self.items.last()) else {
            return true;
        };
        if first.kind() == last.kind() {
            return self.quick_identical(bin);
        }
        QUICK.iter().any(|&(order, rule)| {
            self.sort(order);
            self.fill(bin, rule)
        })
    }

    /// All items are of one kind.
    fn quick_identical(&mut self, bin: Bin) -> bool {
        let item = self.items[0];
        let layout = identical::layout(bin, &item, self.items.len() as i64);
        let fits = layout.count() >= self.items.len() as i64;
        if fits {
            for (spot, found) in self.spots.iter_mut().zip(layout.spots(item)) {
                *spot = found;
            }
        }
        fits
    }

    fn sort(&mut self, order: Order) {
        self.order.clear();
        self.order.extend(0..self.items.len());
        match order {
            // The items are sorted so.
            Order::Length => {}
            Order::Surface => {
                let items = &self.items;
                self.order
                    .sort_by(|&a, &b| items[b].surface().total_cmp(&items[a].surface()));
            }
        }
    }

    /// Puts all items down in the present order; stops at the first for which there is no room.
    fn fill(&mut self, bin: Bin, rule: Rule) -> bool {
        self.max_rects.start(bin);
        self.order.iter().all(|&i| {
            let spot = self.max_rects.put(&self.items[i], rule);
            self.spots[i] = spot.unwrap_or_default();
            spot.is_some()
        })
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
