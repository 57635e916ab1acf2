//! Trials, spools, machines, lengths, assemblies, measurements.

use super::*;

#[test]
fn trial_copies_are_approved_once_they_are_printed() {
    let mut bench = Bench::planned();
    let why = bench.refused(approved("cap"), "11 08:00");
    assert!(
        why.starts_with("0 of 1 trial copies of cap are printed"),
        "{why}"
    );
    let why = bench.refused(rejected("cap"), "11 08:00");
    assert!(
        why.starts_with("none of 1 trial copies of cap is printed"),
        "{why}"
    );
    let why = bench.refused(approved("pin"), "11 08:00");
    assert_eq!(
        why,
        "pin has no trial copies; give it `trial: 1` in the scenario, or name one of cap"
    );
    let why = bench.refused(approved("cab"), "11 08:00");
    assert_eq!(why, "there is no part `cab`; did you mean `cap`?");
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    bench.note(approved("cap"), "11 14:10");
    let why = bench.refused(approved("cap"), "11 15:00");
    assert!(
        why.starts_with("cap was approved Mon 11 Jan 2027 14:10"),
        "{why}"
    );
    assert_eq!(
        bench.log.state().trials["cap"].approved,
        Some(at("11 14:10"))
    );
}

#[test]
fn trial_copies_are_neither_approved_nor_rejected_before_they_are_printed() {
    let mut bench = Bench::planned();
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    let right = "the last trial copy of cap was printed Mon 11 Jan 2027 14:00; give a later moment with `--at`";
    assert_eq!(bench.refused(approved("cap"), "11 13:59"), right);
    assert_eq!(bench.refused(rejected("cap"), "11 13:59"), right);
    bench.note(approved("cap"), "11 14:00");
    bench.note(rejected("cap"), "11 14:00");
}

#[test]
fn a_rejected_trial_is_lost_and_no_longer_approved() {
    let mut bench = Bench::planned();
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    bench.note(rejected("cap"), "11 14:10");
    let state = bench.log.state();
    assert!(state.made.is_empty());
    assert_eq!(state.trials["cap"].rejected, 1);
    assert_eq!(state.trials["cap"].approved, None);
}

#[test]
fn grams_leave_the_spool_by_the_plan_and_the_scales_correct_them() {
    let mut bench = Bench::planned();
    // 240 g of red; nobody says from which: the smallest that lasts is red-1 with 300. Red is in `tall` already: no purge.
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    assert_eq!((bench.grams("red-1"), bench.grams("red-2")), (60.0, 1000.0));
    // 120 g more: red-1 stays on until it is empty, red-2 gives the other 60.
    bench.start("tall-002", "12 08:00");
    bench.finish("tall-002", "12 14:00");
    assert_eq!((bench.grams("red-1"), bench.grams("red-2")), (0.0, 940.0));
    bench.note(weighed_spool("red-2", 925.5), "12 15:00");
    assert_eq!(bench.grams("red-2"), 925.5);
    // `wide` was empty and loses 0 g in a change by default of the scenario, or what it says.
    let purge = shop().machines[1].purge.0;
    bench.start("wide-001", "12 15:00");
    bench.finish("wide-001", "12 21:00");
    assert_eq!(bench.grams("grey-1"), 500.0 - 60.0 - purge);
}

#[test]
fn spools_that_cannot_be_are_refused() {
    let mut bench = Bench::planned();
    let why = bench.refused(opened("red-3", "tall"), "11 08:00");
    assert_eq!(why, "there is no spool `red-3`; did you mean `red-1`?");
    let why = bench.refused(opened("red-1", "tal"), "11 08:00");
    assert_eq!(why, "there is no machine `tal`; did you mean `tall`?");
    let why = bench.refused(weighed_spool("red-1", 1250.0), "11 08:00");
    assert_eq!(
        why,
        "1250 g is more than a spool of red holds; take off the empty spool's own mass: at most 1100 g"
    );
    let why = bench.refused(bought("red-2", "red", 1000.0), "11 08:00");
    assert_eq!(why, "there is a spool red-2 already; call it red-3");
    let why = bench.refused(bought("blue-1", "blue", 1000.0), "11 08:00");
    assert!(why.starts_with("there is no filament `blue`"), "{why}");
    let why = bench.refused(bought("red 3", "red", 1000.0), "11 08:00");
    assert!(why.ends_with("such as red-3"), "{why}");
    let why = bench.refused(bought("red-3", "red", f64::NAN), "11 08:00");
    assert!(why.starts_with("NaN is no number of grams"), "{why}");
    bench.note(
        Event::SpoolEmpty {
            spool: "grey-1".into(),
        },
        "11 08:00",
    );
    let why = bench.refused(opened("grey-1", "wide"), "11 08:10");
    assert_eq!(
        why,
        "grey-1 is empty; note `spool weighed grey-1 GRAMS` if it is not, or name another: none is left"
    );
    let why = bench.refused(
        Event::SpoolEmpty {
            spool: "grey-1".into(),
        },
        "11 08:10",
    );
    assert!(why.starts_with("grey-1 is empty already"), "{why}");
    bench.note(opened("red-2", "tall"), "11 08:00");
    bench.start("tall-001", "11 08:00");
    let why = bench.refused(opened("red-2", "wide"), "11 08:10");
    assert_eq!(
        why,
        "red-2 is on tall, which prints tall-001; name another: red-1 (300 g), red-2 (1000 g)"
    );
    let wrong = Event::Started {
        run: "wide-001".into(),
        spool: Some("red-1".into()),
    };
    let why = bench.refused(wrong, "11 08:10");
    assert!(
        why.starts_with("red-1 is red, and wide-001 prints with grey"),
        "{why}"
    );
}

