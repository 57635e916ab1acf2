//! Farms whose runs are packed already: which machine prints which run when is all there is to decide.
//!
//! Knows: how such a farm is drawn. Must not know: how it is planned or measured.
//! Promises: the same size and seed give the same farm; every run fits a machine.
//!
//! A run is a part that is alone on its plate, with measured minutes on the machines that can make it. Money is lateness,
//! machine hours and a fixed sum for each colour change; bench hours and plastic cost nothing.

use std::collections::BTreeSet;

use beamyard::scenario::{
    Assembly, AssemblyIndex, Axis, Bench, Build, Filament, FilamentIndex, Hands, Machine,
    MachineKind, Part, PartIndex, Scenario, Settings, SettingsIndex, Shape, Turns,
};
use beamyard::units::{
    Density, Flow, Grams, Millimetres, Minutes, Money, PricePerKilogram, Seconds, Watts,
};
use chrono::{DateTime, TimeDelta};
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use crate::instance::{one_of, week};

/// Monday 4 January 2027, 00:00 UTC, in seconds since 1970.
const START: i64 = 1_799_020_800;
/// Money lost in a change: a purge of one kilogram at this price.
const CHANGE: f64 = 1.5;
/// Longest run before a machine's own speed, minutes.
const LONGEST: f64 = 1100.0;
/// Shortest run likewise.
const SHORTEST: f64 = 40.0;

/// A kind of machine: name, minutes against the small one, share of runs that it cannot make.
const KINDS: [(&str, f64, f64); 3] = [
    ("small", 1.0, 0.19),
    ("wide", 1.25, 0.0),
    ("quick", 0.75, 0.1),
];

/// What is printed in one run.
struct Run {
    colour: usize,
    /// By machine; `None`: does not fit.
    minutes: Vec<Option<f64>>,
    /// Stages that wait for it.
    stages: Vec<usize>,
}

/// How many machines a farm of so many runs has: about four runs each in a small one, thirty in a large one.
pub fn machines_of(runs: usize) -> usize {
    ((0.62 * (runs as f64).sqrt()).round() as usize).max(2)
}

/// Draws a farm.
pub fn scenario(runs: usize, seed: u64) -> Scenario {
    let draw = &mut Pcg64::seed_from_u64(seed);
    let count = machines_of(runs);
    let colours = (2 + count / 2).min(6);
    let machines: Vec<Machine> = (0..count).map(|m| machine(draw, m, colours)).collect();
    let stages = (runs / 8).max(2);
    let runs = draw_runs(draw, runs, &machines, colours, stages);
    Scenario {
        file: "packed-farm.yaml".into(),
        build: Build {
            name: format!("Packed farm of {} runs, {seed}", runs.len()),
            scale: 1.0,
            start: moment(0),
            zone: chrono_tz::UTC,
            each_day: Money::ZERO,
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
            hours: week(&[(420, 510), (1050, 1350)], &[(540, 1320)]),
            away: BTreeSet::new(),
            hands: Hands::Unlimited,
            unattended: true,
            bench_hour: Money::ZERO,
            energy_kwh: Money::ZERO,
        },
        filaments: (0..colours).map(filament).collect(),
        settings: vec![Settings {
            id: "plain".into(),
            layer: Millimetres(0.2),
            line: Millimetres(0.45),
            perimeters: 2,
            top: 3,
            bottom: 3,
            infill: 0.1,
            overhang: 45,
            support: 0.15,
        }],
        joints: Vec::new(),
        parts: runs
            .iter()
            .enumerate()
            .map(|(r, run)| part(r, run))
            .collect(),
        assemblies: assemblies(draw, &runs, count, stages),
        machines,
    }
}

