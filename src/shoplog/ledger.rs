//! All entries and what they add up to.
//!
//! Knows: entries, rules, the state. Must not know: files.
//! Promises: the state is that of all entries that are not undone, in the order in which they were noted. The first of them may be known by
//! what they add up to alone; then none of those can be asked for or undone.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::event::{Entry, Event};
use super::rules::{self, Refusal, refuse};
use super::shop::Shop;
use super::state::State;

/// Entries and their sum.
#[derive(Clone)]
pub(super) struct Ledger {
    /// So many entries are known only by what they add up to.
    before: usize,
    /// Those after them.
    pub(super) entries: Vec<Entry>,
    /// The number of the entry, from 1, that accepted the plan that is followed.
    pub(super) plan: Option<usize>,
    pub(super) state: State,
    positions: HashMap<Uuid, usize>,
    undone: HashSet<Uuid>,
    /// Whether entries are put down as undone that the state still has.
    behind: bool,
}

impl Ledger {
    pub(super) fn new(shop: Arc<Shop>) -> Self {
        Self {
            before: 0,
            entries: Vec::new(),
            plan: None,
            state: State::new(shop),
            positions: HashMap::new(),
            undone: HashSet::new(),
            behind: false,
        }
    }

    /// So many entries, which add up to a state; the `plan` that is followed was accepted by this one.
    pub(super) fn resumed(state: State, before: usize, plan: Option<usize>) -> Self {
        Self {
            before,
            entries: Vec::new(),
            plan,
            state,
            positions: HashMap::new(),
            undone: HashSet::new(),
            behind: false,
        }
    }

    /// How many entries there are.
    pub(super) fn count(&self) -> usize {
        self.before + self.entries.len()
    }

    /// Whether all entries can be asked for.
    pub(super) fn is_whole(&self) -> bool {
        self.before == 0
    }

    /// Takes in what was checked when it was written. Where not all entries are known, none of these undoes one.
    pub(super) fn extend(&mut self, entries: Vec<Entry>) {
        let undone = self.undone.len();
        let mut first = self.entries.len();
        for entry in entries {
            self.push(entry);
        }
        if self.behind || self.undone.len() > undone {
            self.state = State::new(Arc::clone(&self.state.shop));
            self.plan = None;
            self.behind = false;
            first = 0;
        }
        for (number, entry) in (self.before + 1..).zip(&self.entries).skip(first) {
            if !self.undone.contains(&entry.id) {
                let before = self.state.followed.as_ref().map(|(number, _)| *number);
                self.state.add(entry);
                if self.state.followed.as_ref().map(|(number, _)| *number) != before {
                    self.plan = Some(number);
                }
            }
        }
    }

    fn push(&mut self, entry: Entry) {
        if let Event::Undone { id } = entry.event {
            self.undone.insert(id);
        }
        self.positions.insert(entry.id, self.entries.len());
        self.entries.push(entry);
    }

    /// Takes in one that was checked, of many. What undoes an entry is only put down until [`Ledger::settle`] or another kind of entry
    /// follows, as all entries have to be added up again for it; whether one more can be undone does not ask for the state.
    pub(super) fn take(&mut self, entry: Entry) {
        if matches!(entry.event, Event::Undone { .. }) {
            self.push(entry);
            self.behind = true;
        } else {
            self.extend(vec![entry]);
        }
    }

    /// Adds up what was put down.
    pub(super) fn settle(&mut self) {
        if self.behind {
            self.extend(Vec::new());
        }
    }

    /// What the entries of no later than a moment add up to, and how many are later.
    pub(super) fn state_at(&self, moment: DateTime<Utc>) -> (State, usize) {
        let counts = |entry: &&Entry| !self.undone.contains(&entry.id);
        let (until, later): (Vec<&Entry>, Vec<&Entry>) = (self.entries.iter())
            .filter(counts)
            .filter(|entry| !matches!(entry.event, Event::Undone { .. }))
            .partition(|entry| entry.at <= moment);
        if later.is_empty() {
            return (self.state.clone(), 0);
        }
        let mut state = State::new(Arc::clone(&self.state.shop));
        for entry in until {
            state.add(entry);
        }
        (state, later.len())
    }

    /// The entry of this id.
    pub(super) fn find(&self, id: &Uuid) -> Option<&Entry> {
        self.positions.get(id).map(|&at| &self.entries[at])
    }