#[test]
fn a_bought_spool_is_there_when_it_is_put_on() {
    let mut bench = Bench::planned();
    let event = Event::SpoolBought {
        spool: "grey-2".into(),
        filament: "grey".into(),
        grams: 1000.0,
        arrives: Some(at("14 12:00")),
    };
    bench.note(event, "11 08:00");
    assert_eq!(
        bench.log.state().spools["grey-2"].arrives,
        Some(at("14 12:00"))
    );
    bench.note(opened("grey-2", "wide"), "13 10:00");
    let state = bench.log.state();
    assert_eq!(state.spools["grey-2"].arrives, None);
    assert_eq!(state.machines["wide"].loaded.as_deref(), Some("grey"));
    assert_eq!(state.machine_of("grey-2"), Some("wide"));
}

#[test]
fn a_machine_goes_down_once_and_up_once() {
    let mut bench = Bench::planned();
    let why = bench.refused(up("wide"), "11 08:00");
    assert_eq!(why, "wide is not down; nothing is to be noted");
    bench.note(down("wide"), "11 09:00");
    let why = bench.refused(down("wide"), "11 10:00");
    assert!(
        why.starts_with("wide is down since Mon 11 Jan 2027 09:00; say with `--until`"),
        "{why}"
    );
    let why = bench.refused(up("wide"), "11 08:00");
    assert!(
        why.starts_with("wide went down only at Mon 11 Jan 2027 09:00"),
        "{why}"
    );
    bench.note(up("wide"), "11 12:00");
    assert_eq!(bench.log.state().machines["wide"].down, None);
}

#[test]
fn lengths_are_joined_once_all_are_printed() {
    let joined = |number| Event::Joined {
        part: "chord".into(),
        number,
    };
    let mut bench = Bench::planned();
    let why = bench.refused(joined(1), "11 08:00");
    assert!(
        why.starts_with("no lengths of chord:1 are printed; note the run"),
        "{why}"
    );
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.note(joined(1), "11 15:00");
    assert!(
        bench
            .log
            .state()
            .made
            .values()
            .all(|made| made.joined == Some(at("11 15:00")))
    );
    let why = bench.refused(joined(1), "11 16:00");
    assert!(why.starts_with("chord:1 is joined already"), "{why}");
    let mut bench = Bench::planned();
    let second = PieceId {
        part: "chord".into(),
        number: 1,
        length: 2,
        of: 2,
    };
    bench.start("tall-001", "11 08:00");
    bench.note(finished("tall-001", &[second]), "11 14:00");
    let why = bench.refused(joined(1), "11 15:00");
    assert!(
        why.starts_with("1 of 2 lengths of chord:1 are printed"),
        "{why}"
    );
}

