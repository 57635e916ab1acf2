//! Spools, run-out and orders, by rule.

use beamyard::calendar::Calendar;
use beamyard::plan::{SpoolEnd, SpoolNote};
use beamyard::scenario::{FilamentIndex, MachineIndex, Scenario};
use beamyard::stock::{OnHand, Provision, Use, provide};
use beamyard::units::Grams;
use chrono::{Duration, NaiveDate, TimeZone, Utc};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngSeed, TestRunner};

use crate::demo::{self, BELT, BLACK, TALL, WIDE, YELLOW, at, put_on};

/// The demo's shop with these spools of yellow and of black on hand.
fn shop(yellow: &[f64], black: &[f64]) -> Scenario {
    let mut scenario = demo::scenario();
    scenario.filaments = vec![
        demo::filament("yellow", yellow),
        demo::filament("black", black),
    ];
    scenario
}

/// A run set up ten minutes before it starts.
fn run(
    machine: MachineIndex,
    filament: FilamentIndex,
    start: &str,
    minutes: i64,
    grams: f64,
) -> Use {
    Use {
        machine,
        filament,
        setup: Some(at(start) - Duration::minutes(10)),
        start: at(start),
        end: at(start) + Duration::minutes(minutes),
        grams: Grams(grams),
        purge: Grams::ZERO,
    }
}

/// The spools without their names: `spool_names` asks for those.
fn provided(scenario: &Scenario, uses: &[Use]) -> Provision {
    let mut provision = provide(
        scenario,
        &OnHand::at_start(scenario),
        &Calendar::new(scenario),
        uses,
    );
    for note in &mut provision.notes {
        note.name = None;
        note.ends.iter_mut().for_each(|end| end.next_name = None);
    }
    provision
}

/// A spool that goes on at the setup, and its end and those of its followers: when, attended, grams on the next.
fn ending(put_on: f64, ends: &[(&str, bool, f64)]) -> SpoolNote {
    let end = |&(moment, attended, next): &(&str, bool, f64)| SpoolEnd {
        at: at(moment),
        attended,
        left: Grams::ZERO,
        next: Grams(next),
        next_name: None,
        next_from: None,
    };
    SpoolNote {
        put_on: Some(Grams(put_on)),
        name: None,
        from: None,
        ends: ends.iter().map(end).collect(),
    }
}

fn date(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, month, day).expect("a test writes dates that exist")
}

#[test]
fn whole_spools_are_ordered_for_what_is_missing() {
    // 10 runs of 521 g are 5210 g; 1000 + 430 = 1430 g are on hand; 3780 g are missing: 4 spools of 1000 g.
    let scenario = shop(&[1000.0, 430.0], &[]);
    let days = ["18", "19", "20", "21", "22", "25", "26", "27", "28", "29"];
    let uses = days.map(|day| run(TALL, YELLOW, &format!("2027-01-{day} 18:00"), 600, 521.0));
    let order = &provided(&scenario, &uses).orders[YELLOW.0];
    assert_eq!(order.grams, Grams(5210.0));
    assert_eq!(order.on_hand, Grams(1430.0));
    assert_eq!(order.spools, 4);
}

#[test]
fn exactly_enough_on_hand_needs_no_order() {
    // 3 × 0.1 g in doubles is a little more than 0.3 g; that is no reason to buy a spool.
    let scenario = shop(&[0.3], &[]);
    let uses =
        ["18", "19", "20"].map(|day| run(TALL, YELLOW, &format!("2027-01-{day} 18:00"), 60, 0.1));
    let order = &provided(&scenario, &uses).orders[YELLOW.0];
    assert_eq!((order.spools, order.order_by), (0, None));
}

#[test]
fn every_filament_has_a_row_even_if_no_run_needs_it() {
    let scenario = shop(&[], &[250.0]);
    let orders = provided(&scenario, &[]).orders;
    assert_eq!(orders.len(), 2);
    assert_eq!(orders[1].filament, BLACK);
    assert_eq!(
        (orders[1].grams, orders[1].on_hand),
        (Grams(0.0), Grams(250.0))
    );
}

