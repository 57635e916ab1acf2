//! What lies together on one start of a machine, and what that start takes on each machine.
//!
//! Knows: items and their ways, the packer. Must not know: dates, other runs.
//! Promises: a fit that is not `None` has a layout, and [`layout`] finds it again.

use std::collections::HashMap;
use std::sync::Arc;

use crate::calendar::{Minute, clock_minutes};
use crate::estimate::run_minutes;
use crate::plates::{self, Area, Effort, Packer, Rectangle};
use crate::units::Seconds;

use super::shop::{ItemId, ItemWay, NOWHERE, NodeId, Shop};

/// Position of a plate in its [`PlateStore`].
pub type PlateId = u32;

/// So many pieces of one item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Load {
    /// What.
    pub item: ItemId,
    /// How many.
    pub count: u32,
}

/// What a run of a plate takes on one machine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// Not yet asked.
    Unknown,
    /// It does not fit, or may not be made there.
    No,
    /// Whole minutes and the money of machine, energy and plastic.
    Yes { minutes: Minute, cost: f64 },
}

/// Pieces for one start of a machine.
#[derive(Clone, Debug)]
pub struct Plate {
    /// What lies on it, by item; counts above zero.
    pub loads: Arc<[Load]>,
    /// Its filament.
    pub filament: u32,
    /// Its group: filament and setting.
    pub group: u32,
    /// Shares with nothing.
    pub alone: bool,
    /// Not started before.
    pub ready: Minute,
    /// Nodes that take its whole pieces directly.
    pub feeds: Vec<NodeId>,
    /// Trials of which it holds pieces that wait for approval.
    pub waits: Vec<u32>,
    /// Trials of which it holds trial pieces.
    pub tries: Vec<u32>,
    /// Some of its items are lengths of split copies.
    pub has_lengths: bool,
}

/// What dating asks of a plate at every move, side by side in memory.
#[derive(Clone, Copy, Debug)]
pub struct Hot {
    /// Its filament.
    pub filament: u32,
    /// Not started before.
    pub ready: Minute,
    /// The node that its whole pieces feed, if it is one; [`NOWHERE`] if none, [`MANY`] if several.
    pub feeds: NodeId,
    /// It holds lengths of split copies, trial pieces, or pieces that wait for an approval.
    pub special: bool,
}

/// A plate feeds several nodes: see [`Plate::feeds`].
pub const MANY: NodeId = NodeId::MAX - 1;

/// Plates by number, with those no longer used handed out again.
#[derive(Clone, Debug, Default)]
pub struct PlateStore {
    plates: Vec<Plate>,
    hot: Vec<Hot>,
    /// What plate p takes on machine m, at `p * machines + m`.
    fits: Vec<Fit>,
    machines: usize,
    free: Vec<PlateId>,
}

/// How a plate is laid out: for each piece its item, way, centre and turn in degrees.
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
    known: HashMap<Vec<u32>, Fit>,
}

/// Entries kept before the memory is emptied; about 100 bytes each.
const REMEMBERED: usize = 400_000;
/// More beams than this side by side on a diagonal are not tried: the corners left over are small.
const MOST_BEAMS: usize = 6;
/// Combinations of ways that are tried in full on a plate of several kinds.
const COMBINATIONS: usize = 16;
/// Pieces up to which each may lie in a way of its own.
const FEW_PIECES: u32 = 4;

impl PlateStore {
    /// No plates yet, for so many machines.
    pub fn new(machines: usize) -> Self {
        Self {
            machines,
            ..Self::default()
        }
    }

    /// What dating asks of a plate.
    pub fn hot(&self, plate: PlateId) -> Hot {
        self.hot[plate as usize]
    }

    /// Calls `each` with every node that a plate feeds.
    pub fn each_feed(&self, plate: PlateId, mut each: impl FnMut(NodeId)) {
        match self.hot[plate as usize].feeds {
            NOWHERE => {}
            MANY => self.plates[plate as usize]
                .feeds
                .iter()
                .copied()
                .for_each(each),
            node => each(node),
        }
    }

    /// Whether a plate feeds a node.
    pub fn feeds(&self, plate: PlateId, node: NodeId) -> bool {
        match self.hot[plate as usize].feeds {
            MANY => self.plates[plate as usize].feeds.contains(&node),
            one => one == node,
        }
    }

    /// The plate of a number.
    pub fn get(&self, plate: PlateId) -> &Plate {
        &self.plates[plate as usize]
    }

