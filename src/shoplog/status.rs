//! How the shop stands at a moment: what prints, what comes next at the bench, which stages slip, which filament runs short.
//!
//! Knows: the state, the accepted plan, bench hours. Must not know: how it is shown.
//! Promises: what is expected is the plan, moved as far as what is late pushes it, and no earlier than planned.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};

use super::event::Event;
use super::forecast::{Forecast, SpoolEnd};
use super::rules;
use super::stages::Ends;
use super::state::{RunKey, State};
use super::tally::Tally;
use crate::calendar::Calendar;
use crate::scenario::Scenario;

/// How the shop stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Status {
    /// The moment.
    pub now: DateTime<Utc>,
    /// Whether a plan has been accepted.
    pub planned: bool,
    /// What prints, by machine.
    pub printing: Vec<Printing>,
    /// Machines that do not, or are out of order.
    pub idle: Vec<Idle>,
    /// What is to be done at the bench, the next first.
    pub next: Vec<Next>,
    /// Assemblies with a date.
    pub stages: Vec<Stage>,
    /// Filaments of which what is here does not last.
    pub low: Vec<Low>,
    /// Good pieces.
    pub printed: usize,
    /// Pieces that were no good.
    pub lost: u32,
    /// Pieces still to be printed: by the plan, those on machines among them, and those in no run.
    pub to_print: usize,
    /// Pieces that were no good and that no run of the plan makes again, by part: it is to be planned again.
    pub in_no_run: BTreeMap<String, usize>,
    /// What there is.
    pub tally: Tally,
}

/// A run that prints.
#[derive(Clone, Debug, PartialEq)]
pub struct Printing {
    /// Where.
    pub machine: String,
    /// What.
    pub run: String,
    /// Parts on it, and how many pieces of each.
    pub pieces: Vec<(String, usize)>,
    /// When it was started.
    pub started: DateTime<Utc>,
    /// When it should end.
    pub until: DateTime<Utc>,
    /// When the spool on the machine ends, if the run does not end before.
    pub spool_ends: Option<DateTime<Utc>>,
    /// Whether nobody is there then, so that the run stands until somebody comes.
    pub stops: bool,
    /// When somebody is to change the spool though it is not empty: as planned, or so that the run does not stand.
    pub change: Option<DateTime<Utc>>,
    /// Where it ends or is changed: the name of the one that follows, as planned or as it is taken where nobody says another.
    pub next_spool: Option<String>,
}

/// A machine that does not print, or is out of order.
#[derive(Clone, Debug, PartialEq)]
pub struct Idle {
    /// Which.
    pub machine: String,
    /// Since when and why it is out of order, if it is.
    pub down: Option<(DateTime<Utc>, String)>,
    /// Until when it is, where that was said.
    pub down_until: Option<DateTime<Utc>>,
    /// Until when and why it is out of use by the scenario, if it is.
    pub offline: Option<(DateTime<Utc>, String)>,
}

/// Something to do at the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// When it is expected.
    pub at: DateTime<Utc>,
    /// What.
    pub what: Task,
}

/// What is to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Task {
    /// A run is to be set up.
    SetUp {
        /// Which.
        run: String,
        /// Where.
        machine: String,
        /// What it prints with.
        filament: String,
        /// Whether another filament is in the machine before.
        change: bool,
        /// The name of the spool that the plan puts on, where it is one that there is.
        spool: Option<String>,
        /// Where that is why it begins later than planned: when its filament can be there, if it is ordered today or is on its way.
        waits: Option<DateTime<Utc>>,
        /// A part whose trial is to be approved before.
        trial: Option<String>,
    },
    /// Trial copies are to be looked at.
    Approve {
        /// Those of its variants that can be chosen, where it has several.
        variants: Vec<String>,
        /// Of which part.
        part: String,
    },
    /// The lengths of a copy are to be joined.
    Join {
        /// Which part.
        part: String,
        /// Which copy.
        number: u32,
    },
    /// An assembly can be begun.
    Assemble {
        /// Which.
        assembly: String,
    },
    /// An assembly that was begun is to be completed.
    Complete {
        /// Which.
        assembly: String,
    },
}

/// An assembly with a date.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// Which.
    pub assembly: String,
    /// When it should be complete.
    pub due: DateTime<Utc>,
    /// When it was to be complete by the plan.
    pub planned: DateTime<Utc>,
    /// When it is now expected; when it was complete, if it is.
    pub expected: DateTime<Utc>,
    /// Whether it is complete.
    pub complete: bool,
}

/// A filament that does not last.
#[derive(Clone, Debug, PartialEq)]
pub struct Low {
    /// Which.
    pub filament: String,
    /// Grams that the plan's runs still need, what prints now and what is purged in between included.
    pub needed: f64,
    /// Grams on the spools that are here.
    pub here: f64,
    /// Grams on spools that are on their way.
    pub coming: f64,
}

