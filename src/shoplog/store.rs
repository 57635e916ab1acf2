//! The file of a log: SQLite, one row an entry, only ever added to.
//!
//! Knows: SQLite, files. Must not know: what an entry means.
//! Promises: what was committed is on the disk; a file that is not a log of this program is left as it is; a new file appears
//! whole or not at all; rows can be neither changed nor taken out.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{
    Connection, ErrorCode, OpenFlags, OptionalExtension, Transaction, TransactionBehavior,
};

use super::Trouble;
use super::event::Entry;

/// `BYLG`: says in the file's header that it is a log of this program.
const APPLICATION: i32 = 0x4259_4C47;

/// Where the header of an SQLite file has the application's number, four bytes, the highest first.
/// Source: sqlite.org/fileformat2.html, 1.3, "Application ID".
const APPLICATION_AT: usize = 68;

/// What an SQLite file begins with. Source: the same, 1.3.1.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// So long one program waits for another that is writing; one entry takes it some milliseconds.
const PATIENCE: Duration = Duration::from_secs(10);

/// What brings a file from each version to the next; `user_version` says how many were done.
const MIGRATIONS: [&str; 2] = [
    "
    CREATE TABLE events (
        sequence INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        entry TEXT NOT NULL
    ) STRICT;
    CREATE TRIGGER events_are_not_changed BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'entries are never changed: undo them by another'); END;
    CREATE TRIGGER events_are_not_taken_out BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'entries are never taken out: undo them by another'); END;
    CREATE TRIGGER events_are_not_replaced BEFORE INSERT ON events
    WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.id OR sequence = NEW.sequence)
    BEGIN SELECT RAISE(ABORT, 'entries are never replaced: undo them by another'); END;
",
    // What the entries add up to, derived from them; it may be taken out at any time.
    "
    CREATE TABLE checkpoint (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        state TEXT NOT NULL
    ) STRICT;
",
];

/// From this version on a file has room for a checkpoint.
const WITH_CHECKPOINT: usize = 2;

/// An open file.
pub(super) struct Store {
    connection: Connection,
    path: PathBuf,
}

impl Store {
    /// Opens the log of this path to add to it; makes it where there is none.
    pub(super) fn open(path: &Path) -> Result<Self, Trouble> {
        if !is_there(path)? {
            create(path)?;
        }
        let store = Self::connect(path).map_err(|error| trouble(path, &error))?;
        if store.version()? < MIGRATIONS.len() {
            // Damage is found before anything is written.
            store.after(0)?;
            store.migrate()?;
        }
        Ok(store)
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Whether a log of this path could be written, or made where there is none.
    pub(super) fn may_write(path: &Path) -> Result<(), Trouble> {
        if !is_there(path)? {
            let made = tempfile::tempfile_in(folder_of(path));
            return made
                .map(|_| ())
                .map_err(|error| cannot_be_written(path, &error.kind().to_string()));
        }
        let store = Self::connect(path).map_err(|error| trouble(path, &error))?;
        store.begin().map(|_| ())
    }

    /// A log that is nowhere but in memory, to try something on.
    pub(super) fn in_memory(path: &Path) -> Result<Self, Trouble> {
        let opened = Connection::open_in_memory().map(|connection| Self {
            connection,
            path: path.to_owned(),
        });
        let store = opened.map_err(|error| trouble(path, &error))?;
        store.migrate()?;
        Ok(store)
    }

    /// Opens the log of this path to look at it; `None` where there is none. It may lie where nothing can be written.
    pub(super) fn look(path: &Path) -> Result<Option<Self>, Trouble> {
        if !is_there(path)? {
            return Ok(None);
        }
        let reached = Self::connect(path).and_then(|store| {
            let schema = "SELECT count(*) FROM sqlite_schema";
            store.connection.query_row(schema, [], |_| Ok(()))?;
            Ok(store)
        });
        match reached {
            Ok(store) => Ok(Some(store)),
            Err(error) if cannot_write(&error) && nothing_pending(path) => {
                // SQLite needs files beside a log even to read it, unless it is told that nobody can write.
                let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
                let connection = Connection::open_with_flags(unchanging(path), flags)
                    .map_err(|error| trouble(path, &error))?;
                Ok(Some(Self {
                    connection,
                    path: path.to_owned(),
                }))
            }
            Err(error) => Err(trouble(path, &error)),
        }
    }

    fn connect(path: &Path) -> rusqlite::Result<Self> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(PATIENCE)?;
        // With a log ahead of writing this syncs it at every commit. Source: sqlite.org/pragma.html#pragma_synchronous.
        connection.pragma_update(None, "synchronous", "FULL")?;
        connection.pragma_update(None, "trusted_schema", false)?;
        Ok(Self {
            connection,
            path: path.to_owned(),
        })
    }