#[test]
fn the_smallest_spool_that_lasts_goes_on_and_stays_while_it_lasts() {
    // 400 g: the 430 g spool lasts, 30 g stay. 500 g: only the 1000 g spool lasts, 500 g stay. 400 g: that one lasts.
    let scenario = shop(&[1000.0, 430.0], &[]);
    let uses = [
        run(TALL, YELLOW, "2027-01-11 18:00", 300, 400.0),
        run(TALL, YELLOW, "2027-01-12 18:00", 300, 500.0),
        run(TALL, YELLOW, "2027-01-13 18:00", 300, 400.0),
    ];
    assert_eq!(
        provided(&scenario, &uses).notes,
        [put_on(430.0), put_on(1000.0), SpoolNote::default(),]
    );
}

#[test]
fn notes_come_in_the_order_of_the_runs_given() {
    let scenario = shop(&[1000.0, 430.0], &[]);
    let uses = [
        run(TALL, YELLOW, "2027-01-12 18:00", 300, 500.0),
        run(TALL, YELLOW, "2027-01-11 18:00", 300, 400.0),
    ];
    assert_eq!(
        provided(&scenario, &uses).notes,
        [put_on(1000.0), put_on(430.0),]
    );
}

#[test]
fn a_spool_that_ends_while_somebody_is_there_is_a_change() {
    // 400 g in 480 min; neither spool lasts, the larger has 300 g: 300/400 × 480 = 360 min after Sat 09:10 is 15:10, and
    // the bench is open on Saturdays from 09:00 to 22:00.
    let scenario = shop(&[300.0, 200.0], &[]);
    let uses = [run(TALL, YELLOW, "2027-01-16 09:10", 480, 400.0)];
    let provision = provided(&scenario, &uses);
    assert_eq!(
        provision.notes,
        [ending(300.0, &[("2027-01-16 15:10", true, 200.0)])]
    );
    assert_eq!(provision.orders[YELLOW.0].spools, 0);
}

#[test]
fn a_spool_that_ends_with_nobody_there_is_marked() {
    // 300/400 × 480 = 360 min after Mon 17:40 is 23:40; the bench closes at 22:30. At 22:25 162.5 g are still to come, more than
    // the other spool has.
    let scenario = shop(&[300.0, 150.0], &[]);
    let uses = [run(TALL, YELLOW, "2027-01-11 17:40", 480, 400.0)];
    assert_eq!(
        provided(&scenario, &uses).notes,
        [ending(300.0, &[("2027-01-11 23:40", false, 150.0)])]
    );
}

#[test]
fn a_spool_that_would_end_with_nobody_there_is_changed_before_the_bench_closes() {
    // As above, but the other spool has 200 g. After 285 min, at 22:25, 285/480 × 400 = 237.5 g are printed: 62.5 g are left, and
    // the next run goes on from 200 − 162.5 = 37.5 g; 60 g more come off the end that was left.
    let scenario = shop(&[300.0, 200.0], &[]);
    let uses = [
        run(TALL, YELLOW, "2027-01-11 17:40", 480, 400.0),
        run(TALL, YELLOW, "2027-01-12 17:40", 60, 60.0),
    ];
    let provision = provided(&scenario, &uses);
    let mut early = ending(300.0, &[("2027-01-11 22:25", true, 200.0)]);
    early.ends[0].left = Grams(62.5);
    assert_eq!(provision.notes, [early, put_on(62.5)]);
    assert_eq!(provision.orders[YELLOW.0].spools, 0);
}

/// What there is on Monday the 11th, when more can be ordered on that day at the earliest.
fn asked(scenario: &Scenario) -> OnHand {
    OnHand {
        today: Some(date(1, 11)),
        ..OnHand::at_start(scenario)
    }
}

#[test]
fn what_is_ordered_today_is_there_its_delivery_time_after_midnight() {
    // Out by the end of Monday the 11th, four days on the way: Saturday the 16th at 00:00.
    let scenario = shop(&[300.0, 5.0], &[]);
    let on_hand = asked(&scenario);
    assert_eq!(
        on_hand.comes(&scenario, YELLOW),
        Some(at("2027-01-16 00:00"))
    );
    let steps = on_hand
        .supply(&scenario, YELLOW)
        .expect("it is short until then");
    let steps: Vec<_> = steps.iter().map(|step| (step.from, step.grams)).collect();
    // Without a margin the 5 g count too.
    let start = scenario.build.start;
    assert_eq!(
        steps,
        [(start, 305.0), (at("2027-01-16 00:00"), f64::INFINITY)]
    );
    assert_eq!(OnHand::at_start(&scenario).supply(&scenario, YELLOW), None);
}

