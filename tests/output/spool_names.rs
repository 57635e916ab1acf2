//! Which spool is meant, by its name: the same that the log has, or will have once there is one.

use beamyard::calendar::Calendar;
use beamyard::progress::{Progress, spool_name};
use beamyard::scenario::Scenario;
use beamyard::stock::{OnHand, Provision, Use, provide};
use beamyard::units::Grams;
use chrono::Duration;

use crate::demo::{self, TALL, WIDE, YELLOW, at};

/// The demo's shop with these spools of yellow on hand, and a margin of 3 %.
fn shop(yellow: &[f64]) -> Scenario {
    let mut scenario = demo::scenario();
    scenario.filaments = vec![
        demo::filament("yellow", yellow),
        demo::filament("black", &[]),
    ];
    scenario.build.spool_margin = 0.03;
    scenario
}

fn run(machine: beamyard::scenario::MachineIndex, start: &str, minutes: i64, grams: f64) -> Use {
    Use {
        machine,
        filament: YELLOW,
        setup: Some(at(start) - Duration::minutes(10)),
        start: at(start),
        end: at(start) + Duration::minutes(minutes),
        grams: Grams(grams),
        purge: Grams::ZERO,
    }
}

fn provided(scenario: &Scenario, uses: &[Use]) -> Provision {
    let on_hand = OnHand::at_start(scenario);
    provide(scenario, &on_hand, &Calendar::new(scenario), uses)
}

fn names(provision: &Provision) -> Vec<Option<&str>> {
    let notes = provision.notes.iter();
    notes.map(|note| note.name.as_deref()).collect()
}

#[test]
fn a_spool_that_goes_on_has_its_name_and_one_that_stays_is_not_named_again() {
    // 400 g: the 430 g spool covers them, 30 g stay. 500 g and 300 g: the 1000 g spool covers both.
    let scenario = shop(&[1000.0, 430.0]);
    let uses = [
        run(TALL, "2027-01-11 18:00", 300, 400.0),
        run(TALL, "2027-01-12 18:00", 300, 500.0),
        run(TALL, "2027-01-13 18:00", 300, 300.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(
        names(&provision),
        [Some("yellow-2"), Some("yellow-1"), None]
    );
}

#[test]
fn spools_that_are_alike_go_on_in_the_order_of_their_numbers() {
    let scenario = shop(&[500.0; 12]);
    let day = |n: usize| format!("2027-01-{} 18:00", 11 + n);
    let uses: Vec<Use> = (0..12).map(|n| run(TALL, &day(n), 300, 450.0)).collect();
    let expected: Vec<String> = (1..=12)
        .map(|number| spool_name("yellow", number))
        .collect();
    let provision = provided(&scenario, &uses);
    let found: Vec<&str> = names(&provision).into_iter().flatten().collect();
    assert_eq!(found, expected);
}

#[test]
fn what_is_to_be_ordered_has_no_name_new_or_not() {
    // 600 g on Wednesday the 20th, when an order can have come; then 300 g elsewhere, from the same one.
    let scenario = shop(&[]);
    let uses = [
        run(TALL, "2027-01-20 18:00", 300, 600.0),
        run(WIDE, "2027-01-21 18:00", 300, 300.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(names(&provision), [None, None]);
    let [first, second] = &provision.notes[..] else {
        panic!("two notes");
    };
    assert_eq!(
        (first.put_on, second.put_on),
        (Some(Grams(1000.0)), Some(Grams(400.0)))
    );
    assert_eq!(second.from, Some(TALL));
}

#[test]
fn a_spool_keeps_its_name_from_machine_to_machine() {
    let scenario = shop(&[1000.0]);
    let uses = [
        run(TALL, "2027-01-20 18:00", 300, 400.0),
        run(WIDE, "2027-01-21 18:00", 300, 400.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(names(&provision), [Some("yellow-1"), Some("yellow-1")]);
    assert_eq!(provision.notes[1].from, Some(TALL));
}

#[test]
fn what_follows_where_a_spool_ends_is_named_and_so_is_an_end_that_was_left() {
    // 400 g in 480 min: 300 g would end at 23:40. At 22:25 237.5 g are printed, the other 162.5 g come off the 200 g spool; then 60 g
    // come off the end of 62.5 g that was left.
    let mut scenario = shop(&[300.0, 200.0]);
    scenario.build.spool_margin = 0.0;
    let uses = [
        run(TALL, "2027-01-11 17:40", 480, 400.0),
        run(TALL, "2027-01-12 17:40", 60, 60.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(names(&provision), [Some("yellow-1"), Some("yellow-1")]);
    let next: Vec<_> = provision.notes[0]
        .ends
        .iter()
        .map(|end| end.next_name.as_deref())
        .collect();
    assert_eq!(next, [Some("yellow-2")]);
}

#[test]
fn names_are_those_that_nothing_done_has() {
    let scenario = demo::scenario();
    for (filament, spools) in scenario
        .filaments
        .iter()
        .zip(Progress::none(&scenario).spools)
    {
        for (spool, number) in spools.iter().zip(1..) {
            assert_eq!(spool.id, spool_name(&filament.id, number));
        }
    }
}
