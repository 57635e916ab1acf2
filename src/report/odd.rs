//! What is odd about an event by where the shop stands before it, though it may be as it is said: the log, or the scenario, may lack something.
//!
//! Knows: events, the state, the build's zone. Must not know: what may be noted.
//! Promises: nothing is refused here; each says what to note if it is a slip, or what else is not so.

use chrono::{DateTime, TimeDelta, Utc};

use crate::scenario::Scenario;
use crate::shoplog::{Attempt, Event, PlannedRun, State};
use crate::units::Grams;

use super::local::Local;
use super::log::because;
use super::words;

/// All that is odd about an event, before it is noted.
pub fn odd(scenario: &Scenario, state: &State, event: &Event, at: DateTime<Utc>) -> Vec<String> {
    let odd = Odd {
        scenario,
        state,
        at,
        local: Local(scenario.build.zone),
    };
    let told = match event {
        Event::Started { run, spool } => {
            let key = state.current(run);
            let machine = key.map(|key| state.planned(key).machine.as_str());
            vec![
                machine.and_then(|machine| odd.offline(machine)),
                spool.as_deref().and_then(|spool| odd.to_come(spool)),
                (spool.as_deref().zip(machine))
                    .and_then(|(spool, machine)| odd.material(spool, machine)),
            ]
        }
        Event::Finished { run, .. } => vec![odd.took_more(run)],
        Event::SpoolOpened { spool, machine } => vec![
            odd.to_come(spool),
            odd.material(spool, machine),
            odd.opened_late(machine),
        ],
        Event::SpoolWeighed { spool, .. } => vec![odd.to_come(spool), odd.weighed_late(spool)],
        Event::SpoolEmpty { spool } => vec![odd.emptied_late(spool)],
        Event::Down { machine, .. } => vec![odd.printed_on(machine)],
        Event::AssemblyStarted { assembly } => vec![odd.cures(assembly)],
        Event::AssemblyComplete { assembly } => {
            let begun = state.assemblies.contains_key(assembly);
            vec![(!begun).then(|| odd.cures(assembly)).flatten()]
        }
        _ => Vec::new(),
    };
    told.into_iter().flatten().collect()
}

/// What is asked of an event.
struct Odd<'a> {
    scenario: &'a Scenario,
    state: &'a State,
    at: DateTime<Utc>,
    local: Local,
}

