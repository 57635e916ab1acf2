//! Dates the sheets of a state: what a change moves, or all of them side by side; and the approvals between them.
//!
//! Knows: facts of sheets, hands, approvals. Must not know: money but for what a run costs, forms.
//! Promises: facts are those of the sheets held; where neither hands nor filament are short, only runs that a change moves are dated.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::calendar::Minute;
use crate::search::calm;
use crate::search::dating::{Dated, Dating};
use crate::search::facts::{LengthsEnd, TrialEnd};
use crate::search::hands::HandsProfile;
use crate::search::plate::PlateId;
use crate::search::shop::Shop;
use crate::search::supply::Draw;

use super::State;

/// Rounds in which approvals must settle, beyond one for each trial: each round settles one link of a chain of trials that
/// wait for each other.
const APPROVAL_ROUNDS: usize = 4;

impl State {
    /// Puts a machine's facts away and begins new ones with its first `same` runs.
    pub(super) fn set_aside(&mut self, shop: &Shop, machine: usize, same: usize) {
        let mut fresh = self.undo.spare.pop().unwrap_or_default();
        let same = same.min(self.facts[machine].dates.len());
        self.forget_setups(machine, same);
        self.forget_draws(shop, machine, same);
        fresh.begin_as(&self.facts[machine], same);
        let old = std::mem::replace(&mut self.facts[machine], fresh);
        self.undo.facts.push((machine, old, same));
    }

    /// Puts a dated run at the end of a machine's facts; what it feeds is noted by [`State::note_feeds`].
    pub(super) fn enter(&mut self, shop: &Shop, machine: usize, date: Dated, loaded: u32) {
        let facts = &mut self.facts[machine];
        let run = facts.dates.len();
        let plate = self.sheets[machine][run];
        let hot = self.plates.hot(plate);
        let mut money = self.plates.known(plate, machine).1
            + f64::from(date.start - date.setup) * shop.bench_minute;
        if hot.filament != loaded {
            money += shop.machines[machine].purge[hot.filament as usize];
        }
        if shop.calm.churn > 0.0 {
            let content = self.plates.get(plate).content;
            // What no accepted run has stands in no place.
            let known = content != calm::NONE;
            let alike = |&at: &usize| self.plates.get(self.sheets[machine][at]).content == content;
            let taken = facts.places.iter().enumerate().rev().filter(|_| known);
            let mut taken = taken.filter(|&(_, &place)| place != calm::NONE);
            let before = taken
                .find(|(at, _)| alike(at))
                .map_or(calm::NONE, |(_, &p)| p);
            let place = shop.calm.place(content, machine, date.start, before);
            money += shop.calm.cost(place);
            facts.places.push(place);
        }
        facts.money.push(money);
        facts.cost += money;
        facts.dates.push(date);
        if self.hands.limited()
            && let Some((window, span)) = date.setup_span()
        {
            self.hands.add(window, span);
        }
        if let Some(supply) = &shop.supply {
            let draw = Draw {
                run: run as u32,
                filament: hot.filament,
                at: date.setup,
                milligrams: supply.takes(
                    machine,
                    self.plates.milligrams(plate, machine),
                    hot.filament != loaded,
                ),
            };
            if self.drawn.add(supply, draw) {
                facts.draws.push(draw);
            }
        }
        if !hot.special {
            return;
        }
        let content = self.plates.get(plate);
        let run = run as u32;
        if content.has_lengths {
            let items = content.loads.iter();
            let lengths = items.filter(|l| shop.items[l.item as usize].lengths > 1);
            facts.lengths.extend(lengths.map(|load| LengthsEnd {
                run,
                item: load.item,
                end: date.end,
                count: load.count,
            }));
        }
        facts
            .trials
            .extend(content.tries.iter().map(|&trial| TrialEnd {
                run,
                trial,
                end: date.end,
            }));
    }

    /// Notes what changed for the nodes that runs `from..to` feed now, or the old runs `from..old_to` fed before.
    ///
    /// `kept` is the end from which on old runs stand unchanged at the end of the sheet: what they print last stays.
    pub(super) fn note_feeds(
        &mut self,
        machine: usize,
        from: usize,
        to: usize,
        old: &[PlateId],
        kept: Minute,
    ) {
        let facts = &mut self.facts[machine];
        let mut reset = false;
        let completion = &mut self.completion;
        for &plate in old {
            self.plates.each_feed(plate, |node| {
                completion.touch(node);
                let last = &mut facts.last[node as usize];
                if *last <= kept && *last > 0 {
                    *last = 0;
                    reset = true;
                }
            });
        }
        for run in from..to {
            let end = facts.dates[run].end;
            self.plates.each_feed(self.sheets[machine][run], |node| {
                completion.touch(node);
                let last = &mut facts.last[node as usize];
                if *last <= kept {
                    *last = end;
                }
            });
        }
        // What only runs that go fed last is now printed last by a run that stays, if by any.
        if reset {
            self.look_back(machine, from, old);
        }
    }