#[test]
fn a_spool_is_changed_early_where_those_on_hand_last_for_the_rest_though_no_order_can_come() {
    // 1260 g in 1200 min. The first spool would end after 571 min, Tue 03:11. Changed at 22:25, after 285 × 1.05 = 299.25 g, the next ends when
    // 899.25 g are out, after 856 min, Tue 07:56, within the hours; a third lasts for the other 360.75 g.
    let notes = |spools: &[f64]| {
        let scenario = with_margin(spools);
        let uses = [run(TALL, YELLOW, "2027-01-11 17:40", 1200, 1260.0)];
        let calendar = Calendar::new(&scenario);
        provide(&scenario, &asked(&scenario), &calendar, &uses).notes
    };
    let ends = [
        ("2027-01-11 22:25", true, 600.0),
        ("2027-01-12 07:56", true, 600.0),
    ];
    let mut early = ending(600.0, &ends);
    early.ends[0].left = Grams(300.75);
    early.name = Some("yellow-1".into());
    for (end, name) in early.ends.iter_mut().zip(["yellow-2", "yellow-3"]) {
        end.next_name = Some(name.into());
    }
    assert_eq!(notes(&[600.0; 3]), [early]);
    // The end that came off cannot go on again in the same run.
    let two = &notes(&[600.0; 2])[0];
    assert!(two.alone().next().is_some(), "{two:?}");
}

#[test]
fn a_run_before_that_has_no_spool_and_one_after_it_has() {
    let scenario = with_margin(&[]);
    let provide = |start| {
        let uses = [run(TALL, YELLOW, start, 60, 100.0)];
        provide(
            &scenario,
            &asked(&scenario),
            &Calendar::new(&scenario),
            &uses,
        )
    };
    // The setup is ten minutes before the start.
    let early = provide("2027-01-16 00:09");
    let short = early.short.expect("nothing is there");
    assert_eq!((short.begins, short.until), (at("2027-01-15 23:59"), None));
    let late = provide("2027-01-16 00:10");
    assert_eq!(late.short, None);
    let order = &late.orders[YELLOW.0];
    assert_eq!((order.spools, order.order_by), (1, Some(date(1, 11))));
}

#[test]
fn all_ends_in_one_run_are_told_with_the_spool_that_follows() {
    // 1000 g in 1000 min from Sat 09:10. 500 g end after 500 min, 17:30, somebody is there; 300 g more after 800 min, 22:30,
    // half an hour after the bench has closed.
    let scenario = shop(&[500.0, 300.0, 200.0], &[]);
    let uses = [run(TALL, YELLOW, "2027-01-16 09:10", 1000, 1000.0)];
    assert_eq!(
        provided(&scenario, &uses).notes,
        [ending(
            500.0,
            &[
                ("2027-01-16 17:30", true, 300.0),
                ("2027-01-16 22:30", false, 200.0)
            ]
        )]
    );
}

#[test]
fn one_spool_is_put_on_for_all_runs_that_follow_without_a_setup() {
    // Two runs of 640 g after one setup are 1280 g: the 700 g spool would end in the second, nobody near it.
    let scenario = shop(&[700.0, 1400.0], &[]);
    let first = run(BELT, YELLOW, "2027-01-16 10:00", 600, 640.0);
    let second = run(BELT, YELLOW, "2027-01-16 20:00", 600, 640.0);
    let follows = Use {
        setup: None,
        ..second
    };
    assert_eq!(
        provided(&scenario, &[first, follows]).notes,
        [put_on(1400.0), SpoolNote::default()]
    );
    // With a setup of its own the second run gets a spool of its own.
    assert_eq!(
        provided(&scenario, &[first, second]).notes,
        [put_on(700.0), put_on(1400.0),]
    );
}

