//! The plan's runs as they are expected now: moved as far as what is late, out of use or missing pushes them.
//!
//! Knows: the state, the accepted plan, bench hours, outages, when an order can come. Must not know: how it is shown.
//! Promises: no run is expected before now, before it was planned, while its machine is out of use, before its filament can be there, or,
//! where it is set up, with nobody there.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};

use super::progress::UNKNOWN_OUTAGE;
use super::state::{RunKey, State};
use crate::calendar::{Calendar, delivered};
use crate::scenario::{FilamentIndex, MachineIndex, Scenario};

/// A run still to be started.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Expected {
    /// When its setup is expected, or its start, where it follows another without one.
    pub(super) begins: DateTime<Utc>,
    /// Which.
    pub(super) run: RunKey,
    /// Where that is why it begins later: when its filament can be there, if it is ordered today or is on its way.
    pub(super) waits: Option<DateTime<Utc>>,
}

/// The plan's runs as they are expected now.
pub(super) struct Forecast {
    /// Runs still to be started, in the order in which they are expected.
    pub(super) begins: Vec<Expected>,
    /// By assembly, by how much its latest run is later than planned.
    pub(super) behind: BTreeMap<String, TimeDelta>,
}

/// When the spool of a run that prints ends before it, or is to be changed by the plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SpoolEnd {
    /// When.
    pub(super) at: DateTime<Utc>,
    /// Whether somebody is there then.
    pub(super) attended: bool,
    /// For how long the run stands then: until somebody is there.
    pub(super) stands: TimeDelta,
    /// When somebody is to change it though it is not empty: as planned; or, where it would end with nobody there and another that is
    /// here lasts for the rest, shortly before the last bench hours until then are over.
    pub(super) change: Option<DateTime<Utc>>,
}

/// So many minutes before the bench hours end a spool is changed early, so that it is done in them: as plans have it.
const EARLY: i32 = 5;

impl SpoolEnd {
    /// Of the spool on the machine of a run that prints; `None`: it lasts, or is not known.
    pub(super) fn of(calendar: &Calendar, state: &State, key: RunKey) -> Option<Self> {
        let planned = state.planned(key);
        let attempt = state.attempts.get(&key)?;
        let until = state.expected_end(key)?;
        let machine = state.machines.get(&planned.machine)?;
        let left = match &machine.spool {
            Some(spool) => state.spools.get(spool)?.grams,
            // It was said to be empty, and no other is known to be on.
            None if attempt.taken > 0.0 => 0.0,
            None => return None,
        };
        let lasts = (attempt.taken + left) / planned.grams;
        if lasts >= 1.0 {
            return None;
        }
        let whole = (until - attempt.started).num_minutes() as f64;
        let at = attempt.started + TimeDelta::try_minutes((whole * lasts) as i64)?;
        // By the plan somebody changes it before: as long after the start as was planned.
        let changes = planned.spool_ends.iter().filter(|end| end.attended);
        let changes = changes.map(|end| attempt.started + (end.at - planned.start));
        let change = changes.filter(|&change| change < at).max();
        let change = change.filter(|&change| {
            let minute = calendar.minute(change).max(0);
            calendar.next_presence(minute) == Some(minute)
        });
        let ends = change.unwrap_or(at);
        let minute = calendar.minute(ends).max(0);
        let there = calendar.next_presence(minute)?;
        let attended = there == minute;
        Some(Self {
            at: ends,
            attended,
            stands: TimeDelta::minutes(i64::from(there - minute)),
            change: if attended {
                change
            } else {
                Self::early(calendar, state, key, at)
            },
        })
    }

    /// When somebody can change a spool that would end at a moment with nobody there, if another that is here lasts for the rest.
    fn early(
        calendar: &Calendar,
        state: &State,
        key: RunKey,
        at: DateTime<Utc>,
    ) -> Option<DateTime<Utc>> {
        let windows = calendar.windows();
        let before = windows.partition_point(|window| window.open < calendar.minute(at));
        let window = windows.get(before.checked_sub(1)?)?;
        let change = calendar.moment((window.close - EARLY).max(window.open));
        let started = state.attempts.get(&key)?.started;
        let planned = state.planned(key);
        let rest = planned.grams - state.flowed(key, change);
        let mut others = state.spools.iter().filter(|(id, spool)| {
            spool.filament == planned.filament
                && spool.is_here(change)
                && state.machine_of(id).is_none()
        });
        let lasts = others.any(|(_, spool)| spool.grams >= rest);
        (lasts && change > started && change < at).then_some(change)
    }
}

