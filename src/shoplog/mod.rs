//! What really happened: the shop's log, and where the shop stands by it.
//!
//! Knows: the scenario, the accepted plan, SQLite. Must not know: how a plan is found, how anything is shown.
//! Promises: an entry that was acknowledged is on the disk, whatever happens to program or power; entries are only ever added;
//! what cannot have happened is not noted; a file that is no log is never written to, nor is one that is known to be damaged. Every entry that
//! is read is what was noted, by its digest: a short log is read whole before anything is noted, a long one at least within a hundred
//! entries, and whole by whoever plans or asks where the shop stands.

mod accepted;
mod adding;
mod basis;
mod checkpoint;
mod curing;
mod differences;
mod estimated;
mod event;
mod forecast;
mod foreign;
mod known;
mod ledger;
mod lengths;
mod lines;
mod noting;
mod past;
mod progress;
mod records;
mod rules;
mod shelf;
mod shop;
mod short;
mod slips;
mod stages;
mod state;
mod status;
mod store;
mod taking;
mod tally;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::{DateTime, SubsecRound, Utc};
use uuid::Uuid;

use crate::scenario::Scenario;

pub use accepted::{Accepted, PlannedAssembly, PlannedPiece, PlannedRun};
pub use basis::{Basis, basis};
pub use differences::Difference;
pub use estimated::{Estimated, estimated, measured};
pub use event::{Entry, Event, PieceId, Sample};
pub use known::next_spool;
pub use noting::Noting;
pub use progress::{changed, progress};
pub use records::{AssemblyLog, Attempt, Ended, MachineLog, Measured, Printed, SpoolLog, TrialLog};
pub use rules::Refusal;
pub use short::{Said, Short};
pub use state::{RunKey, State};

pub use status::{Idle, Low, Next, Printing, Stage, Status, Task, status};
pub use tally::{
    AssemblyTally, GluingTally, MachineTally, OrderTally, PartTally, SpoolTally, Stand, Tally,
    TrialTally, bought,
};

use checkpoint::Checkpoint;
use ledger::Ledger;
use shop::Shop;
use store::Store;

/// What the scenario's own suffix gives way to in the log's name.
const SUFFIX: &str = "log.sqlite";

/// Why something could not be noted or read.
#[derive(Clone, Debug, thiserror::Error)]
pub enum Trouble {
    /// It cannot have happened.
    #[error("not noted: {0}")]
    Refused(#[from] Refusal),
    /// A line of what was to be taken in cannot be.
    #[error("line {line}: {what}; nothing was taken in")]
    Line {
        /// Its number, from 1.
        line: usize,
        /// What is wrong with it.
        what: String,
    },
    /// What is there is no log that this program may touch.
    #[error("{path}: {what}; it was left as it is: {fix}")]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        what: String,
        /// What to do.
        fix: String,
    },
    /// What is there is a log, and no longer a whole one.
    #[error(
        "{path}: the log is damaged ({what}); it was left as it is: move it away, {WITH_ITS_FILES}; then put a copy in its place, or take in what was exported of it"
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// The file system, or another program, is in the way.
    #[error("{path}: {what}; {fix}")]
    Storage {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        what: String,
        /// What to do.
        fix: String,
    },
}

/// What belongs to a log that is moved.
const WITH_ITS_FILES: &str =
    "with the files of its name that end in `-wal` and `-shm`, if there are any";

/// What an import added.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// New entries.
    pub added: usize,
    /// Entries that were there already.
    pub known: usize,
}

/// Where the log of a scenario is: beside it.
pub fn beside(scenario: &Path) -> PathBuf {
    scenario.with_extension(SUFFIX)
}

/// The text of a file to take in.
///
/// # Errors
/// If it cannot be read, or is no text.
pub fn text_of(file: &Path) -> std::io::Result<String> {
    std::fs::read_to_string(file)
}

/// An open log.
pub struct Log {
    store: Store,
    ledger: Ledger,
    /// So many entries stand in the checkpoint that is known of.
    kept: usize,
    /// A log of no more bytes is short: no checkpoint is kept of it.
    short_up_to: u64,
}

/// A log of no more bytes is read whole before anything is noted, so that damage anywhere in it is found; that takes some 4 ms at most. It
/// holds some thousands of entries, or two plans of a large build.
const SHORT_UP_TO: u64 = 1 << 20;

/// After so many entries more, and with each accepted plan, a checkpoint is kept of a longer log: adding so many up takes less than a
/// millisecond, writing a checkpoint several.
const CHECKPOINT: usize = 100;

impl Log {
    /// Opens the log of this path, to note something; makes it where there is none.
    ///
    /// # Errors
    /// If it cannot be read or written, or something else is there.
    pub fn open(path: &Path, scenario: &Scenario) -> Result<Self, Trouble> {
        Self::load(Store::open(path)?, Arc::new(Shop::new(scenario)))
    }

