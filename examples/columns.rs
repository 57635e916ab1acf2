//! Prints how the bound of a farm instance (runs as packed) grows with time.
//!
//! `cargo run --release --example columns -- INSTANCE.json SECONDS [COST [ROUNDS]]`

use std::time::Instant;

use beamyard::calendar::Window;
use beamyard::model::columns::{Known, prove};
use beamyard::model::packed::{PackedMachine, PackedNode, PackedRun, PackedShop};
use serde::Deserialize;

#[derive(Deserialize)]
struct Farm {
    windows: Vec<(i32, i32)>,
    swap_cost: f64,
    machines: Vec<Machine>,
    runs: Vec<Run>,
    stages: Vec<Stage>,
}

#[derive(Deserialize)]
struct Machine {
    turnaround: i32,
    swap: i32,
    colour: usize,
    hourly: f64,
}

#[derive(Deserialize)]
struct Run {
    colour: usize,
    stages: Vec<usize>,
    minutes: Vec<Option<i32>>,
}

#[derive(Deserialize)]
struct Stage {
    due: i32,
    late_per_day: f64,
}

fn shop(farm: &Farm) -> PackedShop {
    let colours = farm
        .runs
        .iter()
        .map(|r| r.colour)
        .chain(farm.machines.iter().map(|m| m.colour))
        .max()
        .unwrap_or(0)
        + 1;
    let money = |m: usize, minutes: i32| f64::from(minutes) / 60.0 * farm.machines[m].hourly;
    PackedShop {
        windows: farm
            .windows
            .iter()
            .map(|&(open, close)| Window { open, close })
            .collect(),
        machines: farm
            .machines
            .iter()
            .map(|m| PackedMachine {
                turnaround: m.turnaround,
                swap: m.swap,
                loaded: Some(m.colour),
                change_cost: vec![farm.swap_cost; colours],
                setup_minute: 0.0,
                outages: Vec::new(),
                unattended: true,
                belt: false,
            })
            .collect(),
        runs: farm
            .runs
            .iter()
            .map(|r| PackedRun {
                colour: r.colour,
                ready: 0,
                on: r
                    .minutes
                    .iter()
                    .enumerate()
                    .map(|(m, t)| t.map(|t| (t, money(m, t))))
                    .collect(),
                feeds: r.stages.clone(),
            })
            .collect(),
        nodes: farm
            .stages
            .iter()
            .map(|s| PackedNode {
                needs: Vec::new(),
                work: 0,
                cure: 0,
                due: Some(s.due),
                late: s.late_per_day,
            })
            .collect(),
        each_day: 0.0,
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [path, seconds, rest @ ..] = arguments.as_slice() else {
        return Err("columns INSTANCE.json SECONDS [COST [ROUNDS]]".into());
    };
    let seconds: f64 = seconds.parse()?;
    let cost = rest
        .first()
        .map_or(Ok(f64::INFINITY), |c| c.parse::<f64>())?;
    let rounds = rest.get(1).map_or(Ok(usize::MAX), |r| r.parse::<usize>())?;
    let farm: Farm = serde_json::from_str(&std::fs::read_to_string(path)?)?;
    let shop = shop(&farm);
    let start = Instant::now();
    let mut next = 0.0;
    let known = Known { cost, sheets: &[] };
    let proof = prove(&shop, &known, |progress| {
        let now = start.elapsed().as_secs_f64();
        if now >= next {
            let gap = 100.0 * (cost - progress.bound) / cost;
            println!(
                "{now:7.2} s  bound {:8.3}  gap {gap:6.2} %  rounds {:5}  columns {:6}  open {:4}",
                progress.bound, progress.iterations, progress.columns, progress.open
            );
            next = (now * 1.15).max(now + 0.05);
        }
        now < seconds && progress.iterations < rounds
    });
    let now = start.elapsed().as_secs_f64();
    println!(
        "{now:7.2} s  bound {:8.3}  gap {:6.2} %  rounds {:5}  columns {:6}  nodes {:4}  optimal {}  {:?}",
        proof.bound,
        100.0 * (cost - proof.bound) / cost,
        proof.iterations,
        proof.columns,
        proof.nodes,
        proof.optimal,
        proof.best
    );
    Ok(())
}
