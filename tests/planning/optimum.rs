//! Tiny shops: the plan costs what the cheapest of all their queues costs.

use beamyard::scenario::Scenario;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use crate::exhaustive::cheapest;
use crate::shops::{Tiny, tiny_shops};
use crate::support::{SAME, cases, planned};

/// Moves in which a shop of five pieces is searched well through.
const MOVES: u64 = 20_000;

fn planned_full(shop: &Scenario) -> beamyard::plan::Plan {
    planned(shop, 1, MOVES).unwrap().plan
}
fn brief(s: &Scenario) -> String {
    let mut t = format!(
        "start {} hands {:?} day {} bench {} hours {:?} away {:?}\n",
        s.build.start,
        s.bench.hands,
        s.build.each_day.0,
        s.bench.bench_hour.0,
        s.bench.hours,
        s.bench.away
    );
    for m in &s.machines {
        t += &format!("{m:?}\n");
    }
    for m in &s.filaments {
        t += &format!("{m:?}\n");
    }
    for m in &s.settings {
        t += &format!("{m:?}\n");
    }
    for m in &s.joints {
        t += &format!("{m:?}\n");
    }
    for m in &s.parts {
        t += &format!("{m:?}\n");
    }
    for m in &s.assemblies {
        t += &format!("{m:?}\n");
    }
    t
}
/// What came of one shop.
enum Outcome {
    Same,
    Neither,
    Dearer(f64, f64),
    Cheaper(f64, f64),
    Only(bool),
}

fn compare(shop: &Scenario) -> Outcome {
    let plan = planned(shop, 1, MOVES)
        .ok()
        .map(|made| made.plan.cost.total().0);
    let best = cheapest(shop);
    if std::env::var("SHOWB").is_ok() {
        if let Some(b) = &best {
            eprintln!("{} {:#?}", b.cost, b.runs);
        }
    }
    match (plan, best.map(|b| b.cost)) {
        (None, None) => Outcome::Neither,
        (Some(plan), Some(best)) if (plan - best).abs() <= SAME => Outcome::Same,
        (Some(plan), Some(best)) if plan > best => Outcome::Dearer(plan, best),
        (Some(plan), Some(best)) => Outcome::Cheaper(plan, best),
        (plan, _) => Outcome::Only(plan.is_some()),
    }
}

#[test]
fn the_plan_of_a_tiny_shop_costs_what_its_cheapest_queue_costs() {
    let config = cases(40);
    let mut runner = TestRunner::new(config.clone());
    let mut misses = Vec::new();
    let mut planned = 0;
    for case in 0..config.cases {
        let shop = tiny_shops(Tiny { pieces: 5 })
            .new_tree(&mut runner)
            .expect("it draws")
            .current();
        if std::env::var("SHOW").is_ok_and(|w| w.split(',').any(|w| w == case.to_string())) {
            eprintln!("CASE {case}");
            eprintln!("{}", brief(&shop));
            unsafe { std::env::set_var("SHOWB", "1") };
            let plan = planned_full(&shop);
            for r in &plan.runs {
                eprintln!(
                    "{} setup {:?} start {:?} end {:?} {:?}",
                    r.id,
                    r.setup.map(|s| (s - shop.build.start).num_minutes()),
                    (r.start - shop.build.start).num_minutes(),
                    (r.end - shop.build.start).num_minutes(),
                    r.pieces
                        .iter()
                        .map(|p| (p.part.0, p.number, p.length, p.of, p.assembly.map(|a| a.0)))
                        .collect::<Vec<_>>()
                );
            }
            for a in &plan.assemblies {
                eprintln!(
                    "{:?} work {:?} complete {}",
                    a.assembly,
                    a.work
                        .iter()
                        .map(|w| (
                            (w.from - shop.build.start).num_minutes(),
                            (w.to - shop.build.start).num_minutes()
                        ))
                        .collect::<Vec<_>>(),
                    (a.complete - shop.build.start).num_minutes()
                );
            }
            for a in &plan.gluings {
                eprintln!(
                    "glue {:?} {:?} work {:?} ready {}",
                    a.part,
                    a.number,
                    a.work
                        .iter()
                        .map(|w| (
                            (w.from - shop.build.start).num_minutes(),
                            (w.to - shop.build.start).num_minutes()
                        ))
                        .collect::<Vec<_>>(),
                    (a.ready - shop.build.start).num_minutes()
                );
            }
            eprintln!("{:?}", plan.cost);
        } else {
            unsafe { std::env::remove_var("SHOWB") };
        }
        match compare(&shop) {
            Outcome::Same => planned += 1,
            Outcome::Neither => {}
            Outcome::Dearer(plan, best) => {
                misses.push(format!("case {case}: plan {plan}, best {best}"))
            }
            Outcome::Cheaper(plan, best) => {
                misses.push(format!("case {case}: CHEAPER plan {plan}, best {best}"))
            }
            Outcome::Only(plan) => misses.push(format!("case {case}: only the plan: {plan}")),
        }
    }
    eprintln!("same {planned} of {}", config.cases);
    assert!(
        misses.is_empty(),
        "{} misses:\n{}",
        misses.len(),
        misses.join("\n")
    );
}
