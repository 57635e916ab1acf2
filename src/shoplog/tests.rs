//! What can be noted, what is refused, and where a shop stands after it.

use std::path::Path;

use chrono::{DateTime, NaiveDateTime, Utc};
use tempfile::TempDir;

use super::*;
use crate::scenario;

/// Two machines; a chord in two lengths, a cap with a trial copy, pins; the boom needs the mast.
const SHOP: &str = r##"
build: {name: Footbridge, start: 2027-01-11 07:00, timezone: UTC}
currency: EUR
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines:
  - {id: tall, kind: bed, bed: [300, 300], height: 300, materials: [PLA], loaded: red, purge: 10, minutes_: 0}
  - {id: wide, kind: bed, bed: [300, 300], height: 300, materials: [PLA]}
filaments:
  - {id: red, material: PLA, colour: "#b0302a", density: 1.24, price_kg: 20, spools: [300, 1000], spool: 1000}
  - {id: grey, material: PLA, colour: "#808080", density: 1.24, price_kg: 20, spools: [500], spool: 1000}
settings:
  light: {layer: 0.3, line: 0.65, perimeters: 2, top: 3, bottom: 2, infill: 5%}
joints:
  dowel: {shortest: 100, bench: 5 min, cure: 1 h, grams: 2}
parts:
  - {id: chord, quantity: 1, size: [400, 30, 30], filament: red, settings: light, split: {joint: dowel, into: 2..3}}
  - {id: cap, quantity: 2, size: [40, 40, 20], filament: grey, settings: light, trial: 1}
  - {id: pin, quantity: 3, size: [20, 20, 20], filament: red, settings: light}
assemblies:
  - {id: mast, parts: {chord: 1, pin: 1}, bench: 1 h}
  - {id: boom, parts: {cap: 2, pin: 2}, needs: [mast], bench: 1 h, due: 2027-01-20 18:00, late: 5}
"##;

fn shop() -> Scenario {
    let text = SHOP.replace(", minutes_: 0", "");
    match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn piece(part: &str, number: u32, length: u32, of: u32, assembly: &str) -> String {
    format!(
        r#"{{"part":"{part}","number":{number},"length":{length},"of":{of},"assembly":"{assembly}",
            "x":50,"y":50,"turn":0,"size":[20,20,20]}}"#
    )
}

/// A run of six hours, of so many grams.
fn run(id: &str, filament: &str, day: u32, grams: f64, pieces: &[String]) -> String {
    let (machine, _) = id.split_once('-').expect("a machine and a number");
    format!(
        r#"{{"id":"{id}","machine":"{machine}","filament":"{filament}","swap_from":null,
            "setup":"2027-01-{day}T07:50:00Z","start":"2027-01-{day}T08:00:00Z","end":"2027-01-{day}T14:00:00Z",
            "minutes":360,"grams":{grams},"pieces":[{}]}}"#,
        pieces.join(",")
    )
}

/// Four runs: chord and pins on `tall`, the caps on `wide`.
fn plan() -> String {
    let runs = [
        run(
            "tall-001",
            "red",
            11,
            240.0,
            &[
                piece("chord", 1, 1, 2, "mast"),
                piece("chord", 1, 2, 2, "mast"),
            ],
        ),
        run(
            "tall-002",
            "red",
            12,
            120.0,
            &[
                piece("pin", 1, 1, 1, "mast"),
                piece("pin", 2, 1, 1, "boom"),
                piece("pin", 3, 1, 1, "boom"),
            ],
        ),
        run(
            "wide-001",
            "grey",
            11,
            60.0,
            &[piece("cap", 1, 1, 1, "boom")],
        ),
        run(
            "wide-002",
            "grey",
            12,
            60.0,
            &[piece("cap", 2, 1, 1, "boom")],
        ),
    ];
    format!(
        r#"{{"version":1,"build":"Footbridge","currency":"EUR","seed":1,"cost":{{"total":12.5}},"finish":"2027-01-13T10:00:00Z",
            "runs":[{}],"assemblies":[{{"id":"boom","complete":"2027-01-13T10:00:00Z","due":"2027-01-20T18:00:00Z"}}]}}"#,
        runs.join(",")
    )
}

