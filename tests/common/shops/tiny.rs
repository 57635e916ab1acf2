//! Shops so small that all their queues can be tried one by one: a handful of pieces, two machines, two colours.

use beamyard::scenario::{Axis, MachineKind, Scenario};
use beamyard::units::Millimetres;
use proptest::collection::vec;
use proptest::option::weighted;
use proptest::prelude::*;
use proptest::sample::select;

use super::Drawn;
use super::build::{self, DrawnAssembly, DrawnPart};
use super::farm::{self, DrawnMachine};
use super::hours::{self, Hours, Week};

/// How small.
#[derive(Clone, Copy, Debug)]
pub struct Tiny {
    /// Most pieces, if every part that may be split is split into as many lengths as it may be.
    pub pieces: u32,
}

/// Tiny shops; nearly all have a plan.
pub fn tiny_shops(tiny: Tiny) -> impl Strategy<Value = Scenario> {
    let farm = (
        vec(machine(), 1..=2),
        farm::filaments(),
        farm::settings(),
        farm::joint(),
    );
    let wanted = (vec(part(), 1..=4), vec(assembly(), 1..=2), any::<bool>());
    let bench = (
        select(vec![
            Week::BeforeAndAfterWork,
            Week::Office,
            Week::OverMidnight,
            Week::Always,
        ]),
        hours::start(),
        hours::hands(),
    );
    let prices = (
        select(vec![0.0, 1.0, 5.0]),
        select(vec![0.0, 6.0, 15.0]),
        Just(0.3),
    );
    (farm, wanted, bench, prices).prop_map(move |(farm, wanted, bench, prices)| {
        let (machines, mut filaments, mut settings, joint) = farm;
        let (parts, assemblies, backwards) = wanted;
        let (kind, start, hands) = bench;
        filaments.truncate(2);
        settings.truncate(2);
        Drawn {
            machines,
            filaments,
            settings,
            joint,
            parts: few(parts, assemblies.len(), tiny.pieces),
            assemblies,
            backwards,
            hours: Hours {
                kind,
                away: vec![1],
            },
            start,
            hands,
            prices: prices.into(),
            unattended: true,
        }
        .shop()
    })
}

/// Copies and parts taken off until there are few enough pieces; copies beyond a trial all for one assembly.
fn few(parts: Vec<DrawnPart>, assemblies: usize, mut pieces: u32) -> Vec<DrawnPart> {
    let mut kept = Vec::new();
    for mut part in parts {
        let lengths = part.split.map_or(1, |(_, most)| most);
        let copies = (pieces / lengths).min(part.takers.len() as u32);
        if copies == 0 {
            continue;
        }
        part.takers.truncate(copies as usize);
        part.spares = part.spares.min(pieces / lengths - copies);
        if part.trial > 0 {
            let first = part.takers[0] % assemblies as u8;
            part.takers.fill(first);
        }
        pieces -= (copies + part.spares) * lengths;
        kept.push(part);
    }
    kept
}

fn machine() -> impl Strategy<Value = DrawnMachine> {
    let kind = prop_oneof![
        3 => select(vec![150.0, 200.0]).prop_map(|side| MachineKind::Bed {
            bed: [Millimetres(side), Millimetres(side)],
            height: Millimetres(100.0),
        }),
        1 => Just(MachineKind::Belt {
            section: [Millimetres(120.0), Millimetres(90.0)],
            longest: Millimetres(450.0),
            gap: Millimetres(20.0),
        }),
    ];
    (farm::machine(), kind, prop::bool::weighted(0.85)).prop_map(|(machine, kind, unattended)| {
        DrawnMachine {
            kind,
            unattended: Some(unattended),
            ..machine
        }
    })
}

/// Boxes, whether each is printed alone, and whether it may be split.
fn shape() -> impl Strategy<Value = ([f64; 3], bool, bool)> {
    select(vec![
        // Four to a large bed, one to a small one.
        ([90.0, 90.0, 12.0], false, false),
        // One or two.
        ([140.0, 90.0, 8.0], false, false),
        // Many, and different lying and standing.
        ([50.0, 40.0, 62.0], false, false),
        // Across the corners of a large bed, with nothing beside it.
        ([256.0, 14.0, 14.0], true, false),
        // In lengths, or on the belt.
        ([280.0, 40.0, 24.0], false, true),
        ([380.0, 30.0, 24.0], false, true),
    ])
}

fn part() -> impl Strategy<Value = DrawnPart> {
    let measured = [
        weighted(0.5, 20.0..700.0f64),
        weighted(0.5, 20.0..700.0f64),
        weighted(0.5, 20.0..700.0f64),
    ];
    let copies = vec(0..6u8, 1..=3);
    (build::part(), shape(), measured, copies, any::<bool>()).prop_map(
        |(part, (size, alone, split), minutes, takers, three)| DrawnPart {
            size,
            alone: alone || part.alone,
            split: split.then_some((2, if three { 3 } else { 2 })),
            lie: if alone {
                vec![Axis::Z]
            } else {
                part.lie.clone()
            },
            minutes,
            // All queues are enumerated with boxes on plates.
            form: None,
            only: [true; 3],
            spares: part.spares.min(1),
            trial: part.trial.min(1),
            takers,
            ..part
        },
    )
}

fn assembly() -> impl Strategy<Value = DrawnAssembly> {
    let due = weighted(0.7, 300..4000i64);
    (build::assembly(), due, select(vec![5.0, 40.0])).prop_map(|(assembly, due, late)| {
        DrawnAssembly {
            due,
            late,
            bench: assembly.bench.min(150),
            cure: assembly.cure.min(600),
            ..assembly
        }
    })
}
