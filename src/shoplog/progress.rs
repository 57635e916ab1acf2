//! From the log to the state that the rest of a build is planned from.
//!
//! Knows: scenario, state, `Progress`. Must not know: how a plan is found, files.
//! Promises: what the scenario no longer knows is left out; a spool's grams are what is left on it when the runs that
//! print now have ended.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, DurationRound, TimeDelta, Utc};

use super::Log;
use super::accepted::{PlannedPiece, PlannedRun, in_years};
use super::basis::basis;
use super::differences::{Difference, differences};
use super::estimated::of_all;
use super::event::Event;
use super::forecast::SpoolEnd;
use super::shelf::NOTHING;
use super::state::{RunKey, State};
use crate::calendar::Calendar;
use crate::progress::{
    AssemblyState, Ended, Gone, GoneRun, MachineState, Made, PieceName, Placed, Previous,
    PreviousRun, Progress, Running, Spool, TrialState,
};
use crate::scenario::{
    AssemblyIndex, Axis, FilamentIndex, MachineIndex, Part, PartIndex, Scenario,
};
use crate::units::{Grams, Millimetres};

/// A machine that is down until nobody knows when is taken to be so for a day more, common practice, no source.
pub(super) const UNKNOWN_OUTAGE: TimeDelta = TimeDelta::days(1);

/// Until when a machine is reckoned to be down, as somebody who plans then is told.
pub(super) fn down_until(until: Option<DateTime<Utc>>, now: DateTime<Utc>) -> DateTime<Utc> {
    let known = until.filter(|until| *until > now);
    known.unwrap_or(now + UNKNOWN_OUTAGE)
}

/// The state that the rest of a build is planned from at a moment, and what the scenario has that the plan did not, or the other way.
pub fn progress(scenario: &Scenario, log: &Log, now: DateTime<Utc>) -> (Progress, Vec<Difference>) {
    let state = log.state();
    let names = Names::new(scenario);
    let orders_from = Some(now);
    // In whole minutes: what is to be done in this one is not late yet. What has happened since it began counts as done when it did.
    let now = now.duration_trunc(TimeDelta::minutes(1)).unwrap_or(now);
    let now = now.max(scenario.build.start);
    let done = |at: DateTime<Utc>| at.min(now);
    let calendar = Calendar::new(scenario);
    let (measured, unmeasured) = of_all(scenario, &state.measured);
    let mut progress = Progress {
        now,
        orders_from,
        made: made(state, &names, now),
        running: state
            .running
            .values()
            .filter_map(|&key| running(&calendar, state, &names, key))
            .collect(),
        ended: ended(log),
        machines: machines(state, &names, now),
        assemblies: scenario
            .assemblies
            .iter()
            .map(|assembly| {
                let known = state.assemblies.get(&assembly.id);
                known.map_or_else(AssemblyState::default, |known| AssemblyState {
                    started: known.started.map(done),
                    complete: known.complete.map(done),
                })
            })
            .collect(),
        trials: scenario
            .parts
            .iter()
            .map(|part| {
                let known = state.trials.get(&part.id);
                known.map_or_else(TrialState::default, |known| TrialState {
                    approved: known.approved.map(done),
                    chosen: known.chosen.as_ref().and_then(|chosen| {
                        let mut variants = part.variants.iter();
                        variants.position(|variant| variant.name == *chosen)
                    }),
                    rejected: known.rejected,
                })
            })
            .collect(),
        spools: spools(state, &names, now),
        measured,
        unmeasured,
        previous: previous(state, &names),
    };
    let differences = differences(scenario, state, &names);
    if let Some(previous) = &mut progress.previous {
        previous.differences = differences.iter().map(ToString::to_string).collect();
    }
    (progress, differences)
}

