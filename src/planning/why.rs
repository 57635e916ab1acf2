//! How each part is made in a plan, and the reason in words.
//!
//! Knows: routes with their prices, finished runs. Must not know: the search.
//! Promises: every number in a reason is computed from the scenario, none is a phrase.

use std::collections::BTreeMap;

use crate::plan::{RouteUse, Run};
use crate::routes::{Form, PartRoutes, RouteKind};
use crate::scenario::{MachineIndex, PartIndex, Scenario};
use crate::units::{Millimetres, Money};

use super::finish::Ground;

/// How all parts are made, by part; the ways that make more copies first.
pub fn routes(ground: &Ground, runs: &[Run]) -> Vec<RouteUse> {
    // For each part, kind and number of lengths: pieces by machine.
    let mut counts: BTreeMap<(PartIndex, RouteKind, u32), BTreeMap<MachineIndex, u32>> =
        BTreeMap::new();
    for run in runs {
        for piece in &run.pieces {
            *counts
                .entry((piece.part, piece.route, piece.of))
                .or_default()
                .entry(run.machine)
                .or_default() += 1;
        }
    }
    let mut uses: Vec<RouteUse> = counts
        .into_iter()
        .filter_map(|((part, route, pieces), by_machine)| {
            let total: u32 = by_machine.values().sum();
            // The first of those that make most.
            let machine = by_machine
                .iter()
                .max_by_key(|&(machine, n)| (n, std::cmp::Reverse(machine)))
                .map(|(&machine, _)| machine)?;
            let routes = &ground.routes[part.0];
            let form = routes.forms.iter().find(|f| f.lengths == pieces)?;
            Some(RouteUse {
                part,
                quantity: total / pieces,
                route,
                pieces,
                machine,
                joint: form.joint,
                why: why(ground.scenario, routes, form, route, machine),
            })
        })
        .collect();
    uses.sort_by_key(|u| (u.part, std::cmp::Reverse(u.quantity), u.route));
    uses
}

fn why(
    scenario: &Scenario,
    routes: &PartRoutes,
    form: &Form,
    route: RouteKind,
    machine: MachineIndex,
) -> String {
    let part = &scenario.parts[routes.part.0];
    let longest = part.size.iter().map(|s| s.0).fold(0.0, f64::max);
    match route {
        RouteKind::Whole => "lies as drawn".to_owned(),
        RouteKind::Turned => {
            let straight = form
                .ways
                .iter()
                .any(|way| way.machine == machine && way.straight);
            if straight {
                "turned by 90° to share the plate".to_owned()
            } else {
                "fits only when turned by 90°".to_owned()
            }
        }
        RouteKind::Diagonal => {
            let square = form
                .ways
                .iter()
                .any(|way| way.machine == machine && (way.straight || way.turned));
            if square {
                "beside longer pieces that lie at an angle".to_owned()
            } else {
                format!(
                    "{} mm do not lie along the sides of {}; at an angle they do",
                    length(Millimetres(longest)),
                    scenario.machines[machine.0].id
                )
            }
        }
        RouteKind::Belt | RouteKind::Split => {
            let on_belt = |m: MachineIndex| scenario.machines[m.0].is_belt();
            if route == RouteKind::Belt && form.ways.iter().any(|way| !on_belt(way.machine)) {
                "beds take it too; on the belt it needs no setup of its own".to_owned()
            } else {
                against_others(scenario, routes, form, longest)
            }
        }
    }
}

/// Compares a form's price for one copy with that of the best other form, or says that there is none.
fn against_others(scenario: &Scenario, routes: &PartRoutes, form: &Form, longest: f64) -> String {
    let price = copy_price(scenario, routes.part, form);
    let other = routes
        .forms
        .iter()
        .filter(|f| f.lengths != form.lengths)
        .map(|f| (copy_price(scenario, routes.part, f), f))
        .min_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let beds = !form
        .ways
        .iter()
        .all(|way| scenario.machines[way.machine.0].is_belt());
    let this = if form.lengths == 1 {
        "in one piece".to_owned()
    } else {
        format!("in {} lengths", form.lengths)
    };
    let Some((rival, other)) = other else {
        return if form.lengths == 1 && !beds {
            format!(
                "{} mm: no bed takes it, and it may not be split",
                length(Millimetres(longest))
            )
        } else {
            format!("{this}: the only way to make it")
        };
    };
    let that = if other.lengths == 1 {
        "in one piece".to_owned()
    } else {
        format!("in {} lengths", other.lengths)
    };
    let currency = &scenario.currency;
    if price.0 <= rival.0 {
        format!(
            "{this} a copy costs {:.2} {currency}, {that} {:.2}",
            price.0, rival.0
        )
    } else {
        format!(
            "{this} a copy costs {:.2} {currency} against {:.2} {that}, but is there in time or spares a busy machine",
            price.0, rival.0
        )
    }
}

/// What one copy costs in a form where it is cheapest made: printing, plastic, hardware, gluing and finishing.
fn copy_price(scenario: &Scenario, part: PartIndex, form: &Form) -> Money {
    let p = &scenario.parts[part.0];
    let price = scenario.filaments[p.filament.0].price_kg;
    let piece = form
        .ways
        .iter()
        .map(|way| {
            let machine = &scenario.machines[way.machine.0];
            let minute =
                machine.hourly.0 / 60.0 + machine.watts.0 / 60_000.0 * scenario.bench.energy_kwh.0;
            let seconds = way.own_time.0 + machine.layer_time.0 * f64::from(way.layers);
            (way.grams * price).0 + seconds / 60.0 * minute
        })
        .fold(f64::INFINITY, f64::min);
    let lengths = f64::from(form.lengths);
    let bench_minutes = form.glue.0 as f64 + lengths * p.finishing.0 / 60.0;
    Money(lengths * piece + form.hardware.0 + bench_minutes * scenario.bench.bench_hour.0 / 60.0)
}

fn length(mm: Millimetres) -> String {
    format!("{:.0}", mm.0)
}