    fn migrate(&self) -> Result<(), Trouble> {
        let transaction = self.begin()?;
        // Another program may have done it meanwhile.
        let done = self.version()?;
        for migration in MIGRATIONS.iter().skip(done) {
            let made = transaction.execute_batch(migration);
            made.map_err(|error| self.trouble(&error))?;
        }
        let set = transaction.pragma_update(None, "user_version", MIGRATIONS.len() as i64);
        set.and_then(|()| transaction.commit())
            .map_err(|error| self.trouble(&error))
    }

    /// How many migrations were done.
    fn version(&self) -> Result<usize, Trouble> {
        let version: i64 = self
            .connection
            .pragma_query_value(None, "user_version", |row| row.get(0))
            .map_err(|error| self.trouble(&error))?;
        match usize::try_from(version) {
            Ok(version) if version <= MIGRATIONS.len() => Ok(version),
            _ => Err(Trouble::NotOurs {
                path: self.path.clone(),
                what: format!(
                    "it is of version {version}, and this program knows {} at most",
                    MIGRATIONS.len()
                ),
                fix: "use the program that wrote it, or a newer one".to_owned(),
            }),
        }
    }

    /// How long it is.
    pub(super) fn bytes(&self) -> Result<u64, Trouble> {
        let ask = |what: &str| -> rusqlite::Result<i64> {
            self.connection
                .pragma_query_value(None, what, |row| row.get(0))
        };
        let bytes = ask("page_count").and_then(|pages| Ok(pages * ask("page_size")?));
        let bytes = bytes.map_err(|error| self.trouble(&error))?;
        Ok(bytes.unsigned_abs()) // neither is negative
    }

