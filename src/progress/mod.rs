//! What has been done when planning begins: the state that the rest of the build is planned from.
//!
//! Knows: the scenario's words, moments in UTC, bench hours. Must not know: where it was noted, how a plan is found.
//! Promises: positions point into the scenario that it was made for; what the scenario no longer knows is not in it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use crate::calendar::Calendar;
use crate::scenario::{
    AssemblyIndex, Axis, Experience, FilamentIndex, MachineIndex, Measurement, PartIndex, Scenario,
    SettingsIndex,
};
use crate::units::{Grams, Millimetres};

/// The state of a build at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Progress {
    /// The moment; nothing is set up before it.
    pub now: DateTime<Utc>,
    /// Good pieces that exist.
    pub made: Vec<Made>,
    /// Runs that are printing.
    pub running: Vec<Running>,
    /// Runs that have ended, each with every start that has come to an end, in the order of these.
    pub ended: Vec<Ended>,
    /// Machines, by [`MachineIndex`].
    pub machines: Vec<MachineState>,
    /// Assemblies, by [`AssemblyIndex`].
    pub assemblies: Vec<AssemblyState>,
    /// What was said of each part's trial copies, by [`PartIndex`].
    pub trials: Vec<TrialState>,
    /// Spools on hand and on their way, by [`FilamentIndex`].
    pub spools: Vec<Vec<Spool>>,
    /// What was weighed and timed, besides [`Scenario::measured`].
    pub measured: Vec<Measurement>,
    /// Measurements that are left out, since what was estimated then is not known and the scenario has changed since.
    pub unmeasured: usize,
    /// The plan that was last accepted.
    pub previous: Option<Previous>,
    /// When somebody asked for a plan: what is not there can be ordered on that day at the earliest. `None`: it can be ordered
    /// on any day before the build's start.
    pub orders_from: Option<DateTime<Utc>>,
}

/// Which piece: a copy of a part, or one length of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PieceName {
    /// Which part.
    pub part: PartIndex,
    /// Which copy of it, from 1.
    pub number: u32,
    /// Which length of that copy, from 1.
    pub length: u32,
    /// Lengths that make the copy; 1: whole.
    pub of: u32,
}

/// A good piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Made {
    /// Which.
    pub piece: PieceName,
    /// What it was printed for; `None`: a spare.
    pub assembly: Option<AssemblyIndex>,
    /// When its run ended.
    pub printed: DateTime<Utc>,
    /// When the copy it belongs to was joined, if it is one of several lengths and has been.
    pub joined: Option<DateTime<Utc>>,
}

/// A run that has been started and has not been ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Running {
    /// Its name in the accepted plan.
    pub id: String,
    /// Where.
    pub machine: MachineIndex,
    /// What it prints with; `None`: what the scenario has no more.
    pub filament: Option<FilamentIndex>,
    /// How.
    pub settings: SettingsIndex,
    /// When it was started.
    pub start: DateTime<Utc>,
    /// When it should end: planned minutes after its start, and later by as long as it stands without filament.
    pub end: DateTime<Utc>,
    /// When its spool ends with nobody there; it stands from then until somebody comes. `None`: it does not.
    pub stops: Option<DateTime<Utc>>,
    /// Plastic in its pieces.
    pub grams: Grams,
    /// What is on it.
    pub pieces: Vec<Placed>,
}

/// A run that was started and has ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ended {
    /// Its name in the plan that it was started from.
    pub id: String,
    /// When it was started.
    pub start: DateTime<Utc>,
    /// When it ended, as was noted.
    pub end: DateTime<Utc>,
    /// Whether nothing of it was good.
    pub scrapped: bool,
}

/// A piece where it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Which.
    pub piece: PieceName,
    /// What it is for; `None`: a spare.
    pub assembly: Option<AssemblyIndex>,
    /// Centre, as in a plan.
    pub at: [Millimetres; 2],
    /// Turn about the centre, counter-clockwise, degrees.
    pub turn: f64,
    /// Box as it lies before turning.
    pub size: [Millimetres; 3],
    /// Which of the part's axes stands upright.
    pub upright: Axis,
    /// Whether it stands on its head.
    pub over: bool,
}

