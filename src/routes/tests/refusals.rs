//! What is said of a part that some or all machines cannot make.

use super::*;

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
            "write `split: {joint: steel-rod, into: 2..4}`: 4 lengths of 345 mm fit tall",
            "write `scale: 1.739` if the part is given by `model`, `size: [399.9, 13.9, 13.9]` if by `size`: at 0.29 of its size \
             it fits tall whole",
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
        "write `split: {joint: steel-rod, into: 2}`, and write `belt: allowed`: 2 lengths of 690 mm fit belt"
    );
}

#[test]
fn a_split_that_would_do_names_a_joint_that_there_is_or_the_one_that_is_wanted() {
    let split = |change: &dyn Fn(&mut Scenario)| {
        let mut scenario = usual(impossible());
        change(&mut scenario);
        only_part(&scenario).remedies[1].clone()
    };
    assert!(split(&|_| {}).starts_with("write `split: {joint: steel-rod, into: 2..4}`: 4"));
    // Lengths of 345 mm: the rod asks for 120, another for 400.
    let longer = |scenario: &mut Scenario| scenario.joints[0].shortest = Millimetres(400.0);
    let other = "write `split: {joint: glue, into: 2..4}`, and under `joints` the joint `glue: {shortest: 100}`: 4";
    assert!(split(&longer).starts_with(other), "{}", split(&longer));
    assert!(split(&|scenario| scenario.joints.clear()).starts_with(other));
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
