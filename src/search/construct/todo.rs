//! Pieces that are on no sheet yet, and the best next run of a machine made of them.
//!
//! Knows: the shop, plates, what a rule holds dear. Must not know: which machine is next, costs of a queue.
//! Promises: a run that is given fits its machine and, where the calendar decides, its slot; its pieces are on the list no longer.

use crate::calendar::Minute;
use crate::estimate::run_minutes;
use crate::search::fitter::Fitter;
use crate::search::plate::{Fit, Load, PlateId};
use crate::search::shop::{EMPTY, ItemId, ItemWay, Shop};
use crate::search::state::State;
use crate::search::supply::milligrams;
use crate::units::Seconds;

use super::Rule;

/// A machine about to be given a run.
pub(super) struct Begun {
    pub(super) machine: usize,
    pub(super) loaded: u32,
    pub(super) free: Minute,
    pub(super) relaxed: bool,
    /// Longest run after a setup without a change of filament.
    pub(super) most: Minute,
}

impl Begun {
    /// From when on there is filament for a run of one piece.
    fn comes(&self, shop: &Shop, state: &State, id: ItemId) -> Minute {
        let grams = shop.ways(id, self.machine).first();
        let grams = grams.map_or(0, |way| milligrams(way.grams));
        let filament = shop.items[id as usize].filament;
        state.released(shop, self.machine, filament, grams, filament != self.loaded)
    }
}

/// Pieces not yet on any sheet.
pub(super) struct Todo {
    pub(super) left: Vec<u32>,
    pub(super) pieces: u64,
    /// Items by group, the most urgent first.
    by_group: Vec<Vec<ItemId>>,
    /// For each trial the trial pieces not yet on a sheet.
    trial_left: Vec<u32>,
}

impl Todo {
    pub(super) fn new(shop: &Shop, state: &State) -> Self {
        let mut todo = Self {
            left: vec![0; shop.items.len()],
            pieces: 0,
            by_group: vec![Vec::new(); shop.groups as usize],
            trial_left: vec![0; shop.trials.len()],
        };
        for (id, item) in shop.items.iter().enumerate() {
            let count = state.copies[id] * item.each;
            if count == 0 {
                continue;
            }
            todo.left[id] = count;
            todo.pieces += u64::from(count);
            todo.by_group[item.group as usize].push(id as ItemId);
            let class = &shop.classes[item.class as usize];
            if let (Some(trial), true) = (class.trial, class.is_trial) {
                todo.trial_left[trial as usize] += count;
            }
        }
        for list in &mut todo.by_group {
            list.sort_by_key(|&id| (rank(shop, id), id));
        }
        todo
    }

    /// Trials of which pieces are not yet on any sheet.
    pub(super) fn open_trials(&self) -> usize {
        self.trial_left.iter().filter(|&&left| left > 0).count()
    }

    /// The best next run of a machine; `None` if there is nothing for it now.
    ///
    /// A machine that must be watched is given what ends in the bench hours that come first: what asks for longer ones would keep
    /// it idle until they come.
    pub(super) fn next_plate(
        &mut self,
        shop: &Shop,
        state: &mut State,
        fitter: &mut Fitter,
        rule: &Rule,
        begun: &Begun,
    ) -> Option<PlateId> {
        let machine = &shop.machines[begun.machine];
        if !machine.unattended {
            let windows = shop.calendar.windows();
            let first = shop.calendar.window_at_or_after(begun.free);
            for window in windows.iter().skip(first).take(WINDOWS_AHEAD) {
                let free = begun.free.max(window.open);
                let slot = Begun {
                    free,
                    most: window.close - free - machine.turnaround,
                    ..*begun
                };
                let found = self.best_plate(shop, state, fitter, rule, &slot);
                if found.is_some() {
                    return found;
                }
            }
        }
        self.best_plate(shop, state, fitter, rule, begun)
    }

