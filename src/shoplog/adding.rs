//! What each entry adds to where a shop stands.
//!
//! Knows: events, the state, accepted plans. Must not know: files, what is allowed (`rules`).
//! Promises: adding up never fails, since what was written was checked before; times need not be in order.

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};

use super::accepted::{Accepted, PlannedPiece, PlannedRun, in_years};
use super::event::{Entry, Event, PieceId};
use super::lengths::division;
use super::progress::down_until;
use super::records::{Attempt, Draw, Ended, MachineLog, Measured, Printed, SpoolLog};
use super::state::{RunKey, State};

/// Whether something came about before it was planned. Plans have whole minutes.
fn is_before(at: DateTime<Utc>, planned: DateTime<Utc>) -> bool {
    at <= planned - TimeDelta::minutes(1)
}

impl State {
    /// Adds one entry. Undone entries are left out by whoever adds up.
    pub fn add(&mut self, entry: &Entry) {
        // One that an older program let in may lie anywhere.
        let at = in_years(entry.at);
        self.latest = self.latest.max(at);
        match &entry.event {
            Event::PlanAccepted { plan, basis } => {
                // It was read when it was accepted; should it not be readable any more, the plan before stays.
                if let Ok(plan) = Accepted::read(plan) {
                    self.follow(plan);
                    self.basis.clone_from(basis);
                    self.sooner = false;
                    self.early = false;
                    self.forget_stand_ins();
                    let down = self.machines.iter().filter_map(|(id, machine)| {
                        let (_, _, until) = machine.down.as_ref()?;
                        Some((id.clone(), down_until(*until, at)))
                    });
                    self.without = down.collect();
                    for spool in self.spools.values_mut() {
                        spool.moved = 0.0;
                    }
                    // It knows what was said to be on before it, so where it puts on another that is the later word.
                    for machine in self.machines.values_mut() {
                        machine.opened = false;
                    }
                }
            }
            Event::Started { run, spool } => self.start(run, spool.as_deref(), at),
            Event::Finished { run, scrapped, .. } => self.finish(run, scrapped, at),
            Event::Scrapped { run, grams, .. } => self.scrap(run, *grams, at),
            Event::Joined { part, number } => {
                let pieces: Vec<PieceId> = self
                    .copy(part, *number)
                    .map(|(piece, _)| piece.clone())
                    .collect();
                let of = division(&pieces);
                for (piece, printed) in self.copy(part, *number) {
                    if Some(piece.of) == of {
                        printed.joined = Some(at);
                    }
                }
            }
            Event::Weighed {
                sample,
                grams,
                estimated,
            } => self.measured.push(Measured {
                sample: sample.clone(),
                grams: Some(*grams),
                minutes: None,
                estimated: estimated.clone(),
                basis: self.basis.as_ref().map(|basis| basis.whole.clone()),
            }),
            Event::Timed {
                sample,
                minutes,
                estimated,
            } => self.measured.push(Measured {
                sample: sample.clone(),
                grams: None,
                minutes: Some(*minutes),
                estimated: estimated.clone(),
                basis: self.basis.as_ref().map(|basis| basis.whole.clone()),
            }),
            Event::Approved { part, variant } => {
                let planned = self.plan().map(|plan| plan.trials.iter());
                let planned = planned.and_then(|mut all| all.find(|trial| trial.part == *part));
                self.early |= planned.is_some_and(|trial| is_before(at, trial.approved));
                let trial = self.trials.entry(part.clone()).or_default();
                // Noted once more it only says which was chosen.
                trial.approved.get_or_insert(at);
                trial.chosen.clone_from(variant);
            }
            Event::Rejected { part, .. } => self.reject(part),
            Event::Lost { pieces, .. } => self.lose(pieces),
            Event::SpoolOpened { spool, machine } => {
                self.settle_machine(machine, at);
                self.put_on(spool, machine);
                // Of a run that prints it is the next spool, and no word on the run after it.
                let prints = self.running.contains_key(machine);
                self.machine(machine).opened = !prints;
            }
            Event::SpoolWeighed { spool, grams } => {
                self.correct(spool, *grams, at);
            }
            Event::SpoolEmpty { spool } => {
                // Not where it was weighed since.
                if self.correct(spool, 0.0, at) {
                    self.take_off(spool);
                }
            }
            Event::SpoolBought {
                spool,
                filament,
                grams,
                arrives,
            } => {
                let bought = SpoolLog::new(filament, *grams, *arrives);
                self.spools.insert(spool.clone(), bought);
                self.sooner = true;
            }
            Event::Down {
                machine,
                why,
                until,
            } => self.down(machine, why, *until, at),
            Event::Up { machine } => {
                let log = self.machine(machine);
                if let Some((since, ..)) = log.down.take() {
                    log.outages.push((since, at));
                }
                let without = self.without.get(machine);
                self.sooner |= without.is_some_and(|until| at < *until);
            }
            Event::AssemblyStarted { assembly } => {
                self.assemblies.entry(assembly.clone()).or_default().started = Some(at);
            }
            Event::AssemblyComplete { assembly } => {
                let known = self.assemblies.entry(assembly.clone()).or_default();
                known.started.get_or_insert(at);
                known.complete = Some(at);
                self.sooner |= self.is_early(assembly, at);
            }
            Event::Note { .. } | Event::Undone { .. } => {}
        }
    }

