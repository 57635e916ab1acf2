//! The moves of the search, each in a file of its own.
//!
//! Knows: sheets and plates of a state. Must not know: temperatures, pools, threads.
//! Promises: a drafted edit names only plates that fit where it puts them; whatever a draft made and did not use is
//! given back with the edit.

mod backfill;
mod blocks;
mod colours;
mod copies;
mod forms;
mod hands;
mod pieces;
mod plates;
mod rebuild;
mod transfer;

use rand::RngExt;
use rand_pcg::Pcg64Mcg;

use super::edit::Edit;
use super::fitter::Fitter;
use super::plate::{Fit, Load, PlateId};
use super::shop::Shop;
use super::state::State;

/// What a move works with besides the state.
pub struct Tools {
    /// The chain's own chance.
    pub rng: Pcg64Mcg,
    /// What is remembered of fits.
    pub fitter: Fitter,
    /// Machines that moves may change; at least one.
    pub machines: Vec<usize>,
}

impl Tools {
    /// A whole number below `n`, which is above zero.
    pub fn below(&mut self, n: usize) -> usize {
        self.rng.random_range(0..n)
    }

    /// One of the machines that moves may change.
    pub fn machine(&mut self) -> usize {
        let at = self.below(self.machines.len());
        self.machines[at]
    }

    /// The machines that moves may change, beginning with `first` and going round.
    pub fn machines_from(&self, first: usize) -> Vec<usize> {
        let at = self.machines.iter().position(|&m| m == first).unwrap_or(0);
        let (before, after) = self.machines.split_at(at);
        [after, before].concat()
    }

    /// True with a chance.
    pub fn chance(&mut self, share: f64) -> bool {
        self.rng.random_bool(share)
    }
}

/// A way to change a queue a little.
pub trait Move: Send + Sync {
    /// Its name in tables of tries and successes.
    fn name(&self) -> &'static str;

    /// How often it is tried, against the others.
    fn weight(&self) -> u32;

    /// Whether it can change anything at all in this shop.
    fn can_help(&self, shop: &Shop) -> bool;

    /// Drafts a change; `false` if it found none this time (the edit may then hold fresh plates to give back).
    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool;
}

/// Every move there is.
pub fn all() -> Vec<Box<dyn Move>> {
    vec![
        Box::new(blocks::Relocate),
        Box::new(blocks::Exchange),
        Box::new(colours::Gather),
        Box::new(pieces::Shift),
        Box::new(pieces::Trade),
        Box::new(plates::Merge),
        Box::new(plates::Divide),
        Box::new(forms::Reroute),
        Box::new(copies::Reassign),
        Box::new(rebuild::Rebuild),
        Box::new(backfill::Backfill),
        Box::new(backfill::Spread),
        Box::new(transfer::Transfer),
        Box::new(hands::Yield),
    ]
}

/// A machine with runs on it, and the position of one of them; `None` if nothing is on any sheet.
fn any_run(state: &State, tools: &mut Tools) -> Option<(usize, usize)> {
    // A few blind draws are cheaper than counting; sheets are seldom empty.
    for _ in 0..8 {
        let machine = tools.machine();
        let runs = state.sheets[machine].len();
        if runs > 0 {
            return Some((machine, tools.below(runs)));
        }
    }
    let machines = tools.machines.iter().copied();
    let busy: Vec<usize> = machines.filter(|&m| !state.sheets[m].is_empty()).collect();
    if busy.is_empty() {
        return None;
    }
    let machine = busy[tools.below(busy.len())];
    Some((machine, tools.below(state.sheets[machine].len())))
}

/// Another run of the same group as `plate`, from a random place on a few random machines.
fn companion(
    state: &State,
    tools: &mut Tools,
    machine: usize,
    position: usize,
) -> Option<(usize, usize)> {
    let group = state.plates.get(state.sheets[machine][position]).group;
    for _ in 0..4 {
        let other = tools.machine();
        let sheet = &state.sheets[other];
        if sheet.is_empty() {
            continue;
        }
        let from = tools.below(sheet.len());
        let found = (0..sheet.len())
            .map(|step| (from + step) % sheet.len())
            .find(|&at| {
                (other, at) != (machine, position) && {
                    let plate = state.plates.get(sheet[at]);
                    plate.group == group && !plate.alone
                }
            });
        if let Some(at) = found {
            return Some((other, at));
        }
    }
    None
}

/// Position on a machine's sheet whose run starts about when `minute` is.
fn position_near(state: &State, machine: usize, minute: i32) -> usize {
    state
        .dates(machine)
        .partition_point(|date| date.start < minute)
}

/// Whether every plate fits a machine.
fn all_fit(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    plates: &[PlateId],
    machine: usize,
) -> bool {
    plates.iter().all(|&plate| {
        matches!(
            state.plates.fit(shop, &mut tools.fitter, plate, machine),
            Fit::Yes { .. }
        )
    })
}

/// Loads with `count` pieces of an item more (or fewer).
fn with(loads: &[Load], item: u32, count: i64) -> Vec<Load> {
    let mut loads = loads.to_vec();
    match loads.iter_mut().find(|l| l.item == item) {
        Some(load) => load.count = (i64::from(load.count) + count).max(0) as u32,
        None if count > 0 => loads.push(Load {
            item,
            count: count as u32,
        }),
        None => {}
    }
    loads.retain(|l| l.count > 0);
    loads
}

/// Puts a new plate of these loads in the place of a run, or takes the run off where nothing is left.
///
/// `false` if the new plate does not fit there.
fn replace(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    (machine, old): (usize, PlateId),
    loads: &[Load],
) -> bool {
    let new = if loads.is_empty() {
        None
    } else {
        match state.make(shop, &mut tools.fitter, edit, loads, machine) {
            Some(plate) => Some(plate),
            None => return false,
        }
    };
    edit.gone.push(old);
    let sheet = edit.sheet(state, machine);
    // A run's plate is on its sheet once; an earlier step of the same draft has not moved it.
    let Some(at) = sheet.iter().position(|&p| p == old) else {
        return false;
    };
    match new {
        Some(plate) => sheet[at] = plate,
        None => {
            sheet.remove(at);
        }
    }
    true
}

/// Puts a new run of these loads on some machine that can make it, near a moment.
fn add_run(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    loads: &[Load],
    near: i32,
) -> bool {
    for _ in 0..4 {
        let machine = tools.machine();
        let Some(plate) = state.make(shop, &mut tools.fitter, edit, loads, machine) else {
            continue;
        };
        let centre = position_near(state, machine, near);
        let sheet = edit.sheet(state, machine);
        let at = around(tools, centre, sheet.len());
        sheet.insert(at, plate);
        return true;
    }
    false
}

/// A position from 0 to `length`, mostly near `centre`.
fn around(tools: &mut Tools, centre: usize, length: usize) -> usize {
    if tools.chance(0.25) {
        return tools.below(length + 1);
    }
    let reach = 1 + tools.below(4);
    let low = centre.saturating_sub(reach).min(length);
    let high = (centre + reach).min(length);
    low + tools.below(high - low + 1)
}