    /// The best next run of a machine that lasts no longer than is allowed.
    fn best_plate(
        &mut self,
        shop: &Shop,
        state: &mut State,
        fitter: &mut Fitter,
        rule: &Rule,
        begun: &Begun,
    ) -> Option<PlateId> {
        let mut groups: Vec<(f64, usize)> = Vec::new();
        for group in 0..self.by_group.len() {
            let first = self.by_group[group]
                .iter()
                .copied()
                .find(|&id| self.may_make(shop, rule, begun, id));
            if let Some(id) = first {
                let change =
                    shop.items[id as usize].filament != begun.loaded && begun.loaded != EMPTY;
                let from = begun.comes(shop, state, id).max(shop.class_of(id).ready);
                let waits = f64::from((from - begun.free).max(0)) / 240.0;
                let score =
                    f64::from(rank(shop, id).0) + if change { rule.stay } else { 0.0 } + waits;
                groups.push((score, group));
            }
        }
        groups.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        // A group of which no piece can be ended in bench hours here leaves the machine to the next.
        groups
            .into_iter()
            .find_map(|(_, group)| self.fill(shop, state, fitter, rule, begun, group))
    }

    /// The best run of one group; `None` if no piece of it can be made on the machine after what is loaded.
    fn fill(
        &mut self,
        shop: &Shop,
        state: &mut State,
        fitter: &mut Fitter,
        rule: &Rule,
        begun: &Begun,
        group: usize,
    ) -> Option<PlateId> {
        let target = self.target(shop, rule, begun);
        let machine = &shop.machines[begun.machine];
        let mut loads: Vec<Load> = Vec::new();
        let mut best: Option<PlateId> = None;
        let mut refused = 0;
        for id in self.by_group[group].clone() {
            if refused == MOST_REFUSED {
                break;
            }
            if !self.may_make(shop, rule, begun, id) {
                continue;
            }
            // A plate that could start waits for no piece that is not ready yet.
            let first = loads.first().map(|l| shop.class_of(l.item).ready);
            if first.is_some_and(|first| shop.class_of(id).ready > first.max(begun.free)) {
                continue;
            }
            let changes = shop.items[id as usize].filament != begun.loaded;
            let longest = if changes {
                machine.longest_after_change
            } else {
                machine.longest
            };
            let Some(most) = longest else { continue };
            let most = most.min(begun.most - if changes { machine.swap } else { 0 });
            let comes = begun.comes(shop, state, id).max(begun.free);
            let before = self.left[id as usize];
            let mut step = before;
            while step > 0 && self.left[id as usize] > 0 {
                let count = step.min(self.left[id as usize]);
                loads.push(Load { item: id, count });
                let alone = loads.len() == 1 && count == 1;
                let longest = if alone { most } else { most.min(target) };
                // What is too long however it lies need not be laid out.
                let hopeless = least_minutes(shop, begun.machine, &loads) > i64::from(longest);
                let made = (!hopeless)
                    .then(|| state.plates.make(shop, &loads))
                    .flatten();
                let fit = made.map(|p| state.plates.fit(shop, fitter, p, begun.machine));
                // Nor does a piece for which there is filament wait for another for which there is none.
                let waits = |milligrams| {
                    let filament = shop.items[id as usize].filament;
                    state.released(shop, begun.machine, filament, milligrams, changes) > comes
                };
                let one = shop.spool_at(shop.items[id as usize].filament, begun.free);
                let taken = matches!(fit, Some(Fit::Yes { minutes, milligrams, .. })
                    if minutes <= longest
                        && (alone || i64::from(milligrams) <= one && !waits(i64::from(milligrams))));
                if taken {
                    self.left[id as usize] -= count;
                    if let Some(before) = best {
                        state.plates.release(before);
                    }
                    best = made;
                } else {
                    loads.pop();
                    if let Some(plate) = made {
                        state.plates.release(plate);
                    }
                    step = count / 2;
                }
            }
            if self.left[id as usize] == before {
                refused += 1;
            } else {
                refused = 0;
            }
        }
        self.note(shop, &loads);
        best
    }

