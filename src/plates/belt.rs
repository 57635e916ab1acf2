//! Pieces on a stretch of belt, as short as it can be made: the belt taken is time and room taken.
//!
//! Knows: the belt's width, the longest stretch, rectangles. Must not know: what is on the belt before and after.
//! Promises: as in [`super`]; the length told is the far edge of the piece that reaches furthest.

use super::filling::Order;
use super::grains::{Bin, Item, Spot, millimetres};
use super::identical;
use super::max_rects::Rule;
use super::{Area, Budget, Effort, Packer, Place, Rectangle};

/// A stretch that is shorter by less than this (0.1 mm, in grains) is not worth looking for.
const WORTHWHILE: i64 = 10_000_000;

/// Orders tried by the quick way; each rectangle goes where it reaches least far along.
const QUICK: [Order; 4] = [
    Order::Length,
    Order::Surface,
    Order::Thickness,
    Order::Girth,
];

/// Packs all rectangles onto a belt `width` across, x across and y along from the run's start, so as to use little of
/// its length; the length used (at most `longest`), and places in the order given. Lengths in mm.
///
/// `None` if no packing is found, or as for [`super::pack`].
pub fn pack_belt(
    width: f64,
    longest: f64,
    spacing: f64,
    rectangles: &[Rectangle],
    effort: Effort,
) -> Option<(f64, Vec<Place>)> {
    let mut packer = Packer::default();
    packer
        .pack_belt(width, longest, spacing, rectangles, effort)
        .map(|(length, places)| (length, places.to_vec()))
}

impl Packer {
    /// See [`pack_belt`].
    pub fn pack_belt(
        &mut self,
        width: f64,
        longest: f64,
        spacing: f64,
        rectangles: &[Rectangle],
        effort: Effort,
    ) -> Option<(f64, &[Place])> {
        let area = Area {
            width,
            depth: longest,
        };
        let belt = Bin::new(area, spacing)?;
        self.take(belt, spacing, rectangles)?;
        let mut stretch = Stretch::new(belt, &self.items);
        if let Some(item) = self.only_kind() {
            self.shorten_identical(&mut stretch, item);
        } else {
            self.shorten_quick(&mut stretch);
        }
        if let Effort::Thorough { tries } = effort {
            self.shorten_thorough(&mut stretch, tries);
        }
        let reach = stretch.reach?;
        self.spots = stretch.spots;
        // An empty list reaches nowhere, and has no rim to take off.
        let used = (millimetres(reach) - spacing).clamp(0.0, longest);
        Some((used, self.places()))
    }

    /// Takes the shortest stretch whose depth is filled by rows of either kind and whose blocks hold them all.
    fn shorten_identical(&mut self, stretch: &mut Stretch, item: Item) {
        let wanted = self.items.len() as i64;
        let mut depths: Vec<i64> = vec![stretch.belt.depth];
        let limit = stretch.belt.depth;
        let rows = (0..=wanted).map(|straight| straight * item.depth);
        for below in rows.take_while(|&below| below < limit) {
            let turned = (0..=wanted).map(|turned| below + turned * item.width);
            depths.extend(turned.take_while(|&depth| depth < limit));
        }
        depths.sort_unstable();
        let layout = |depth| {
            let width = stretch.belt.width;
            identical::layout(Bin { width, depth }, &item, wanted)
        };
        // A deeper stretch does not hold fewer, or if a layout of blocks fails to see it, only some length is lost.
        let first = depths
            .partition_point(|&depth| depth < stretch.floor || layout(depth).count() < wanted);
        if let Some(&depth) = depths.get(first) {
            for (spot, found) in self.spots.iter_mut().zip(layout(depth).spots(item)) {
                *spot = found;
            }
            stretch.keep(&self.items, &self.spots);
        }
    }

    fn shorten_quick(&mut self, stretch: &mut Stretch) {
        for order in QUICK {
            let Some(shorter) = stretch.shorter() else {
                return;
            };
            self.filling.arrange(&self.items, order);
            let (filling, spots) = (&mut self.filling, &mut self.spots);
            if filling.fill_all(shorter, &self.items, Rule::Lowest, spots) {
                stretch.keep(&self.items, &self.spots);
            }
        }
    }

    /// Packs into less and less, until no more is found.
    fn shorten_thorough(&mut self, stretch: &mut Stretch, tries: u32) {
        let mut budget = Budget::new(tries);
        while let Some(shorter) = stretch.shorter() {
            if !self.thorough(shorter, &mut budget) {
                return;
            }
            stretch.keep(&self.items, &self.spots);
        }
    }
}

/// The shortest stretch so far.
struct Stretch {
    belt: Bin,
    /// No packing reaches less far.
    floor: i64,
    /// How far this one reaches, the last rectangle's rim included; `None` before the first is found.
    reach: Option<i64>,
    spots: Vec<Spot>,
}

impl Stretch {
    fn new(belt: Bin, items: &[Item]) -> Self {
        let surface: f64 = items.iter().map(Item::surface).sum();
        let least = |item: &Item| item.ways().map(|(_, along, _)| along).min();
        let longest = items.iter().filter_map(least).max().unwrap_or(0);
        Self {
            belt,
            // Rounded down, and a grain less for the error of the sum.
            floor: longest.max((surface / belt.width as f64) as i64 - 1),
            reach: None,
            spots: vec![],
        }
    }

    /// The stretch that is worth looking into next; `None` if no shorter one can hold them.
    fn shorter(&self) -> Option<Bin> {
        let depth = self
            .reach
            .map_or(self.belt.depth, |reach| reach - WORTHWHILE);
        (depth >= self.floor).then_some(Bin { depth, ..self.belt })
    }

    fn keep(&mut self, items: &[Item], spots: &[Spot]) {
        let reach = |(item, spot): (&Item, &Spot)| spot.y + item.sides(spot.turned).1;
        self.reach = Some(items.iter().zip(spots).map(reach).max().unwrap_or(0));
        self.spots = spots.to_vec();
    }
}
