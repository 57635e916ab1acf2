//! Farms that are several farms: each is planned by itself, and nothing is lost by it.

use beamyard::calendar::Calendar;
use beamyard::planning::{Options, Planned, plan};
use beamyard::routes::routes;
use beamyard::scenario::{
    Assembly, AssemblyIndex, FilamentIndex, Hands, JointIndex, MachineIndex, Part, PartIndex,
    Scenario, SettingsIndex,
};
use beamyard::search::apart::parts;
use beamyard::search::portfolio::Limit;
use beamyard::search::shop::Shop;
use beamyard::units::{Minutes, Money};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use crate::exhaustive::cheapest;
use crate::shops::{Tiny, tiny_shops};
use crate::support::{SAME, cases, planned};

/// Two farms in one workshop: materials that only the own machines print, stages of their own, the hours of the first.
fn side_by_side(first: &Scenario, second: &Scenario) -> Scenario {
    let mut both = with_hours_of(first, first, "a");
    let second = with_hours_of(first, second, "b");
    let (machines, filaments) = (both.machines.len(), both.filaments.len());
    let (settings, joints) = (both.settings.len(), both.joints.len());
    let (parts, assemblies) = (both.parts.len(), both.assemblies.len());
    let more = second.machines.len();
    for part in &mut both.parts {
        part.only.extend(vec![false; more]);
        part.minutes.extend(vec![None; more]);
        part.toolpaths.extend(vec![None; more]);
    }
    both.machines
        .extend(second.machines.into_iter().map(|mut machine| {
            machine.loaded = machine.loaded.map(|f| FilamentIndex(f.0 + filaments));
            machine
        }));
    both.filaments.extend(second.filaments);
    both.settings.extend(second.settings);
    both.joints.extend(second.joints);
    both.parts.extend(second.parts.into_iter().map(|part| {
        let mut split = part.split.clone();
        if let Some(split) = &mut split {
            split.joint = JointIndex(split.joint.0 + joints);
        }
        let after = |head: usize| vec![None; head];
        Part {
            filament: FilamentIndex(part.filament.0 + filaments),
            settings: SettingsIndex(part.settings.0 + settings),
            only: [vec![false; machines], part.only.clone()].concat(),
            minutes: [vec![None; machines], part.minutes.clone()].concat(),
            toolpaths: [after(machines), part.toolpaths.clone()].concat(),
            split,
            ..part
        }
    }));
    both.assemblies
        .extend(second.assemblies.into_iter().map(|mut assembly| {
            for (part, _) in &mut assembly.parts {
                *part = PartIndex(part.0 + parts);
            }
            for need in &mut assembly.needs {
                *need = AssemblyIndex(need.0 + assemblies);
            }
            assembly
        }));
    both
}

/// A shop with names and materials of its own, nobody's hands short, nothing paid until the end.
fn with_hours_of(hours: &Scenario, shop: &Scenario, name: &str) -> Scenario {
    let mut shop = shop.clone();
    shop.build = hours.build.clone();
    shop.bench = hours.bench.clone();
    shop.build.each_day = Money::ZERO;
    shop.bench.hands = Hands::Unlimited;
    let named = |id: &str| format!("{name}-{id}");
    for machine in &mut shop.machines {
        machine.id = named(&machine.id);
        machine.materials = machine.materials.iter().map(|m| named(m)).collect();
    }
    for filament in &mut shop.filaments {
        filament.id = named(&filament.id);
        filament.material = named(&filament.material);
    }
    for settings in &mut shop.settings {
        settings.id = named(&settings.id);
    }
    for joint in &mut shop.joints {
        joint.id = named(&joint.id);
    }
    for part in &mut shop.parts {
        part.id = named(&part.id);
        part.trial = 0;
        part.variants.clear();
    }
    for assembly in &mut shop.assemblies {
        assembly.id = named(&assembly.id);
    }
    shop
}

/// How many farms a scenario is.
fn farms(scenario: &Scenario) -> usize {
    let shop = Shop::new(scenario, Calendar::new(scenario), &routes(scenario));
    parts(&shop).len().max(1)
}

fn drawn(runner: &mut TestRunner, pieces: u32) -> Scenario {
    let shop = tiny_shops(Tiny { pieces }).new_tree(runner);
    shop.expect("it draws").current()
}

