//! What is in a log: entries, what vouches for them, the checkpoint.
//!
//! Knows: SQLite, the tables. Must not know: what an entry means, where the file is.
//! Promises: no entry is handed out that is not what was noted, and none is left out; a checkpoint is handed out as it is, and nothing
//! rests on it here.

use std::time::Duration;

use rusqlite::types::Type;
use rusqlite::{OptionalExtension, Row};

use super::chain::Digest;
use super::schema::{WITH_CHECKPOINT, WITH_DIGESTS};
use super::{PATIENCE, Store};
use crate::shoplog::Trouble;
use crate::shoplog::event::Entry;

/// A log of which only the end is read has one part in so many of the rest held against its digests with each entry that is added: so all
/// of it within so many.
const SHARES: usize = 100;

/// A column that is text, without a copy of it.
fn text<'a>(row: &'a Row, column: usize) -> rusqlite::Result<&'a str> {
    row.get_ref(column)?.as_str().map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(column, Type::Text, error.into())
    })
}

/// The first and the last entry of the share that is held with one entry more than so many. One more at each end than a share has, since
/// with more entries each begins and ends later.
fn share(count: usize) -> (usize, usize) {
    let share = count % SHARES;
    let from = (share * count / SHARES).max(1);
    let to = ((share + 1) * count / SHARES + 1).min(count);
    (from, to)
}

impl Store {
    /// What is read within is of one moment, whoever writes meanwhile.
    pub(in crate::shoplog) fn at_once<T>(
        &self,
        read: impl FnOnce() -> Result<T, Trouble>,
    ) -> Result<T, Trouble> {
        if !self.connection.is_autocommit() {
            return read();
        }
        let moment = self.connection.unchecked_transaction();
        let moment = moment.map_err(|error| self.trouble(&error))?;
        let read = read();
        drop(moment);
        read
    }

    fn last(&self, table: &str) -> Result<usize, Trouble> {
        let last = format!("SELECT coalesce(max(sequence), 0) FROM {table}");
        self.connection
            .prepare_cached(&last)
            .and_then(|mut query| query.query_row([], |row| row.get::<_, i64>(0)))
            .map(|last| usize::try_from(last).unwrap_or(0))
            .map_err(|error| self.trouble(&error))
    }

    /// How many entries there are.
    pub(in crate::shoplog) fn count(&self) -> Result<usize, Trouble> {
        self.at_once(|| {
            let entries = self.last("events")?;
            if self.version()? < WITH_DIGESTS {
                return Ok(entries);
            }
            let noted = self.last("digests")?;
            match entries.cmp(&noted) {
                std::cmp::Ordering::Equal => Ok(entries),
                std::cmp::Ordering::Less => Err(self.lost(entries, noted)),
                std::cmp::Ordering::Greater => Err(self.damaged(format!(
                    "what vouches for its entries from {} on is missing",
                    noted + 1
                ))),
            }
        })
    }

    /// What to tell of a log that is known to have had more entries.
    pub(in crate::shoplog) fn lost(&self, there: usize, noted: usize) -> Trouble {
        self.damaged(format!("{noted} entries were noted, and {there} are there"))
    }

    /// What vouches for the entry of a number, from 1, and all before it; of number 0: for nothing.
    pub(in crate::shoplog) fn digest(&self, number: usize) -> Result<Option<Digest>, Trouble> {
        if number == 0 {
            return Ok(Some(Digest::START));
        }
        let bytes: Option<Vec<u8>> = self
            .connection
            .prepare_cached("SELECT digest FROM digests WHERE sequence = ?1")
            .and_then(|mut query| {
                query
                    .query_row([number as i64], |row| row.get(0))
                    .optional()
            })
            .map_err(|error| self.trouble(&error))?;
        Ok(bytes.and_then(|bytes| Digest::read(&bytes)))
    }

    fn known_digest(&self, number: usize) -> Result<Digest, Trouble> {
        let digest = self.digest(number)?;
        digest.ok_or_else(|| self.damaged(format!("what vouches for entry {number} is missing")))
    }