impl Odd<'_> {
    fn full(&self, at: DateTime<Utc>) -> String {
        self.local.full(at)
    }

    /// A spool is here that was to come later.
    fn to_come(&self, spool: &str) -> Option<String> {
        let arrives = self.state.spools.get(spool)?.arrives?;
        (arrives > self.at).then(|| {
            format!(
                "{spool} was to arrive {}: it counts as here from now on; `undo` if it is another spool.",
                self.full(arrives)
            )
        })
    }

    /// A machine prints what the scenario says that it cannot.
    fn material(&self, spool: &str, machine: &str) -> Option<String> {
        let filament = &self.state.spools.get(spool)?.filament;
        let filaments = &self.scenario.filaments;
        let material = &filaments
            .iter()
            .find(|known| known.id == *filament)?
            .material;
        let machines = &self.scenario.machines;
        let prints = &machines.iter().find(|known| known.id == machine)?.materials;
        (!prints.contains(material)).then(|| {
            let prints: Vec<&str> = prints.iter().map(String::as_str).collect();
            format!(
                "{spool} is {material}, and by the scenario {machine} prints {}: `undo` if it is another spool, or another machine.",
                prints.join(" and ")
            )
        })
    }

    /// A machine is in use that is out of it by the scenario.
    fn offline(&self, machine: &str) -> Option<String> {
        let machine = self.scenario.machines.iter().find(|m| m.id == machine)?;
        let mut spans = machine.offline.iter();
        let span = spans.find(|span| span.from <= self.at && self.at < span.to)?;
        Some(format!(
            "By the scenario {} is out of use until {}{}: if it is in use again, take that out of its `offline`, so that plans \
             count on it; if this is a slip, `undo`.",
            machine.id,
            self.full(span.to),
            because(&span.why)
        ))
    }

    /// A run took more than its spool had.
    fn took_more(&self, run: &str) -> Option<String> {
        let state = self.state;
        let key = state.running(run)?;
        let planned = state.planned(key);
        let machine = state.machines.get(&planned.machine)?;
        let spool = machine.spool.as_ref()?;
        let had = state.spools.get(spool)?.grams;
        let took = planned.grams - state.attempts.get(&key)?.taken;
        // Where the plan changes spools in it, one that ends is as it should be; and a little may always be off.
        (planned.spool_ends.is_empty() && took > had + (took * 0.05).max(1.0)).then(|| {
            format!(
                "{spool} had {} left by the log, and {run} took {} from then on: note `spool weighed {spool} GRAMS`, and `spool opened SPOOL {}` \
                 if another was put on.",
                words::mass(Grams(had)),
                words::mass(Grams(took)),
                planned.machine
            )
        })
    }

    /// The last run on a machine of which something is noted that is of later than the moment.
    fn after(&self, machine: &str) -> Option<(&PlannedRun, &Attempt)> {
        let attempts = self.state.attempts.iter();
        let here = attempts.map(|(&key, attempt)| (self.state.planned(key), attempt));
        let here = here.filter(|(planned, _)| planned.machine == machine);
        here.filter(|(_, attempt)| {
            let last = attempt.ended.as_ref().map_or(attempt.started, |end| end.at);
            last > self.at
        })
        .max_by_key(|(_, attempt)| attempt.started)
    }

    /// A spool was put on before a run came to its end that is noted as ended: what that took is taken.
    fn opened_late(&self, machine: &str) -> Option<String> {
        let (run, attempt) = self.after(machine)?;
        let ended = attempt.ended.as_ref()?;
        Some(format!(
            "{} printed on {machine} until {}, after that, and what it took stays off the spool that was on by the log: weigh both, \
             `spool weighed SPOOL GRAMS`.",
            run.id,
            self.full(ended.at)
        ))
    }

    /// Since the scales said so something has left the spool.
    fn weighed_late(&self, spool: &str) -> Option<String> {
        let known = self.state.spools.get(spool)?;
        if let Some(last) = known.weighed.filter(|last| *last > self.at) {
            return Some(format!(
                "{spool} was weighed, or found empty, {}, after that: what the scales said then stays.",
                self.full(last)
            ));
        }
        let since = known.drawn_since(self.at);
        (since > 0.5).then(|| {
            format!(
                "By the log {} have left {spool} since, and are taken off.",
                words::mass(Grams(since))
            )
        })
    }

    /// Something has left a spool since it is said to be empty.
    fn emptied_late(&self, spool: &str) -> Option<String> {
        let since = self.state.spools.get(spool)?.drawn_since(self.at);
        (since > 0.5).then(|| {
            format!(
                "By the log {} have left {spool} since: they are of another spool; weigh that one, `spool weighed SPOOL GRAMS`.",
                words::mass(Grams(since))
            )
        })
    }

    /// A machine went down before what was noted of it.
    fn printed_on(&self, machine: &str) -> Option<String> {
        if self.state.machines.get(machine)?.down.is_some() {
            return None; // more is known of the same outage
        }
        let (run, attempt) = self.after(machine)?;
        let ended = attempt.ended.as_ref();
        Some(match ended.filter(|_| attempt.started <= self.at) {
            None => format!(
                "{} was started on {machine} {}, after that: if it was up again by then, note `up {machine} --at` with when it was; if this is a \
                 slip, `undo`.",
                run.id,
                self.full(attempt.started)
            ),
            Some(ended) => format!(
                "{} printed on {machine} until {}, after that, as it is noted: `undo` if it went down later.",
                run.id,
                self.full(ended.at)
            ),
        })
    }

    /// Something that goes into an assembly has not cured.
    fn cures(&self, assembly: &str) -> Option<String> {
        let (what, until) = self.state.cures(assembly, self.at)?;
        let left = until - self.at;
        (left >= TimeDelta::minutes(1)).then(|| {
            format!(
                "{what}, which goes into it, cures until {}: see that it holds, or `undo` if {assembly} was begun later.",
                self.full(until)
            )
        })
    }
}