impl Forecast {
    pub(super) fn new(
        scenario: &Scenario,
        calendar: &Calendar,
        state: &State,
        now: DateTime<Utc>,
    ) -> Self {
        let mut free: BTreeMap<&str, DateTime<Utc>> = BTreeMap::new();
        let mut ends: Vec<(RunKey, TimeDelta)> = Vec::new();
        for (machine, &key) in &state.running {
            let stands = SpoolEnd::of(calendar, state, key).map_or(TimeDelta::zero(), |e| e.stands);
            let end = state.expected_end(key).unwrap_or(now) + stands;
            let end = end.max(now);
            free.insert(machine, end);
            ends.push((key, end - state.planned_end(key)));
        }
        for (machine, known) in &state.machines {
            if let Some((_, _, until)) = &known.down {
                let up = until
                    .filter(|until| *until > now)
                    .unwrap_or(now + UNKNOWN_OUTAGE);
                let from = free.entry(machine).or_insert(now);
                *from = up.max(*from);
            }
        }
        let mut coming = Coming::new(scenario, state, now);
        let mut begins = Vec::new();
        let open = state.open_runs();
        for (&key, need) in open.iter().zip(state.needs(&open)) {
            let planned = state.planned(key);
            let from = free.entry(&planned.machine).or_insert(now);
            let ready = planned.begins().max(*from);
            let filament = coming.take(&planned.filament, need);
            let waits = filament.filter(|&there| there > ready);
            let lasts = planned.end - planned.begins();
            let mut begin = ready.max(waits.unwrap_or(ready));
            let mut late = begin > planned.begins();
            let machine = (scenario.machines.iter()).position(|m| m.id == planned.machine);
            let outages = machine.map_or(&[][..], |at| calendar.outages(MachineIndex(at)));
            loop {
                if late && planned.setup.is_some() {
                    let there = calendar.next_presence(calendar.minute_from(begin).max(0));
                    begin = there.map_or(begin, |minute| begin.max(calendar.moment(minute)));
                }
                let end = begin.checked_add_signed(lasts).unwrap_or(begin);
                let clash = outages.iter().find(|outage| {
                    calendar.moment(outage.open) < end && begin < calendar.moment(outage.close)
                });
                // Each turn leaves an outage behind.
                match clash {
                    Some(outage) => begin = calendar.moment(outage.close),
                    None => break,
                }
                late = true;
            }
            // Many long runs one after the other may leave the calendar; then the last date that it has stands.
            *from = begin.checked_add_signed(lasts).unwrap_or(begin);
            ends.push((key, *from - planned.end));
            begins.push(Expected {
                begins: begin,
                run: key,
                waits,
            });
        }
        begins.sort_by_key(|expected| (expected.begins, expected.run));
        let mut behind: BTreeMap<String, TimeDelta> = BTreeMap::new();
        for (key, late) in ends {
            for piece in &state.planned(key).pieces {
                if let Some(assembly) = &piece.assembly {
                    let known = behind.entry(assembly.clone()).or_default();
                    *known = (*known).max(late);
                }
            }
        }
        Self { begins, behind }
    }
}

/// What there will be of each filament by when, as runs take of it in the plan's order.
///
/// `stock` has steps of its own (`OnHand::supply`), which look alike and are not: they leave out what is ordered in time and spool ends too
/// small for the margin, since a plan may choose. Here the runs are given, and every gram counts that the log knows of. What both
/// share, when an order of a day comes, is in `calendar`.
struct Coming {
    filaments: BTreeMap<String, Taken>,
}

/// One filament.
struct Taken {
    /// Grams taken so far.
    grams: f64,
    /// What comes when, the first first; from the last moment on without limit.
    comes: Vec<(DateTime<Utc>, f64)>,
}

impl Coming {
    /// What is on the spools when what prints has ended.
    fn new(scenario: &Scenario, state: &State, now: DateTime<Utc>) -> Self {
        let mut after = state.clone();
        after.latest = after.latest.max(now);
        after.end_all();
        let today = now.with_timezone(&scenario.build.zone).date_naive();
        let of = |index: usize| {
            let id = &scenario.filaments[index].id;
            let spools = after
                .spools
                .values()
                .filter(|spool| spool.filament == *id)
                .map(|spool| {
                    let from = spool.arrives.filter(|_| !spool.is_here(now));
                    (from.unwrap_or(now), spool.grams)
                });
            let order = delivered(scenario, FilamentIndex(index), today);
            let mut comes: Vec<(DateTime<Utc>, f64)> = spools
                .chain(order.map(|at| (at.max(now), f64::INFINITY)))
                .collect();
            comes.sort_by_key(|&(at, _)| at);
            (id.clone(), Taken { grams: 0.0, comes })
        };
        Self {
            filaments: (0..scenario.filaments.len()).map(of).collect(),
        }
    }

    /// The first moment at which so much more of a filament can be there.
    fn take(&mut self, filament: &str, grams: f64) -> Option<DateTime<Utc>> {
        let taken = self.filaments.get_mut(filament)?;
        taken.grams += grams;
        let mut there = 0.0;
        let enough = taken.comes.iter().find(|(_, grams)| {
            there += grams;
            there >= taken.grams
        });
        enough.map(|&(at, _)| at)
    }
}
