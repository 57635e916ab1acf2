//! Routes of a small shop: one bed, one belt, one kind of part at a time.

mod refusals;
mod ways;

use std::collections::BTreeSet;

use chrono::{TimeZone, Utc};
use proptest::prelude::*;

use super::*;
use crate::geometry::turned_box;
use crate::scenario::{
    Bench, Build, Filament, FilamentIndex, Hands, Hardware, Joint, Machine, MachineKind, Part,
    Settings, SettingsIndex, Shape, Split, Turns,
};
use crate::units::{Density, Flow, PricePerKilogram, Watts};

const TALL: MachineIndex = MachineIndex(0);
const BELT: MachineIndex = MachineIndex(1);

fn machine(id: &str, kind: MachineKind, margin: f64) -> Machine {
    Machine {
        id: id.into(),
        kind,
        margin: Millimetres(margin),
        spacing: Millimetres(4.0),
        nozzle: Millimetres(0.6),
        flow: Flow(14.0),
        layer_time: Seconds(4.0),
        materials: BTreeSet::from(["PLA".to_owned()]),
        loaded: None,
        warm_up: Seconds(480.0),
        turnaround: Minutes(10),
        swap: Minutes(8),
        purge: Grams(12.0),
        watts: Watts(130.0),
        hourly: Money(0.4),
        scrap: 0.0,
        offline: Vec::new(),
        unattended: true,
    }
}

fn bed(x: f64, y: f64, height: f64, margin: f64) -> Machine {
    let kind = MachineKind::Bed {
        bed: [x, y].map(Millimetres),
        height: Millimetres(height),
    };
    machine("tall", kind, margin)
}

fn belt(across: f64, above: f64, longest: f64, margin: f64) -> Machine {
    let kind = MachineKind::Belt {
        section: [across, above].map(Millimetres),
        longest: Millimetres(longest),
        gap: Millimetres(20.0),
    };
    machine("belt", kind, margin)
}

/// A part on which everything is allowed.
fn part(size: [f64; 3]) -> Part {
    Part {
        id: "jib-chord".into(),
        quantity: 8,
        size: size.map(Millimetres),
        shape: Shape::Box { solid: 1.0 },
        turns: Turns::USUAL,
        filament: FilamentIndex(0),
        settings: SettingsIndex(0),
        lie: Axis::ALL.to_vec(),
        split: Some(Split {
            joint: JointIndex(0),
            into: 2..=6,
        }),
        belt: true,
        finishing: Seconds(240.0),
        spares: 0,
        reserve: false,
        together: None,
        variants: Vec::new(),
        trial: 0,
        alone: false,
        ready: None,
        minutes: vec![None, None],
        only: vec![true, true],
        span: None,
        grams: None,
        toolpaths: Vec::new(),
    }
}

/// A shop with a bed `tall`, a belt `belt` and one part.
fn shop(bed: Machine, belt: Machine, part: Part) -> Scenario {
    Scenario {
        file: "shop.yaml".into(),
        build: Build {
            name: "Quayside crane".into(),
            scale: 6.0,
            start: Utc.timestamp_opt(1_800_000_000, 0).unwrap(),
            zone: chrono_tz::Europe::Oslo,
            each_day: Money::ZERO,
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
            hours: Default::default(),
            away: BTreeSet::new(),
            hands: Hands::Count(1),
            unattended: true,
            bench_hour: Money(15.0),
            energy_kwh: Money(0.3),
        },
        machines: vec![bed, belt],
        filaments: vec![Filament {
            id: "yellow".into(),
            material: "PLA".into(),
            colour: "#e8b10a".into(),
            density: Density(1.24),
            modulus: None,
            price_kg: PricePerKilogram(21.0),
            spools: vec![],
            diameter: Millimetres(1.75),
            spool: Grams(1000.0),
            lead: Minutes(5760),
        }],
        settings: vec![Settings {
            id: "light".into(),
            layer: Millimetres(0.3),
            line: Millimetres(0.65),
            perimeters: 2,
            top: 3,
            bottom: 2,
            infill: 0.05,
            overhang: 45,
            support: 0.15,
        }],
        joints: vec![Joint {
            id: "steel-rod".into(),
            hardware: Some(Hardware {
                item: "M8 rod".into(),
                grams_per_mm: 0.31,
                price_per_mm: Money(0.004),
                length: Millimetres(160.0),
                stiffener: None,
            }),
            shortest: Millimetres(120.0),
            bench: Seconds(370.0),
            cure: Minutes(480),
            grams: Grams(4.0),
        }],
        parts: vec![part],
        assemblies: vec![],
    }
}