    /// Goes through the entries of these numbers, each held against its digest, where there are any: number, id, text.
    fn go_through(
        &self,
        (from, to): (usize, usize),
        mut each: impl FnMut(usize, &str, &str) -> Result<(), Trouble>,
    ) -> Result<(), Trouble> {
        let failed = |error| self.trouble(&error);
        let range = (from as i64, to as i64);
        let query = "SELECT sequence, id, entry FROM events
            WHERE sequence BETWEEN ?1 AND ?2 ORDER BY sequence";
        let mut query = self.connection.prepare_cached(query).map_err(failed)?;
        let mut entries = query.query(range).map_err(failed)?;
        let sealed = self.version()? >= WITH_DIGESTS;
        let mut digest = Digest::START;
        let mut sealing = None;
        if sealed {
            digest = self.known_digest(from.saturating_sub(1))?;
            let query = "SELECT sequence, digest FROM digests
                WHERE sequence BETWEEN ?1 AND ?2 ORDER BY sequence";
            sealing = Some(self.connection.prepare_cached(query).map_err(failed)?);
        }
        let mut digests = match &mut sealing {
            Some(query) => Some(query.query(range).map_err(failed)?),
            None => None,
        };
        for number in from..=to {
            let is_next = |row: &Row| -> rusqlite::Result<bool> {
                Ok(row.get::<_, i64>(0)? == number as i64)
            };
            let row = entries.next().map_err(failed)?;
            let row = row.filter(|row| is_next(row).unwrap_or(false));
            let row = row.ok_or_else(|| self.damaged(format!("entry {number} is missing")))?;
            let (id, entry) = (text(row, 1).map_err(failed)?, text(row, 2).map_err(failed)?);
            if let Some(digests) = &mut digests {
                digest = digest.next(number, id, entry);
                let said = |row: &Row| -> rusqlite::Result<bool> {
                    let said = row.get_ref(1)?.as_bytes().ok();
                    Ok(is_next(row)? && said.and_then(Digest::read) == Some(digest))
                };
                let row = digests.next().map_err(failed)?;
                if !row.is_some_and(|row| said(row).unwrap_or(false)) {
                    return Err(self.damaged(format!("entry {number} is not what was noted")));
                }
            }
            each(number, id, entry)?;
        }
        Ok(())
    }

    /// Entries after so many. Where they are all, and something is to be added to them, every page is read, those of the ids and of the
    /// checkpoint too.
    pub(in crate::shoplog) fn after(&self, known: usize) -> Result<Vec<Entry>, Trouble> {
        self.at_once(|| {
            let count = self.count()?;
            if count < known {
                return Err(self.lost(count, known));
            }
            let mut entries = Vec::with_capacity(count - known);
            self.go_through((known + 1, count), |number, id, text| {
                entries.push(self.read(number, id, text)?);
                Ok(())
            })?;
            if known == 0 && self.adds {
                self.checkpoint()?;
                self.ids_are_those_of(&entries)?;
            }
            Ok(entries)
        })
    }

    /// Holds the ids that entries are found by against the entries.
    fn ids_are_those_of(&self, entries: &[Entry]) -> Result<(), Trouble> {
        let failed = |error| self.trouble(&error);
        let query = "SELECT id, sequence FROM events INDEXED BY sqlite_autoindex_events_1
            ORDER BY id";
        let mut query = self.connection.prepare_cached(query).map_err(failed)?;
        let mut ids = query.query([]).map_err(failed)?;
        let (mut count, mut before) = (0, None);
        while let Some(row) = ids.next().map_err(failed)? {
            let id = uuid::Uuid::try_parse(text(row, 0).map_err(failed)?).ok();
            let number: i64 = row.get(1).map_err(failed)?;
            let at = usize::try_from(number).ok().and_then(|n| n.checked_sub(1));
            let entry = at.and_then(|at| entries.get(at));
            // Each greater than the one before, so none twice.
            if id.is_none() || entry.map(|entry| entry.id) != id || id <= before {
                return Err(self.damaged(format!("the id of entry {number} is another")));
            }
            (count, before) = (count + 1, id);
        }
        if count != entries.len() {
            let entries = entries.len();
            return Err(self.damaged(format!("it has {entries} entries and {count} ids")));
        }
        Ok(())
    }

    /// Holds one share of the entries against their digests and ids: with each entry that is added another one.
    pub(in crate::shoplog) fn hold_a_share(&self, count: usize) -> Result<(), Trouble> {
        let query = "SELECT sequence FROM events WHERE id = ?1";
        let query = self.connection.prepare_cached(query);
        let mut query = query.map_err(|error| self.trouble(&error))?;
        self.go_through(share(count), |number, id, _| {
            let found = query.query_row([id], |row| row.get::<_, i64>(0)).optional();
            match found.map_err(|error| self.trouble(&error))? {
                Some(found) if found == number as i64 => Ok(()),
                _ => Err(self.damaged(format!("the id of entry {number} is another"))),
            }
        })
    }

    /// The entry of this number, from 1, which is there.
    pub(in crate::shoplog) fn entry(&self, number: usize) -> Result<Entry, Trouble> {
        let mut entry = None;
        self.go_through((number, number), |number, id, text| {
            entry = Some(self.read(number, id, text)?);
            Ok(())
        })?;
        entry.ok_or_else(|| self.damaged(format!("entry {number} is missing")))
    }

