//! Towers: whole builds of beds and belts, pieces that share plates, long parts to split, and stages.
//!
//! Knows: how such a build is drawn, of one shape at every size. Must not know: how it is planned or measured.
//! Promises: the same size and seed give the same tower; the assemblies take every copy; every part fits a machine.

use std::collections::BTreeSet;

use beamyard::scenario::{
    Assembly, AssemblyIndex, Axis, Bench, Build, Filament, FilamentIndex, Hands, Hardware, Joint,
    JointIndex, Machine, MachineKind, Part, PartIndex, Scenario, Settings, SettingsIndex, Shape,
    Split, Turns,
};
use beamyard::units::{
    Density, Flow, Grams, Millimetres, Minutes, Money, PricePerKilogram, Seconds, Watts,
};
use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Europe::Vienna;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use crate::instance::{one_of, week};

/// The second of them is PETG, the others PLA.
const COLOURS: [&str; 6] = ["chalk", "coal", "brick", "moss", "sky", "straw"];
const COAL: usize = 1;
/// From this many machines on somebody is there all day.
const STAFFED: usize = 50;
/// A part longer than this may be split.
const LONG: f64 = 160.0;

/// Draws a tower of so many machines and pieces.
pub fn scenario(machines: usize, pieces: u32, seed: u64) -> Scenario {
    let draw = &mut Pcg64::seed_from_u64(seed);
    let colours = (2 + machines / 2).min(COLOURS.len());
    let farm: Vec<Machine> = (0..machines).map(|m| machine(draw, m, colours)).collect();
    let filaments = (0..colours).map(|c| filament(draw, c)).collect();
    let parts = parts(draw, pieces, machines, colours);
    let assemblies = assemblies(draw, &parts, (pieces / 60).max(3) as usize);
    Scenario {
        file: "tower.yaml".into(),
        build: Build {
            name: format!("Tower of {pieces} pieces on {machines} machines, {seed}"),
            scale: 1.0,
            start: local_time(0, 7),
            zone: Vienna,
            each_day: Money(3.0),
            confidence: 0.95,
            spool_margin: 0.03,
            firm: None,
            churn: Money(1.0),
            original: Default::default(),
            earlier: Vec::new(),
        },
        currency: "EUR".into(),
        measured: Vec::new(),
        bench: Bench {
            hours: if machines < STAFFED {
                week(&[(390, 510), (990, 1350)], &[(510, 1290)])
            } else {
                week(&[(360, 1320)], &[(360, 1320)])
            },
            away: BTreeSet::new(),
            hands: Hands::Count((machines as u32 / 10).max(1)),
            unattended: true,
            bench_hour: Money(14.0),
            energy_kwh: Money(0.28),
        },
        machines: farm,
        filaments,
        settings: vec![
            settings("light", [0.3, 0.6], [2, 3, 2], 0.06),
            settings("strong", [0.24, 0.5], [4, 5, 4], 0.25),
        ],
        joints: vec![dowel()],
        parts,
        assemblies,
    }
}

/// The same tower where every other machine prints only while somebody is there.
pub fn watched(machines: usize, pieces: u32, seed: u64) -> Scenario {
    let mut scenario = scenario(machines, pieces, seed);
    for machine in scenario.machines.iter_mut().step_by(2) {
        machine.unattended = false;
    }
    scenario
}

/// So many days after Monday 1 March 2027, at a full hour; the clocks change at night, when nothing is due.
fn local_time(days: i64, hour: u32) -> DateTime<Utc> {
    let first = Vienna
        .with_ymd_and_hms(2027, 3, 1, hour, 0, 0)
        .single()
        .expect("the clocks do not change on 1 March");
    let local = first.naive_local() + TimeDelta::days(days);
    Vienna
        .from_local_datetime(&local)
        .earliest()
        .expect("the clocks change between two and three at night")
        .with_timezone(&Utc)
}