#[test]
fn an_assembly_waits_for_its_parts_and_for_what_it_needs() {
    let mut bench = Bench::planned();
    let why = bench.refused(assembly("mast", false), "11 08:00");
    assert!(
        why.starts_with("mast needs 1× chord, and 0 of them were printed by"),
        "{why}"
    );
    let mut bench = Bench::all_printed();
    let why = bench.refused(assembly("boom", false), "13 08:00");
    assert_eq!(
        why,
        "boom needs mast, which is not complete; note `assembly complete mast` first"
    );
    let why = bench.refused(assembly("bom", false), "13 08:00");
    assert_eq!(why, "there is no assembly `bom`; did you mean `boom`?");
    let why = bench.refused(assembly("mast", false), "12 13:00");
    assert!(
        why.starts_with("mast needs 1× pin, and 0 of them were printed by Tue 12 Jan 2027 13:00"),
        "{why}"
    );
    bench.note(assembly("mast", false), "13 08:00");
    let why = bench.refused(assembly("mast", false), "13 09:00");
    assert!(why.starts_with("mast was started"), "{why}");
    let why = bench.refused(assembly("mast", true), "13 07:00");
    assert!(
        why.starts_with("mast was started Wed 13 Jan 2027 08:00, after"),
        "{why}"
    );
    bench.note(assembly("mast", true), "13 09:00");
    let why = bench.refused(assembly("mast", true), "13 10:00");
    assert!(
        why.starts_with("mast was complete Wed 13 Jan 2027 09:00"),
        "{why}"
    );
    let why = bench.refused(assembly("boom", true), "13 08:30");
    assert!(
        why.starts_with("mast, which boom needs, was complete"),
        "{why}"
    );
    // What is done at a stroke began then.
    bench.note(assembly("boom", true), "13 11:00");
    assert_eq!(
        bench.log.state().assemblies["boom"].started,
        Some(at("13 11:00"))
    );
}

#[test]
fn what_is_measured_was_printed_there() {
    let mut bench = Bench::planned();
    let weighed = |part: &str, machine: &str, pieces, of, grams| Event::Weighed {
        estimated: None,
        sample: sample(part, machine, pieces, of),
        grams,
    };
    let why = bench.refused(weighed("pin", "tall", 1, 1, 38.0), "11 08:00");
    assert!(
        why.starts_with("0 copies of pin are printed on tall, not 1"),
        "{why}"
    );
    bench.start("tall-002", "12 08:00");
    bench.finish("tall-002", "12 14:00");
    let why = bench.refused(weighed("pin", "tall", 4, 1, 150.0), "12 15:00");
    assert!(
        why.starts_with("3 copies of pin are printed on tall, not 4"),
        "{why}"
    );
    let why = bench.refused(weighed("pin", "wide", 1, 1, 38.0), "12 15:00");
    assert!(why.contains("on wide, not 1"), "{why}");
    let why = bench.refused(weighed("pin", "tall", 3, 1, -1.0), "12 15:00");
    assert!(why.starts_with("-1 is no number of grams"), "{why}");
    // 8000 mm³, of them 17.4 × 17.4 × 18.5 inside, filled by a twentieth: 2679 mm³, 3.32 g a pin by the estimate.
    let why = bench.refused(weighed("pin", "tall", 3, 1, 118.5), "12 15:00");
    assert!(
        why.starts_with("39.50 g for a copy of pin is more than a factor of 10 from its estimate, 3.32 g; weigh again"),
        "{why}"
    );
    let why = bench.refused(weighed("pin", "tall", 3, 1, 0.99), "12 15:00");
    assert!(
        why.starts_with("0.33 g for a copy of pin is less than"),
        "{why}"
    );
    bench.note(weighed("pin", "tall", 3, 1, 11.85), "12 15:00");
    let timed = |minutes| Event::Timed {
        estimated: None,
        sample: sample("pin", "tall", 3, 1),
        minutes,
    };
    let why = bench.refused(timed(0.0), "12 15:00");
    assert!(why.starts_with("0 is no number of minutes"), "{why}");
    bench.note(timed(344.0), "12 15:00");
    let measured = &bench.log.state().measured;
    assert_eq!(
        (measured[0].grams, measured[1].minutes),
        (Some(11.85), Some(344.0))
    );
}

fn weighed(machine: &str, pieces: u32) -> Event {
    Event::Weighed {
        estimated: None,
        sample: sample("pin", machine, pieces, 1),
        grams: 3.5 * f64::from(pieces),
    }
}

fn timed(machine: &str, pieces: u32) -> Event {
    Event::Timed {
        estimated: None,
        sample: sample("pin", machine, pieces, 1),
        minutes: 344.0,
    }
}

#[test]
fn nothing_is_weighed_or_timed_before_it_is_printed() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    bench.finish("tall-002", "12 14:00");
    let right = "0 copies of pin were printed on tall by Tue 12 Jan 2027 13:59, not 3; give a later moment with `--at`";
    assert_eq!(bench.refused(weighed("tall", 3), "12 13:59"), right);
    assert_eq!(bench.refused(timed("tall", 3), "12 13:59"), right);
    bench.note(weighed("tall", 3), "12 14:00");
    bench.note(timed("tall", 3), "12 14:00");
}

