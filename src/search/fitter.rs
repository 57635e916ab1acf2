//! Where the pieces of a plate lie on each machine, and what a run of it takes there.
//!
//! Knows: items and their ways, the packer, the nester. Must not know: dates, other runs.
//! Promises: a plate that fits has a layout, and [`Fitter::layout`] finds the one that its fit was found with.

use std::collections::HashMap;

use crate::calendar::{Minute, clock_minutes};
use crate::estimate::run_minutes;
use crate::plates::{self, Area, Effort, Nester, Packer, Rectangle};
use crate::units::Seconds;

use super::plate::{Fit, Load};
use super::shop::{ItemId, ItemWay, Shop};
use super::supply::milligrams;

/// Where a piece of a plate lies: its item, way, centre and turn in degrees.
#[derive(Clone, Debug)]
pub struct Laid {
    /// Which item.
    pub item: ItemId,
    /// Which of its ways on the machine.
    pub way: usize,
    /// Centre in the usable area, mm.
    pub x: f64,
    /// See `x`.
    pub y: f64,
    /// Turn, degrees counter-clockwise.
    pub turn: f64,
}

/// What is remembered of fits between plates of the same shapes, and the packer's own workspace.
#[derive(Default)]
pub struct Fitter {
    packer: Packer,
    nester: Nester,
    known: HashMap<Vec<u32>, Fit>,
}

/// Entries kept before the memory is emptied; about 100 bytes each.
const REMEMBERED: usize = 400_000;
/// More beams than this side by side on a diagonal are not tried: the corners left over are small.
const MOST_BEAMS: usize = 6;
/// More pieces than this are not nested by their outlines: the search asks too often.
const MOST_NESTED: usize = 60;
/// Nor are pieces that together need more than this share of the bed, their spacing counted in. (Measured on plates of the
/// quayside crane that do not lie as boxes: of those that need 0.6 to 0.75 of the bed more than half can be nested, of those
/// that need more one in four; and the fuller a plate, the longer it takes to find out.)
const HOPELESS: f64 = 0.75;
/// The same for a few pieces, with which it is soon found out.
const HOPELESS_FEW: f64 = 0.9;
/// Combinations of ways that are tried in full on a plate of several kinds.
const COMBINATIONS: usize = 16;
/// Pieces up to which each may lie in a way of its own.
const FEW_PIECES: u32 = 4;

impl Fitter {
    /// What a run of these loads takes on a machine.
    pub fn fit(&mut self, shop: &Shop, loads: &[Load], machine: usize) -> Fit {
        if loads.iter().any(|l| shop.ways(l.item, machine).is_empty()) {
            return Fit::No;
        }
        if let [Load { item, count: 1 }] = loads {
            let way = shop
                .ways(*item, machine)
                .iter()
                .map(|way| run_cost(shop, machine, std::iter::once((way, 1))))
                .filter(|&(minutes, ..)| can_end(shop, machine, minutes))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            return way.map_or(Fit::No, granted);
        }
        let mut key: Vec<u32> = Vec::with_capacity(loads.len() * 2 + 1);
        key.push(machine as u32);
        let mut shapes: Vec<(u32, u32)> = loads
            .iter()
            .map(|l| (shop.items[l.item as usize].shape, l.count))
            .collect();
        shapes.sort_unstable();
        key.extend(shapes.iter().flat_map(|&(s, n)| [s, n]));
        if let Some(&fit) = self.known.get(&key) {
            return fit;
        }
        let fit = self.search(shop, &for_packing(shop, loads), machine);
        if self.known.len() >= REMEMBERED {
            self.known.clear();
        }
        self.known.insert(key, fit);
        fit
    }

    fn search(&mut self, shop: &Shop, loads: &[Load], machine: usize) -> Fit {
        match self.settle(shop, loads, machine) {
            Some((choice, _)) => {
                let chosen = chosen(shop, loads, machine, &choice);
                granted(run_cost(shop, machine, chosen))
            }
            None => Fit::No,
        }
    }

    /// The cheapest choice of ways that lies as boxes, or at an angle; else the cheapest, nested by outlines. Only that one,
    /// and only if no choice lies as boxes: the search asks for thousands of plates, and nesting takes a hundred times as
    /// long.
    fn settle(
        &mut self,
        shop: &Shop,
        loads: &[Load],
        machine: usize,
    ) -> Option<(Vec<usize>, Vec<Laid>)> {
        let mut possible = choices(shop, loads, machine);
        possible.retain(|choice| {
            can_end(
                shop,
                machine,
                run_cost(shop, machine, chosen(shop, loads, machine, choice)).0,
            )
        });
        for choice in &possible {
            let pieces = spread(shop, loads, machine, choice);
            if let Some(centres) = self.place(shop, machine, &pieces) {
                return Some((choice.clone(), laid(&pieces, &centres)));
            }
        }
        let cheapest = possible.into_iter().next()?;
        let pieces = spread(shop, loads, machine, &cheapest);
        let centres = self.nest(shop, machine, &pieces)?;
        Some((cheapest, laid(&pieces, &centres)))
    }

