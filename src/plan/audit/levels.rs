//! Filament on hand over time, and what assemblies weigh.
//!
//! Knows: runs, orders, pieces, joints. Must not know: how levels and masses were made.
//! Promises: every point of a level is worked out from all runs anew.

use std::collections::{BTreeMap, BTreeSet};

use super::Faults;
use super::calibration::Factors;
use super::estimate;
use super::evidence::Evidence;
use super::presence::{Minute, minute, opening};
use super::rule::Rule;
use crate::plan::Level;
use crate::units::Grams;

/// Grams that rounding may lose, and the share of a large sum.
const GRAMS: f64 = 0.005;
const SHARE: f64 = 1e-9;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    check_levels(evidence, faults);
    check_masses(evidence, faults);
}

/// [`Rule::Levels`]: at every point that is shown, and at the end of every run.
fn check_levels(evidence: &Evidence, faults: &mut Faults) {
    let scenario = evidence.scenario;
    let levels = &evidence.plan.sheets.levels;
    let listed = levels.iter().map(|level| level.filament.0);
    faults.require(listed.eq(0..scenario.filaments.len()), Rule::Levels, || {
        String::from("the levels are not one for each filament, in the scenario's order")
    });
    for level in levels
        .iter()
        .filter(|level| level.filament.0 < scenario.filaments.len())
    {
        let name = &scenario.filaments[level.filament.0].id;
        let in_order = level.points.windows(2).all(|pair| pair[0].0 <= pair[1].0);
        faults.require(in_order && !level.points.is_empty(), Rule::Levels, || {
            format!("the points of {name} are none, or not in the order of time")
        });
        let last = last_points(level);
        let flow = Flow::of(evidence, level);
        // Once the last point is reached nothing more may be taken, so the last run's end is looked at too.
        let ends = flow.uses.iter().map(|one| one.end).max();
        let beyond = ends
            .into_iter()
            .filter(|end| last.keys().next_back() < Some(end));
        let shown = last.iter().map(|(&at, &grams)| (at, grams));
        let beyond = beyond.map(|end| {
            (
                end,
                last.values().next_back().copied().unwrap_or(Grams::ZERO),
            )
        });
        for (at, grams) in shown.chain(beyond) {
            // What an order that comes too late lets fall below nothing is for its own rule to say.
            let is = flow.at(at).max(0.0);
            let right = (grams.value() - is).abs() <= GRAMS + SHARE * flow.scale;
            faults.require(right, Rule::Levels, || {
                format!(
                    "{name}: {} g are said to be on hand at {}; it is {is} g",
                    grams.value(),
                    evidence.shown_minute(at)
                )
            });
        }
    }
}

/// The last point of each minute.
fn last_points(level: &Level) -> BTreeMap<Minute, Grams> {
    level
        .points
        .iter()
        .map(|&(at, grams)| (minute(at), grams))
        .collect()
}

/// What one run takes of a filament.
struct Taken {
    start: Minute,
    end: Minute,
    grams: f64,
    purge: f64,
}

/// What there is of a filament and what is taken.
struct Flow {
    on_hand: f64,
    comes: Vec<(Minute, f64)>,
    uses: Vec<Taken>,
    scale: f64,
}

impl Flow {
    fn of(evidence: &Evidence, level: &Level) -> Self {
        let scenario = evidence.scenario;
        let filament = &scenario.filaments[level.filament.0];
        let runs = evidence.plan.runs.iter().enumerate();
        let uses: Vec<Taken> = runs
            .filter(|(_, run)| run.filament == level.filament)
            .map(|(at, run)| Taken {
                start: minute(run.start),
                end: minute(run.end),
                grams: evidence.estimates[at].grams.value(),
                purge: match evidence.changes[at] {
                    Some(_) => scenario.machines[run.machine.0].purge.value(),
                    None => 0.0,
                },
            })
            .collect();
        let orders = evidence.plan.orders.iter();
        let mut order = orders.filter(|order| order.filament == level.filament);
        let comes = order.next().and_then(|order| {
            let sent = opening(scenario.build.zone, order.order_by?.succ_opt()?, 0)?;
            let there = sent.saturating_add(filament.lead.value());
            Some((there, filament.spool.value() * f64::from(order.spools)))
        });
        let bought = &evidence.given.spools[level.filament.0];
        let here = bought.iter().filter(|spool| !spool.comes);
        let on_hand: f64 = here.map(|spool| spool.grams).sum();
        let bought = bought.iter().filter(|spool| spool.comes);
        let bought = bought.filter_map(|spool| Some((spool.from?, spool.grams)));
        let comes = comes.into_iter().chain(bought).collect();
        let scale = on_hand + uses.iter().map(|one| one.grams + one.purge).sum::<f64>();
        Self {
            on_hand,
            comes,
            uses,
            scale,
        }
    }

