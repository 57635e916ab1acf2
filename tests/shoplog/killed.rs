//! Processes that are killed, and processes that write at once.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use rand::{RngExt, SeedableRng};

use beamyard::shoplog::{Event, Log};

use crate::bench::{IMPORTED, LAMP, What, acknowledged, helper, ids, lamp};

/// So often a process is killed, in so many folders; in each the log is made anew, so that its making is interrupted too.
const KILLS: usize = 300;
const FOLDERS: usize = 10;

/// So many times the program itself is begun, to note one thing.
const COMMANDS: usize = 90;

/// Longest that one lives, in ms, from its start or from its first note on: so it dies before it has opened the log, while it makes it, or
/// well into its notes, however busy the computer is.
const LONGEST_LIFE: u64 = 60;

#[test]
fn what_was_acknowledged_is_there_whenever_the_process_is_killed() {
    let mut chance = rand_pcg::Pcg64::seed_from_u64(1);
    let (mut seen, mut more) = (0, 0);
    let (mut plans, mut imports) = (0, 0);
    for _ in 0..FOLDERS {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let log = folder.path().join("lamp.log.sqlite");
        let mut told = BTreeSet::new();
        for kill in 0..KILLS / FOLDERS {
            let mut process = helper(&log, What::All);
            let mut printed = Vec::new();
            let mut out = BufReader::new(process.stdout.take().expect("it is piped"));
            // Of every second one the first note is waited for; the others may die before it.
            while kill % 2 == 1 && acknowledged(&printed).is_empty() {
                let read = out.read_until(b'\n', &mut printed).expect("a pipe");
                assert!(read > 0, "it ended before it noted anything");
            }
            std::thread::sleep(Duration::from_millis(chance.random_range(0..LONGEST_LIFE)));
            process.kill().expect("it runs until it is killed");
            out.read_to_end(&mut printed).expect("a pipe");
            process.wait().expect("it ended");
            told.extend(acknowledged(&printed));
        }
        let there = ids(&log);
        let distinct: BTreeSet<String> = there.iter().cloned().collect();
        assert_eq!(there.len(), distinct.len());
        let lost: Vec<&String> = told.difference(&distinct).collect();
        assert!(lost.is_empty(), "lost: {lost:?}");
        // Beyond what was acknowledged each process may have left one entry, or one import, that it had no time to tell of.
        assert!(there.len() <= told.len() + IMPORTED * (KILLS / FOLDERS));
        let (accepted, imported) = whole(&log);
        plans += accepted;
        imports += imported;
        seen += told.len();
        more += there.len() - told.len();
    }
    // Otherwise nothing was put to the test; at least those that were waited for.
    assert!(seen >= KILLS / 2, "{seen} acknowledged, {more} more");
    assert!(plans > 0 && imports > 0, "{plans} plans, {imports} imports");
}

/// How many plans were accepted and how many imports taken in; each import whole.
fn whole(log: &Path) -> (usize, usize) {
    let log = match Log::read(log, &lamp()) {
        Ok(log) => log.expect("it was made"),
        Err(trouble) => panic!("{trouble}"),
    };
    let mut plans = 0;
    let mut imports: BTreeMap<&str, usize> = BTreeMap::new();
    for entry in log.entries() {
        match &entry.event {
            Event::PlanAccepted { .. } => plans += 1,
            Event::Note { text } if text.starts_with("import") => {
                *imports.entry(text.as_str()).or_default() += 1;
            }
            _ => {}
        }
    }
    let parts: Vec<&usize> = imports
        .values()
        .filter(|&&count| count != IMPORTED)
        .collect();
    assert!(parts.is_empty(), "{parts:?}");
    (plans, imports.len())
}

#[test]
fn two_processes_write_at_once_and_neither_loses_anything() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let log = folder.path().join("lamp.log.sqlite");
    let processes = [
        helper(&log, What::Notes(150)),
        helper(&log, What::Notes(150)),
    ];
    let mut told = BTreeSet::new();
    for process in processes {
        let output = process.wait_with_output().expect("it ended");
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
        told.extend(acknowledged(&output.stdout));
    }
    assert_eq!(told.len(), 300);
    let there = ids(&log);
    assert_eq!(there.len(), 300);
    assert_eq!(there.into_iter().collect::<BTreeSet<_>>(), told);
}

#[test]
fn what_the_program_said_was_noted_is_there_whenever_it_is_killed() {
    let mut chance = rand_pcg::Pcg64::seed_from_u64(2);
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(folder.path().join("lamp.yaml"), LAMP).expect("a file");
    let mut told = BTreeSet::new();
    for number in 0..COMMANDS {
        let note = format!("note {number}");
        let mut process = Command::new(env!("CARGO_BIN_EXE_beamyard"))
            .args(["log", "lamp", "note", &note])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("it runs");
        // One in three comes to its end, however busy the computer is.
        if number % 3 > 0 {
            std::thread::sleep(Duration::from_millis(chance.random_range(0..LONGEST_LIFE)));
            process.kill().expect("it runs or has ended");
        }
        let output = process.wait_with_output().expect("it ended");
        if String::from_utf8_lossy(&output.stdout).contains("Noted as ") {
            told.insert(note);
        }
    }
    let log = Log::read(&folder.path().join("lamp.log.sqlite"), &lamp()).expect("a log");
    let log = log.expect("something was noted");
    let there = log.entries().iter().map(|entry| match &entry.event {
        Event::Note { text } => text.clone(),
        other => panic!("{other:?}"),
    });
    let there: Vec<String> = there.collect();
    let distinct: BTreeSet<String> = there.iter().cloned().collect();
    assert_eq!(there.len(), distinct.len());
    let lost: Vec<&String> = told.difference(&distinct).collect();
    assert!(lost.is_empty(), "lost: {lost:?}");
    assert!(told.len() >= COMMANDS / 3, "{}", told.len());
}
