//! The critical path of whole plans: a minute more of what it names is a minute more until the end, of what it does not name is not.

use beamyard::plan::audit::{Rule, audit};
use beamyard::plan::{LinkOf, Plan};
use beamyard::scenario::{Scenario, read_text};

use crate::support::planned;

fn scenario(text: &str) -> Scenario {
    match read_text("hands.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn plan_at(scenario: &Scenario, moves: u64) -> Plan {
    match planned(scenario, 1, moves) {
        Ok(planned) => planned.plan,
        Err(none) => panic!("{none:?}"),
    }
}

/// Somebody is always there, with one pair of hands. `a` and `b` are printed on machines of their own and assembled by hand; the
/// second is urgent.
fn shop(a: u32, b: u32) -> Scenario {
    scenario(&format!(
        r#"
build: {{name: Hands, start: 2026-01-05 07:00, timezone: Europe/Oslo, each_day: 10}}
bench: {{hours: {{mon-sun: ["00:00-24:00"]}}, hands: 1}}
machines:
  - {{id: one, kind: bed, bed: [100, 100], height: 100, warm_up: 0 s, turnaround: 10 min}}
  - {{id: two, kind: bed, bed: [100, 100], height: 100, warm_up: 0 s, turnaround: 10 min}}
filaments: [{{id: grey, material: PLA, spools: [1000]}}]
parts:
  - {{id: a, size: [60, 60, 20], filament: grey, only: [one], grams: 10, minutes: {{one: {a}}}}}
  - {{id: b, size: [60, 60, 20], filament: grey, only: [two], grams: 10, minutes: {{two: {b}}}}}
assemblies:
  - {{id: frame, parts: {{a: 1}}, bench: 2 h}}
  - {{id: lamp, parts: {{b: 1}}, bench: 3 h, due: 2026-01-05 08:00, late: 500}}
"#
    ))
}

/// The names of the links.
fn links(scenario: &Scenario, plan: &Plan) -> Vec<String> {
    let path = plan.critical.as_ref().expect("there are assemblies");
    let name = |what: LinkOf| match what {
        LinkOf::Run(at) => plan.runs[at].id.clone(),
        LinkOf::Assembly(at) => scenario.assemblies[at.0].id.clone(),
        other => format!("{other:?}"),
    };
    path.links.iter().map(|link| name(link.what)).collect()
}

#[test]
fn work_that_waits_for_the_hands_of_other_work_waits_for_that_works_run() {
    // b is printed within the hour and assembled for three; a comes in between and is assembled after.
    let (a, b) = (70, 50);
    let known = shop(a, b);
    let plan = plan_at(&known, 2000);
    assert_eq!(links(&known, &plan), ["two-001", "lamp", "frame"]);
    let lamp = plan.critical.as_ref().expect("a path").links[1];
    assert!(lamp.hands, "the frame does not need the lamp");
    let finish = |a, b| plan_at(&shop(a, b), 2000).finish;
    assert_eq!((finish(a, b + 1) - plan.finish).num_minutes(), 1);
    assert_eq!(finish(a + 1, b), plan.finish);
}

#[test]
fn work_that_finds_the_hands_free_waits_for_its_own_run() {
    // b is there after 50 minutes, its lamp after three hours more; a is printed after five.
    let (a, b) = (300, 50);
    let known = shop(a, b);
    let plan = plan_at(&known, 2000);
    assert_eq!(links(&known, &plan), ["one-001", "frame"]);
    let finish = |a, b| plan_at(&shop(a, b), 2000).finish;
    assert_eq!(finish(a, b + 1), plan.finish);
    assert_eq!((finish(a + 1, b) - plan.finish).num_minutes(), 1);
}

#[test]
fn a_path_that_skips_the_work_that_left_the_hands_last_is_a_fault() {
    // Three works on parts of one plate, one after the other: each waits for the hands of the one before it.
    let known = scenario(
        r#"
build: {name: Hands, start: 2026-01-05 07:00, timezone: Europe/Oslo, each_day: 10}
bench: {hours: {mon-sun: ["00:00-24:00"]}, hands: 1}
machines: [{id: one, kind: bed, bed: [200, 100], height: 100, warm_up: 0 s, turnaround: 10 min}]
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts: [{id: a, size: [20, 20, 20], quantity: 3, filament: grey, grams: 10, minutes: {one: 30}}]
assemblies:
  - {id: x, parts: {a: 1}, bench: 1 h}
  - {id: y, parts: {a: 1}, bench: 1 h}
  - {id: z, parts: {a: 1}, bench: 1 h}
"#,
    );
    let mut plan = plan_at(&known, 2000);
    assert_eq!(links(&known, &plan).len(), 4);
    let path = plan.critical.as_mut().expect("a path");
    // Without the second of the three works the third waits for the first, which left the hands an hour before.
    path.links.remove(2);
    let faults = audit(&known, &plan);
    let rules: Vec<Rule> = faults.iter().map(|fault| fault.rule).collect();
    assert_eq!(rules, [Rule::CriticalPath], "{faults:?}");
}

/// Somebody is always there, with one pair of hands; `x` takes so many minutes and cures an hour, `y` three hours and cures four, `z` needs both.
fn three(x: u32, late: u32) -> Scenario {
    scenario(&format!(
        r#"
build: {{name: Hands, start: 2026-01-05 07:00, timezone: Europe/Oslo, each_day: 10}}
bench: {{hours: {{mon-sun: ["00:00-24:00"]}}, hands: 1}}
machines: [{{id: one, kind: bed, bed: [200, 100], height: 100, warm_up: 0 s, turnaround: 10 min}}]
filaments: [{{id: grey, material: PLA, spools: [1000]}}]
parts:
  - {{id: a, size: [60, 60, 20], filament: grey, grams: 10, minutes: {{one: 30}}}}
  - {{id: b, size: [60, 60, 20], filament: grey, grams: 10, minutes: {{one: 30}}}}
assemblies:
  - {{id: x, parts: {{a: 1}}, bench: {x} min, cure: 1 h, due: 2026-01-06 00:00, late: {late}}}
  - {{id: y, parts: {{b: 1}}, bench: 3 h, cure: 4 h}}
  - {{id: z, needs: [x, y], bench: 1 h}}
"#
    ))
}

#[test]
fn work_that_hands_go_on_from_is_on_the_path_and_has_no_float() {
    // x is worked on first, being due; y begins the minute that x leaves the hands, cures longer, and z waits for it.
    let known = three(720, 100);
    let plan = plan_at(&known, 2000);
    let path = plan.critical.as_ref().expect("a path");
    assert_eq!(links(&known, &plan), ["one-001", "x", "y", "z"]);
    assert!(path.links[1].hands, "y does not need x");
    let [x, y, z] = [0, 1, 2].map(|at| &plan.assemblies[at]);
    assert_eq!(
        x.work.last().map(|last| last.to),
        y.work.first().map(|first| first.from)
    );
    assert!(x.complete < y.complete);
    assert_eq!([x, y, z].map(|dates| dates.float.value()), [0, 0, 0]);
    // Not a minute more of x does no harm.
    let later = plan_at(&three(721, 100), 2000).finish - plan.finish;
    assert_eq!(later.num_minutes(), 1);
}
