//! What a build takes at a scale and with some settings: size, mass, filament, hours, money, a first possible end.
//!
//! Knows: a scenario as it was read at that scale, routes, a quick plan. Must not know: files, screens, how it is shown.
//! Promises: hours, money and dates are those of an audited plan; what fits no machine is left out of it and named; a
//! mass by analogy stands beside the one from geometry, never in its place.
//!
//! A figure that comes to have a range has it here, beside the figure; the report only writes it.

mod analogy;
mod fitting;

use chrono::{DateTime, Utc};

use crate::lifting::{Lift, heaviest_lift};
use crate::plan::{self, Cost, Plan};
use crate::planning::{self, NoPlan, Options, Patience};
use crate::routes::{PartRoutes, routes};
use crate::scenario::{Original, PartIndex, Reading, Scenario};
use crate::search::portfolio::Limit;
use crate::strength::{self, Verdict};
use crate::units::{Grams, Millimetres, Minutes};

pub use analogy::{Analogy, by_analogy, solid_mass};

/// Moves of a quick plan's search. On the quayside crane the constructed queues cost 3 % more than a search of some
/// seconds finds, and so few moves take no time beside the rest.
const QUICK: u64 = 2_000;

/// How large the build is.
#[derive(Clone, Debug, PartialEq)]
pub enum Size {
    /// Length, width and height of the whole, from the original's.
    Whole([Millimetres; 3]),
    /// Nothing says; the part with the longest side.
    LargestPart(PartIndex),
}

/// A filament in sum.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    /// Its name.
    pub filament: String,
    /// Grams, lost in colour changes included.
    pub grams: Grams,
    /// New spools that these fill, the last one begun counted whole.
    pub spools: u32,
    /// Of them to be ordered, with what is on hand.
    pub order: u32,
}

/// What a quick plan says, of everything that fits.
#[derive(Clone, Debug)]
pub struct Figures {
    /// Mass of the finished build: pieces, hardware and glue; spares not counted.
    pub mass: Grams,
    /// Mass of each stage with all that it needs, by name, in the scenario's order.
    pub stages: Vec<(String, Grams)>,
    /// The heaviest assembly that is lifted into another.
    pub heaviest: Option<(String, Grams)>,
    /// Every filament, in the scenario's order.
    pub filaments: Vec<Need>,
    /// Pieces printed, spares included.
    pub pieces: usize,
    /// Hours of printing, all machines together.
    pub machine: Minutes,
    /// Bench work.
    pub bench: Minutes,
    /// Cost, part by part.
    pub cost: Cost,
    /// When the last assembly is complete.
    pub finish: DateTime<Utc>,
    /// Stages that are late.
    pub late: usize,
}

/// Why there are no figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unplanned {
    /// No part fits any machine.
    NothingFits,
    /// The work does not end within the calendar's horizon.
    NoTime,
}

/// What a build takes at one scale, with one choice of settings.
#[derive(Clone, Debug)]
pub struct Forecast {
    /// The scenario at this scale.
    pub scenario: Scenario,
    /// The settings of every part; `None`: each its own.
    pub settings: Option<String>,
    /// Parts that have the same size at any scale.
    pub taken_as_is: usize,
    /// Parts that are estimated although they were measured, since they were so under other conditions.
    pub unmeasured: usize,
    /// Every way to make each part.
    pub routes: Vec<PartRoutes>,
    /// Parts that no machine can make in any way.
    pub nowhere: Vec<PartIndex>,
    /// Parts that can be made in lengths only.
    pub only_split: Vec<PartIndex>,
    /// Parts that can be made in one piece, but only on a belt.
    pub only_belt: Vec<PartIndex>,
    /// How large it is.
    pub size: Size,
    /// Mass of the original at this scale, were it as solid; `None` where its mass is not known.
    pub solid: Option<Grams>,
    /// Mass by the ratio of each earlier build.
    pub analogies: Vec<Analogy>,
    /// Parts that span.
    pub spans: usize,
    /// Of them, those that sag too much as printed.
    pub sagging: Vec<PartIndex>,
    /// The figures of what fits.
    pub figures: Result<Figures, Unplanned>,
}

