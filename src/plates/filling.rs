//! Putting rectangles down one after another, in a given order, by a given rule.
//!
//! Knows: orders, and the rules of [`MaxRects`]. Must not know: which of them are worth trying.
//! Promises: the same order and rule give the same packing.

use super::grains::{Bin, Item, Spot};
use super::max_rects::{MaxRects, Rule};

/// In which order rectangles are put down: the greatest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    /// By the longer side.
    Length,
    /// By surface.
    Surface,
    /// By both sides' sum.
    Girth,
    /// By the shorter side.
    Thickness,
}

impl Order {
    fn measure(self, item: &Item) -> f64 {
        match self {
            Self::Length => item.width.max(item.depth) as f64,
            Self::Surface => item.surface(),
            Self::Girth => (item.width + item.depth) as f64,
            Self::Thickness => item.width.min(item.depth) as f64,
        }
    }
}

/// An order, and the plate that is filled by it. Kept from plate to plate, so that the next one allocates nothing.
#[derive(Clone, Debug, Default)]
pub(super) struct Filling {
    /// Positions in the list of items.
    pub order: Vec<usize>,
    /// Those of the items for which [`Self::fill_most`] found no room.
    pub left_out: Vec<usize>,
    max_rects: MaxRects,
}

impl Filling {
    /// Takes up an order; where it does not decide, the items' own stays.
    pub fn arrange(&mut self, items: &[Item], order: Order) {
        self.order.clear();
        self.order.extend(0..items.len());
        self.order.sort_by(|&a, &b| {
            order
                .measure(&items[b])
                .total_cmp(&order.measure(&items[a]))
        });
    }

    /// Puts all items down, or stops at the first for which there is no room.
    pub fn fill_all(&mut self, bin: Bin, items: &[Item], rule: Rule, spots: &mut [Spot]) -> bool {
        self.max_rects.start(bin);
        self.order.iter().all(|&i| {
            let spot = self.max_rects.put(&items[i], rule);
            spots[i] = spot.unwrap_or_default();
            spot.is_some()
        })
    }

    /// Puts down all items for which there is room; says how much surface that is.
    pub fn fill_most(&mut self, bin: Bin, items: &[Item], rule: Rule, spots: &mut [Spot]) -> f64 {
        self.max_rects.start(bin);
        self.left_out.clear();
        let mut packed = 0.0;
        for &i in &self.order {
            if let Some(spot) = self.max_rects.put(&items[i], rule) {
                spots[i] = spot;
                packed += items[i].surface();
            } else {
                self.left_out.push(i);
            }
        }
        packed
    }
}
