//! Files of before, spoilt rows, how each commit is synced.

use super::*;
use crate::shoplog::{Entry, Event};

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

/// A log of one entry, of a program before there were checkpoints, or before there were digests.
fn old_log(folder: &tempfile::TempDir, version: usize) -> PathBuf {
    let path = folder.path().join("old.log.sqlite");
    create(&path).expect("room");
    let old = Connection::open(&path).expect("the file");
    let without = match version {
        1 => "DROP TABLE digests; DROP TABLE checkpoint",
        _ => "DROP TABLE digests",
    };
    old.execute_batch(without).expect("they are there");
    old.pragma_update(None, "user_version", version as i64)
        .expect("a file");
    let one = entry(1);
    old.execute(
        "INSERT INTO events (sequence, id, entry) VALUES (1, ?1, ?2)",
        (one.id.to_string(), one.line()),
    )
    .expect("room");
    old.close().expect("it ends");
    path
}

#[test]
fn a_log_of_a_program_before_is_read_as_it_is_and_brought_forward_when_something_is_noted() {
    for version in [1, 2] {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = old_log(&folder, version);

        let looked = Store::look(&path).expect("a log").expect("it");
        assert_eq!(looked.after(0).expect("entries"), [entry(1)]);
        assert_eq!(looked.count().expect("a number"), 1);
        assert_eq!(looked.checkpoint().expect("none"), None);
        assert_eq!(looked.version().expect("a version"), version);
        drop(looked);

        let opened = Store::open(&path).expect("a log");
        assert_eq!(opened.version().expect("a version"), MIGRATIONS.len());
        let line = entry(1).line();
        let first = Digest::START.next(1, &entry(1).id.to_string(), &line);
        assert_eq!(opened.digest(1).expect("a log"), Some(first));
        opened.add(2, &entry(2)).expect("room");
        assert!(opened.keep("derived"));
        assert!(opened.keep("derived anew"));
        let kept = opened.checkpoint().expect("a log");
        assert_eq!(kept.as_deref(), Some("derived anew"));
        assert_eq!(opened.after(0).expect("entries"), [entry(1), entry(2)]);
    }
}

/// A log of twenty entries that somebody has spoilt, past all rules that the file has.
fn spoilt(folder: &tempfile::TempDir, statements: &str) -> Store {
    let store = Store::open(&folder.path().join("new.log.sqlite")).expect("a new log");
    for number in 1..=20 {
        let event = Event::Note {
            text: format!("{} g are left", 800 + number),
        };
        let entry = Entry {
            event,
            ..entry(number as u128)
        };
        store.add(number, &entry).expect("room");
    }
    let rules: Vec<String> = ["events", "digests"]
        .into_iter()
        .flat_map(|table| {
            ["changed", "taken_out", "replaced"].map(|what| format!("{table}_are_not_{what}"))
        })
        .collect();
    for rule in rules {
        let without = format!("DROP TRIGGER {rule}");
        store.connection.execute_batch(&without).expect("a rule");
    }
    let done = store.connection.execute_batch(statements);
    done.expect("nothing forbids it any more");
    store
}

#[test]
fn what_was_changed_moved_or_lost_is_damage() {
    for (statements, what) in [
        // One digit: 812 g become 912, and the text can still be read.
        (
            "UPDATE events SET entry = replace(entry, '812', '912')",
            "entry 12 is not what was noted",
        ),
        (
            "UPDATE events SET sequence = 99 WHERE sequence = 3; UPDATE events SET sequence = 3 WHERE sequence = 4;
             UPDATE events SET sequence = 4 WHERE sequence = 99",
            "entry 3 is not what was noted",
        ),
        (
            "UPDATE events SET entry = (SELECT entry FROM events WHERE sequence = 4) WHERE sequence = 3",
            "entry 3 is not what was noted",
        ),
        (
            "UPDATE digests SET digest = zeroblob(32) WHERE sequence = 20",
            "entry 20 is not what was noted",
        ),
        (
            "DELETE FROM events WHERE sequence > 17",
            "20 entries were noted, and 17 are there",
        ),
        (
            "DELETE FROM digests WHERE sequence > 17",
            "what vouches for its entries from 18 on is missing",
        ),
        ("DELETE FROM events WHERE sequence = 5", "entry 5 is missing"),
        (
            "DELETE FROM digests WHERE sequence = 5",
            "entry 5 is not what was noted",
        ),
    ] {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let store = spoilt(&folder, statements);
        let looked = Store::look(&store.path).expect("a log").expect("it");
        for store in [&store, &looked] {
            let why = store.after(0).expect_err(statements).to_string();
            assert!(why.contains("the log is damaged") && why.contains(what), "{why}");
        }
    }
}

