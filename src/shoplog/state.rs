//! Where a shop stands: its log, entry by entry, added up.
//!
//! Knows: events, accepted plans, the shop by name. Must not know: files, what is allowed (`rules`).
//! Promises: adding up never fails, since what was written was checked before; times need not be in order.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, DurationRound, TimeDelta, Utc};

use super::accepted::{Accepted, PlannedPiece, PlannedRun};
use super::event::{Entry, Event, PieceId};
use super::lengths::ForAssembly;
use super::past::Past;
use super::progress::down_until;
use super::records::{
    AssemblyLog, Attempt, Ended, Kind, MachineLog, Measured, Printed, SpoolLog, TrialLog,
};
use super::shop::Shop;

/// Which run: of which accepted plan, counted from 0, and its position there.
pub type RunKey = (usize, usize);

/// Where a shop stands.
#[derive(Clone, Debug)]
pub struct State {
    /// The shop.
    pub shop: Arc<Shop>,
    /// Whether what is added was noted before, perhaps under another scenario: then it need only go with the other entries.
    pub restoring: bool,
    /// The accepted plan that is followed, and how many were accepted before it.
    pub followed: Option<(usize, Arc<Accepted>)>,
    /// What is still asked of those before it.
    pub past: Past,
    /// The digest of the scenario that the followed one is for, where it is known.
    pub basis: Option<String>,
    /// Whether something came about since it was accepted by which another plan may be cheaper: a machine came back before that plan
    /// reckoned with it, an assembly was complete before it was to be, a spool was bought.
    pub sooner: bool,
    /// Machines that it does without because they were down, and until when.
    pub without: BTreeMap<String, DateTime<Utc>>,
    /// The latest moment of which anything is noted.
    pub latest: DateTime<Utc>,
    /// Runs that were started, each with its last start.
    pub attempts: BTreeMap<RunKey, Attempt>,
    /// What each machine is printing.
    pub running: BTreeMap<String, RunKey>,
    /// Good pieces.
    pub made: BTreeMap<PieceId, Printed>,
    /// Pieces that were no good, and how often.
    pub lost: BTreeMap<PieceId, u32>,
    /// How many pieces came off machines at which moments, good or not.
    pub came_off: BTreeMap<Kind, BTreeMap<DateTime<Utc>, u32>>,
    /// Lengths of copies that others, which are like them, have stood in for: what whoever prints them prints instead.
    pub stands_in: BTreeMap<PieceId, ForAssembly>,
    /// Machines.
    pub machines: BTreeMap<String, MachineLog>,
    /// Trials, by part.
    pub trials: BTreeMap<String, TrialLog>,
    /// Assemblies that were begun.
    pub assemblies: BTreeMap<String, AssemblyLog>,
    /// Spools, by name.
    pub spools: BTreeMap<String, SpoolLog>,
    /// Measurements, in the order in which they were noted.
    pub measured: Vec<Measured>,
}

impl State {
    /// Nothing has happened.
    pub fn new(shop: Arc<Shop>) -> Self {
        let mut spools = BTreeMap::new();
        for (filament, known) in &shop.filaments {
            for (&grams, number) in known.spools.iter().zip(1..) {
                let spool = SpoolLog {
                    filament: filament.clone(),
                    grams,
                    most: grams,
                    arrives: None,
                    moved: 0.0,
                };
                spools.insert(format!("{filament}-{number}"), spool);
            }
        }
        let machines = shop.machines.iter().map(|(id, known)| {
            let machine = MachineLog {
                loaded: known.loaded.clone(),
                printed: known.loaded.clone(),
                ..MachineLog::default()
            };
            (id.clone(), machine)
        });
        Self {
            machines: machines.collect(),
            spools,
            latest: shop.start,
            shop,
            restoring: false,
            followed: None,
            past: Past::default(),
            basis: None,
            sooner: false,
            without: BTreeMap::new(),
            attempts: BTreeMap::new(),
            running: BTreeMap::new(),
            made: BTreeMap::new(),
            lost: BTreeMap::new(),
            came_off: BTreeMap::new(),
            stands_in: BTreeMap::new(),
            trials: BTreeMap::new(),
            assemblies: BTreeMap::new(),
            measured: Vec::new(),
        }
    }

    /// The plan that is followed.
    pub fn plan(&self) -> Option<&Accepted> {
        self.followed.as_ref().map(|(_, plan)| plan.as_ref())
    }