    /// Finds what the first `same` runs of a machine print last for nodes that the `old` runs fed and no later run does.
    fn look_back(&mut self, machine: usize, same: usize, old: &[PlateId]) {
        let facts = &mut self.facts[machine];
        let sheet = &self.sheets[machine];
        for &plate in old {
            self.plates.each_feed(plate, |node| {
                let last = &mut facts.last[node as usize];
                if *last == 0 {
                    let mut earlier = (0..same).rev();
                    let found = earlier.find(|&run| self.plates.feeds(sheet[run], node));
                    *last = found.map_or(0, |run| facts.dates[run].end);
                }
            });
        }
    }

    pub(super) fn forget_setups(&mut self, machine: usize, from: usize) {
        if !self.hands.limited() {
            return;
        }
        for i in from..self.facts[machine].dates.len() {
            if let Some((window, span)) = self.facts[machine].dates[i].setup_span() {
                self.hands.remove(window, span);
            }
        }
    }

    pub(super) fn forget_draws(&mut self, shop: &Shop, machine: usize, from: usize) {
        let Some(supply) = &shop.supply else { return };
        let draws = &self.facts[machine].draws;
        for &draw in draws.iter().filter(|draw| draw.run as usize >= from) {
            self.drawn.remove(supply, draw);
        }
    }

    /// Dates the runs of a machine that have no dates yet. `old` is the sheet that its facts set aside belong to, if any.
    /// `false` if the horizon is too near.
    ///
    /// Where a run ends when an old one did, on the same filament and with the same runs to follow, all the rest is as it
    /// was; with hands or filament short that does not hold, since other machines of the same edit may take them now.
    pub(super) fn date(&mut self, shop: &Shop, machine: usize, old: &[PlateId]) -> bool {
        let from = self.facts[machine].dates.len();
        let length = self.sheets[machine].len();
        let aside = self.undo.facts.iter().rposition(|e| e.0 == machine);
        let old = if aside.is_some() { old } else { &[] };
        let alike = if shop.contended() || !self.approved.is_empty() || shop.calm.churn > 0.0 {
            0
        } else {
            let tail = length.min(old.len()) - from.min(length.min(old.len()));
            let ends = self.sheets[machine].iter().rev().zip(old.iter().rev());
            ends.take(tail).take_while(|(a, b)| a == b).count()
        };
        let mut loaded = self.loaded_after(shop, machine, from);
        let mut stop = (length, old.len());
        for run in from..length {
            let before = self.facts[machine].dates.last().copied();
            if run + alike >= length
                && let (Some(aside), Some(before)) = (aside, before)
            {
                let at = run + old.len() - length;
                let earlier = at
                    .checked_sub(1)
                    .map(|i| (old[i], self.undo.facts[aside].1.dates[i]));
                if earlier.is_some_and(|(plate, date)| {
                    (date.end, date.chain) == (before.end, before.chain)
                        && self.plates.hot(plate).filament == loaded
                }) {
                    stop = (run, at);
                    break;
                }
            }
            let plate = self.sheets[machine][run];
            let dating = Dating {
                shop,
                plates: &self.plates,
                approved: &self.approved,
                drawn: Some(&self.drawn),
            };
            let Some(date) = dating.next((machine, run), &self.hands, before, loaded, plate) else {
                return false;
            };
            self.enter(shop, machine, date, loaded);
            loaded = self.plates.hot(plate).filament;
        }
        let kept = if stop.1 < old.len() {
            self.facts[machine].dates.last().map_or(0, |d| d.end)
        } else {
            Minute::MAX
        };
        if let Some(aside) = aside {
            let other = &self.undo.facts[aside].1;
            let facts = &mut self.facts[machine];
            facts.cost -= other.money[from..stop.1.max(from)].iter().sum::<f64>();
            if stop.1 < old.len() {
                facts.end_as(other, stop.1);
            }
        }
        self.note_feeds(
            machine,
            from,
            stop.0,
            &old[from.min(old.len())..stop.1],
            kept,
        );
        true
    }

    /// What is loaded on a machine after its first `runs` runs.
    pub(super) fn loaded_after(&self, shop: &Shop, machine: usize, runs: usize) -> u32 {
        match runs.checked_sub(1) {
            Some(last) => self.plates.hot(self.sheets[machine][last]).filament,
            None => shop.machines[machine].loaded,
        }
    }

