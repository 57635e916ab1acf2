//! The shop and what is to be built.

use std::collections::BTreeSet;

use beamyard::scenario::{
    Assembly, Axis, Bench, Build, DaySpan, Filament, FilamentIndex, Hands, Hardware, Joint,
    Machine, MachineKind, Outage, Part, Scenario, Settings, SettingsIndex, Shape, Split, Turns,
};
use beamyard::units::{
    Density, Flow, Grams, Millimetres, Minutes, Money, PricePerKilogram, Seconds, Watts,
};
use chrono::NaiveDate;

use super::{BLUE, BRACKET, DIAL, LIGHT, PILLAR, RAIL, RED, ROD, STAND, STRONG, at, mm};

fn machine(id: &str, kind: MachineKind, loaded: Option<FilamentIndex>, hourly: f64) -> Machine {
    Machine {
        id: id.into(),
        kind,
        margin: Millimetres(5.0),
        spacing: Millimetres(4.0),
        nozzle: Millimetres(0.4),
        flow: Flow(10.0),
        layer_time: Seconds(3.0),
        materials: BTreeSet::from(["PLA".into()]),
        loaded,
        warm_up: Seconds(300.0),
        turnaround: Minutes(10),
        swap: Minutes(5),
        purge: Grams(12.0),
        watts: Watts(100.0),
        hourly: Money(hourly),
        scrap: 0.0,
        offline: Vec::new(),
        unattended: true,
    }
}

fn machines() -> Vec<Machine> {
    let bed = |x, y, height| MachineKind::Bed {
        bed: mm([x, y]),
        height: Millimetres(height),
    };
    let belt = MachineKind::Belt {
        section: mm([240.0, 200.0]),
        longest: Millimetres(2400.0),
        gap: Millimetres(20.0),
    };
    let tall = machine("tall", bed(300.0, 300.0, 400.0), Some(RED), 0.4);
    let wide = Machine {
        unattended: false,
        offline: vec![Outage {
            from: at("12 00:00"),
            to: at("13 00:00"),
            why: "new bearings".into(),
        }],
        ..machine("wide", bed(400.0, 200.0, 200.0), Some(RED), 0.4)
    };
    vec![tall, wide, machine("belt", belt, None, 0.6)]
}

fn filament(id: &str, price: f64, spool_on_hand: f64) -> Filament {
    Filament {
        id: id.into(),
        material: "PLA".into(),
        colour: "#808080".into(),
        density: Density(1.25),
        modulus: None,
        price_kg: PricePerKilogram(price),
        spools: vec![Grams(spool_on_hand)],
        diameter: Millimetres(1.75),
        spool: Grams(1000.0),
        lead: Minutes(4 * 1440),
    }
}

fn settings(id: &str, infill: f64) -> Settings {
    Settings {
        id: id.into(),
        layer: Millimetres(0.2),
        line: Millimetres(0.5),
        perimeters: 2,
        top: 5,
        bottom: 5,
        infill,
        overhang: 45,
        support: 0.15,
    }
}

fn part(id: &str, quantity: u32, size: [f64; 3], look: (FilamentIndex, SettingsIndex)) -> Part {
    Part {
        id: id.into(),
        quantity,
        size: mm(size),
        shape: Shape::Box { solid: 1.0 },
        turns: Turns::USUAL,
        filament: look.0,
        settings: look.1,
        lie: vec![Axis::Z],
        split: None,
        belt: false,
        finishing: Seconds::ZERO,
        spares: 0,
        reserve: false,
        together: None,
        variants: Vec::new(),
        trial: 0,
        alone: false,
        ready: None,
        minutes: vec![None; 3],
        only: vec![true; 3],
        span: None,
        grams: None,
        toolpaths: Vec::new(),
    }
}