    /// Makes a plate of pieces that share a group; `loads` need not be sorted or merged.
    ///
    /// `None` if they may not share a plate by rule: another group, one that is alone, a trial with what waits for it.
    pub fn make(&mut self, shop: &Shop, loads: &[Load]) -> Option<PlateId> {
        let mut merged: Vec<Load> = loads.iter().copied().filter(|l| l.count > 0).collect();
        merged.sort_unstable();
        merged.dedup_by(|next, kept| {
            kept.item == next.item && {
                kept.count += next.count;
                true
            }
        });
        let first = &shop.items[merged.first()?.item as usize];
        let (group, filament) = (first.group, first.filament);
        let pieces: u32 = merged.iter().map(|l| l.count).sum();
        let mut plate = Plate {
            loads: Arc::from([]),
            filament,
            group,
            alone: false,
            ready: 0,
            feeds: Vec::new(),
            waits: Vec::new(),
            tries: Vec::new(),
            has_lengths: false,
        };
        for load in &merged {
            let item = &shop.items[load.item as usize];
            let class = &shop.classes[item.class as usize];
            if item.group != group || (item.alone && pieces > 1) {
                return None;
            }
            plate.alone |= item.alone;
            plate.ready = plate.ready.max(class.ready);
            plate.has_lengths |= item.lengths > 1;
            if item.lengths == 1 && class.node != NOWHERE && !plate.feeds.contains(&class.node) {
                plate.feeds.push(class.node);
            }
            if let Some(trial) = class.trial {
                let list = if class.is_trial {
                    &mut plate.tries
                } else {
                    &mut plate.waits
                };
                if !list.contains(&trial) {
                    list.push(trial);
                }
            }
        }
        if plate.tries.iter().any(|t| plate.waits.contains(t)) {
            return None;
        }
        plate.loads = merged.into();
        let hot = Hot {
            filament,
            ready: plate.ready,
            feeds: match plate.feeds[..] {
                [] => NOWHERE,
                [node] => node,
                _ => MANY,
            },
            special: plate.has_lengths || !plate.waits.is_empty() || !plate.tries.is_empty(),
        };
        Some(match self.free.pop() {
            Some(id) => {
                let at = id as usize;
                self.plates[at] = plate;
                self.hot[at] = hot;
                self.fits[at * self.machines..(at + 1) * self.machines].fill(Fit::Unknown);
                id
            }
            None => {
                self.plates.push(plate);
                self.hot.push(hot);
                self.fits
                    .resize(self.plates.len() * self.machines, Fit::Unknown);
                (self.plates.len() - 1) as PlateId
            }
        })
    }

    /// Gives a plate's number back; it must be on no sheet.
    pub fn release(&mut self, plate: PlateId) {
        self.free.push(plate);
    }

    /// What a run of the plate takes on a machine.
    pub fn fit(&mut self, shop: &Shop, fitter: &mut Fitter, plate: PlateId, machine: usize) -> Fit {
        let at = plate as usize * self.machines + machine;
        if self.fits[at] == Fit::Unknown {
            self.fits[at] = fitter.fit(shop, &self.plates[plate as usize].loads, machine);
        }
        self.fits[at]
    }

    /// Length and money of a run that is known to fit.
    pub fn known(&self, plate: PlateId, machine: usize) -> (Minute, f64) {
        match self.fits[plate as usize * self.machines + machine] {
            Fit::Yes { minutes, cost } => (minutes, cost),
            // Only plates whose fit was asked and granted are put on a sheet.
            Fit::No | Fit::Unknown => unreachable!("a plate on a sheet fits its machine"),
        }
    }
}

impl Fitter {
    fn fit(&mut self, shop: &Shop, loads: &[Load], machine: usize) -> Fit {
        if loads.iter().any(|l| shop.ways(l.item, machine).is_empty()) {
            return Fit::No;
        }
        if let [Load { item, count: 1 }] = loads {
            let way = shop
                .ways(*item, machine)
                .iter()
                .map(|way| run_cost(shop, machine, std::iter::once((way, 1))))
                .filter(|&(minutes, _)| can_end(shop, machine, minutes))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            return way.map_or(Fit::No, |(minutes, cost)| Fit::Yes { minutes, cost });
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
        for choice in choices(shop, loads, machine) {
            let (minutes, cost) = run_cost(shop, machine, chosen(shop, loads, machine, &choice));
            if can_end(shop, machine, minutes)
                && self.place(shop, loads, machine, &choice).is_some()
            {
                return Fit::Yes { minutes, cost };
            }
        }
        Fit::No
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
            return self.place(shop, &loads, machine, &[best]);
        }
        let run =
            |choice: &Vec<usize>| run_cost(shop, machine, chosen(shop, &loads, machine, choice));
        choices(shop, &loads, machine)
            .into_iter()
            .filter(|choice| can_end(shop, machine, run(choice).0))
            .find_map(|choice| self.place(shop, &loads, machine, &choice))
    }

