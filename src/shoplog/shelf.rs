//! Grams on spools, by what runs take of them and what the scales say.
//!
//! Knows: the state, planned runs. Must not know: events, rules, who asks.
//! Promises: no spool has less than nothing; what is on a machine is on no other.
//!
//! Filament leaves a spool when its run ends, or when somebody touches the spool: then what flowed until that moment, taken to
//! flow evenly. So a spool's grams are exact where it was weighed, and by the plan's grams from there on.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::accepted::PlannedRun;
use super::records::{Draw, SpoolLog};
use super::state::{RunKey, State};

/// Less than this on a spool is nothing, g.
pub(super) const NOTHING: f64 = 0.5;

impl State {
    /// Takes off the spools what the runs that are printing still use.
    pub(super) fn end_all(&mut self) {
        let running: Vec<RunKey> = self.running.values().copied().collect();
        for key in running {
            let (grams, end) = (self.planned(key).grams, self.expected_end(key));
            self.take_until(key, grams, end.unwrap_or(self.latest));
        }
    }

    /// Grams of a run that have flowed by a moment: evenly over its planned minutes.
    pub(super) fn flowed(&self, key: RunKey, at: DateTime<Utc>) -> f64 {
        let planned = self.planned(key);
        let Some(attempt) = self.attempts.get(&key) else {
            return 0.0;
        };
        let whole = (planned.end - planned.start).num_seconds().max(1) as f64;
        let gone = (at - attempt.started).num_seconds().max(0) as f64;
        planned.grams * (gone / whole).min(1.0)
    }

    /// Takes off the spool what a run has used of `grams` by a moment and not taken yet.
    pub(super) fn take_until(&mut self, key: RunKey, grams: f64, at: DateTime<Utc>) {
        let Some(attempt) = self.attempts.get_mut(&key) else {
            return;
        };
        let more = (grams - attempt.taken).max(0.0);
        attempt.taken += more;
        let from = attempt.until;
        attempt.until = at.max(from);
        let drawn = Draw {
            from,
            to: attempt.until,
            grams: more,
        };
        self.draw(key, drawn);
    }

    /// Takes off what the run on a machine has used by now.
    pub(super) fn settle_machine(&mut self, machine: &str, at: DateTime<Utc>) {
        if let Some(&key) = self.running.get(machine) {
            let flowed = self.flowed(key, at);
            self.take_until(key, flowed, at);
        }
    }

    /// A weighed spool has what the scales say, less what has left it since, where that was noted first; what a run drew from it before is
    /// paid. Of two weighings the later has the last word, whichever was noted first.
    /// Says whether it counts.
    pub(super) fn correct(&mut self, spool: &str, grams: f64, at: DateTime<Utc>) -> bool {
        if let Some(machine) = self.machine_of(spool).map(str::to_owned) {
            self.settle_machine(&machine, at);
        }
        if let Some(spool) = self.spools.get_mut(spool) {
            spool.most = spool.most.max(grams);
            spool.arrives = None;
            if spool.weighed.is_some_and(|last| at < last) {
                return false;
            }
            spool.weighed = Some(at);
            spool.drawn.retain(|draw| draw.to > at);
            let left = (grams - spool.drawn_since(at)).max(0.0);
            spool.moved += left - spool.grams;
            spool.grams = left;
        }
        true
    }

    pub(super) fn take_off(&mut self, spool: &str) {
        for machine in self.machines.values_mut() {
            if machine.spool.as_deref() == Some(spool) {
                machine.spool = None;
            }
        }
    }

    pub(super) fn put_on(&mut self, spool: &str, machine: &str) {
        self.take_off(spool);
        let Some(known) = self.spools.get_mut(spool) else {
            return;
        };
        known.arrives = None;
        let filament = known.filament.clone();
        let on = self.machine(machine);
        on.spool = Some(spool.to_owned());
        on.loaded = Some(filament);
    }

    /// Grams that runs still to be started take off spools, in this order: those of their pieces, and what is purged where their machine
    /// prints with another filament before.
    pub(super) fn needs(&self, open: &[RunKey]) -> Vec<f64> {
        let printed = self.machines.iter().filter_map(|(id, machine)| {
            let filament = machine.printed.as_deref()?;
            Some((id.as_str(), filament))
        });
        let mut printed: BTreeMap<&str, &str> = printed.collect();
        let needs = open.iter().map(|&key| {
            let planned = self.planned(key);
            let before = printed.insert(&planned.machine, &planned.filament);
            let purge = (self.shop.machines.get(&planned.machine))
                .filter(|_| before != Some(planned.filament.as_str()))
                .map_or(0.0, |machine| machine.purge);
            planned.grams + purge
        });
        needs.collect()
    }

    /// Whether there is a spool of a name that is not empty.
    pub(super) fn has_left(&self, name: &str) -> bool {
        (self.spools.get(name)).is_some_and(|spool| spool.grams > NOTHING)
    }

