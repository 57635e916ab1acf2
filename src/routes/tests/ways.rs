//! What a form and a way carry.

use super::*;

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
fn the_quickest_position_comes_before_the_one_that_is_drawn() {
    // Drawn standing, 230 high: 82 493.7 mm³ and 767 layers. Lying, 48 high: 73 859.1 mm³ and 160 layers.
    let found = only_part(&usual(part([48.0, 48.0, 230.0])));
    let upright: Vec<Axis> = whole_on(&found, TALL)
        .iter()
        .map(|way| way.upright)
        .collect();
    assert_eq!(upright, [Axis::Y, Axis::Z]);
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
    assert_eq!(in_four.kinds[0].piece, [345.0, 48.0, 48.0].map(Millimetres));
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
    assert_eq!(
        found.forms[3].kinds[0].piece,
        [48.0, 120.0, 48.0].map(Millimetres)
    );
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
