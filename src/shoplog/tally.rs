//! What there is at a moment: machines and what is in them, spools, parts, assemblies, and what of the accepted plan is still to be ordered
//! and joined.
//!
//! Knows: the scenario, the state, the accepted plan. Must not know: how it is shown, when runs are expected.
//! Promises: every machine, every spool, every part and every assembly once; what is counted is what was noted.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};

use super::Log;
use super::event::{Event, PieceId};
use super::progress::wanted;
use super::records::Printed;
use super::rules::whole_copies;
use super::state::State;
use crate::scenario::{Experience, Scenario, failing};

/// What there is.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    /// Machines, by name.
    pub machines: Vec<MachineTally>,
    /// Spools, by filament.
    pub spools: Vec<SpoolTally>,
    /// Parts, in the scenario's order.
    pub parts: Vec<PartTally>,
    /// Assemblies, in the scenario's order.
    pub assemblies: Vec<AssemblyTally>,
    /// What the accepted plan orders and is not noted as bought since.
    pub orders: Vec<OrderTally>,
    /// Copies that the accepted plan joins and that are not joined.
    pub gluings: Vec<GluingTally>,
}

/// A machine and what is in it.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineTally {
    /// Which.
    pub machine: String,
    /// The filament in it, if any.
    pub loaded: Option<String>,
    /// The spool on it, where that is known.
    pub spool: Option<String>,
    /// Its runs that have ended.
    pub runs: u32,
    /// Those of them that failed; of one that failed in part, the share of its pieces that are lost.
    pub failed: f64,
    /// The share of its further runs that will fail, by expectation; `None`: the scenario does not know it.
    pub share: Option<f64>,
}

/// A spool.
#[derive(Clone, Debug, PartialEq)]
pub struct SpoolTally {
    /// Its name.
    pub spool: String,
    /// What is on it.
    pub filament: String,
    /// How much is left: what prints is taken to flow evenly until the moment.
    pub grams: f64,
    /// The machine that it is on.
    pub machine: Option<String>,
    /// When it comes; `None`: it is here.
    pub arrives: Option<DateTime<Utc>>,
}

/// A part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartTally {
    /// Which.
    pub part: String,
    /// Copies that are wanted, spares among them.
    pub needed: u32,
    /// Copies of which all is printed.
    pub printed: u32,
    /// Good pieces, those of copies that are not whole among them.
    pub pieces: u32,
    /// Copies whose lengths have been joined.
    pub joined: u32,
    /// Pieces that were no good.
    pub lost: u32,
    /// Of its trial, where it has one.
    pub trial: Option<TrialTally>,
}

/// A part's trial.
#[derive(Clone, Debug, PartialEq)]
pub struct TrialTally {
    /// When it was approved.
    pub approved: Option<DateTime<Utc>>,
    /// The variants to choose from, if any.
    pub variants: Vec<String>,
    /// The one that was chosen, where it was said.
    pub variant: Option<String>,
    /// Copies that were rejected.
    pub rejected: u32,
}

/// How far an assembly has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stand {
    /// Its bench work has not begun.
    Open,
    /// It has.
    AtWork,
    /// It is done.
    Complete,
}

/// An assembly.
#[derive(Clone, Debug, PartialEq)]
pub struct AssemblyTally {
    /// Which.
    pub assembly: String,
    /// How far it has come.
    pub stand: Stand,
    /// When its bench work began.
    pub started: Option<DateTime<Utc>>,
    /// When it was done.
    pub complete: Option<DateTime<Utc>>,
    /// When it is expected to be complete; `None`: no plan says.
    pub expected: Option<DateTime<Utc>>,
    /// When it should be.
    pub due: Option<DateTime<Utc>>,
}

/// An order.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderTally {
    /// Of which filament.
    pub filament: String,
    /// Spools that are still to be ordered.
    pub spools: u32,
    /// The last day for that.
    pub order_by: Option<NaiveDate>,
}

/// A copy to be joined.
#[derive(Clone, Debug, PartialEq)]
pub struct GluingTally {
    /// Of which part.
    pub part: String,
    /// Which copy.
    pub number: u32,
    /// When by the plan.
    pub planned: Option<DateTime<Utc>>,
}

/// Spools that were noted as bought since the plan that is followed was accepted, by filament; `until`: as it stood at a moment.
pub fn bought(log: &Log, until: Option<DateTime<Utc>>) -> BTreeMap<String, u32> {
    let mut bought: BTreeMap<String, u32> = BTreeMap::new();
    let entries = log.entries().iter();
    let counts = entries.filter(|entry| until.is_none_or(|until| entry.at <= until));
    for entry in counts.filter(|entry| !log.is_undone(entry)) {
        match &entry.event {
            Event::PlanAccepted { .. } => bought.clear(),
            Event::SpoolBought { filament, .. } => {
                *bought.entry(filament.clone()).or_default() += 1;
            }
            _ => {}
        }
    }
    bought
}