    /// Whether the spool of a name can be on the machine of a run: it is of its filament, has some left, is here, and no other
    /// machine prints from it.
    fn may_be_on(&self, name: &str, run: &PlannedRun) -> bool {
        let on = self.machine_of(name).filter(|on| *on != run.machine);
        self.spools.get(name).is_some_and(|spool| {
            spool.filament == run.filament
                && spool.grams > NOTHING
                && spool.is_here(self.latest)
                && on.is_none_or(|on| !self.running.contains_key(on))
        })
    }

    /// Puts the spool on the machine of a run that the plan has put on for it: the one that it names. A plan that names none only says what
    /// is on it; then it is the one whose grams are nearest to that, if they are near, of those that are meant for no run. Where there is
    /// none, what is on stays.
    pub(super) fn put_on_as_planned(&mut self, key: RunKey) {
        let run = self.planned(key);
        let machine = run.machine.clone();
        if let Some(name) = run.spool_name.clone() {
            if self.may_be_on(&name, run) {
                self.put_on(&name, &machine);
            }
            return;
        }
        let Some(planned) = run.spool else {
            return;
        };
        let filament = &run.filament;
        let named = self.named();
        let free = self.spools.iter().filter(|(id, spool)| {
            let on = self.machine_of(id);
            spool.filament == *filament
                && spool.is_here(self.latest)
                && on.is_none_or(|on| on == machine)
                && spool.is_planned(planned)
                && !named.contains(id.as_str())
        });
        let nearest = free.min_by(|a, b| a.1.off(planned).total_cmp(&b.1.off(planned)));
        if let Some(id) = nearest.map(|(id, _)| id.clone()) {
            self.put_on(&id, &machine);
        }
    }

    /// Spools that the plan which is followed names.
    fn named(&self) -> BTreeSet<&str> {
        let runs = self.plan().into_iter().flat_map(|plan| &plan.runs);
        let names = runs.flat_map(|run| {
            let next = run.spool_ends.iter().map(|end| &end.next_name);
            next.chain([&run.spool_name])
        });
        names.filter_map(|name| name.as_deref()).collect()
    }

    /// Whether the spool on a machine is of a filament, and has some left.
    pub(super) fn prints_from(&self, machine: &str, filament: &str) -> bool {
        let on = self.machines.get(machine).and_then(|on| on.spool.as_ref());
        let known = on.and_then(|id| self.spools.get(id));
        known.is_some_and(|known| known.filament == filament && known.grams > NOTHING)
    }

    /// Sees to it that a spool is on the machine of a run: the one that is, or else [`State::follows`].
    pub(super) fn provide(&mut self, key: RunKey, need: f64) {
        let run = self.planned(key);
        if self.prints_from(&run.machine, &run.filament) {
            return;
        }
        let machine = run.machine.clone();
        let next = self.follows(key, need).map(str::to_owned);
        if let Some(next) = &next {
            self.take_off(next);
        }
        self.machine(&machine).spool = next;
    }

    /// The spool that follows on the machine of a run, which needs so much more, as nobody said which: where one was on, the first that the
    /// plan names to follow it, of those that can be on; else the smallest that lasts, or the largest.
    pub(super) fn follows(&self, key: RunKey, need: f64) -> Option<&str> {
        let run = self.planned(key);
        let machine = self.machines.get(&run.machine);
        let on = machine.and_then(|machine| machine.spool.as_ref());
        let mut ends = run.spool_ends.iter();
        let is_on = |name: &Option<String>| name.is_some() && name.as_ref() == on;
        let at = ends.position(|end| is_on(&end.next_name));
        let taken = self.attempts.get(&key).map_or(0.0, |run| run.taken);
        let follows = taken > 0.0 || self.prints_from(&run.machine, &run.filament);
        let later = run.spool_ends.iter().filter(|_| follows);
        let later = later.skip(at.map_or(0, |at| at + 1));
        let mut named = later.filter_map(|end| end.next_name.as_deref());
        if let Some(name) = named.find(|name| self.may_be_on(name, run)) {
            return Some(name);
        }
        let free = self.spools.iter().filter(|(id, spool)| {
            spool.filament == run.filament
                && spool.grams > NOTHING
                && spool.is_here(self.latest)
                && self.machine_of(id).is_none()
        });
        let next = free.min_by(|a, b| {
            let rank = |spool: &SpoolLog| {
                let lasts = spool.grams >= need;
                (!lasts, if lasts { spool.grams } else { -spool.grams })
            };
            let (a, b) = (rank(a.1), rank(b.1));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        next.map(|(id, _)| id.as_str())
    }

    /// Takes grams off the spool on the machine of a run, and off the next where it ends.
    pub(super) fn draw(&mut self, key: RunKey, drawn: Draw) {
        let machine = self.planned(key).machine.clone();
        let mut left = drawn;
        // Every turn empties a spool or ends.
        while left.grams > 0.0 {
            self.provide(key, left.grams);
            let on = self.machine(&machine).spool.clone();
            let Some(spool) = on.and_then(|id| self.spools.get_mut(&id)) else {
                return; // more was printed than the log knows of
            };
            let (taken, rest) = left.parted(left.grams.min(spool.grams));
            spool.grams -= taken.grams;
            spool.drawn.push(taken);
            left = rest;
            if left.grams > 0.0 {
                spool.grams = 0.0;
                self.machine(&machine).spool = None;
            }
        }
    }
}
