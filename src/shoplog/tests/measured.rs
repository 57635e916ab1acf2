//! What was weighed and timed: whole runs, single pieces, slips.

use super::*;

fn timed(sample: Sample, minutes: f64) -> Event {
    Event::Timed {
        sample,
        minutes,
        estimated: None,
    }
}

#[test]
fn minutes_that_no_run_takes_are_taken_for_a_slip() {
    let mut bench = Bench::all_printed();
    let pins = || sample("pin", "tall", 3, 1);
    // 360 min by the plan.
    let why = bench.refused(timed(pins(), 3601.0), "12 15:00");
    assert_eq!(
        why,
        "3601 min for tall-002 is more than a factor of 10 from its planned 360 min; see how long it took; if the plan is so far off, \
         give the part's `minutes` in the scenario"
    );
    let why = bench.refused(timed(pins(), 35.0), "12 15:00");
    assert!(
        why.starts_with("35 min for tall-002 is less than a factor"),
        "{why}"
    );
    bench.note(timed(pins(), 3600.0), "12 15:00");
    bench.note(timed(pins(), 36.0), "12 15:00");
}

#[test]
fn only_a_whole_run_of_one_part_is_timed() {
    let mut bench = Bench::all_printed();
    let why = bench.refused(timed(sample("pin", "tall", 2, 1), 300.0), "12 15:00");
    assert_eq!(
        why,
        "no run with 2 copies of pin, and nothing else on it, has ended on tall by Tue 12 Jan 2027 15:00; a run is timed as a whole, \
         and tells something of a part only where it has nothing else on it: name the run"
    );
    // A plate of two kinds.
    let both = [piece("pin", 1, 1, 1, "mast"), piece("cap", 1, 1, 1, "boom")];
    let both = run("tall-001", "red", 11, 100.0, &both);
    let plan = format!(
        r#"{{"version":1,"build":"Footbridge","cost":{{"total":1}},"finish":"2027-01-13T12:00:00Z","runs":[{both}]}}"#
    );
    let mut bench = Bench::empty();
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(timed(sample("pin", "tall", 1, 1), 300.0), "11 15:00");
    assert!(
        why.starts_with("no run with 1 copy of pin, and nothing else on it"),
        "{why}"
    );
    let short = Short(bench.log.state());
    for written in ["pin", "tall-001", "tall"] {
        let refusal = short.timed(written, &Said::default());
        let why = refusal.expect_err("it has two kinds of pieces").to_string();
        assert!(
            why.contains("only where it has nothing else on it"),
            "{why}"
        );
    }
}

#[test]
fn a_part_stands_for_its_run_and_a_run_that_prints_for_none() {
    let mut bench = Bench::all_printed();
    let timed = |bench: &Bench, written: &str, said: Said| {
        let sample = Short(bench.log.state()).timed(written, &said);
        sample.map_err(|refusal| refusal.to_string())
    };
    let pins = Ok(sample("pin", "tall", 3, 1));
    for written in ["pin", "tall-002", "tall"] {
        assert_eq!(timed(&bench, written, Said::default()), pins);
    }
    assert_eq!(
        timed(&bench, "chord", Said::default()),
        Ok(sample("chord", "tall", 2, 2))
    );
    // Scrapped and begun again: it is not known yet how long that takes.
    let mut again = Bench::planned();
    again.start("tall-002", "12 08:00");
    again.note(scrapped("tall-002", None), "12 13:00");
    again.start("tall-002", "12 13:30");
    for written in ["tall", "tall-002"] {
        assert_eq!(
            timed(&again, written, Said::default()),
            Err("tall-002 prints still; note `finished tall-002` first".to_owned())
        );
    }
    // What was said besides is not so.
    let on = |machine| Said {
        machine: Some(machine),
        ..Said::default()
    };
    let why = timed(&bench, "tall-002", on("wide")).expect_err("it was on tall");
    assert_eq!(
        why,
        "tall-002 printed on tall, whole copies; leave `--machine` and `--lengths` out, or name the part"
    );
    let halves = Said {
        of: Some(2),
        ..Said::default()
    };
    assert!(timed(&bench, "tall-002", halves).is_err());
    assert!(timed(&bench, "chord", halves).is_ok());
    bench.note(
        Event::Timed {
            sample: sample("chord", "tall", 2, 2),
            minutes: 350.0,
            estimated: None,
        },
        "12 15:00",
    );
}

#[test]
fn a_piece_is_weighed_by_name_also_where_its_run_was_no_good() {
    let mut bench = Bench::planned();
    let weighed = |bench: &Bench, written: &str, said: Said| {
        let sample = Short(bench.log.state()).weighed(written, &said);
        sample.map_err(|refusal| refusal.to_string())
    };
    let plain = Said::default();
    assert_eq!(
        weighed(&bench, "pin", plain),
        Err("no pin is printed; note the run that printed it first".to_owned())
    );
    bench.start("tall-002", "12 08:00");
    bench.note(scrapped("tall-002", None), "12 14:00");
    let one = Ok(sample("pin", "tall", 1, 1));
    assert_eq!(weighed(&bench, "pin", plain), one);
    assert_eq!(weighed(&bench, "pin:3", plain), one);
    assert_eq!(
        weighed(&bench, "pin=2", plain),
        Ok(sample("pin", "tall", 2, 1))
    );
    let two = Said {
        pieces: Some(2),
        ..plain
    };
    assert_eq!(
        weighed(&bench, "pin:3", two),
        Err("`pin:3` is one piece; name the part for several: `pin`".to_owned())
    );
    assert_eq!(
        weighed(&bench, "pim:3", plain),
        Err("there is no part `pim`; did you mean `pin`?".to_owned())
    );
    bench.start("tall-001", "12 15:00");
    bench.finish("tall-001", "12 21:00");
    assert_eq!(
        weighed(&bench, "chord:1:2", plain),
        Ok(sample("chord", "tall", 1, 2))
    );
    bench.note(
        Event::Weighed {
            sample: sample("pin", "tall", 1, 1),
            grams: 3.4,
            estimated: None,
        },
        "12 21:10",
    );
}