    /// A log in which nothing is noted yet and that is kept nowhere, to see what a first entry would be refused for before a file is made.
    /// The path is for messages only: another program may make a log there meanwhile.
    ///
    /// # Errors
    /// If there is no memory for it.
    pub fn rehearse(path: &Path, scenario: &Scenario) -> Result<Self, Trouble> {
        Self::load(Store::in_memory(path)?, Arc::new(Shop::new(scenario)))
    }

    /// Reads the log of this path; `None` where there is none.
    ///
    /// # Errors
    /// If it cannot be read, or something else is there.
    pub fn read(path: &Path, scenario: &Scenario) -> Result<Option<Self>, Trouble> {
        let store = Store::look(path)?;
        let shop = || Arc::new(Shop::new(scenario));
        store.map(|store| Self::load(store, shop())).transpose()
    }

    fn load(store: Store, shop: Arc<Shop>) -> Result<Self, Trouble> {
        let mut ledger = Ledger::new(shop);
        let (entries, kept) = store.at_once(|| {
            // Who only reads does not need what is derived.
            Ok((store.after(0)?, store.checkpoint().ok().flatten()))
        })?;
        add_up(&mut ledger, entries, kept, &store)?;
        let log = Self {
            store,
            ledger,
            kept: 0,
            short_up_to: SHORT_UP_TO,
        };
        log.unless_foreign()
    }

    /// The log, unless it is of another build than the scenario.
    fn unless_foreign(self) -> Result<Self, Trouble> {
        match self.state().foreign() {
            Some(what) => Err(Trouble::NotOurs {
                path: self.store.path().to_owned(),
                what,
                fix: format!(
                    "move it beside its own scenario, or away, {WITH_ITS_FILES}; if it is the same build, call that so: `build: {{name: {}}}`",
                    self.state().plan().map_or("", |plan| &plan.build)
                ),
            }),
            None => self.store.is_ours().map(|()| self),
        }
    }

    /// Whether a checkpoint is to be kept with the next entry, where the log is long enough for one.
    fn is_due(&self, next: &Event) -> bool {
        let plan = self.ledger.plan.is_some_and(|plan| plan > self.kept);
        changes_much(next) || plan || self.ledger.count() + 1 >= self.kept + CHECKPOINT
    }

    /// Keeps what the entries add up to.
    fn keep(&mut self) {
        let bytes = self.store.bytes();
        if bytes.is_ok_and(|bytes| bytes <= self.short_up_to) {
            return;
        }
        let kept = checkpoint(&self.ledger, &self.store);
        if kept.is_some_and(|text| self.store.keep(&text)) {
            self.kept = self.ledger.count();
        }
    }

    /// Where the shop stands.
    pub fn state(&self) -> &State {
        &self.ledger.state
    }

    /// Where the shop stood at a moment, by what is known now: without what happened later, and without what was undone since; and how
    /// many entries are left out as later.
    pub fn state_at(&self, moment: DateTime<Utc>) -> (State, usize) {
        self.ledger.state_at(moment)
    }

    /// All entries, in the order in which they were noted; the first is number 1.
    pub fn entries(&self) -> &[Entry] {
        &self.ledger.entries
    }

    /// The latest moment at which something happened that was noted and not undone; accepted plans aside, which change nothing
    /// in the shop.
    pub fn last_moment(&self) -> Option<DateTime<Utc>> {
        let entries = self.ledger.entries.iter();
        let happened = entries.filter(|entry| {
            !matches!(
                entry.event,
                Event::PlanAccepted { .. } | Event::Undone { .. }
            ) && !self.is_undone(entry)
        });
        happened.map(|entry| entry.at).max()
    }

    /// The entry of an id, with its number, from 1.
    pub fn numbered(&self, id: &Uuid) -> Option<(usize, &Entry)> {
        self.ledger.numbered(id)
    }

    /// Whether an entry was undone.
    pub fn is_undone(&self, entry: &Entry) -> bool {
        self.ledger.is_undone(&entry.id)
    }

    /// Notes an event, and returns when it is on the disk.
    ///
    /// # Errors
    /// If it cannot have happened, or cannot be written; then nothing was noted.
    pub fn note(
        &mut self,
        event: Event,
        at: DateTime<Utc>,
        now: DateTime<Utc>,
    ) -> Result<Entry, Trouble> {
        self.note_if(|_| Ok(()), event, at, now)
    }

    /// Accepts a plan of the scenario with the digest `basis`, made when the log had `known` entries.
    ///
    /// # Errors
    /// As [`Log::note`]; also if something was noted since.
    pub fn accept(
        &mut self,
        plan: String,
        basis: Basis,
        known: usize,
        now: DateTime<Utc>,
    ) -> Result<Entry, Trouble> {
        let accepted = Event::PlanAccepted {
            plan,
            basis: Some(basis),
        };
        self.note_if(|ledger| unchanged(ledger, known), accepted, now, now)
    }