    /// A part of which a run has copies that wait for a trial which is not approved, by name.
    pub fn waits_for_trial(&self, key: RunKey) -> Option<&str> {
        let waits = |part: &str, number: u32| {
            let trial = self.shop.parts.get(part).map_or(0, |part| part.trial);
            let approved = self.trials.get(part).and_then(|trial| trial.approved);
            trial > 0 && number > trial && approved.is_none()
        };
        let mut pieces = self.planned(key).pieces.iter();
        let waiting = pieces.find(|piece| waits(piece.part(), piece.number()));
        waiting.map(|piece| piece.part())
    }

    /// Whether all runs that it speaks of are runs of its plans.
    pub(super) fn keys_are_known(&self) -> bool {
        let known = |key: &RunKey| match &self.followed {
            Some((number, plan)) if *number == key.0 => key.1 < plan.runs.len(),
            _ => self.past.started.contains_key(key),
        };
        let mut running = self.running.values();
        self.attempts.keys().all(known) && running.all(|key| self.attempts.contains_key(key))
    }

    /// A run as it was planned. Keys come from this state, so they point at a run: one of the plan that is followed, or one that was started
    /// when its plan gave way, and those are kept.
    pub fn planned(&self, key: RunKey) -> &PlannedRun {
        match &self.followed {
            Some((number, plan)) if *number == key.0 => &plan.runs[key.1],
            _ => &self.past.started[&key],
        }
    }

    /// The run of this name that is printing.
    pub fn running(&self, run: &str) -> Option<RunKey> {
        let mut running = self.running.values();
        running.find(|&&key| self.planned(key).id == run).copied()
    }

    /// The run of this name in the plan that is followed.
    pub fn current(&self, run: &str) -> Option<RunKey> {
        let (number, plan) = self.followed.as_ref()?;
        Some((*number, plan.position(run)?))
    }

    /// The run of this name that was started last, of whatever plan.
    pub fn last_start(&self, run: &str) -> Option<RunKey> {
        let mut started = self.attempts.keys().rev();
        started.find(|&&key| self.planned(key).id == run).copied()
    }

    /// How a run ended, if it has.
    pub fn ended(&self, key: RunKey) -> Option<&Ended> {
        self.attempts.get(&key)?.ended.as_ref()
    }

    /// Whether a run of the plan that is followed is still to be started: it was not, or nothing of it was good.
    ///
    /// A run that was already printing when a later plan was accepted may stand in that plan too, by its old name.
    pub fn is_open(&self, key: RunKey) -> bool {
        let again = |attempt: &Attempt| attempt.ended.as_ref().is_some_and(|end| end.scrapped);
        if !self.attempts.get(&key).is_none_or(again) {
            return false;
        }
        let planned = self.planned(key);
        let mut pieces = planned.pieces.iter();
        let stands = self.running.get(&planned.machine).is_some_and(|&on| {
            let on = self.planned(on);
            on.id == planned.id && on.filament == planned.filament
        });
        !stands && !pieces.all(|piece| self.made.contains_key(&self.printed_as(piece).0))
    }

    /// Runs of the plan that are still to be started, by the time at which they should begin.
    pub fn open_runs(&self) -> Vec<RunKey> {
        let Some((number, plan)) = &self.followed else {
            return Vec::new();
        };
        let all = (0..plan.runs.len()).map(|at| (*number, at));
        let mut open: Vec<RunKey> = all.filter(|&key| self.is_open(key)).collect();
        open.sort_by_key(|&key| (self.planned(key).begins(), key));
        open
    }

    /// The machine that a spool is on.
    pub fn machine_of(&self, spool: &str) -> Option<&str> {
        let mut machines = self.machines.iter();
        machines
            .find(|(_, machine)| machine.spool.as_deref() == Some(spool))
            .map(|(id, _)| id.as_str())
    }

    /// When the plan that is followed takes a run that is printing to end: it may have been made when that printed already, and reckoned with
    /// how late it is.
    pub fn planned_end(&self, key: RunKey) -> DateTime<Utc> {
        let own = self.planned(key);
        let Some((number, plan)) = self.followed.as_ref().filter(|plan| plan.0 != key.0) else {
            return own.end;
        };
        let standing = plan.printing.iter().find(|run| run.id == own.id);
        let again = || self.current(&own.id).filter(|again| again.0 == *number);
        match (standing, again()) {
            (Some(standing), _) => standing.end,
            (None, Some(again)) => self.planned(again).end,
            (None, None) => own.end,
        }
    }

    /// When a run that is printing should end: planned minutes after its start. The minute in which it was started counts, since plans
    /// have whole ones: started in its planned minute it ends in its planned minute.
    pub fn expected_end(&self, key: RunKey) -> Option<DateTime<Utc>> {
        let planned = self.planned(key);
        let started = self.attempts.get(&key)?.started;
        let minute = started.duration_trunc(TimeDelta::minutes(1));
        Some(minute.unwrap_or(started) + (planned.end - planned.start))
    }