/// Copies that are wanted of each part, spares counted by what the log says of each machine.
pub(super) fn wanted(scenario: &Scenario, state: &State, now: DateTime<Utc>) -> Vec<u32> {
    let mut counted = scenario.clone();
    if scenario.parts.iter().any(|part| part.reserve) {
        let names = Names::new(scenario);
        let calendar = Calendar::new(scenario);
        let prints = state.running.values();
        let prints = prints.filter_map(|&key| running(&calendar, state, &names, key));
        let progress = Progress {
            now: now.max(scenario.build.start),
            made: made(state, &names, now),
            running: prints.collect(),
            machines: machines(state, &names, now),
            previous: previous(state, &names),
            ..Progress::none(scenario)
        };
        // Where no number is enough a part keeps the one that it has.
        let _ = progress.reserve(&mut counted);
    }
    counted.parts.iter().map(Part::copies).collect()
}

/// What the scenario has that the plan did not, or the other way.
pub fn changed(scenario: &Scenario, state: &State) -> Vec<Difference> {
    differences(scenario, state, &Names::new(scenario))
}

/// Positions by name.
pub(super) struct Names<'a> {
    scenario: &'a Scenario,
    machines: BTreeMap<&'a str, usize>,
    filaments: BTreeMap<&'a str, usize>,
    parts: BTreeMap<&'a str, usize>,
    assemblies: BTreeMap<&'a str, usize>,
}

impl<'a> Names<'a> {
    pub(super) fn new(scenario: &'a Scenario) -> Self {
        fn numbered<'a>(ids: impl Iterator<Item = &'a String>) -> BTreeMap<&'a str, usize> {
            ids.map(String::as_str).zip(0..).collect()
        }
        Self {
            scenario,
            machines: numbered(scenario.machines.iter().map(|machine| &machine.id)),
            filaments: numbered(scenario.filaments.iter().map(|filament| &filament.id)),
            parts: numbered(scenario.parts.iter().map(|part| &part.id)),
            assemblies: numbered(scenario.assemblies.iter().map(|assembly| &assembly.id)),
        }
    }

    pub(super) fn machine(&self, id: &str) -> Option<MachineIndex> {
        self.machines.get(id).copied().map(MachineIndex)
    }

    pub(super) fn filament(&self, id: &str) -> Option<FilamentIndex> {
        self.filaments.get(id).copied().map(FilamentIndex)
    }

    pub(super) fn part(&self, id: &str) -> Option<PartIndex> {
        self.parts.get(id).copied().map(PartIndex)
    }

    pub(super) fn assembly(&self, id: Option<&String>) -> Option<AssemblyIndex> {
        self.assemblies
            .get(id?.as_str())
            .copied()
            .map(AssemblyIndex)
    }
}

fn made(state: &State, names: &Names, now: DateTime<Utc>) -> Vec<Made> {
    let made = state.made.iter().filter_map(|(piece, printed)| {
        Some(Made {
            piece: PieceName {
                part: names.part(&piece.part)?,
                number: piece.number,
                length: piece.length,
                of: piece.of,
            },
            assembly: names.assembly(printed.assembly.as_ref()),
            printed: printed.at.min(now),
            joined: printed.joined.map(|at| at.min(now)),
        })
    });
    made.collect()
}

fn running(calendar: &Calendar, state: &State, names: &Names, key: RunKey) -> Option<Running> {
    let planned = state.planned(key);
    let pieces = placed(state, planned, names);
    // All pieces of a run have the same settings; where none of its parts is known any more, any will do.
    let settings = pieces
        .first()
        .map(|piece| names.scenario.parts[piece.piece.part.0].settings);
    let spool = SpoolEnd::of(calendar, state, key).filter(|end| !end.attended);
    let stands = spool.map_or(TimeDelta::zero(), |end| end.stands);
    Some(Running {
        id: planned.id.clone(),
        machine: names.machine(&planned.machine)?,
        filament: names.filament(&planned.filament),
        settings: settings.unwrap_or(crate::scenario::SettingsIndex(0)),
        start: state.attempts.get(&key)?.started,
        end: state.expected_end(key)? + stands,
        stops: spool.map(|end| end.at),
        grams: Grams(planned.grams),
        pieces,
    })
}

