//! What the bench needs besides the queue: its hours, each day's work in order, filament on hand, what things weigh.
//!
//! Knows: a plan's dated runs, bench work and orders. Must not know: how they were found, how they are shown.
//! Promises: every setup, stretch of work, order, approval and end of a spool stands on one day, in the order of time; every
//! run, those that print when planning begins too, is taken off its machine once, before the next setup there and before anything needs its pieces.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};

use crate::calendar::{Edge, to_utc};
use crate::scenario::{AssemblyIndex, FilamentIndex, MachineIndex, Scenario};
use crate::units::Grams;

use super::{AssemblyDates, Gluing, Order, Piece, Run, SpareWork, Standing, Trial, Work};

/// Facts for the bench that follow from the dated plan.
#[derive(Clone, Debug, Default)]
pub struct Sheets {
    /// When somebody is there, from the build's start until everything is printed and complete, and the next time after that; whole
    /// windows, in order, but no more than 24 h after that moment or the last opening.
    pub hours: Vec<Work>,
    /// What is to be done, by local day; days without work are left out.
    pub days: Vec<Day>,
    /// Filament on hand, for each filament of the scenario in its order.
    pub levels: Vec<Level>,
    /// What each assembly weighs, in the scenario's order.
    pub masses: Vec<Mass>,
}

/// One day's work.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// The local date.
    pub date: NaiveDate,
    /// In the order of time.
    pub tasks: Vec<Task>,
}

/// Something that is done, or to be known, at a moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// When it begins; an order has the first minute of its day.
    pub from: DateTime<Utc>,
    /// When it ends; the same moment where no time is planned for it.
    pub to: DateTime<Utc>,
    /// What.
    pub what: Job,
}

/// Kinds of task, in the order in which they are listed where several begin at once. Numbers are positions in the plan's
/// own lists.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Job {
    /// An order is to be out by the end of the day.
    Order(usize),
    /// A spool ends during a run: run, and which of its ends.
    SpoolEnd(usize, usize),
    /// Runs are taken off a machine that is not set up then; no time is planned for it.
    TakeOff(Vec<Off>),
    /// Trial copies are looked at.
    Approve(usize),
    /// A machine is cleared of runs (none, if they were taken off before) and set up for the next.
    SetUp {
        /// The run that starts.
        run: usize,
        /// The runs that come off.
        clears: Vec<Off>,
    },
    /// A belt run starts by itself.
    Follows(usize),
    /// An assembly is complete, cure included; before the work that may wait for it.
    Complete(usize),
    /// Lengths of a copy are joined.
    Glue(usize),
    /// Pieces are finished and assembled.
    Assemble(usize),
    /// Pieces of no assembly are finished.
    FinishSpares(usize),
}

/// What comes off a machine. Numbers are positions in the plan's own lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Off {
    /// A run that was printing when the rest was planned.
    Standing(usize),
    /// A run of the plan.
    Run(usize),
}

/// How much of a filament is on hand; straight lines between the points.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// Which filament.
    pub filament: FilamentIndex,
    /// Moments in order, with the grams on hand; two points of one moment are a step.
    pub points: Vec<(DateTime<Utc>, Grams)>,
    /// When what is ordered on its last day has come.
    pub arrives: Option<DateTime<Utc>>,
}

impl Level {
    /// What is on hand at a moment, before what comes or goes at once then.
    pub fn at(&self, moment: DateTime<Utc>) -> Grams {
        let after = self.points.partition_point(|point| point.0 < moment);
        match (
            after.checked_sub(1).map(|at| self.points[at]),
            self.points.get(after),
        ) {
            (Some(before), Some(&next)) => between(before, next, moment),
            (Some(last), None) => last.1,
            (None, next) => next.map_or(Grams::ZERO, |next| next.1),
        }
    }

    /// What is on hand from a moment on, with what comes at it.
    pub fn from(&self, moment: DateTime<Utc>) -> Grams {
        let at = self.points.iter().filter(|point| point.0 == moment);
        let most = at.map(|point| point.1.0).fold(self.at(moment).0, f64::max);
        Grams(most)
    }

