//! Filament that cannot be there before an order has come: what waits for it, and what does not.

use beamyard::plan::audit::{Rule, audit_since};
use beamyard::plan::{Plan, Run};
use beamyard::planning::{NoPlan, Options, again};
use beamyard::progress::{Progress, Spool};
use beamyard::scenario::{MachineIndex, Scenario, read_text};
use beamyard::search::portfolio::Limit;
use beamyard::units::Grams;
use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;

use crate::moment::{accepted, later};
use crate::shops::small_shops;
use crate::support::{SAME, cases, planned, the_rest as rest};

/// Two machines, black on the left and white on the right; the bench is open from 07:00 to 22:00; delivery takes three days.
/// Boxes are 100 g and two hours, each on a run of its own.
fn shop(black: &str, parts: &str) -> Scenario {
    let text = format!(
        "
build: {{start: 2027-01-11 07:00, timezone: UTC, spool_margin: 3%}}
bench: {{hours: {{mon-sun: [\"07:00-22:00\"]}}, hands: unlimited}}
machines:
  - {{id: left, kind: bed, bed: [200, 200], height: 200, loaded: black, turnaround: 10 min, warm_up: 0 min}}
  - {{id: right, kind: bed, bed: [200, 200], height: 200, loaded: white, turnaround: 10 min, warm_up: 0 min}}
filaments:
  - {{id: black, material: PLA, spools: {black}, spool: 1000, lead: 3 d}}
  - {{id: white, material: PLA, spools: [2000], spool: 1000, lead: 3 d}}
parts:
{parts}"
    );
    match read_text("supply.yaml", &text, "".as_ref()) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn boxes(
    id: &str,
    filament: &str,
    machine: &str,
    quantity: u32,
    grams: u32,
    minutes: u32,
) -> String {
    format!(
        "  - {{id: {id}, quantity: {quantity}, size: [50, 50, 50], filament: {filament}, alone: true, only: [{machine}], \
         grams: {grams}, minutes: {{{machine}: {minutes}}}}}\n"
    )
}

fn at(text: &str) -> DateTime<Utc> {
    format!("2027-01-{}:00Z", text.replacen(' ', "T", 1))
        .parse()
        .expect("a day and a time")
}

/// What has been done when nothing has, but a plan is asked for at the build's start.
fn asked(shop: &Scenario) -> Progress {
    Progress {
        orders_from: Some(shop.build.start),
        ..Progress::none(shop)
    }
}

fn on(plan: &Plan, machine: usize) -> Vec<&Run> {
    let runs = plan.runs.iter();
    runs.filter(|run| run.machine == MachineIndex(machine))
        .collect()
}

fn spool(id: &str, grams: f64) -> Spool {
    Spool {
        id: id.into(),
        grams: Grams(grams),
        on: None,
        arrives: None,
    }
}

#[test]
fn what_is_not_there_waits_until_an_order_of_today_has_come() {
    // 250 g of black are two boxes. An order is out by the end of Monday the 11th, and there three days later: Friday the 15th
    // at 00:00. The bench opens at 07:00.
    let parts =
        boxes("box", "black", "left", 4, 100, 120) + &boxes("lid", "white", "right", 4, 100, 120);
    let shop = shop("[250]", &parts);
    let plan = rest(&shop, &asked(&shop));
    let waits: Vec<_> = on(&plan, 0).iter().map(|run| run.waits).collect();
    let comes = Some(at("15 00:00"));
    assert_eq!(waits[..3], [None, None, comes]);
    assert_eq!(on(&plan, 0)[2].setup, Some(at("15 07:00")));
    let order = &plan.orders[0];
    assert_eq!(order.spools, 1);
    assert_eq!(order.order_by, chrono::NaiveDate::from_ymd_opt(2027, 1, 11));
    // The white ones are printed as if there were black enough.
    let without = rest(&shop, &Progress::none(&shop));
    let dates =
        |plan: &Plan| -> Vec<_> { on(plan, 1).iter().map(|run| (run.setup, run.end)).collect() };
    assert_eq!(dates(&plan), dates(&without));
    assert!(on(&plan, 1).iter().all(|run| run.waits.is_none()));
    // Without a moment from which orders are sent nothing waits: black was ordered before the start.
    assert!(on(&without, 0).iter().all(|run| run.end <= at("11 22:00")));
}

#[test]
fn what_is_bought_is_waited_for_until_it_arrives_and_not_ordered() {
    let shop = shop("[250]", &boxes("box", "black", "left", 4, 100, 120));
    let mut then = asked(&shop);
    then.spools[0].push(Spool {
        arrives: Some(at("12 12:00")),
        ..spool("from-anna", 300.0)
    });
    let plan = rest(&shop, &then);
    let third = on(&plan, 0)[2];
    assert_eq!(
        (third.setup, third.waits),
        (Some(at("12 12:00")), Some(at("12 12:00")))
    );
    assert_eq!(plan.orders[0].spools, 0);
    // It has the name under which it was noted.
    assert_eq!(third.spool.name.as_deref(), Some("from-anna"));
    // The level steps up when it arrives: 250 g, less two boxes, and 300 g more.
    assert_eq!(plan.sheets.levels[0].at(at("12 11:59")).0.round(), 50.0);
    assert!(
        plan.sheets.levels[0]
            .points
            .contains(&(at("12 12:00"), Grams(350.0)))
    );
}

#[test]
fn what_comes_late_delays_only_what_does_not_fit_before_it() {
    // One box of 300 g and two of 100 g, of 250 g: the two small ones are printed at once, whatever the order.
    let parts = boxes("large", "black", "left", 1, 300, 120)
        + &boxes("small", "black", "left", 2, 100, 120);
    let shop = shop("[250]", &parts);
    let plan = rest(&shop, &asked(&shop));
    let grams: Vec<f64> = on(&plan, 0).iter().map(|run| run.grams.0.round()).collect();
    assert_eq!(grams, [100.0, 100.0, 300.0]);
    assert_eq!(on(&plan, 0)[1].end, at("11 11:20"));
}

#[test]
fn a_run_waits_for_the_one_spool_that_another_machine_prints_from() {
    // One spool for both machines, and 100 g on each: the second goes on when the first run has ended, 2 h 10 min after the start.
    let parts =
        boxes("this", "black", "left", 1, 100, 120) + &boxes("that", "black", "right", 1, 100, 120);
    let mut shop = shop("[1000]", &parts);
    shop.machines[1].loaded = shop.machines[0].loaded;
    let plan = rest(&shop, &asked(&shop));
    let mut runs: Vec<&Run> = plan.runs.iter().collect();
    runs.sort_by_key(|run| run.start);
    assert_eq!(runs[0].end, at("11 09:10"));
    assert_eq!(
        (runs[1].setup, runs[1].waits),
        (Some(at("11 09:10")), Some(at("11 09:10")))
    );
    assert_eq!(plan.orders[0].spools, 0);
}

#[test]
fn a_plan_asked_for_later_with_nothing_done_passes_its_audit() {
    // The audit took the later start for the build's own, found nothing done, and refused a plan that goes on from there.
    let shop = shop("[1000]", &boxes("box", "black", "left", 2, 100, 120));
    let then = Progress {
        now: at("12 07:00"),
        ..Progress::none(&shop)
    };
    let plan = rest(&shop, &then);
    assert!(plan.since.is_some());
    assert_eq!(plan.runs[0].setup, Some(at("12 07:00")));
}

#[test]
fn what_is_on_a_machine_stays_there() {
    let shop = shop("[]", &boxes("box", "black", "left", 2, 100, 120));
    let mut then = asked(&shop);
    then.spools[0] = vec![spool("black-1", 600.0), spool("black-2", 400.0)];
    then.spools[0][0].on = Some(MachineIndex(0));
    let plan = rest(&shop, &then);
    // The smaller one would do, but somebody would have to change it.
    assert!(on(&plan, 0).iter().all(|run| run.spool.put_on.is_none()));
}

#[test]
fn an_accepted_run_without_filament_waits_and_says_why() {
    let shop = shop("[250]", &boxes("box", "black", "left", 4, 100, 120));
    let first = planned(&shop, 1, 2_000).expect("a plan").plan;
    assert!(first.runs.iter().all(|run| run.end <= at("11 22:00")));
    let mut then = asked(&shop);
    then.previous = Some(accepted(&first, shop.build.start));
    let plan = rest(&shop, &then);
    let since = plan
        .since
        .as_ref()
        .expect("it goes on from an accepted plan");
    let why: Vec<&str> = since
        .changes
        .iter()
        .map(|change| change.why.as_str())
        .collect();
    assert_eq!(
        why[0],
        "it waits for black, which is there Fri 15 Jan 00:00"
    );
    // The first two stand.
    assert_eq!(since.changes.len(), 2, "{why:?}");
}

#[test]
fn a_spool_that_would_end_at_night_is_changed_before_the_bench_closes() {
    // 1500 g in 30 h from Monday 07:10: 1000 g end after 20 h, on Tuesday at 03:10. At 21:55 14 h 45 min are over, 737.5 g are
    // printed, 262.5 g are left; the other 762.5 g come off the next spool.
    let shop = shop(
        "[1000, 1000]",
        &boxes("hull", "black", "left", 1, 1500, 1800),
    );
    let plan = planned(&shop, 1, 500).expect("a plan").plan;
    let run = &plan.runs[0];
    let [end] = &run.spool.ends[..] else {
        panic!("{:?}", run.spool);
    };
    assert_eq!((end.at, end.attended), (at("11 21:55"), true));
    assert!(
        (end.left.0 - 262.5).abs() < 1e-9 && end.next == Grams(1000.0),
        "{end:?}"
    );
    assert_eq!(plan.sums().stop, 0);
    // The spools are alike; the first is on first.
    assert_eq!(run.spool.name.as_deref(), Some("black-1"));
    assert_eq!(end.next_name.as_deref(), Some("black-2"));
    let none = Progress::none(&shop);
    let mut broken = plan.clone();
    broken.runs[0].spool.ends[0].next_name = Some("black-1".into());
    let faults = audit_since(&shop, &none, &broken);
    assert!(
        faults.iter().all(|fault| fault.rule == Rule::SpoolNamed) && !faults.is_empty(),
        "{faults:?}"
    );
    broken = plan.clone();
    broken.runs[0].spool.ends[0].left = Grams(300.0);
    let faults = audit_since(&shop, &none, &broken);
    assert!(
        faults.iter().all(|fault| fault.rule == Rule::SpoolAllotted) && !faults.is_empty(),
        "{faults:?}"
    );
}

#[test]
fn an_end_that_comes_off_early_goes_back_on_the_shelf() {
    // As above; then 200 g more: the end of 262.5 g covers them, and nothing is ordered.
    let parts =
        boxes("hull", "black", "left", 1, 1500, 1800) + &boxes("box", "black", "left", 1, 200, 120);
    let mut shop = shop("[1000, 1000]", &parts);
    // The hull first.
    shop.parts[1].ready = Some(at("12 12:00"));
    let plan = planned(&shop, 1, 500).expect("a plan").plan;
    let spools: Vec<_> = plan
        .runs
        .iter()
        .map(|run| run.spool.put_on.map(|grams| grams.0.round()))
        .collect();
    assert!(
        plan.orders[0].spools == 0 && plan.sums().stop == 0,
        "{spools:?}"
    );
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn any_rest_of_a_build_is_planned_with_any_filament(
        shop in small_shops(),
        share in 0.0..0.9f64,
        held in prop::collection::vec((0.0..400.0f64, prop::option::of(0..6000i64), any::<bool>()), 0..6),
        order in 0..4000i64,
    ) {
        let Ok(first) = planned(&shop, 1, 500) else { return Ok(()) };
        let whole = (first.plan.finish - shop.build.start).num_minutes() as f64;
        let now = shop.build.start + TimeDelta::minutes((whole * share) as i64);
        let mut then = later(&shop, &first.plan, &Progress::none(&shop), now, |_| true);
        let mut shop = shop;
        let filaments = shop.filaments.len();
        for filament in &mut shop.filaments {
            filament.lead = beamyard::units::Minutes(order);
        }
        // What it was before it was asked for: all that is wanted can be had.
        let unlimited = again(&shop, &then, &options(300));
        then.orders_from = Some(now);
        for spools in &mut then.spools {
            spools.clear();
        }
        for (n, &(grams, arrives, mounted)) in held.iter().enumerate() {
            let on = MachineIndex(n % shop.machines.len());
            let filament = match then.machines[on.0].loaded {
                Some(loaded) if mounted => loaded.0,
                _ => n % filaments,
            };
            let free = then.spools.iter().flatten().all(|spool| spool.on != Some(on));
            let mounted = mounted && free && then.machines[on.0].loaded.is_some();
            then.spools[filament].push(Spool {
                on: mounted.then_some(on),
                arrives: arrives.filter(|_| !mounted).map(|minutes| now + TimeDelta::minutes(minutes)),
                ..spool(&format!("spool-{n}"), grams)
            });
        }
        match (again(&shop, &then, &options(300)), unlimited) {
            // A plan that comes out has passed its audit.
            (Ok(scarce), Ok(unlimited)) => {
                prop_assert!(unlimited.plan.bound.0 <= scarce.plan.decided.0 + SAME);
                for run in scarce.plan.runs.iter().filter(|run| run.waits.is_some()) {
                    prop_assert!(run.waits <= Some(run.setup.unwrap_or(run.start)));
                }
                let early = scarce.plan.orders.iter().filter_map(|order| order.order_by);
                let today = now.with_timezone(&shop.build.zone).date_naive();
                prop_assert!(early.into_iter().all(|day| day >= today));
            }
            (Err(NoPlan::NoTime(_)), _) | (_, Err(NoPlan::NoTime(_) | NoPlan::NoRoute(_))) => {}
            (Err(none), _) | (_, Err(none)) => prop_assert!(false, "{none:?}"),
        }
    }
}

fn options(moves: u64) -> Options<'static> {
    Options {
        limit: Some(Limit::Moves(moves)),
        ..Options::default()
    }
}
