//! Where a shop stands by its log, and what can be asked of that.
//!
//! Knows: accepted plans, the shop by name. Must not know: files, what events mean (`adding`), what is allowed (`rules`).
//! Promises: asking changes nothing.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, DurationRound, TimeDelta, Utc};

use super::accepted::{Accepted, PlannedRun};
use super::event::PieceId;
use super::lengths::ForAssembly;
use super::past::Past;
use super::records::{
    AssemblyLog, Attempt, Ended, Kind, MachineLog, Measured, Printed, SpoolLog, TrialLog,
};
use super::shop::Shop;
use crate::progress::spool_name;

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
    /// Whether a run was started or has ended, or a trial was approved, sooner than it reckons with: what follows may begin sooner, too.
    pub early: bool,
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
                spools.insert(spool_name(filament, number), spool);
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
            early: false,
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
}
