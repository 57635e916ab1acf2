//! The spools that nobody prints from, those on the machines, and those to be ordered.
//!
//! Knows: how much is on each spool, where it is. Must not know: runs, bench hours.
//! Promises: a spool is in one place at a time; a spool is ordered beyond the missing grams only where every other one of
//! its filament is on a machine that prints.

use chrono::{DateTime, NaiveDate, Utc};

use crate::scenario::{Filament, FilamentIndex, MachineIndex, Scenario};
use crate::units::Grams;

/// Less than this is rounding error, g.
const NOTHING: f64 = 1e-6;

/// One spool.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spool {
    number: usize,
    /// Grams on it.
    pub(super) left: f64,
}

impl Spool {
    /// Whether so many grams come off it.
    pub(super) fn lasts_for(&self, grams: f64) -> bool {
        self.left + NOTHING >= grams
    }
}

/// A spool on a machine.
#[derive(Clone, Copy, Debug)]
struct Mounted {
    filament: FilamentIndex,
    spool: Spool,
    /// When the last run from it ends.
    free: DateTime<Utc>,
}

/// Orders of one filament so far.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ordered {
    /// Spools ordered.
    pub(super) spools: u32,
    /// When the first of them goes on.
    pub(super) first_needed: Option<DateTime<Utc>>,
    /// Spools that the missing grams make necessary.
    missing: u32,
}

/// All spools.
pub(super) struct Shelf<'a> {
    scenario: &'a Scenario,
    start: NaiveDate,
    spools: Vec<Vec<Spool>>,
    mounted: Vec<Option<Mounted>>,
    orders: Vec<Ordered>,
    numbers: usize,
}

impl<'a> Shelf<'a> {
    /// The spools on hand, and leave to order what `needed` exceeds them by.
    pub(super) fn new(scenario: &'a Scenario, needed: &[Grams]) -> Self {
        let mut numbers = 0;
        let mut spools = Vec::new();
        let mut orders = Vec::new();
        for (filament, &needed) in scenario.filaments.iter().zip(needed) {
            let on_hand: Grams = filament.spools.iter().copied().sum();
            let missing = (needed.0 - on_hand.0 - NOTHING) / filament.spool.0;
            orders.push(Ordered {
                missing: missing.max(0.0).ceil() as u32,
                ..Ordered::default()
            });
            let shelved = filament.spools.iter().filter(|grams| grams.0 > NOTHING);
            spools.push(
                shelved
                    .map(|grams| {
                        numbers += 1;
                        Spool {
                            number: numbers,
                            left: grams.0,
                        }
                    })
                    .collect(),
            );
        }
        Self {
            scenario,
            start: scenario
                .build
                .start
                .with_timezone(&scenario.build.zone)
                .date_naive(),
            spools,
            mounted: vec![None; scenario.machines.len()],
            orders,
            numbers,
        }
    }

    /// What has been ordered of a filament.
    pub(super) fn ordered(&self, filament: FilamentIndex) -> Ordered {
        self.orders[filament.0]
    }

    /// The spool for the runs after a setup, which need so many grams; and whether it is another than the one on the
    /// machine.
    pub(super) fn set_up(
        &mut self,
        machine: MachineIndex,
        filament: FilamentIndex,
        grams: f64,
        at: DateTime<Utc>,
    ) -> (Spool, bool) {
        let before = self.mounted[machine.0].take();
        if let Some(mounted) = before {
            if mounted.filament == filament && mounted.spool.lasts_for(grams) {
                return (mounted.spool, false);
            }
            self.put_back(mounted.filament, mounted.spool);
        }
        let spool = self.next(machine, filament, grams, at);
        let same = before.is_some_and(|mounted| mounted.spool.number == spool.number);
        (spool, !same)
    }

    /// The spool that goes onto a machine where so many grams are still needed: the smallest that lasts, else the
    /// largest, else one from a machine that does not print, else a further order.
    pub(super) fn next(
        &mut self,
        machine: MachineIndex,
        filament: FilamentIndex,
        grams: f64,
        at: DateTime<Utc>,
    ) -> Spool {
        let shelf = &mut self.spools[filament.0];
        if let Some(index) = smallest_that_lasts(shelf, grams) {
            return shelf.swap_remove(index);
        }
        let largest = largest(shelf);
        let new = self.scenario.filaments[filament.0].spool.0;
        let outdone = largest.is_none_or(|index| shelf[index].left < new);
        if outdone && self.may_have_come(filament, at) {
            return self.order(filament, at);
        }
        if let Some(index) = largest {
            return self.spools[filament.0].swap_remove(index);
        }
        match self.off_an_idle_machine(machine, filament, at) {
            Some(spool) => spool,
            None => self.order(filament, at),
        }
    }

    /// Leaves a spool on its machine after the runs that were printed from it.
    pub(super) fn leave(
        &mut self,
        machine: MachineIndex,
        filament: FilamentIndex,
        spool: Spool,
        free: DateTime<Utc>,
    ) {
        if spool.left > NOTHING {
            self.mounted[machine.0] = Some(Mounted {
                filament,
                spool,
                free,
            });
        }
    }

    fn put_back(&mut self, filament: FilamentIndex, spool: Spool) {
        self.spools[filament.0].push(spool);
    }

    /// Whether a spool is still to be ordered for the missing grams, and an order at the build's start is there by now.
    fn may_have_come(&self, filament: FilamentIndex, at: DateTime<Utc>) -> bool {
        let Ordered {
            spools, missing, ..
        } = self.orders[filament.0];
        let Filament { lead, .. } = self.scenario.filaments[filament.0];
        spools < missing && super::order_by(self.scenario, lead, at) >= self.start
    }

    fn off_an_idle_machine(
        &mut self,
        machine: MachineIndex,
        filament: FilamentIndex,
        at: DateTime<Utc>,
    ) -> Option<Spool> {
        let idle = |mounted: &Mounted| mounted.filament == filament && mounted.free <= at;
        let (from, _) = self
            .mounted
            .iter()
            .enumerate()
            .filter(|(index, _)| *index != machine.0)
            .filter_map(|(index, mounted)| Some((index, mounted.filter(idle)?)))
            .max_by(|a, b| a.1.spool.left.total_cmp(&b.1.spool.left))?;
        self.mounted[from].take().map(|mounted| mounted.spool)
    }

    /// A new spool of a filament; it weighs something, so that whoever draws from new spools comes to an end.
    fn order(&mut self, filament: FilamentIndex, at: DateTime<Utc>) -> Spool {
        let order = &mut self.orders[filament.0];
        order.spools = order.spools.saturating_add(1);
        order.first_needed = Some(order.first_needed.map_or(at, |first| first.min(at)));
        self.numbers += 1;
        Spool {
            number: self.numbers,
            left: self.scenario.filaments[filament.0].spool.0,
        }
    }
}

fn smallest_that_lasts(spools: &[Spool], grams: f64) -> Option<usize> {
    let lasting = spools
        .iter()
        .enumerate()
        .filter(|(_, spool)| spool.lasts_for(grams));
    lasting
        .min_by(|a, b| a.1.left.total_cmp(&b.1.left))
        .map(|(index, _)| index)
}

fn largest(spools: &[Spool]) -> Option<usize> {
    spools
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.left.total_cmp(&b.1.left))
        .map(|(index, _)| index)
}
