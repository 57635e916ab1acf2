//! Filament: what is needed, what is on hand, what is ordered by when, and spools that run out during a run.
//!
//! Knows: grams of runs and colour changes, spools, lead times. Must not know: plates, assemblies, money.
//! Promises: more may be ordered than is missing, never less.

use super::Faults;
use super::evidence::{Evidence, begins};
use super::presence::{Minute, Presence, minute, opening};
use super::rule::Rule;
use crate::plan::Order;
use crate::scenario::FilamentIndex;
use crate::units::Grams;

/// Grams that rounding may lose, and the share of a large sum.
const GRAMS: f64 = 0.005;
const SHARE: f64 = 1e-9;

/// Grams that may be lost where runs are counted one by one, in whole milligrams.
const TAKEN: f64 = 0.02;

pub(super) fn check(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let orders = &evidence.plan.orders;
    let rising = orders
        .windows(2)
        .all(|pair| pair[0].filament < pair[1].filament);
    faults.require(rising, Rule::OrderListed, || {
        String::from("orders are not in the scenario's order, or one filament has two")
    });
    let uses = uses(evidence);
    for (filament, uses) in uses.iter().enumerate() {
        check_there(evidence, filament, uses, faults);
    }
    for (at, uses) in uses.iter().enumerate() {
        let filament = FilamentIndex(at);
        match orders.iter().find(|order| order.filament == filament) {
            Some(order) => check_order(evidence, order, uses, faults),
            None => faults.require(uses.is_empty(), Rule::OrderListed, || {
                format!(
                    "{} is needed and has no order",
                    evidence.filament_name(filament)
                )
            }),
        }
    }
    for run in &evidence.plan.runs {
        let waited = run.waits.is_none_or(|comes| comes <= begins(run));
        faults.require(waited, Rule::FilamentWaited, || {
            format!("run {} begins before its filament comes", run.id)
        });
        for end in &run.spool.ends {
            let early = end.left.value() != 0.0;
            let rule = if end.attended || early {
                Rule::SpoolChange
            } else {
                Rule::SpoolRunsOut
            };
            let as_said = presence.at(minute(end.at)) == end.attended
                && (!early || end.attended && end.left.value() > 0.0);
            let during = (run.start..=run.end).contains(&end.at);
            faults.require(as_said && during, rule, || {
                format!("the spool of run {} at {}", run.id, evidence.shown(end.at))
            });
        }
    }
}

/// What one run takes of its filament, and when the run ends.
struct Use {
    begins: Minute,
    end: Minute,
    grams: Grams,
}

/// For each filament, what its runs take, by their start; purge counts with the run that it comes before.
fn uses(evidence: &Evidence) -> Vec<Vec<Use>> {
    let scenario = evidence.scenario;
    let mut order: Vec<usize> = (0..evidence.plan.runs.len()).collect();
    order.sort_by_key(|&at| evidence.plan.runs[at].start);
    let mut uses: Vec<Vec<Use>> = scenario.filaments.iter().map(|_| Vec::new()).collect();
    for at in order {
        let run = &evidence.plan.runs[at];
        let purge = match evidence.changes[at] {
            Some(_) => scenario.machines[run.machine.0].purge,
            None => Grams::ZERO,
        };
        uses[run.filament.0].push(Use {
            begins: minute(begins(run)),
            end: minute(run.end),
            grams: evidence.estimates[at].grams + purge,
        });
    }
    uses
}

