//! Whether a plan can be read at all: names that exist, numbers that are numbers, moments on the minute.
//!
//! Knows: the scenario's and the plan's words. Must not know: what makes a plan right.
//! Promises: after [`check`] without faults every index of the plan points at something.

use chrono::{DateTime, Utc};

use super::Faults;
use super::evidence::Evidence;
use super::presence::minute;
use super::rule::Rule;
use crate::plan::{Plan, Work};
use crate::scenario::Scenario;

/// [`Rule::References`]: every index and every number.
pub(super) fn check(scenario: &Scenario, plan: &Plan, faults: &mut Faults) {
    let mut index = |what: &str, at: usize, of: usize| {
        faults.require(at < of, Rule::References, || {
            format!("{what} points at entry {at} of {of}")
        });
    };
    let machines = scenario.machines.len();
    let filaments = scenario.filaments.len();
    let joints = scenario.joints.len();
    let parts = scenario.parts.len();
    let assemblies = scenario.assemblies.len();
    for run in &plan.runs {
        index("a run's machine", run.machine.0, machines);
        index("a run's filament", run.filament.0, filaments);
        index("a run's settings", run.settings.0, scenario.settings.len());
        if let Some(Some(from)) = run.swap_from {
            index("the filament that comes off", from.0, filaments);
        }
        let next = run.spool.ends.iter().map(|end| end.next_from);
        for from in next.chain([run.spool.from]).flatten() {
            index("the machine that a spool is on", from.0, machines);
        }
        for piece in &run.pieces {
            index("a piece's part", piece.part.0, parts);
            if let Some(assembly) = piece.assembly {
                index("a piece's assembly", assembly.0, assemblies);
            }
        }
    }
    for gluing in &plan.gluings {
        index("a gluing's part", gluing.part.0, parts);
        index("a gluing's joint", gluing.joint.0, joints);
        if let Some(assembly) = gluing.assembly {
            index("a gluing's assembly", assembly.0, assemblies);
        }
    }
    for dates in &plan.assemblies {
        index("an assembly's dates", dates.assembly.0, assemblies);
    }
    for spare in &plan.spare_work {
        index("the finishing of a spare", spare.part.0, parts);
    }
    for route in &plan.routes {
        index("a route's part", route.part.0, parts);
        index("a route's machine", route.machine.0, machines);
        if let Some(joint) = route.joint {
            index("a route's joint", joint.0, joints);
        }
    }
    if let Some(since) = &plan.since {
        for piece in &since.pieces {
            index("a piece that exists", piece.part.0, parts);
            if let Some(assembly) = piece.assembly {
                index(
                    "the assembly of a piece that exists",
                    assembly.0,
                    assemblies,
                );
            }
        }
        for run in &since.running {
            index("the machine of a run that prints", run.machine.0, machines);
            if let Some(filament) = run.filament {
                index("the filament of a run that prints", filament.0, filaments);
            }
        }
        for (assembly, _) in &since.complete {
            index("an assembly that is complete", assembly.0, assemblies);
        }
    }
    for order in &plan.orders {
        index("an order's filament", order.filament.0, filaments);
    }
    check_numbers(plan, faults);
}

fn check_numbers(plan: &Plan, faults: &mut Faults) {
    let mut number = |what: &str, value: f64| {
        faults.require(value.is_finite(), Rule::References, || {
            format!("{what} is {value}")
        });
    };
    for run in &plan.runs {
        number("a run's mass", run.grams.value());
        let ends = run.spool.ends.iter();
        let next = ends.flat_map(|end| [end.next, end.left]);
        for grams in run.spool.put_on.into_iter().chain(next) {
            number("a spool's mass", grams.value());
        }
        for piece in &run.pieces {
            number("a piece's x", piece.x.value());
            number("a piece's y", piece.y.value());
            number("a piece's turn", piece.turn);
            for side in piece.size {
                number("a piece's size", side.value());
            }
            for corner in piece.outline.iter().flat_map(|outline| outline.corners()) {
                number("a corner of a piece", corner[0] + corner[1]);
            }
        }
    }
    for dates in &plan.assemblies {
        number("an assembly's lateness", dates.late_days);
    }
    for order in &plan.orders {
        number("an order's mass", order.grams.value());
        for end in order.range.into_iter().flatten() {
            number("the range of an order", end.value());
        }
        number("the mass on hand", order.on_hand.value());
    }
    number("the bound", plan.bound.value());
    number("the cost that the plan decides", plan.decided.value());
    for (name, money) in super::cost::named(&plan.cost) {
        number(name, money.value());
    }
}

/// [`Rule::WholeMinutes`] and [`Rule::NotBeforeStart`]: every moment.
pub(super) fn check_moments(evidence: &Evidence, faults: &mut Faults) {
    let plan = evidence.plan;
    let mut whole = |what: &dyn Fn() -> String, moment: DateTime<Utc>| {
        let on_the_minute =
            moment.timestamp().rem_euclid(60) == 0 && moment.timestamp_subsec_nanos() == 0;
        faults.require(on_the_minute, Rule::WholeMinutes, || {
            format!("{} at {}", what(), evidence.shown(moment))
        });
    };
    for run in &plan.runs {
        let name = || format!("run {}", run.id);
        let waits = run.setup.into_iter().chain(run.waits);
        for moment in waits.chain([run.start, run.end]) {
            whole(&name, moment);
        }
        for end in &run.spool.ends {
            whole(&name, end.at);
        }
    }
    for gluing in &plan.gluings {
        let name = || {
            let copy = evidence.copy_name(gluing.part, gluing.number);
            format!("the gluing of {copy}")
        };
        whole(&name, gluing.printed);
        whole(&name, gluing.ready);
    }
    for dates in &plan.assemblies {
        let name = || format!("assembly {}", evidence.assembly_name(dates.assembly));
        for moment in [dates.printed, dates.start, dates.complete] {
            whole(&name, moment);
        }
    }
    whole(&|| String::from("the build's end"), plan.finish);
    for (job, work) in evidence.jobs() {
        for Work { from, to } in work {
            whole(&|| job.clone(), *from);
            whole(&|| job.clone(), *to);
        }
    }
    check_start(evidence, faults);
}

fn check_start(evidence: &Evidence, faults: &mut Faults) {
    let start = minute(evidence.scenario.build.start);
    let mut not_before = |what: &str, moment: DateTime<Utc>| {
        faults.require(minute(moment) >= start, Rule::NotBeforeStart, || {
            format!(
                "{what} at {}, before the build starts at {}",
                evidence.shown(moment),
                evidence.shown_minute(start)
            )
        });
    };
    for run in &evidence.plan.runs {
        not_before(&run.id, super::evidence::begins(run));
    }
    for (job, work) in evidence.jobs() {
        for stretch in work {
            not_before(&job, stretch.from);
        }
    }
}
