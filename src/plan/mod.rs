//! The finished plan: dated runs, routes, assemblies, its cost and its audit.
//!
//! Knows: the scenario's words, moments in UTC. Must not know: how the plan was found.
//! Promises: nothing here is computed for show only: what is printed stands in a [`Plan`].

pub mod audit;
mod cautions;
mod cost;
mod critical;
mod floats;
mod idle;
mod reserves;
mod sheets;
mod since;

use std::sync::Arc;

use chrono::{DateTime, Utc};

use crate::geometry::Outline;
use crate::lifting::Lift;
use crate::routes::RouteKind;
use crate::scenario::{
    AssemblyIndex, Axis, FilamentIndex, JointIndex, MachineIndex, Outage, PartIndex, Scenario,
    SettingsIndex, Variant,
};
use crate::strength::Span;
use crate::units::{Grams, Millimetres, Minutes, Money};

pub use cautions::{Facts, cautions, copy_grams, fill_copy_grams, masses, overdue};
pub use cost::{Ledger, bench_time, cost, days, purged};
pub use critical::{CriticalPath, Link, LinkOf, critical_path};
pub use floats::floats;
pub use idle::{Idle, Unused};
pub use reserves::{Failing, Reserve, failures, reserves};
pub use sheets::{Day, Job, Level, Listed, Mass, Off, Sheets, Task, days as work_by_day};
pub use since::{Change, Ended, Given, Since, Standing};

/// What a plan costs, part by part; the sum is what the search minimises.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cost {
    /// Per stage: days from due to completion × its rate.
    pub late: Money,
    /// Daily rate × days from the build's start until the last assembly is complete.
    pub standing: Money,
    /// Printing hours × hourly rate.
    pub machine: Money,
    /// Watts × printing hours × price.
    pub energy: Money,
    /// Setup, finishing, gluing and assembly minutes × the bench's rate.
    pub bench: Money,
    /// Grams lost in colour changes × price of the filament that comes in.
    pub purge: Money,
    /// Printed grams × price.
    pub plastic: Money,
    /// Rods, tubes, dowels.
    pub hardware: Money,
    /// For each run that the accepted plan does not have on that machine within half a day: see [`Since::churn`].
    pub calm: Money,
}

impl Cost {
    /// The sum of all parts.
    pub fn total(&self) -> Money {
        self.late
            + self.standing
            + self.machine
            + self.energy
            + self.bench
            + self.purge
            + self.plastic
            + self.hardware
            + self.calm
    }
}

/// One piece on a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Which part.
    pub part: PartIndex,
    /// Which copy of it, from 1.
    pub number: u32,
    /// Which length of that copy, from 1.
    pub length: u32,
    /// Lengths that make the copy.
    pub of: u32,
    /// The assembly that it is for; `None`: a spare.
    pub assembly: Option<AssemblyIndex>,
    /// How it is made.
    pub route: RouteKind,
    /// Centre from the bed's front left corner (belt: across, and along from the run's start).
    pub x: Millimetres,
    /// See `x`.
    pub y: Millimetres,
    /// Turn about the centre, counter-clockwise, degrees.
    pub turn: f64,
    /// Box as it lies before turning.
    pub size: [Millimetres; 3],
    /// Which of the part's axes stands upright. Of a part without a mesh only its box counts.
    pub upright: Axis,
    /// Whether it stands on its head.
    pub over: bool,
    /// Outline as it lies before turning, about the centre; `None`: the whole box.
    pub outline: Option<Arc<Outline>>,
}

/// How the filament of a run is provided. Nothing put on and no end: the spool on the machine lasts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpoolNote {
    /// Grams on the spool that goes on at the setup, where it is another than the one on the machine.
    pub put_on: Option<Grams>,
    /// The name of this spool: the one that it has in the log, or will have once there is one. `None`: it is only to be ordered, or none
    /// goes on.
    pub name: Option<Arc<str>>,
    /// The other machine that this spool is still on then, if it is.
    pub from: Option<MachineIndex>,
    /// Spools that end during the run, in order.
    pub ends: Vec<SpoolEnd>,
}

