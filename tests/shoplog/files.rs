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
        let left = matches!(trouble, Trouble::NotOurs { .. } | Trouble::Damaged { .. });
        assert!(left, "{trouble:?}");
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

/// Texts of all notes, where the log can be read.
fn notes(path: &Path) -> Option<Vec<String>> {
    let log = Log::read(path, &lamp()).ok()?.expect("it is there");
    let texts = log.entries().iter().map(|entry| match &entry.event {
        Event::Note { text } => text.clone(),
        other => panic!("{other:?}"),
    });
    Some(texts.collect())
}

/// Nothing is added, and what is read is all of it or refused; the file stays as it is.
fn nothing_is_added(path: &Path, all: &[String]) -> String {
    let before = fs::read(path).expect("the file");
    let opened = Log::open(path, &lamp()).and_then(|mut log| note(&mut log, "one more"));
    let why = opened.expect_err("it is damaged").to_string();
    if let Some(there) = notes(path) {
        assert_eq!(there, all);
    }
    assert_eq!(fs::read(path).expect("the file"), before);
    why
}

#[test]
fn to_a_log_with_a_page_of_rubbish_nothing_is_added_and_no_page_hides_an_entry() {
    let (_folder, path) = log(200);
    let whole = fs::read(&path).expect("the file");
    let all = notes(&path).expect("it is whole");
    let (mut read, mut salvaged) = (0, 0);
    for page in 1..whole.len() / 4096 {
        fs::write(&path, rubbish(&whole, page)).expect("a file");
        let why = nothing_is_added(&path, &all);
        assert!(why.contains("damaged"), "{page}: {why}");
        read += usize::from(notes(&path).is_some());
        // Every entry before the damage can be exported.
        let (lines, count) = Log::salvage(&path).expect("a log");
        assert_eq!(lines.lines().count(), count);
        for (line, text) in lines.lines().zip(&all) {
            assert!(line.contains(text.as_str()), "{line}");
        }
        salvaged = salvaged.max(count);
    }
    // Pages of what only noting asks for, and pages of the last entries.
    assert!(read > 0);
    assert!(salvaged > 150, "{salvaged}");
}

#[test]
fn a_bit_that_is_another_anywhere_changes_no_entry() {
    let (_folder, path) = log(60);
    let whole = fs::read(&path).expect("the file");
    let all = notes(&path).expect("it is whole");
    let (mut refused, mut flipped) = (0, 0);
    // Every so many bytes, so that all kinds of pages are met; of each byte another bit.
    for at in (0..whole.len()).step_by(53) {
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << (at % 8);
        fs::write(&path, &bytes).expect("a file");
        flipped += 1;
        match notes(&path) {
            Some(there) => assert_eq!(there, all, "byte {at}"),
            None => refused += 1,
        }
        let opened = Log::open(&path, &lamp());
        if let Ok(log) = opened {
            assert_eq!(log.entries().len(), all.len(), "byte {at}");
        }
        for beside in ["-wal", "-shm"].map(|suffix| beside(&path, suffix)) {
            let _ = fs::remove_file(beside);
        }
    }
    // Text of entries fills a third of the file at least.
    assert!(refused > flipped / 4, "{refused} of {flipped}");
}

#[test]
fn a_log_of_a_program_before_is_read_and_brought_forward() {
    for without in [
        "DROP TABLE digests",
        "DROP TABLE digests; DROP TABLE checkpoint",
    ] {
        let (_folder, path) = log(30);
        let all = notes(&path).expect("it is whole");
        let old = rusqlite::Connection::open(&path).expect("the file");
        old.execute_batch(without).expect("they are there");
        let version = if without.contains("checkpoint") { 1 } else { 2 };
        old.pragma_update(None, "user_version", version)
            .expect("a file");
        drop(old);
        assert_eq!(notes(&path), Some(all.clone()));
        if let Err(trouble) = noted(&path) {
            panic!("{trouble}");
        }
        assert_eq!(notes(&path).expect("it is whole").len(), 31);
        // From then on a digit that is another is found.
        let spoilt = rusqlite::Connection::open(&path).expect("the file");
        spoilt
            .execute_batch(
                "DROP TRIGGER events_are_not_changed;
                UPDATE events SET entry = replace(entry, 'note 7,', 'note 8,')",
            )
            .expect("nothing forbids it any more");
        drop(spoilt);
        let why = refused(&path);
        assert!(why.contains("entry 8 is not what was noted"), "{why}");
    }
}

/// A file of a log's name and more.
fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// A log as a program leaves it that is killed: with entries that are not in its file yet.
fn killed(notes: usize) -> (TempDir, PathBuf) {
    let (folder, path) = log(notes);
    let mut open = Log::open(&path, &lamp()).expect("the log");
    note(&mut open, "the last before the power failed").expect("room");
    let there = folder.path().join("there");
    fs::create_dir(&there).expect("a folder");
    let copy = there.join("lamp.log.sqlite");
    fs::copy(&path, &copy).expect("a copy");
    fs::copy(beside(&path, "-wal"), beside(&copy, "-wal")).expect("a copy");
    (folder, copy)
}

