//! The spools that nobody prints from, those on the machines, and those to be ordered.
//!
//! Knows: how much is on each spool, where it is. Must not know: runs, bench hours.
//! Promises: a spool is in one place at a time; a spool is ordered beyond the missing grams only where every other one of
//! its filament is on a machine that prints.

use chrono::{DateTime, NaiveDate, Utc};

use crate::scenario::{FilamentIndex, MachineIndex, Scenario};
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

/// What a run, and those that follow it without a setup, still take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Need {
    /// The machine.
    pub(super) machine: MachineIndex,
    /// What it prints with.
    pub(super) filament: FilamentIndex,
    /// When the run's setup begins, or the run.
    pub(super) begins: DateTime<Utc>,
    /// Grams of the run.
    pub(super) run: f64,
    /// Grams of the run and of those that follow it.
    pub(super) chain: f64,
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
    /// When the first run begins that takes one of them.
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

    /// The spool for the runs after a setup; and whether it is another than the one on the machine.
    pub(super) fn set_up(&mut self, need: &Need) -> (Spool, bool) {
        let before = self.mounted[need.machine.0].take();
        if let Some(mounted) = before {
            if mounted.filament == need.filament && mounted.spool.lasts_for(need.chain) {
                return (mounted.spool, false);
            }
            self.spools[mounted.filament.0].push(mounted.spool);
        }
        let spool = self.next(need);
        let same = before.is_some_and(|mounted| mounted.spool.number == spool.number);
        (spool, !same)
    }

    /// The spool that goes onto a machine: the smallest that lasts, else the largest, else one from a machine that does
    /// not print, else a further order.
    pub(super) fn next(&mut self, need: &Need) -> Spool {
        let filament = need.filament;
        let may_order = self.may_order(need);
        let shelf = &mut self.spools[filament.0];
        if let Some(index) = smallest_that_lasts(shelf, need.chain) {
            return shelf.swap_remove(index);
        }
        let largest = largest(shelf);
        let new = self.scenario.filaments[filament.0].spool.0;
        let outdone = largest.is_none_or(|index| shelf[index].left < new);
        if outdone && may_order {
            return self.order(filament, need.begins);
        }
        if let Some(index) = largest {
            return self.spools[filament.0].swap_remove(index);
        }
        match self.take_off_idle(need) {
            Some(spool) => spool,
            None => self.order(filament, need.begins),
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

    /// Whether a spool is still to be ordered for the missing grams, and may be counted on: an order at the build's start
    /// is there by now, or this run cannot do without one.
    fn may_order(&self, need: &Need) -> bool {
        let Need {
            filament, begins, ..
        } = *need;
        let Ordered {
            spools, missing, ..
        } = self.orders[filament.0];
        let lead = self.scenario.filaments[filament.0].lead;
        let may_have_come = || super::order_by(self.scenario, lead, begins) >= self.start;
        spools < missing && (may_have_come() || self.within_reach(need) + NOTHING < need.run)
    }

    /// Grams on the shelf and on machines that do not print.
    fn within_reach(&self, need: &Need) -> f64 {
        let shelf = self.spools[need.filament.0].iter();
        let idle = self.idle(need).map(|(_, spool)| spool);
        shelf.copied().chain(idle).map(|spool| spool.left).sum()
    }

    /// Spools of the filament on other machines that do not print, by machine.
    fn idle(&self, need: &Need) -> impl Iterator<Item = (usize, Spool)> {
        let here = need.machine.0;
        let Need {
            filament, begins, ..
        } = *need;
        let machines = self.mounted.iter().enumerate();
        machines.filter_map(move |(machine, mounted)| {
            let mounted = (*mounted)?;
            let idle = machine != here && mounted.filament == filament && mounted.free <= begins;
            idle.then_some((machine, mounted.spool))
        })
    }

    /// The largest spool from a machine that does not print.
    fn take_off_idle(&mut self, need: &Need) -> Option<Spool> {
        let (machine, _) = self
            .idle(need)
            .max_by(|a, b| a.1.left.total_cmp(&b.1.left))?;
        self.mounted[machine].take().map(|mounted| mounted.spool)
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