/// The end of a spool during a run, or its change before that.
#[derive(Clone, Debug, PartialEq)]
pub struct SpoolEnd {
    /// When.
    pub at: DateTime<Utc>,
    /// Whether somebody is there to change it; a run with an end that nobody attends is marked.
    pub attended: bool,
    /// Grams left on the spool that comes off: it is changed while somebody is there, since it would end with nobody there. 0: it
    /// is empty.
    pub left: Grams,
    /// Grams on the spool that follows.
    pub next: Grams,
    /// Its name; `None`: it is only to be ordered.
    pub next_name: Option<Arc<str>>,
    /// The other machine that this one is on when the run begins, if it is.
    pub next_from: Option<MachineIndex>,
}

impl SpoolNote {
    /// The ends with nobody there.
    pub fn alone(&self) -> impl Iterator<Item = &SpoolEnd> {
        self.ends.iter().filter(|end| !end.attended)
    }
}

/// One start of a machine until it ends.
#[derive(Clone, Debug)]
pub struct Run {
    /// `machine-NNN`, numbered in time on each machine.
    pub id: String,
    /// The machine.
    pub machine: MachineIndex,
    /// What it prints with.
    pub filament: FilamentIndex,
    /// How.
    pub settings: SettingsIndex,
    /// The filament that comes off, when this run's setup changes it. `Some(None)`: the machine was empty.
    pub swap_from: Option<Option<FilamentIndex>>,
    /// When the setup begins; `None`: a belt run that follows another without one.
    pub setup: Option<DateTime<Utc>>,
    /// When printing starts.
    pub start: DateTime<Utc>,
    /// When it ends.
    pub end: DateTime<Utc>,
    /// `end - start`.
    pub minutes: Minutes,
    /// Whether it prints, for any of these minutes, with nobody at the bench.
    pub alone: bool,
    /// Plastic in the pieces (purge not counted).
    pub grams: Grams,
    /// What is on it.
    pub pieces: Vec<Piece>,
    /// How its filament is provided.
    pub spool: SpoolNote,
    /// If it could begin earlier but for its filament: when that comes.
    pub waits: Option<DateTime<Utc>>,
    /// It is set up later than it could be, so that somebody is there when its spool ends.
    pub put_off: bool,
}

/// A stretch of bench work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Work {
    /// First minute.
    pub from: DateTime<Utc>,
    /// First minute after.
    pub to: DateTime<Utc>,
}

/// Joining the lengths of one copy.
#[derive(Clone, Debug)]
pub struct Gluing {
    /// Which part.
    pub part: PartIndex,
    /// Which copy.
    pub number: u32,
    /// What it is for.
    pub assembly: Option<AssemblyIndex>,
    /// The joint.
    pub joint: JointIndex,
    /// When the last of its lengths is printed.
    pub printed: DateTime<Utc>,
    /// The bench work, in order.
    pub work: Vec<Work>,
    /// When the joint has cured and the copy is there.
    pub ready: DateTime<Utc>,
}

/// An assembly's dates.
#[derive(Clone, Debug)]
pub struct AssemblyDates {
    /// The assembly.
    pub assembly: AssemblyIndex,
    /// When its last piece is printed (the build's start if it has none).
    pub printed: DateTime<Utc>,
    /// When its bench work begins (the moment it could, if it has none).
    pub start: DateTime<Utc>,
    /// Its bench work, in order: finishing of its pieces, then its own.
    pub work: Vec<Work>,
    /// When it is complete, cure included.
    pub complete: DateTime<Utc>,
    /// Days late, 0 if in time or without a date.
    pub late_days: f64,
    /// By how much its work may end later, or it may be complete later where it has none, with no stage late for it and the build's end
    /// unmoved, all other work being done in the plan's order.
    pub float: Minutes,
}

/// Finishing of pieces that belong to no assembly.
#[derive(Clone, Debug)]
pub struct SpareWork {
    /// Which part.
    pub part: PartIndex,
    /// The bench work, in order.
    pub work: Vec<Work>,
}

