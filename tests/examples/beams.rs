//! Beams that fit on no bed: in lengths, or on the belt.

use beamyard::plan::{Gluing, Piece, Plan, Run};
use beamyard::routes::{Form, RouteKind, Way, routes};
use beamyard::scenario::Scenario;
use chrono::{DateTime, TimeDelta, Utc};

use crate::idle::first_setup;
use crate::{Looked, MOVES, Shop, plan_of, scenario};

/// The footbridge's long beams, by name.
const BEAMS: [&str; 3] = ["top-chord", "bottom-chord", "handrail"];

fn routes_of_beams(shop: &Shop) -> Vec<(String, RouteKind)> {
    let routes = shop.plan.routes.iter();
    routes
        .map(|used| (shop.scenario.parts[used.part.0].id.clone(), used.route))
        .filter(|(id, _)| BEAMS.contains(&id.as_str()))
        .collect()
}

/// That the footbridge's beams go to its belt.
pub fn assert_beams_are_on_the_belt(shop: &Shop) {
    let routes = routes_of_beams(shop);
    assert_eq!(routes.len(), BEAMS.len(), "{routes:?}");
    assert!(routes.iter().all(|r| r.1 == RouteKind::Belt), "{routes:?}");
}

#[test]
fn the_footbridges_beams_are_split_where_the_belt_is_dear() {
    let usual = scenario("footbridge");
    let mut dear = usual.clone();
    for machine in dear.machines.iter_mut().filter(|m| m.is_belt()) {
        machine.hourly = machine.hourly * 10.0;
    }
    let shop = plan_of(dear, MOVES);
    let routes = routes_of_beams(&shop);
    assert!(routes.iter().all(|r| r.1 == RouteKind::Split), "{routes:?}");
    let looked = splits_beside_a_free_belt(&shop);
    assert!(
        looked.compared >= 8 && looked.absurd.is_empty(),
        "{looked:?}"
    );
    // At the usual prices the same plan would be absurd: the belt stands free all the time, with what the chords are made of.
    let looked = splits_beside_a_free_belt(&Shop {
        scenario: usual,
        ..shop
    });
    let told = |beam: &str| {
        let absurd = looked.absurd.iter();
        absurd.filter(|told| told.starts_with(beam)).count()
    };
    assert_eq!(
        (told("top-chord"), told("bottom-chord")),
        (8, 8),
        "{looked:?}"
    );
}

#[test]
fn the_footbridges_beams_are_split_where_there_is_no_belt() {
    let mut shop = scenario("footbridge");
    let belts: Vec<bool> = shop.machines.iter().map(|m| m.is_belt()).collect();
    let mut kept = belts.iter().map(|belt| !belt);
    shop.machines.retain(|_| kept.next() == Some(true));
    for part in &mut shop.parts {
        let mut kept = belts.iter().map(|belt| !belt);
        part.minutes.retain(|_| kept.next() == Some(true));
        let mut kept = belts.iter().map(|belt| !belt);
        part.only.retain(|_| kept.next() == Some(true));
    }
    let routes = routes_of_beams(&plan_of(shop, MOVES));
    assert!(
        !routes.is_empty() && routes.iter().all(|r| r.1 == RouteKind::Split),
        "{routes:?}"
    );
}

/// Money of a machine for so many minutes of printing.
fn printing(scenario: &Scenario, way: &Way, minutes: f64) -> f64 {
    let machine = &scenario.machines[way.machine.0];
    let hour = machine.hourly.0 + machine.watts.0 / 1000.0 * scenario.bench.energy_kwh.0;
    minutes / 60.0 * hour
}

/// What a copy in lengths costs at least: what its pieces add to the runs that they are on, nothing for layers, warm-up and setups,
/// which are shared; plastic, gluing, hardware, and a knife along each length.
fn at_least(scenario: &Scenario, form: &Form, pieces: &[(&Run, &Piece)]) -> f64 {
    let part = pieces[0].1.part;
    let per_gram = price_of_a_gram(scenario, part.0);
    let bench = scenario.bench.bench_hour.0 / 60.0;
    let printed: f64 = pieces
        .iter()
        .map(|(run, piece)| {
            let kind = form
                .kinds
                .iter()
                .position(|kind| kind.positions.contains(&piece.length));
            let ways = form.ways_of(kind.expect("a length of this form"), run.machine);
            let ways = ways.filter(|way| way.upright == piece.upright);
            let price = ways
                .map(|way| printing(scenario, way, way.own_time.0 / 60.0) + way.grams.0 * per_gram);
            price.fold(f64::INFINITY, f64::min)
        })
        .sum();
    let knife = scenario.parts[part.0].finishing.0 / 60.0 * f64::from(form.lengths);
    printed + form.hardware.0 + (form.glue.0 as f64 + knife) * bench
}