    fn place(
        &mut self,
        shop: &Shop,
        loads: &[Load],
        machine: usize,
        choice: &[usize],
    ) -> Option<Vec<Laid>> {
        let m = &shop.machines[machine];
        let pieces: Vec<(ItemId, usize, ItemWay)> = loads
            .iter()
            .zip(choice)
            .flat_map(|(load, &way)| {
                let found = shop.ways(load.item, machine)[way];
                (0..load.count).map(move |_| (load.item, way, found))
            })
            .collect();
        let laid = |index: usize, x: f64, y: f64, turn: f64| Laid {
            item: pieces[index].0,
            way: pieces[index].1,
            x,
            y,
            turn,
        };
        if pieces.iter().any(|p| p.2.diagonal) {
            return bundle(m.area, m.spacing, &pieces).map(|places| {
                places
                    .into_iter()
                    .enumerate()
                    .map(|(i, (x, y, turn))| laid(i, x, y, turn))
                    .collect()
            });
        }
        let rectangles: Vec<Rectangle> = pieces.iter().map(|p| p.2.rectangle).collect();
        let places = if m.belt {
            plates::pack_belt(
                m.area.width,
                m.area.depth,
                m.spacing,
                &rectangles,
                Effort::Quick,
            )?
            .1
        } else {
            self.packer
                .pack(m.area, m.spacing, &rectangles, Effort::Quick)?
                .to_vec()
        };
        Some(
            places
                .iter()
                .enumerate()
                .map(|(i, place)| {
                    let r = rectangles[i];
                    let (w, d) = if place.turned {
                        (r.depth, r.width)
                    } else {
                        (r.width, r.depth)
                    };
                    let turn = if place.turned { 90.0 } else { 0.0 };
                    laid(i, place.x + w / 2.0, place.y + d / 2.0, turn)
                })
                .collect(),
        )
    }
}

/// Loads as the packer takes them: by shape, since what is remembered of fits speaks of shapes; of few pieces each by
/// itself, so that like pieces may lie in unlike ways.
fn for_packing(shop: &Shop, loads: &[Load]) -> Vec<Load> {
    let mut loads = loads.to_vec();
    loads.sort_unstable_by_key(|l| (shop.items[l.item as usize].shape, l.item));
    if loads.iter().map(|l| l.count).sum::<u32>() <= FEW_PIECES {
        loads = loads
            .into_iter()
            .flat_map(|load| (0..load.count).map(move |_| Load { count: 1, ..load }))
            .collect();
    }
    loads
}

/// Beams side by side at one angle, the only company that a diagonal piece can keep: centre and turn of each.
fn bundle(
    area: Area,
    spacing: f64,
    pieces: &[(ItemId, usize, ItemWay)],
) -> Option<Vec<(f64, f64, f64)>> {
    let beams: Vec<(f64, f64)> = pieces
        .iter()
        .map(|p| {
            let r = p.2.rectangle;
            (r.width.max(r.depth), r.width.min(r.depth))
        })
        .collect();
    // Cheap refusals first: the search asks this far more often than the answer is yes.
    let surface: f64 = beams.iter().map(|beam| beam.0 * beam.1).sum();
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
fn run_cost<'a>(
    shop: &Shop,
    machine: usize,
    pieces: impl Iterator<Item = (&'a ItemWay, u32)>,
) -> (Minute, f64) {
    let m = &shop.machines[machine];
    let (mut seconds, mut layers, mut plastic) = (0.0, 0.0_f64, 0.0);
    for (way, count) in pieces {
        seconds += way.seconds * f64::from(count);
        layers = layers.max(way.layer_seconds);
        plastic += way.plastic * f64::from(count);
    }
    let minutes = clock_minutes(run_minutes(
        Seconds(m.warm_up),
        Seconds(seconds),
        Seconds(layers),
    ));
    (minutes, f64::from(minutes) * m.minute + plastic)
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
        all.push(by(|w| w.rectangle.width * w.rectangle.depth));
        all.dedup();
    }
    all.sort_by(|a, b| {
        let run = |c: &Vec<usize>| run_cost(shop, machine, chosen(shop, loads, machine, c));
        let (a, b) = (run(a), run(b));
        a.1.total_cmp(&b.1).then(a.0.cmp(&b.0))
    });
    all
}