/// Every start of a run that has come to its end. The state has the last start of each run only, and of a run that was started again
/// nothing was good before.
fn ended(log: &Log) -> Vec<Ended> {
    let state = log.state();
    let mut last: BTreeMap<(&str, DateTime<Utc>), bool> = BTreeMap::new();
    for (&key, attempt) in &state.attempts {
        if let Some(end) = &attempt.ended {
            let id = state.planned(key).id.as_str();
            last.insert((id, attempt.started), end.scrapped);
        }
    }
    let mut begun: BTreeMap<&str, DateTime<Utc>> = BTreeMap::new();
    let mut ended: Vec<Ended> = Vec::new();
    let entries = log.entries().iter();
    for entry in entries.filter(|entry| !log.is_undone(entry)) {
        match &entry.event {
            Event::Started { run, .. } => {
                begun.insert(run, in_years(entry.at));
            }
            Event::Finished { run, .. } | Event::Scrapped { run, .. } => {
                if let Some(start) = begun.remove(run.as_str()) {
                    // It may have been started again at the same moment.
                    for before in ended.iter_mut().filter(|before| before.id == *run) {
                        before.scrapped = true;
                    }
                    let scrapped = match &entry.event {
                        Event::Finished { .. } => last.get(&(run, start)).copied().unwrap_or(true),
                        _ => true,
                    };
                    ended.push(Ended {
                        id: run.clone(),
                        start,
                        end: in_years(entry.at).max(start),
                        scrapped,
                    });
                }
            }
            _ => {}
        }
    }
    ended.sort_by(|a, b| (a.start, &a.id).cmp(&(b.start, &b.id)));
    ended
}

fn placed(state: &State, run: &PlannedRun, names: &Names) -> Vec<Placed> {
    let pieces = run.pieces.iter().filter_map(|piece| {
        let part = names.part(piece.part())?;
        let (upright, over) = upright(piece, &names.scenario.parts[part.0]);
        let (id, assembly) = state.printed_as(piece);
        Some(Placed {
            piece: PieceName {
                part,
                number: id.number,
                length: id.length,
                of: id.of,
            },
            assembly: names.assembly(assembly.as_ref()),
            at: [Millimetres(piece.x), Millimetres(piece.y)],
            turn: piece.turn,
            size: piece.size.map(Millimetres),
            upright,
            over,
        })
    });
    pieces.collect()
}

/// Which axis stands upright, and whether on its head. A plan says it of parts with a mesh only; of others nothing but the box
/// counts, so any axis of the right length is as good.
fn upright(piece: &PlannedPiece, part: &Part) -> (Axis, bool) {
    if let Some(written) = &piece.upright {
        let (over, axis) = match written.strip_prefix('-') {
            Some(axis) => (true, axis),
            None => (false, written.as_str()),
        };
        let axis = match axis {
            "x" => Axis::X,
            "y" => Axis::Y,
            _ => Axis::Z,
        };
        return (axis, over);
    }
    let mut sides = part.size.map(Millimetres::value);
    let longest = sides.iter().copied().fold(0.0, f64::max);
    if let Some(side) = sides.iter_mut().find(|side| **side == longest) {
        *side /= f64::from(piece.of().max(1));
    }
    let off = |axis: &Axis| (sides[axis.index()] - piece.size[2]).abs();
    // Of a cube's axes the third, as it is drawn.
    let nearest = part
        .lie
        .iter()
        .rev()
        .min_by(|a, b| off(a).total_cmp(&off(b)));
    (nearest.copied().unwrap_or(Axis::Z), false)
}

