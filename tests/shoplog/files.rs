//! Files that are no log, or no longer a whole one: refused by name, and left as they are.

use std::fs;
use std::path::{Path, PathBuf};

use beamyard::shoplog::{Event, Log, Noting, Trouble};
use tempfile::TempDir;

use crate::bench::{ids, lamp, note};

/// A log with so many notes.
fn log(notes: usize) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("lamp.log.sqlite");
    let mut log = Log::open(&path, &lamp()).expect("a new log");
    for number in 0..notes {
        note(
            &mut log,
            &format!("note {number}, and {}", "more ".repeat(40)),
        )
        .expect("room");
    }
    drop(log);
    (folder, path)
}

/// One more entry, as the bench notes it.
fn noted(path: &Path) -> Result<(), Trouble> {
    let now = chrono::Utc::now();
    let event = Event::Note {
        text: "one more".to_owned(),
    };
    let mut log = Noting::open(path, &lamp())?;
    log.note(event, now, now).map(|_| ())
}

/// All ways of opening refuse the file by its name, and its bytes stay.
fn refused(path: &Path) -> String {
    let before = fs::read(path).expect("the file");
    let opened = Log::open(path, &lamp()).and_then(|mut log| note(&mut log, "one more"));
    let opened = opened.expect_err("no log");
    let noted = noted(path).expect_err("no log");
    let read = Log::read(path, &lamp()).err().expect("no log");
    for trouble in [&opened, &noted, &read] {
        assert!(matches!(trouble, Trouble::NotOurs { .. }), "{trouble:?}");
        let name = path.display().to_string();
        assert!(trouble.to_string().starts_with(&name), "{trouble}");
        assert!(
            trouble.to_string().contains("it was left as it is"),
            "{trouble}"
        );
    }
    assert_eq!(fs::read(path).expect("the file"), before);
    read.to_string()
}

#[test]
fn a_file_of_something_else_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("lamp.log.sqlite");
    let long = "notes on paper ".repeat(1000);
    for content in ["", "x", "SQLite format 3\0", "notes on paper", &long] {
        fs::write(&path, content).expect("a file");
        let why = refused(&path);
        assert!(why.contains("it is no log of this program"), "{why}");
    }
}

#[test]
fn a_database_of_another_program_is_refused_and_left_as_it_is() {
    let (_folder, path) = log(3);
    // The application's number stands at byte 68 of the header.
    let mut bytes = fs::read(&path).expect("the file");
    bytes[68..72].copy_from_slice(&[0, 0, 0, 0]);
    fs::write(&path, bytes).expect("a file");
    let why = refused(&path);
    assert!(why.contains("it is no log of this program"), "{why}");
}

#[test]
fn a_log_of_a_newer_program_is_refused_and_left_as_it_is() {
    let (_folder, path) = log(3);
    // The version stands at byte 60 of the header, four bytes. Source: sqlite.org/fileformat2.html, 1.3.
    let mut bytes = fs::read(&path).expect("the file");
    bytes[60..64].copy_from_slice(&99u32.to_be_bytes());
    fs::write(&path, bytes).expect("a file");
    let why = refused(&path);
    assert!(why.contains("it is of version 99"), "{why}");
}

#[test]
fn a_truncated_log_is_refused_at_whatever_page_it_ends() {
    let (_folder, path) = log(200);
    let whole = fs::read(&path).expect("the file");
    assert!(whole.len() > 10 * 4096);
    for kept in [100, 4096, 2 * 4096, whole.len() / 2, whole.len() - 4096] {
        fs::write(&path, &whole[..kept]).expect("a file");
        let why = refused(&path);
        assert!(why.contains("damaged"), "{kept}: {why}");
    }
    fs::write(&path, &whole).expect("a file");
    let log = Log::read(&path, &lamp()).expect("the log").expect("it");
    assert_eq!(log.entries().len(), 200);
}

/// The bytes with a page of rubbish in them.
fn rubbish(whole: &[u8], page: usize) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    bytes[page * 4096..(page + 1) * 4096].fill(0xA5);
    bytes
}

#[test]
fn a_log_with_a_page_of_rubbish_is_refused() {
    let (_folder, path) = log(200);
    let whole = fs::read(&path).expect("the file");
    for page in 1..whole.len() / 4096 {
        fs::write(&path, rubbish(&whole, page)).expect("a file");
        refused(&path);
    }
}

/// A log of which noting reads only what came after a checkpoint.
fn long_log() -> (TempDir, PathBuf) {
    let (folder, path) = log(0);
    let lines = (0..4000).map(|number| {
        let text = format!("note {number}, and {}", "more ".repeat(40));
        format!(
            "{{\"at\":\"2026-01-05T06:30:00Z\",\"event\":{{\"note\":{{\"text\":\"{text}\"}}}}}}\n"
        )
    });
    let text: String = lines.collect();
    let mut log = Log::open(&path, &lamp()).expect("the log");
    log.import(&text, chrono::Utc::now()).expect("notes");
    drop(log);
    let length = fs::metadata(&path).expect("the file").len();
    assert!(length > 1 << 20, "{length}");
    let checkpoints: i64 = rusqlite::Connection::open(&path)
        .and_then(|log| log.query_row("SELECT count(*) FROM checkpoint", [], |row| row.get(0)))
        .expect("the log");
    assert_eq!(checkpoints, 1);
    (folder, path)
}

