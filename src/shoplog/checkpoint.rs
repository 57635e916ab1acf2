//! Where the shop stood after so many entries, kept beside them so that noting one more need not add up all of them again.
//!
//! Knows: the state, what it is made of. Must not know: SQLite, rules.
//! Promises: it is derived, and never more than that: what was not written whole, by this program, of the same shop and of the entries that
//! are there, is none. It may be derived of another and what followed; whoever has all entries can tell by them whether it is right. Measurements are left out, since nothing that is noted asks for them and a log may have any number of them.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::accepted::Accepted;
use super::basis::Basis;
use super::event::PieceId;
use super::lengths::ForAssembly;
use super::past::{Past, pairs};
use super::records::{AssemblyLog, Attempt, Kind, MachineLog, Printed, SpoolLog, TrialLog};
use super::shop::Shop;
use super::state::{RunKey, State};

/// What a state is added up by: to be raised with every change of that, or of what a state is.
pub(super) const VERSION: u32 = 8;

/// What goes before the text: its digest, in hexadecimal digits.
const SEAL: usize = 64;

/// Where the shop stood.
#[derive(Serialize, Deserialize)]
pub(super) struct Checkpoint {
    version: u32,
    /// Of the shop, since what entries add up to depends on that.
    shop: String,
    /// After so many entries.
    pub(super) entries: usize,
    /// What vouches for them.
    pub(super) digest: String,
    /// Which of them, from 1, is the plan that is followed, and how many were before it.
    pub(super) plan: Option<(usize, usize)>,
    past: Past,
    basis: Option<Basis>,
    sooner: bool,
    early: bool,
    without: BTreeMap<String, DateTime<Utc>>,
    latest: DateTime<Utc>,
    #[serde(with = "pairs")]
    attempts: BTreeMap<RunKey, Attempt>,
    running: BTreeMap<String, RunKey>,
    #[serde(with = "pairs")]
    made: BTreeMap<PieceId, Printed>,
    #[serde(with = "pairs")]
    lost: BTreeMap<PieceId, u32>,
    #[serde(with = "pairs")]
    came_off: BTreeMap<Kind, BTreeMap<DateTime<Utc>, u32>>,
    #[serde(with = "pairs")]
    stands_in: BTreeMap<PieceId, ForAssembly>,
    machines: BTreeMap<String, MachineLog>,
    trials: BTreeMap<String, TrialLog>,
    assemblies: BTreeMap<String, AssemblyLog>,
    spools: BTreeMap<String, SpoolLog>,
}

impl Checkpoint {
    /// Of a state after so many entries, for which a digest vouches; `plan` is the number of the one that accepted the plan that is followed.
    pub(super) fn of(state: &State, entries: usize, digest: String, plan: Option<usize>) -> Self {
        let State {
            shop,
            restoring: _,
            followed,
            past,
            basis,
            sooner,
            early,
            without,
            latest,
            attempts,
            running,
            made,
            lost,
            came_off,
            stands_in,
            machines,
            trials,
            assemblies,
            spools,
            measured: _,
        } = state.clone();
        Self {
            version: VERSION,
            shop: digest_of(&shop),
            entries,
            digest,
            plan: plan.zip(followed.map(|(number, _)| number)),
            past,
            basis,
            sooner,
            early,
            without,
            latest,
            attempts,
            running,
            made,
            lost,
            came_off,
            stands_in,
            machines,
            trials,
            assemblies,
            spools,
        }
    }

    /// As it is kept; `None` if it cannot be written, then there is none.
    pub(super) fn text(&self) -> Option<String> {
        let text = serde_json::to_string(self).ok()?;
        Some(seal(&text) + &text)
    }

    /// What was kept, if it is whole and of this program and shop.
    pub(super) fn read(text: &str, shop: &Shop) -> Option<Self> {
        let (said, text) = text.split_at_checked(SEAL)?;
        if said != seal(text) {
            return None;
        }
        let read: Self = serde_json::from_str(text).ok()?;
        (read.version == VERSION && read.shop == digest_of(shop)).then_some(read)
    }

    /// The state, with the text of the plan that is followed; `None` if that is not the plan that was.
    pub(super) fn state(self, shop: Arc<Shop>, plan: Option<&str>) -> Option<State> {
        let followed = match (self.plan, plan) {
            (Some((_, before)), Some(text)) => Some((before, Arc::new(Accepted::read(text).ok()?))),
            (None, None) => None,
            _ => return None,
        };
        let state = State {
            shop,
            restoring: false,
            followed,
            past: self.past,
            basis: self.basis,
            sooner: self.sooner,
            early: self.early,
            without: self.without,
            latest: self.latest,
            attempts: self.attempts,
            running: self.running,
            made: self.made,
            lost: self.lost,
            came_off: self.came_off,
            stands_in: self.stands_in,
            machines: self.machines,
            trials: self.trials,
            assemblies: self.assemblies,
            spools: self.spools,
            measured: Vec::new(),
        };
        state.keys_are_known().then_some(state)
    }
}

fn seal(text: &str) -> String {
    blake3::hash(text.as_bytes()).to_hex().to_string()
}

fn digest_of(shop: &Shop) -> String {
    seal(&format!("{shop:?}"))
}