    /// Takes pieces off the list.
    pub(super) fn take(&mut self, shop: &Shop, loads: &[Load]) {
        for load in loads {
            self.left[load.item as usize] -= load.count;
        }
        self.note(shop, loads);
    }

    /// Notes that pieces, which are no longer left, are on a sheet.
    pub(super) fn note(&mut self, shop: &Shop, loads: &[Load]) {
        for load in loads {
            self.pieces -= u64::from(load.count);
            let class = shop.class_of(load.item);
            if let (Some(trial), true) = (class.trial, class.is_trial) {
                self.trial_left[trial as usize] -= load.count;
            }
        }
        // What shares a plate is of one group.
        if let Some(load) = loads.first() {
            let group = shop.items[load.item as usize].group;
            self.by_group[group as usize].retain(|&id| self.left[id as usize] > 0);
        }
    }

    fn may_make(&self, shop: &Shop, rule: &Rule, begun: &Begun, id: ItemId) -> bool {
        if self.left[id as usize] == 0 {
            return false;
        }
        let Some(way) = shop.ways(id, begun.machine).first() else {
            return false;
        };
        let class = shop.class_of(id);
        if let Some(trial) = class.trial
            && !class.is_trial
            && self.trial_left[trial as usize] > 0
        {
            return false;
        }
        let here = way.plastic + way.seconds / 60.0 * shop.machines[begun.machine].minute;
        begun.relaxed || here <= shop.items[id as usize].cheapest * rule.dearer
    }

    /// How long the run should last: to the end of these bench hours if that is worth a plate, else until somebody comes.
    fn target(&self, shop: &Shop, rule: &Rule, begun: &Begun) -> Minute {
        if !rule.by_calendar {
            return rule.longest;
        }
        let windows = shop.calendar.windows();
        let index = shop.calendar.window_at_or_after(begun.free);
        let Some(window) = windows.get(index) else {
            return rule.longest;
        };
        let m = &shop.machines[begun.machine];
        let start = begun.free.max(window.open) + m.turnaround;
        // The next plate is set up before these hours end.
        let day = window.close - m.turnaround - start;
        if day >= SHORTEST_DAY_RUN || !m.unattended {
            return day.max(SHORTEST_DAY_RUN);
        }
        match windows.get(index + 1) {
            Some(next) => (next.open - start).max(SHORTEST_DAY_RUN),
            None => rule.longest,
        }
    }
}

/// Kinds of piece in a row that find no room on a plate, after which it is taken to be full. Were all kinds of a large build
/// tried, plates would cost more the more kinds there are.
const MOST_REFUSED: usize = 48;

/// Bench hours in a row that are looked at for a run that must be watched: those of about a week.
const WINDOWS_AHEAD: usize = 14;

/// Less is not worth a plate of its own by day.
const SHORTEST_DAY_RUN: Minute = 100;

/// Trial pieces first, then by the urgency of what takes them.
fn rank(shop: &Shop, id: ItemId) -> (u32, bool) {
    let class = shop.class_of(id);
    if class.is_trial {
        return (0, false);
    }
    (shop.nodes[class.node as usize].rank, true)
}

/// No fewer minutes does a run of these pieces take on a machine, however they lie; none if it cannot make one of them.
fn least_minutes(shop: &Shop, machine: usize, loads: &[Load]) -> i64 {
    let (mut seconds, mut layers) = (0.0, 0.0_f64);
    for load in loads {
        let ways = || shop.ways(load.item, machine).iter();
        let least = |of: fn(&ItemWay) -> f64| ways().map(of).reduce(f64::min).unwrap_or(0.0);
        seconds += f64::from(load.count) * least(|way| way.seconds);
        layers = layers.max(least(|way| way.layer_seconds));
    }
    let warm_up = Seconds(shop.machines[machine].warm_up);
    run_minutes(warm_up, Seconds(seconds), Seconds(layers)).0
}
