//! The spools that nobody prints from, those on the machines, and those to be ordered.
//!
//! Knows: how much is on each spool, where it is. Must not know: runs, bench hours.
//! Promises: a spool is in one place at a time; a spool is ordered beyond the missing grams only where every other one of
//! its filament is on a machine that prints, or covers less than what comes with the margin.

use std::sync::Arc;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

use crate::calendar::delivered;
use crate::scenario::{FilamentIndex, MachineIndex, Scenario};
use crate::units::Grams;

use super::NOTHING;
use super::on_hand::OnHand;

/// One spool.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spool {
    number: usize,
    /// Its place among those of its filament that there are; `None`: it is to be ordered.
    held: Option<usize>,
    /// Grams on it.
    pub(super) left: f64,
    /// From when on it can be put on.
    from: DateTime<Utc>,
    /// The other machine that it was fetched from for the runs that print from it now.
    pub(super) fetched: Option<MachineIndex>,
    /// Whether it is ordered only if it goes on ([`Habit::offered`]).
    offered: bool,
}

impl Spool {
    /// Whether so many grams come off it.
    pub(super) fn lasts_for(&self, grams: f64) -> bool {
        self.left + NOTHING >= grams
    }

    /// The same spool when so many grams are off it.
    pub(super) fn without(self, grams: f64) -> Self {
        let left = (self.left - grams).max(0.0);
        Self { left, ..self }
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
    /// Whether somebody is there then to put a spool on.
    pub(super) setup: bool,
    /// Grams that are purged at the setup: a spool that does not outlast them does not go on.
    pub(super) purge: f64,
    /// Grams of the run.
    pub(super) run: f64,
    /// Grams of the run and of those that follow it.
    pub(super) chain: f64,
}

/// How spools are chosen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Habit<'a> {
    /// A spool that is on a machine stays while it covers what comes.
    pub(super) keep: bool,
    /// Ends go on first where somebody is there when they are empty.
    pub(super) ends_first: bool,
    /// Orders of this day and later are counted on.
    pub(super) counted_from: NaiveDate,
    /// New spools to be chosen like those on hand, from the moment on at which an order of the first day has come; ordered only if they
    /// go on, be they among the missing ones or more.
    pub(super) offered: &'a [FilamentIndex],
}

/// How long a spool lasts in a chain.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lasting {
    /// From when it goes on until it is empty; without end if it lasts for the chain.
    pub(super) time: TimeDelta,
    /// What the chain still prints then.
    pub(super) rest: TimeDelta,
    /// Whether somebody is there when it is empty.
    pub(super) attended: bool,
}

/// How long a spool with so many grams lasts.
pub(super) type Lasts<'a> = &'a dyn Fn(f64) -> Lasting;

/// An end goes on to be used up only if it lasts so long, and what follows it too: changing a spool takes a walk and a look. Common
/// practice, no source.
const WORTH_PUTTING_ON: TimeDelta = TimeDelta::hours(1);

impl Lasting {
    /// Whether it is worth the while to put it on.
    fn is_long(self) -> bool {
        self.time >= WORTH_PUTTING_ON
    }

    /// Whether it is worth the while to put another on when it is empty.
    fn leaves_much(self) -> bool {
        self.time == TimeDelta::MAX || self.rest >= WORTH_PUTTING_ON
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
    /// When the first run begins that takes one of them.
    pub(super) first_needed: Option<DateTime<Utc>>,
    /// Spools that the missing grams make necessary.
    missing: u32,
}

/// A run for which no spool can be there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Short {
    /// The filament.
    pub filament: FilamentIndex,
    /// The machine.
    pub machine: MachineIndex,
    /// When the run's setup begins, or the run.
    pub begins: DateTime<Utc>,
    /// The first moment after that at which one may be there; `None`: when an order has come.
    pub until: Option<DateTime<Utc>>,
}