    /// Another plan is followed.
    fn follow(&mut self, plan: Accepted) {
        let number = match self.followed.take() {
            None => 0,
            Some((number, before)) => {
                let started = self.attempts.keys().filter(|key| key.0 == number);
                let started: Vec<usize> = started.map(|key| key.1).collect();
                self.past.take_in(number, &before, &started);
                number + 1
            }
        };
        self.followed = Some((number, Arc::new(plan)));
    }

    /// A machine goes down, or more is known of how long and why it is.
    fn down(&mut self, machine: &str, why: &str, until: Option<DateTime<Utc>>, at: DateTime<Utc>) {
        let down = &mut self.machine(machine).down;
        let (since, before, then) = down.take().unwrap_or((at, String::new(), None));
        let why = if why.is_empty() {
            before
        } else {
            why.to_owned()
        };
        *down = Some((since, why, until.or(then)));
        // Back sooner than the plan reckons with.
        let without = self.without.get(machine);
        self.sooner |= until
            .zip(without)
            .is_some_and(|(until, without)| until < *without);
    }

    /// Whether an assembly whose bench work is done at a moment is complete before the plan says.
    fn is_early(&self, assembly: &str, at: DateTime<Utc>) -> bool {
        let planned = self.plan().map(|plan| plan.assemblies.iter());
        let planned = planned.and_then(|mut all| all.find(|planned| planned.id == assembly));
        let known = self.shop.assemblies.get(assembly);
        let cure = known.map_or(TimeDelta::zero(), |known| known.cure);
        let complete = at.checked_add_signed(cure);
        planned
            .zip(complete)
            .is_some_and(|(planned, complete)| is_before(complete, planned.complete))
    }

    pub(super) fn machine(&mut self, id: &str) -> &mut MachineLog {
        if !self.machines.contains_key(id) {
            self.machines.insert(id.to_owned(), MachineLog::default());
        }
        self.machines.entry(id.to_owned()).or_default()
    }

    /// Good pieces of one copy of a part.
    fn copy(&mut self, part: &str, number: u32) -> impl Iterator<Item = (&PieceId, &mut Printed)> {
        let edge = |number, length| PieceId {
            part: part.to_owned(),
            number,
            length,
            of: 0,
        };
        self.made
            .range_mut(edge(number, 0)..edge(number.saturating_add(1), 0))
    }

    fn start(&mut self, run: &str, spool: Option<&str>, at: DateTime<Utc>) {
        let Some(key) = self.current(run) else {
            return;
        };
        let planned = self.planned(key);
        let (machine, filament) = (planned.machine.clone(), planned.filament.clone());
        self.early |= is_before(at, planned.start);
        let purge = self.shop.machines.get(&machine).map_or(0.0, |m| m.purge);
        // A spool may have been put on before; what is purged is what the machine printed last.
        let changed = self.machine(&machine).printed.as_ref() != Some(&filament);
        let attempt = Attempt {
            started: at,
            ended: None,
            taken: 0.0,
            until: at,
        };
        self.attempts.insert(key, attempt);
        self.running.insert(machine.clone(), key);
        // What was said to be on is on, whatever the plan would put there.
        let said = self.machine(&machine).opened && self.prints_from(&machine, &filament);
        match spool {
            Some(spool) => self.put_on(spool, &machine),
            None if said => {}
            None => self.put_on_as_planned(key),
        }
        let need = self.planned(key).grams + if changed { purge } else { 0.0 };
        self.provide(key, need);
        if changed {
            let purged = Draw {
                from: at,
                to: at,
                grams: purge,
            };
            self.draw(key, purged);
        }
        let machine = self.machine(&machine);
        machine.opened = false;
        machine.loaded = Some(filament.clone());
        machine.printed = Some(filament);
    }