#[test]
fn what_still_prints_is_neither_weighed_nor_timed() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    let right = "0 copies of pin are printed on tall, not 3; tall-002 prints still: note `finished tall-002` first";
    assert_eq!(bench.refused(weighed("tall", 3), "12 13:00"), right);
    assert_eq!(bench.refused(timed("tall", 3), "12 13:00"), right);
}

#[test]
fn what_was_lost_on_a_machine_is_measured_as_of_that_and_of_no_other() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    bench.note(scrapped("tall-002", None), "12 14:00");
    let why = bench.refused(weighed("wide", 1), "12 15:00");
    assert!(
        why.starts_with("0 copies of pin are printed on wide, not 1"),
        "{why}"
    );
    bench.note(weighed("tall", 3), "12 15:00");
    // Of the next attempt there are three more.
    bench.start("tall-002", "13 08:00");
    bench.note(finished("tall-002", &[pin(3)]), "13 14:00");
    bench.note(weighed("tall", 6), "13 15:00");
    let why = bench.refused(weighed("tall", 7), "13 15:00");
    assert!(
        why.starts_with("6 copies of pin are printed on tall, not 7"),
        "{why}"
    );
}

#[test]
fn what_was_measured_by_rules_of_before_can_be_restored() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    let line = Entry {
        id: Uuid::from_u128(1),
        at: at("12 09:00"),
        noted: at("12 09:00"),
        event: weighed("tall", 3),
    };
    let exported = bench.log.export() + &line.line() + "\n";
    let imported = Bench::empty().log.import(&exported, later());
    assert_eq!(imported.expect("all of it was noted once").added, 3);
}

#[test]
fn a_change_is_purged_whether_the_spool_is_noted_before_the_start_or_not() {
    // `wide` is empty at first: grey comes into it with a purge either way.
    let purge = shop().machines[1].purge.0;
    assert!(purge > 0.0);
    let mut bench = Bench::planned();
    bench.note(opened("grey-1", "wide"), "11 07:50");
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    assert_eq!(bench.grams("grey-1"), 500.0 - 60.0 - purge);
}

#[test]
fn a_spool_that_was_bought_larger_may_weigh_more() {
    let mut bench = Bench::planned();
    bench.note(bought("red-3", "red", 2300.0), "11 08:00");
    bench.note(weighed_spool("red-3", 2250.0), "11 09:00");
    assert_eq!(bench.grams("red-3"), 2250.0);
    let why = bench.refused(weighed_spool("red-1", 2250.0), "11 09:00");
    assert!(why.contains("at most 1100 g"), "{why}");
    let why = bench.refused(bought("\u{1b}[31mred", "red", 1000.0), "11 09:00");
    assert!(why.contains("is no name for a spool"), "{why}");
}

#[test]
fn a_spool_is_drawn_from_once_it_has_come() {
    let coming = |at_: &str| Event::SpoolBought {
        spool: "grey-2".into(),
        filament: "grey".into(),
        grams: 1000.0,
        arrives: Some(at(at_)),
    };
    let grams = |arrives: &str| {
        let mut bench = Bench::planned();
        bench.note(weighed_spool("grey-1", 30.0), "11 07:00");
        bench.note(coming(arrives), "11 07:10");
        bench.start("wide-001", "11 08:00");
        bench.finish("wide-001", "11 14:00");
        bench.grams("grey-2")
    };
    assert!(
        grams("11 07:30") < 1000.0,
        "it is there when the run starts"
    );
    assert_eq!(grams("13 07:30"), 1000.0, "it is on its way");
}

#[test]
fn lengths_are_joined_when_all_of_them_are_printed_and_no_sooner() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    let joined = Event::Joined {
        part: "chord".into(),
        number: 1,
    };
    let why = bench.refused(joined.clone(), "11 13:00");
    assert!(
        why.starts_with("the last length of chord:1 was printed Mon 11 Jan 2027 14:00"),
        "{why}"
    );
    bench.note(joined, "11 14:00");
}

#[test]
fn a_machine_is_not_up_again_before_it_went_down() {
    let mut bench = Bench::planned();
    let until = Event::Down {
        machine: "tall".into(),
        why: String::new(),
        until: Some(at("11 07:00")),
    };
    let why = bench.refused(until, "11 08:00");
    assert!(why.ends_with("give a later moment with `--until`"), "{why}");
}
