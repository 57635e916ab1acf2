//! What a plan costs, added up from its runs, its bench work and its dates.
//!
//! Knows: a plan and its scenario's prices. Must not know: the search, the audit (which adds up by itself).
//! Promises: the sum is the objective that the search minimises, to rounding.

use chrono::{DateTime, Utc};

use crate::scenario::Scenario;
use crate::units::{Grams, Minutes};

use super::{AssemblyDates, Cost, Gluing, Run, Since, SpareWork, Work};

/// What the cost of a plan is added up from.
#[derive(Clone, Copy, Debug)]
pub struct Ledger<'a> {
    /// All runs.
    pub runs: &'a [Run],
    /// Gluing of split copies.
    pub gluings: &'a [Gluing],
    /// Dates of assemblies.
    pub assemblies: &'a [AssemblyDates],
    /// Finishing of spares.
    pub spare_work: &'a [SpareWork],
    /// When the last assembly is complete.
    pub finish: DateTime<Utc>,
    /// What is there already, if the plan is of the rest of a build.
    pub since: Option<&'a Since>,
}

/// The cost of a plan, part by part.
pub fn cost(scenario: &Scenario, ledger: &Ledger) -> Cost {
    let mut cost = Cost::default();
    for run in ledger.runs {
        let machine = &scenario.machines[run.machine.0];
        let filament = &scenario.filaments[run.filament.0];
        cost.machine += machine.hourly * run.minutes.hours();
        cost.energy += scenario.bench.energy_kwh * machine.watts.kilowatt_hours(run.minutes);
        cost.plastic += run.grams * filament.price_kg;
        if run.swap_from.is_some() {
            cost.purge += purged(scenario, run) * filament.price_kg;
        }
    }
    cost.bench = scenario.bench.bench_hour * bench_time(ledger).hours();
    // One length of each copy stands for the copy.
    let pieces = ledger.runs.iter().flat_map(|run| &run.pieces);
    let firsts = pieces.filter(|piece| piece.of > 1 && piece.length == 1);
    let given = ledger.since.into_iter().flat_map(|since| &since.pieces);
    let unjoined = given.filter(|one| one.of > 1 && one.length == 1 && one.joined.is_none());
    let copies = firsts.map(|piece| (piece.part, piece.of));
    for (part, lengths) in copies.chain(unjoined.map(|one| (one.part, one.of))) {
        let split = scenario.parts[part.0].split.as_ref();
        let joint = split.map(|split| &scenario.joints[split.joint.0]);
        if let Some(hardware) = joint.and_then(|joint| joint.hardware.as_ref()) {
            let joints = f64::from(lengths - 1);
            cost.hardware += hardware.price_per_mm * (hardware.length.0 * joints);
        }
    }
    let done = |a| ledger.since.is_some_and(|since| since.is_complete(a));
    for dates in ledger
        .assemblies
        .iter()
        .filter(|dates| !done(dates.assembly))
    {
        cost.late += scenario.assemblies[dates.assembly.0].late * dates.late_days;
    }
    // What stood until now is paid.
    let from = ledger.since.map_or(scenario.build.start, |since| since.now);
    cost.standing = scenario.build.each_day * days(ledger.finish - from).max(0.0);
    cost
}

/// Bench work of a plan: setups, finishing, gluing, assembly.
pub fn bench_time(ledger: &Ledger) -> Minutes {
    let setups = ledger
        .runs
        .iter()
        .filter_map(|run| Some(Minutes((run.start - run.setup?).num_minutes())));
    let work = ledger
        .gluings
        .iter()
        .flat_map(|g| &g.work)
        .chain(ledger.assemblies.iter().flat_map(|a| &a.work))
        .chain(ledger.spare_work.iter().flat_map(|s| &s.work));
    setups.chain(work.map(Work::minutes)).sum()
}

/// Grams lost when a run's filament comes in.
pub fn purged(scenario: &Scenario, run: &Run) -> Grams {
    match run.swap_from {
        Some(_) => scenario.machines[run.machine.0].purge,
        None => Grams::ZERO,
    }
}

/// A span in days.
pub fn days(span: chrono::TimeDelta) -> f64 {
    span.num_minutes() as f64 / 1440.0
}

impl Work {
    /// How long it lasts.
    pub fn minutes(&self) -> Minutes {
        Minutes((self.to - self.from).num_minutes())
    }
}
