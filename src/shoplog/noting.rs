//! A log as far as noting one more event needs it: where the shop stands, without all that led there.
//!
//! Knows: checkpoints, the log. Must not know: SQLite, what events mean.
//! Promises: what it refuses and notes is what the whole log would; it takes as long for many entries and accepted plans as for few, but that
//! an undo reads all. Of a long log damage before the last checkpoint is found within a hundred notes, a share of it with each; anywhere in a
//! short one before anything is noted.

use std::path::Path;
use std::sync::Arc;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::checkpoint::Checkpoint;
use super::event::{Entry, Event};
use super::ledger::Ledger;
use super::shop::Shop;
use super::state::State;
use super::store::{Digest, Store};
use super::{Log, SHORT_UP_TO, Trouble, complete, follow};
use crate::scenario::Scenario;

/// A log that is noted to.
///
/// Its state has no measurements: plans are made from a [`Log`].
pub struct Noting(pub(super) Log);

impl Noting {
    /// Opens the log of this path; makes it where there is none.
    ///
    /// # Errors
    /// As [`Log::open`].
    pub fn open(path: &Path, scenario: &Scenario) -> Result<Self, Trouble> {
        Self::open_as(SHORT_UP_TO, path, scenario)
    }

    /// The same, where a log of up to so many bytes is short, and read whole.
    pub(super) fn open_as(
        short_up_to: u64,
        path: &Path,
        scenario: &Scenario,
    ) -> Result<Self, Trouble> {
        let store = Store::open(path)?;
        let shop = Arc::new(Shop::new(scenario));
        let resumed = match store.bytes()? > short_up_to {
            true => store.at_once(|| resumed(&store, &shop))?,
            false => None,
        };
        let Some(mut ledger) = resumed else {
            let log = Log::load(store, shop)?;
            return Ok(Self(Log { short_up_to, ..log }));
        };
        let mut kept = ledger.count();
        follow(&mut ledger, &store)?;
        if ledger.is_whole() {
            // What came after the checkpoint undoes something, so another one is due.
            kept = 0;
        }
        let log = Log {
            store,
            ledger,
            kept,
            short_up_to,
        };
        log.unless_foreign().map(Self)
    }

    /// As [`Log::rehearse`].
    ///
    /// # Errors
    /// As there.
    pub fn rehearse(path: &Path, scenario: &Scenario) -> Result<Self, Trouble> {
        Log::rehearse(path, scenario).map(Self)
    }

    /// Where the shop stands, measurements aside.
    pub fn state(&self) -> &State {
        self.0.state()
    }

    /// How many entries there are.
    pub fn count(&self) -> usize {
        self.0.ledger.count()
    }

    /// The entry of an id, with its number, from 1; `None` also of one that need not have been read.
    pub fn numbered(&self, id: &Uuid) -> Option<(usize, &Entry)> {
        self.0.numbered(id)
    }

    /// The whole log.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn whole(&mut self) -> Result<&Log, Trouble> {
        complete(&mut self.0.ledger, &self.0.store)?;
        Ok(&self.0)
    }

    /// As [`Log::note`].
    ///
    /// # Errors
    /// As there.
    pub fn note(
        &mut self,
        event: Event,
        at: DateTime<Utc>,
        now: DateTime<Utc>,
    ) -> Result<Entry, Trouble> {
        self.0.note(event, at, now)
    }
}

/// What the entries up to the last checkpoint add up to; `None` if there is none that holds.
fn resumed(store: &Store, shop: &Arc<Shop>) -> Result<Option<Ledger>, Trouble> {
    let text = store.checkpoint()?;
    let Some(kept) = text.and_then(|text| Checkpoint::read(&text, shop)) else {
        return Ok(None);
    };
    let (entries, count) = (kept.entries, store.count()?);
    if entries > count {
        return Err(store.lost(count, entries));
    }
    if store.digest(entries)?.map(Digest::text).as_ref() != Some(&kept.digest) {
        return Ok(None);
    }
    let numbers = 1..=entries;
    let at = kept
        .plan
        .map(|(at, _)| at)
        .filter(|at| numbers.contains(at));
    let plan = at.map(|at| store.entry(at)).transpose()?;
    let text = match plan.as_ref().map(|entry| &entry.event) {
        Some(Event::PlanAccepted { plan, .. }) => Some(plan.as_str()),
        _ => None,
    };
    let state = kept.state(Arc::clone(shop), text);
    Ok(state.map(|state| Ledger::resumed(state, entries, at)))
}