fn machines(state: &State, names: &Names, now: DateTime<Utc>) -> Vec<MachineState> {
    let machines = names.scenario.machines.iter().map(|machine| {
        let Some(known) = state.machines.get(&machine.id) else {
            return MachineState {
                loaded: machine.loaded,
                ..MachineState::default()
            };
        };
        let until = |(_, _, until): &(_, _, Option<DateTime<Utc>>)| down_until(*until, now);
        MachineState {
            loaded: known.loaded.as_ref().and_then(|id| names.filament(id)),
            down_since: known.down.as_ref().map(|(since, ..)| *since),
            down_until: known.down.as_ref().map(until),
            runs: known.runs,
            failed: known.failed,
            last_number: last_number(state, &machine.id),
        }
    });
    machines.collect()
}

/// The highest number of a run that was ever accepted on a machine: a name means one run for ever, whether it was printed or not.
fn last_number(state: &State, machine: &str) -> u32 {
    let followed = state.plan().into_iter().flat_map(|plan| &plan.runs);
    let here = followed.filter(|run| run.machine == machine);
    let before = state.past.machines.get(machine).copied();
    here.map(|run| run.number())
        .chain(before)
        .max()
        .unwrap_or(0)
}

fn spools(state: &State, names: &Names, now: DateTime<Utc>) -> Vec<Vec<Spool>> {
    let mut after = state.clone();
    after.latest = after.latest.max(now);
    after.end_all();
    let mut spools = vec![Vec::new(); names.scenario.filaments.len()];
    for (id, spool) in after
        .spools
        .iter()
        .filter(|(_, spool)| spool.grams > NOTHING)
    {
        let Some(filament) = names.filament(&spool.filament) else {
            continue;
        };
        spools[filament.0].push(Spool {
            id: id.clone(),
            grams: Grams(spool.grams),
            on: after
                .machine_of(id)
                .and_then(|machine| names.machine(machine)),
            arrives: spool.arrives.filter(|_| !spool.is_here(now)),
        });
    }
    // As a plan without a log has them, so that of spools which are alike the same one goes on.
    for spools in &mut spools {
        spools.sort_by(|a, b| numbered(&a.id).cmp(&numbered(&b.id)));
    }
    spools
}

/// A name by which those that differ only in the number at their end are in the order of these: `red-2` before `red-10`.
fn numbered(name: &str) -> (&str, usize, &str) {
    let rest = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = name.strip_prefix(rest).unwrap_or_default();
    (rest, number.len(), number)
}

fn previous(state: &State, names: &Names) -> Option<Previous> {
    let plan = state.plan()?;
    let (mut runs, mut gone) = (Vec::new(), Vec::new());
    for key in state.open_runs() {
        let planned = state.planned(key);
        let pieces = placed(state, planned, names);
        let on_it: BTreeSet<&str> = planned.pieces.iter().map(PlannedPiece::part).collect();
        let lost = on_it.into_iter().filter(|part| names.part(part).is_none());
        let without: Vec<String> = lost.map(str::to_owned).collect();
        let on = names.machine(&planned.machine);
        let filament = names.filament(&planned.filament);
        let scrapped = state.ended(key).is_some();
        let why = match (on, filament) {
            _ if pieces.is_empty() => Gone::Parts(without),
            (None, _) => Gone::Machine,
            (_, None) => Gone::Filament(planned.filament.clone()),
            (Some(machine), Some(filament)) => {
                runs.push(PreviousRun {
                    id: planned.id.clone(),
                    machine,
                    filament,
                    setup: planned.setup,
                    start: planned.start,
                    end: planned.end,
                    pieces,
                    without,
                    scrapped,
                });
                continue;
            }
        };
        gone.push(GoneRun {
            id: planned.id.clone(),
            machine: planned.machine.clone(),
            on,
            filament,
            start: planned.start,
            end: planned.end,
            pieces,
            why,
            scrapped,
        });
    }
    runs.sort_by_key(|run| (run.machine, run.start));
    Some(Previous {
        runs,
        gone,
        differences: Vec::new(), // by whoever asks where the scenario has changed
        finish: Some(plan.finish),
        cost: plan.cost(),
        early: state.early,
        news: state.sooner
            || state
                .basis
                .as_ref()
                .is_some_and(|was| was.whole != basis(names.scenario).whole),
    })
}