    /// What is printed and purged from one moment on, until before another.
    pub fn used(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Grams {
        let pairs = self.points.windows(2);
        let used = pairs.map(|pair| {
            let [before, after] = [pair[0], pair[1]]; // windows of two
            let whole = (before.1 - after.1).0.max(0.0);
            if before.0 == after.0 {
                return if (from..to).contains(&before.0) {
                    whole
                } else {
                    0.0
                };
            }
            let (start, end) = (before.0.max(from), after.0.min(to));
            let share =
                (end - start).num_seconds() as f64 / (after.0 - before.0).num_seconds() as f64;
            whole * share.max(0.0)
        });
        Grams(used.sum())
    }
}

/// The level between two points, of which the first is earlier than the moment.
fn between(
    before: (DateTime<Utc>, Grams),
    after: (DateTime<Utc>, Grams),
    moment: DateTime<Utc>,
) -> Grams {
    let whole = (after.0 - before.0).num_seconds() as f64;
    let share = (moment - before.0).num_seconds() as f64 / whole;
    Grams(before.1.0 + (after.1.0 - before.1.0) * share)
}

/// What an assembly weighs: pieces, hardware and glue.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mass {
    /// Its own parts.
    pub own: Grams,
    /// With all that it needs, each once.
    pub whole: Grams,
}

/// What the work of the days is listed from.
#[derive(Clone, Copy, Debug)]
pub struct Listed<'a> {
    /// All runs, by machine, then by time.
    pub runs: &'a [Run],
    /// Runs that were printing when the rest was planned.
    pub standing: &'a [Standing],
    /// Trials.
    pub trials: &'a [Trial],
    /// Gluing of split copies.
    pub gluings: &'a [Gluing],
    /// Dates of assemblies.
    pub assemblies: &'a [AssemblyDates],
    /// Finishing of spares.
    pub spare_work: &'a [SpareWork],
    /// Filament to order.
    pub orders: &'a [Order],
    /// When somebody is there; reaches beyond the last run.
    pub hours: &'a [Work],
}

/// All work, by local day.
pub fn days(scenario: &Scenario, listed: &Listed) -> Vec<Day> {
    let zone = scenario.build.zone;
    let mut days: BTreeMap<NaiveDate, Vec<Task>> = BTreeMap::new();
    let mut put = |from: DateTime<Utc>, to: DateTime<Utc>, what: Job| {
        let date = from.with_timezone(&zone).date_naive();
        let task = Task { from, to, what };
        days.entry(date).or_default().push(task);
    };
    for (at, trial) in listed.trials.iter().enumerate() {
        put(trial.approved, trial.approved, Job::Approve(at));
    }
    for (at, run) in listed.runs.iter().enumerate() {
        if run.setup.is_none() {
            put(run.start, run.start, Job::Follows(at));
        }
        for (which, end) in run.spool.ends.iter().enumerate() {
            put(end.at, end.at, Job::SpoolEnd(at, which));
        }
    }
    for (moment, job) in clearing(scenario, listed) {
        let to = match &job {
            Job::SetUp { run, .. } => listed.runs[*run].start, // `clearing` names runs that are there
            _ => moment,
        };
        put(moment, to, job);
    }
    let mut stretches = |work: &[Work], job: &dyn Fn() -> Job| {
        for stretch in work {
            put(stretch.from, stretch.to, job());
        }
    };
    for (at, gluing) in listed.gluings.iter().enumerate() {
        stretches(&gluing.work, &|| Job::Glue(at));
    }
    for (at, dates) in listed.assemblies.iter().enumerate() {
        stretches(&dates.work, &|| Job::Assemble(at));
    }
    for (at, spare) in listed.spare_work.iter().enumerate() {
        stretches(&spare.work, &|| Job::FinishSpares(at));
    }
    for (at, dates) in listed.assemblies.iter().enumerate() {
        put(dates.complete, dates.complete, Job::Complete(at));
    }
    for (at, order) in listed.orders.iter().enumerate() {
        if let Some(date) = order.order_by {
            let midnight = to_utc(zone, date.and_time(NaiveTime::MIN), Edge::Opening);
            let what = Job::Order(at);
            let task = Task {
                from: midnight,
                to: midnight,
                what,
            };
            days.entry(date).or_default().push(task);
        }
    }
    let sorted = |(date, mut tasks): (NaiveDate, Vec<Task>)| {
        tasks.sort_by(|a, b| (a.from, &a.what).cmp(&(b.from, &b.what)));
        Day { date, tasks }
    };
    days.into_iter().map(sorted).collect()
}

/// A run that is on its machine until it is taken off.
struct Load<'a> {
    off: Off,
    machine: MachineIndex,
    setup: Option<DateTime<Utc>>,
    end: DateTime<Utc>,
    stops: bool,
    pieces: &'a [Piece],
}

/// All of them by machine, then by time: what is on a machine when the rest is planned was there before all that is set up.
fn loads<'a>(listed: &Listed<'a>) -> Vec<Load<'a>> {
    let standing = listed.standing.iter().enumerate();
    let standing = standing.map(|(at, run)| Load {
        off: Off::Standing(at),
        machine: run.machine,
        setup: None,
        end: run.end,
        stops: run.stops.is_some(),
        pieces: &run.pieces,
    });
    let runs = listed.runs.iter().enumerate().map(|(at, run)| Load {
        off: Off::Run(at),
        machine: run.machine,
        setup: run.setup,
        end: run.end,
        stops: run.stops(),
        pieces: &run.pieces,
    });
    let mut loads: Vec<Load> = standing.chain(runs).collect();
    loads.sort_by_key(|load| load.machine); // stable
    loads
}