/// Every fifth machine is a belt; the others are beds of five sizes, some of them for PLA only and then without coal.
fn machine(draw: &mut Pcg64, index: usize, colours: usize) -> Machine {
    let belt = index % 5 == 4;
    let kind = if belt {
        MachineKind::Belt {
            section: [one_of(draw, &[200.0, 250.0]), one_of(draw, &[170.0, 200.0])]
                .map(Millimetres),
            longest: Millimetres(one_of(draw, &[1500.0, 2500.0])),
            gap: Millimetres(20.0),
        }
    } else {
        let beds = [
            [180.0, 180.0],
            [220.0, 220.0],
            [250.0, 210.0],
            [300.0, 300.0],
            [400.0, 400.0],
        ];
        MachineKind::Bed {
            bed: one_of(draw, &beds).map(Millimetres),
            height: Millimetres(one_of(draw, &[180.0, 250.0, 320.0])),
        }
    };
    let flows: &[f64] = if belt {
        &[8.0, 10.0]
    } else {
        &[9.0, 12.0, 16.0, 20.0]
    };
    let pla_only = !belt && draw.random_bool(0.3);
    let materials: &[&str] = if pla_only { &["PLA"] } else { &["PLA", "PETG"] };
    let loaded = draw.random_range(0..colours);
    let either = |on_belt: f64, on_bed: f64| if belt { on_belt } else { on_bed };
    Machine {
        id: format!("{}{index}", if belt { 'b' } else { 'm' }),
        kind,
        margin: Millimetres(either(2.0, 4.0)),
        spacing: Millimetres(4.0),
        nozzle: Millimetres(either(0.4, 0.6)),
        flow: Flow(one_of(draw, flows)),
        layer_time: Seconds(3.0),
        materials: materials.iter().map(|&name| name.into()).collect(),
        loaded: (!pla_only || loaded != COAL).then_some(FilamentIndex(loaded)),
        warm_up: Seconds(60.0 * either(9.0, 6.0)),
        turnaround: Minutes(if belt { 15 } else { 9 }),
        swap: Minutes(if belt { 10 } else { 7 }),
        purge: Grams(either(18.0, 10.0)),
        watts: Watts(either(160.0, 120.0)),
        hourly: Money(either(
            0.55,
            (draw.random_range(0.2..0.6) * 100.0_f64).round() / 100.0,
        )),
        scrap: 0.03,
        offline: Vec::new(),
        unattended: true,
    }
}

fn filament(draw: &mut Pcg64, colour: usize) -> Filament {
    let petg = colour == COAL;
    Filament {
        id: COLOURS[colour].into(),
        material: if petg { "PETG" } else { "PLA" }.into(),
        colour: "#808080".into(),
        density: Density(if petg { 1.27 } else { 1.24 }),
        modulus: None,
        price_kg: PricePerKilogram(one_of(draw, &[17.0, 19.0, 23.0, 28.0])),
        spools: vec![Grams(1000.0); 400],
        diameter: Millimetres(1.75),
        spool: Grams(1000.0),
        lead: Minutes(3 * 1440),
    }
}

fn settings(
    id: &str,
    [layer, line]: [f64; 2],
    [perimeters, top, bottom]: [u32; 3],
    infill: f64,
) -> Settings {
    Settings {
        id: id.into(),
        layer: Millimetres(layer),
        line: Millimetres(line),
        perimeters,
        top,
        bottom,
        infill,
        overhang: 45,
        support: 0.15,
    }
}

fn dowel() -> Joint {
    Joint {
        id: "dowel".into(),
        hardware: Some(Hardware {
            item: "beech dowel 8 mm".into(),
            grams_per_mm: 0.035,
            price_per_mm: Money(0.002),
            length: Millimetres(80.0),
            stiffener: None,
        }),
        shortest: Millimetres(100.0),
        bench: Seconds(300.0),
        cure: Minutes(360),
        grams: Grams(3.0),
    }
}