/// A machine at the moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MachineState {
    /// What is in it; `None`: nothing.
    pub loaded: Option<FilamentIndex>,
    /// Since when it is out of order, if it is.
    pub down_since: Option<DateTime<Utc>>,
    /// Out of order until this moment at least.
    pub down_until: Option<DateTime<Utc>>,
    /// Runs that have ended, well or not.
    pub runs: u32,
    /// Those of them that failed; of one that failed in part, the share of its pieces that are lost.
    pub failed: f64,
    /// The highest number in the name of a run that was ever accepted on it; new runs are numbered after it.
    pub last_number: u32,
}

/// How far an assembly has come.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AssemblyState {
    /// When its bench work began.
    pub started: Option<DateTime<Utc>>,
    /// When its bench work was done; its cure counts from here.
    pub complete: Option<DateTime<Utc>>,
}

/// What is known of a part's trial copies.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrialState {
    /// When they were approved: the rest may be printed.
    pub approved: Option<DateTime<Utc>>,
    /// Which of the part's variants was chosen then; what is printed from then on is that one.
    pub chosen: Option<usize>,
    /// Trial copies that were rejected; they are not among what is made.
    pub rejected: u32,
}

/// A spool on hand or on its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Spool {
    /// Its name: in the log, or as a log would have it (see [`spool_name`]).
    pub id: String,
    /// Plastic left on it.
    pub grams: Grams,
    /// The machine it is on, if any.
    pub on: Option<MachineIndex>,
    /// When it arrives; `None`: it is here.
    pub arrives: Option<DateTime<Utc>>,
}

/// What a spool is called that nobody gave another name: by its filament, and its number among the scenario's spools of that, from 1;
/// bought ones are numbered on.
pub fn spool_name(filament: &str, number: usize) -> String {
    format!("{filament}-{number}")
}

/// What the accepted plan had meant to do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Previous {
    /// Its runs that have not begun, or of which nothing was good, by machine and time.
    pub runs: Vec<PreviousRun>,
    /// The same that cannot be made as they were: the scenario has something of them no more.
    pub gone: Vec<GoneRun>,
    /// In words: where the scenario is otherwise than when it was accepted.
    pub differences: Vec<String>,
    /// When it would have ended.
    pub finish: Option<DateTime<Utc>>,
    /// What it said the rest would cost.
    pub cost: f64,
    /// Whether something is known by which another plan may be cheaper, though this one can still be followed: the scenario
    /// says otherwise than then, a machine came back or an assembly was complete sooner than planned, a spool was bought.
    pub news: bool,
    /// Whether something that it reckons with came sooner: a run's start or end, a trial's approval. What follows may begin sooner, then.
    pub early: bool,
}

/// A run of the accepted plan that is still to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct PreviousRun {
    /// Its name.
    pub id: String,
    /// Where.
    pub machine: MachineIndex,
    /// What it prints with.
    pub filament: FilamentIndex,
    /// When its setup begins; `None`: it follows another without one.
    pub setup: Option<DateTime<Utc>>,
    /// When printing starts.
    pub start: DateTime<Utc>,
    /// When it ends.
    pub end: DateTime<Utc>,
    /// What is on it.
    pub pieces: Vec<Placed>,
    /// Parts that were on it and that the scenario has no more: their pieces are left out.
    pub without: Vec<String>,
    /// Whether it was started and nothing of it was good: it is to be printed again, and has no time of its own any more.
    pub scrapped: bool,
}

impl PreviousRun {
    /// Whether all that was on it is wanted still.
    pub fn is_whole(&self) -> bool {
        self.without.is_empty()
    }
}

