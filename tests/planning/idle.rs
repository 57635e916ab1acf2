//! Machines without work, and the reasons that are given for it.

use beamyard::plan::{Idle, Plan, Unused};
use beamyard::planning::{self, Options};
use beamyard::progress::Progress;
use beamyard::scenario::{MachineIndex, PartIndex, Scenario, read_text};
use beamyard::search::portfolio::{Limit, Unwatched, Watch};

use crate::moment::accepted;
use crate::support::planned;

/// Two machines, of which the second is written out; one filament; parts.
fn shop(build: &str, bench: &str, second: &str, parts: &str, assemblies: &str) -> Scenario {
    let text = format!(
        r#"
build: {{name: Idle, start: 2026-01-05 07:00, timezone: Europe/Oslo, {build}}}
bench: {{hours: {{mon-sun: ["07:00-22:00"]}}, hands: unlimited, energy_kwh: 0, {bench}}}
machines:
  - {{id: main, kind: bed, bed: [200, 200], height: 200, warm_up: 0 s, layer_time: 0 s, hourly: 1}}
  - {{id: small, kind: bed, {second}}}
filaments: [{{id: grey, material: PLA, spools: [5000], price_kg: 0}}, {{id: clear, material: PETG}}]
parts:
{parts}
assemblies:
{assemblies}
"#
    );
    match read_text("idle.yaml", &text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn plan(shop: &Scenario) -> Plan {
    match planned(shop, 1, 3000) {
        Ok(planned) => planned.plan,
        Err(none) => panic!("{none:?}"),
    }
}

const SMALL: MachineIndex = MachineIndex(1);
const BED: &str = "bed: [200, 200], height: 200, warm_up: 0 s, layer_time: 0 s";
const BLOCK: &str = "  - {id: block, quantity: 2, size: [150, 150, 20], filament: grey, grams: 100, alone: true, minutes: {main: 60, small: 60}}";
const TAKEN: &str = "  - {id: all, parts: {block: 2}}";

/// What is said of the second machine, which prints nothing at all.
fn reason(build: &str, bench: &str, second: &str, block: &str) -> Unused {
    let shop = shop(build, bench, second, block, TAKEN);
    let plan = plan(&shop);
    assert!(plan.runs.iter().all(|run| run.machine != SMALL));
    let [
        Idle {
            machine,
            from: None,
            why,
        },
    ] = &plan.idle[..]
    else {
        panic!("{:?}", plan.idle);
    };
    assert_eq!(*machine, SMALL);
    why.clone()
}

/// Paid by nothing but the hour: where a machine is dearer it is not used.
const UNHURRIED: &str = "each_day: 0";

#[test]
fn a_machine_that_is_used_to_the_end_is_not_told_of() {
    let shop = shop(
        "each_day: 50",
        "bench_hour: 0",
        &format!("{BED}, hourly: 1"),
        BLOCK,
        TAKEN,
    );
    let plan = plan(&shop);
    assert_eq!(plan.runs.len(), 2);
    assert!(plan.runs.iter().any(|run| run.machine == SMALL));
    assert_eq!(plan.idle, []);
}

#[test]
fn a_machine_on_which_nothing_fits_is_said_to_be_too_small() {
    let small = "bed: [100, 100], height: 100";
    assert_eq!(
        reason(UNHURRIED, "bench_hour: 0", small, BLOCK),
        Unused::Size
    );
}

#[test]
fn a_machine_of_other_materials_is_said_to_be_so() {
    let petg = format!("{BED}, materials: [PETG]");
    assert_eq!(
        reason(UNHURRIED, "bench_hour: 0", &petg, BLOCK),
        Unused::Material
    );
}

#[test]
fn a_machine_that_parts_do_not_allow_is_said_to_be_so() {
    let only = BLOCK
        .replace("alone: true", "alone: true, only: [main]")
        .replace(", small: 60", "");
    assert_eq!(
        reason(UNHURRIED, "bench_hour: 0", BED, &only),
        Unused::Forbidden
    );
}

#[test]
fn where_reasons_differ_from_part_to_part_none_is_singled_out() {
    // One is too large, the other is for the other machine only.
    let parts = format!(
        "{}\n  - {{id: pin, size: [20, 20, 20], filament: grey, only: [main]}}",
        BLOCK.replace(", small: 60", "")
    );
    let shop = shop(
        UNHURRIED,
        "bench_hour: 0",
        "bed: [100, 100], height: 100",
        &parts,
        "  - {id: all, parts: {block: 2, pin: 1}}",
    );
    let plan = plan(&shop);
    assert_eq!(
        plan.idle.iter().map(|idle| &idle.why).collect::<Vec<_>>(),
        [&Unused::NoWay]
    );
}

#[test]
fn a_machine_that_is_watched_while_bench_hours_are_short_is_said_to_be_so() {
    // Sixteen hours of printing, fifteen of bench.
    let watched = format!("{BED}, unattended: forbidden");
    let long = BLOCK.replace("{main: 60, small: 60}", "{main: 960, small: 960}");
    assert_eq!(
        reason(UNHURRIED, "bench_hour: 0", &watched, &long),
        Unused::Hours
    );
}

#[test]
fn a_machine_that_is_out_of_use_till_the_end_is_said_to_be_so() {
    let out = format!(
        "{BED}, hourly: 1.25, offline: [{{from: 2026-01-01, to: 2026-03-01, why: bearings}}]"
    );
    assert_eq!(reason(UNHURRIED, "bench_hour: 0", &out, BLOCK), Unused::Out);
}

#[test]
fn a_dearer_machine_is_said_to_be_dearer_by_what_the_cheapest_move_costs() {
    // Nothing but hours is paid: a block takes one hour at 1 on the main machine, and at 1.25 on the other.
    let dear = format!("{BED}, hourly: 1.25");
    let why = reason(UNHURRIED, "bench_hour: 0", &dear, BLOCK);
    let Unused::Dearer {
        moves,
        run,
        pieces,
        whole,
        by,
    } = why
    else {
        panic!("{why:?}");
    };
    assert_eq!((moves, whole, pieces), (2, true, vec![(PartIndex(0), 1)]));
    assert!(run.starts_with("main-"), "{run}");
    assert!((by.0 - 0.25).abs() < 1e-6, "{by:?}");
}

#[test]
fn a_machine_on_which_a_run_would_cost_the_same_is_said_to_cost_the_same() {
    // A tenth of a hundredth more an hour.
    let alike = format!("{BED}, hourly: 1.001");
    let why = reason(UNHURRIED, "bench_hour: 0", &alike, BLOCK);
    let Unused::Dearer { moves: 2, by, .. } = why else {
        panic!("{why:?}");
    };
    assert_eq!(by.0, 0.0);
}

#[test]
fn a_machine_that_stops_days_before_a_late_stage_is_told_of_from_then_on() {
    // Pins for the small machine are done at once; ten blocks of a day and a half each, which it cannot hold, take two weeks.
    let parts = "  - {id: block, quantity: 10, size: [150, 150, 20], filament: grey, alone: true, minutes: {main: 2000}}\n  \
                 - {id: pin, size: [20, 20, 20], filament: grey, only: [small], minutes: {small: 60}}";
    let small = "bed: [100, 100], height: 100, warm_up: 0 s";
    let due = "  - {id: all, parts: {block: 10, pin: 1}, due: 2026-01-08 18:00, late: 5}";
    let late = plan(&shop(UNHURRIED, "bench_hour: 0", small, parts, due));
    let pin = late
        .runs
        .iter()
        .find(|run| run.machine == SMALL)
        .expect("it prints the pin");
    assert_eq!(
        late.idle,
        [Idle {
            machine: SMALL,
            from: Some(pin.end),
            why: Unused::Size,
        }]
    );
    // In time, and with nothing paid by the day, nobody asks.
    let in_time = due.replace("2026-01-08", "2026-02-28");
    assert_eq!(
        plan(&shop(UNHURRIED, "bench_hour: 0", small, parts, &in_time)).idle,
        []
    );
    let paid = plan(&shop(
        "each_day: 2",
        "bench_hour: 0",
        small,
        parts,
        &in_time,
    ));
    assert_eq!(paid.idle.len(), 1);
}

/// Ends a search before its first move.
struct Ended;

impl Watch for Ended {
    fn stop(&self) -> bool {
        true
    }
}

/// Four bars of a day and a half each, accepted to be printed on the main machine while nothing else could make them; each day costs. The
/// rest, with a pin besides, is planned without a single move of the search.
fn bars(watch: &dyn Watch) -> Plan {
    let shop = |parts: &str, takes: &str| {
        let small = format!("{BED}, hourly: 1");
        let assembly = format!("  - {{id: all, parts: {takes}}}");
        shop(
            "each_day: 50, firm: 0 h",
            "bench_hour: 0",
            &small,
            parts,
            &assembly,
        )
    };
    let bar = "  - {id: bar, quantity: 4, size: [180, 40, 20], filament: grey, grams: 100, minutes: {main: 2000";
    let first = plan(&shop(&format!("{bar}}}, only: [main]}}"), "{bar: 4}"));
    let pin =
        "  - {id: pin, size: [20, 20, 20], filament: grey, only: [main], minutes: {main: 60}}";
    let now = shop(
        &format!("{bar}, small: 2000}}}}\n{pin}"),
        "{bar: 4, pin: 1}",
    );
    let mut then = Progress::none(&now);
    then.previous = Some(accepted(&first, now.build.start));
    let options = Options {
        limit: Some(Limit::Moves(0)),
        watch,
        ..Options::default()
    };
    planning::again(&now, &then, &options).expect("a plan").plan
}

#[test]
fn a_machine_without_work_is_given_some_where_that_is_cheaper() {
    let plan = bars(&Unwatched);
    assert!(plan.runs.iter().any(|run| run.machine == SMALL));
    assert_eq!(plan.idle, []);
}

#[test]
fn whoever_ends_the_search_waits_for_no_moves_to_machines_without_work() {
    let plan = bars(&Ended);
    assert!(plan.runs.iter().all(|run| run.machine != SMALL));
    assert_eq!(plan.idle.len(), 1);
}
