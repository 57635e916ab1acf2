//! The file of a log: SQLite, one row an entry, only ever added to.
//!
//! Knows: SQLite, files. Must not know: what an entry means.
//! Promises: what was committed is on the disk; a file that is not a log of this program is left as it is, and so is one that is found to be
//! damaged, with what waits beside it; a new file appears whole or not at all; rows can be neither changed nor taken out.

mod chain;
mod file;
mod rows;
mod schema;

use std::cell::Cell;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior};

use super::Trouble;
pub(super) use chain::Digest;
use file::{APPLICATION, is_there, may_be_made, nothing_pending, unchanging};
use schema::{MIGRATIONS, WITH_DIGESTS};

/// So long one program waits for another that is writing; one entry takes it some milliseconds.
const PATIENCE: Duration = Duration::from_secs(10);

/// An open file.
pub(super) struct Store {
    connection: Connection,
    path: PathBuf,
    /// Whether something may be added to it.
    adds: bool,
    /// Whether it is known to be damaged.
    damaged: Cell<bool>,
}

impl Store {
    fn new(connection: Connection, path: &Path) -> Self {
        Self {
            connection,
            path: path.to_owned(),
            adds: false,
            damaged: Cell::new(false),
        }
    }

    /// Opens the log of this path to add to it; makes it where there is none.
    pub(super) fn open(path: &Path) -> Result<Self, Trouble> {
        if !is_there(path)? {
            create(path)?;
        }
        let store = Self::connect(path).map_err(|error| trouble(path, &error))?;
        let store = Self {
            adds: true,
            ..store
        };
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

    /// Whether something could be added.
    pub(super) fn may_write(&self) -> Result<(), Trouble> {
        self.begin().map(|_| ())
    }

    /// Whether a log could be made at a path where there is none.
    pub(super) fn may_be_made(path: &Path) -> Result<(), Trouble> {
        may_be_made(path)
    }

    /// A log that is nowhere but in memory, to try something on.
    pub(super) fn in_memory(path: &Path) -> Result<Self, Trouble> {
        let opened = Connection::open_in_memory();
        let store = opened
            .map(|connection| Self::new(connection, path))
            .map_err(|error| trouble(path, &error))?;
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
                Ok(Some(Self::new(connection, path)))
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
        // Where a sync alone leaves it in the disk's own memory; elsewhere it means nothing. Source: the same, #pragma_fullfsync.
        connection.pragma_update(None, "fullfsync", true)?;
        connection.pragma_update(None, "checkpoint_fullfsync", true)?;
        connection.pragma_update(None, "trusted_schema", false)?;
        let store = Self::new(connection, path);
        store.leave(true)?;
        Ok(store)
    }

    /// Whether what waits beside the file is left there when it is closed, rather than brought into it: as long as it is not known to be
    /// a whole log of this build.
    fn leave(&self, leave: bool) -> rusqlite::Result<()> {
        let left = DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE;
        self.connection.set_db_config(left, leave).map(|_| ())
    }

    /// It was read, and is what it should be.
    pub(super) fn is_ours(&self) -> Result<(), Trouble> {
        if self.damaged.get() {
            return Ok(());
        }
        self.leave(false).map_err(|error| self.trouble(&error))
    }

    fn migrate(&self) -> Result<(), Trouble> {
        let transaction = self.begin()?;
        // Another program may have done it meanwhile.
        let done = self.version()?;
        for migration in MIGRATIONS.iter().skip(done) {
            let made = transaction.execute_batch(migration);
            made.map_err(|error| self.trouble(&error))?;
        }
        if done < WITH_DIGESTS {
            self.vouch_for_all()?;
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

    /// Ends a transaction of [`Store::begin`]: from here on it is on the disk.
    pub(super) fn commit(&self, transaction: Transaction) -> Result<(), Trouble> {
        let ended = transaction.commit();
        ended.map_err(|error| uncertain(self.trouble(&error), &error))
    }

    /// Begins to write: nobody else writes until the transaction ends.
    pub(super) fn begin(&self) -> Result<Transaction<'_>, Trouble> {
        Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)
            .map_err(|error| self.trouble(&error))
    }

    fn damaged(&self, what: String) -> Trouble {
        self.is_damaged();
        damaged(&self.path, what)
    }

    /// What to tell of an error of SQLite.
    fn trouble(&self, error: &rusqlite::Error) -> Trouble {
        let trouble = trouble(&self.path, error);
        if matches!(trouble, Trouble::Damaged { .. }) {
            self.is_damaged();
        }
        trouble
    }

    fn is_damaged(&self) {
        self.damaged.set(true);
        // Should that fail, there is nothing better to do than to tell of the damage.
        let _ = self.leave(true);
    }
}

/// Makes an empty log.
fn create(path: &Path) -> Result<(), Trouble> {
    file::make(path, |unfinished| {
        let fill = || {
            let connection = Connection::open(unfinished)?;
            connection.pragma_update(None, "application_id", APPLICATION)?;
            for migration in MIGRATIONS {
                connection.execute_batch(migration)?;
            }
            connection.pragma_update(None, "user_version", MIGRATIONS.len() as i64)?;
            connection.pragma_update(None, "journal_mode", "WAL")?;
            connection.close().map_err(|(_, error)| error)
        };
        fill().map_err(|error| trouble(path, &error))
    })
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

fn damaged(path: &Path, what: String) -> Trouble {
    let path = path.to_owned();
    Trouble::Damaged { path, what }
}

fn trouble(path: &Path, error: &rusqlite::Error) -> Trouble {
    // What was written as text or number and is read as something else.
    if matches!(
        error,
        rusqlite::Error::Utf8Error(..)
            | rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::InvalidColumnType(..)
    ) {
        return damaged(path, error.to_string());
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
            damaged(path, error.to_string())
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

/// What to tell where a transaction did not come to its end: what was written before a sync failed may be there when the log is opened again.
fn uncertain(trouble: Trouble, error: &rusqlite::Error) -> Trouble {
    let nothing = matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::DiskFull | ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
    );
    match trouble {
        Trouble::Storage { path, what, .. } if !nothing => Trouble::Storage {
            path,
            what,
            fix: "it may have been noted or not: look with `log SCENARIO show` before you note it again".to_owned(),
        },
        trouble => trouble,
    }
}

#[cfg(test)]
mod tests;
