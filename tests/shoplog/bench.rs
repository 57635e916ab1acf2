//! What the tests of the log share: a scenario, notes, a helper process that notes, accepts and takes in, and says what it noted.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use beamyard::scenario::{self, Scenario};
use beamyard::shoplog::{Event, Log, Trouble};
use chrono::Utc;
use uuid::Uuid;

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

/// What a helper notes.
pub enum What {
    /// So many notes.
    Notes(usize),
    /// Notes, accepted plans and imports by turns, until it is killed.
    All,
}

/// Says what the helper is to do: a log, and how many notes; without a number all.
const LOG: &str = "BEAMYARD_TEST_LOG";
const COUNT: &str = "BEAMYARD_TEST_NOTES";

/// So many entries the helper takes in at once; each says which import it is of.
pub const IMPORTED: usize = 20;

/// A process that opens the log, notes, and prints `noted ID` after each entry that is noted.
pub fn helper(log: &Path, what: What) -> Child {
    let own: PathBuf = std::env::current_exe().expect("this program");
    let mut command = Command::new(own);
    if let What::Notes(count) = what {
        command.env(COUNT, count.to_string());
    }
    command
        .args([
            "--ignored",
            "--exact",
            "--nocapture",
            "bench::the_helper_notes",
        ])
        .env(LOG, log)
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
    let count = std::env::var(COUNT).ok();
    let count: Option<usize> = count.map(|count| count.parse().expect("a number"));
    let mut log = match Log::open(Path::new(&path), &lamp()) {
        Ok(log) => log,
        Err(trouble) => panic!("{trouble}"),
    };
    for number in 0..count.unwrap_or(usize::MAX) {
        let noted = match number % 3 {
            1 if count.is_none() => accept(&mut log),
            2 if count.is_none() => import(&mut log),
            _ => note(&mut log, &format!("note {number}")).map(|id| vec![id]),
        };
        let told = match noted {
            Ok(ids) => ids.into_iter().map(|id| format!("noted {id}\n")),
            Err(trouble) => panic!("{trouble}"),
        };
        let mut out = std::io::stdout();
        out.write_all(told.collect::<String>().as_bytes())
            .expect("a pipe");
        out.flush().expect("a pipe");
    }
}

/// Accepts a plan that takes several pages of the file.
fn accept(log: &mut Log) -> Result<Vec<String>, Trouble> {
    let plan = format!(
        r#"{{"version":1,"finish":"2026-01-09T18:00:00Z","cost":{{"total":0}},"runs":[],"why":"{}"}}"#,
        "long ".repeat(5000)
    );
    let known = log.entries().len();
    let entry = log.accept(plan, "basis".to_owned().into(), known, Utc::now())?;
    Ok(vec![entry.id.to_string()])
}

/// Takes in several entries, each of which names the import.
fn import(log: &mut Log) -> Result<Vec<String>, Trouble> {
    let import = Uuid::new_v4();
    let ids: Vec<String> = (0..IMPORTED).map(|_| Uuid::new_v4().to_string()).collect();
    let lines = ids.iter().map(|id| {
        format!(
            r#"{{"id":"{id}","at":"2026-01-05T06:30:00Z","event":{{"note":{{"text":"import {import}"}}}}}}"#
        ) + "\n"
    });
    log.import(&lines.collect::<String>(), Utc::now())?;
    Ok(ids)
}