/// What a copy costs that has a run on the belt to itself, with so many changes of filament more, its own and that of the run after it.
fn on_the_belt(scenario: &Scenario, part: usize, way: &Way, changes: i64) -> f64 {
    let machine = &scenario.machines[way.machine.0];
    let bench = scenario.bench.bench_hour.0 / 60.0;
    let setup = machine.turnaround.0 + changes * machine.swap.0;
    let prices = scenario.filaments.iter().map(|f| f.price_kg.0 / 1000.0);
    let purged = machine.purge.0 * prices.fold(0.0, f64::max);
    printing(scenario, way, way.alone.0 as f64)
        + way.grams.0 * price_of_a_gram(scenario, part)
        + (setup as f64 + scenario.parts[part].finishing.0 / 60.0) * bench
        + changes as f64 * purged
}

fn price_of_a_gram(scenario: &Scenario, part: usize) -> f64 {
    scenario.filaments[scenario.parts[part].filament.0]
        .price_kg
        .0
        / 1000.0
}

/// When a belt that stands free could be set up for a copy so that it is there no later than glued, for less than so much; all other runs
/// stay as they are, and the next one has time for a change.
fn free_belt(shop: &Shop, gluing: &Gluing, way: &Way, less_than: f64) -> Option<DateTime<Utc>> {
    let Shop { scenario, plan, .. } = shop;
    let machine = &scenario.machines[way.machine.0];
    let part = &scenario.parts[gluing.part.0];
    let minutes = |minutes: i64| TimeDelta::minutes(minutes);
    let length = minutes(way.alone.0);
    let mut earliest = scenario.build.start;
    if part.trial > 0 && gluing.number > part.trial {
        let mut trials = plan.trials.iter();
        let approved = trials.find(|trial| trial.part == gluing.part)?.approved;
        earliest = earliest.max(approved);
    }
    let runs = plan.runs.iter().filter(|run| run.machine == way.machine);
    let runs: Vec<&Run> = runs.collect();
    // Before the first run, between two, behind the last.
    (0..=runs.len()).find_map(|gap| {
        let before = gap.checked_sub(1).map(|before| runs[before]);
        let after = runs.get(gap);
        let loaded = before.map_or(machine.loaded, |before| Some(before.filament));
        let changes = |from, to| i64::from(from != Some(to));
        let own = changes(loaded, part.filament);
        let next = after.map_or(0, |after| changes(Some(part.filament), after.filament));
        let spared = after.map_or(0, |after| changes(loaded, after.filament));
        if on_the_belt(scenario, gluing.part.0, way, own + next - spared) >= less_than {
            return None;
        }
        let need = minutes(machine.turnaround.0 + own * machine.swap.0);
        let mut from = before.map_or(earliest, |before| before.end.max(earliest));
        if let Some(ready) = part.ready {
            from = from.max(ready - need);
        }
        // What follows by itself has no setup yet, and would need one.
        let swap = minutes(machine.turnaround.0 + machine.swap.0);
        let until = after.map(|after| after.setup.unwrap_or(after.start) - swap);
        let until = until.map_or(gluing.ready, |until| until.min(gluing.ready));
        let at = first_setup(shop, way.machine, from, (need, length), until)?;
        (at + need + length <= until).then_some(at)
    })
}

/// Copies in lengths that would cost less in one piece on a belt that stands free for it before the copy is there.
pub fn splits_beside_a_free_belt(shop: &Shop) -> Looked {
    let Shop { scenario, plan, .. } = shop;
    let all = routes(scenario);
    let mut looked = Looked::default();
    for gluing in &plan.gluings {
        let pieces = lengths(plan, gluing);
        let forms = &all[gluing.part.0].forms;
        let form = forms.iter().find(|form| form.lengths == pieces[0].1.of);
        let split = at_least(scenario, form.expect("a form of the part"), &pieces);
        let whole = forms.iter().filter(|form| form.lengths == 1);
        let ways = whole.flat_map(|form| &form.ways);
        // The quickest there, if there is any.
        let belts = ways.filter(|way| scenario.machines[way.machine.0].is_belt());
        let Some(way) = belts.min_by_key(|way| way.alone) else {
            continue;
        };
        looked.compared += 1;
        if let Some(at) = free_belt(shop, gluing, way, split) {
            let (id, number) = (&scenario.parts[gluing.part.0].id, gluing.number);
            looked.absurd.push(format!(
                "{id} {number} for {split:.2}, the belt is free {at}"
            ));
        }
    }
    looked
}

#[test]
fn where_the_belt_is_dear_no_beam_of_the_crane_is_split_that_costs_less_on_the_belt_while_it_stands_free()
 {
    // At its usual price the belt makes every beam that it may. At three times that some are in lengths.
    let mut dear = scenario("quayside-crane");
    for machine in dear.machines.iter_mut().filter(|m| m.is_belt()) {
        machine.hourly = machine.hourly * 3.0;
    }
    let looked = splits_beside_a_free_belt(&plan_of(dear, MOVES / 3));
    assert!(
        looked.compared >= 4 && looked.absurd.is_empty(),
        "{looked:?}"
    );
}

/// A copy's pieces and the runs that they are on.
fn lengths<'a>(plan: &'a Plan, gluing: &Gluing) -> Vec<(&'a Run, &'a Piece)> {
    let runs = plan.runs.iter();
    let pieces = runs.flat_map(|run| run.pieces.iter().map(move |piece| (run, piece)));
    let name = (gluing.part, gluing.number);
    pieces
        .filter(|(_, piece)| (piece.part, piece.number) == name)
        .collect()
}