pub(super) fn parts() -> Vec<Part> {
    let pillar = Part {
        shape: Shape::Box { solid: 0.3 },
        lie: Axis::ALL.to_vec(),
        split: Some(Split {
            joint: ROD,
            into: 2..=3,
        }),
        finishing: Seconds(120.0),
        ..part("pillar", 2, [500.0, 40.0, 40.0], (RED, STRONG))
    };
    let bracket = Part {
        shape: Shape::Box { solid: 0.5 },
        finishing: Seconds(90.0),
        spares: 1,
        reserve: false,
        together: None,
        variants: Vec::new(),
        trial: 1,
        ready: Some(at("11 08:05")),
        ..part("bracket", 3, [60.0, 40.0, 20.0], (RED, STRONG))
    };
    let dial = Part {
        alone: true,
        ..part("dial", 1, [100.0, 100.0, 10.0], (BLUE, LIGHT))
    };
    let rail = Part {
        belt: true,
        finishing: Seconds(180.0),
        minutes: vec![None, None, Some(300.0)],
        grams: Some(Grams(200.0)),
        ..part("rail", 2, [900.0, 50.0, 30.0], (BLUE, LIGHT))
    };
    vec![pillar, bracket, dial, rail]
}

fn assemblies() -> Vec<Assembly> {
    let stand = Assembly {
        id: "stand".into(),
        parts: vec![(PILLAR, 2), (BRACKET, 2)],
        needs: Vec::new(),
        places: Default::default(),
        lift: None,
        bench: Minutes(60),
        cure: Minutes(120),
        due: None,
        late: Money::ZERO,
    };
    let clock = Assembly {
        id: "clock".into(),
        parts: vec![(BRACKET, 1), (DIAL, 1), (RAIL, 2)],
        needs: vec![STAND],
        places: Default::default(),
        lift: None,
        bench: Minutes(30),
        cure: Minutes::ZERO,
        due: Some(at("12 00:00")),
        late: Money(10.0),
    };
    vec![stand, clock]
}

/// The shop. The bench is open 08:00 to 20:00 on weekdays, written as two spans that touch.
pub fn shop() -> Scenario {
    let weekday = vec![span(480, 600), span(600, 1200)];
    let mut hours: [Vec<DaySpan>; 7] = std::array::from_fn(|_| weekday.clone());
    hours[5] = vec![span(600, 840)];
    hours[6] = Vec::new();
    Scenario {
        file: "tide-clock.yaml".into(),
        build: Build {
            name: "Tide clock".into(),
            scale: 1.0,
            start: at("11 08:00"),
            zone: chrono_tz::Europe::Oslo,
            each_day: Money(2.0),
            confidence: 0.95,
            spool_margin: 0.0,
            firm: None,
            churn: Money(1.0),
            original: Default::default(),
            earlier: Vec::new(),
        },
        currency: "EUR".into(),
        measured: Vec::new(),
        bench: Bench {
            hours,
            away: BTreeSet::from([NaiveDate::from_ymd_opt(2027, 1, 13).expect("a date")]),
            hands: Hands::Count(1),
            unattended: true,
            bench_hour: Money(12.0),
            energy_kwh: Money(0.3),
        },
        machines: machines(),
        filaments: vec![filament("red", 20.0, 500.0), filament("blue", 25.0, 1000.0)],
        settings: vec![settings("strong", 1.0), settings("light", 0.25)],
        joints: vec![Joint {
            id: "rod".into(),
            hardware: Some(Hardware {
                item: "M8 rod".into(),
                grams_per_mm: 0.31,
                price_per_mm: Money(0.004),
                length: Millimetres(160.0),
                stiffener: None,
            }),
            shortest: Millimetres(120.0),
            bench: Seconds(600.0),
            cure: Minutes(480),
            grams: Grams(4.0),
        }],
        parts: parts(),
        assemblies: assemblies(),
    }
}

/// Minutes after midnight.
pub fn span(open: u32, close: u32) -> DaySpan {
    DaySpan { open, close }
}
