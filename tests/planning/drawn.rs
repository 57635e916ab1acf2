//! Rules that hold for the plan of any shop.

use beamyard::calendar::Calendar;
use beamyard::planning::NoPlan;
use beamyard::routes::{Way, routes};
use beamyard::scenario::meshes::MeshShape;
use beamyard::scenario::{Machine, MachineKind, Part, Scenario, Turns};
use proptest::prelude::*;

use crate::shops::small_shops;
use crate::support::{SAME, cases, planned};

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn a_plan_passes_its_audit_and_no_plan_has_a_reason(shop in small_shops()) {
        // `planned` holds every plan against its audit and its cost.
        match planned(&shop, 1, 2_000) {
            Ok(_) => {
                for part in &shop.parts {
                    prop_assert!(room(&shop, part) != Room::Nowhere, "{} is made and fits nowhere", part.id);
                }
                prop_assert!(time(&shop) != Time::Never, "a plan, and some part is too long for all bench hours");
            }
            Err(NoPlan::NoRoute(refused)) => {
                for routes in refused.iter().filter(|r| r.forms.is_empty()) {
                    let part = &shop.parts[routes.part.0];
                    prop_assert!(room(&shop, part) != Room::Plenty, "{} is refused and fits", part.id);
                    prop_assert!(!routes.remedies.is_empty() && !routes.refusals.is_empty());
                }
            }
            Err(NoPlan::NoTime(_)) => prop_assert!(time(&shop) != Time::Enough, "every part has its time"),
            Err(fault @ (NoPlan::Unsound(_) | NoPlan::Lost)) => prop_assert!(false, "{fault:?}"),
        }
    }
}

proptest! {
    #![proptest_config(cases(12))]

    #[test]
    fn one_seed_and_one_number_of_moves_give_one_plan_on_any_number_of_processors(
        shop in small_shops(),
        seed in 0..1000u64,
    ) {
        let on = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            let made = pool.install(|| planned(&shop, seed, 4_000));
            format!("{:?}", made.map(|made| (made.plan, made.optimal, made.moves)))
        };
        let first = on(1);
        prop_assert_eq!(&first, &on(1));
        prop_assert_eq!(&first, &on(4));
    }

    #[test]
    fn more_moves_of_one_seed_never_cost_more(
        shop in small_shops(),
        seed in 0..1000u64,
        fewer in 2..3_000u64,
        more in 1..6_000u64,
    ) {
        let cost = |moves| planned(&shop, seed, moves).ok().map(|made| made.plan.cost.total().0);
        match (cost(fewer), cost(fewer + more)) {
            (Some(first), Some(then)) => {
                prop_assert!(then <= first + SAME, "{first} with {fewer} moves, {then} with {more} more");
            }
            (first, then) => prop_assert_eq!(first.is_some(), then.is_some()),
        }
    }
}

/// Whether a part fits some machine that may make it, by trying angles.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Room {
    /// With room to spare.
    Plenty,
    /// By less than a sweep of angles can tell.
    Perhaps,
    /// On none, whole or in lengths.
    Nowhere,
}

/// Room that a sweep of angles cannot tell from none, mm: a step of 0.1° moves the corner of a 700 mm beam by 0.6 mm in
/// the middle of it.
const DOUBT: f64 = 0.7;

fn room(shop: &Scenario, part: &Part) -> Room {
    let mut most = Room::Nowhere;
    for (machine, _) in shop
        .machines
        .iter()
        .enumerate()
        .filter(|(at, m)| allows(shop, part, *at, m))
    {
        for lengths in lengths(shop, part) {
            let sides = part.size.map(|side| side.0);
            let longest = (0..3)
                .max_by(|&a, &b| sides[a].total_cmp(&sides[b]).then(b.cmp(&a)))
                .expect("three");
            let mut piece = sides;
            piece[longest] /= f64::from(lengths);
            for &upright in &part.lie {
                let up = upright as usize;
                let lying = [piece[(up + 1) % 3], piece[(up + 2) % 3], piece[up]];
                let spare = match part.mesh() {
                    Some(mesh) => spare_for_mesh(&shop.machines[machine], part, mesh, lying),
                    None => spare_room(&shop.machines[machine], lying),
                };
                if spare > DOUBT {
                    return Room::Plenty;
                }
                if spare > -DOUBT {
                    most = Room::Perhaps;
                }
            }
        }
    }
    most
}

fn allows(shop: &Scenario, part: &Part, at: usize, machine: &Machine) -> bool {
    let material = &shop.filaments[part.filament.0].material;
    part.only[at] && machine.materials.contains(material) && (part.belt || !machine.is_belt())
}

/// Numbers of lengths that a part may be made in, those not shorter than the joint allows.
fn lengths(shop: &Scenario, part: &Part) -> Vec<u32> {
    let longest = part.size.iter().map(|side| side.0).fold(0.0, f64::max);
    let mut all = vec![1];
    if let Some(split) = &part.split {
        let least = shop.joints[split.joint.0].shortest.0;
        all.extend(
            split
                .into
                .clone()
                .filter(|&n| longest / f64::from(n) >= least),
        );
    }
    all
}