impl Tally {
    /// At a moment; `bought`: spools since the plan, `expected`: when an assembly is to be complete.
    pub(super) fn new(
        scenario: &Scenario,
        state: &State,
        bought: &BTreeMap<String, u32>,
        now: DateTime<Utc>,
        expected: impl Fn(&str) -> Option<DateTime<Utc>>,
    ) -> Self {
        let mut flowed = state.clone();
        flowed.latest = flowed.latest.max(now);
        for machine in state.running.keys() {
            flowed.settle_machine(machine, now);
        }
        let assemblies = scenario.assemblies.iter();
        let assemblies = assemblies.map(|assembly| {
            let known = state.assemblies.get(&assembly.id);
            let started = known.and_then(|known| known.started);
            let complete = known.and_then(|known| known.complete);
            AssemblyTally {
                assembly: assembly.id.clone(),
                stand: match (started, complete) {
                    (_, Some(_)) => Stand::Complete,
                    (Some(_), None) => Stand::AtWork,
                    (None, None) => Stand::Open,
                },
                started,
                complete,
                expected: expected(&assembly.id),
                due: assembly.due,
            }
        });
        Self {
            machines: machines(scenario, &flowed),
            spools: spools(&flowed, now),
            parts: parts(scenario, state, now),
            assemblies: assemblies.collect(),
            orders: orders(state, bought),
            gluings: gluings(state),
        }
    }
}

fn machines(scenario: &Scenario, state: &State) -> Vec<MachineTally> {
    let machines = state.machines.iter().map(|(id, known)| {
        let (runs, failed) = (known.runs, known.failed);
        let mut said = scenario.machines.iter();
        let said = said.find(|machine| machine.id == *id);
        MachineTally {
            machine: id.clone(),
            loaded: known.loaded.clone(),
            spool: known.spool.clone(),
            runs,
            failed,
            share: said.map(|machine| failing(machine, Experience { runs, failed }).mean()),
        }
    });
    machines.collect()
}

fn spools(state: &State, now: DateTime<Utc>) -> Vec<SpoolTally> {
    let spools = state.spools.iter().map(|(id, spool)| SpoolTally {
        spool: id.clone(),
        filament: spool.filament.clone(),
        grams: spool.grams,
        machine: state.machine_of(id).map(str::to_owned),
        arrives: spool.arrives.filter(|_| !spool.is_here(now)),
    });
    let mut spools: Vec<SpoolTally> = spools.collect();
    // A shorter name first: `red-2` before `red-10`.
    spools.sort_by(|a, b| {
        let key = |one: &SpoolTally| (one.filament.clone(), one.spool.len());
        (key(a), &a.spool).cmp(&(key(b), &b.spool))
    });
    spools
}

fn parts(scenario: &Scenario, state: &State, now: DateTime<Utc>) -> Vec<PartTally> {
    let mut made: BTreeMap<&str, Vec<(&PieceId, &Printed)>> = BTreeMap::new();
    for (piece, printed) in &state.made {
        made.entry(&piece.part).or_default().push((piece, printed));
    }
    let mut lost: BTreeMap<&str, u32> = BTreeMap::new();
    for (piece, times) in &state.lost {
        *lost.entry(&piece.part).or_default() += times;
    }
    let wanted = wanted(scenario, state, now);
    let parts = scenario.parts.iter().zip(wanted).map(|(part, needed)| {
        let id = part.id.as_str();
        let made = made.get(id).map_or(&[][..], Vec::as_slice);
        let whole = whole_copies(state, id, DateTime::<Utc>::MAX_UTC);
        let joined = made
            .iter()
            .filter(|(piece, printed)| piece.of > 1 && printed.joined.is_some());
        let joined: BTreeSet<u32> = joined.map(|(piece, _)| piece.number).collect();
        let trial = state.shop.parts.get(id).is_some_and(|part| part.trial > 0);
        let known = state.trials.get(id).cloned().unwrap_or_default();
        PartTally {
            part: part.id.clone(),
            needed,
            printed: count(whole.iter()),
            pieces: count(made.iter()),
            joined: count(joined.iter()),
            lost: lost.get(id).copied().unwrap_or(0),
            trial: trial.then_some(TrialTally {
                approved: known.approved,
                variants: (part.variants.iter())
                    .map(|variant| variant.name.clone())
                    .collect(),
                variant: known.chosen,
                rejected: known.rejected,
            }),
        }
    });
    parts.collect()
}

fn count<T>(all: impl Iterator<Item = T>) -> u32 {
    u32::try_from(all.count()).unwrap_or(u32::MAX)
}

fn orders(state: &State, bought: &BTreeMap<String, u32>) -> Vec<OrderTally> {
    let planned = state.plan().into_iter().flat_map(|plan| &plan.orders);
    let open = planned.filter_map(|order| {
        let bought = bought.get(&order.filament).copied().unwrap_or(0);
        let spools = order.spools.saturating_sub(bought);
        (spools > 0).then(|| OrderTally {
            filament: order.filament.clone(),
            spools,
            order_by: order.order_by,
        })
    });
    let mut open: Vec<OrderTally> = open.collect();
    open.sort_by_key(|order| order.order_by);
    open
}

fn gluings(state: &State) -> Vec<GluingTally> {
    let made = state.made.iter();
    let joined = made.filter(|(_, printed)| printed.joined.is_some());
    let joined: BTreeSet<(&str, u32)> = joined
        .map(|(piece, _)| (piece.part.as_str(), piece.number))
        .collect();
    let planned = state.plan().into_iter().flat_map(|plan| &plan.gluings);
    let open = planned.filter(|one| {
        let joined = joined.contains(&(one.part.as_str(), one.number));
        // Whoever has built it in has joined it, noted or not.
        !joined && !state.built_in(&one.part, one.number)
    });
    let open = open.map(|one| GluingTally {
        part: one.part.clone(),
        number: one.number,
        planned: one.work.first().map(|work| work.from),
    });
    open.collect()
}