/// `11 08:00` is that day of January 2027, UTC.
fn at(moment: &str) -> DateTime<Utc> {
    NaiveDateTime::parse_from_str(&format!("2027-01-{moment}"), "%Y-%m-%d %H:%M")
        .expect("a test writes moments that exist")
        .and_utc()
}

fn later() -> DateTime<Utc> {
    at("31 00:00")
}

/// A log in a folder of its own.
struct Bench {
    folder: TempDir,
    log: Log,
}

impl Bench {
    /// With nothing in it.
    fn empty() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let log = Log::open(&folder.path().join("shop.log.sqlite"), &shop());
        Self {
            log: log.expect("a new log"),
            folder,
        }
    }

    /// With the plan accepted.
    fn planned() -> Self {
        let mut bench = Self::empty();
        bench.note(Event::PlanAccepted { plan: plan() }, "11 07:00");
        bench
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("shop.log.sqlite")
    }

    fn note(&mut self, event: Event, moment: &str) -> Entry {
        match self.log.note(event, at(moment), later()) {
            Ok(entry) => entry,
            Err(trouble) => panic!("{trouble}"),
        }
    }

    /// The reason why an event is refused; and nothing of it is in the log.
    fn refused(&mut self, event: Event, moment: &str) -> String {
        let before = self.log.entries().len();
        let refusal = match self.log.note(event.clone(), at(moment), later()) {
            Err(Trouble::Refused(refusal)) => refusal.to_string(),
            other => panic!("{event:?}: {other:?}"),
        };
        let read = Log::read(&self.path(), &shop())
            .expect("a log")
            .expect("it");
        assert_eq!(read.entries().len(), before);
        refusal
    }

    fn start(&mut self, run: &str, moment: &str) {
        self.note(started(run), moment);
    }

    fn finish(&mut self, run: &str, moment: &str) {
        self.note(finished(run, &[]), moment);
    }

    /// Everything printed, by the 12th at 14:00.
    fn all_printed() -> Self {
        let mut bench = Self::planned();
        bench.start("tall-001", "11 08:00");
        bench.start("wide-001", "11 08:00");
        bench.finish("tall-001", "11 14:00");
        bench.finish("wide-001", "11 14:00");
        bench.note(approved("cap"), "11 14:05");
        bench.start("tall-002", "12 08:00");
        bench.start("wide-002", "12 08:00");
        bench.finish("tall-002", "12 14:00");
        bench.finish("wide-002", "12 14:00");
        bench
    }

    fn grams(&self, spool: &str) -> f64 {
        self.log.state().spools[spool].grams
    }
}

fn started(run: &str) -> Event {
    Event::Started {
        run: run.to_owned(),
        spool: None,
    }
}

fn finished(run: &str, scrapped: &[PieceId]) -> Event {
    Event::Finished {
        run: run.to_owned(),
        scrapped: scrapped.to_vec(),
        why: String::new(),
    }
}

fn scrapped(run: &str, grams: Option<f64>) -> Event {
    Event::Scrapped {
        run: run.to_owned(),
        why: "came off the bed".to_owned(),
        grams,
    }
}

fn approved(part: &str) -> Event {
    Event::Approved {
        part: part.to_owned(),
    }
}

fn rejected(part: &str) -> Event {
    Event::Rejected {
        part: part.to_owned(),
        why: String::new(),
    }
}

fn assembly(id: &str, complete: bool) -> Event {
    let assembly = id.to_owned();
    if complete {
        Event::AssemblyComplete { assembly }
    } else {
        Event::AssemblyStarted { assembly }
    }
}

fn opened(spool: &str, machine: &str) -> Event {
    Event::SpoolOpened {
        spool: spool.to_owned(),
        machine: machine.to_owned(),
    }
}

fn weighed_spool(spool: &str, grams: f64) -> Event {
    Event::SpoolWeighed {
        spool: spool.to_owned(),
        grams,
    }
}

fn bought(spool: &str, filament: &str, grams: f64) -> Event {
    Event::SpoolBought {
        spool: spool.to_owned(),
        filament: filament.to_owned(),
        grams,
        arrives: None,
    }
}