#[test]
fn two_farms_in_one_cost_what_the_cheapest_queues_of_each_cost_together() {
    let config = cases(60);
    let mut runner = TestRunner::new(config.clone());
    let mut taken_apart = 0;
    for case in 0..config.cases {
        let (first, second) = (drawn(&mut runner, 4), drawn(&mut runner, 4));
        let both = side_by_side(&first, &second);
        let best = |shop: &Scenario, name: &str| cheapest(&with_hours_of(&first, shop, name));
        let made = planned(&both, 1, 20_000).ok();
        match (best(&first, "a"), best(&second, "b"), made) {
            (Some(a), Some(b), Some(made)) => {
                taken_apart += usize::from(farms(&both) > 1);
                let cost = made.plan.cost.total().0;
                assert!(
                    (cost - a.cost - b.cost).abs() <= SAME,
                    "case {case}: {cost}, and apart {} and {}",
                    a.cost,
                    b.cost
                );
                assert!(made.plan.bound.0 <= made.plan.decided.0 + SAME);
            }
            (Some(_), Some(_), None) => panic!("case {case}: each has a plan, both together none"),
            // Too long for the calendar of one, which ends sooner than that of both.
            (None, _, _) | (_, None, _) => {}
        }
    }
    // Some are one farm after all: in each half a machine that prints for nobody, or no plan in time.
    assert!(taken_apart >= config.cases as usize / 6, "{taken_apart}");
}