/// How the shop stands at a moment; `bought`: spools since the plan that is followed, by filament.
pub fn status(
    scenario: &Scenario,
    state: &State,
    bought: &BTreeMap<String, u32>,
    now: DateTime<Utc>,
) -> Status {
    let calendar = Calendar::new(scenario);
    let forecast = Forecast::new(scenario, &calendar, state, now);
    let ends = Ends {
        calendar: &calendar,
        state,
        forecast: &forecast,
        now,
    };
    let in_no_run = in_no_run(state);
    let open = state.open_runs();
    let on: usize = state
        .running
        .values()
        .map(|&key| state.planned(key).pieces.len())
        .sum();
    let planned: usize = open
        .iter()
        .map(|&key| state.planned(key).pieces.len())
        .sum();
    Status {
        now,
        planned: state.plan().is_some(),
        printing: state
            .running
            .values()
            .filter_map(|&key| printing(&calendar, state, key, now))
            .collect(),
        idle: state
            .machines
            .iter()
            .filter(|(id, known)| known.down.is_some() || !state.running.contains_key(*id))
            .map(|(id, machine)| Idle {
                machine: id.clone(),
                down: machine
                    .down
                    .as_ref()
                    .map(|(since, why, _)| (*since, why.clone())),
                down_until: machine.down.as_ref().and_then(|(_, _, until)| *until),
                offline: offline(scenario, id, now),
            })
            .collect(),
        next: next(state, &forecast, now),
        stages: ends.stages(),
        low: low(state, &open, now),
        to_print: on + planned + in_no_run.values().sum::<usize>(),
        in_no_run,
        printed: state.made.len(),
        lost: state.lost.values().sum(),
        tally: Tally::new(scenario, state, bought, now, |id| ends.of(id)),
    }
}

/// The span in which a machine is out of use by the scenario at a moment.
fn offline(
    scenario: &Scenario,
    machine: &str,
    now: DateTime<Utc>,
) -> Option<(DateTime<Utc>, String)> {
    let machine = scenario.machines.iter().find(|m| m.id == machine)?;
    let mut spans = machine.offline.iter();
    let span = spans.find(|span| span.from <= now && now < span.to)?;
    Some((span.to, span.why.clone()))
}

/// Pieces that were no good, and neither were printed since, nor print, nor are on a run still to be started.
fn in_no_run(state: &State) -> BTreeMap<String, usize> {
    let mut missing: BTreeSet<_> = state.lost.keys().cloned().collect();
    missing.retain(|piece| !state.made.contains_key(piece));
    // A copy that was made whole in other lengths lacks nothing.
    let parts: BTreeSet<String> = missing.iter().map(|piece| piece.part.clone()).collect();
    let whole = parts.into_iter().map(|part| {
        let copies = rules::whole_copies(state, &part, DateTime::<Utc>::MAX_UTC);
        (part, copies)
    });
    let whole: BTreeMap<String, BTreeMap<u32, bool>> = whole.collect();
    missing.retain(|piece| !whole[&piece.part].contains_key(&piece.number)); // each part of `missing` is in it
    let runs = state.running.values().copied().chain(state.open_runs());
    for key in runs {
        for piece in &state.planned(key).pieces {
            missing.remove(&state.printed_as(piece).0);
        }
    }
    let mut parts: BTreeMap<String, usize> = BTreeMap::new();
    for piece in missing {
        // What the scenario no longer wants is missed by nobody.
        if state.shop.parts.contains_key(&piece.part) {
            *parts.entry(piece.part).or_default() += 1;
        }
    }
    parts
}

fn printing(
    calendar: &Calendar,
    state: &State,
    key: RunKey,
    now: DateTime<Utc>,
) -> Option<Printing> {
    let planned = state.planned(key);
    let attempt = state.attempts.get(&key)?;
    let until = state.expected_end(key)?;
    let mut pieces: BTreeMap<&str, usize> = BTreeMap::new();
    for piece in &planned.pieces {
        *pieces.entry(piece.part()).or_default() += 1;
    }
    let end = SpoolEnd::of(calendar, state, key);
    let next = end.and_then(|end| {
        let flowed = state.flowed(key, end.change.unwrap_or(end.at));
        state.follows(key, planned.grams - flowed)
    });
    Some(Printing {
        machine: planned.machine.clone(),
        run: planned.id.clone(),
        pieces: pieces
            .into_iter()
            .map(|(part, count)| (part.to_owned(), count))
            .collect(),
        started: attempt.started,
        until: until + end.map_or(TimeDelta::zero(), |end| end.stands),
        spool_ends: end.map(|end| end.at),
        stops: end.is_some_and(|end| !end.attended),
        // What could have been done before now is no advice; what was to be done by the plan, and is not noted, may be.
        change: end.and_then(|end| end.change.filter(|&at| end.attended || at >= now)),
        next_spool: next.map(str::to_owned),
    })
}

