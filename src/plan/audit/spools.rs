//! Spools: each is in one place, lasts as long as the plan says, and covers its runs with the margin.
//!
//! Knows: grams of runs and colour changes, spools, orders. Must not know: how spools are chosen.
//! Promises: every spool is followed from machine to shelf and on, by the setups in time and by its name; asked only where the build has a
//! `spool_margin`, or the plan names spools.

use super::Faults;
use super::evidence::{Evidence, begins};
use super::presence::{Minute, minute};
use super::rule::Rule;
use super::shelf::{GRAMS, Held, SHARE, Said, Stock};
use crate::scenario::{FilamentIndex, MachineIndex};

/// The margin is at least so much, g.
const LEAST: f64 = 10.0;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    let scenario = evidence.scenario;
    for run in &evidence.plan.runs {
        let said = run.spool.put_on.is_some() || run.spool.from.is_none();
        faults.require(said, Rule::SpoolAllotted, || {
            format!(
                "run {}: a spool comes from another machine, and none goes on",
                run.id
            )
        });
    }
    known(evidence, faults);
    let mut names = evidence.plan.runs.iter().map(|run| &run.spool);
    let named = names.any(|note| {
        let next = note.ends.iter().map(|end| &end.next_name);
        next.chain([&note.name]).any(Option::is_some)
    });
    if scenario.build.spool_margin <= 0.0 && !named {
        return;
    }
    let mut stocks: Vec<Stock> = scenario
        .filaments
        .iter()
        .enumerate()
        .map(|(at, filament)| Stock {
            held: evidence.given.spools[at]
                .iter()
                .map(|spool| Held {
                    name: Some(&spool.id),
                    grams: spool.grams,
                    from: spool.from.unwrap_or(Minute::MIN),
                    on: spool.on,
                })
                .collect(),
            comes: evidence.given.ordered_there(scenario, at),
            new: evidence
                .plan
                .orders
                .iter()
                .filter(|order| order.filament == FilamentIndex(at))
                .map(|order| order.spools)
                .sum(),
            full: filament.spool.value(),
        })
        .collect();
    for chain in chains(evidence) {
        if !follow(evidence, &chain, &mut stocks, faults) {
            return; // what comes after cannot be told
        }
    }
}

/// [`Rule::SpoolNamed`], as far as it can be told of each run by itself: there is a spool of that name, and it is of the run's filament.
fn known(evidence: &Evidence, faults: &mut Faults) {
    for run in &evidence.plan.runs {
        let goes_on = run.spool.put_on.is_some() || run.spool.name.is_none();
        faults.require(goes_on, Rule::SpoolNamed, || {
            format!("run {}: a spool is named, and none goes on", run.id)
        });
        let next = run.spool.ends.iter().map(|end| &end.next_name);
        for name in next.chain([&run.spool.name]).flatten() {
            let mut there = evidence.given.spools[run.filament.0].iter();
            let there = there.any(|held| *held.id == **name);
            faults.require(there, Rule::SpoolNamed, || {
                let filament = evidence.filament_name(run.filament);
                format!("run {}: there is no spool {name} of {filament}", run.id)
            });
        }
    }
}

/// Runs of one machine and filament after one setup, in the order of the setups.
fn chains(evidence: &Evidence) -> Vec<Vec<usize>> {
    let runs = &evidence.plan.runs;
    let mut chains: Vec<Vec<usize>> = Vec::new();
    for queue in &evidence.queues {
        let mut last: Option<usize> = None;
        for &at in queue {
            let goes_on = runs[at].setup.is_none()
                && last.is_some_and(|last| runs[last].filament == runs[at].filament);
            match chains.last_mut() {
                Some(chain) if goes_on => chain.push(at),
                _ => chains.push(vec![at]),
            }
            last = Some(at);
        }
    }
    // No chain is empty.
    chains.sort_by_key(|chain| (begins(&runs[chain[0]]), runs[chain[0]].machine));
    chains
}

/// [`Rule::SpoolRunsOut`] of one chain, as far as it could have been avoided: where somebody set it up, no spool that covered all of it
/// was to be had.
fn check_end(evidence: &Evidence, chain: &[usize], stock: &Stock, faults: &mut Faults) {
    let runs = &evidence.plan.runs;
    let first = &runs[chain[0]]; // no chain is empty
    let mut ends = chain.iter().flat_map(|&at| &runs[at].spool.ends);
    if first.setup.is_none() || ends.all(|end| end.attended) {
        return;
    }
    let takes: f64 = chain
        .iter()
        .map(|&at| evidence.estimates[at].grams.value() + purge(evidence, at))
        .sum();
    let margin = (takes * evidence.scenario.build.spool_margin).max(LEAST);
    let covers = takes + margin + GRAMS + SHARE * takes;
    let avoided = !stock.has(covers, minute(begins(first)));
    faults.require(avoided, Rule::SpoolRunsOut, || {
        format!(
            "run {}: a spool ends with nobody there, and one that covers {takes} g was to be had",
            first.id
        )
    });
}

/// What a run's setup purges, g.
fn purge(evidence: &Evidence, at: usize) -> f64 {
    let machine = evidence.plan.runs[at].machine.0;
    match evidence.changes[at] {
        Some(_) => evidence.scenario.machines[machine].purge.value(),
        None => 0.0,
    }
}