/// Draws several farms that share a workshop's hours and nothing else: each prints a material of its own.
pub fn several(farms: usize, runs: usize, seed: u64) -> Scenario {
    let mut whole = scenario(runs, seed);
    whole.build.name = format!("{farms} packed farms of {runs} runs, {seed}");
    name_all(&mut whole, 0);
    for farm in 1..farms {
        // Seeds of one farm are not those of another's neighbours.
        let mut other = scenario(runs, seed.wrapping_add(1000 * farm as u64));
        name_all(&mut other, farm);
        let (machines, colours) = (whole.machines.len(), whole.filaments.len());
        let (parts, stages) = (whole.parts.len(), whole.assemblies.len());
        let more = other.machines.len();
        for part in &mut whole.parts {
            part.only.extend(vec![false; more]);
            part.minutes.extend(vec![None; more]);
        }
        for part in &mut other.parts {
            part.filament.0 += colours;
            part.only.splice(0..0, vec![false; machines]);
            part.minutes.splice(0..0, vec![None; machines]);
        }
        for loaded in other.machines.iter_mut().filter_map(|m| m.loaded.as_mut()) {
            loaded.0 += colours;
        }
        for stage in &mut other.assemblies {
            stage.parts.iter_mut().for_each(|(part, _)| part.0 += parts);
            stage.needs.iter_mut().for_each(|need| need.0 += stages);
        }
        whole.machines.extend(other.machines);
        whole.filaments.extend(other.filaments);
        whole.parts.extend(other.parts);
        whole.assemblies.extend(other.assemblies);
    }
    whole
}

/// The same where each day costs until the last of them is done: alike in all else, they have an end in common.
pub fn kin(farms: usize, runs: usize, seed: u64) -> Scenario {
    let mut whole = several(farms, runs, seed);
    whole.build.each_day = Money(EACH_DAY);
    whole
}

/// What each day costs where it does, about as much as a late stage.
const EACH_DAY: f64 = 2.0;

/// Gives a farm names and a material of its own.
fn name_all(farm: &mut Scenario, number: usize) {
    let material = format!("PLA {number}");
    let ids = (farm.machines.iter_mut().map(|m| &mut m.id))
        .chain(farm.filaments.iter_mut().map(|f| &mut f.id))
        .chain(farm.parts.iter_mut().map(|p| &mut p.id))
        .chain(farm.assemblies.iter_mut().map(|a| &mut a.id));
    ids.for_each(|id| *id = format!("{id}-{number}"));
    for filament in &mut farm.filaments {
        filament.material.clone_from(&material);
    }
    for machine in &mut farm.machines {
        machine.materials = BTreeSet::from([material.clone()]);
    }
}

fn moment(minute: i64) -> DateTime<chrono::Utc> {
    DateTime::UNIX_EPOCH + TimeDelta::seconds(START) + TimeDelta::minutes(minute)
}

fn machine(draw: &mut Pcg64, index: usize, colours: usize) -> Machine {
    Machine {
        id: format!("{}{index}", KINDS[index % KINDS.len()].0),
        kind: MachineKind::Bed {
            bed: [Millimetres(100.0); 2],
            height: Millimetres(100.0),
        },
        margin: Millimetres::ZERO,
        spacing: Millimetres::ZERO,
        nozzle: Millimetres(0.4),
        flow: Flow(10.0),
        layer_time: Seconds::ZERO,
        materials: BTreeSet::from(["PLA".into()]),
        loaded: Some(FilamentIndex(draw.random_range(0..colours))),
        warm_up: Seconds::ZERO,
        turnaround: Minutes(one_of(draw, &[8, 10, 12])),
        swap: Minutes(one_of(draw, &[4, 6, 8, 10])),
        purge: Grams(1000.0),
        watts: Watts::ZERO,
        hourly: Money(one_of(draw, &[0.2, 0.3, 0.4, 0.5])),
        scrap: 0.0,
        offline: Vec::new(),
        unattended: true,
    }
}

fn filament(colour: usize) -> Filament {
    Filament {
        id: format!("c{colour}"),
        material: "PLA".into(),
        colour: "#808080".into(),
        density: Density(1.24),
        modulus: None,
        price_kg: PricePerKilogram(CHANGE),
        spools: vec![Grams(1e8)],
        diameter: Millimetres(1.75),
        spool: Grams(1000.0),
        lead: Minutes::ZERO,
    }
}