fn down(machine: &str) -> Event {
    Event::Down {
        machine: machine.to_owned(),
        why: "fan".to_owned(),
        until: None,
    }
}

fn up(machine: &str) -> Event {
    Event::Up {
        machine: machine.to_owned(),
    }
}

fn sample(part: &str, machine: &str, pieces: u32, of: u32) -> Sample {
    Sample {
        part: part.to_owned(),
        machine: machine.to_owned(),
        pieces,
        of,
    }
}

fn pin(number: u32) -> PieceId {
    PieceId {
        part: "pin".to_owned(),
        number,
        length: 1,
        of: 1,
    }
}

#[test]
fn a_run_is_started_then_finished_and_its_pieces_are_there() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    assert_eq!(bench.log.state().running.len(), 1);
    bench.finish("tall-002", "12 13:50");
    let state = bench.log.state();
    assert!(state.running.is_empty());
    let made: Vec<String> = state.made.keys().map(PieceId::to_string).collect();
    assert_eq!(made, ["pin:1", "pin:2", "pin:3"]);
    assert_eq!(state.made[&pin(1)].at, at("12 13:50"));
    assert_eq!(state.machines["tall"].runs, 1);
    assert_eq!(state.machines["tall"].failed, 0);
}

#[test]
fn pieces_that_are_scrapped_are_lost_and_the_others_good() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    bench.note(finished("tall-002", &[pin(3)]), "12 14:00");
    let state = bench.log.state();
    assert!(state.made.contains_key(&pin(2)) && !state.made.contains_key(&pin(3)));
    assert_eq!(state.lost[&pin(3)], 1);
    assert_eq!(state.machines["tall"].failed, 0);
}

#[test]
fn a_scrapped_run_loses_all_its_pieces_and_may_be_started_again() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    bench.note(scrapped("tall-002", None), "12 09:00");
    let state = bench.log.state();
    assert!(state.made.is_empty());
    assert_eq!(state.lost.values().sum::<u32>(), 3);
    assert_eq!(
        (state.machines["tall"].runs, state.machines["tall"].failed),
        (1, 1)
    );
    bench.start("tall-002", "12 09:30");
    bench.finish("tall-002", "12 15:30");
    assert_eq!(bench.log.state().made.len(), 3);
}

#[test]
fn a_run_that_cannot_have_been_started_is_refused() {
    let mut bench = Bench::planned();
    let why = bench.refused(started("tall-01"), "11 08:00");
    assert_eq!(why, "there is no run `tall-01`; did you mean `tall-001`?");
    let why = bench.refused(started("tall-001"), "10 08:00");
    assert!(
        why.starts_with("the build starts Mon 11 Jan 2027 07:00; set `build.start`"),
        "{why}"
    );
    bench.start("tall-001", "11 08:00");
    let why = bench.refused(started("tall-001"), "11 09:00");
    assert!(
        why.starts_with("tall-001 is printing already; note `finished tall-001`"),
        "{why}"
    );
    let why = bench.refused(started("tall-002"), "11 09:00");
    assert!(why.starts_with("tall is printing tall-001; note"), "{why}");
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(started("tall-001"), "11 15:00");
    assert_eq!(
        why,
        "tall-001 has been printed; the next on tall is tall-002"
    );
    let why = bench.refused(started("tall-002"), "11 13:59");
    assert!(
        why.contains("the run before it on tall ended Mon 11 Jan 2027 14:00"),
        "{why}"
    );
    bench.note(down("tall"), "11 14:10");
    let why = bench.refused(started("tall-002"), "11 15:00");
    assert_eq!(
        why,
        "tall is down since Mon 11 Jan 2027 14:10; note `up tall` first"
    );
}