/// How a part is made, in sum.
#[derive(Clone, Debug)]
pub struct RouteUse {
    /// The part.
    pub part: PartIndex,
    /// Copies made so.
    pub quantity: u32,
    /// Kind of route.
    pub route: RouteKind,
    /// Pieces per copy.
    pub pieces: u32,
    /// Machine that makes most of them.
    pub machine: MachineIndex,
    /// The joint, if split.
    pub joint: Option<JointIndex>,
    /// Whether no bed (of those that it is on) takes a copy in one piece and square: split, at an angle, or on a belt
    /// for its length.
    pub long: bool,
    /// Whether a copy is made on a belt though a bed makes it for less in one piece, or the other way round.
    pub dearer: bool,
    /// The reason in words.
    pub why: String,
}

impl RouteUse {
    /// Where the lengths of a copy meet, mm from one end of its longest side: at equal steps.
    pub fn cuts(&self, scenario: &Scenario) -> Vec<Millimetres> {
        let sides = scenario.parts[self.part.0].size;
        let longest = sides.iter().map(|side| side.0).fold(0.0, f64::max);
        let step = longest / f64::from(self.pieces.max(1));
        (1..self.pieces)
            .map(|cut| Millimetres(step * f64::from(cut)))
            .collect()
    }

    /// Whether it is told why a copy is made so: it is too long for a bed, or could be made for less.
    pub fn is_told(&self) -> bool {
        self.long || self.dearer
    }

    /// Joints of all copies.
    pub fn joints(&self) -> u32 {
        self.quantity * self.pieces.saturating_sub(1)
    }
}

/// Trial copies of a part, which are approved before the rest is set up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trial {
    /// Which part.
    pub part: PartIndex,
    /// When the last of them is printed.
    pub printed: DateTime<Utc>,
    /// The first minute from then on at which somebody is there.
    pub approved: DateTime<Utc>,
}

impl Run {
    /// Whether it stops before its end because a spool ends with nobody there.
    pub fn stops(&self) -> bool {
        self.spool.alone().next().is_some()
    }
}

/// A queue in figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sums {
    /// Printed mass, purge not counted.
    pub printed: Grams,
    /// Printing time of all machines together, hours.
    pub hours: f64,
    /// Setups that take one filament off for another.
    pub changes: usize,
    /// Setups that put the first filament on an empty machine.
    pub first_loads: usize,
    /// Runs that print with nobody there for some of the time.
    pub alone: usize,
    /// Runs that stop before their end; see [`Run::stops`].
    pub stop: usize,
}

impl Plan {
    /// When it begins: with the build, or when the rest of it was planned.
    pub fn begins(&self, scenario: &Scenario) -> DateTime<Utc> {
        let start = scenario.build.start;
        self.since
            .as_ref()
            .map_or(start, |since| since.now.max(start))
    }

    /// Which variant a copy is, if any: of the trial copies each its own, and of all others the one that was chosen.
    pub fn variant<'a>(
        &self,
        scenario: &'a Scenario,
        part: PartIndex,
        number: u32,
    ) -> Option<&'a Variant> {
        let part_of = scenario.parts.get(part.0)?;
        let chosen = || {
            let mut chosen = self.chosen.iter();
            let (_, at) = chosen.find(|(of, _)| *of == part)?;
            part_of.variants.get(*at)
        };
        part_of.variant(number).or_else(chosen)
    }

    /// Runs that were printing when the rest was planned, until they end.
    pub fn standing(&self) -> &[Standing] {
        self.since.as_ref().map_or(&[], |since| &since.running)
    }

    /// When a machine is out of use: as the scenario says, and as it was noted when the rest was planned.
    pub fn out_of_use<'a>(
        &'a self,
        scenario: &'a Scenario,
        machine: MachineIndex,
    ) -> impl Iterator<Item = &'a Outage> {
        let since = self.since.iter().flat_map(|since| &since.down);
        let noted = since.filter(move |(of, _)| *of == machine);
        let said = scenario.machines[machine.0].offline.iter();
        said.chain(noted.map(|(_, outage)| outage))
    }

    /// Its queue in figures.
    pub fn sums(&self) -> Sums {
        let count = |is: fn(&Run) -> bool| self.runs.iter().filter(|run| is(run)).count();
        Sums {
            printed: self.runs.iter().map(|run| run.grams).sum(),
            hours: self.runs.iter().map(|run| run.minutes.hours()).sum(),
            changes: count(|run| matches!(run.swap_from, Some(Some(_)))),
            first_loads: count(|run| matches!(run.swap_from, Some(None))),
            alone: count(|run| run.alone),
            stop: count(Run::stops),
        }
    }

    /// What its cost is added up from.
    pub fn ledger(&self) -> Ledger<'_> {
        Ledger {
            runs: &self.runs,
            gluings: &self.gluings,
            assemblies: &self.assemblies,
            spare_work: &self.spare_work,
            finish: self.finish,
            since: self.since.as_ref(),
        }
    }
}

