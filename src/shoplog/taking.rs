//! Taking in entries of another log, or of another program: all of them or none.
//!
//! Knows: the log, lines. Must not know: SQLite, what an event means.
//! Promises: what is taken in is held against the entries that it follows, and nobody who notes meanwhile waits for that: only for the
//! writing of it.

use chrono::{DateTime, Utc};

use super::event::Event;
use super::ledger::Ledger;
use super::{Imported, Log, Trouble, complete, follow, lines};

/// So often it is tried while others may note; then nobody may until it is done.
const PATIENCE: usize = 5;

impl Log {
    /// Takes in what was exported, or written by another program: all of it or nothing. Entries that are there are left out, and so is what
    /// undoes an entry that is undone.
    ///
    /// A line with an id and the moment at which it was noted was in a log before: it is held against the clock and the other entries only,
    /// not against the scenario, which may have changed since.
    ///
    /// # Errors
    /// If a line is no entry, or its event cannot have happened after those before it, or the log cannot be written.
    pub fn import(&mut self, text: &str, now: DateTime<Utc>) -> Result<Imported, Trouble> {
        let lines = lines::read(text, now).map_err(wrong)?;
        complete(&mut self.ledger, &self.store)?;
        let mut imported = None;
        for attempt in 0..=PATIENCE {
            // Where others never cease to note, they wait for once.
            imported = self.try_import(&lines, now, attempt == PATIENCE)?;
            if imported.is_some() {
                break;
            }
        }
        let imported = imported.unwrap_or_default();
        if imported.added > 0 {
            self.keep();
        }
        Ok(imported)
    }

    /// The same, unless somebody notes something while the lines are looked at: then nothing is taken in, and it is `None`. Where nobody
    /// may, `alone`, it is not.
    fn try_import(
        &mut self,
        lines: &[lines::Read],
        now: DateTime<Utc>,
        alone: bool,
    ) -> Result<Option<Imported>, Trouble> {
        let before = alone.then(|| self.store.begin()).transpose()?;
        follow(&mut self.ledger, &self.store)?;
        let (ledger, imported) = taken_in(&self.ledger, lines, now)?;
        if imported.added == 0 {
            return Ok(Some(imported));
        }
        let transaction = match before {
            Some(transaction) => transaction,
            None => self.store.begin()?,
        };
        // From here on nobody else writes.
        let known = self.ledger.count();
        if self.store.count()? != known {
            return Ok(None);
        }
        for (number, entry) in (1..).zip(&ledger.entries).skip(known) {
            self.store.add(number, entry)?;
        }
        self.store.commit(transaction)?;
        self.ledger = ledger;
        Ok(Some(imported))
    }
}

fn wrong((line, what): (usize, String)) -> Trouble {
    Trouble::Line { line, what }
}

/// All entries with those of the lines after them.
fn taken_in(
    known: &Ledger,
    lines: &[lines::Read],
    now: DateTime<Utc>,
) -> Result<(Ledger, Imported), Trouble> {
    let mut ledger = known.clone();
    let mut imported = Imported::default();
    let mut last = 1;
    for &lines::Read {
        line,
        ref entry,
        noted,
    } in lines
    {
        if let Some(there) = ledger.find(&entry.id) {
            if (there.at, &there.event) != (entry.at, &entry.event) {
                let what = format!(
                    "entry {} is there already and says something else",
                    entry.id
                );
                return Err(wrong((line, what)));
            }
            imported.known += 1;
            continue;
        }
        // Two copies of a log may each have undone the same.
        if matches!(entry.event, Event::Undone { id } if ledger.is_undone(&id)) {
            imported.known += 1;
            continue;
        }
        last = line;
        if !matches!(entry.event, Event::Undone { .. }) {
            ledger.settle();
        }
        let possible = ledger.check_taken_in(entry, noted, now);
        possible.map_err(|refusal| wrong((line, refusal.to_string())))?;
        ledger.take(entry.clone());
        imported.added += 1;
    }
    ledger.settle();
    if let Some(what) = ledger.state.foreign() {
        let what = format!("{what}; take it in beside its own scenario");
        return Err(wrong((last, what)));
    }
    Ok((ledger, imported))
}