#[test]
fn entries_of_a_log_that_was_moved_away_get_into_no_new_one() {
    let (folder, path) = killed(20);
    let away = folder.path().join("away.log.sqlite");
    fs::rename(&path, &away).expect("our own folder");
    let to_note = noted(&path).expect_err("entries wait");
    let to_add = Log::open(&path, &lamp()).err().expect("entries wait");
    let to_read = Log::read(&path, &lamp()).err().expect("entries wait");
    for trouble in [to_note, to_add, to_read] {
        let why = trouble.to_string();
        assert!(
            why.contains("entries of a log that stood here wait in"),
            "{why}"
        );
        assert!(why.contains("lamp.log.sqlite-wal"), "{why}");
        assert!(!path.exists());
    }
    // Both ways out that are told.
    fs::rename(&away, &path).expect("our own folder");
    assert_eq!(ids(&path).len(), 21);
    let (folder, path) = killed(20);
    let away = folder.path().join("away.log.sqlite");
    fs::rename(&path, &away).expect("our own folder");
    fs::rename(beside(&path, "-wal"), beside(&away, "-wal")).expect("our own folder");
    assert!(noted(&path).is_ok());
    assert_eq!(ids(&path).len(), 1);
    assert_eq!(ids(&away).len(), 21);
}

#[test]
fn what_waits_beside_a_damaged_or_foreign_log_is_left_too() {
    let (_folder, path) = killed(200);
    let wal = beside(&path, "-wal");
    let waits = fs::read(&wal).expect("entries wait");
    let whole = fs::read(&path).expect("the file");
    // A page that no waiting entry takes the place of: of the first entries, and not what is left of an earlier copy.
    let early = whole.windows(7).rposition(|part| part == b"note 3,");
    let page = early.expect("it is in the file") / 4096;
    fs::write(&path, rubbish(&whole, page)).expect("a file");
    let why = refused(&path);
    assert!(why.contains("damaged") && why.contains("`-wal`"), "{why}");
    assert_eq!(fs::read(&wal).expect("it is left"), waits);

    let (_folder, path) = log(0);
    let plan = r#"{"version":1,"build":"Chair","finish":"2026-01-09T18:00:00Z","cost":{"total":0},"runs":[
        {"id":"desk-001","machine":"desk","filament":"white","swap_from":null,"setup":"2026-01-05T07:50:00Z",
         "start":"2026-01-05T08:00:00Z","end":"2026-01-05T14:00:00Z","minutes":360,"grams":60,
         "pieces":[{"part":"seat","number":1,"length":1,"of":1,"assembly":null,"x":50,"y":50,"turn":0,"size":[20,20,20]}]}]}"#;
    let line = format!(
        r#"{{"at":"2026-01-05T06:30:00Z","event":{{"plan-accepted":{{"plan":{}}}}}}}"#,
        serde_json::to_string(plan).expect("text")
    );
    let chair = lamp_called("Chair");
    let mut open = Log::open(&path, &chair).expect("the log");
    open.import(&line, chrono::Utc::now()).expect("a plan");
    let wal = beside(&path, "-wal");
    let copy = path.with_file_name("copy.log.sqlite");
    fs::copy(&path, &copy).expect("a copy");
    fs::copy(&wal, beside(&copy, "-wal")).expect("a copy");
    let waits = fs::read(beside(&copy, "-wal")).expect("entries wait");
    let why = refused(&copy);
    assert!(why.contains("Chair"), "{why}");
    assert_eq!(fs::read(beside(&copy, "-wal")).expect("it is left"), waits);
    // Whoever opens it as what it is brings them into the file.
    drop(Log::read(&copy, &chair).expect("the log"));
    assert!(!beside(&copy, "-wal").exists());
}

/// The same scenario of a build with another name.
fn lamp_called(name: &str) -> beamyard::scenario::Scenario {
    let mut scenario = lamp();
    scenario.build.name = name.to_owned();
    scenario
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
        // Where it is a page of ids, a note whose id would stand there is refused at once, and others are not.
        let more = (0..150).filter(|_| noted(&path).is_ok()).count();
        assert!(more < 100, "page {page}: {more}");
        // From then on nothing is written.
        let before = fs::read(&path).expect("the file");
        assert!(noted(&path).is_err());
        assert!(Log::open(&path, &lamp()).is_err());
        assert_eq!(fs::read(&path).expect("the file"), before);
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
        "UPDATE digests SET digest = x'00' WHERE sequence = 2",
        "DELETE FROM digests WHERE sequence = 3",
        "INSERT OR REPLACE INTO digests SELECT 2, digest FROM digests WHERE sequence = 1",
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