/// Kinds of part with, on average, a dozen copies each; few have many.
fn parts(draw: &mut Pcg64, pieces: u32, machines: usize, colours: usize) -> Vec<Part> {
    let kinds = (pieces / 12).max(6);
    let mean = f64::from(pieces) / f64::from(kinds);
    let mut left = pieces;
    let mut parts = Vec::new();
    while left > 0 {
        let last = parts.len() as u32 + 1 >= kinds;
        // Exponentially distributed, by inversion.
        let some = (-mean * (1.0 - draw.random::<f64>()).ln()) as u32;
        let quantity = if last { left } else { some.clamp(1, left) };
        left -= quantity;
        let size = size(draw).map(f64::from);
        let long = size.iter().any(|&side| side > LONG);
        parts.push(Part {
            id: format!("p{}", parts.len()),
            quantity,
            size: size.map(Millimetres),
            shape: Shape::Box {
                solid: (draw.random_range(0.4..0.95) * 100.0_f64).round() / 100.0,
            },
            turns: Turns::USUAL,
            filament: FilamentIndex(draw.random_range(0..colours)),
            settings: SettingsIndex(one_of(draw, &[0, 0, 1])),
            lie: Axis::ALL.to_vec(),
            split: long.then_some(Split {
                joint: JointIndex(0),
                into: 2..=8,
            }),
            belt: true,
            finishing: Seconds(60.0 * f64::from(draw.random_range(1..=5))),
            spares: 0,
            reserve: false,
            together: None,
            variants: Vec::new(),
            trial: 0,
            alone: false,
            ready: None,
            minutes: vec![None; machines],
            only: vec![true; machines],
            span: None,
            grams: None,
            toolpaths: Vec::new(),
        });
    }
    parts
}

/// A few beams, many small blocks, many boxes; whole millimetres.
fn size(draw: &mut Pcg64) -> [u32; 3] {
    let kind = draw.random::<f64>();
    let sides = if kind < 0.08 {
        [420..=1400, 30..=70, 30..=70]
    } else if kind < 0.5 {
        [15..=60, 15..=60, 10..=50]
    } else {
        [40..=170, 30..=160, 15..=120]
    };
    sides.map(|side| draw.random_range(side))
}

/// Assemblies that take up to three shares of each part and need some of those before them; every third has a date,
/// and the last needs all that nothing else needs.
fn assemblies(draw: &mut Pcg64, parts: &[Part], count: usize) -> Vec<Assembly> {
    let mut takes: Vec<Vec<(PartIndex, u32)>> = vec![Vec::new(); count];
    for (p, part) in parts.iter().enumerate() {
        let mut left = part.quantity;
        for share in 1..=3 {
            if left == 0 {
                break;
            }
            let some = if share == 3 {
                left
            } else {
                draw.random_range(1..=left)
            };
            left -= some;
            let takes = &mut takes[draw.random_range(0..count)];
            match takes.last_mut() {
                Some((part, taken)) if part.0 == p => *taken += some,
                _ => takes.push((PartIndex(p), some)),
            }
        }
    }
    let mut assemblies: Vec<Assembly> = Vec::new();
    let mut needed = vec![false; count];
    for (a, parts) in takes.into_iter().enumerate() {
        let last = a + 1 == count;
        let chance = (1.2 / a as f64).min(1.0);
        let needs: Vec<usize> = (0..a)
            .filter(|&b| {
                if last {
                    !needed[b]
                } else {
                    draw.random_bool(chance)
                }
            })
            .collect();
        for &b in &needs {
            needed[b] = true;
        }
        let dated = a % 3 == 2 || last;
        let days = 6 + 40 * (a + 1) / count;
        assemblies.push(Assembly {
            id: format!("a{a}"),
            parts,
            needs: needs.into_iter().map(AssemblyIndex).collect(),
            places: Default::default(),
            lift: None,
            bench: Minutes(draw.random_range(30..=240)),
            cure: Minutes(60 * one_of(draw, &[0, 0, 6, 12])),
            due: dated.then(|| local_time(days as i64, 18)),
            late: Money(if dated {
                one_of(draw, &[5.0, 10.0, 25.0])
            } else {
                0.0
            }),
        });
    }
    assemblies
}