/// A run of the accepted plan that was still to be made and cannot be as it was.
#[derive(Clone, Debug, PartialEq)]
pub struct GoneRun {
    /// Its name.
    pub id: String,
    /// Where, by name.
    pub machine: String,
    /// The same, where the scenario has it still.
    pub on: Option<MachineIndex>,
    /// What it was to print with, where the scenario has it still.
    pub filament: Option<FilamentIndex>,
    /// When printing was to start.
    pub start: DateTime<Utc>,
    /// When it was to end.
    pub end: DateTime<Utc>,
    /// What was to be on it of parts that the scenario has.
    pub pieces: Vec<Placed>,
    /// What is gone.
    pub why: Gone,
    /// Whether it was started and nothing of it was good.
    pub scrapped: bool,
}

/// What a scenario has no more of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Gone {
    /// Its machine.
    Machine,
    /// Its filament, by name.
    Filament(String),
    /// All parts that were on it, by name.
    Parts(Vec<String>),
}

impl Progress {
    /// Counts the spares of every part with `spares: auto` anew, by what each machine's runs have come to and what is made:
    /// [`Scenario::reserve`]. To be done before planning goes on from here.
    ///
    /// # Errors
    /// As there.
    pub fn reserve(&self, scenario: &mut Scenario) -> Result<(), Vec<usize>> {
        let machines = self.machines.iter().map(|machine| Experience {
            runs: machine.runs,
            failed: machine.failed,
        });
        // Lengths of a copy count when all of them are there.
        let mut lengths: BTreeMap<(usize, u32), u32> = BTreeMap::new();
        let mut made = vec![0; scenario.parts.len()];
        for one in &self.made {
            let copy = (one.piece.part.0, one.piece.number);
            let there = lengths.entry(copy).or_default();
            *there += 1;
            if *there == one.piece.of
                && let Some(made) = made.get_mut(copy.0)
            {
                *made += 1;
            }
        }
        let counted = scenario.reserve(&machines.collect::<Vec<_>>(), &made);
        // A copy that is made keeps its number, so there are at least so many; where variants have numbers of their own, not all are given.
        for one in &self.made {
            if let Some(part) = scenario.parts.get_mut(one.piece.part.0)
                && part.reserve
                && part.variants.is_empty()
            {
                let beyond = one.piece.number.saturating_sub(part.quantity);
                part.spares = part.spares.max(beyond);
            }
        }
        self.keep_firm(scenario);
        counted
    }

    /// Of spares that are counted, those stay that firm runs of the accepted plan print, or runs that print now, though fewer would do: such
    /// runs stay as they are.
    fn keep_firm(&self, scenario: &mut Scenario) {
        let Some(previous) = &self.previous else {
            return;
        };
        if scenario.parts.iter().all(|part| !part.reserve) {
            return;
        }
        let calendar = Calendar::new(scenario);
        let now = calendar.minute_from(self.now).max(0);
        let until = calendar.firm_until(now, scenario.build.firm);
        let firm = (previous.runs.iter())
            .filter(|run| !run.scrapped && calendar.minute(run.start) <= until)
            .flat_map(|run| &run.pieces);
        let printing = self.running.iter().flat_map(|run| &run.pieces);
        let named = firm.chain(printing).map(|placed| placed.piece);
        let mut copies: BTreeMap<usize, BTreeSet<u32>> = BTreeMap::new();
        for piece in named.chain(self.made.iter().map(|made| made.piece)) {
            copies.entry(piece.part.0).or_default().insert(piece.number);
        }
        for (part, numbers) in copies {
            if let Some(part) = scenario.parts.get_mut(part).filter(|part| part.reserve) {
                let beyond = (numbers.len() as u32).saturating_sub(part.quantity);
                part.spares = part.spares.max(beyond);
            }
        }
    }

