//! Export and import.

use proptest::prelude::*;

use super::*;

/// Events of every kind, possible or not.
pub(super) fn event() -> impl Strategy<Value = Event> {
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
                estimated: None,
                sample: sample(part, machine, pieces, 1),
                grams,
            }
        ),
        (machine.clone(), 1.0..900.0f64).prop_map(|(machine, minutes)| Event::Timed {
            estimated: None,
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
    let line = entry.line().replace("tall-001", "tall-002");
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

/// A scenario that knows little of what was noted: later, fewer spools, no trial, other names.
pub(super) fn another_scenario() -> Scenario {
    let text = SHOP
        .replace(", minutes_: 0", "")
        .replace("start: 2027-01-11 07:00", "start: 2027-02-01 07:00")
        .replace("due: 2027-01-20", "due: 2027-02-20")
        .replace(", trial: 1", "")
        .replace("spools: [300, 1000]", "spools: [20]")
        .replace("id: pin,", "id: peg,")
        .replace("pin: ", "peg: ")
        .replace("id: mast,", "id: post,")
        .replace("needs: [mast]", "needs: [post]")
        .replace("id: wide,", "id: broad,");
    match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// A log with events of every kind that rests on the scenario.
pub(super) fn long_log() -> Bench {
    let mut bench = Bench::all_printed();
    bench.note(opened("red-2", "tall"), "12 15:00");
    bench.note(weighed_spool("red-2", 950.0), "12 15:10");
    bench.note(bought("red-3", "red", 1000.0), "12 15:20");
    bench.note(
        Event::SpoolEmpty {
            spool: "grey-1".into(),
        },
        "12 15:30",
    );
    bench.note(down("wide"), "12 16:00");
    bench.note(up("wide"), "12 17:00");
    let weighed = Event::Weighed {
        estimated: None,
        sample: sample("pin", "tall", 3, 1),
        grams: 11.0,
    };
    bench.note(weighed, "12 18:00");
    bench.note(rejected("cap"), "12 18:30");
    bench.note(assembly("mast", false), "13 08:00");
    bench.note(assembly("mast", true), "13 09:00");
    bench
}

/// A new log of a scenario, and where it is.
fn empty(scenario: &Scenario) -> (TempDir, Log) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let log = Log::open(&folder.path().join("shop.log.sqlite"), scenario);
    (folder, log.expect("a new log"))
}

#[test]
fn an_export_is_restored_though_the_scenario_has_changed_since() {
    let bench = long_log();
    let exported = bench.log.export();
    let (_folder, mut other) = empty(&another_scenario());
    let imported = other
        .import(&exported, later())
        .expect("all of it was noted once");
    assert_eq!(imported.added, bench.log.entries().len());
    assert_eq!(other.export(), exported);
    // A line that was in no log before is held against the scenario.
    let line = r#"{"at":"2027-01-12T08:00:00Z","event":{"approved":{"part":"cap"}}}"#;
    assert!(other.import(line, later()).is_err());
}

#[test]
fn what_is_restored_goes_with_the_other_entries() {
    let exported = long_log().log.export();
    let without = |event: &str| {
        let kept = exported.lines().filter(|line| !line.contains(event));
        let kept: Vec<&str> = kept.collect();
        assert!(kept.len() < exported.lines().count(), "{event}");
        let (_folder, mut other) = empty(&another_scenario());
        let refused = other.import(&kept.join("\n"), later());
        refused.expect_err("something is missing").to_string()
    };
    let why = without("plan-accepted");
    assert!(why.contains("no plan has been accepted"), "{why}");
    let why = without("\"started\":{\"run\":\"wide-001\"");
    assert!(why.contains("wide-001 has not been started"), "{why}");
    let why = without("\"down\"");
    assert!(why.contains("wide is not down"), "{why}");
    // The same twice, by another id.
    let twice = |event: &str| {
        let line = exported.lines().find(|line| line.contains(event));
        let line = line.expect("it was noted");
        let (id, _) = line.split_once("\"at\"").expect("an id comes first");
        let other_id = format!("{{\"id\":\"{}\",", Uuid::new_v4());
        let line = line.replace(id, &other_id);
        let (_folder, mut other) = empty(&another_scenario());
        let refused = other.import(&format!("{exported}{line}\n"), later());
        refused.expect_err("it was noted already").to_string()
    };
    let why = twice("assembly-complete");
    assert!(why.contains("mast was complete"), "{why}");
    let why = twice("spool-bought");
    assert!(why.contains("there is a spool red-3 already"), "{why}");
}

#[test]
fn what_two_copies_of_a_log_have_undone_is_undone_once() {
    let mut one = Bench::planned();
    let wrong = one.note(
        Event::Note {
            text: "wrong".into(),
        },
        "11 08:00",
    );
    let (_folder, mut other) = empty(&shop());
    other.import(&one.log.export(), later()).expect("a copy");
    let undone = Event::Undone { id: wrong.id };
    one.note(undone.clone(), "11 09:00");
    other
        .note(undone, at("11 09:30"), later())
        .expect("it is not undone there");
    let imported = one.log.import(&other.export(), later()).expect("the same");
    assert_eq!((imported.added, imported.known), (0, 3));
    assert_eq!(one.log.entries().len(), 3);
    let imported = other.import(&one.log.export(), later()).expect("the same");
    assert_eq!((imported.added, imported.known), (0, 3));
}

#[test]
fn what_is_taken_in_is_looked_at_while_another_program_writes() {
    let mut bench = Bench::planned();
    let exported = bench.log.export();
    let other = Store::open(&bench.path()).expect("the log");
    let writes = other.begin().expect("nobody else writes");
    // What is refused, and what is there already, waits for nobody.
    let line = r#"{"at":"2027-01-11T08:00:00Z","event":{"finished":{"run":"tall-001"}}}"#;
    let refused = bench
        .log
        .import(line, later())
        .expect_err("it was not started");
    assert!(
        matches!(refused, Trouble::Line { line: 1, .. }),
        "{refused}"
    );
    let known = bench.log.import(&exported, later()).expect("it is there");
    assert_eq!((known.added, known.known), (0, 1));
    drop(writes);
}

#[test]
fn what_others_note_while_lines_are_looked_at_stays_and_goes_before_them() {
    let mut bench = Bench::planned();
    let path = bench.path();
    let (begun, begins) = std::sync::mpsc::channel();
    let (tell, told) = std::sync::mpsc::channel::<()>();
    let notes = std::thread::spawn(move || {
        let mut log = Log::open(&path, &shop()).expect("the log");
        let mut count = 0;
        while told.try_recv() == Err(std::sync::mpsc::TryRecvError::Empty) {
            let note = Event::Note {
                text: format!("number {count}"),
            };
            log.note(note, at("11 08:00"), later()).expect("room");
            count += 1;
            let _ = begun.send(());
        }
        count
    });
    begins.recv().expect("it notes");
    let mut added = 0;
    for import in 0..20 {
        let lines = (0..30).map(|number| {
            format!(
                r#"{{"at":"2027-01-11T09:00:00Z","event":{{"note":{{"text":"import {import}, {number}"}}}}}}"#
            ) + "\n"
        });
        let imported = bench.log.import(&lines.collect::<String>(), later());
        added += imported.expect("they can be").added;
    }
    drop(tell);
    let noted = notes.join().expect("it ends");
    assert_eq!(added, 600);
    let read = Log::read(&bench.path(), &shop())
        .expect("a log")
        .expect("it");
    assert_eq!(read.entries().len(), 1 + 600 + noted);
    // Each import stands together.
    let of = |entry: &Entry| match &entry.event {
        Event::Note { text } => text.split_once(", ").map(|(import, _)| import.to_owned()),
        _ => None,
    };
    let mut runs: Vec<Option<String>> = read.entries().iter().map(of).collect();
    runs.dedup();
    assert_eq!(runs.iter().flatten().count(), 20);
}

#[test]
fn entries_that_are_undone_one_after_the_other_are_restored_as_they_were() {
    let mut bench = long_log();
    let last: Vec<Uuid> = bench
        .log
        .entries()
        .iter()
        .rev()
        .take(4)
        .map(|entry| entry.id)
        .collect();
    for id in last {
        bench.note(Event::Undone { id }, "13 10:00");
    }
    bench.note(assembly("mast", false), "13 11:00");
    let (_folder, mut other) = empty(&shop());
    other
        .import(&bench.log.export(), later())
        .expect("all of it was noted once");
    assert_eq!(other.entries(), bench.log.entries());
    assert_eq!(other.state().assemblies, bench.log.state().assemblies);
    assert_eq!(other.state().trials, bench.log.state().trials);
    // And where the last of them are.
    let mut bench = long_log();
    let last = bench.log.entries().last().expect("entries").id;
    bench.note(Event::Undone { id: last }, "13 10:00");
    let (_folder, mut other) = empty(&shop());
    other
        .import(&bench.log.export(), later())
        .expect("all of it was noted once");
    assert_eq!(other.state().assemblies, bench.log.state().assemblies);
}