    /// The entry of this id and its number, from 1.
    pub(super) fn numbered(&self, id: &Uuid) -> Option<(usize, &Entry)> {
        let at = *self.positions.get(id)?;
        Some((self.before + at + 1, &self.entries[at])) // positions are those of entries
    }

    pub(super) fn is_undone(&self, id: &Uuid) -> bool {
        self.undone.contains(id)
    }

    /// Whether an event can have happened, after all entries.
    pub(super) fn check(
        &self,
        event: &Event,
        at: DateTime<Utc>,
        now: DateTime<Utc>,
    ) -> Result<(), Refusal> {
        rules::check(&self.state, event, at, now)?;
        match event {
            Event::Undone { id } => self.can_be_undone(id),
            _ => Ok(()),
        }
    }

    /// Whether an entry of another log can follow all entries. Of one that was noted before, `restored`, only that is asked which does not
    /// rest on the scenario, since that may have changed; but nothing happened, or was noted, in days to come.
    pub(super) fn check_taken_in(
        &mut self,
        entry: &Entry,
        restored: bool,
        now: DateTime<Utc>,
    ) -> Result<(), Refusal> {
        self.state.restoring = restored;
        let checked = self.check(&entry.event, entry.at, now);
        self.state.restoring = false;
        checked?;
        rules::in_time(&self.state, entry.noted, now)
    }

    /// Whether no run was started by the name that an accepted plan gives it: without that plan the entry would mean a run of the
    /// plan before it, with other pieces on it.
    fn names_nothing(&self, position: usize) -> Result<(), Refusal> {
        let is_plan = |entry: &Entry| matches!(entry.event, Event::PlanAccepted { .. });
        if !is_plan(&self.entries[position]) {
            return Ok(());
        }
        let counts = |entry: &&Entry| !self.undone.contains(&entry.id);
        let after = self.entries[position + 1..].iter().filter(counts);
        let mut until_next = after.take_while(|entry| !is_plan(entry));
        let started = until_next.find_map(|entry| match &entry.event {
            Event::Started { run, .. } => Some(run),
            _ => None,
        });
        match started {
            Some(run) => refuse(
                format!("{run} of this plan has been started"),
                "undo that first, or plan again and accept another plan",
            ),
            None => Ok(()),
        }
    }

    /// Whether all later entries could be without this one.
    fn can_be_undone(&self, id: &Uuid) -> Result<(), Refusal> {
        let Some(&position) = self.positions.get(id) else {
            return refuse(
                format!("there is no entry {id}"),
                "`log SCENARIO show` lists them",
            );
        };
        if matches!(self.entries[position].event, Event::Undone { .. }) {
            return refuse(
                "what was undone is not done again by undoing that",
                "note it anew",
            );
        }
        if self.undone.contains(id) {
            return refuse("this entry is undone already", "nothing is to be noted");
        }
        self.names_nothing(position)?;
        let mut with = State::new(Arc::clone(&self.state.shop));
        let mut without = with.clone();
        for (index, entry) in self.entries.iter().enumerate() {
            if self.undone.contains(&entry.id) {
                continue;
            }
            if index > position
                && let Some(refusal) = rests(&mut with, &mut without, entry)
            {
                return refuse(
                    format!(
                        "entry {} rests on it: without it {}",
                        index + 1,
                        refusal.what
                    ),
                    format!("undo {} first", index + 1),
                );
            }
            with.add(entry);
            if index != position {
                without.add(entry);
            }
        }
        Ok(())
    }
}

/// Why an entry cannot follow one state of the shop, if it can follow the other.
///
/// The scenario may have changed since it was noted, so that it would not be taken today; that says nothing of whether it rests on what is
/// missing. So it is also asked what the entries alone say.
fn rests(with: &mut State, without: &mut State, entry: &Entry) -> Option<Refusal> {
    let (event, at) = (&entry.event, entry.at);
    if matches!(event, Event::PlanAccepted { .. }) {
        return None; // whatever was before, and long to read
    }
    let now = at.max(entry.noted);
    [false, true].into_iter().find_map(|restoring| {
        with.restoring = restoring;
        without.restoring = restoring;
        let could = rules::check(with, event, at, now).is_ok();
        let refusal = rules::check(without, event, at, now).err();
        with.restoring = false;
        without.restoring = false;
        refusal.filter(|_| could)
    })
}