    /// Nothing done yet: the state at the build's start.
    pub fn none(scenario: &Scenario) -> Self {
        let spools = scenario.filaments.iter().map(|filament| {
            let numbered = filament.spools.iter().zip(1..);
            let spools = numbered.map(|(&grams, number)| Spool {
                id: spool_name(&filament.id, number),
                grams,
                on: None,
                arrives: None,
            });
            spools.collect()
        });
        let machines = scenario.machines.iter().map(|machine| MachineState {
            loaded: machine.loaded,
            ..MachineState::default()
        });
        Self {
            now: scenario.build.start,
            made: Vec::new(),
            running: Vec::new(),
            ended: Vec::new(),
            machines: machines.collect(),
            assemblies: vec![AssemblyState::default(); scenario.assemblies.len()],
            trials: vec![TrialState::default(); scenario.parts.len()],
            spools: spools.collect(),
            measured: Vec::new(),
            unmeasured: 0,
            previous: None,
            orders_from: None,
        }
    }

    /// Whether anything has been done or said; when a plan was asked for does not count.
    pub fn has_begun(&self, scenario: &Scenario) -> bool {
        let none = Self {
            orders_from: self.orders_from,
            ..Self::none(scenario)
        };
        *self != none
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::read_text;

    #[test]
    fn spares_are_counted_by_what_failed_and_what_is_made() {
        let text = "
build: {start: 2027-01-11}
machines: [{id: bed, kind: bed, bed: [200, 200], height: 100}]
filaments: [{id: grey, material: PLA}]
parts: [{id: bracket, size: [80, 40, 12], quantity: 8, spares: auto, alone: true}]
";
        let mut scenario = match read_text("spares.yaml", text, std::path::Path::new(".")) {
            Ok(reading) => reading.scenario,
            Err(complaints) => panic!("{complaints}"),
        };
        let mut progress = Progress::none(&scenario);
        assert_eq!(progress.reserve(&mut scenario), Ok(()));
        assert_eq!(scenario.parts[0].spares, 1);
        // Three of ten failed: Beta(3.6, 26.4). The least k with scipy's betabinom.cdf(k, 8 + k, 3.6, 26.4) >= 0.95 is 4.
        (progress.machines[0].runs, progress.machines[0].failed) = (10, 3.0);
        assert_eq!(progress.reserve(&mut scenario), Ok(()));
        assert_eq!(scenario.parts[0].spares, 4);
        // All eight are made: none more is needed.
        progress.made = (1..=8)
            .map(|number| Made {
                piece: PieceName {
                    part: PartIndex(0),
                    number,
                    length: 1,
                    of: 1,
                },
                assembly: None,
                printed: progress.now,
                joined: None,
            })
            .collect();
        assert_eq!(progress.reserve(&mut scenario), Ok(()));
        assert_eq!(scenario.parts[0].spares, 0);
        // But two that the accepted plan prints right away are not dropped; those of another day are.
        let now = progress.now;
        let run = |hours| PreviousRun {
            id: "bed-009".to_owned(),
            machine: MachineIndex(0),
            filament: FilamentIndex(0),
            setup: None,
            start: now + chrono::TimeDelta::hours(hours),
            end: now + chrono::TimeDelta::hours(hours + 1),
            pieces: [9, 10].map(placed).to_vec(),
            without: Vec::new(),
            scrapped: false,
        };
        let mut spares = |hours| {
            scenario.build.firm = Some(crate::units::Minutes(600));
            progress.previous = Some(Previous {
                runs: vec![run(hours)],
                ..Previous::default()
            });
            assert_eq!(progress.clone().reserve(&mut scenario), Ok(()));
            scenario.parts[0].spares
        };
        assert_eq!(spares(9), 2);
        assert_eq!(spares(11), 0);
    }

    fn placed(number: u32) -> Placed {
        Placed {
            piece: PieceName {
                part: PartIndex(0),
                number,
                length: 1,
                of: 1,
            },
            assembly: None,
            at: [Millimetres(50.0); 2],
            turn: 0.0,
            size: [80.0, 40.0, 12.0].map(Millimetres),
            upright: Axis::Z,
            over: false,
        }
    }
}