#[test]
fn a_run_that_cannot_have_ended_is_refused() {
    let mut bench = Bench::planned();
    for event in [finished("tall-001", &[]), scrapped("tall-001", None)] {
        let why = bench.refused(event, "11 08:00");
        assert!(
            why.starts_with("tall-001 has not been started; note `started tall-001` first"),
            "{why}"
        );
    }
    let why = bench.refused(finished("tail-001", &[]), "11 08:00");
    assert_eq!(why, "there is no run `tail-001`; did you mean `tall-001`?");
    bench.start("tall-001", "11 08:00");
    let why = bench.refused(finished("tall-001", &[]), "11 07:59");
    assert!(
        why.starts_with("tall-001 was started Mon 11 Jan 2027 08:00, after"),
        "{why}"
    );
    let why = bench.refused(finished("tall-001", &[pin(1)]), "11 14:00");
    assert_eq!(why, "pin:1 is not on tall-001; on it are 2× chord");
    let why = bench.refused(scrapped("tall-001", Some(900.0)), "11 14:00");
    assert_eq!(
        why,
        "900 is no number of grams that can be; write 0 to 360 grams"
    );
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(finished("tall-001", &[]), "11 15:00");
    assert_eq!(
        why,
        "tall-001 ended Mon 11 Jan 2027 14:00; undo that entry if it is wrong"
    );
    bench.start("tall-002", "12 08:00");
    let why = bench.refused(finished("tall-002", &[pin(1), pin(1)]), "12 14:00");
    assert_eq!(why, "pin:1 is named twice; name it once");
}

#[test]
fn without_an_accepted_plan_no_run_is_known() {
    let mut bench = Bench::empty();
    let why = bench.refused(started("tall-001"), "11 08:00");
    assert!(
        why.starts_with("no plan has been accepted; plan with `--accept` first"),
        "{why}"
    );
}

#[test]
fn what_is_no_plan_is_not_accepted() {
    let mut bench = Bench::empty();
    for (text, said) in [
        ("{}".to_owned(), "the plan is no plan.json of this program"),
        (
            plan().replace("\"version\":1", "\"version\":7"),
            "the plan is of version 7",
        ),
        (
            plan().replace("tall-002", "tall-001"),
            "the plan has two runs `tall-001`",
        ),
        (
            plan().replace("T14:00", "T07:00"),
            "run `tall-001` of the plan ends before it starts",
        ),
    ] {
        let why = bench.refused(Event::PlanAccepted { plan: text }, "11 08:00");
        assert!(why.starts_with(said), "{why}");
    }
}

#[test]
fn what_has_not_happened_yet_is_refused() {
    let mut bench = Bench::planned();
    let event = Event::Note {
        text: "door left open".to_owned(),
    };
    let trouble = bench.log.note(event, at("11 08:03"), at("11 08:00"));
    let why = trouble.expect_err("three minutes ahead").to_string();
    assert!(
        why.starts_with(
            "not noted: Mon 11 Jan 2027 08:03 has not come yet: it is Mon 11 Jan 2027 08:00"
        ),
        "{why}"
    );
}

#[test]
fn a_clock_that_was_set_back_loses_nothing_and_confuses_nothing() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    // The clock is set back by a day: what is noted now seems to be before what was noted.
    let why = bench.refused(finished("tall-001", &[]), "10 14:00");
    assert!(why.contains("or set this computer's clock"), "{why}");
    let note = Event::Note {
        text: "clock was wrong".to_owned(),
    };
    bench.note(note, "10 14:01");
    bench.finish("tall-001", "11 14:00");
    let read = Log::read(&bench.path(), &shop())
        .expect("a log")
        .expect("it");
    assert_eq!(read.entries(), bench.log.entries());
    assert_eq!(read.state().made.len(), 2);
}

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
fn weighing_in_the_middle_of_a_run_leaves_only_the_rest_to_be_taken() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    // After 3 of 6 hours half of 240 g has flowed: the scales say 175 where 180 were expected; 120 more flow.
    bench.note(weighed_spool("red-1", 175.0), "11 11:00");
    bench.finish("tall-001", "11 14:00");
    assert_eq!(bench.grams("red-1"), 55.0);
}