/// What a build takes as it was read.
///
/// # Errors
/// If a plan was found that cannot be shown, which is a fault of this program.
pub fn forecast(reading: &Reading, settings: Option<&str>) -> Result<Forecast, NoPlan> {
    let scenario = &reading.scenario;
    let routes = routes(scenario);
    let of = |kind: &dyn Fn(&PartRoutes) -> bool| -> Vec<PartIndex> {
        let parts = routes.iter().filter(|part| kind(part));
        parts.map(|part| part.part).collect()
    };
    let nowhere = of(&|part| part.forms.is_empty());
    let only_split = of(&|part| part.forms.first().is_some_and(|form| form.lengths > 1));
    let only_belt = of(&|part| {
        part.forms.first().is_some_and(|form| {
            let mut ways = form.ways.iter();
            form.lengths == 1 && ways.all(|way| scenario.machines[way.machine.0].is_belt())
        })
    });
    let spans = strength::spans(scenario);
    let too_much = spans.iter().filter(|span| span.verdict != Verdict::Bare);
    let sagging = too_much.map(|span| span.part).collect();
    let figures = figures(&fitting::without(scenario, &nowhere))?;
    let Original { size, mass } = scenario.build.original;
    let scale = scenario.build.scale;
    Ok(Forecast {
        settings: settings.map(str::to_owned),
        taken_as_is: reading.taken_as_is.len(),
        unmeasured: reading.unmeasured.len(),
        size: match size {
            Some(size) => Size::Whole(size.map(|side| side * scale)),
            None => Size::LargestPart(largest(scenario)),
        },
        solid: mass.map(|mass| solid_mass(mass, scale)),
        analogies: mass.map_or_else(Vec::new, |mass| {
            let earlier = scenario.build.earlier.iter();
            earlier
                .map(|earlier| by_analogy(earlier, mass, scale))
                .collect()
        }),
        spans: spans.len(),
        sagging,
        nowhere,
        only_split,
        only_belt,
        routes,
        scenario: scenario.clone(),
        figures,
    })
}

/// The part with the longest side. (A scenario has a part.)
fn largest(scenario: &Scenario) -> PartIndex {
    let longest = |part: usize| {
        let sides = scenario.parts[part].size.map(Millimetres::value);
        sides.into_iter().fold(0.0, f64::max)
    };
    let parts = 0..scenario.parts.len();
    PartIndex(
        parts
            .max_by(|a, b| longest(*a).total_cmp(&longest(*b)))
            .unwrap_or(0),
    )
}

/// A quick plan in figures.
fn figures(scenario: &Scenario) -> Result<Result<Figures, Unplanned>, NoPlan> {
    if scenario.parts.is_empty() {
        return Ok(Err(Unplanned::NothingFits));
    }
    let options = Options {
        limit: Some(Limit::Moves(QUICK)),
        patience: Patience::Rounds(0),
        joins: false,
        ..Options::default()
    };
    match planning::plan(scenario, &options) {
        Ok(planned) => Ok(Ok(in_sum(scenario, &planned.plan))),
        Err(NoPlan::NoTime(_)) => Ok(Err(Unplanned::NoTime)),
        Err(fault) => Err(fault),
    }
}

fn in_sum(scenario: &Scenario, plan: &Plan) -> Figures {
    let copy_grams = plan::copy_grams(scenario, &routes(scenario), &plan.runs);
    let lifts = &plan.lifts;
    let named = |lift: &Lift| {
        let id = &scenario.assemblies[lift.assembly.0].id;
        (id.clone(), lift.mass)
    };
    let is_stage = |lift: &&Lift| scenario.assemblies[lift.assembly.0].due.is_some();
    let wanted = scenario.parts.iter().map(|part| f64::from(part.quantity));
    Figures {
        mass: copy_grams
            .iter()
            .zip(wanted)
            .map(|(&copy, count)| copy * count)
            .sum(),
        stages: lifts.iter().filter(is_stage).map(named).collect(),
        heaviest: heaviest_lift(lifts).map(named),
        filaments: plan.orders.iter().map(|o| need(scenario, o)).collect(),
        pieces: plan.runs.iter().map(|run| run.pieces.len()).sum(),
        machine: plan.runs.iter().map(|run| run.minutes).sum(),
        bench: plan::bench_time(&plan.ledger()),
        cost: plan.cost,
        finish: plan.finish,
        late: plan.assemblies.iter().filter(|a| a.late_days > 0.0).count(),
    }
}

fn need(scenario: &Scenario, order: &plan::Order) -> Need {
    let filament = &scenario.filaments[order.filament.0];
    Need {
        filament: filament.id.clone(),
        grams: order.grams,
        // A thousandth of a gram too much begins no spool. The cast holds at both ends of u32.
        spools: ((order.grams.0 - 0.001) / filament.spool.0).ceil().max(0.0) as u32,
        order: order.spools,
    }
}

#[cfg(test)]
mod tests;
