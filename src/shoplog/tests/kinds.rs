//! Every kind of event: README has it with all its fields, it is taken in as it stands there, and undone without a trace.

use std::collections::BTreeSet;

use super::*;

const README: &str = include_str!("../../../README.md");

/// The rows of README's table of events: the event as it is written, and the whole row.
fn rows() -> Vec<(String, &'static str)> {
    let (_, table) = README
        .split_once("| `event` | left out |")
        .expect("README has the table");
    let rows = table
        .lines()
        .skip(2)
        .take_while(|line| line.starts_with('|'));
    let rows = rows.map(|row| {
        let event = row.split('`').nth(1).expect("it begins with an event");
        (event.to_owned(), row)
    });
    rows.collect()
}

fn kind(event: &str) -> String {
    event.split('"').nth(1).expect("a name").to_owned()
}

/// What serde says that there is instead of something that there is not.
fn known_instead(event: &str) -> BTreeSet<String> {
    let error = serde_json::from_str::<Event>(event).expect_err("there is no such");
    let error = error.to_string();
    let names = error.split('`').skip(3).step_by(2);
    names.map(str::to_owned).collect()
}

/// A shop in which such an event may come next.
fn before(kind: &str) -> Bench {
    let mut bench = Bench::planned();
    match kind {
        "finished" | "scrapped" => bench.start("tall-002", "11 08:00"),
        "joined" => {
            bench.start("tall-001", "11 08:00");
            bench.finish("tall-001", "11 14:00");
        }
        "approved" => {
            bench.start("wide-001", "11 08:00");
            bench.finish("wide-001", "11 14:00");
        }
        "up" => drop(bench.note(down("wide"), "11 08:00")),
        "weighed" | "timed" | "rejected" | "lost" | "assembly-started" | "assembly-complete" => {
            return Bench::all_printed();
        }
        _ => {}
    }
    bench
}

/// All that a state is.
fn told(state: &State) -> String {
    // What is undone was noted at some moment, too.
    let state = &State {
        latest: later(),
        ..state.clone()
    };
    let kept = Checkpoint::of(state, 1, String::new(), None).text();
    format!("{:?}{:?}", kept.expect("it can be written"), state.measured)
}

#[test]
fn readme_has_all_events_with_all_their_fields() {
    let kinds: BTreeSet<String> = rows().iter().map(|(event, _)| kind(event)).collect();
    assert_eq!(kinds, known_instead(r#"{"?": {}}"#));
    for (event, row) in rows() {
        let bogus = event.replacen("\": {", "\": {\"?\": 1, ", 1);
        let fields = known_instead(&bogus);
        assert!(
            !fields.is_empty() || event.contains("\"id\"") || event.contains("{\"text\""),
            "{bogus}"
        );
        for field in fields {
            assert!(row.contains(&format!("\"{field}\"")), "{field}: {row}");
        }
    }
}

#[test]
fn what_readme_shows_is_taken_in_and_undone_without_a_trace() {
    for (event, _) in rows() {
        let kind = kind(&event);
        let mut bench = before(&kind);
        let event = event
            .replace("\"TEXT\"", &serde_json::to_string(&plan()).expect("JSON"))
            .replace(
                "6b3e9a51-4c1d-5f08-9d27-0c547be1a6f3",
                &bench.log.entries()[0].id.to_string(),
            );
        let state = told(bench.log.state());
        let line = format!(r#"{{"at": "2027-01-15T08:00:00Z", "event": {event}}}"#);
        let taken = bench.log.import(&line, later());
        assert!(taken.is_ok(), "{kind}: {taken:?}");
        let entry = bench
            .log
            .entries()
            .last()
            .cloned()
            .expect("it was taken in");
        // Read back it is what it was.
        let again = serde_json::from_str::<Entry>(&entry.line());
        assert_eq!(again.ok().as_ref(), Some(&entry));
        if kind == "undone" {
            continue;
        }
        let unchanged = told(bench.log.state()) == state;
        assert!(!unchanged || kind == "note", "{kind} changes nothing");
        bench.note(Event::Undone { id: entry.id }, "15 09:00");
        assert_eq!(told(bench.log.state()), state, "{kind}");
    }
}

#[test]
fn what_is_null_is_left_out() {
    for (with, without) in [
        (
            r#"{"scrapped":{"run":"tall-001","why":null,"grams":null}}"#,
            r#"{"scrapped":{"run":"tall-001"}}"#,
        ),
        (
            r#"{"finished":{"run":"tall-001","scrapped":null,"why":null,"sure":null}}"#,
            r#"{"finished":{"run":"tall-001"}}"#,
        ),
        (
            r#"{"weighed":{"sample":{"part":"pin","machine":"tall","pieces":null,"of":null},"grams":3.0}}"#,
            r#"{"weighed":{"sample":{"part":"pin","machine":"tall"},"grams":3.0}}"#,
        ),
    ] {
        let event: Event = serde_json::from_str(with).expect("an event");
        assert_eq!(serde_json::to_string(&event).expect("JSON"), without);
    }
}