#[test]
fn a_long_log_that_is_truncated_is_refused() {
    let (_folder, path) = long_log();
    let whole = fs::read(&path).expect("the file");
    for kept in [100, 4096, 2 * 4096, whole.len() / 2, whole.len() - 4096] {
        fs::write(&path, &whole[..kept]).expect("a file");
        let why = refused(&path);
        assert!(why.contains("damaged"), "{kept}: {why}");
    }
}

#[test]
fn rubbish_among_the_first_entries_of_a_long_log_is_found_within_a_hundred_notes() {
    let (_folder, path) = long_log();
    let whole = fs::read(&path).expect("the file");
    let pages = whole.len() / 4096;
    for page in [10, pages / 3, pages / 2] {
        fs::write(&path, rubbish(&whole, page)).expect("a file");
        assert!(Log::read(&path, &lamp()).is_err());
        // Where it is a page of ids, a note whose id would stand there is refused at once, and others are not.
        let more = (0..150).filter(|_| noted(&path).is_ok()).count();
        assert!(more < 100, "page {page}: {more}");
        // From then on nothing is written.
        refused(&path);
    }
}

#[test]
fn a_checkpoint_that_is_no_text_any_more_is_as_good_as_none() {
    let (_folder, path) = long_log();
    let mut bytes = fs::read(&path).expect("the file");
    // No note says so: what is kept beside the entries does.
    let begins = b"{\"version\":";
    let at = bytes.windows(begins.len()).position(|text| text == begins);
    bytes[at.expect("a checkpoint")] = 0xFF;
    fs::write(&path, bytes).expect("a file");
    if let Err(trouble) = noted(&path) {
        panic!("{trouble}");
    }
    assert_eq!(ids(&path).len(), 4001);
}

#[test]
fn entries_can_be_neither_changed_nor_taken_out_by_another_program() {
    let (_folder, path) = log(3);
    let other = rusqlite::Connection::open(&path).expect("the file");
    for statement in [
        "UPDATE events SET entry = 'x' WHERE sequence = 2",
        "DELETE FROM events WHERE sequence = 3",
        "DELETE FROM events",
        "INSERT OR REPLACE INTO events SELECT sequence, 'other', entry FROM events WHERE sequence = 1",
        "INSERT OR REPLACE INTO events SELECT 9, id, entry FROM events WHERE sequence = 1",
    ] {
        let said = other.execute(statement, []).expect_err("entries stay");
        let said = said.to_string();
        assert!(said.contains("undo them by another"), "{statement}: {said}");
    }
    drop(other);
    let log = Log::read(&path, &lamp()).expect("the log").expect("it");
    assert_eq!(log.entries().len(), 3);
}

#[cfg(unix)]
#[test]
fn a_new_log_may_be_read_by_whoever_may_read_other_files() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, path) = log(1);
    let other = folder.path().join("other");
    fs::write(&other, "").expect("a file");
    let mode = |path: &Path| fs::metadata(path).expect("a file").permissions().mode();
    assert_eq!(mode(&path), mode(&other));
}

#[test]
fn a_plan_that_cannot_be_accepted_is_known_before_and_makes_no_log() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("lamp.log.sqlite");
    let now = chrono::Utc::now();
    let no_plan = Log::may_accept(&path, &lamp(), "{}".to_owned(), 0, now);
    assert!(no_plan.is_err());
    assert!(!path.exists());
    let (_folder, path) = log(2);
    let plan = r#"{"version":1,"finish":"2026-01-09T18:00:00Z","cost":{"total":0},"runs":[]}"#;
    let may = |known| Log::may_accept(&path, &lamp(), plan.to_owned(), known, now);
    assert!(may(2).is_ok());
    let why = may(1).expect_err("one more was noted").to_string();
    assert!(why.contains("the log has grown by 1"), "{why}");
}

#[test]
fn what_is_tried_before_there_is_a_log_is_not_noted_in_one_that_another_program_has_made_by_then() {
    let (_folder, path) = log(1);
    let now = chrono::Utc::now();
    let event = || Event::Note {
        text: "tried".to_owned(),
    };
    let noted = Noting::rehearse(&path, &lamp()).and_then(|mut log| log.note(event(), now, now));
    assert!(noted.is_ok());
    let noted = Log::rehearse(&path, &lamp()).and_then(|mut log| log.note(event(), now, now));
    assert!(noted.is_ok());
    assert_eq!(ids(&path).len(), 1);
}

#[test]
fn a_file_that_calls_itself_a_log_and_has_other_tables_is_left_alone() {
    let (_folder, path) = log(1);
    let connection = rusqlite::Connection::open(&path).expect("a database");
    connection
        .execute_batch("DROP TABLE events; CREATE TABLE others (one INTEGER);")
        .expect("other tables");
    drop(connection);
    let told = refused(&path);
    assert!(
        told.contains(
            "it says that it is a log of this program, and is none (no such table: events"
        ),
        "{told}"
    );
}