/// All spools.
#[derive(Clone)]
pub(super) struct Shelf<'a> {
    scenario: &'a Scenario,
    on_hand: &'a OnHand,
    habit: Habit<'a>,
    /// The first day on which an order can be sent; `None`: any, however much before the build's start.
    today: Option<NaiveDate>,
    /// The first run that could not be provided for.
    pub(super) short: Option<Short>,
    spools: Vec<Vec<Spool>>,
    mounted: Vec<Option<Mounted>>,
    orders: Vec<Ordered>,
    numbers: usize,
}

impl<'a> Shelf<'a> {
    /// The spools on hand, and leave to order what `needed` exceeds them by.
    pub(super) fn new(
        scenario: &'a Scenario,
        on_hand: &'a OnHand,
        needed: &[Grams],
        habit: Habit<'a>,
    ) -> Self {
        let least = super::least(scenario);
        let mut numbers = 0;
        let mut shelf = Self {
            scenario,
            on_hand,
            habit,
            today: on_hand.today,
            short: None,
            spools: vec![Vec::new(); scenario.filaments.len()],
            mounted: vec![None; scenario.machines.len()],
            orders: Vec::new(),
            numbers: 0,
        };
        let numbered = scenario.filaments.iter().zip(needed).enumerate();
        for (index, (filament, &needed)) in numbered {
            let mut sum = 0.0;
            let usable = on_hand.spools[index].iter().enumerate();
            for (at, held) in usable.filter(|(_, held)| held.grams.0 > least) {
                numbers += 1;
                sum += held.grams.0;
                let from = held.from.unwrap_or(DateTime::<Utc>::MIN_UTC);
                let spool = Spool {
                    number: numbers,
                    held: Some(at),
                    left: held.grams.0,
                    from,
                    fetched: None,
                    offered: false,
                };
                let free = held.on.map(|machine| &mut shelf.mounted[machine.0]);
                match free {
                    Some(place) if place.is_none() => {
                        *place = Some(Mounted {
                            filament: FilamentIndex(index),
                            spool,
                            free: from,
                        });
                    }
                    _ => shelf.spools[index].push(spool),
                }
            }
            let missing = (needed.0 - sum - NOTHING) / filament.spool.0;
            shelf.orders.push(Ordered {
                missing: missing.max(0.0).ceil() as u32,
                ..Ordered::default()
            });
        }
        shelf.numbers = numbers;
        for &filament in habit.offered {
            let Some(from) = delivered(scenario, filament, habit.counted_from) else {
                continue;
            };
            let order = &mut shelf.orders[filament.0];
            order.missing = order.missing.saturating_sub(1);
            shelf.numbers += 1;
            shelf.spools[filament.0].push(Spool {
                number: shelf.numbers,
                held: None,
                left: scenario.filaments[filament.0].spool.0,
                from,
                fetched: None,
                offered: true,
            });
        }
        shelf
    }

    /// The name of a spool of a filament, where it is one that there is.
    pub(super) fn name(&self, filament: FilamentIndex, spool: &Spool) -> Option<Arc<str>> {
        let held = self.on_hand.spools[filament.0].get(spool.held?)?;
        Some(held.name.clone())
    }

    /// Takes a spool of a need's filament off the shelf: of those that differ in nothing but their name the first.
    fn take(&mut self, need: &Need, index: usize) -> Spool {
        let spools = &mut self.spools[need.filament.0];
        let wanted = spools[index];
        let alike = |spool: &Spool| {
            let same = |of: &Spool| (of.left.to_bits(), of.from, of.fetched, of.offered);
            spool.held.is_some() && wanted.held.is_some() && same(spool) == same(&wanted)
        };
        let numbered = spools.iter().enumerate().filter(|(_, spool)| alike(spool));
        if let Some((first, _)) = numbered.min_by_key(|(_, spool)| spool.number) {
            spools.swap(first, index);
        }
        let spool = spools.swap_remove(index);
        if spool.offered {
            self.count_order(need.filament, need.begins);
        }
        Spool {
            offered: false,
            ..spool
        }
    }

