//! What a plan of the rest of a build goes on from, held against what has been done.
//!
//! Knows: progress, the scenario, what the plan says that exists. Must not know: how the rest was planned.
//! Promises: what the other checks take for given is so.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

use super::Faults;
use super::presence::{Minute, Presence, minute, opening};
use super::rule::Rule;
use crate::plan::{Given, Plan};
use crate::progress::Progress;
use crate::scenario::{AssemblyIndex, MachineIndex, Outage, PartIndex, Scenario};
use crate::units::Money;

/// The scenario with what is true now: its start, what is loaded, out of order, on the shelf, measured.
pub(super) fn as_it_is(scenario: &Scenario, progress: &Progress) -> Scenario {
    let mut now = scenario.clone();
    now.build.start = rounded(progress.now);
    for one in &progress.measured {
        now.measured.push(one.clone());
    }
    for (at, spools) in progress.spools.iter().enumerate() {
        now.filaments[at].spools = spools.iter().map(|spool| spool.grams).collect();
    }
    for (at, state) in progress.machines.iter().enumerate() {
        let machine = &mut now.machines[at];
        machine.loaded = state.loaded;
        if let Some(to) = state.down_until.filter(|&to| to > now.build.start) {
            machine.offline.push(Outage {
                from: now.build.start,
                to,
                why: String::new(),
            });
        }
    }
    for run in &progress.running {
        now.machines[run.machine.0].loaded = run.filament;
    }
    now
}

/// Up to the next whole minute.
fn rounded(at: DateTime<Utc>) -> DateTime<Utc> {
    let down = minute(at).saturating_mul(60);
    let floor = DateTime::from_timestamp(down, 0).unwrap_or(at);
    if floor == at {
        at
    } else {
        floor
            .checked_add_signed(TimeDelta::minutes(1))
            .unwrap_or(at)
    }
}

/// A run of the accepted plan: where, when printing starts, its pieces by part and lengths of the copy, in order.
type Accepted = (MachineIndex, Minute, Vec<(PartIndex, u32)>);

/// Facts that the other checks rest on.
#[derive(Default)]
pub(super) struct Facts {
    /// Whether anything has been done; to be said by whoever knows the scenario as it was.
    pub any: bool,
    /// By machine: when the run on it ends.
    pub busy: BTreeMap<usize, Minute>,
    /// Machines whose run stands before its end for want of filament: nothing follows it by itself.
    pub stopping: BTreeSet<usize>,
    /// Assemblies whose bench work is done, and when they are complete.
    pub complete: BTreeMap<AssemblyIndex, Minute>,
    /// Assemblies that were started and are not complete: minutes of bench hours since then.
    pub worked: BTreeMap<AssemblyIndex, i64>,
    /// By part: copies up to this number are its trial, and must be approved.
    pub trial: Vec<u32>,
    /// Copies of which the one piece that makes them exists or prints, or that have been joined.
    pub whole: BTreeSet<(PartIndex, u32)>,
    /// Runs of the accepted plan: where, when printing starts, and its pieces by part and lengths, in order.
    pub accepted: Vec<Accepted>,
    /// What the plan says that it goes on from, by copy.
    pub pieces: BTreeMap<(PartIndex, u32), Vec<Given>>,
    /// By filament: what there is and what comes.
    pub spools: Vec<Vec<Held>>,
    /// The local date on which a plan was asked for, if it was after something was done: nothing is ordered before it.
    pub asked: Option<NaiveDate>,
}

/// A spool that is there or on its way.
#[derive(Clone, Debug)]
pub(super) struct Held {
    /// Its name.
    pub id: String,
    pub grams: f64,
    /// The machine that it is on.
    pub on: Option<usize>,
    /// From when on it can be used, if not at once.
    pub from: Option<Minute>,
    /// Whether it arrives then.
    pub comes: bool,
}

impl Facts {
    /// The first minute at which an order of a filament can be there; `None` where it can be ordered in time.
    pub fn ordered_there(&self, scenario: &Scenario, filament: usize) -> Option<Minute> {
        let over = self.asked?.succ_opt()?;
        let sent = opening(scenario.build.zone, over, 0)?;
        Some(sent.saturating_add(scenario.filaments[filament].lead.value()))
    }
}

