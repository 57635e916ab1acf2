//! A log as far as noting one more event needs it: where the shop stands, without all that led there.
//!
//! Knows: checkpoints, the log. Must not know: SQLite, what events mean.
//! Promises: what it refuses and notes is what the whole log would; it takes as long for many entries and accepted plans as for few, but for
//! each hundredth, which reads them all. Damage before the last checkpoint of a long log is found then, not sooner; anywhere in a short one
//! before anything is noted.

use std::path::Path;
use std::sync::Arc;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::checkpoint::Checkpoint;
use super::event::{Entry, Event};
use super::ledger::Ledger;
use super::shop::Shop;
use super::state::State;
use super::store::Store;
use super::{Log, READ_WHOLE, Trouble, complete, follow};
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
        Self::open_whole(READ_WHOLE, path, scenario)
    }

    /// The same, where a log of up to so many bytes is read whole.
    pub(super) fn open_whole(
        whole: u64,
        path: &Path,
        scenario: &Scenario,
    ) -> Result<Self, Trouble> {
        let store = Store::open(path)?;
        let shop = Arc::new(Shop::new(scenario));
        let resumed = match store.bytes()? > whole {
            true => resumed(&store, &shop)?,
            false => None,
        };
        let Some(mut ledger) = resumed else {
            let log = Log::load(store, shop)?;
            return Ok(Self(Log { whole, ..log }));
        };
        let kept = ledger.count();
        follow(&mut ledger, &store)?;
        let log = Log {
            store,
            ledger,
            kept,
            whole,
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
    let Some(text) = store.checkpoint()? else {
        return Ok(None);
    };
    let Some(kept) = Checkpoint::read(&text, shop) else {
        return Ok(None);
    };
    let entries = kept.entries;
    let is_last = |entry: &Entry| entry.id == kept.last;
    if !store.entry(entries)?.as_ref().is_some_and(is_last) {
        return Ok(None);
    }
    let at = kept.plan.map(|(at, _)| at).filter(|&at| at <= entries);
    let plan = match at {
        Some(at) => store.entry(at)?,
        None => None,
    };
    let text = match plan.as_ref().map(|entry| &entry.event) {
        Some(Event::PlanAccepted { plan, .. }) => Some(plan.as_str()),
        _ => None,
    };
    let state = kept.state(Arc::clone(shop), text);
    Ok(state.map(|state| Ledger::resumed(state, entries, at)))
}