/// Setups with what they clear, and what is taken off besides: with each the moment at which it is done.
fn clearing(scenario: &Scenario, listed: &Listed) -> Vec<(DateTime<Utc>, Job)> {
    let loads = loads(listed);
    let needed = needed(scenario, listed, &loads);
    let mut jobs: Vec<(DateTime<Utc>, Job)> = Vec::new();
    // By moment and machine, so that what is taken off together is one task.
    let mut apart: BTreeMap<(DateTime<Utc>, usize), Vec<Off>> = BTreeMap::new();
    // Runs still on their machine, by their place among the loads; all of one machine, since those are listed by machine.
    let mut on: Vec<usize> = Vec::new();
    let hours_at = |moment: DateTime<Utc>| listed.hours.partition_point(|hours| hours.to <= moment);
    let next_there = |moment: DateTime<Utc>| {
        let hours = listed.hours.get(hours_at(moment));
        hours.map_or(moment, |hours| hours.from.max(moment))
    };
    for (at, load) in loads.iter().enumerate() {
        if let (Some(setup), Off::Run(run)) = (load.setup, load.off) {
            on.retain(|&before| {
                // As soon as somebody is there; in the bench hours in which the next run is set up, with that. When one ends that
                // stands for want of filament is not known.
                let last = &loads[before];
                let there = next_there(last.end);
                let soon = hours_at(there) == hours_at(setup) || last.stops;
                let there = Some(there).filter(|_| !soon);
                let moment = needed.get(&before).copied().into_iter().chain(there).min();
                match moment.filter(|&moment| moment < setup) {
                    Some(moment) => {
                        let key = (moment, load.machine.0);
                        apart.entry(key).or_default().push(last.off);
                        false
                    }
                    None => true,
                }
            });
            let clears = std::mem::take(&mut on);
            let clears = clears.into_iter().map(|before| loads[before].off).collect();
            jobs.push((setup, Job::SetUp { run, clears }));
        }
        on.push(at);
        let next = loads.get(at + 1);
        if next.is_none_or(|next| next.machine != load.machine) {
            for last in std::mem::take(&mut on) {
                let there = next_there(loads[last].end);
                let moment = needed.get(&last).map_or(there, |&need| need.min(there));
                let key = (moment, load.machine.0);
                apart.entry(key).or_default().push(loads[last].off);
            }
        }
    }
    let taken = apart
        .into_iter()
        .map(|((moment, _), runs)| (moment, Job::TakeOff(runs)));
    jobs.extend(taken);
    jobs
}

/// For each of these runs, the first moment at which somebody works on a piece of it or looks at a trial copy on it.
fn needed(scenario: &Scenario, listed: &Listed, loads: &[Load]) -> BTreeMap<usize, DateTime<Utc>> {
    let begins = |work: &[Work]| work.first().map(|first| first.from);
    let assembled: BTreeMap<AssemblyIndex, DateTime<Utc>> = listed
        .assemblies
        .iter()
        .filter_map(|dates| Some((dates.assembly, begins(&dates.work)?)))
        .collect();
    let glued: BTreeMap<_, DateTime<Utc>> = listed
        .gluings
        .iter()
        .filter_map(|gluing| Some(((gluing.part, gluing.number), begins(&gluing.work)?)))
        .collect();
    let spares: BTreeMap<_, DateTime<Utc>> = listed
        .spare_work
        .iter()
        .filter_map(|spare| Some((spare.part, begins(&spare.work)?)))
        .collect();
    let approved: BTreeMap<_, DateTime<Utc>> = listed
        .trials
        .iter()
        .map(|trial| (trial.part, trial.approved))
        .collect();
    let mut needed = BTreeMap::new();
    for (at, run) in loads.iter().enumerate() {
        let moments = run.pieces.iter().flat_map(|piece| {
            let trial = scenario
                .parts
                .get(piece.part.0)
                .map_or(0, |part| part.trial);
            let work = match piece.assembly {
                Some(assembly) => assembled.get(&assembly),
                None => spares.get(&piece.part),
            };
            [
                glued.get(&(piece.part, piece.number)),
                work,
                approved.get(&piece.part).filter(|_| piece.number <= trial),
            ]
        });
        let after = moments.flatten().filter(|&&moment| moment >= run.end);
        if let Some(&first) = after.min() {
            needed.insert(at, first);
        }
    }
    needed
}
