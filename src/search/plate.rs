//! What lies together on one start of a machine, by number.
//!
//! Knows: items, which of them may share a plate. Must not know: where pieces lie, dates, other runs.
//! Promises: what a plate takes on a machine is asked once and kept as long as the plate.

use std::sync::Arc;

use crate::calendar::Minute;

use super::calm;
use super::fitter::Fitter;
use super::shop::{ItemId, NOWHERE, NodeId, Shop};

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
    /// Whole minutes, the money of machine, energy and plastic, and the mass of the pieces.
    Yes {
        minutes: Minute,
        cost: f64,
        milligrams: u32,
    },
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
    /// What it is among what was accepted, see [`calm::Calm::content_of`].
    pub content: u32,
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
    /// `None` if they may not share a plate by rule: another group, one that is alone, a trial with what waits for it, more copies of a
    /// part than may fail together (but for what was accepted so).
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
        let mut crowded = false;
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
            content: calm::NONE,
        };
        for load in &merged {
            let item = &shop.items[load.item as usize];
            let class = &shop.classes[item.class as usize];
            if item.group != group || (item.alone && pieces > 1) {
                return None;
            }
            crowded |= item.most < u32::MAX && pieces > item.most && {
                let alike = merged
                    .iter()
                    .filter(|l| shop.items[l.item as usize].shape == item.shape);
                let most = shop.calm.crowd.get(&(class.part, item.lengths));
                // What was accepted may stand: the plan says with what certainty enough will come of it.
                alike.map(|l| l.count).sum::<u32>() > item.most.max(most.copied().unwrap_or(0))
            };
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
        if crowded || plate.tries.iter().any(|t| plate.waits.contains(t)) {
            return None;
        }
        plate.content = shop.calm.content_of(shop, &merged);
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
            Fit::Yes { minutes, cost, .. } => (minutes, cost),
            // Only plates whose fit was asked and granted are put on a sheet.
            Fit::No | Fit::Unknown => unreachable!("a plate on a sheet fits its machine"),
        }
    }

    /// Mass of the pieces of a run that is known to fit.
    pub fn milligrams(&self, plate: PlateId, machine: usize) -> i64 {
        match self.fits[plate as usize * self.machines + machine] {
            Fit::Yes { milligrams, .. } => i64::from(milligrams),
            Fit::No | Fit::Unknown => 0,
        }
    }
}