    fn read(&self, number: usize, id: &str, text: &str) -> Result<Entry, Trouble> {
        let unreadable =
            |what: String| self.damaged(format!("entry {number} cannot be read: {what}"));
        let entry: Entry =
            serde_json::from_str(text).map_err(|error| unreadable(error.to_string()))?;
        match uuid::Uuid::try_parse(id) {
            Ok(id) if id == entry.id => Ok(entry),
            _ => Err(unreadable("it has the id of another".to_owned())),
        }
    }

    /// The entries of a damaged log up to the first that cannot be read or is not what was noted, as far as something vouches for that.
    pub(in crate::shoplog) fn salvage(&self) -> Vec<Entry> {
        let mut digest = Some(Digest::START);
        let next = |number: usize| {
            let (id, text) = self
                .connection
                .prepare_cached("SELECT id, entry FROM events WHERE sequence = ?1")
                .and_then(|mut query| {
                    query.query_row([number as i64], |row| {
                        Ok((text(row, 0)?.to_owned(), text(row, 1)?.to_owned()))
                    })
                })
                .ok()?;
            let said = self.digest(number).ok().flatten();
            let is = digest.map(|digest| digest.next(number, &id, &text));
            if said.is_some() && is.is_some() && said != is {
                return None;
            }
            // Where nothing says what an entry should be, it is taken as it is; the next is then held against what is said of this one.
            digest = said.or(is);
            self.read(number, &id, &text).ok()
        };
        (1..).map_while(next).collect()
    }

    /// The checkpoint that was kept last, if one is there; one that is no text any more is none.
    pub(in crate::shoplog) fn checkpoint(&self) -> Result<Option<String>, Trouble> {
        // A log that is only looked at may be of a program before there were any.
        if self.version()? < WITH_CHECKPOINT {
            return Ok(None);
        }
        let text = |row: &Row| {
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

    /// Keeps a checkpoint in the place of the one before, and says whether it did. Where that fails there is the one before, or none:
    /// nothing rests on it.
    pub(in crate::shoplog) fn keep(&self, state: &str) -> bool {
        self.hurried(
            "INSERT OR REPLACE INTO checkpoint (one, state) VALUES (1, ?1)",
            state,
        )
    }

    /// Takes out a checkpoint that is wrong, unless there is another by now. Where that fails it stays: whoever reads all entries finds it
    /// again.
    pub(in crate::shoplog) fn forget(&self, state: &str) -> bool {
        self.hurried("DELETE FROM checkpoint WHERE state = ?1", state)
    }

    /// Does what nothing rests on, so it waits for nobody who is writing.
    fn hurried(&self, what: &str, state: &str) -> bool {
        let hurried = self.connection.busy_timeout(Duration::ZERO);
        let done = hurried.and_then(|()| self.connection.execute(what, [state]));
        let patient = self.connection.busy_timeout(PATIENCE);
        done.is_ok() && patient.is_ok()
    }

    /// Adds an entry as number `number`, within a transaction of [`Store::begin`].
    pub(in crate::shoplog) fn add(&self, number: usize, entry: &Entry) -> Result<(), Trouble> {
        let (id, text) = (entry.id.to_string(), entry.line());
        let add = "INSERT INTO events (sequence, id, entry) VALUES (?1, ?2, ?3)";
        self.connection
            .prepare_cached(add)
            .and_then(|mut add| add.execute((number as i64, &id, &text)))
            .map_err(|error| self.trouble(&error))?;
        let before = self.known_digest(number.saturating_sub(1))?;
        self.vouch(number, before.next(number, &id, &text))
    }

    fn vouch(&self, number: usize, digest: Digest) -> Result<(), Trouble> {
        self.connection
            .prepare_cached("INSERT INTO digests (sequence, digest) VALUES (?1, ?2)")
            .and_then(|mut add| add.execute((number as i64, digest.bytes())))
            .map(|_| ())
            .map_err(|error| self.trouble(&error))
    }

    /// Gives the entries of a program before there were digests theirs, within the transaction that makes room for them.
    pub(super) fn vouch_for_all(&self) -> Result<(), Trouble> {
        let mut digest = Digest::START;
        self.go_through((1, self.last("events")?), |number, id, text| {
            self.read(number, id, text)?;
            digest = digest.next(number, id, text);
            self.vouch(number, digest)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_hundred_entries_that_follow_each_other_hold_all_before_them() {
        let starts = (1..1200).chain([9_950, 10_000, 12_345, 99_999]);
        for start in starts {
            let mut shares: Vec<(usize, usize)> = (start..start + SHARES).map(share).collect();
            shares.sort_unstable();
            let mut held = 0;
            for (from, to) in shares {
                assert!(from <= held + 1, "{start}: {} is not held", held + 1);
                held = held.max(to);
            }
            assert!(held >= start, "{start}: {held}");
        }
        // And no one of them is much more than its share: of 100,000 entries 1,000.
        let (from, to) = share(100_050);
        assert!(to - from <= 1_002, "{from} to {to}");
    }
}