    /// Grams at the end of everything that happens at a minute.
    fn at(&self, now: Minute) -> f64 {
        let come = self.comes.iter().filter(|(at, _)| *at <= now);
        let come: f64 = come.map(|(_, grams)| grams).sum();
        let used = self.uses.iter().filter(|one| one.start <= now).map(|one| {
            let whole = (one.end - one.start).max(1) as f64;
            one.purge + one.grams * (((now - one.start) as f64) / whole).min(1.0)
        });
        self.on_hand + come - used.sum::<f64>()
    }
}

/// [`Rule::Masses`].
fn check_masses(evidence: &Evidence, faults: &mut Faults) {
    let scenario = evidence.scenario;
    // The heaviest copy of each part, as some are made in one way and some in another.
    let factors = Factors::new(scenario);
    let mut copies = vec![0.0_f64; scenario.parts.len()];
    for ((part, _), printed) in &evidence.copies {
        let joints = f64::from(super::gluing::lengths(printed).saturating_sub(1));
        let joint = scenario.parts[part.0].split.as_ref().map_or(0.0, |split| {
            let joint = &scenario.joints[split.joint.0];
            let cut = joint.hardware.as_ref();
            joint.grams.value() + cut.map_or(0.0, |cut| cut.grams_per_mm * cut.length.value())
        });
        for one in printed {
            let machine = evidence.plan.runs[one.run].machine;
            let whole = estimate::of_copy(scenario, &factors, machine, one.piece).value();
            copies[part.0] = copies[part.0].max(whole + joints * joint);
        }
    }
    let own: Vec<f64> = scenario
        .assemblies
        .iter()
        .map(|assembly| {
            let parts = assembly.parts.iter();
            parts
                .map(|(part, count)| copies[part.0] * f64::from(*count))
                .sum()
        })
        .collect();
    let masses = &evidence.plan.sheets.masses;
    faults.require(masses.len() == own.len(), Rule::Masses, || {
        format!(
            "{} masses are stated for {} assemblies",
            masses.len(),
            own.len()
        )
    });
    // Of what is printed already nobody knows here how it lay.
    let unknown = |assembly: usize| {
        let mut parts = scenario.assemblies[assembly].parts.iter();
        evidence.given.any && parts.any(|(part, _)| copies[part.0] == 0.0)
    };
    for (at, (mass, own_mass)) in masses.iter().zip(&own).enumerate() {
        let mut all = BTreeSet::from([at]);
        loop {
            let needs = all.iter().flat_map(|&one| &scenario.assemblies[one].needs);
            let more: Vec<usize> = needs
                .map(|need| need.0)
                .filter(|need| !all.contains(need))
                .collect();
            if more.is_empty() {
                break;
            }
            all.extend(more);
        }
        if all.iter().any(|&one| unknown(one)) {
            continue;
        }
        let whole: f64 = all.iter().map(|&one| own[one]).sum();
        let near = |stated: Grams, is: f64| (stated.value() - is).abs() <= GRAMS + SHARE * is;
        faults.require(near(mass.own, *own_mass) && near(mass.whole, whole), Rule::Masses, || {
            format!(
                "{}: {} g and {} g with all that it needs are stated; it is {own_mass} g and {whole} g",
                scenario.assemblies[at].id,
                mass.own.value(),
                mass.whole.value()
            )
        });
    }
}