fn draw_runs(
    draw: &mut Pcg64,
    count: usize,
    machines: &[Machine],
    colours: usize,
    stages: usize,
) -> Vec<Run> {
    // Every stage has about as many runs, in no order.
    let mut first: Vec<usize> = (0..count).map(|r| r % stages).collect();
    first.shuffle(draw);
    first
        .into_iter()
        .map(|stage| {
            let length = (5.6 + 0.7 * normal(draw)).exp().clamp(SHORTEST, LONGEST);
            let minutes = (0..machines.len())
                .map(|m| {
                    let (_, slower, unfit) = KINDS[m % KINDS.len()];
                    let minutes = (length * slower * draw.random_range(0.88..1.12)).round();
                    (!draw.random_bool(unfit)).then_some(minutes)
                })
                .collect();
            // About one run in seven is needed for two stages.
            let other = draw.random_range(0..stages);
            let mut stages = vec![stage];
            if other != stage && draw.random_bool(0.15) {
                stages.push(other);
            }
            Run {
                colour: draw.random_range(0..colours),
                minutes,
                stages,
            }
        })
        .collect()
}

/// A number from the standard normal distribution, after Box and Muller (Annals of Mathematical Statistics 29, 1958).
fn normal(draw: &mut Pcg64) -> f64 {
    let radius = (-2.0 * (1.0 - draw.random::<f64>()).ln()).sqrt();
    radius * (std::f64::consts::TAU * draw.random::<f64>()).cos()
}

fn part(index: usize, run: &Run) -> Part {
    Part {
        id: format!("r{index}"),
        quantity: 1,
        size: [50.0, 50.0, 20.0].map(Millimetres),
        shape: Shape::Box { solid: 1.0 },
        turns: Turns::USUAL,
        filament: FilamentIndex(run.colour),
        settings: SettingsIndex(0),
        lie: vec![Axis::Z],
        split: None,
        belt: false,
        finishing: Seconds::ZERO,
        spares: 0,
        reserve: false,
        together: None,
        variants: Vec::new(),
        trial: 0,
        alone: true,
        ready: None,
        only: run.minutes.iter().map(Option::is_some).collect(),
        minutes: run.minutes.clone(),
        span: None,
        grams: Some(Grams(0.001)),
        toolpaths: Vec::new(),
    }
}

/// The stages, after one small assembly for each run that several of them need.
fn assemblies(draw: &mut Pcg64, runs: &[Run], machines: usize, stages: usize) -> Vec<Assembly> {
    let plain = |id: String| Assembly {
        id,
        parts: Vec::new(),
        needs: Vec::new(),
        places: Default::default(),
        lift: None,
        bench: Minutes::ZERO,
        cure: Minutes::ZERO,
        due: None,
        late: Money::ZERO,
    };
    let mut shared: Vec<Assembly> = Vec::new();
    let mut own: Vec<Assembly> = (0..stages).map(|s| plain(format!("s{s}"))).collect();
    for (r, run) in runs.iter().enumerate() {
        if let [stage] = run.stages[..] {
            own[stage].parts.push((PartIndex(r), 1));
        } else {
            for &stage in &run.stages {
                own[stage].needs.push(AssemblyIndex(shared.len()));
            }
            shared.push(Assembly {
                parts: vec![(PartIndex(r), 1)],
                ..plain(format!("r{r}-done"))
            });
        }
    }
    // Days of printing if every machine took an equal share; the stages are spread over them, some too early.
    let minutes: f64 = runs.iter().map(|run| mean(&run.minutes)).sum();
    let days = minutes / 1440.0 / machines as f64;
    for (s, stage) in own.iter_mut().enumerate() {
        let share = s as f64 / stages as f64;
        let day = 1 + (share * days * draw.random_range(0.8..1.6)) as i64;
        stage.due = Some(moment(day * 1440 + 18 * 60));
        stage.late = Money(one_of(draw, &[8.0, 15.0, 30.0]));
    }
    shared.extend(own);
    shared
}

/// The mean over the machines that fit; the second of each farm's machines always does.
fn mean(minutes: &[Option<f64>]) -> f64 {
    let fit: Vec<f64> = minutes.iter().flatten().copied().collect();
    fit.iter().sum::<f64>() / fit.len() as f64
}
