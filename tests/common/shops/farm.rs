//! Machines, filaments, settings, a joint.

use beamyard::scenario::{Filament, Hardware, Joint, Machine, MachineKind, Outage, Settings};
use beamyard::units::{
    Density, Flow, Grams, Millimetres, Minutes, Money, PricePerKilogram, Seconds, Watts,
};
use chrono::{DateTime, TimeDelta, Utc};
use proptest::collection::vec;
use proptest::option::{of, weighted};
use proptest::prelude::*;
use proptest::sample::select;

/// The two materials that drawn filaments are of.
const MATERIALS: [&str; 2] = ["PLA", "PETG"];

/// A machine whose filament and outages are still bare numbers.
#[derive(Clone, Debug)]
pub struct DrawnMachine {
    pub kind: MachineKind,
    /// Margin, spacing (mm), flow (mm³/s), layer time, warm-up (s).
    pub figures: [f64; 5],
    /// Turnaround, swap.
    pub setup: [i64; 2],
    /// Prints the second material too.
    pub prints_both: bool,
    pub loaded: Option<u8>,
    /// Purge (g), watts, money per hour.
    pub prices: [f64; 3],
    /// Minutes from the build's start, and how long.
    pub outages: Vec<(i64, i64)>,
    /// Its own word on printing alone, else the bench's.
    pub unattended: Option<bool>,
}

pub fn machine() -> impl Strategy<Value = DrawnMachine> {
    let bed = select(vec![
        [120.0, 120.0],
        [200.0, 200.0],
        [250.0, 210.0],
        [310.0, 180.0],
    ]);
    let height = select(vec![60.0, 200.0]);
    let kind = prop_oneof![
        4 => (bed, height).prop_map(|([x, y], height)| MachineKind::Bed {
            bed: [Millimetres(x), Millimetres(y)],
            height: Millimetres(height),
        }),
        1 => select(vec![300.0, 900.0]).prop_map(|longest| MachineKind::Belt {
            section: [Millimetres(120.0), Millimetres(90.0)],
            longest: Millimetres(longest),
            gap: Millimetres(20.0),
        }),
    ];
    let figures = (
        select(vec![0.0, 5.0]),
        select(vec![0.0, 4.0]),
        select(vec![2.0, 6.0, 14.0]),
        select(vec![0.0, 3.5]),
        select(vec![0.0, 290.0]),
    );
    let setup = (select(vec![0, 7, 10]), select(vec![0, 6, 25]));
    let prices = (
        select(vec![0.0, 12.0]),
        select(vec![0.0, 130.0]),
        select(vec![0.0, 0.4, 1.5]),
    );
    let outages = prop_oneof![
        3 => Just(Vec::new()),
        1 => vec((0..6000i64, 1..3000i64), 1..=2),
    ];
    (
        kind,
        figures,
        setup,
        weighted(0.7, 0..3u8),
        prices,
        outages,
        (prop::bool::weighted(0.85), of(any::<bool>())),
    )
        .prop_map(
            |(kind, figures, setup, loaded, prices, outages, (prints_both, unattended))| {
                DrawnMachine {
                    kind,
                    figures: figures.into(),
                    setup: setup.into(),
                    prints_both,
                    loaded,
                    prices: prices.into(),
                    outages,
                    unattended,
                }
            },
        )
}

impl DrawnMachine {
    pub fn machine(
        &self,
        at: usize,
        start: DateTime<Utc>,
        filaments: &[Filament],
        unattended: bool,
    ) -> Machine {
        let prints = if self.prints_both { 2 } else { 1 };
        let materials = MATERIALS[..prints].iter().map(|&m| m.to_owned()).collect();
        let loaded = self
            .loaded
            .map(|drawn| super::filament(drawn, filaments.len()))
            .filter(|index| self.prints_both || filaments[index.0].material == MATERIALS[0]);
        let [margin, spacing, flow, layer_time, warm_up] = self.figures;
        Machine {
            id: format!("machine-{at}"),
            kind: self.kind.clone(),
            margin: Millimetres(margin),
            spacing: Millimetres(spacing),
            nozzle: Millimetres(0.4),
            flow: Flow(flow),
            layer_time: Seconds(layer_time),
            materials,
            loaded,
            warm_up: Seconds(warm_up),
            turnaround: Minutes(self.setup[0]),
            swap: Minutes(self.setup[1]),
            purge: Grams(self.prices[0]),
            watts: Watts(self.prices[1]),
            hourly: Money(self.prices[2]),
            scrap: 0.0,
            offline: outages(&self.outages, start),
            unattended: self.unattended.unwrap_or(unattended),
        }
    }
}

/// Sorted, and each beginning after the one before has ended.
fn outages(drawn: &[(i64, i64)], start: DateTime<Utc>) -> Vec<Outage> {
    let mut spans = drawn.to_vec();
    spans.sort_unstable();
    let mut free = 0;
    spans
        .into_iter()
        .map(|(from, lasts)| {
            let from = from.max(free);
            free = from + lasts;
            Outage {
                from: start + TimeDelta::minutes(from),
                to: start + TimeDelta::minutes(free),
                why: String::new(),
            }
        })
        .collect()
}

pub fn filaments() -> impl Strategy<Value = Vec<Filament>> {
    let one = (
        select(vec![0, 0, 0, 1]),
        select(vec![18.0, 25.0]),
        vec(1.0..900.0f64, 0..=2),
    );
    vec(one, 1..=3).prop_map(|drawn| {
        drawn
            .into_iter()
            .enumerate()
            .map(|(at, (material, price, spools))| Filament {
                id: format!("filament-{at}"),
                material: MATERIALS[material].into(),
                colour: "#808080".into(),
                density: Density(1.25),
                modulus: None,
                price_kg: PricePerKilogram(price),
                spools: spools.into_iter().map(Grams).collect(),
                diameter: Millimetres(1.75),
                spool: Grams(750.0),
                lead: Minutes(3 * 1440),
            })
            .collect()
    })
}

pub fn settings() -> impl Strategy<Value = Vec<Settings>> {
    let one = (
        select(vec![0.2, 0.3]),
        0..4u32,
        0..5u32,
        select(vec![0.0, 0.15, 1.0]),
    );
    vec(one, 1..=2).prop_map(|drawn| {
        drawn
            .into_iter()
            .enumerate()
            .map(|(at, (layer, perimeters, skins, infill))| Settings {
                id: format!("setting-{at}"),
                layer: Millimetres(layer),
                line: Millimetres(0.45),
                perimeters,
                top: skins,
                bottom: skins,
                infill,
                overhang: 45,
                support: 0.15,
            })
            .collect()
    })
}

pub fn joint() -> impl Strategy<Value = Joint> {
    (
        any::<bool>(),
        select(vec![0.0, 100.0]),
        select(vec![0.0, 200.0, 600.0]),
        select(vec![0, 90, 480]),
    )
        .prop_map(|(hardware, shortest, bench, cure)| Joint {
            id: "joint".into(),
            hardware: hardware.then(|| Hardware {
                item: "6 mm rod".into(),
                grams_per_mm: 0.2,
                price_per_mm: Money(0.004),
                length: Millimetres(100.0),
                stiffener: None,
            }),
            shortest: Millimetres(shortest),
            bench: Seconds(bench),
            cure: Minutes(cure),
            grams: Grams(2.0),
        })
}