impl Facts {
    pub fn gather(scenario: &Scenario, progress: &Progress, plan: &Plan) -> Self {
        let mut facts = Self::default();
        let now = minute(rounded(progress.now));
        for run in &progress.running {
            let end = minute(rounded(run.end)).max(now);
            facts.busy.insert(run.machine.0, end);
            if run.stops.is_some() {
                facts.stopping.insert(run.machine.0);
            }
        }
        let zone = scenario.build.zone;
        let asked = progress.orders_from;
        facts.asked = asked.map(|at| at.with_timezone(&zone).date_naive());
        for spools in &progress.spools {
            let held = spools.iter().map(|spool| {
                let on = spool.on.map(|machine| machine.0);
                let arrives = spool.arrives.map(|at| minute(rounded(at)));
                let arrives = arrives.filter(|&at| at > now);
                let prints = on.and_then(|machine| facts.busy.get(&machine).copied());
                Held {
                    id: spool.id.clone(),
                    grams: spool.grams.value(),
                    on,
                    from: arrives.max(prints),
                    comes: arrives.is_some(),
                }
            });
            facts.spools.push(held.collect());
        }
        for (at, assembly) in scenario.assemblies.iter().enumerate() {
            if let Some(done) = progress.assemblies.get(at).and_then(|state| state.complete) {
                let complete = minute(rounded(done)).saturating_add(assembly.cure.value());
                facts.complete.insert(AssemblyIndex(at), complete);
            }
        }
        for (at, state) in progress.assemblies.iter().enumerate() {
            let Some(started) = state.started.filter(|_| state.complete.is_none()) else {
                continue;
            };
            let mut earlier = scenario.clone();
            earlier.build.start = started;
            let hours = Presence::of(&earlier, now);
            let worked = hours.within(minute(rounded(started)), now);
            facts.worked.insert(AssemblyIndex(at), worked);
        }
        for (at, part) in scenario.parts.iter().enumerate() {
            let approved = progress
                .trials
                .get(at)
                .is_some_and(|t| t.approved.is_some());
            facts.trial.push(if approved { 0 } else { part.trial });
        }
        let made = progress.made.iter();
        let whole = made.filter(|made| made.piece.of == 1 || made.joined.is_some());
        let placed = progress.running.iter().flat_map(|run| &run.pieces);
        let placed = placed
            .map(|placed| placed.piece)
            .filter(|piece| piece.of == 1);
        for piece in whole.map(|made| made.piece).chain(placed) {
            facts.whole.insert((piece.part, piece.number));
        }
        let accepted = progress.previous.iter().flat_map(|previous| &previous.runs);
        for run in accepted.filter(|run| !run.scrapped) {
            let pieces = run.pieces.iter().map(|placed| placed.piece);
            let mut what: Vec<_> = pieces.map(|piece| (piece.part, piece.of)).collect();
            what.sort_unstable();
            facts.accepted.push((run.machine, minute(run.start), what));
        }
        for given in plan.since.iter().flat_map(|since| &since.pieces) {
            let copy = facts.pieces.entry((given.part, given.number));
            copy.or_default().push(*given);
        }
        facts
    }
}

