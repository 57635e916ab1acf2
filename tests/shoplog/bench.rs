//! What the tests of the log share: a scenario, notes, a helper process that notes and says what it noted.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use beamyard::scenario::{self, Scenario};
use beamyard::shoplog::{Event, Log, Trouble};
use chrono::Utc;

/// One machine, one part.
pub const LAMP: &str = r##"
build: {name: Shelf lamp, start: 2026-01-05 07:00, timezone: Europe/Oslo}
currency: EUR
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines:
  - {id: desk, kind: bed, bed: [200, 200], height: 200, materials: [PLA]}
filaments:
  - {id: white, material: PLA, colour: "#ffffff", density: 1.24, price_kg: 20, spools: [1000], spool: 1000}
settings:
  light: {layer: 0.3, line: 0.65, perimeters: 2, top: 3, bottom: 2, infill: 5%}
parts:
  - {id: foot, size: [180, 80, 20], filament: white, settings: light}
  - {id: shade, quantity: 2, spares: 1, size: [150, 150, 120], solid: 0.3, filament: white, settings: light, alone: true}
assemblies:
  - {id: lamp, parts: {foot: 1, shade: 2}, due: 2026-01-20 18:00, late: 5}
"##;

pub fn lamp() -> Scenario {
    match scenario::read_text("lamp.yaml", LAMP, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

pub fn note(log: &mut Log, text: &str) -> Result<String, Trouble> {
    let now = Utc::now();
    let event = Event::Note {
        text: text.to_owned(),
    };
    log.note(event, now, now).map(|entry| entry.id.to_string())
}

/// Ids of all entries of a log.
pub fn ids(path: &Path) -> Vec<String> {
    let log = match Log::read(path, &lamp()) {
        Ok(log) => log,
        Err(trouble) => panic!("{trouble}"),
    };
    let entries = log.iter().flat_map(|log| log.entries());
    entries.map(|entry| entry.id.to_string()).collect()
}

/// Says what the helper is to do: a log, and how many notes.
const LOG: &str = "BEAMYARD_TEST_LOG";
const COUNT: &str = "BEAMYARD_TEST_NOTES";

/// A process that opens the log, notes so many times, and prints `noted ID` after each.
pub fn helper(log: &Path, count: usize) -> Child {
    let own: PathBuf = std::env::current_exe().expect("this program");
    Command::new(own)
        .args([
            "--ignored",
            "--exact",
            "--nocapture",
            "bench::the_helper_notes",
        ])
        .env(LOG, log)
        .env(COUNT, count.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the helper runs")
}

/// Ids in whole lines of what a helper printed.
pub fn acknowledged(printed: &[u8]) -> Vec<String> {
    let printed = String::from_utf8_lossy(printed);
    let whole = printed
        .split_inclusive('\n')
        .filter(|line| line.ends_with('\n'));
    // The test harness may have begun a line of its own before.
    let ids = whole.filter_map(|line| line.trim_end().split_once("noted ").map(|(_, id)| id));
    ids.map(str::to_owned).collect()
}

#[test]
#[ignore = "a process that other tests start"]
fn the_helper_notes() {
    let Ok(path) = std::env::var(LOG) else {
        return;
    };
    let count = std::env::var(COUNT).expect("a number of notes");
    let count: usize = count.parse().expect("a number");
    let mut log = match Log::open(Path::new(&path), &lamp()) {
        Ok(log) => log,
        Err(trouble) => panic!("{trouble}"),
    };
    for number in 0..count {
        match note(&mut log, &format!("note {number}")) {
            Ok(id) => {
                let mut out = std::io::stdout();
                out.write_all(format!("noted {id}\n").as_bytes())
                    .expect("a pipe");
                out.flush().expect("a pipe");
            }
            Err(trouble) => panic!("{trouble}"),
        }
    }
}