    /// Where every piece of a plate that fits lies.
    pub fn layout(&mut self, shop: &Shop, loads: &[Load], machine: usize) -> Option<Vec<Laid>> {
        let loads = for_packing(shop, loads);
        if let [Load { item, count: 1 }] = loads[..] {
            let ways = shop.ways(item, machine);
            let run = |w: usize| run_cost(shop, machine, std::iter::once((&ways[w], 1)));
            let best = (0..ways.len())
                .filter(|&w| can_end(shop, machine, run(w).0))
                .min_by(|&a, &b| run(a).1.total_cmp(&run(b).1))?;
            let pieces = spread(shop, &loads, machine, &[best]);
            let centres = self.place(shop, machine, &pieces);
            let centres = centres.or_else(|| self.nest(shop, machine, &pieces))?;
            return Some(laid(&pieces, &centres));
        }
        self.settle(shop, &loads, machine).map(|(_, laid)| laid)
    }

    /// Where pieces lie as boxes: on a belt, on a bed, or side by side at an angle.
    fn place(&mut self, shop: &Shop, machine: usize, pieces: &[Spread]) -> Option<Vec<Centre>> {
        let m = &shop.machines[machine];
        if pieces.iter().any(|piece| piece.2.diagonal) {
            return bundle(m.area, m.spacing, pieces);
        }
        let boxes: Vec<Rectangle> = pieces.iter().map(|piece| piece.2.rectangle).collect();
        let centres = |places: &[plates::Place]| -> Vec<Centre> {
            let places = places.iter().zip(&boxes);
            places.map(|(place, r)| middle(place, r)).collect()
        };
        if m.belt {
            let (width, longest) = (m.area.width, m.area.depth);
            let packed = plates::pack_belt(width, longest, m.spacing, &boxes, Effort::Quick)?;
            Some(centres(&packed.1))
        } else {
            let packed = self.packer.pack(m.area, m.spacing, &boxes, Effort::Quick)?;
            Some(centres(packed))
        }
    }

    /// Where pieces lie on a bed by their outlines, if some have one.
    fn nest(&mut self, shop: &Shop, machine: usize, pieces: &[Spread]) -> Option<Vec<Centre>> {
        let m = &shop.machines[machine];
        if m.belt || pieces.len() > MOST_NESTED || !pieces.iter().any(|piece| piece.2.shaped) {
            return None;
        }
        // On a bed every way has a figure where some have an outline.
        let figures: Vec<_> = pieces
            .iter()
            .map(|piece| piece.2.figure)
            .collect::<Option<_>>()?;
        let hopeless = if pieces.len() <= FEW_PIECES as usize {
            HOPELESS_FEW
        } else {
            HOPELESS
        };
        if plates::crowding(&shop.figures, m.area, m.spacing, &figures) > hopeless {
            return None;
        }
        let places = self
            .nester
            .nest(&shop.figures, m.area, m.spacing, &figures, Effort::Quick)?;
        Some(
            places
                .iter()
                .map(|place| (place.x, place.y, place.turn))
                .collect(),
        )
    }
}

/// A piece by itself: its item, the position of its way, the way.
type Spread = (ItemId, usize, ItemWay);

/// Where a piece lies: its centre in mm and its turn in degrees.
type Centre = (f64, f64, f64);

fn laid(pieces: &[Spread], centres: &[Centre]) -> Vec<Laid> {
    let places = pieces.iter().zip(centres);
    places
        .map(|(&(item, way, _), &(x, y, turn))| Laid {
            item,
            way,
            x,
            y,
            turn,
        })
        .collect()
}

/// Every piece of some loads.
fn spread(shop: &Shop, loads: &[Load], machine: usize, choice: &[usize]) -> Vec<Spread> {
    let loads = loads.iter().zip(choice);
    loads
        .flat_map(|(load, &way)| {
            let found = shop.ways(load.item, machine)[way];
            (0..load.count).map(move |_| (load.item, way, found))
        })
        .collect()
}

/// Centre and turn of a rectangle where it lies.
fn middle(place: &plates::Place, r: &Rectangle) -> Centre {
    let (width, depth, turn) = if place.turned {
        (r.depth, r.width, 90.0)
    } else {
        (r.width, r.depth, 0.0)
    };
    (place.x + width / 2.0, place.y + depth / 2.0, turn)
}

/// Loads as the packer takes them: by shape and count, since what is remembered of fits speaks of those; of few pieces each by
/// itself, so that like pieces may lie in unlike ways.
fn for_packing(shop: &Shop, loads: &[Load]) -> Vec<Load> {
    let mut loads = loads.to_vec();
    loads.sort_unstable_by_key(|l| (shop.items[l.item as usize].shape, l.count, l.item));
    if loads.iter().map(|l| l.count).sum::<u32>() <= FEW_PIECES {
        loads = loads
            .into_iter()
            .flat_map(|load| (0..load.count).map(move |_| Load { count: 1, ..load }))
            .collect();
    }
    loads
}