/// [`Rule::SpoolAllotted`] and [`Rule::SpoolMargin`] of one chain; whether its spools could be followed.
fn follow<'a>(
    evidence: &'a Evidence,
    chain: &[usize],
    stocks: &mut [Stock<'a>],
    faults: &mut Faults,
) -> bool {
    let scenario = evidence.scenario;
    let runs = &evidence.plan.runs;
    let first = &runs[chain[0]]; // no chain is empty
    let machine = first.machine.0;
    let now = minute(begins(first));
    let stock = first.filament.0;
    let place = |from: Option<MachineIndex>| {
        let machine = from.and_then(|machine| scenario.machines.get(machine.0));
        machine.map_or_else(
            || String::from("on the shelf"),
            |machine| format!("on {}", machine.id),
        )
    };
    let with_margin = scenario.build.spool_margin > 0.0;
    if with_margin {
        check_end(evidence, chain, &stocks[stock], faults);
    }
    let mut wrong = |id: &str, what: String| {
        faults.report(Rule::SpoolAllotted, format!("run {id}: {what}"));
    };
    let (mut left, mut name) = match first.spool.put_on {
        Some(grams) => {
            // What was on goes to the shelf.
            let off = stocks.iter_mut().flat_map(|stock| &mut stock.held);
            for held in off.filter(|held| held.on == Some(machine)) {
                held.on = None;
            }
            let from = first.spool.from;
            let said = Said {
                name: first.spool.name.as_deref(),
                grams: grams.value(),
            };
            if !stocks[stock].take(said, now, from.map(|machine| machine.0)) {
                let what = format!(
                    "run {}: there is no {said} for it {}",
                    first.id,
                    place(from)
                );
                faults.report(said.rule(), what);
                return false;
            }
            (said.grams, said.name)
        }
        None => match stocks[stock].on(machine) {
            Some(held) => (held.grams, held.name),
            None => {
                wrong(
                    &first.id,
                    String::from("nothing of its filament is on its machine"),
                );
                return false;
            }
        },
    };
    // What comes off the spool that is on, in this chain.
    let mut drawn = 0.0;
    for &at in chain {
        let run = &runs[at];
        let purge = purge(evidence, at);
        let mut rest = evidence.estimates[at].grams.value();
        if left < purge {
            // Only a new one of so little goes on all the same; then another follows at the setup, which no plan shows.
            if stocks[stock].full >= purge {
                let what = format!("its spool has {left} g, and its setup purges {purge} g");
                wrong(&run.id, what);
            }
            return false;
        }
        left -= purge;
        drawn += purge;
        let minutes = (minute(run.end) - minute(run.start)) as f64;
        let whole = rest;
        for end in &run.spool.ends {
            if end.left.value() > 0.0 {
                let printed = (minute(end.at) - minute(run.start)) as f64 / minutes * whole;
                let off = (printed - (whole - rest)).max(0.0);
                let stays = left - off;
                if (stays - end.left.value()).abs() > GRAMS + SHARE * whole {
                    wrong(
                        &run.id,
                        format!("{stays} g are left on its spool when that is changed"),
                    );
                }
                rest -= off;
                stocks[stock].held.push(Held {
                    name,
                    grams: end.left.value(),
                    from: minute(end.at),
                    on: None,
                });
            } else {
                rest -= left;
                let due = minute(run.start) + (minutes * (whole - rest) / whole).floor() as Minute;
                if (due - minute(end.at)).abs() > 1 {
                    wrong(
                        &run.id,
                        format!("its spool is empty at {}", evidence.shown_minute(due)),
                    );
                }
            }
            // It was set aside when the chain began: a machine that it was on then may have been set up with another since.
            let set_up = |on: usize| {
                let mut others = runs.iter().filter(|other| other.machine.0 == on);
                others.any(|other| {
                    let setup = other.setup.map(minute);
                    setup.is_some_and(|setup| now <= setup && setup <= minute(end.at))
                })
            };
            let from = end.next_from.map(|machine| machine.0);
            let mut froms = vec![from];
            match from {
                Some(on) if set_up(on) => froms.clear(),
                Some(_) => {}
                None => {
                    let machines = 0..scenario.machines.len();
                    froms.extend(machines.filter(|&on| on != machine && set_up(on)).map(Some));
                }
            }
            let set_aside = minute(begins(run));
            let mut froms = froms.into_iter();
            let said = Said {
                name: end.next_name.as_deref(),
                grams: end.next.value(),
            };
            if !froms.any(|from| stocks[stock].take(said, set_aside, from)) {
                let what = format!("run {}: no {said} follows {}", run.id, place(end.next_from));
                faults.report(said.rule(), what);
                return false;
            }
            (left, name, drawn) = (said.grams, said.name, 0.0);
        }
        left -= rest;
        drawn += rest;
        if left < -(GRAMS + SHARE * whole) {
            wrong(
                &run.id,
                format!("its spool lacks {} g, and no end is said", -left),
            );
            return false;
        }
    }
    let margin = (drawn * scenario.build.spool_margin).max(LEAST);
    let filament = &scenario.filaments[stock];
    // An order at the start is surely there: so long after, and the days in which it is sent and comes.
    let start = minute(scenario.build.start);
    let ordered = start
        .saturating_add(filament.lead.value())
        .saturating_add(2 * 24 * 60);
    let could = filament.spool.value() >= drawn + margin + GRAMS && now >= ordered;
    let keeps = left + GRAMS + SHARE * drawn >= margin;
    faults.require(keeps || !could || !with_margin, Rule::SpoolMargin, || {
        format!(
            "run {}: {left} g are left of the {margin} g of the margin",
            first.id
        )
    });
    let end = chain.last().map_or(now, |&at| minute(runs[at].end));
    stocks[stock].held.push(Held {
        name,
        grams: left.max(0.0),
        from: end,
        on: Some(machine),
    });
    true
}