    /// Begins to write: nobody else writes until the transaction ends.
    pub(super) fn begin(&self) -> Result<Transaction<'_>, Trouble> {
        Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)
            .map_err(|error| self.trouble(&error))
    }

    /// Entries after so many.
    pub(super) fn after(&self, known: usize) -> Result<Vec<Entry>, Trouble> {
        self.version()?;
        let read = || -> rusqlite::Result<Vec<(i64, String)>> {
            let mut query = self.connection.prepare_cached(
                "SELECT sequence, entry FROM events WHERE sequence > ?1 ORDER BY sequence",
            )?;
            let rows = query.query_map([known as i64], |row| Ok((row.get(0)?, row.get(1)?)))?;
            rows.collect()
        };
        let rows = read().map_err(|error| self.trouble(&error))?;
        let damaged = |what: String| Trouble::damaged(&self.path, what);
        if known == 0 {
            // So that damage is found before something is added to it, every page is read, those of the ids and the checkpoint too.
            self.checkpoint()?;
            let count = "SELECT count(*) FROM events INDEXED BY sqlite_autoindex_events_1";
            let ids: i64 = self
                .connection
                .query_row(count, [], |row| row.get(0))
                .map_err(|error| self.trouble(&error))?;
            // Another program may have added some meanwhile.
            if ids < rows.len() as i64 {
                return Err(damaged(format!(
                    "it has {} entries and {ids} ids",
                    rows.len()
                )));
            }
        }
        rows.iter()
            .zip(known as i64 + 1..)
            .map(|((sequence, text), expected)| {
                if *sequence != expected {
                    return Err(damaged(format!("entry {expected} is missing")));
                }
                self.read(*sequence, text)
            })
            .collect()
    }

    /// The entry of this number, from 1.
    pub(super) fn entry(&self, number: usize) -> Result<Option<Entry>, Trouble> {
        let text: Option<String> = self
            .connection
            .prepare_cached("SELECT entry FROM events WHERE sequence = ?1")
            .and_then(|mut query| {
                query
                    .query_row([number as i64], |row| row.get(0))
                    .optional()
            })
            .map_err(|error| self.trouble(&error))?;
        text.map(|text| self.read(number as i64, &text)).transpose()
    }

    fn read(&self, number: i64, text: &str) -> Result<Entry, Trouble> {
        serde_json::from_str(text).map_err(|error| {
            let what = format!("entry {number} cannot be read: {error}");
            Trouble::damaged(&self.path, what)
        })
    }

    /// The checkpoint that was kept last, if one is there; one that is no text any more is none.
    pub(super) fn checkpoint(&self) -> Result<Option<String>, Trouble> {
        // A log that is only looked at may be of a program before there were any.
        if self.version()? < WITH_CHECKPOINT {
            return Ok(None);
        }
        let text = |row: &rusqlite::Row| {
            let bytes = row.get_ref(0)?.as_bytes().ok();
            let text = bytes.and_then(|bytes| std::str::from_utf8(bytes).ok());
            Ok(text.map(str::to_owned))
        };
        self.connection
            .query_row("SELECT state FROM checkpoint", [], text)
            .optional()
            .map(Option::flatten)
            .map_err(|error| self.trouble(&error))
    }

    /// Keeps a checkpoint in the place of the one before, and says whether it did. Where that fails there is the one before, or none: nothing
    /// rests on it. So it waits for nobody who is writing.
    pub(super) fn keep(&self, state: &str) -> bool {
        let keep = "INSERT OR REPLACE INTO checkpoint (one, state) VALUES (1, ?1)";
        let hurried = self.connection.busy_timeout(Duration::ZERO);
        let kept = hurried.and_then(|()| self.connection.execute(keep, [state]));
        let patient = self.connection.busy_timeout(PATIENCE);
        kept.is_ok() && patient.is_ok()
    }

    /// Adds an entry as number `sequence`, within a transaction of [`Store::begin`].
    pub(super) fn add(&self, sequence: usize, entry: &Entry) -> Result<(), Trouble> {
        let text = entry.line();
        let add = || {
            self.connection
                .prepare_cached("INSERT INTO events (sequence, id, entry) VALUES (?1, ?2, ?3)")?
                .execute((sequence as i64, entry.id.to_string(), text))
        };
        add().map(|_| ()).map_err(|error| self.trouble(&error))
    }

    /// What to tell of an error of SQLite.
    pub(super) fn trouble(&self, error: &rusqlite::Error) -> Trouble {
        trouble(&self.path, error)
    }
}