fn next(state: &State, forecast: &Forecast, now: DateTime<Utc>) -> Vec<Next> {
    let mut next = Vec::new();
    for (part, known) in state.shop.parts.iter().filter(|(_, known)| known.trial > 0) {
        let may = |variant: Option<&String>| {
            let approved = Event::Approved {
                part: part.clone(),
                variant: variant.cloned(),
            };
            rules::check(state, &approved, now, now).is_ok()
        };
        let printed: Vec<bool> = known.variants.iter().map(|one| may(Some(one))).collect();
        // They are compared when all are there, or will not be: those that were no good are not waited for.
        let no_good = |at: usize| {
            let mut lost = state.lost.keys();
            lost.any(|piece| piece.part == *part && piece.number as usize == at + 1)
        };
        let all = printed
            .iter()
            .enumerate()
            .all(|(at, printed)| *printed || no_good(at));
        let look = match known.variants.len() {
            0 | 1 => may(None),
            _ => all && printed.contains(&true),
        };
        if look {
            let names = known.variants.iter().zip(&printed);
            let several = known.variants.len() > 1;
            let names = names.filter(|(_, printed)| several && **printed);
            let what = Task::Approve {
                part: part.clone(),
                variants: names.map(|(name, _)| name.clone()).collect(),
            };
            next.push(Next { at: now, what });
        }
    }

    let mut copies: BTreeMap<(&str, u32, u32), u32> = BTreeMap::new();
    for (piece, printed) in &state.made {
        if piece.of > 1 && printed.joined.is_none() {
            let copy = (piece.part.as_str(), piece.number, piece.of);
            *copies.entry(copy).or_default() += 1;
        }
    }
    for ((part, number, of), printed) in copies {
        if printed == of && !state.built_in(part, number) {
            let what = Task::Join {
                part: part.to_owned(),
                number,
            };
            next.push(Next { at: now, what });
        }
    }
    for assembly in state.shop.assemblies.keys() {
        let known = state.assemblies.get(assembly);
        let begun = known.is_some_and(|known| known.started.is_some());
        let complete = known.is_some_and(|known| known.complete.is_some());
        let event = Event::AssemblyStarted {
            assembly: assembly.clone(),
        };
        let mut at = now;
        let what = if complete {
            continue;
        } else if begun {
            Task::Complete {
                assembly: assembly.clone(),
            }
        } else if rules::check(state, &event, now, now).is_ok() {
            let cures = state.cures(assembly, now);
            at = cures.map_or(now, |(_, cured)| cured);
            Task::Assemble {
                assembly: assembly.clone(),
            }
        } else {
            continue;
        };
        next.push(Next { at, what });
    }

    let mut loaded: BTreeMap<&str, &str> = BTreeMap::new();
    for (machine, known) in &state.machines {
        if let Some(filament) = &known.loaded {
            loaded.insert(machine, filament);
        }
    }
    for expected in &forecast.begins {
        let planned = state.planned(expected.run);
        let before = loaded.insert(&planned.machine, &planned.filament);
        if planned.setup.is_none() && before == Some(planned.filament.as_str()) {
            continue; // it follows by itself
        }
        let what = Task::SetUp {
            run: planned.id.clone(),
            machine: planned.machine.clone(),
            filament: planned.filament.clone(),
            change: before != Some(planned.filament.as_str()),
            spool: (planned.spool_name.as_ref())
                .filter(|name| state.has_left(name))
                .cloned(),
            waits: expected.waits,
            trial: state.waits_for_trial(expected.run).map(str::to_owned),
        };
        next.push(Next {
            at: expected.begins,
            what,
        });
    }
    next.sort_by_key(|next| next.at);
    next
}

fn low(state: &State, open: &[RunKey], now: DateTime<Utc>) -> Vec<Low> {
    let mut needed: BTreeMap<&str, f64> = BTreeMap::new();
    for (&key, need) in open.iter().zip(state.needs(open)) {
        *needed.entry(&state.planned(key).filament).or_default() += need;
    }
    for &key in state.running.values() {
        let planned = state.planned(key);
        let taken = state
            .attempts
            .get(&key)
            .map_or(0.0, |attempt| attempt.taken);
        *needed.entry(&planned.filament).or_default() += (planned.grams - taken).max(0.0);
    }
    let mut low = Vec::new();
    for (filament, needed) in needed {
        let of = state
            .spools
            .values()
            .filter(|spool| spool.filament == filament);
        let (mut here, mut coming) = (0.0, 0.0);
        for spool in of {
            if spool.is_here(now) {
                here += spool.grams;
            } else {
                coming += spool.grams;
            }
        }
        if needed > here {
            low.push(Low {
                filament: filament.to_owned(),
                needed,
                here,
                coming,
            });
        }
    }
    low
}