    /// Takes the run off its machine; how it was planned, and when it was started.
    fn end(&mut self, run: &str, at: DateTime<Utc>, scrapped: bool) -> Option<RunKey> {
        let key = self.running(run)?;
        self.early |= is_before(at, self.planned_end(key));
        let machine = self.planned(key).machine.clone();
        self.running.remove(&machine);
        if let Some(attempt) = self.attempts.get_mut(&key) {
            attempt.ended = Some(Ended { at, scrapped });
        }
        let machine = self.machine(&machine);
        machine.runs += 1;
        machine.failed += f64::from(u8::from(scrapped));
        machine.free = Some(at);
        Some(key)
    }

    fn come_off(&mut self, planned: &PlannedRun, at: DateTime<Utc>) {
        for piece in &planned.pieces {
            let (machine, part) = (planned.machine.clone(), piece.part().to_owned());
            let kind = self
                .came_off
                .entry((machine, part, piece.of()))
                .or_default();
            *kind.entry(at).or_default() += 1;
        }
    }

    fn finish(&mut self, run: &str, scrapped: &[PieceId], at: DateTime<Utc>) {
        let Some(key) = self.end(run, at, false) else {
            return;
        };
        let planned = self.planned(key).clone();
        self.come_off(&planned, at);
        self.take_until(key, planned.grams, at);
        let mut split: BTreeSet<(&str, u32)> = BTreeSet::new();
        for piece in &planned.pieces {
            let (id, assembly) = self.printed_as(piece);
            if scrapped.contains(&piece.id()) {
                *self.lost.entry(id).or_default() += 1;
                continue;
            }
            let printed = Printed {
                assembly,
                machine: planned.machine.clone(),
                at,
                joined: None,
            };
            self.made.insert(id, printed);
            if piece.of() > 1 {
                split.insert((piece.part(), piece.of()));
            }
        }
        for (part, of) in split {
            self.pair_lengths(part, of);
        }
        if !planned.pieces.is_empty() {
            // The share of it that is lost: what a run is for counts, however many of its pieces there are.
            let lost = scrapped.len().min(planned.pieces.len()) as f64;
            self.machine(&planned.machine).failed += lost / planned.pieces.len() as f64;
        }
        if !planned.pieces.is_empty()
            && scrapped.len() == planned.pieces.len()
            && let Some(attempt) = self.attempts.get_mut(&key)
        {
            attempt.ended = Some(Ended { at, scrapped: true });
        }
    }

    fn scrap(&mut self, run: &str, grams: Option<f64>, at: DateTime<Utc>) {
        let Some(key) = self.end(run, at, true) else {
            return;
        };
        let planned = self.planned(key).clone();
        self.come_off(&planned, at);
        let lost = grams.unwrap_or_else(|| self.flowed(key, at));
        self.take_until(key, lost, at);
        for piece in &planned.pieces {
            let id = self.printed_as(piece).0;
            *self.lost.entry(id).or_default() += 1;
        }
    }

    /// A new plan knows what has stood in for what; but for runs that print still, which are of the plan before.
    fn forget_stand_ins(&mut self) {
        let running = self.running.values();
        let pieces = running.flat_map(|&key| self.planned(key).pieces.iter());
        let printing: BTreeSet<PieceId> = pieces.map(PlannedPiece::id).collect();
        self.stands_in.retain(|piece, _| printing.contains(piece));
    }

    /// Pieces that were good are no more; of a copy that was joined all lengths go with one.
    fn lose(&mut self, pieces: &[PieceId]) {
        let mut split: BTreeSet<(&str, u32)> = BTreeSet::new();
        for piece in pieces {
            let Some(printed) = self.made.remove(piece) else {
                continue;
            };
            let mut gone = vec![piece.clone()];
            if printed.joined.is_some() {
                let same = |other: &PieceId| {
                    (&other.part, other.number, other.of) == (&piece.part, piece.number, piece.of)
                };
                gone.extend(self.made.keys().filter(|other| same(other)).cloned());
            }
            for one in gone {
                self.made.remove(&one);
                *self.lost.entry(one).or_default() += 1;
            }
            if piece.of > 1 {
                split.insert((&piece.part, piece.of));
            }
        }
        for (part, of) in split {
            self.pair_lengths(part, of);
        }
    }

    fn reject(&mut self, part: &str) {
        let trial = self.shop.parts.get(part).map_or(0, |known| known.trial);
        let known = self.trials.entry(part.to_owned()).or_default();
        known.approved = None;
        known.chosen = None;
        let rejected: Vec<PieceId> = self
            .made
            .keys()
            .filter(|piece| piece.part == part && piece.number <= trial)
            .cloned()
            .collect();
        let mut copies: Vec<u32> = rejected.iter().map(|piece| piece.number).collect();
        copies.dedup();
        known.rejected += copies.len() as u32;
        for piece in rejected {
            self.made.remove(&piece);
            *self.lost.entry(piece).or_default() += 1;
        }
    }
}