/// Filament to order.
#[derive(Clone, Debug)]
pub struct Order {
    /// Which filament.
    pub filament: FilamentIndex,
    /// Grams that the plan needs, purge included.
    pub grams: Grams,
    /// Between these it stays four times in five, as far as measurements tell; `None`: nothing was measured.
    pub range: Option<[Grams; 2]>,
    /// Grams on hand.
    pub on_hand: Grams,
    /// Whole spools to order.
    pub spools: u32,
    /// Last local date on which to order, if any spool is to be ordered.
    pub order_by: Option<chrono::NaiveDate>,
}

impl Order {
    /// The price of all its spools.
    pub fn price(&self, scenario: &Scenario) -> Money {
        let filament = &scenario.filaments[self.filament.0];
        filament.spool * f64::from(self.spools) * filament.price_kg
    }
}

/// A plan that passed its audit.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Seed of the search.
    pub seed: u64,
    /// Cost, part by part.
    pub cost: Cost,
    /// No plan can cost less than this, plastic that every plan needs left out.
    pub bound: Money,
    /// The same part of this plan's cost that `bound` bounds.
    pub decided: Money,
    /// When the last assembly is complete.
    pub finish: DateTime<Utc>,
    /// By machine, then by time.
    pub runs: Vec<Run>,
    /// How parts are made.
    pub routes: Vec<RouteUse>,
    /// Trials, in the order of the scenario's parts.
    pub trials: Vec<Trial>,
    /// Parts of whose variants one was chosen, and which: all copies beyond the trial are that one. In the order of the scenario's parts.
    pub chosen: Vec<(PartIndex, usize)>,
    /// Gluing of split copies.
    pub gluings: Vec<Gluing>,
    /// Dates of assemblies, in scenario order.
    pub assemblies: Vec<AssemblyDates>,
    /// Finishing of spares.
    pub spare_work: Vec<SpareWork>,
    /// Filament needed, held, ordered; in scenario order.
    pub orders: Vec<Order>,
    /// What is known of each machine's runs, in the scenario's order.
    pub failures: Vec<Failing>,
    /// Parts with `spares: auto`: with what certainty enough copies come of these runs.
    pub reserves: Vec<Reserve>,
    /// What the end of the build waits for.
    pub critical: Option<CriticalPath>,
    /// Machines that print nothing, or nothing more, while others do, in the scenario's order.
    pub idle: Vec<Idle>,
    /// What is lifted: every assembly, in the scenario's order.
    pub lifts: Vec<Lift>,
    /// Parts that span, in the order of the scenario's.
    pub spans: Vec<Span>,
    /// Cautions to show, each once.
    pub cautions: Vec<String>,
    /// Whether somebody ended the search before its own end.
    pub stopped: bool,
    /// What the bench needs besides the queue.
    pub sheets: Sheets,
    /// What it goes on from, if it is the rest of a build; its cost is of what is left.
    pub since: Option<Since>,
}

#[cfg(test)]
mod tests;
