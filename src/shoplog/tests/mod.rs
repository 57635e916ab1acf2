//! What can be noted, what is refused, and where a shop stands after it.

mod changed;
mod checkpoint;
mod curing;
mod kinds;
mod later;
mod lengths;
mod lines;
mod lost;
mod machines;
mod measured;
mod named;
mod progress;
mod restored;
mod runs;
mod spools;
mod status;
mod stock;
mod tally;

use std::collections::BTreeMap;
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
    shop_with(&[])
}

/// The shop with some of its text otherwise; each text is there.
fn shop_with(changes: &[(&str, &str)]) -> Scenario {
    let text = SHOP.replace(", minutes_: 0", "");
    let text = changes.iter().fold(text, |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    });
    match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// How a shop stands in which no spool was bought since the plan.
fn status(scenario: &Scenario, state: &State, now: DateTime<Utc>) -> Status {
    super::status(scenario, state, &BTreeMap::new(), now)
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
    /// With nothing in it. Checkpoints are kept, short as it is.
    fn empty() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let log = Log::open(&folder.path().join("shop.log.sqlite"), &shop());
        let log = log.expect("a new log");
        Self {
            log: Log {
                short_up_to: 0,
                ..log
            },
            folder,
        }
    }

    /// With the plan accepted.
    fn planned() -> Self {
        let mut bench = Self::empty();
        bench.note(
            Event::PlanAccepted {
                plan: plan(),
                basis: None,
            },
            "11 07:00",
        );
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

    /// Everything printed, by the 12th at 14:00, and the chord joined.
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
        bench.note(joined("chord", 1), "12 14:10");
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
        sure: false,
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
        variant: None,
    }
}

fn rejected(part: &str) -> Event {
    Event::Rejected {
        part: part.to_owned(),
        why: String::new(),
    }
}

fn joined(part: &str, number: u32) -> Event {
    Event::Joined {
        part: part.to_owned(),
        number,
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