/// Beams side by side at one angle, the only company that a diagonal piece can keep: centre and turn of each.
fn bundle(area: Area, spacing: f64, pieces: &[Spread]) -> Option<Vec<Centre>> {
    let beams: Vec<(f64, f64)> = pieces
        .iter()
        .map(|p| {
            let r = p.2.rectangle;
            (r.width.max(r.depth), r.width.min(r.depth))
        })
        .collect();
    // Cheap refusals first: the search asks this far more often than the answer is yes.
    let surface: f64 = beams.iter().map(|beam| beam.0 * beam.1).sum();
    if pieces.iter().any(|p| !p.2.any_angle) {
        return None;
    }
    if beams.len() > MOST_BEAMS || surface > area.width * area.depth {
        return None;
    }
    let (angle, centres) = plates::pack_diagonal(area, spacing, &beams)?;
    Some(
        centres
            .into_iter()
            .zip(pieces)
            .map(|((x, y), piece)| {
                // The angle is that of the long side; a box drawn with its long side along y is a right angle ahead.
                let upright = piece.2.rectangle.depth > piece.2.rectangle.width;
                (x, y, if upright { angle + 90.0 } else { angle })
            })
            .collect(),
    )
}

fn chosen<'a>(
    shop: &'a Shop,
    loads: &'a [Load],
    machine: usize,
    choice: &'a [usize],
) -> impl Iterator<Item = (&'a ItemWay, u32)> {
    loads
        .iter()
        .zip(choice)
        .map(move |(load, &way)| (&shop.ways(load.item, machine)[way], load.count))
}

/// Whether a run so long can be set up in any bench hours.
fn can_end(shop: &Shop, machine: usize, minutes: Minute) -> bool {
    shop.machines[machine]
        .longest
        .is_some_and(|longest| minutes <= longest)
}

/// Whole minutes of a run, and its money: machine, energy and plastic.
fn granted((minutes, cost, grams): (Minute, f64, f64)) -> Fit {
    Fit::Yes {
        minutes,
        cost,
        // Far below 4 t, the most that it can say.
        milligrams: milligrams(grams) as u32,
    }
}

fn run_cost<'a>(
    shop: &Shop,
    machine: usize,
    pieces: impl Iterator<Item = (&'a ItemWay, u32)>,
) -> (Minute, f64, f64) {
    let m = &shop.machines[machine];
    let (mut seconds, mut layers, mut plastic, mut grams) = (0.0, 0.0_f64, 0.0, 0.0);
    for (way, count) in pieces {
        seconds += way.seconds * f64::from(count);
        layers = layers.max(way.layer_seconds);
        plastic += way.plastic * f64::from(count);
        grams += way.grams * f64::from(count);
    }
    let minutes = clock_minutes(run_minutes(
        Seconds(m.warm_up),
        Seconds(seconds),
        Seconds(layers),
    ));
    (minutes, f64::from(minutes) * m.minute + plastic, grams)
}

/// Which way each kind of piece takes, the cheapest run first: every combination where they are few, else the
/// quickest ways and the ways of least footprint.
fn choices(shop: &Shop, loads: &[Load], machine: usize) -> Vec<Vec<usize>> {
    let counts: Vec<usize> = loads
        .iter()
        .map(|l| shop.ways(l.item, machine).len())
        .collect();
    let mut all: Vec<Vec<usize>> = Vec::new();
    // A plate of many kinds has more combinations than a number holds.
    let few = counts
        .iter()
        .try_fold(1usize, |product, &n| product.checked_mul(n))
        .is_some_and(|product| product <= COMBINATIONS);
    if few {
        all.push(Vec::new());
        for &n in &counts {
            all = all
                .into_iter()
                .flat_map(|head| {
                    (0..n).map(move |way| {
                        let mut next = head.clone();
                        next.push(way);
                        next
                    })
                })
                .collect();
        }
    } else {
        let by = |key: fn(&ItemWay) -> f64| -> Vec<usize> {
            loads
                .iter()
                .map(|l| {
                    let ways = shop.ways(l.item, machine);
                    (0..ways.len())
                        .min_by(|&a, &b| key(&ways[a]).total_cmp(&key(&ways[b])))
                        .unwrap_or(0)
                })
                .collect()
        };
        all.push(by(|w| w.seconds));
        all.push(by(|w| w.area));
        all.dedup();
    }
    all.sort_by(|a, b| {
        let run = |c: &Vec<usize>| run_cost(shop, machine, chosen(shop, loads, machine, c));
        let (a, b) = (run(a), run(b));
        a.1.total_cmp(&b.1).then(a.0.cmp(&b.0))
    });
    all
}
