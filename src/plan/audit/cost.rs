//! The cost of a plan, added up again.
//!
//! Knows: dates of runs and bench work, what runs take, prices. Must not know: what the plan says that it costs.
//! Promises: every sum is one line of the tariff.

use chrono::{DateTime, Utc};

use super::Faults;
use super::assembly::{finish, late_days};
use super::evidence::{Evidence, total};
use super::gluing::lengths;
use super::presence::minute;
use super::rule::Rule;
use crate::plan::Cost;
use crate::units::{Minutes, Money};

/// Money that rounding may lose.
const MONEY: f64 = 0.005;

/// [`Rule::Cost`].
pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    let counted = recount(evidence);
    for ((name, says), (_, is)) in named(&evidence.plan.cost).into_iter().zip(named(&counted)) {
        let off = (says - is).value().abs();
        // Doubles carry sixteen digits: in a sum of a million million the half cent is below their last.
        faults.require(off <= MONEY + 1e-12 * is.value().abs(), Rule::Cost, || {
            format!("{name} is stated as {}; it is {}", says.value(), is.value())
        });
    }
}

/// The parts of a cost with their names.
pub(super) fn named(cost: &Cost) -> [(&'static str, Money); 9] {
    [
        ("the cost of being late", cost.late),
        ("the standing cost", cost.standing),
        ("the cost of machines", cost.machine),
        ("the cost of energy", cost.energy),
        ("the cost of bench work", cost.bench),
        ("the cost of purging", cost.purge),
        ("the cost of plastic", cost.plastic),
        ("the cost of hardware", cost.hardware),
        ("the cost of changes", cost.calm),
    ]
}

/// All parts of the cost.
pub(super) fn recount(evidence: &Evidence) -> Cost {
    let scenario = evidence.scenario;
    let plan = evidence.plan;
    let bench = &scenario.bench;
    let mut cost = Cost::default();

    // The lateness of what is complete is no longer decided.
    let complete = &evidence.given.complete;
    let open = plan.assemblies.iter();
    for dates in open.filter(|dates| !complete.contains_key(&dates.assembly)) {
        let assembly = &scenario.assemblies[dates.assembly.0];
        cost.late += assembly.late * late_days(assembly, dates.complete);
    }
    cost.standing = scenario.build.each_day
        * (between(scenario.build.start, finish(evidence)).hours() / 24.0).max(0.0);

    let mut at_bench = Minutes::ZERO;
    for ((run, takes), change) in plan
        .runs
        .iter()
        .zip(&evidence.estimates)
        .zip(&evidence.changes)
    {
        let machine = &scenario.machines[run.machine.0];
        let price = scenario.filaments[run.filament.0].price_kg;
        let printing = between(run.start, run.end);
        cost.machine += machine.hourly * printing.hours();
        cost.energy += bench.energy_kwh * machine.watts.kilowatt_hours(printing);
        cost.plastic += takes.grams * price;
        if change.is_some() {
            cost.purge += machine.purge * price;
        }
        if let Some(setup) = run.setup {
            at_bench = at_bench + between(setup, run.start);
        }
    }
    at_bench = at_bench + evidence.jobs().map(|(_, work)| Minutes(total(work))).sum();
    cost.bench = bench.bench_hour * at_bench.hours();

    let planned = evidence.copies.iter();
    let planned = planned.map(|(&copy, pieces)| (copy, lengths(pieces)));
    let given = evidence.given.pieces.iter();
    let unjoined = given.filter(|(copy, pieces)| {
        !evidence.copies.contains_key(copy) && pieces.iter().all(|one| one.joined.is_none())
    });
    let unjoined =
        unjoined.map(|(&copy, pieces)| (copy, pieces.iter().map(|one| one.of).max().unwrap_or(0)));
    for ((part, _), of) in planned.chain(unjoined) {
        let split = scenario.parts[part.0].split.as_ref();
        let hardware = split.and_then(|split| scenario.joints[split.joint.0].hardware.as_ref());
        if let Some(hardware) = hardware {
            let joints = f64::from(of.saturating_sub(1));
            cost.hardware += hardware.price_per_mm * (joints * hardware.length.value());
        }
    }
    cost.calm = calm(evidence);
    cost
}

/// For each run that the accepted plan does not have so, on that machine and no more than twelve hours apart, its price. Each accepted run
/// stands for one: of alike ones on a machine the earliest that is near is crossed off.
fn calm(evidence: &Evidence) -> Money {
    let Some(since) = &evidence.plan.since else {
        return Money::ZERO;
    };
    let mut accepted = evidence.given.accepted.clone();
    accepted.sort();
    let mut runs: Vec<_> = evidence.plan.runs.iter().collect();
    runs.sort_by_key(|run| run.start);
    let mut moved = 0.0;
    for run in runs {
        let mut what: Vec<_> = run.pieces.iter().map(|p| (p.part, p.of)).collect();
        what.sort_unstable();
        let near = accepted.iter().position(|(machine, start, content)| {
            let apart = (minute(run.start) - start).abs();
            *machine == run.machine && apart <= 720 && *content == what
        });
        match near {
            Some(at) => drop(accepted.remove(at)),
            None => moved += 1.0,
        }
    }
    since.churn * moved
}

fn between(from: DateTime<Utc>, to: DateTime<Utc>) -> Minutes {
    Minutes(minute(to) - minute(from))
}