    /// Dates all machines side by side: of all next setups the one that can begin first, the lower machine at a tie. Runs that are firm
    /// come before all others, which get the hands and the filament that are left.
    pub(super) fn date_all(&mut self, shop: &Shop) -> bool {
        let mut heap = BinaryHeap::new();
        let is_free = |machine: usize, run: usize| run >= shop.calm.firm(machine);
        for machine in 0..self.sheets.len() {
            if !self.sheets[machine].is_empty() {
                heap.push(Reverse((is_free(machine, 0), 0, machine)));
            }
        }
        while let Some(Reverse((free, _, machine))) = heap.pop() {
            let facts = &self.facts[machine];
            let at = facts.dates.len();
            let loaded = self.loaded_after(shop, machine, at);
            let dating = Dating {
                shop,
                plates: &self.plates,
                approved: &self.approved,
                drawn: Some(&self.drawn),
            };
            let before = facts.dates.last().copied();
            let plate = self.sheets[machine][at];
            let Some(next) = dating.next((machine, at), &self.hands, before, loaded, plate) else {
                return false;
            };
            // Setups of others may have taken the hands since this machine was queued: then it queues again.
            if let Some(&Reverse((others, other, _))) = heap.peek()
                && (free, next.setup) > (others, other)
            {
                heap.push(Reverse((free, next.setup, machine)));
                continue;
            }
            self.enter(shop, machine, next, loaded);
            if at + 1 < self.sheets[machine].len() {
                heap.push(Reverse((is_free(machine, at + 1), next.end, machine)));
            }
        }
        for machine in 0..self.sheets.len() {
            self.note_feeds(machine, 0, self.sheets[machine].len(), &[], Minute::MAX);
        }
        true
    }

    /// By machine and run: from when on there is filament for it, where it could begin before that but for its filament.
    pub fn waits(&mut self, shop: &Shop) -> Vec<Vec<Option<Minute>>> {
        let mut waits: Vec<Vec<Option<Minute>>> = self
            .sheets
            .iter()
            .map(|sheet| vec![None; sheet.len()])
            .collect();
        let Some(supply) = &shop.supply else {
            return waits;
        };
        let nobody = HandsProfile::new(None, shop.calendar.windows().len());
        for (machine, waits) in waits.iter_mut().enumerate() {
            for (run, waits) in waits.iter_mut().enumerate() {
                let plate = self.sheets[machine][run];
                let date = self.facts[machine].dates[run];
                let loaded = self.loaded_after(shop, machine, run);
                let changes = self.plates.hot(plate).filament != loaded;
                let counted = self.facts[machine].draws.iter();
                let own = counted.copied().find(|draw| draw.run as usize == run);
                if let Some(own) = own {
                    self.drawn.remove(supply, own);
                }
                let mut dating = Dating {
                    shop,
                    plates: &self.plates,
                    approved: &self.approved,
                    drawn: Some(&self.drawn),
                };
                let comes = dating.comes(machine, plate, changes);
                dating.drawn = None;
                let before = run.checked_sub(1).map(|run| self.facts[machine].dates[run]);
                let could = dating.next((machine, run), &nobody, before, loaded, plate);
                *waits = (could.is_some_and(|could| could.setup < comes) && comes <= date.setup)
                    .then_some(comes);
                if let Some(own) = own {
                    self.drawn.add(supply, own);
                }
            }
        }
        waits
    }

    /// Dates again whatever waits for an approval that has moved, until nothing moves.
    ///
    /// `false` if it does not settle: then some sheet puts what waits before its own trial.
    pub(super) fn settle_approvals(&mut self, shop: &Shop) -> bool {
        if shop.trials.is_empty() {
            return true;
        }
        for _ in 0..APPROVAL_ROUNDS + shop.trials.len() {
            match self.note_approvals(shop) {
                Some(true) => {}
                Some(false) => return true,
                None => return false,
            }
            for machine in 0..self.sheets.len() {
                let waits = self.sheets[machine]
                    .iter()
                    .position(|&p| !self.plates.get(p).waits.is_empty());
                if let Some(first) = waits {
                    self.set_aside(shop, machine, first);
                    let sheet = self.sheets[machine].clone();
                    if !self.date(shop, machine, &sheet) {
                        return false;
                    }
                }
            }
        }
        false
    }

    /// Brings the approvals up to the trials' dates; whether any moved, `None` if one falls past the horizon.
    pub(super) fn note_approvals(&mut self, shop: &Shop) -> Option<bool> {
        let mut moved = false;
        for trial in 0..shop.trials.len() {
            let end = self
                .facts
                .iter()
                .flat_map(|f| &f.trials)
                .filter(|t| t.trial == trial as u32)
                .map(|t| t.end)
                .max();
            let end = end.max(shop.trial_there[trial]);
            // A trial not on any sheet (a queue under construction) holds nothing back yet.
            let approval = match end {
                Some(end) => shop.calendar.next_presence(end)?,
                None => 0,
            };
            moved |= self.approved[trial] != approval;
            self.approved[trial] = approval;
        }
        Some(moved)
    }
}
