//! What was in a log before: taken in again under another scenario, but not where the clock or the other entries say that it cannot have been.

use super::lines::another_scenario;
use super::*;

/// A line as it stands in an export.
fn line(event: Event, at: DateTime<Utc>, noted: DateTime<Utc>) -> String {
    let entry = Entry {
        id: Uuid::new_v4(),
        at,
        noted,
        event,
    };
    entry.line()
}

/// Why a line that says that it was in a log before is refused after the plan was accepted; nothing of it is there then.
fn refused(event: Event, moment: DateTime<Utc>, noted: DateTime<Utc>) -> String {
    let mut bench = Bench::planned();
    let taken = bench
        .log
        .import(&line(event, moment, noted), at("20 08:00"));
    assert_eq!(bench.log.entries().len(), 1);
    taken.expect_err("it cannot have been").to_string()
}

#[test]
fn what_is_taken_in_has_happened_and_was_noted_by_now() {
    let note = || Event::Note {
        text: "squeaks".into(),
    };
    let said = "line 1: Thu 21 Jan 2027 08:00 has not come yet: it is Wed 20 Jan 2027 08:00";
    let why = refused(note(), at("21 08:00"), at("21 08:00"));
    assert!(why.starts_with(said), "{why}");
    let why = refused(note(), at("11 08:00"), at("21 08:00"));
    assert!(why.starts_with(said), "{why}");
    let why = refused(down("tall"), at("21 08:00"), at("11 08:00"));
    assert!(why.starts_with(said), "{why}");
    let far: DateTime<Utc> = "+262142-12-31T23:30:00Z".parse().expect("a moment");
    for noted in [at("11 08:00"), far] {
        let why = refused(started("tall-001"), far, noted);
        assert!(
            why.contains("the year 262142 is out of the calendar"),
            "{why}"
        );
    }
    // A rehearsal, noted with `--now`, is taken in with it.
    let mut bench = Bench::planned();
    let rehearsed = line(note(), at("21 08:00"), at("21 08:00"));
    assert!(bench.log.import(&rehearsed, at("21 08:00")).is_ok());
}

#[test]
fn what_the_other_entries_do_not_bear_out_is_refused_though_it_says_that_it_was_noted() {
    let noted = at("12 08:00");
    let refused = |event| refused(event, noted, noted);
    let weighed = Event::Weighed {
        sample: sample("nonsense", "nowhere", 1, 1),
        grams: 3.0,
        estimated: None,
    };
    assert!(refused(weighed).contains("no nonsense was ever begun"));
    let timed = Event::Timed {
        sample: sample("pin", "tall", 3, 1),
        minutes: 340.0,
        estimated: None,
    };
    assert!(refused(timed).contains("no pin was ever begun"));
    for event in [approved("cap"), rejected("cap")] {
        assert!(refused(event).contains("nothing of cap is printed by then"));
    }
    for complete in [false, true] {
        let why = refused(assembly("mast", complete));
        assert!(
            why.contains("mast takes chord, and none of it is printed by then"),
            "{why}"
        );
    }
    let joined = Event::Joined {
        part: "chord".into(),
        number: 1,
    };
    assert!(refused(joined).contains("nothing of chord is printed by then"));
    assert!(refused(finished("tall-001", &[])).contains("has not been started"));
    assert!(refused(up("nowhere")).contains("is not down"));
    // A machine that the scenario had when that was noted.
    let mut bench = Bench::planned();
    let gone = line(down("nowhere"), noted, noted);
    assert!(bench.log.import(&gone, at("20 08:00")).is_ok());
}

#[test]
fn lengths_that_stood_in_for_others_are_joined_again_though_the_scenario_has_no_such_part_any_more()
{
    // Of two copies in two lengths 1 of the first and 2 of the second are lost: those that are left make the first whole.
    let pieces: Vec<String> = [(1, 1), (1, 2), (2, 1), (2, 2)]
        .map(|(number, length)| piece("chord", number, length, 2, "mast"))
        .into();
    let chords = run("tall-001", "red", 11, 240.0, &pieces);
    let plan = format!(
        r#"{{"version":1,"build":"Footbridge","cost":{{"total":1}},"finish":"2027-01-13T12:00:00Z","runs":[{chords}]}}"#
    );
    let mut bench = Bench::empty();
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
    bench.start("tall-001", "11 08:00");
    let chord = |number, length| PieceId {
        part: "chord".into(),
        number,
        length,
        of: 2,
    };
    bench.note(
        finished("tall-001", &[chord(1, 1), chord(2, 2)]),
        "11 14:00",
    );
    let joined = Event::Joined {
        part: "chord".into(),
        number: 1,
    };
    bench.note(joined, "11 15:00");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let gone = SHOP
        .replace(", minutes_: 0", "")
        .replace("id: chord,", "id: beam,")
        .replace("chord: 1", "beam: 1");
    let gone = match scenario::read_text("shop.yaml", &gone, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let mut other = Log::open(&folder.path().join("shop.log.sqlite"), &gone).expect("a new log");
    let taken = other.import(&bench.log.export(), later());
    assert_eq!(taken.expect("all of it was noted once").added, 4);
}

#[test]
fn a_moment_out_of_the_calendar_that_is_in_a_log_already_does_no_harm() {
    let bench = Bench::planned();
    let far: DateTime<Utc> = "+262142-12-31T23:30:00Z".parse().expect("a moment");
    for (number, event) in [(2, started("tall-001")), (3, down("wide"))] {
        let entry = Entry {
            id: Uuid::new_v4(),
            at: far,
            noted: far,
            event,
        };
        bench
            .log
            .store
            .add(number, &entry)
            .expect("as it was noted once");
    }
    let log = Log::read(&bench.path(), &shop())
        .expect("a log")
        .expect("it");
    assert_eq!(log.entries()[1].at, far);
    for now in [at("12 08:00"), far - chrono::TimeDelta::days(400)] {
        assert_eq!(status(&shop(), log.state(), now).printing.len(), 1);
        let _ = progress(&shop(), &log, now.min(at("12 08:00")));
    }
}

#[test]
fn what_rests_on_an_entry_is_seen_though_the_scenario_would_refuse_it_by_now() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    let end = bench.note(finished("tall-001", &[]), "11 14:00");
    bench.start("tall-002", "12 08:00");
    // The build begins later than either run was started.
    let later_start = another_scenario();
    let refused = |scenario: &Scenario| {
        let mut log = Log::open(&bench.path(), scenario).expect("the log");
        let undone = log.note(Event::Undone { id: end.id }, at("12 09:00"), later());
        assert_eq!(log.state().made.len(), 2);
        undone.expect_err("a run was started after it").to_string()
    };
    let right =
        "not noted: entry 4 rests on it: without it tall is printing tall-001; undo 4 first";
    assert_eq!(refused(&shop()), right);
    assert_eq!(refused(&later_start), right);
}