/// Two farms of one machine each, three runs of their own by rule, colours to be changed, a stage each.
fn packed_pair() -> Scenario {
    let text = "
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 0}
bench: {hours: {mon-sun: [\"07:00-22:00\"]}, hands: unlimited}
machines:
  - {id: left, kind: bed, bed: [200, 200], height: 100, materials: [PLA], loaded: red}
  - {id: right, kind: bed, bed: [200, 200], height: 100, materials: [PETG], loaded: green}
filaments:
  - {id: red, material: PLA, spools: [1000]}
  - {id: blue, material: PLA, spools: [1000]}
  - {id: green, material: PETG, spools: [1000]}
  - {id: white, material: PETG, spools: [1000]}
parts:
  - {id: a1, size: [60, 60, 30], filament: red, alone: true, quantity: 2}
  - {id: a2, size: [80, 60, 40], filament: blue, alone: true}
  - {id: b1, size: [60, 60, 30], filament: green, alone: true, quantity: 2}
  - {id: b2, size: [90, 60, 40], filament: white, alone: true}
assemblies:
  - {id: one, parts: {a1: 2, a2: 1}, due: 2027-01-11 12:00, late: 30}
  - {id: two, parts: {b1: 2, b2: 1}, due: 2027-01-11 12:00, late: 30}
";
    read(text)
}

fn read(text: &str) -> Scenario {
    match beamyard::scenario::read_text("pair.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

#[test]
fn a_farm_is_several_only_where_no_cost_looks_at_both() {
    let pair = packed_pair();
    assert_eq!(farms(&pair), 2);

    let mut paid_by_day = pair.clone();
    paid_by_day.build.each_day = Money(1.0);
    assert_eq!(
        farms(&paid_by_day),
        1,
        "the end of the build is that of both"
    );

    let mut on_trial = pair.clone();
    on_trial.parts[0].trial = 1;
    assert_eq!(
        farms(&on_trial),
        1,
        "approvals are settled over the whole farm"
    );

    let joined = |late: f64| {
        let mut joined = pair.clone();
        joined.assemblies.push(Assembly {
            id: "whole".into(),
            parts: Vec::new(),
            needs: vec![AssemblyIndex(0), AssemblyIndex(1)],
            bench: Minutes(60),
            late: Money(late),
            ..pair.assemblies[0].clone()
        });
        joined
    };
    assert_eq!(farms(&joined(5.0)), 1, "a stage waits for both");
    assert_eq!(
        farms(&joined(0.0)),
        2,
        "nothing is paid for when both are there"
    );

    let mut either = pair.clone();
    either.machines[1].materials.insert("PLA".into());
    for part in &mut either.parts {
        part.only[1] = true;
    }
    assert_eq!(farms(&either), 1, "a machine prints for both");
}

/// What was made of a farm taken apart costs what the farm costs that is searched as one.
fn assert_nothing_is_lost(pair: &Scenario, made: &Planned) {
    let whole = plan(
        pair,
        &Options {
            limit: Some(Limit::Moves(40_000)),
            apart: false,
            ..Options::default()
        },
    );
    let cost = |made: &Planned| made.plan.cost.total().0;
    let whole = whole.expect("there is a plan");
    let (apart, whole) = (cost(made), cost(&whole));
    assert!((apart - whole).abs() <= SAME, "{apart}, as one {whole}");
}

/// Two machines for the same material with the beds that are said, each with two kinds of part that have these sizes and rules.
fn two_beds(beds: [&str; 2], parts: [&str; 4]) -> Scenario {
    let [left, right] = beds;
    let [a1, a2, b1, b2] = parts;
    read(&format!(
        "
build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 0}}
bench: {{hours: {{mon-sun: [\"07:00-22:00\"]}}, hands: unlimited}}
machines:
  - {{id: left, kind: bed, bed: {left}, height: 100, materials: [PLA], loaded: red}}
  - {{id: right, kind: bed, bed: {right}, height: 100, materials: [PLA], loaded: blue}}
filaments:
  - {{id: red, material: PLA, spools: [1000]}}
  - {{id: blue, material: PLA, spools: [1000]}}
parts:
  - {{id: a1, filament: red, alone: true, quantity: 2, lie: [z], {a1}}}
  - {{id: a2, filament: blue, alone: true, lie: [z], {a2}}}
  - {{id: b1, filament: red, alone: true, quantity: 2, lie: [z], {b1}}}
  - {{id: b2, filament: blue, alone: true, lie: [z], {b2}}}
assemblies:
  - {{id: one, parts: {{a1: 2, a2: 1}}, due: 2027-01-11 12:00, late: 30}}
  - {{id: two, parts: {{b1: 2, b2: 1}}, due: 2027-01-11 12:00, late: 30}}
"
    ))
}

/// It is two farms, is proved so, and costs what it costs as one.
fn assert_falls_in_two(pair: &Scenario) {
    assert_eq!(farms(pair), 2);
    let made = planned(pair, 1, 40_000).expect("there is a plan");
    assert!(made.optimal, "three runs each are proved best");
    assert_nothing_is_lost(pair, &made);
}

#[test]
fn a_farm_is_several_where_no_bed_takes_what_the_other_takes() {
    let beds = ["[200, 200]", "[420, 80]"];
    // Wide ones and long ones: 190 mm of bed, 268 mm across its corners, hold no 380; 70 mm hold no 150.
    let wide = ["size: [150, 150, 30]", "size: [160, 150, 20]"];
    let long = ["size: [380, 40, 30]", "size: [390, 50, 20]"];
    assert_falls_in_two(&two_beds(beds, [wide[0], wide[1], long[0], long[1]]));
    // One that both take holds them together.
    let either = two_beds(beds, [wide[0], wide[1], long[0], "size: [60, 60, 20]"]);
    assert_eq!(farms(&either), 1);
}

#[test]
fn a_farm_is_several_where_each_part_may_be_made_on_one_machine_only() {
    let beds = ["[200, 200]"; 2];
    let parts = [
        "size: [60, 60, 30], only: [left]",
        "size: [80, 60, 40], only: [left]",
        "size: [60, 60, 30], only: [right]",
        "size: [90, 60, 40], only: [right]",
    ];
    assert_falls_in_two(&two_beds(beds, parts));
    let [a1, a2, b1, _] = parts;
    let either = two_beds(
        beds,
        [a1, a2, b1, "size: [90, 60, 40], only: [left, right]"],
    );
    assert_eq!(farms(&either), 1);
}

#[test]
fn farms_are_proved_one_by_one_and_planned_alike_on_any_number_of_processors() {
    let pair = packed_pair();
    let made = planned(&pair, 1, 40_000).expect("there is a plan");
    assert!(made.optimal, "three runs each are proved best");
    assert!((made.plan.bound.0 - made.plan.decided.0).abs() <= SAME);

    assert_nothing_is_lost(&pair, &made);

    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let made = pool.expect("threads").install(|| planned(&pair, 7, 9_000));
        format!("{:?}", made.map(|made| (made.plan, made.moves)))
    };
    assert_eq!(on(1), on(4));
    let machines = [MachineIndex(0), MachineIndex(1)];
    for machine in machines {
        assert!(made.plan.runs.iter().any(|run| run.machine == machine));
    }
}
