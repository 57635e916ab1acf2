//! Spools that are weighed, emptied and put on at a moment before what is noted already.

use super::*;

/// `tall-001` printed from red-1, 240 of its 300 g, from 8:00 to 14:00.
fn printed() -> Bench {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench
}

#[test]
fn what_has_left_a_spool_since_it_was_weighed_is_taken_off_though_it_was_noted_first() {
    let mut bench = printed();
    // At 11:00 half of the 240 g was still to come.
    let weighed = weighed_spool("red-1", 175.0);
    bench.note(weighed.clone(), "11 11:00");
    assert_eq!(bench.grams("red-1"), 55.0);
    // As where it was noted in its turn.
    let mut in_turn = Bench::planned();
    in_turn.start("tall-001", "11 08:00");
    in_turn.note(weighed, "11 11:00");
    in_turn.finish("tall-001", "11 14:00");
    assert_eq!(in_turn.grams("red-1"), 55.0);
    // Before the run all of it was to come, after it nothing.
    for (moment, left) in [("11 07:30", 50.0), ("11 14:00", 290.0), ("11 15:00", 290.0)] {
        let mut bench = printed();
        bench.note(weighed_spool("red-1", 290.0), moment);
        assert_eq!(bench.grams("red-1"), left, "{moment}");
    }
    // More has left it than was on it: then it is empty.
    let mut bench = printed();
    bench.note(weighed_spool("red-1", 100.0), "11 11:00");
    assert_eq!(bench.grams("red-1"), 0.0);
}

#[test]
fn of_two_weighings_the_later_counts_whichever_is_noted_first() {
    let mut bench = printed();
    bench.note(weighed_spool("red-1", 57.0), "11 15:00");
    bench.note(weighed_spool("red-1", 280.0), "11 09:00");
    assert_eq!(bench.grams("red-1"), 57.0);
    bench.note(weighed_spool("red-1", 56.0), "11 16:00");
    assert_eq!(bench.grams("red-1"), 56.0);
}

#[test]
fn a_run_that_empties_one_spool_and_goes_on_from_another_leaves_each_when_it_did() {
    let mut bench = Bench::planned();
    bench.note(weighed_spool("red-1", 60.0), "11 07:30");
    bench.note(opened("red-1", "tall"), "11 07:40");
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    assert_eq!((bench.grams("red-1"), bench.grams("red-2")), (0.0, 820.0));
    // 60 of 240 g, a quarter of six hours: from 9:30 on it printed from red-2, 40 g an hour.
    bench.note(weighed_spool("red-2", 900.0), "11 12:00");
    assert_eq!(bench.grams("red-2"), 820.0);
    bench.note(weighed_spool("red-2", 1000.0), "11 09:30");
    assert_eq!(bench.grams("red-2"), 820.0);
    let since = bench.log.state().spools["red-2"].drawn_since(at("11 12:00"));
    assert!((since - 80.0).abs() < 1e-9, "{since}");
}

#[test]
fn what_no_spool_holds_or_is_called_is_refused() {
    let mut bench = Bench::planned();
    let why = bench.refused(bought("red-3", "red", 50_000.0), "11 08:00");
    assert_eq!(
        why,
        "50000 g are more than a spool of red holds; write the grams of one spool, at most 10000, and note each by itself; if there are \
         such, say so in the filament's `spool`"
    );
    bench.note(bought("red-3", "red", 10_000.0), "11 08:00");
    for (name, what) in [
        ("pin", "a part"),
        ("wide", "a machine"),
        ("mast", "an assembly"),
    ] {
        let why = bench.refused(bought(name, "red", 1000.0), "11 08:00");
        assert_eq!(why, format!("{name} is {what}; call it red-4"));
    }
}