/// Bed 300 × 300 × 400 with margins of 5, belt 240 × 200 up to 2400, and one part.
fn usual(part: Part) -> Scenario {
    shop(
        bed(300.0, 300.0, 400.0, 5.0),
        belt(240.0, 200.0, 2400.0, 0.0),
        part,
    )
}

fn only_part(scenario: &Scenario) -> PartRoutes {
    routes(scenario).remove(0)
}

fn whole_on(found: &PartRoutes, machine: MachineIndex) -> Vec<&Way> {
    let whole = found.forms.iter().filter(|form| form.lengths == 1);
    whole
        .flat_map(|form| &form.ways)
        .filter(|way| way.machine == machine)
        .collect()
}

#[test]
fn the_kind_of_a_route_is_the_first_of_split_belt_diagonal_turned_and_whole() {
    assert_eq!(kind_of(2, true, 45.0), RouteKind::Split);
    assert_eq!(kind_of(1, true, 90.0), RouteKind::Belt);
    assert_eq!(kind_of(1, false, 37.5), RouteKind::Diagonal);
    for turn in [90.0, -90.0, 270.0] {
        assert_eq!(kind_of(1, false, turn), RouteKind::Turned);
    }
    for turn in [0.0, 180.0, -180.0, 360.0] {
        assert_eq!(kind_of(1, false, turn), RouteKind::Whole);
    }
}

proptest! {
    #[test]
    fn every_way_fits_its_machine_and_every_machine_has_a_way_or_a_reason(
        size in proptest::array::uniform3(5.0..700f64),
        bed_size in proptest::array::uniform3(100.0..400f64),
        margin in 0.0..20f64,
        axes in proptest::sample::subsequence(Axis::ALL.to_vec(), 1..=3),
        may_split in any::<bool>(),
        may_belt in any::<bool>(),
    ) {
        let mut part = part(size);
        part.lie = axes;
        part.belt = may_belt;
        if !may_split {
            part.split = None;
        }
        let [x, y, height] = bed_size;
        let scenario = shop(bed(x, y, height, margin), belt(240.0, 200.0, 600.0, margin), part);
        let found = only_part(&scenario);
        for form in &found.forms {
            prop_assert!(!form.ways.is_empty());
            for way in &form.ways {
                let [p, q, h] = way.size.map(Millimetres::value);
                let ([a, b], top) = if way.machine == TALL {
                    ([x - 2.0 * margin, y - 2.0 * margin], height)
                } else {
                    ([240.0 - 2.0 * margin, 600.0], 200.0)
                };
                prop_assert!(h <= top + 1e-6);
                let angles = [way.straight.then_some(0.0), way.turned.then_some(90.0), way.diagonal];
                prop_assert!(angles.iter().any(Option::is_some));
                for angle in angles.into_iter().flatten() {
                    let [w, d] = turned_box(p, q, angle);
                    prop_assert!(w <= a + 1e-5 && d <= b + 1e-5);
                }
            }
        }
        for machine in [TALL, BELT] {
            let refused = found.refusals.iter().any(|refusal| refusal.machine == machine);
            prop_assert_eq!(refused, whole_on(&found, machine).is_empty());
        }
        prop_assert!(found.refusals.iter().all(|refusal| !refusal.reason.is_empty()));
        prop_assert_eq!(found.remedies.is_empty(), !found.forms.is_empty());
    }

    #[test]
    fn the_scale_that_a_remedy_names_makes_the_part_fit(
        size in proptest::array::uniform3(100.0..3000f64),
    ) {
        let mut part = part(size);
        part.split = None;
        part.belt = false;
        let mut scenario = usual(part);
        let remedies = only_part(&scenario).remedies;
        let named = remedies.iter().find_map(|remedy| {
            let rest = remedy.strip_prefix("write `scale: ")?;
            rest.split_once('`')?.0.parse::<f64>().ok()
        });
        if let Some(scale) = named {
            let share = scale / scenario.build.scale;
            scenario.parts[0].size = size.map(|side| Millimetres(side * share));
            prop_assert!(!only_part(&scenario).forms.is_empty());
        } else {
            prop_assert!(remedies.is_empty());
        }
    }
}