/// [`Rule::Given`].
pub(super) fn check(
    scenario: &Scenario,
    progress: &Progress,
    plan: &Plan,
    facts: &Facts,
    faults: &mut Faults,
) {
    let mut given = |holds: bool, what: &dyn Fn() -> String| {
        faults.require(holds, Rule::Given, what);
    };
    given(plan.since.is_some() == facts.any, &|| {
        "the plan goes on from something where nothing has been done, or from nothing".into()
    });
    let Some(since) = &plan.since else { return };
    given(since.now == rounded(progress.now), &|| {
        format!("the plan goes on from {}", since.now)
    });
    let trials = progress.trials.iter().enumerate();
    let chosen: Vec<(PartIndex, usize)> = trials
        .filter(|(_, trial)| trial.approved.is_some())
        .filter_map(|(part, trial)| Some((PartIndex(part), trial.chosen?)))
        .collect();
    given(plan.chosen == chosen, &|| {
        "the variants said to be chosen are others".into()
    });
    let complete: BTreeMap<AssemblyIndex, Minute> = since
        .complete
        .iter()
        .map(|&(a, at)| (a, minute(at)))
        .collect();
    given(complete == facts.complete, &|| {
        "the assemblies said to be complete are others".into()
    });
    let mut running: Vec<(&str, usize, Minute, Option<DateTime<Utc>>)> = since
        .running
        .iter()
        .map(|run| (run.id.as_str(), run.machine.0, minute(run.end), run.stops))
        .collect();
    let now = minute(since.now);
    let mut printing: Vec<(&str, usize, Minute, Option<DateTime<Utc>>)> = progress
        .running
        .iter()
        .map(|run| {
            (
                run.id.as_str(),
                run.machine.0,
                minute(rounded(run.end)).max(now),
                run.stops,
            )
        })
        .collect();
    running.sort_unstable();
    printing.sort_unstable();
    given(running == printing, &|| {
        "the runs said to be printing are others".into()
    });
    let overdue = |run: &crate::progress::Running| {
        let end = rounded(run.end);
        (minute(end) < now).then_some(end)
    };
    let late = since.running.iter().all(|standing| {
        let mut noted = progress.running.iter();
        noted.any(|run| run.id == standing.id && overdue(run) == standing.overdue)
    });
    given(late, &|| "the runs said to be overdue are others".into());
    given(since.ended == progress.ended, &|| {
        "the runs said to have ended are others".into()
    });
    for standing in &since.running {
        let noted = progress.running.iter().find(|run| run.id == standing.id);
        let noted = noted.into_iter().flat_map(|run| &run.pieces);
        let noted = noted.map(|placed| {
            let name = placed.piece;
            (name.part, name.number, name.length, name.of)
        });
        let said = standing.pieces.iter();
        let said = said.map(|piece| (piece.part, piece.number, piece.length, piece.of));
        given(said.eq(noted), &|| {
            format!("{} is said to print other pieces", standing.id)
        });
        // Another of the same name may have been there before it.
        let serves = standing.pieces.iter().all(|piece| {
            let known = since.pieces.iter().find(|one| {
                (one.part, one.number, one.length, one.of)
                    == (piece.part, piece.number, piece.length, piece.of)
                    && one.printed == standing.end
            });
            known.and_then(|one| one.assembly) == piece.assembly
        });
        given(serves, &|| {
            format!("a piece on {} is said to be for another use", standing.id)
        });
    }
    let accepted = progress.previous.is_some();
    let differences = progress.previous.iter().flat_map(|plan| &plan.differences);
    let told = since.accepted == accepted && since.differences.iter().eq(differences);
    given(told, &|| {
        "the plan says otherwise where the scenario has changed".into()
    });
    let churn = if accepted {
        scenario.build.churn
    } else {
        Money::ZERO
    };
    given(since.churn == churn, &|| {
        format!(
            "{} is charged for each change, and {} is to be",
            since.churn.0, churn.0
        )
    });
    let known = known(progress, now);
    let mut seen = BTreeSet::new();
    for piece in &since.pieces {
        let name = || {
            format!(
                "{} {} (length {} of {})",
                scenario.parts[piece.part.0].id, piece.number, piece.length, piece.of
            )
        };
        let key = (piece.part, piece.number, piece.length, piece.of);
        given(seen.insert(key), &|| {
            format!("{} is said twice to be there", name())
        });
        let there = known.get(&key);
        given(
            there.is_some_and(|there| there.contains(&minute(piece.printed))),
            &|| {
                format!(
                    "{} is said to be there from {} and is not",
                    name(),
                    piece.printed
                )
            },
        );
        let copy = progress.made.iter().filter(|made| {
            (made.piece.part, made.piece.number, made.piece.of)
                == (piece.part, piece.number, piece.of)
        });
        let joined = copy.filter_map(|made| made.joined).next();
        let split = scenario.parts[piece.part.0].split.as_ref();
        let cure = split.map_or(0, |split| scenario.joints[split.joint.0].cure.value());
        let cured = joined.map(|at| minute(rounded(at)).saturating_add(cure));
        given(piece.joined.map(minute) == cured, &|| {
            format!("{} is said to be joined at another time", name())
        });
    }
    // What complete assemblies have taken is gone, whatever it was printed for; all else that is whole counts.
    let mut lengths: BTreeMap<(PartIndex, u32, u32), (u32, bool)> = BTreeMap::new();
    for (key, moments) in &known {
        let copy = lengths.entry((key.0, key.1, key.3)).or_insert((0, true));
        copy.0 += 1;
        copy.1 &= moments.iter().any(|&at| at <= now);
    }
    for (at, part) in scenario.parts.iter().enumerate() {
        let gone: u32 = facts
            .complete
            .keys()
            .flat_map(|a| &scenario.assemblies[a.0].parts)
            .filter(|(part, _)| part.0 == at)
            .map(|(_, count)| count)
            .sum();
        let (mut whole, mut uncounted, mut undivided) = (0, 0, 0);
        for (&(of_part, number, of), &(printed, there)) in &lengths {
            if of_part.0 != at || printed != of {
                continue;
            }
            let counts = seen.contains(&(of_part, number, 1, of));
            whole += u32::from(there);
            uncounted += u32::from(!counts);
            undivided += u32::from(!counts && of == 1);
        }
        given(undivided <= gone, &|| {
            format!(
                "{undivided} copies of {} are there and do not count, and {gone} are built in",
                part.id
            )
        });
        given(uncounted >= gone.min(whole), &|| {
            format!(
                "{gone} copies of {} are built in, and {uncounted} do not count",
                part.id
            )
        });
    }
}

/// Part, copy, length, of how many.
type Key = (PartIndex, u32, u32, u32);

/// All pieces that exist or print, and when each is there.
fn known(progress: &Progress, now: Minute) -> BTreeMap<Key, Vec<Minute>> {
    let mut known: BTreeMap<Key, Vec<Minute>> = BTreeMap::new();
    let made = progress
        .made
        .iter()
        .map(|made| (made.piece, minute(rounded(made.printed))));
    let placed = progress.running.iter().flat_map(|run| {
        let end = minute(rounded(run.end)).max(now);
        run.pieces.iter().map(move |placed| (placed.piece, end))
    });
    for (piece, at) in made.chain(placed) {
        let key = (piece.part, piece.number, piece.length, piece.of);
        known.entry(key).or_default().push(at);
    }
    known
}