    /// Adds one entry. Undone entries are left out by whoever adds up.
    pub fn add(&mut self, entry: &Entry) {
        let at = entry.at;
        self.latest = self.latest.max(at);
        match &entry.event {
            Event::PlanAccepted { plan, basis } => {
                // It was read when it was accepted; should it not be readable any more, the plan before stays.
                if let Ok(plan) = Accepted::read(plan) {
                    self.follow(plan);
                    self.basis.clone_from(basis);
                    self.sooner = false;
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
                for (piece, printed) in self.copy(part, *number) {
                    if piece.of > 1 {
                        printed.joined = Some(at);
                    }
                }
            }
            Event::Weighed { sample, grams } => self.measured.push(Measured {
                sample: sample.clone(),
                grams: Some(*grams),
                minutes: None,
            }),
            Event::Timed { sample, minutes } => self.measured.push(Measured {
                sample: sample.clone(),
                grams: None,
                minutes: Some(*minutes),
            }),
            Event::Approved { part, variant } => {
                let trial = self.trials.entry(part.clone()).or_default();
                trial.approved = Some(at);
                trial.chosen.clone_from(variant);
            }
            Event::Rejected { part, .. } => self.reject(part),
            Event::SpoolOpened { spool, machine } => {
                self.settle_machine(machine, at);
                self.put_on(spool, machine);
                // Of a run that prints it is the next spool, and no word on the run after it.
                let prints = self.running.contains_key(machine);
                self.machine(machine).opened = !prints;
            }
            Event::SpoolWeighed { spool, grams } => self.correct(spool, *grams, at),
            Event::SpoolEmpty { spool } => {
                self.correct(spool, 0.0, at);
                self.take_off(spool);
            }
            Event::SpoolBought {
                spool,
                filament,
                grams,
                arrives,
            } => {
                let bought = SpoolLog {
                    filament: filament.clone(),
                    grams: *grams,
                    most: *grams,
                    arrives: *arrives,
                    moved: 0.0,
                };
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
        // Plans have whole minutes.
        planned
            .zip(complete)
            .is_some_and(|(planned, complete)| complete <= planned.complete - TimeDelta::minutes(1))
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
        let purge = self.shop.machines.get(&machine).map_or(0.0, |m| m.purge);
        // A spool may have been put on before; what is purged is what the machine printed last.
        let changed = self.machine(&machine).printed.as_ref() != Some(&filament);
        let attempt = Attempt {
            started: at,
            ended: None,
            taken: 0.0,
        };
        self.attempts.insert(key, attempt);
        self.running.insert(machine.clone(), key);
        // What was said to be on is on, whatever the plan would put there.
        let said = self.machine(&machine).opened && self.prints_from(&machine, &filament);
        match (spool, self.planned(key).spool) {
            (Some(spool), _) => self.put_on(spool, &machine),
            (None, _) if said => {}
            (None, Some(planned)) => self.put_on_as_planned(&machine, &filament, planned),
            (None, None) => {}
        }
        let need = self.planned(key).grams + if changed { purge } else { 0.0 };
        self.provide(&machine, &filament, need);
        if changed {
            self.draw(&machine, &filament, purge);
        }
        let machine = self.machine(&machine);
        machine.opened = false;
        machine.loaded = Some(filament.clone());
        machine.printed = Some(filament);
    }

    /// Takes the run off its machine; how it was planned, and when it was started.
    fn end(&mut self, run: &str, at: DateTime<Utc>, scrapped: bool) -> Option<RunKey> {
        let key = self.running(run)?;
        let machine = self.planned(key).machine.clone();
        self.running.remove(&machine);
        if let Some(attempt) = self.attempts.get_mut(&key) {
            attempt.ended = Some(Ended { at, scrapped });
        }
        let machine = self.machine(&machine);
        machine.runs += 1;
        machine.failed += u32::from(scrapped);
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
        self.take_until(key, planned.grams);
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
        if !planned.pieces.is_empty() && scrapped.len() == planned.pieces.len() {
            self.machine(&planned.machine).failed += 1;
            if let Some(attempt) = self.attempts.get_mut(&key) {
                attempt.ended = Some(Ended { at, scrapped: true });
            }
        }
    }

    fn scrap(&mut self, run: &str, grams: Option<f64>, at: DateTime<Utc>) {
        let Some(key) = self.end(run, at, true) else {
            return;
        };
        let planned = self.planned(key).clone();
        self.come_off(&planned, at);
        let lost = grams.unwrap_or_else(|| self.flowed(key, at));
        self.take_until(key, lost);
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