    /// Whether [`Log::accept`] would take a plan, as far as that can be known before; nothing is written, and no log is made.
    ///
    /// # Errors
    /// As there.
    pub fn may_accept(
        path: &Path,
        scenario: &Scenario,
        plan: String,
        known: usize,
        now: DateTime<Utc>,
    ) -> Result<(), Trouble> {
        let (log, there) = match Self::read(path, scenario)? {
            Some(log) => (log, true),
            None => (Self::rehearse(path, scenario)?, false),
        };
        let accepted = Event::PlanAccepted { plan, basis: None };
        log.ledger.check(&accepted, now, now)?;
        unchanged(&log.ledger, known)?;
        if there {
            log.store.may_write()
        } else {
            Store::may_be_made(path)
        }
    }

    fn note_if(
        &mut self,
        also: impl Fn(&Ledger) -> Result<(), Refusal>,
        event: Event,
        at: DateTime<Utc>,
        now: DateTime<Utc>,
    ) -> Result<Entry, Trouble> {
        let due = self.is_due(&event);
        if changes_much(&event) {
            complete(&mut self.ledger, &self.store)?;
        }
        let transaction = self.store.begin()?;
        // From here on nobody else writes, so what is checked is what the entry follows.
        follow(&mut self.ledger, &self.store)?;
        if !self.ledger.is_whole() {
            self.store.hold_a_share(self.ledger.count())?;
        }
        self.ledger.check(&event, at, now)?;
        also(&self.ledger)?;
        let entry = Entry {
            id: Uuid::new_v4(),
            at: at.trunc_subsecs(0),
            noted: now.trunc_subsecs(0),
            event,
        };
        self.store.add(self.ledger.count() + 1, &entry)?;
        self.store.commit(transaction)?;
        self.ledger.extend(vec![entry.clone()]);
        if due {
            self.keep();
        }
        Ok(entry)
    }

    /// All entries as JSON, one a line.
    pub fn export(&self) -> String {
        written(&self.ledger.entries)
    }

    /// What can still be read of a log that is damaged: all entries up to the first that cannot be, as [`Log::export`] writes them, and how
    /// many they are.
    ///
    /// # Errors
    /// If nothing can be read there.
    pub fn salvage(path: &Path) -> Result<(String, usize), Trouble> {
        let store = Store::look(path)?;
        let entries = store.map_or_else(Vec::new, |store| store.salvage());
        Ok((written(&entries), entries.len()))
    }
}

/// Entries as JSON, one a line.
fn written(entries: &[Entry]) -> String {
    let lines = entries.iter().map(Entry::line);
    lines.flat_map(|line| [line, "\n".to_owned()]).collect()
}

/// Whether much more changes with an event than what it says: all entries are asked then.
fn changes_much(event: &Event) -> bool {
    matches!(event, Event::PlanAccepted { .. } | Event::Undone { .. })
}

/// Takes in all entries. A checkpoint that is of them, and is not what they add up to, is taken out: the next is made of them all.
fn add_up(
    ledger: &mut Ledger,
    mut entries: Vec<Entry>,
    kept: Option<String>,
    store: &Store,
) -> Result<(), Trouble> {
    let read = |text: String| Checkpoint::read(&text, &ledger.state.shop).map(|kept| (text, kept));
    if let Some((text, kept)) = kept.and_then(read) {
        if kept.entries > entries.len() {
            return Err(store.lost(entries.len(), kept.entries));
        }
        let later = entries.split_off(kept.entries);
        ledger.extend(entries);
        if checkpoint(ledger, store).as_ref() != Some(&text) {
            store.forget(&text);
        }
        entries = later;
    }
    ledger.extend(entries);
    Ok(())
}

/// What is kept of all that is known of.
fn checkpoint(ledger: &Ledger, store: &Store) -> Option<String> {
    let (count, plan) = (ledger.count(), ledger.plan);
    let digest = store.digest(count).ok().flatten()?.text();
    Checkpoint::of(&ledger.state, count, digest, plan).text()
}

/// Takes in the entries that were written after those that are known.
fn follow(ledger: &mut Ledger, store: &Store) -> Result<(), Trouble> {
    let entries = store.after(ledger.count())?;
    let undoes = |entry: &Entry| matches!(entry.event, Event::Undone { .. });
    if !ledger.is_whole() && entries.iter().any(undoes) {
        return complete(ledger, store);
    }
    ledger.extend(entries);
    Ok(())
}

/// Reads the entries that are known only by what they add up to.
fn complete(ledger: &mut Ledger, store: &Store) -> Result<(), Trouble> {
    if !ledger.is_whole() {
        *ledger = Ledger::new(Arc::clone(&ledger.state.shop));
        ledger.extend(store.after(0)?);
    }
    Ok(())
}

/// Whether a log has no more entries than somebody knows of.
fn unchanged(ledger: &Ledger, known: usize) -> Result<(), Refusal> {
    match ledger.count().saturating_sub(known) {
        0 => Ok(()),
        more => rules::refuse(
            format!("since the plan was made the log has grown by {more}"),
            "plan again",
        ),
    }
}

#[cfg(test)]
mod tests;
