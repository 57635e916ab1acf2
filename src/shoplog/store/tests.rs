//! Files of before, spoilt rows, how each commit is synced.

use super::*;
use crate::shoplog::Event;

fn entry(id: u128) -> Entry {
    Entry {
        id: uuid::Uuid::from_u128(id),
        at: chrono::DateTime::UNIX_EPOCH,
        noted: chrono::DateTime::UNIX_EPOCH,
        event: Event::Note {
            text: "old".to_owned(),
        },
    }
}

/// A log of one entry, of a program before there were checkpoints.
fn old_log(folder: &tempfile::TempDir) -> PathBuf {
    let path = folder.path().join("old.log.sqlite");
    create(&path).expect("room");
    let old = Connection::open(&path).expect("the file");
    old.execute_batch("DROP TABLE checkpoint")
        .expect("it is there");
    old.pragma_update(None, "user_version", 1).expect("a file");
    old.close().expect("it ends");
    let reached = Store::connect(&path).expect("the file");
    reached.add(1, &entry(1)).expect("room");
    path
}

#[test]
fn a_log_from_before_there_were_checkpoints_is_read_as_it_is_and_brought_forward_when_something_is_noted()
 {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = old_log(&folder);

    let looked = Store::look(&path).expect("a log").expect("it");
    assert_eq!(looked.after(0).expect("entries").len(), 1);
    assert_eq!(looked.checkpoint().expect("none"), None);
    assert_eq!(looked.version().expect("a version"), 1);
    drop(looked);

    let opened = Store::open(&path).expect("a log");
    assert_eq!(opened.version().expect("a version"), MIGRATIONS.len());
    opened.add(2, &entry(2)).expect("room");
    assert!(opened.keep("derived"));
    assert!(opened.keep("derived anew"));
    let kept = opened.checkpoint().expect("a log");
    assert_eq!(kept.as_deref(), Some("derived anew"));
    assert_eq!(opened.after(0).expect("entries"), [entry(1), entry(2)]);
}

#[test]
fn each_commit_is_synced_to_a_log_ahead_of_writing() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("new.log.sqlite");
    drop(Store::open(&path).expect("a new log"));
    let (opened, looked) = (Store::open(&path), Store::look(&path));
    for store in [opened.expect("a log"), looked.expect("a log").expect("it")] {
        let ask = |what| {
            store
                .connection
                .pragma_query_value(None, what, |row| row.get(0))
        };
        let mode: Result<String, _> = ask("journal_mode");
        assert_eq!(mode, Ok("wal".to_owned()));
        let ask = |what| {
            store
                .connection
                .pragma_query_value(None, what, |row| row.get(0))
        };
        let synchronous: Result<i64, _> = ask("synchronous");
        // FULL. Source: sqlite.org/pragma.html#pragma_synchronous.
        assert_eq!(synchronous, Ok(2));
    }
}

#[test]
fn a_checkpoint_waits_for_nobody() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("new.log.sqlite");
    let store = Store::open(&path).expect("a new log");
    assert!(store.keep("before"));
    let other = Store::open(&path).expect("the log");
    let (tell, told) = std::sync::mpsc::channel();
    let (begun, begins) = std::sync::mpsc::channel();
    // It writes until it is told to end, or for longer than anything here takes, and less than anybody waits.
    let writes = std::thread::spawn(move || {
        let transaction = other.begin().expect("nobody else writes");
        begun.send(()).expect("somebody waits");
        let was_told = told.recv_timeout(PATIENCE / 2).is_ok();
        drop(transaction);
        was_told
    });
    begins.recv().expect("it begins");
    assert!(!store.keep("meanwhile"));
    tell.send(()).expect("it still writes");
    assert!(writes.join().expect("it ends"));
    assert_eq!(
        store.checkpoint().expect("a log").as_deref(),
        Some("before")
    );
    // Whoever writes an entry waits as before.
    let patience: i64 = store
        .connection
        .pragma_query_value(None, "busy_timeout", |row| row.get(0))
        .expect("a number");
    assert_eq!(patience as u128, PATIENCE.as_millis());
}

#[test]
fn an_entry_that_is_no_text_is_damage_and_such_a_checkpoint_is_none() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = Store::open(&folder.path().join("new.log.sqlite")).expect("a new log");
    store.add(1, &entry(1)).expect("room");
    assert!(store.keep("derived"));
    let spoil = |statements: &str| {
        let spoilt = store.connection.execute_batch(statements);
        spoilt.expect("what SQLite takes for text");
    };
    spoil("UPDATE checkpoint SET state = CAST(x'61FF62' AS TEXT)");
    assert_eq!(store.checkpoint().expect("a log"), None);
    assert_eq!(store.after(0).expect("entries"), [entry(1)]);
    spoil("DROP TRIGGER events_are_not_changed; UPDATE events SET entry = CAST(x'FF' AS TEXT)");
    for trouble in [store.after(0).err(), store.entry(1).err()] {
        let why = trouble.expect("no text").to_string();
        assert!(why.contains("the log is damaged"), "{why}");
    }
}

#[test]
fn a_damaged_log_is_not_brought_forward() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = old_log(&folder);
    let damage = Store::connect(&path).expect("the file");
    let statements = "DROP TRIGGER events_are_not_changed; UPDATE events SET entry = 'x'";
    let damaged = damage.connection.execute_batch(statements);
    damaged.expect("there is an entry");
    drop(damage);
    let refused = Store::open(&path).err().expect("it is damaged");
    assert!(refused.to_string().contains("entry 1 cannot be read"));
    let looked = Store::look(&path).expect("a log").expect("it");
    assert_eq!(looked.version().expect("a version"), 1);
}
