//! How long it takes to note one event, sync included, and to load a long log: `cargo bench --bench shoplog`.
//!
//! Each row first says what was done, then how long it took: median, and nine in ten, over so many times. The disk is that of the
//! temporary folder, so set `TMPDIR` to the disk that counts; what it takes to sync a page to it comes first. Events are runs that are started and scrapped, spools that are weighed and
//! notes, over the plan of `scenarios/first-week.yaml`; and one more note after many accepted plans of `scenarios/quayside-crane.yaml`, each
//! with runs of its own names.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use beamyard::planning::{Options, plan};
use beamyard::report;
use beamyard::scenario::{Scenario, read};
use beamyard::search::portfolio::Limit;
use beamyard::shoplog::{Event, Log, Noting, progress};
use chrono::{DateTime, TimeDelta, Utc};

/// A month at a busy bench, and more than anybody notes in years.
const LENGTHS: [usize; 3] = [500, 10_000, 100_000];
/// A plan a day for half a year.
const PLANS: [usize; 3] = [1, 15, 150];

fn row(what: &str, mut times: Vec<Duration>) {
    times.sort();
    let at = |share: usize| times[(times.len() - 1) * share / 100].as_secs_f64() * 1000.0;
    println!(
        "{what:<62} {:>9.2} ms {:>9.2} ms  {:>4}×",
        at(50),
        at(90),
        times.len()
    );
}

fn timed(times: usize, mut one: impl FnMut()) -> Vec<Duration> {
    let times = (0..times).map(|_| {
        let start = Instant::now();
        one();
        start.elapsed()
    });
    times.collect()
}

fn started(scenario: &Scenario) -> DateTime<Utc> {
    scenario.build.start
}

/// The lines of a log of so many entries.
fn lines(scenario: &Scenario, plan: &str, count: usize) -> String {
    let mut text = String::new();
    let mut put = |number: usize, event: &Event| {
        let at = started(scenario) + TimeDelta::minutes(number as i64);
        let event = serde_json::to_string(event).expect("an event");
        text.push_str(&format!(
            "{{\"at\":\"{}\",\"event\":{event}}}\n",
            at.to_rfc3339()
        ));
    };
    put(
        0,
        &Event::PlanAccepted {
            plan: plan.to_owned(),
            basis: None,
        },
    );
    let run = || "printer-001".to_owned();
    for number in 1..count {
        let event = match number % 4 {
            1 => Event::Started {
                run: run(),
                spool: None,
            },
            2 => Event::Scrapped {
                run: run(),
                why: "warped".to_owned(),
                grams: Some(3.5),
            },
            3 => Event::SpoolWeighed {
                spool: "white-1".to_owned(),
                grams: 900.0,
            },
            _ => Event::Note {
                text: format!("layer shift at hour {number}"),
            },
        };
        put(number, &event);
    }
    text
}

/// An example, and a plan of it.
fn example(name: &str) -> (PathBuf, Scenario, String) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let path = folder.join(format!("{name}.yaml"));
    let scenario = read(&path).expect("the example reads").scenario;
    let options = Options {
        limit: Some(Limit::Moves(200)),
        ..Options::default()
    };
    let planned = plan(&scenario, &options).expect("the example can be planned");
    let accepted = report::json(&scenario, &planned.plan);
    (path, scenario, accepted)
}

/// One note, from the start of the program to its end.
fn command(scenario_file: &Path, now: DateTime<Utc>) -> Vec<Duration> {
    timed(20, || {
        let output = Command::new(env!("CARGO_BIN_EXE_beamyard"))
            .arg("log")
            .arg(scenario_file)
            .args(["note", "squeaks", "--now", &now.to_rfc3339()])
            .output()
            .expect("it ran");
        assert!(output.status.success());
    })
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder") {
        let file = entry.expect("a file").path();
        let to = to.join(file.file_name().expect("a name"));
        if file.is_dir() {
            copy(&file, &to);
        } else {
            std::fs::copy(&file, to).expect("a copy");
        }
    }
}