/// Whether there is a log at a path.
///
/// # Errors
/// If what is there is something else.
fn is_there(path: &Path) -> Result<bool, Trouble> {
    let mut file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(false),
        Err(error) => return Err(cannot_be_read(path, &error)),
    };
    let mut header = [0; APPLICATION_AT + 4];
    let ours = match file.read_exact(&mut header) {
        Ok(()) => {
            header.starts_with(MAGIC) && header[APPLICATION_AT..] == APPLICATION.to_be_bytes()
        }
        Err(error) if error.kind() == ErrorKind::UnexpectedEof => false,
        Err(error) => return Err(cannot_be_read(path, &error)),
    };
    if ours {
        return Ok(true);
    }
    Err(Trouble::NotOurs {
        path: path.to_owned(),
        what: "it is no log of this program".to_owned(),
        fix: "move it away, or put a copy of the log in its place".to_owned(),
    })
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Makes an empty log, under another name until it is whole.
fn create(path: &Path) -> Result<(), Trouble> {
    let folder = folder_of(path);
    let failed = |error: &std::io::Error| cannot_be_written(path, &error.to_string());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".beamyard-log-");
    // As any other file that the user makes: temporary ones are nobody else's, a log may be a family's.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let file = builder
        .tempfile_in(folder)
        .map_err(|error| failed(&std::io::Error::from(error.kind())))?;
    let fill = || {
        let connection = Connection::open(file.path())?;
        connection.pragma_update(None, "application_id", APPLICATION)?;
        for migration in MIGRATIONS {
            connection.execute_batch(migration)?;
        }
        connection.pragma_update(None, "user_version", MIGRATIONS.len() as i64)?;
        connection.pragma_update(None, "journal_mode", "WAL")?;
        connection.close().map_err(|(_, error)| error)
    };
    fill().map_err(|error| trouble(path, &error))?;
    file.as_file().sync_all().map_err(|error| failed(&error))?;
    match file.persist_noclobber(path) {
        Ok(_) => {}
        // Another program was faster; its log is as good.
        Err(error) if error.error.kind() == ErrorKind::AlreadyExists => {}
        Err(error) => return Err(failed(&error.error)),
    }
    // The name is on the disk, too. Where a folder cannot be opened as a file, the system sees to that itself.
    if let Ok(folder) = File::open(folder) {
        folder.sync_all().map_err(|error| failed(&error))?;
    }
    Ok(())
}

/// Whether the file holds all entries, none waiting beside it.
fn nothing_pending(path: &Path) -> bool {
    let mut beside = path.as_os_str().to_owned();
    beside.push("-wal");
    std::fs::metadata(beside).map_or(true, |pending| pending.len() == 0)
}

/// The path as SQLite takes it for a file that nobody can change.
fn unchanging(path: &Path) -> String {
    let path = path.display().to_string();
    let path = path
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    format!("file:{path}?immutable=1")
}

/// Whether SQLite could not write what it writes beside a log.
fn cannot_write(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied)
    )
}

fn cannot_be_read(path: &Path, error: &std::io::Error) -> Trouble {
    Trouble::Storage {
        path: path.to_owned(),
        what: format!("the log cannot be read: {error}"),
        fix: "see that you may read it".to_owned(),
    }
}

fn cannot_be_written(path: &Path, what: &str) -> Trouble {
    Trouble::Storage {
        path: path.to_owned(),
        what: format!("the log cannot be written: {what}"),
        fix: "see that you may write to its folder; nothing was noted".to_owned(),
    }
}

fn trouble(path: &Path, error: &rusqlite::Error) -> Trouble {
    // What was written as text or number and is read as something else.
    if matches!(
        error,
        rusqlite::Error::Utf8Error(..)
            | rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::InvalidColumnType(..)
    ) {
        return Trouble::damaged(path, error.to_string());
    }
    let what = error.to_string();
    if ["no such table", "no such column", "has no column"]
        .iter()
        .any(|lacks| what.contains(lacks))
    {
        return Trouble::NotOurs {
            path: path.to_owned(),
            what: format!("it says that it is a log of this program, and is none ({what})"),
            fix: "move it away, or put a copy of the log in its place".to_owned(),
        };
    }
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => {
            Trouble::damaged(path, error.to_string())
        }
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Trouble::Storage {
            path: path.to_owned(),
            what: "another program is writing to the log and does not come to an end".to_owned(),
            fix: "note it again when that has ended; nothing was noted".to_owned(),
        },
        Some(ErrorCode::DiskFull) => Trouble::Storage {
            path: path.to_owned(),
            what: "the disk is full".to_owned(),
            fix: "make room and note it again; nothing was noted".to_owned(),
        },
        _ => cannot_be_written(path, &error.to_string()),
    }
}

#[cfg(test)]
mod tests;