/// Millimetres to spare for a box on a machine at the best angle; below zero if it does not fit.
fn spare_room(machine: &Machine, [long, wide, high]: [f64; 3]) -> f64 {
    let margins = 2.0 * machine.margin.0;
    let (across, along, above, step) = match &machine.kind {
        MachineKind::Bed { bed, height } => (bed[0].0 - margins, bed[1].0 - margins, height.0, 1),
        MachineKind::Belt {
            section, longest, ..
        } => (section[0].0 - margins, longest.0, section[1].0, 900),
    };
    let at = |tenths: usize| {
        let (sin, cos) = (tenths as f64 / 10.0).to_radians().sin_cos();
        (across - long * cos - wide * sin).min(along - long * sin - wide * cos)
    };
    let flat = (0..=900)
        .step_by(step)
        .map(at)
        .fold(f64::NEG_INFINITY, f64::max);
    flat.min(above - high)
}

/// The same for a mesh that lies as drawn, by its outline at the turns that it may take, and by its box at any angle
/// where a right angle is among them; on a belt by its box.
fn spare_for_mesh(machine: &Machine, part: &Part, mesh: &MeshShape, lying: [f64; 3]) -> f64 {
    let outline = &mesh.whole.lying[2].outline;
    let by_box = match part.turns {
        Turns::Every(step) if 90 % step == 0 => spare_room(machine, lying),
        _ => f64::NEG_INFINITY,
    };
    let margins = 2.0 * machine.margin.0;
    let (across, along, above, belt) = match &machine.kind {
        MachineKind::Bed { bed, height } => {
            (bed[0].0 - margins, bed[1].0 - margins, height.0, false)
        }
        MachineKind::Belt {
            section, longest, ..
        } => (section[0].0 - margins, longest.0, section[1].0, true),
    };
    let step = match part.turns {
        Turns::Never => 360,
        Turns::Every(step) => step as usize,
    };
    let turns = (0..360)
        .step_by(step)
        .filter(|turn| !belt || turn % 90 == 0);
    let spare = turns.map(|turn| {
        let (sin, cos) = (turn as f64).to_radians().sin_cos();
        let reach = |u: f64, v: f64| {
            let at = outline.corners().iter().map(|[x, y]| u * x + v * y);
            let ends = at.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            });
            ends.1 - ends.0
        };
        (across - reach(cos, -sin)).min(along - reach(sin, cos))
    });
    spare
        .fold(f64::NEG_INFINITY, f64::max)
        .min(above - part.size[2].0)
        .max(by_box)
}

/// Whether the bench is open long enough, and often enough, for what must be made.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Time {
    /// Every part can be made alone somewhere in ordinary bench hours, even with a change of filament.
    Enough,
    /// Only without a change, or in hours as long as there are few: on the night when the clock goes back, say.
    Perhaps,
    /// Some part never.
    Never,
}

fn time(shop: &Scenario) -> Time {
    let calendar = Calendar::new(shop);
    let mut open: Vec<i64> = calendar
        .windows()
        .iter()
        .map(|w| i64::from(w.length()))
        .collect();
    open.sort_unstable_by(|a, b| b.cmp(a));
    // Every tenth window is as long as the second of these.
    let [longest, ordinary] = [0, open.len() / 10].map(|at| open.get(at).copied().unwrap_or(0));
    let holds = |way: &Way, open: i64, change: bool| {
        let machine = &shop.machines[way.machine.0];
        let swap = if change { machine.swap.0 } else { 0 };
        let watched = if machine.unattended { 0 } else { way.alone.0 };
        machine.turnaround.0 + swap + watched <= open
    };
    let all = |open: i64, change: bool| {
        routes(shop).iter().all(|part| {
            let mut forms = part.forms.iter();
            forms.any(|form| form.ways.iter().any(|way| holds(way, open, change)))
        })
    };
    if all(ordinary, true) {
        Time::Enough
    } else if all(longest, false) {
        Time::Perhaps
    } else {
        Time::Never
    }
}

#[test]
fn drawn_shops_are_of_every_kind() {
    // Else the rules above would hold for nothing.
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::new(cases(100));
    let mut counts = [0; 3];
    for _ in 0..cases(100).cases {
        let shop = small_shops()
            .new_tree(&mut runner)
            .expect("it draws")
            .current();
        counts[match planned(&shop, 1, 2) {
            Ok(_) => 0,
            Err(NoPlan::NoRoute(_)) => 1,
            Err(_) => 2,
        }] += 1;
    }
    eprintln!("{counts:?}");
    assert!(
        counts[0] >= 40 && counts[1] > 0 && counts[2] > 0,
        "plans, no route, no time: {counts:?}"
    );
}