/// One note after many accepted plans, none of which has a run of another's name.
fn after_plans() {
    let (path, scenario, accepted) = example("quayside-crane");
    let now = started(&scenario);
    // The scenario is where its parts are; the log beside it would be in the way of whoever works here.
    let folder = tempfile::tempdir().expect("a temporary folder");
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    copy(&here.join("scenarios"), &folder.path().join("scenarios"));
    copy(&here.join("demo-data"), &folder.path().join("demo-data"));
    let name = path.file_name().expect("a name");
    let scenario_file = folder.path().join("scenarios").join(name);
    let file = beamyard::shoplog::beside(&scenario_file);
    let mut log = Log::open(&file, &scenario).expect("a new log");
    let mut there = 0;
    for count in PLANS {
        for number in there..count {
            let mut plan = accepted.clone();
            for machine in &scenario.machines {
                let run = format!("\"{}-", machine.id);
                plan = plan.replace(&run, &format!("{run}{number}"));
            }
            let accepted = Event::PlanAccepted { plan, basis: None };
            log.note(accepted, now, now).expect("noted");
        }
        there = count;
        row(
            &format!("{count} accepted plans: loaded"),
            timed(9, || drop(Log::read(&file, &scenario).expect("the log"))),
        );
        row(
            &format!("{count} accepted plans: `beamyard log … note`, the whole command"),
            command(&scenario_file, now),
        );
        // The command has noted since.
        log = Log::open(&file, &scenario).expect("the log");
    }
}

/// What the disk takes for a page that is written at the end of a file, as each note has one at least.
fn disk() {
    let mut file = tempfile::tempfile().expect("a temporary file");
    let page = [0x5A; 4096];
    let times = timed(100, || {
        file.write_all(&page).expect("room");
        file.sync_data().expect("it can be synced");
    });
    let slowest = times.iter().max().copied().unwrap_or_default();
    row("the disk: 4 KiB more in a file, synced", times);
    row("the disk: the slowest of those hundred", vec![slowest]);
}

fn main() {
    let (path, scenario, accepted) = example("first-week");
    println!("{:<62} {:>12} {:>12}", "", "median", "9 of 10");
    disk();
    for count in LENGTHS {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let scenario_file = folder.path().join("first-week.yaml");
        std::fs::copy(&path, &scenario_file).expect("the scenario");
        let file = beamyard::shoplog::beside(&scenario_file);
        let now = started(&scenario) + TimeDelta::minutes(count as i64 + 1);
        let mut log = Log::open(&file, &scenario).expect("a new log");
        let start = Instant::now();
        let text = lines(&scenario, &accepted, count);
        log.import(&text, now)
            .expect("what was made can be taken in");
        let import = start.elapsed();
        drop(log);

        let load = timed(9, || {
            let log = Log::read(&file, &scenario).expect("the log").expect("it");
            assert_eq!(log.entries().len(), count);
        });
        row(&format!("{count} entries: loaded"), load);
        let log = Log::read(&file, &scenario).expect("the log").expect("it");
        row(
            &format!("{count} entries: state to plan from"),
            timed(9, || drop(progress(&scenario, &log, now))),
        );
        drop(log);
        row(&format!("{count} entries: taken in"), vec![import]);

        let note = || Event::Note {
            text: "bearing squeaks".to_owned(),
        };
        let mut log = Log::open(&file, &scenario).expect("the log");
        row(
            &format!("{count} entries: one more, log open"),
            timed(50, || drop(log.note(note(), now, now).expect("noted"))),
        );
        drop(log);
        // With one of a hundred what the entries add up to is kept.
        let times = timed(100, || {
            let mut log = Noting::open(&file, &scenario).expect("the log");
            log.note(note(), now, now).expect("noted");
        });
        let slowest = times.iter().max().copied().unwrap_or_default();
        row(
            &format!("{count} entries: one more, log opened and closed"),
            times,
        );
        row(
            &format!("{count} entries: the slowest of those hundred"),
            vec![slowest],
        );
        row(
            &format!("{count} entries: `beamyard log … note`, the whole command"),
            command(&scenario_file, now),
        );
    }
    after_plans();
}