#[test]
fn a_spool_that_comes_off_in_a_colour_change_can_go_on_again() {
    // 1000 g yellow: 300 g printed, off for black, on again with 700 g left: less purge nothing is missing.
    let scenario = shop(&[1000.0], &[500.0]);
    let change = |filament, start, grams| Use {
        purge: Grams(12.0),
        ..run(TALL, filament, start, 300, grams)
    };
    let uses = [
        run(TALL, YELLOW, "2027-01-11 18:00", 300, 300.0),
        change(BLACK, "2027-01-12 18:00", 200.0),
        change(YELLOW, "2027-01-13 18:00", 600.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(
        provision.notes,
        [put_on(1000.0), put_on(500.0), put_on(700.0),]
    );
    // Purge counts for the filament that comes in: 300 + 600 + 12 yellow, 200 + 12 black.
    assert_eq!(provision.orders[YELLOW.0].grams, Grams(912.0));
    assert_eq!(provision.orders[BLACK.0].grams, Grams(212.0));
    assert!(provision.orders.iter().all(|order| order.spools == 0));
}

#[test]
fn purge_comes_off_the_spool_before_the_run() {
    // 500 g on the spool, 12 g purged: the 490 g run ends 2 g short, 488/490 × 490 min = 488 min after Sat 10:00.
    let scenario = shop(&[], &[500.0, 100.0]);
    let uses = [Use {
        purge: Grams(12.0),
        ..run(TALL, BLACK, "2027-01-16 10:00", 490, 490.0)
    }];
    assert_eq!(
        provided(&scenario, &uses).notes,
        [ending(500.0, &[("2027-01-16 18:08", true, 100.0)])]
    );
}

#[test]
fn two_machines_cannot_print_from_one_spool_at_once() {
    // 2 × 400 g are on one spool of 1000 g, but both machines print at once: a second spool is needed.
    let scenario = shop(&[1000.0], &[]);
    let uses = [
        run(TALL, YELLOW, "2027-01-20 18:00", 600, 400.0),
        run(WIDE, YELLOW, "2027-01-20 18:10", 600, 400.0),
    ];
    assert_eq!(provided(&scenario, &uses).orders[YELLOW.0].spools, 1);
    // One after the other, the spool goes from machine to machine.
    let uses = [
        run(TALL, YELLOW, "2027-01-20 18:00", 600, 400.0),
        run(WIDE, YELLOW, "2027-01-21 18:10", 600, 400.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(provision.orders[YELLOW.0].spools, 0);
    assert_eq!(provision.notes[1], from(TALL, 600.0));
    // Black went on in between, so that the yellow lies on the shelf, as far as anybody knows.
    let uses = [
        uses[0],
        run(TALL, BLACK, "2027-01-21 07:30", 60, 40.0),
        uses[1],
    ];
    let provision = provided(&shop(&[1000.0], &[200.0]), &uses);
    assert_eq!(provision.notes[2], put_on(600.0));
    // It is fetched in vain if it is where it is wanted.
    let uses = [uses[0], run(TALL, YELLOW, "2027-01-21 18:10", 600, 400.0)];
    let provision = provided(&scenario, &uses);
    assert_eq!(provision.notes[1], SpoolNote::default());
}

#[test]
fn a_spool_that_follows_during_a_run_may_be_on_another_machine_too() {
    // 20 of 80 g are left on `wide` when `tall` is set up for 65 g with the 50 g on the shelf. These last for 100·50/65 = 76.9 minutes,
    // until 19:16, with somebody there.
    let uses = [
        run(WIDE, YELLOW, "2027-01-11 07:20", 60, 60.0),
        run(TALL, YELLOW, "2027-01-11 18:00", 100, 65.0),
    ];
    let mut scenario = shop(&[80.0, 50.0], &[]);
    scenario.filaments[YELLOW.0].spool = Grams(20.0);
    let notes = provided(&scenario, &uses).notes;
    let end = &notes[1].ends[0];
    assert_eq!((notes[1].put_on, notes[1].from), (Some(Grams(50.0)), None));
    assert_eq!((end.at, end.next), (at("2027-01-11 19:16"), Grams(20.0)));
    assert_eq!(end.next_from, Some(WIDE));
}

/// A spool that goes on at the setup and is still on another machine then.
fn from(machine: MachineIndex, grams: f64) -> SpoolNote {
    SpoolNote {
        from: Some(machine),
        ..put_on(grams)
    }
}

#[test]
fn an_order_sent_on_the_last_day_comes_before_the_first_run_that_needs_it() {
    let mut scenario = shop(&[], &[]);
    // Needed at the setup on Fri 22 Jan 17:50; four days before is Mon 18 Jan 17:50; an order sent at any hour of Sunday the
    // 17th is out by then, one of Monday evening is not.
    let uses = [run(TALL, YELLOW, "2027-01-22 18:00", 300, 200.0)];
    let order_by = |scenario: &Scenario| provided(scenario, &uses).orders[YELLOW.0].order_by;
    assert_eq!(order_by(&scenario), Some(date(1, 17)));
    // Where nothing takes time, an order of the day before is there in the morning.
    scenario.filaments[0].lead = beamyard::units::Minutes::ZERO;
    assert_eq!(order_by(&scenario), Some(date(1, 21)));
}

#[test]
fn a_spool_set_aside_on_a_machine_is_on_the_shelf_once_that_is_set_up_with_another() {
    // `wide` takes 100 g of the 900 g spool and stands; the belt's run of 1500 g from the evening on takes the new one of 1000 g first,
    // and the 800 g then, which are set aside for it. In the morning `wide` is set up again, with another.
    let belt = run(BELT, YELLOW, "2027-01-25 18:00", 3000, 1500.0);
    let early = run(WIDE, YELLOW, "2027-01-25 07:20", 60, 100.0);
    let mut uses = vec![early, belt];
    let followed = |uses: &[Use]| {
        let notes = provided(&with_margin(&[900.0, 1000.0]), uses).notes;
        let ends = notes[1].ends.clone();
        let [end] = &ends[..] else {
            panic!("{ends:?}");
        };
        (end.next, end.next_from)
    };
    assert_eq!(followed(&uses), (Grams(800.0), Some(WIDE)));
    uses.push(run(WIDE, YELLOW, "2027-01-26 07:30", 30, 50.0));
    assert_eq!(followed(&uses), (Grams(800.0), None));
}

#[test]
fn a_spool_that_goes_on_during_a_run_is_ordered_before_that_run() {
    // 1000 g on hand, 1200 g from Fri 22 Jan 18:00 in 1200 min: the second spool goes on after 1000 min, Sat 10:40, but it is
    // to be there at the setup on Friday 17:50: by Sunday the 17th, as above.
    let scenario = shop(&[1000.0], &[]);
    let uses = [run(TALL, YELLOW, "2027-01-22 18:00", 1200, 1200.0)];
    let provision = provided(&scenario, &uses);
    assert_eq!(
        provision.notes,
        [ending(1000.0, &[("2027-01-23 10:40", true, 1000.0)])]
    );
    assert_eq!(provision.orders[YELLOW.0].order_by, Some(date(1, 17)));
}

#[test]
fn an_ordered_spool_is_not_counted_on_before_it_can_have_come() {
    // 600 g on hand in two spools, 1300 g needed: one spool is missing. On Monday it cannot have come, so the first run
    // (400 g) uses up what is there; on Sat 16 Jan 200 g are left for 900 g, and the new spool lasts. Its setup is at 09:50,
    // four days before is Tue 12 Jan 09:50: order by Monday the 11th, the first day.
    let scenario = shop(&[300.0, 300.0], &[]);
    let uses = [
        run(TALL, YELLOW, "2027-01-11 18:00", 200, 400.0),
        run(TALL, YELLOW, "2027-01-16 10:00", 600, 900.0),
    ];
    let provision = provided(&scenario, &uses);
    assert_eq!(
        provision.notes,
        [
            ending(300.0, &[("2027-01-11 20:30", true, 300.0)]),
            put_on(1000.0),
        ]
    );
    let order = &provision.orders[YELLOW.0];
    assert_eq!((order.spools, order.order_by), (1, Some(date(1, 11))));
}

#[test]
fn a_run_that_cannot_do_without_an_ordered_spool_begins_with_it() {
    // 50 g on hand in two spools are too little for 200 g: the new spool is needed for this run anyway, and lasts for all of
    // it. The remnants wait for a run that they last for.
    let scenario = shop(&[30.0, 20.0], &[]);
    let uses = [
        run(TALL, YELLOW, "2027-01-12 18:00", 300, 200.0),
        run(WIDE, YELLOW, "2027-01-12 18:10", 300, 25.0),
    ];
    assert_eq!(
        provided(&scenario, &uses).notes,
        [put_on(1000.0), put_on(30.0),]
    );
}

#[test]
fn what_is_needed_before_any_order_could_come_is_ordered_before_the_start() {
    // Nothing on hand; needed Tue 12 Jan 17:50; four days before is Fri 8 Jan 17:50: by Thursday the 7th.
    let scenario = shop(&[], &[]);
    let uses = [run(TALL, YELLOW, "2027-01-12 18:00", 300, 200.0)];
    assert_eq!(
        provided(&scenario, &uses).orders[YELLOW.0].order_by,
        Some(date(1, 7))
    );
}

/// The same shop with a margin of 3 %, at least 10 g.
fn with_margin(yellow: &[f64]) -> Scenario {
    let mut scenario = shop(yellow, &[]);
    scenario.build.spool_margin = 0.03;
    scenario
}

#[test]
fn a_run_gets_the_smallest_spool_that_covers_it_with_the_margin() {
    // 400 g and 12 g of margin: 405 g are too little, 430 g are enough.
    let uses = [run(TALL, YELLOW, "2027-01-11 18:00", 300, 400.0)];
    let notes = |spools: &[f64]| provided(&with_margin(spools), &uses).notes;
    assert_eq!(notes(&[405.0, 430.0, 1000.0]), [put_on(430.0)]);
    assert_eq!(notes(&[405.0, 1000.0]), [put_on(1000.0)]);
}

#[test]
fn an_end_too_small_for_the_margin_goes_on_nowhere() {
    // 10 g are the least margin: nothing could be printed from that end. It is counted as on hand all the same.
    let uses = [run(TALL, YELLOW, "2027-01-11 18:00", 300, 5.0)];
    let provision = provided(&with_margin(&[10.0, 500.0]), &uses);
    assert_eq!(provision.notes, [put_on(500.0)]);
    assert_eq!(provision.orders[YELLOW.0].on_hand, Grams(510.0));
    // 995 g from 1000 g leave 5 g; so the second run has a new one.
    let uses = [
        run(TALL, YELLOW, "2027-01-18 18:00", 300, 995.0),
        run(TALL, YELLOW, "2027-01-19 18:00", 300, 4.0),
    ];
    let provision = provided(&with_margin(&[1000.0]), &uses);
    assert_eq!(provision.notes, [put_on(1000.0), put_on(1000.0)]);
}

#[test]
fn ends_are_used_up_while_somebody_is_there() {
    // 400 g in 480 min from Mon 18:00. The 200 g spool ends after 240 min, at 22:00; the bench is open until 22:30, and 300 g
    // cover the other 200 g.
    let uses = [run(TALL, YELLOW, "2027-01-25 18:00", 480, 400.0)];
    let provision = provided(&with_margin(&[300.0, 200.0]), &uses);
    assert_eq!(
        provision.notes,
        [ending(200.0, &[("2027-01-25 22:00", true, 300.0)])]
    );
    assert_eq!(provision.orders[YELLOW.0].spools, 0);
}

#[test]
fn a_spool_on_a_machine_that_stands_still_goes_on_rather_than_an_end() {
    // On the first day no order can have come. `wide` takes 100 g of the 200 g spool in the morning and stands still; 60 g with
    // 10 g of margin are covered by what is left on it, while the end of 30 g lasts for half an hour only.
    let uses = [
        run(WIDE, YELLOW, "2027-01-11 07:20", 60, 100.0),
        run(TALL, YELLOW, "2027-01-11 18:00", 60, 60.0),
    ];
    let provision = provided(&with_margin(&[200.0, 30.0]), &uses);
    assert_eq!(provision.notes, [put_on(200.0), from(WIDE, 100.0)]);
}

#[test]
fn a_spool_that_does_not_outlast_the_purge_does_not_go_on() {
    // 20 g are purged: of the 18 g spool nothing would be left to print from, and nobody would be told of the next. It lies there
    // for a run without a purge.
    let uses = [Use {
        purge: Grams(20.0),
        ..run(TALL, YELLOW, "2027-01-25 18:00", 200, 200.0)
    }];
    let provision = provided(&with_margin(&[18.0, 150.0, 100.0]), &uses);
    assert!(provision.notes[0].put_on > Some(Grams(18.0)));
    let provision = provided(&with_margin(&[18.0]), &uses);
    assert_eq!(provision.notes, [put_on(1000.0)]);
}

#[test]
fn a_new_spool_is_ordered_rather_than_one_runs_out_with_nobody_there() {
    // From 21:00 they would end at 01:00 and 03:00. 500 g are on hand for 400 g, and still a new one is ordered.
    let uses = [run(TALL, YELLOW, "2027-01-25 21:00", 480, 400.0)];
    let provision = provided(&with_margin(&[300.0, 200.0]), &uses);
    assert_eq!(provision.notes, [put_on(1000.0)]);
    assert_eq!(provision.orders[YELLOW.0].spools, 1);
    // On the first day none can have come: 300 g end after 360 min, at 03:00.
    let uses = [run(TALL, YELLOW, "2027-01-11 21:00", 480, 400.0)];
    let provision = provided(&with_margin(&[300.0, 200.0]), &uses);
    assert_eq!(
        provision.notes,
        [ending(300.0, &[("2027-01-12 03:00", false, 200.0)])]
    );
}

/// Runs of yellow from so many days after the start on: machine, grams, minutes. Each is set up when the one before it on its machine has ended.
fn one_after_the_other(scenario: &Scenario, days: i64, runs: &[(usize, u32, i64)]) -> Vec<Use> {
    let mut free = [scenario.build.start + Duration::days(days); 3];
    let dated = runs.iter().map(|&(machine, grams, minutes)| {
        let setup = free[machine];
        let start = setup + Duration::minutes(10);
        free[machine] = start + Duration::minutes(minutes);
        Use {
            machine: MachineIndex(machine),
            filament: YELLOW,
            setup: Some(setup),
            start,
            end: free[machine],
            grams: Grams(f64::from(grams)),
            purge: Grams::ZERO,
        }
    });
    dated.collect()
}

/// Spools are chosen one after the other, so that one more may now and then lead to another choice later on.
#[test]
fn hardly_ever_would_one_more_spool_avoid_an_end_with_nobody_there() {
    let config = Config {
        cases: 400,
        rng_seed: RngSeed::Fixed(1),
        ..Config::default()
    };
    let mut runner = TestRunner::new(config.clone());
    // Runs may take more than a new spool, so that some end in it. Ten days are more than the four that an order takes.
    let drawn = (
        prop::collection::vec(1u32..2000, 0..5),
        prop::collection::vec((0usize..3, 1u32..2400, 1i64..5000), 1..12),
    );
    let (mut stops, mut avoidable) = (0, 0);
    for _ in 0..config.cases {
        let (spools, runs) = drawn.new_tree(&mut runner).expect("it draws").current();
        let mut yellow: Vec<f64> = spools.iter().map(|&grams| f64::from(grams)).collect();
        let uses = one_after_the_other(&with_margin(&yellow), 10, &runs);
        let alone = |spools: &[f64]| {
            let provision = provided(&with_margin(spools), &uses);
            let notes = provision.notes.iter();
            notes.map(|note| note.alone().count()).sum::<usize>()
        };
        let without = alone(&yellow);
        yellow.push(1000.0);
        stops += usize::from(without > 0);
        avoidable += usize::from(alone(&yellow) < without);
    }
    assert!(
        stops > 50,
        "{stops} cases in which a spool ends with nobody there"
    );
    assert!(avoidable <= 8, "{avoidable} of {stops} could be avoided");
}

proptest! {
    #[test]
    fn no_spool_ends_with_nobody_there_where_a_new_one_covers_each_run(
        spools in prop::collection::vec(1u32..2000, 0..5),
        runs in prop::collection::vec((0usize..3, 1u32..970, 1i64..5000), 1..20),
    ) {
        // 970 g and their margin of 29.1 g are less than the 1000 g of a new spool, and ten days are more than its four.
        let yellow: Vec<f64> = spools.iter().map(|&grams| f64::from(grams)).collect();
        let scenario = with_margin(&yellow);
        let provision = provided(&scenario, &one_after_the_other(&scenario, 10, &runs));
        prop_assert!(provision.notes.iter().all(|note| note.alone().next().is_none()));
    }

    #[test]
    fn no_more_spools_end_with_nobody_there_where_one_can_order_days_before_the_start(
        spools in prop::collection::vec(1u32..2000, 0..5),
        runs in prop::collection::vec((0usize..3, 1u32..2400, 1i64..5000), 1..12),
    ) {
        let yellow: Vec<f64> = spools.iter().map(|&grams| f64::from(grams)).collect();
        let scenario = with_margin(&yellow);
        let uses = one_after_the_other(&scenario, 0, &runs);
        let alone = |on_hand: &OnHand| {
            let provision = provide(&scenario, on_hand, &Calendar::new(&scenario), &uses);
            prop_assert!(provision.short.is_none());
            let notes = provision.notes.iter();
            Ok(notes.map(|note| note.alone().count()).sum::<usize>())
        };
        // What has been planned from the start is planned again thirteen days before it: an order takes four.
        let from_start = OnHand::at_start(&scenario);
        let before = OnHand {
            today: Some((scenario.build.start - Duration::days(13)).date_naive()),
            ..from_start.clone()
        };
        prop_assert!(alone(&before)? <= alone(&from_start)?);
    }

    #[test]
    fn on_one_machine_no_spool_is_ordered_beyond_the_missing_grams(
        spools in prop::collection::vec(1u32..2000, 0..5),
        grams in prop::collection::vec((1u32..2500, any::<bool>()), 1..20),
    ) {
        let yellow: Vec<f64> = spools.iter().map(|&grams| f64::from(grams)).collect();
        let scenario = shop(&yellow, &[]);
        let mut uses = Vec::new();
        for (day, &(grams, follows)) in (0..).zip(&grams) {
            let start = Utc.with_ymd_and_hms(2027, 1, 11, 17, 0, 0).single().expect("UTC") + Duration::days(day);
            uses.push(Use {
                machine: TALL,
                filament: YELLOW,
                setup: (!follows).then_some(start),
                start,
                end: start + Duration::hours(20),
                grams: Grams(f64::from(grams)),
                purge: Grams::ZERO,
            });
        }
        let provision = provided(&scenario, &uses);
        let needed: u32 = grams.iter().map(|(grams, _)| grams).sum();
        let on_hand: u32 = spools.iter().sum();
        prop_assert_eq!(provision.orders[YELLOW.0].spools, needed.saturating_sub(on_hand).div_ceil(1000));
        for (used, note) in uses.iter().zip(&provision.notes) {
            for end in &note.ends {
                prop_assert!(used.start <= end.at && end.at < used.end);
            }
        }
    }

    #[test]
    fn an_order_is_there_before_the_grams_on_hand_are_used_up(
        spools in prop::collection::vec(1u32..2000, 0..5),
        runs in prop::collection::vec((0usize..3, 1u32..2500, 1i64..5000), 1..20),
    ) {
        let yellow: Vec<f64> = spools.iter().map(|&grams| f64::from(grams)).collect();
        let scenario = shop(&yellow, &[]);
        let mut free = [scenario.build.start + Duration::days(10); 3];
        let mut uses = Vec::new();
        for &(machine, grams, minutes) in &runs {
            let start = free[machine] + Duration::minutes(10);
            free[machine] = start + Duration::minutes(minutes);
            uses.push(Use {
                machine: MachineIndex(machine),
                filament: YELLOW,
                setup: Some(start - Duration::minutes(10)),
                start,
                end: free[machine],
                grams: Grams(f64::from(grams)),
                purge: Grams::ZERO,
            });
        }
        let order = &provided(&scenario, &uses).orders[YELLOW.0];
        uses.sort_by_key(|run| run.start);
        let mut left: f64 = yellow.iter().sum();
        let beyond = uses.iter().find(|run| {
            left -= run.grams.0;
            left < 0.0
        });
        if let Some(run) = beyond {
            // Sent at the last minute of its day, which is the first of the next.
            let day = order.order_by.expect("something is missing");
            let sent = at(&format!("{} 00:00", day + chrono::Days::new(1)));
            let arrives = sent + Duration::minutes(scenario.filaments[YELLOW.0].lead.value());
            prop_assert!(arrives <= run.start, "{arrives} is after {}", run.start);
        }
    }
}
