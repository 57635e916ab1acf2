//! What is odd about an event and noted all the same: the warning says what to note if it is a slip, or what else is not so.

use std::path::Path;

use beamyard::report;
use beamyard::scenario::{self, Scenario};
use beamyard::shoplog::{Event, Log};
use chrono::{DateTime, NaiveDateTime, Utc};
use tempfile::TempDir;

const SHOP: &str = r##"
build: {name: Footbridge, start: 2027-01-11 07:00, timezone: UTC}
currency: EUR
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines:
  - {id: tall, kind: bed, bed: [300, 300], height: 300, materials: [PLA], loaded: red, purge: 10}
  - {id: wide, kind: bed, bed: [300, 300], height: 300, materials: [PETG]}
filaments:
  - {id: red, material: PLA, colour: "#b0302a", density: 1.24, price_kg: 20, spools: [300, 1000], spool: 1000}
  - {id: grey, material: PETG, colour: "#808080", density: 1.27, price_kg: 20, spools: [500], spool: 1000}
settings:
  light: {layer: 0.3, line: 0.65, perimeters: 2, top: 3, bottom: 2, infill: 5%}
parts:
  - {id: pin, quantity: 1, size: [20, 20, 20], filament: red, settings: light}
assemblies:
  - {id: mast, parts: {pin: 1}, bench: 1 h, cure: 4 h}
  - {id: boom, needs: [mast], bench: 1 h}
"##;

const PLAN: &str = r#"{"version":1,"build":"Footbridge","cost":{"total":1},"finish":"2027-01-13T12:00:00Z","runs":[
    {"id":"tall-001","machine":"tall","filament":"red","swap_from":null,"setup":"2027-01-11T07:50:00Z","start":"2027-01-11T08:00:00Z",
     "end":"2027-01-11T14:00:00Z","minutes":360,"grams":240,"pieces":[{"part":"pin","number":1,"length":1,"of":1,"assembly":"mast",
     "x":50,"y":50,"turn":0,"size":[20,20,20]}]}]}"#;