#[test]
fn damage_behind_what_is_read_is_found_within_a_hundred_entries_more() {
    for spoilt_one in [1, 2, 11, 19] {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let change = format!(
            "UPDATE events SET entry = replace(entry, ' g ', ' kg ') WHERE sequence = {spoilt_one}"
        );
        let store = spoilt(&folder, &change);
        assert_eq!(store.after(19).expect("the last is right").len(), 1);
        let found = (20..120).find(|&count| {
            let held = store.hold_a_share(count);
            if held.is_ok() {
                let one = entry(count as u128 + 1);
                store.add(count + 1, &one).expect("room");
            }
            held.is_err()
        });
        assert!(found.is_some(), "{spoilt_one}");
    }
}

#[test]
fn what_is_right_up_to_the_damage_can_be_salvaged() {
    for (statements, left) in [
        ("UPDATE events SET entry = replace(entry, '812', '912')", 11),
        ("UPDATE events SET entry = 'x' WHERE sequence = 7", 6),
        ("DELETE FROM events WHERE sequence > 17", 17),
        // Nothing is wrong with the entries.
        ("DELETE FROM digests WHERE sequence > 17", 20),
        ("DELETE FROM digests", 20),
        ("DROP TABLE digests", 20),
        ("SELECT 1", 20),
    ] {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let salvaged = spoilt(&folder, statements).salvage();
        assert_eq!(salvaged.len(), left, "{statements}");
        let ids: Vec<u128> = salvaged.iter().map(|entry| entry.id.as_u128()).collect();
        assert_eq!(ids, (1..=left as u128).collect::<Vec<u128>>());
    }
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
        // To the disk itself, where the system tells that apart.
        for what in ["fullfsync", "checkpoint_fullfsync"] {
            assert_eq!(ask(what), Ok(1));
        }
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
    let path = old_log(&folder, 1);
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

#[cfg(target_os = "linux")]
#[test]
fn whether_a_log_can_be_written_is_asked_without_losing_the_locks_on_it() {
    use std::os::unix::fs::MetadataExt;

    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("new.log.sqlite");
    let store = Store::open(&path).expect("a new log");
    store.after(0).expect("nothing in it");
    // Each line names the process and, last of three numbers with colons, the file.
    let locked = || {
        let process = std::process::id().to_string();
        let file = std::fs::metadata(&path).expect("the file").ino();
        let locks = std::fs::read_to_string("/proc/locks").expect("the system tells");
        locks.lines().any(|lock| {
            let of = |word: &str| word.ends_with(&format!(":{file}"));
            lock.split_whitespace().any(|word| word == process) && lock.split_whitespace().any(of)
        })
    };
    assert!(locked());
    store.may_write().expect("our own folder");
    assert!(locked());
    // Whoever opens the file a second time and closes it lets go of them: so it is asked of the open log.
    assert!(is_there(&path).expect("a log"));
    assert!(!locked());
}

#[test]
fn what_may_have_been_noted_is_not_said_to_have_been_refused() {
    let told = |code| {
        let error = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(code), None);
        let path = Path::new("lamp.log.sqlite");
        uncertain(trouble(path, &error), &error).to_string()
    };
    let failed_sync = told(rusqlite::ffi::SQLITE_IOERR_FSYNC);
    assert!(
        failed_sync.contains("it may have been noted or not"),
        "{failed_sync}"
    );
    assert!(!failed_sync.contains("nothing was noted"), "{failed_sync}");
    for certain in [rusqlite::ffi::SQLITE_FULL, rusqlite::ffi::SQLITE_BUSY] {
        let told = told(certain);
        assert!(told.ends_with("nothing was noted"), "{told}");
    }
}