#[test]
fn a_scrapped_run_takes_what_was_weighed_or_what_flowed() {
    for (grams, left) in [(Some(33.0), 267.0), (None, 300.0 - 80.0)] {
        let mut bench = Bench::planned();
        bench.start("tall-001", "11 08:00");
        // 2 of 6 hours: 80 of 240 g.
        bench.note(scrapped("tall-001", grams), "11 10:00");
        assert!((bench.grams("red-1") - left).abs() < 1e-9);
    }
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
    assert_eq!(why, "grey-1 is empty; name another: none is left");
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
        why.starts_with("wide is down since Mon 11 Jan 2027 09:00; note `up wide`"),
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
    bench.note(weighed("pin", "tall", 3, 1, 118.5), "12 15:00");
    let timed = |minutes| Event::Timed {
        sample: sample("pin", "tall", 3, 1),
        minutes,
    };
    let why = bench.refused(timed(0.0), "12 15:00");
    assert!(why.starts_with("0 is no number of minutes"), "{why}");
    bench.note(timed(344.0), "12 15:00");
    let measured = &bench.log.state().measured;
    assert_eq!(
        (measured[0].grams, measured[1].minutes),
        (Some(118.5), Some(344.0))
    );
}

#[test]
fn an_entry_is_undone_by_another_and_only_where_nothing_rests_on_it() {
    let mut bench = Bench::planned();
    let start = bench.note(started("tall-002"), "12 08:00");
    let finish = bench.note(finished("tall-002", &[]), "12 14:00");
    let why = bench.refused(Event::Undone { id: start.id }, "12 15:00");
    assert_eq!(
        why,
        "entry 3 rests on it: without it tall-002 has not been started; undo 3 first"
    );
    let undone = bench.note(Event::Undone { id: finish.id }, "12 15:00");
    assert_eq!(bench.log.state().running.len(), 1);
    assert!(bench.log.state().made.is_empty());
    assert_eq!(bench.grams("red-1"), 300.0);
    let why = bench.refused(Event::Undone { id: finish.id }, "12 15:00");
    assert!(why.starts_with("this entry is undone already"), "{why}");
    let why = bench.refused(Event::Undone { id: undone.id }, "12 15:00");
    assert!(why.ends_with("note it anew"), "{why}");
    let why = bench.refused(Event::Undone { id: Uuid::nil() }, "12 15:00");
    assert!(why.starts_with("there is no entry 0000"), "{why}");
    bench.note(Event::Undone { id: start.id }, "12 15:01");
    assert!(bench.log.state().running.is_empty());
    let read = Log::read(&bench.path(), &shop())
        .expect("a log")
        .expect("it");
    assert_eq!(read.entries().len(), 5);
    assert!(read.state().running.is_empty());
}

#[test]
fn a_note_says_something() {
    let mut bench = Bench::empty();
    let note = |text: String| Event::Note { text };
    let why = bench.refused(note("  ".into()), "11 08:00");
    assert!(why.starts_with("the note is empty"), "{why}");
    let why = bench.refused(note("x".repeat(4001)), "11 08:00");
    assert!(why.starts_with("the text is 4001 bytes long"), "{why}");
    bench.note(note("bearing squeaks".into()), "11 08:00");
}

#[test]
fn a_run_that_prints_on_under_a_new_plan_is_ended_by_its_old_name() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    // The new plan has the same name for the run that goes on, and new ones for the rest.
    let next = plan().replace("tall-002", "tall-003");
    bench.note(Event::PlanAccepted { plan: next }, "11 09:00");
    let open: Vec<String> = bench
        .log
        .state()
        .open_runs()
        .iter()
        .map(|&key| bench.log.state().planned(key).id.clone())
        .collect();
    assert_eq!(open, ["wide-001", "tall-003", "wide-002"]);
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(started("tall-001"), "11 15:00");
    assert!(why.starts_with("tall-001 has been printed"), "{why}");
    bench.start("tall-003", "12 08:00");
    let why = bench.refused(started("tall-002"), "12 08:00");
    assert!(why.starts_with("there is no run `tall-002`"), "{why}");
}

#[test]
fn a_plan_is_not_accepted_once_something_was_noted_that_it_does_not_know() {
    let mut bench = Bench::planned();
    let known = bench.log.entries().len();
    bench.start("tall-001", "11 08:00");
    let trouble = bench.log.accept(plan(), known, later());
    let why = trouble.expect_err("one entry too many").to_string();
    assert_eq!(
        why,
        "not noted: since the plan was made the log has grown by 1; plan again"
    );
    let known = bench.log.entries().len();
    bench
        .log
        .accept(plan(), known, later())
        .expect("nothing came between");
}