fn shop() -> Scenario {
    match scenario::read_text("shop.yaml", SHOP, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// `11 08:00` is that day of January 2027, UTC.
fn at(moment: &str) -> DateTime<Utc> {
    NaiveDateTime::parse_from_str(&format!("2027-01-{moment}"), "%Y-%m-%d %H:%M")
        .expect("a test writes moments that exist")
        .and_utc()
}

/// A log in which `tall-001` printed from red-1, 240 of its 300 g, from 8:00 to 14:00, if it is said so.
struct Bench {
    log: Log,
    _folder: TempDir,
}

impl Bench {
    fn planned() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let log = Log::open(&folder.path().join("shop.log.sqlite"), &shop()).expect("a new log");
        let mut bench = Self {
            log,
            _folder: folder,
        };
        let accepted = Event::PlanAccepted {
            plan: PLAN.to_owned(),
            basis: None,
        };
        assert!(bench.note(accepted, "11 07:00").is_empty());
        bench
    }

    fn printed() -> Self {
        let mut bench = Self::planned();
        let started = Event::Started {
            run: "tall-001".to_owned(),
            spool: None,
        };
        assert!(bench.note(started, "11 08:00").is_empty());
        let finished = Event::Finished {
            run: "tall-001".to_owned(),
            scrapped: Vec::new(),
            why: String::new(),
            sure: false,
        };
        assert!(bench.note(finished, "11 14:00").is_empty());
        bench
    }

    fn odd(&self, event: &Event, moment: &str) -> Vec<String> {
        let odd = report::odd(&shop(), self.log.state(), event, at(moment));
        odd.iter().map(|odd| odd.replace('\u{a0}', " ")).collect()
    }

    /// Notes it, odd or not; what is odd.
    fn note(&mut self, event: Event, moment: &str) -> Vec<String> {
        let odd = self.odd(&event, moment);
        let noted = self.log.note(event, at(moment), at("31 00:00"));
        assert!(noted.is_ok(), "{noted:?}");
        odd
    }
}

fn weighed(spool: &str, grams: f64) -> Event {
    Event::SpoolWeighed {
        spool: spool.to_owned(),
        grams,
    }
}

fn opened(spool: &str, machine: &str) -> Event {
    Event::SpoolOpened {
        spool: spool.to_owned(),
        machine: machine.to_owned(),
    }
}

#[test]
fn a_spool_that_was_weighed_before_what_is_noted() {
    let mut bench = Bench::printed();
    assert!(bench.odd(&weighed("red-1", 175.0), "11 14:00").is_empty());
    // At 11:00 half of the 240 g was still to come.
    assert_eq!(
        bench.note(weighed("red-1", 175.0), "11 11:00"),
        ["By the log 120 g have left red-1 since, and are taken off."]
    );
    bench.note(weighed("red-1", 57.0), "11 15:00");
    assert_eq!(
        bench.note(weighed("red-1", 280.0), "11 09:00"),
        [
            "red-1 was weighed, or found empty, Mon 11 Jan 15:00, after that: what the scales said then stays."
        ]
    );
}

#[test]
fn a_spool_that_was_emptied_or_put_on_before_what_is_noted() {
    let mut bench = Bench::printed();
    let empty = Event::SpoolEmpty {
        spool: "red-1".to_owned(),
    };
    assert!(bench.odd(&empty, "11 14:00").is_empty());
    assert!(bench.odd(&opened("red-2", "tall"), "11 14:00").is_empty());
    assert_eq!(
        bench.note(opened("red-2", "tall"), "11 07:30"),
        [
            "tall-001 printed on tall until Mon 11 Jan 14:00, after that, and what it took stays off the spool that was on by the log: weigh \
             both, `spool weighed SPOOL GRAMS`."
        ]
    );
    assert_eq!(
        bench.note(empty, "11 12:00"),
        [
            "By the log 80 g have left red-1 since: they are of another spool; weigh that one, `spool weighed SPOOL GRAMS`."
        ]
    );
}

#[test]
fn a_spool_that_was_to_come_later_or_is_not_for_its_machine() {
    let mut bench = Bench::planned();
    let bought = Event::SpoolBought {
        spool: "grey-2".to_owned(),
        filament: "grey".to_owned(),
        grams: 1000.0,
        arrives: Some(at("14 12:00")),
    };
    assert!(bench.note(bought, "11 08:00").is_empty());
    let said = "grey-2 was to arrive Thu 14 Jan 12:00: it counts as here from now on; `undo` if it is another spool.";
    for event in [weighed("grey-2", 990.0), opened("grey-2", "wide")] {
        assert_eq!(bench.odd(&event, "11 09:00"), [said]);
        assert!(bench.odd(&event, "14 12:00").is_empty());
    }
    assert_eq!(
        bench.note(opened("grey-1", "tall"), "11 09:00"),
        [
            "grey-1 is PETG, and by the scenario tall prints PLA: `undo` if it is another spool, or another machine."
        ]
    );
}

#[test]
fn a_machine_that_went_down_before_what_is_noted_of_it() {
    let mut bench = Bench::printed();
    let down = Event::Down {
        machine: "tall".to_owned(),
        why: "fan".to_owned(),
        until: None,
    };
    assert!(bench.odd(&down, "11 14:00").is_empty());
    assert_eq!(
        bench.odd(&down, "11 12:00"),
        [
            "tall-001 printed on tall until Mon 11 Jan 14:00, after that, as it is noted: `undo` if it went down later."
        ]
    );
    assert_eq!(
        bench.note(down, "11 07:10"),
        [
            "tall-001 was started on tall Mon 11 Jan 08:00, after that: if it was up again by then, note `up tall --at` with when it was; if \
             this is a slip, `undo`."
        ]
    );
}

#[test]
fn an_assembly_that_is_begun_before_what_goes_into_it_has_cured() {
    let mut bench = Bench::printed();
    let complete = |id: &str| Event::AssemblyComplete {
        assembly: id.to_owned(),
    };
    assert!(bench.note(complete("mast"), "12 08:00").is_empty());
    assert!(bench.odd(&complete("boom"), "12 12:00").is_empty());
    let begun = Event::AssemblyStarted {
        assembly: "boom".to_owned(),
    };
    assert_eq!(
        bench.note(begun, "12 11:59"),
        [
            "mast, which goes into it, cures until Tue 12 Jan 12:00: see that it holds, or `undo` if boom was begun later."
        ]
    );
    // That was said when it was begun.
    assert!(bench.note(complete("boom"), "12 11:59").is_empty());
}