    /// Spools on the shelf that are there for a need, by position.
    fn there(&self, need: &Need) -> impl Iterator<Item = (usize, Spool)> + '_ {
        let Need { begins, purge, .. } = *need;
        let spools = self.spools[need.filament.0].iter().copied().enumerate();
        spools.filter(move |(_, spool)| spool.from <= begins && spool.left > purge)
    }

    /// Whether a spool on the shelf that is there for a need lasts for so many grams.
    pub(super) fn has(&self, need: &Need, grams: f64) -> bool {
        self.there(need).any(|(_, spool)| spool.lasts_for(grams))
    }

    /// What has been ordered of a filament.
    pub(super) fn ordered(&self, filament: FilamentIndex) -> Ordered {
        self.orders[filament.0]
    }

    /// The spool for the runs after a setup; and whether it is another than the one on the machine.
    pub(super) fn set_up(&mut self, need: &Need, lasts: Lasts) -> (Spool, bool) {
        let before = self.mounted[need.machine.0].take();
        if let Some(mounted) = before {
            let stays = mounted.filament == need.filament;
            let covers = self.habit.keep && self.covers(mounted.spool, need.chain);
            if stays && (covers || !need.setup) {
                return (mounted.spool, false);
            }
            self.put_back(mounted.filament, mounted.spool, mounted.free);
        }
        let spool = self.choose(need, lasts);
        let same = before.is_some_and(|mounted| mounted.spool.number == spool.number);
        (spool, !same)
    }

    /// Puts a spool on the shelf at a moment, unless what is left on it is too little to go on again.
    pub(super) fn put_back(&mut self, filament: FilamentIndex, spool: Spool, from: DateTime<Utc>) {
        if spool.left > super::least(self.scenario) {
            let fetched = None;
            self.spools[filament.0].push(Spool {
                from,
                fetched,
                ..spool
            });
        }
    }

    /// Whether so many grams come off a spool with the margin left on it.
    fn covers(&self, spool: Spool, grams: f64) -> bool {
        spool.lasts_for(grams + super::margin(self.scenario, grams))
    }

    /// The spool that goes on for a chain, or for what is left of it.
    pub(super) fn choose(&mut self, need: &Need, lasts: Lasts) -> Spool {
        if self.scenario.build.spool_margin > 0.0 {
            let covered = self
                .there(need)
                .any(|(_, spool)| self.covers(spool, need.chain));
            if (self.habit.ends_first || !covered)
                && let Some(end) = self.used_up_attended(need, lasts)
            {
                return self.take(need, end);
            }
        }
        self.next(need, lasts)
    }

    /// The largest spool, or a new one, that ends while somebody is there; first of those after which there is much to print.
    fn longest_attended(&mut self, need: &Need, lasts: Lasts) -> Option<Spool> {
        let new = self.scenario.filaments[need.filament.0].spool.0;
        let best = self
            .there(need)
            .map(|(at, spool)| (at, spool.left, lasts(spool.left)))
            .filter(|(.., lasting)| lasting.attended && lasting.is_long())
            .max_by(|a, b| {
                let much = a.2.leaves_much().cmp(&b.2.leaves_much());
                much.then(a.1.total_cmp(&b.1))
            })
            .map(|(at, left, _)| (at, left));
        let outdone = best.is_none_or(|(_, left)| left < new);
        if outdone && lasts(new).attended && self.may_have_come(need) {
            return Some(self.order(need.filament, need.begins));
        }
        best.map(|(at, _)| self.take(need, at))
    }

    /// The smallest spool that ends while somebody is there, where another covers what it does not.
    fn used_up_attended(&self, need: &Need, lasts: Lasts) -> Option<usize> {
        let follows = |at: usize, rest: f64| {
            let mut others = self.there(need).filter(|(other, _)| *other != at);
            others.any(|(_, spool)| self.covers(spool, rest))
        };
        self.there(need)
            .filter(|(_, spool)| {
                let lasting = lasts(spool.left);
                let worth = lasting.attended && lasting.is_long() && lasting.leaves_much();
                worth && !spool.lasts_for(need.chain)
            })
            .filter(|(at, spool)| follows(*at, need.chain - spool.left))
            .min_by(|a, b| a.1.left.total_cmp(&b.1.left))
            .map(|(at, _)| at)
    }

    /// The spool that goes onto a machine: the smallest that covers what comes, else one from a machine that does
    /// not print that does, else a new one, else the smallest that lasts, else the largest that ends while somebody is there, else
    /// the largest, else one from a machine that does not print, else a further order. An end that is soon empty comes after all
    /// of them.
    fn next(&mut self, need: &Need, lasts: Lasts) -> Spool {
        let filament = need.filament;
        let may_order = self.may_order(need);
        let with_margin = need.chain + super::margin(self.scenario, need.chain);
        if let Some(index) = smallest_that_lasts(self.there(need), with_margin) {
            return self.take(need, index);
        }
        let new = self.scenario.filaments[filament.0].spool.0;
        if self.scenario.build.spool_margin > 0.0 {
            if let Some(spool) = self.take_off_covering(need, with_margin) {
                return spool;
            }
            if new + NOTHING >= with_margin && self.may_have_come(need) {
                return self.order(filament, need.begins);
            }
        }
        if let Some(index) = smallest_that_lasts(self.there(need), need.chain) {
            return self.take(need, index);
        }
        if self.scenario.build.spool_margin > 0.0
            && let Some(spool) = self.longest_attended(need, lasts)
        {
            return spool;
        }
        let largest = self
            .there(need)
            .max_by(|a, b| a.1.left.total_cmp(&b.1.left));
        let soon_empty = |spool: &Spool| !lasts(spool.left).is_long();
        if self.scenario.build.spool_margin > 0.0
            && largest.is_some_and(|(_, spool)| soon_empty(&spool))
        {
            if self.idle(need).any(|(_, spool)| !soon_empty(&spool))
                && let Some(spool) = self.take_off_idle(need)
            {
                return spool;
            }
            if lasts(new).is_long() && self.may_have_come(need) {
                return self.order(filament, need.begins);
            }
        }
        let outdone = largest.is_none_or(|(_, spool)| spool.left < new);
        if outdone && may_order {
            return self.order(filament, need.begins);
        }
        if let Some((index, _)) = largest {
            return self.take(need, index);
        }
        match self.take_off_idle(need) {
            Some(spool) => spool,
            None => {
                if !self.can_have_come(need) && self.short.is_none() {
                    self.short = Some(Short {
                        filament,
                        machine: need.machine,
                        begins: need.begins,
                        until: self.next_there(need),
                    });
                }
                self.order(filament, need.begins)
            }
        }
    }

    /// The first moment after a need's at which some spool comes or is no longer printed from.
    fn next_there(&self, need: &Need) -> Option<DateTime<Utc>> {
        let spools = self.spools[need.filament.0].iter();
        let coming = spools
            .filter(|spool| !spool.offered)
            .map(|spool| spool.from);
        let mounted = self.mounted.iter().flatten();
        let of_it = mounted.filter(|mounted| {
            mounted.filament == need.filament && mounted.spool.left > super::least(self.scenario)
        });
        let free = of_it.map(|mounted| mounted.free);
        coming.chain(free).filter(|&at| at > need.begins).min()
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
            let fetched = None;
            self.mounted[machine.0] = Some(Mounted {
                filament,
                spool: Spool { fetched, ..spool },
                free,
            });
        }
    }

    /// Whether a spool is still to be ordered for the missing grams, and may be counted on: an order at the build's start
    /// is there by now, or this run cannot do without one.
    fn may_order(&self, need: &Need) -> bool {
        let Ordered {
            spools, missing, ..
        } = self.orders[need.filament.0];
        spools < missing
            && (self.may_have_come(need)
                || self.can_have_come(need) && self.within_reach(need) + NOTHING < need.run)
    }

    /// Whether a spool may be ordered beyond the missing grams, and can have come.
    pub(super) fn may_order_more(&self, need: &Need) -> bool {
        self.scenario.build.spool_margin > 0.0 && self.can_have_come(need)
    }

    /// Whether an order of the first day that is counted on is there by the setup.
    fn may_have_come(&self, need: &Need) -> bool {
        self.comes_of(self.habit.counted_from, need)
    }

    /// Whether an order can be there by the setup at all.
    fn can_have_come(&self, need: &Need) -> bool {
        self.today.is_none_or(|today| self.comes_of(today, need))
    }

    /// Whether an order of a day is there by the setup.
    fn comes_of(&self, day: NaiveDate, need: &Need) -> bool {
        let lead = self.scenario.filaments[need.filament.0].lead;
        super::order_by(self.scenario, lead, need.begins) >= day
    }

    /// Grams on the shelf and on machines that do not print.
    fn within_reach(&self, need: &Need) -> f64 {
        let spools = self.there(need).chain(self.idle(need));
        let owned = spools.filter(|(_, spool)| !spool.offered);
        owned.map(|(_, spool)| spool.left).sum()
    }

    /// Spools of the filament on other machines that do not print, by machine.
    fn idle(&self, need: &Need) -> impl Iterator<Item = (usize, Spool)> {
        let here = need.machine.0;
        let Need {
            filament,
            begins,
            purge,
            ..
        } = *need;
        let machines = self.mounted.iter().enumerate();
        machines.filter_map(move |(machine, mounted)| {
            let mounted = (*mounted)?;
            let enough = mounted.spool.left > super::margin(self.scenario, 0.0).max(purge);
            let idle =
                machine != here && mounted.filament == filament && mounted.free <= begins && enough;
            idle.then_some((machine, mounted.spool))
        })
    }

    /// The smallest spool that holds so many grams, from a machine that does not print.
    fn take_off_covering(&mut self, need: &Need, grams: f64) -> Option<Spool> {
        let (machine, _) = self
            .idle(need)
            .filter(|(_, spool)| spool.lasts_for(grams))
            .min_by(|a, b| a.1.left.total_cmp(&b.1.left))?;
        self.fetch(machine)
    }

    /// The largest spool from a machine that does not print.
    fn take_off_idle(&mut self, need: &Need) -> Option<Spool> {
        let (machine, _) = self
            .idle(need)
            .max_by(|a, b| a.1.left.total_cmp(&b.1.left))?;
        self.fetch(machine)
    }

    fn fetch(&mut self, machine: usize) -> Option<Spool> {
        let spool = self.mounted[machine].take()?.spool;
        let fetched = Some(MachineIndex(machine));
        Some(Spool { fetched, ..spool })
    }

    /// A new spool of a filament; it weighs something, so that whoever draws from new spools comes to an end.
    fn order(&mut self, filament: FilamentIndex, at: DateTime<Utc>) -> Spool {
        self.count_order(filament, at);
        self.numbers += 1;
        Spool {
            number: self.numbers,
            held: None,
            left: self.scenario.filaments[filament.0].spool.0,
            from: DateTime::<Utc>::MIN_UTC,
            fetched: None,
            offered: false,
        }
    }

    /// Counts a spool as ordered, for a run that begins at a moment.
    fn count_order(&mut self, filament: FilamentIndex, at: DateTime<Utc>) {
        let order = &mut self.orders[filament.0];
        order.spools = order.spools.saturating_add(1);
        order.first_needed = Some(order.first_needed.map_or(at, |first| first.min(at)));
    }
}

fn smallest_that_lasts(spools: impl Iterator<Item = (usize, Spool)>, grams: f64) -> Option<usize> {
    spools
        .filter(|(_, spool)| spool.lasts_for(grams))
        .min_by(|a, b| a.1.left.total_cmp(&b.1.left))
        .map(|(index, _)| index)
}

#[cfg(test)]
mod tests;