/// [`Rule::FilamentThere`]: at the beginning of every run, of all that have begun.
fn check_there(evidence: &Evidence, filament: usize, uses: &[Use], faults: &mut Faults) {
    let given = &evidence.given;
    let Some(ordered) = given.ordered_there(evidence.scenario, filament) else {
        return;
    };
    for one in uses.iter().filter(|one| one.begins < ordered) {
        let there = given.spools[filament].iter();
        let there = there.filter(|spool| spool.from.is_none_or(|from| from <= one.begins));
        let there: f64 = there.map(|spool| spool.grams).sum();
        let begun = uses.iter().filter(|other| other.begins <= one.begins);
        let taken: Grams = begun.map(|other| other.grams).sum();
        let enough = taken.value() <= there + TAKEN + SHARE * there;
        faults.require(enough, Rule::FilamentThere, || {
            format!(
                "{}: {} g are taken by runs that begin until {}, and {there} g can be there",
                evidence.filament_name(FilamentIndex(filament)),
                taken.value(),
                evidence.shown_minute(one.begins)
            )
        });
    }
}

/// [`Rule::OrderGrams`], [`Rule::OrderOnHand`], [`Rule::OrderSpools`], [`Rule::OrderRange`], [`Rule::OrderBy`].
fn check_order(evidence: &Evidence, order: &Order, uses: &[Use], faults: &mut Faults) {
    let filament = &evidence.scenario.filaments[order.filament.0];
    let needed: Grams = uses.iter().map(|one| one.grams).sum();
    let on_hand: Grams = filament.spools.iter().copied().sum();
    for (rule, what, says, is) in [
        (Rule::OrderGrams, "needed", order.grams, needed),
        (Rule::OrderOnHand, "on hand", order.on_hand, on_hand),
    ] {
        let off = (says - is).value().abs();
        faults.require(off <= GRAMS + SHARE * is.value(), rule, || {
            format!(
                "{}: {} g are said to be {what}; it is {} g",
                filament.id,
                says.value(),
                is.value()
            )
        });
    }
    let measured = !evidence.scenario.measured.is_empty();
    let holds = match order.range {
        Some([low, high]) => {
            measured
                && low.value() <= needed.value() + GRAMS
                && needed.value() <= high.value() + GRAMS
        }
        None => !measured,
    };
    faults.require(holds, Rule::OrderRange, || {
        format!(
            "{}: {:?} does not go with {} g",
            filament.id,
            order.range,
            needed.value()
        )
    });
    let missing = (needed - on_hand).value() - SHARE * needed.value();
    let spools = (missing / filament.spool.value()).max(0.0).ceil();
    faults.require(f64::from(order.spools) >= spools, Rule::OrderSpools, || {
        format!(
            "{}: {} spools are ordered, {spools} are missing",
            filament.id, order.spools
        )
    });
    check_last_day(evidence, order, uses, on_hand, faults);
}

fn check_last_day(
    evidence: &Evidence,
    order: &Order,
    uses: &[Use],
    on_hand: Grams,
    faults: &mut Faults,
) {
    let filament = &evidence.scenario.filaments[order.filament.0];
    let ordered = order.spools > 0;
    faults.require(
        order.order_by.is_some() == ordered,
        Rule::OrderBy,
        || match order.order_by {
            Some(day) => format!("{}: nothing is ordered, but by {day}", filament.id),
            None => format!("{} is ordered, but by no day", filament.id),
        },
    );
    let asked = evidence.given.asked;
    let ahead = order
        .order_by
        .zip(asked)
        .is_some_and(|(day, asked)| day < asked);
    faults.require(!ahead, Rule::OrderAhead, || {
        format!("{} is to be ordered in the past", filament.id)
    });
    let mut used = Grams::ZERO;
    let runs_out = uses.iter().find(|one| {
        used += one.grams;
        used.value() > on_hand.value() + GRAMS + SHARE * used.value()
    });
    if let (Some(day), Some(run)) = (order.order_by, runs_out) {
        // Ordered as early as that day allows, it must be there while the run still prints that needs it.
        let arrives = opening(evidence.scenario.build.zone, day, 0)
            .map(|midnight| midnight.saturating_add(filament.lead.value()));
        let in_time = arrives.is_some_and(|arrives| arrives <= run.end);
        faults.require(in_time, Rule::OrderBy, || {
            format!(
                "{} ordered on {day} comes too late for the run that ends at {}",
                filament.id,
                evidence.shown_minute(run.end)
            )
        });
    }
}
