//! Export and import.

use proptest::prelude::*;

use super::*;

/// Events of every kind, possible or not.
fn event() -> impl Strategy<Value = Event> {
    let run = prop::sample::select(vec!["tall-001", "tall-002", "wide-001", "wide-002"]);
    let machine = prop::sample::select(vec!["tall", "wide"]);
    let spool = prop::sample::select(vec!["red-1", "red-2", "grey-1", "grey-2"]);
    let part = prop::sample::select(vec!["chord", "cap", "pin"]);
    let assembly_of = prop::sample::select(vec!["mast", "boom"]);
    let grams = 0.0..1000.0f64;
    prop_oneof![
        Just(Event::PlanAccepted {
            plan: plan(),
            basis: None
        }),
        run.clone().prop_map(started),
        run.clone().prop_map(|run| finished(run, &[])),
        (run.clone(), 1..4u32).prop_map(|(run, number)| finished(run, &[pin(number)])),
        (run, proptest::option::of(grams.clone())).prop_map(|(run, grams)| scrapped(run, grams)),
        (part.clone(), 1..3u32).prop_map(|(part, number)| Event::Joined {
            part: part.into(),
            number
        }),
        (part.clone(), machine.clone(), 1..3u32, grams.clone()).prop_map(
            |(part, machine, pieces, grams)| Event::Weighed {
                sample: sample(part, machine, pieces, 1),
                grams,
            }
        ),
        (machine.clone(), 1.0..900.0f64).prop_map(|(machine, minutes)| Event::Timed {
            sample: sample("pin", machine, 3, 1),
            minutes,
        }),
        part.clone().prop_map(approved),
        part.prop_map(rejected),
        (spool.clone(), machine.clone()).prop_map(|(spool, machine)| opened(spool, machine)),
        (spool.clone(), grams.clone()).prop_map(|(spool, grams)| weighed_spool(spool, grams)),
        (spool.clone(), grams).prop_map(|(spool, grams)| bought(spool, "grey", grams)),
        spool.prop_map(|spool| Event::SpoolEmpty {
            spool: spool.into()
        }),
        machine.clone().prop_map(down),
        machine.prop_map(up),
        (assembly_of, any::<bool>()).prop_map(|(id, complete)| assembly(id, complete)),
        "\\PC{0,30}".prop_map(|text| Event::Note { text }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn what_is_exported_is_taken_in_equal_and_only_once(
        events in prop::collection::vec((event(), 0..600i64, prop::option::of(0..60usize)), 1..60),
    ) {
        let mut bench = Bench::planned();
        for (event, minutes, undo) in events {
            let moment = at("11 08:00") + chrono::TimeDelta::minutes(minutes);
            // Most of them cannot be; what was noted is what counts.
            let _ = bench.log.note(event, moment, later());
            if let Some(entry) = undo.and_then(|undo| bench.log.entries().get(undo)) {
                let id = entry.id;
                let _ = bench.log.note(Event::Undone { id }, moment, later());
            }
        }
        let exported = bench.log.export();
        let mut other = Bench::empty();
        let imported = other.log.import(&exported, later());
        prop_assert!(imported.is_ok(), "{:?}", imported);
        prop_assert_eq!(other.log.entries(), bench.log.entries());
        prop_assert_eq!(&other.log.state().made, &bench.log.state().made);
        prop_assert_eq!(&other.log.state().spools, &bench.log.state().spools);
        prop_assert_eq!(other.log.export(), exported.clone());
        let again = other.log.import(&exported, later()).expect("the same lines");
        prop_assert_eq!(again.added, 0);
        prop_assert_eq!(again.known, bench.log.entries().len());
        // And what is read from the disk is what was in memory.
        let read = Log::read(&other.path(), &shop()).expect("a log").expect("it");
        prop_assert_eq!(read.entries(), bench.log.entries());
        prop_assert_eq!(&read.state().spools, &bench.log.state().spools);
    }
}

#[test]
fn an_entry_of_the_same_id_that_says_something_else_is_refused() {
    let mut bench = Bench::planned();
    let entry = bench.note(started("tall-001"), "11 08:00");
    let line = crate::shoplog::lines::line(&entry).replace("tall-001", "tall-002");
    let why = bench
        .log
        .import(&line, later())
        .expect_err("another run")
        .to_string();
    assert!(
        why.starts_with("line 1: entry ") && why.contains("says something else"),
        "{why}"
    );
    assert_eq!(bench.log.entries().len(), 2);
}
