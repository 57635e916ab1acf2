//! Routes of a small shop: one bed, one belt, one kind of part at a time.

use std::collections::BTreeSet;

use chrono::{TimeZone, Utc};
use proptest::prelude::*;

use super::*;
use crate::geometry::turned_box;
use crate::scenario::{
    Bench, Build, Filament, FilamentIndex, Hands, Hardware, Joint, Machine, MachineKind, Part,
    Settings, SettingsIndex, Split,
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
        solid: 1.0,
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
        trial: 0,
        alone: false,
        ready: None,
        minutes: vec![None, None],
        only: vec![true, true],
        grams: None,
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
        },
        currency: "EUR".into(),
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
            price_kg: PricePerKilogram(21.0),
            spools: vec![],
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
        }],
        joints: vec![Joint {
            id: "steel-rod".into(),
            hardware: Some(Hardware {
                item: "M8 rod".into(),
                grams_per_mm: 0.31,
                price_per_mm: Money(0.004),
                length: Millimetres(160.0),
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
fn a_long_chord_goes_whole_on_the_belt_and_in_lengths_on_the_bed() {
    let found = only_part(&usual(part([1380.0, 48.0, 48.0])));
    // Whole only on the belt. 1380 / 2 = 690 and 1380 / 3 = 460 exceed what the bed takes lying (362.1 on the diagonal)
    // and standing (400): those lengths too go on the belt only. 345 stands (≤ 400) or lies on the diagonal;
    // 276 and 230 lie straight.
    let lengths: Vec<u32> = found.forms.iter().map(|form| form.lengths).collect();
    assert_eq!(lengths, [1, 2, 3, 4, 5, 6]);
    let on_bed = |form: &Form| form.ways.iter().any(|way| way.machine == TALL);
    let on_bed: Vec<bool> = found.forms.iter().map(on_bed).collect();
    assert_eq!(on_bed, [false, false, false, true, true, true]);
    assert_eq!(whole_on(&found, BELT).len(), 1);
    let in_four = &found.forms[3];
    let lying = in_four
        .ways
        .iter()
        .find(|way| way.machine == TALL && way.upright == Axis::Z);
    let lying = lying.expect("on the diagonal");
    assert!(!lying.straight && !lying.turned && lying.diagonal.is_some());
    assert!(found.remedies.is_empty());
}

#[test]
fn on_the_belt_the_length_runs_along_y() {
    // Drawn along x, so turned by 90°: 1380 along the belt, 48 across.
    let found = only_part(&usual(part([1380.0, 48.0, 48.0])));
    let way = whole_on(&found, BELT)[0];
    assert_eq!(way.size, [1380.0, 48.0, 48.0].map(Millimetres));
    assert_eq!(
        (way.straight, way.turned, way.diagonal),
        (false, true, None)
    );
    // Drawn along y it is straight.
    let found = only_part(&usual(part([48.0, 1380.0, 48.0])));
    let way = whole_on(&found, BELT)[0];
    assert_eq!((way.straight, way.turned), (true, false));
}

#[test]
fn the_belts_margins_come_off_both_sides_of_its_width_but_not_off_its_length() {
    // 230 + 2 × 5 = 240 across; 2400 long.
    let with_margin = |size| {
        let scenario = shop(
            bed(100.0, 100.0, 100.0, 0.0),
            belt(240.0, 200.0, 2400.0, 5.0),
            part(size),
        );
        !whole_on(&only_part(&scenario), BELT).is_empty()
    };
    assert!(with_margin([230.0, 2400.0, 200.0]));
    assert!(!with_margin([230.1, 2400.0, 200.0]));
    assert!(!with_margin([230.0, 2400.1, 200.0]));
    assert!(!with_margin([230.0, 2400.0, 230.1]));
}

#[test]
fn the_beds_margins_come_off_all_four_sides_and_not_off_its_height() {
    let fits = |size| {
        let mut part = part(size);
        part.lie = vec![Axis::Z];
        !whole_on(&only_part(&usual(part)), TALL).is_empty()
    };
    assert!(fits([290.0, 290.0, 400.0]));
    assert!(!fits([290.1, 290.0, 400.0]));
    assert!(!fits([290.0, 290.1, 400.0]));
    assert!(!fits([290.0, 290.0, 400.1]));
}

#[test]
fn a_belt_takes_nothing_at_an_angle() {
    // 240 × 10 lies in 200 × 230 at an angle (up to 294), but neither straight nor turned.
    let mut slat = part([240.0, 10.0, 5.0]);
    slat.lie = vec![Axis::Z];
    let found = only_part(&shop(
        bed(200.0, 230.0, 50.0, 0.0),
        belt(200.0, 50.0, 230.0, 0.0),
        slat,
    ));
    assert!(whole_on(&found, TALL)[0].diagonal.is_some());
    assert!(whole_on(&found, BELT).is_empty());
}

#[test]
fn positions_that_differ_only_by_a_turn_are_listed_once() {
    // A beam of square section lies on two sides alike and can stand: two positions. A cube has one, a box with three
    // different sides three.
    let count = |size| whole_on(&only_part(&usual(part(size))), TALL).len();
    assert_eq!(count([200.0, 48.0, 48.0]), 2);
    assert_eq!(count([48.0, 200.0, 48.0]), 2);
    assert_eq!(count([48.0, 48.0, 48.0]), 1);
    assert_eq!(count([200.0, 100.0, 48.0]), 3);
}

#[test]
fn only_allowed_axes_stand_upright() {
    let mut plate = part([200.0, 100.0, 48.0]);
    plate.lie = vec![Axis::Y, Axis::X];
    let found = only_part(&usual(plate));
    let sizes: Vec<[f64; 3]> = whole_on(&found, TALL)
        .iter()
        .map(|way| way.size.map(Millimetres::value))
        .collect();
    // y upright: 200 × 48, 100 high. x upright: 100 × 48, 200 high. The lower has fewer layers and is quicker.
    assert_eq!(sizes, [[200.0, 48.0, 100.0], [100.0, 48.0, 200.0]]);
}

#[test]
fn a_way_carries_plastic_layers_and_the_length_of_a_run_alone() {
    // Worked box: 230 × 48 × 48 takes 73 859.067 mm³, 91.5852 g at 1.24, 5275.65 s at 14 mm³/s; 48 / 0.3 = 160 layers.
    // Alone: 480 + 5275.65 + 4 × 160 = 6395.65 s = 106.6 min, so 107.
    let found = only_part(&usual(part([230.0, 48.0, 48.0])));
    let way = whole_on(&found, TALL)[0];
    assert_eq!(way.upright, Axis::Z);
    assert!((way.volume.value() - 73_859.067).abs() < 1e-3);
    assert!((way.grams.value() - 91.5852).abs() < 1e-4);
    assert!((way.own_time.value() - 5275.6476).abs() < 1e-3);
    assert_eq!(way.layers, 160);
    assert_eq!(way.alone, Minutes(107));
}

#[test]
fn ways_come_by_machine_the_quickest_first() {
    let mut scenario = usual(part([230.0, 100.0, 48.0]));
    scenario.machines.reverse();
    let found = only_part(&scenario);
    for form in &found.forms {
        let keys: Vec<_> = form
            .ways
            .iter()
            .map(|way| (way.machine, way.alone))
            .collect();
        assert!(keys.is_sorted(), "{keys:?}");
        assert_eq!(keys[0].0, MachineIndex(0), "the belt stands first now");
    }
}

#[test]
fn a_measured_mass_gives_mass_and_volume_and_each_length_its_share() {
    // 620 g at 1.24 g/cm³ are 500 000 mm³; in four lengths 155 g and 125 000 mm³ each.
    let mut weighed = part([1380.0, 48.0, 48.0]);
    weighed.grams = Some(Grams(620.0));
    let found = only_part(&usual(weighed));
    for form in &found.forms {
        let share = 1.0 / f64::from(form.lengths);
        for way in &form.ways {
            assert!((way.grams.value() - 620.0 * share).abs() < 1e-9);
            assert!((way.volume.value() - 500_000.0 * share).abs() < 1e-6);
        }
    }
}

#[test]
fn measured_minutes_stand_instead_of_flow_and_layers_on_their_machine_only() {
    // 340 min on tall, in two lengths 170 min each: alone 8 + 170 = 178 min, whichever way it lies.
    let mut timed = part([500.0, 48.0, 48.0]);
    timed.minutes = vec![Some(340.0), None];
    let found = only_part(&usual(timed));
    let in_two = &found.forms[1];
    assert_eq!(in_two.lengths, 2);
    for way in &in_two.ways {
        if way.machine == TALL {
            assert_eq!((way.own_time, way.layers), (Seconds(10_200.0), 0));
            assert_eq!(way.alone, Minutes(178));
        } else {
            assert!(way.layers > 0);
        }
    }
    // The belt's own estimate of 250 × 48 × 48 is not 10 200 s.
    assert!(in_two.ways.iter().any(|way| way.machine == BELT));
}

#[test]
fn a_joint_costs_bench_time_hardware_and_mass_between_neighbours() {
    // Four lengths have three joints. Glue 3 × 370 s = 1110 s = 18.5 min, so 19. Rods 3 × 160 × 0.004 = 1.92.
    // Mass 3 × (4 + 160 × 0.31) = 3 × 53.6 = 160.8 g. The joints cure together: 480 min.
    let found = only_part(&usual(part([1380.0, 48.0, 48.0])));
    let in_four = &found.forms[3];
    assert_eq!((in_four.lengths, in_four.joint), (4, Some(JointIndex(0))));
    assert_eq!(in_four.piece, [345.0, 48.0, 48.0].map(Millimetres));
    assert_eq!((in_four.glue, in_four.cure), (Minutes(19), Minutes(480)));
    assert!((in_four.hardware.value() - 1.92).abs() < 1e-9);
    assert!((in_four.joint_grams.value() - 160.8).abs() < 1e-9);
    let whole = &found.forms[0];
    assert_eq!(
        (whole.joint, whole.glue, whole.cure),
        (None, Minutes::ZERO, Minutes::ZERO)
    );
    assert_eq!(
        (whole.hardware, whole.joint_grams),
        (Money::ZERO, Grams::ZERO)
    );
}

#[test]
fn no_length_is_shorter_than_its_joint_allows() {
    // 480 / 4 = 120 is just long enough, 480 / 5 = 96 is not.
    let found = only_part(&usual(part([48.0, 480.0, 48.0])));
    let lengths: Vec<u32> = found.forms.iter().map(|form| form.lengths).collect();
    assert_eq!(lengths, [1, 2, 3, 4]);
    assert_eq!(found.forms[3].piece, [48.0, 120.0, 48.0].map(Millimetres));
}

#[test]
fn a_split_without_end_or_shortest_length_comes_to_an_end() {
    let mut scenario = usual(part([65.0, 10.0, 10.0]));
    scenario.joints[0].shortest = Millimetres::ZERO;
    scenario.parts[0].split = Some(Split {
        joint: JointIndex(0),
        into: 2..=u32::MAX,
    });
    // 65 mm are a hundred lines of 0.65 mm; no length is thinner than a line.
    let found = only_part(&scenario);
    assert_eq!(found.forms.last().map(|form| form.lengths), Some(100));
}

#[test]
fn a_part_that_may_not_be_split_has_one_form_at_most() {
    let mut chord = part([1380.0, 48.0, 48.0]);
    chord.split = None;
    let found = only_part(&usual(chord));
    assert_eq!(found.forms.len(), 1);
}

/// A chord that nothing may make: not split, no belt.
fn impossible() -> Part {
    let mut chord = part([1380.0, 48.0, 48.0]);
    chord.split = None;
    chord.belt = false;
    chord
}

#[test]
fn every_machine_that_cannot_make_a_part_whole_says_why() {
    let found = only_part(&usual(impossible()));
    assert!(found.forms.is_empty());
    let reasons: Vec<&str> = found
        .refusals
        .iter()
        .map(|refusal| refusal.reason.as_str())
        .collect();
    // Standing, 980 mm are missing; lying on the diagonal 1017.9: the least is said.
    assert_eq!(
        reasons,
        [
            "x needs 1380 mm upright, the machine has 400 (980 mm too high)",
            "`belt: never`"
        ]
    );
}

#[test]
fn a_machine_that_makes_it_whole_refuses_nothing() {
    let found = only_part(&usual(part([200.0, 48.0, 48.0])));
    assert!(found.refusals.is_empty());
    // Split or not: only the whole part is asked about.
    let found = only_part(&usual(part([1380.0, 48.0, 48.0])));
    let machines: Vec<MachineIndex> = found.refusals.iter().map(|r| r.machine).collect();
    assert_eq!(machines, [TALL]);
}

#[test]
fn rules_and_sizes_are_said_together() {
    let mut scenario = usual(part([2600.0, 48.0, 48.0]));
    scenario.filaments[0].material = "ABS".into();
    scenario.parts[0].only = vec![true, false];
    scenario.parts[0].lie = vec![Axis::Z];
    let reasons: Vec<String> = only_part(&scenario)
        .refusals
        .into_iter()
        .map(|refusal| refusal.reason)
        .collect();
    // 2600 − 290 = 2310; 2600 − (290·√2 − 48) = 2237.88; 2600 − 2400 = 200.
    assert_eq!(
        reasons,
        [
            "prints PLA, not the ABS of filament yellow; \
             x needs 2600 mm, the bed has 290 (2310 mm too long; 2237.9 too long on the diagonal)",
            "prints PLA, not the ABS of filament yellow; `only` leaves belt out; \
             x needs 2600 mm, the belt takes 2400 (200 mm too long)"
        ]
    );
}

#[test]
fn an_impossible_part_is_told_the_belt_the_lengths_and_the_scale_that_would_do() {
    // The belt takes it whole. On the bed four lengths of 345 stand. At x ≤ 400 standing: 400 / 1380 = 0.2898 of its
    // size, scale 1.739.
    assert_eq!(
        only_part(&usual(impossible())).remedies,
        [
            "write `belt: allowed`: it fits belt whole",
            "write `split: {joint: …, into: 2..4}`: 4 lengths of 345 mm fit tall",
            "write `scale: 1.739` (for a part given by `model`): at 0.29 of its size it fits tall whole",
        ]
    );
}

#[test]
fn a_part_that_may_not_lie_on_its_side_is_told_to() {
    let mut post = part([40.0, 40.0, 360.0]);
    post.split = None;
    post.belt = false;
    post.lie = vec![Axis::Z];
    let low = shop(
        bed(300.0, 300.0, 200.0, 5.0),
        belt(100.0, 100.0, 100.0, 0.0),
        post,
    );
    // 360 > 200 standing; lying 360 × 40 fits on the diagonal of 290 × 290, up to 370.1.
    let remedies = only_part(&low).remedies;
    assert_eq!(
        remedies[0],
        "write `lie: [z, x]`: with x upright it fits tall"
    );
}

#[test]
fn a_split_that_stops_too_early_is_told_how_far_to_go() {
    let mut chord = part([1380.0, 48.0, 48.0]);
    chord.belt = false;
    chord.split = Some(Split {
        joint: JointIndex(0),
        into: 2..=3,
    });
    let remedies = only_part(&usual(chord)).remedies;
    assert_eq!(
        remedies[1],
        "write `into: 2..4`: 4 lengths of 345 mm fit tall"
    );
}

#[test]
fn a_joint_that_asks_for_too_long_lengths_is_named() {
    let mut scenario = usual(part([1380.0, 48.0, 48.0]));
    scenario.parts[0].belt = false;
    scenario.joints[0].shortest = Millimetres(400.0);
    let found = only_part(&scenario);
    assert!(found.forms.is_empty());
    assert_eq!(
        found.remedies[1],
        "take a joint for lengths of 345 mm (steel-rod asks for 400): 4 lengths of 345 mm fit tall"
    );
}

#[test]
fn a_material_that_no_machine_prints_is_to_be_added() {
    let mut scenario = usual(part([200.0, 48.0, 48.0]));
    scenario.filaments[0].material = "ABS".into();
    scenario.parts[0].belt = false;
    assert_eq!(
        only_part(&scenario).remedies,
        [
            "add ABS to the `materials` of tall: it fits tall whole",
            "add ABS to the `materials` of belt and write `belt: allowed`: it fits belt whole",
        ]
    );
}

#[test]
fn a_part_too_large_for_machines_that_are_all_barred_is_told_both() {
    let mut chord = impossible();
    chord.split = None;
    chord.only = vec![false, true];
    let scenario = shop(
        bed(300.0, 300.0, 400.0, 5.0),
        belt(240.0, 200.0, 900.0, 0.0),
        chord,
    );
    // In two lengths of 690 it fits the belt (900).
    let remedies = only_part(&scenario).remedies;
    assert_eq!(
        remedies[0],
        "write `split: {joint: …, into: 2..2}`, and write `belt: allowed`: 2 lengths of 690 mm fit belt"
    );
}

#[test]
fn a_machine_without_room_takes_nothing_and_does_not_crash() {
    // Margins wider than the bed.
    let found = only_part(&shop(
        bed(20.0, 20.0, 100.0, 15.0),
        belt(20.0, 20.0, 100.0, 15.0),
        part([10.0, 10.0, 10.0]),
    ));
    assert!(found.forms.is_empty());
    assert_eq!(found.refusals.len(), 2);
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
