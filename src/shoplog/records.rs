//! What the log says of single things: runs that were started, pieces, machines, trials, assemblies, spools, measurements.
//!
//! Knows: moments, names. Must not know: events, rules, plans.
//! Promises: data only.

use chrono::{DateTime, TimeDelta, Utc};

use serde::{Deserialize, Serialize};

use super::estimated::Estimated;
use super::event::Sample;

/// How a run ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ended {
    /// When.
    pub at: DateTime<Utc>,
    /// Whether nothing of it is good.
    pub scrapped: bool,
}

/// The last start of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Attempt {
    /// When.
    pub started: DateTime<Utc>,
    /// How it ended; `None`: it is printing.
    pub ended: Option<Ended>,
    /// Grams that it has taken off spools so far.
    #[serde(with = "bits")]
    pub taken: f64,
    /// The moment up to which that is.
    pub until: DateTime<Utc>,
}

/// What left a spool, evenly from one moment to another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Draw {
    /// From when.
    pub from: DateTime<Utc>,
    /// To when.
    pub to: DateTime<Utc>,
    /// So many grams.
    #[serde(with = "bits")]
    pub grams: f64,
}

impl Draw {
    /// Grams of it that left after a moment.
    pub fn after(&self, at: DateTime<Utc>) -> f64 {
        let whole = (self.to - self.from).num_seconds() as f64;
        let rest = (self.to - at.max(self.from)).num_seconds() as f64;
        match self.to > at {
            true if whole > 0.0 => self.grams * (rest / whole),
            true => self.grams,
            false => 0.0,
        }
    }

    /// The first so many grams of it, and the others.
    pub fn parted(self, grams: f64) -> (Self, Self) {
        let seconds = (self.to - self.from).num_seconds() as f64 * (grams / self.grams);
        let gone = TimeDelta::try_seconds(seconds as i64).unwrap_or_default();
        let then = self.from + gone; // no later than `to`
        let rest = self.grams - grams;
        (
            Self {
                to: then,
                grams,
                ..self
            },
            Self {
                from: then,
                grams: rest,
                ..self
            },
        )
    }
}

/// A good piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Printed {
    /// What it was printed for.
    pub assembly: Option<String>,
    /// Where.
    pub machine: String,
    /// When its run ended.
    pub at: DateTime<Utc>,
    /// When the lengths of its copy were joined.
    pub joined: Option<DateTime<Utc>>,
}

/// A kind of pieces from one machine: that, the part, and how many lengths a copy of it is.
pub type Kind = (String, String, u32);

/// A machine by its log.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MachineLog {
    /// The filament in it.
    pub loaded: Option<String>,
    /// The filament that it printed last, or had in it at first: what a change of filament is purged of.
    pub printed: Option<String>,
    /// The spool on it, where that is known.
    pub spool: Option<String>,
    /// Whether that was said since the last run was started on it, and since a plan was accepted.
    pub opened: bool,
    /// Since when, why, and until when it is out of order, if it is.
    pub down: Option<(DateTime<Utc>, String, Option<DateTime<Utc>>)>,
    /// When it was out of order before: from, to.
    pub outages: Vec<(DateTime<Utc>, DateTime<Utc>)>,
    /// Runs that have ended.
    pub runs: u32,
    /// Those of them that failed; of one that failed in part, the share of its pieces that are lost.
    #[serde(with = "bits")]
    pub failed: f64,
    /// When the last run on it ended.
    pub free: Option<DateTime<Utc>>,
}

/// What was said of trial copies.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TrialLog {
    /// When they were approved.
    pub approved: Option<DateTime<Utc>>,
    /// The variant that was chosen, where it was said.
    pub chosen: Option<String>,
    /// Copies rejected.
    pub rejected: u32,
}

/// How far an assembly has come.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct AssemblyLog {
    /// When its bench work began.
    pub started: Option<DateTime<Utc>>,
    /// When it was done.
    pub complete: Option<DateTime<Utc>>,
}

/// A spool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpoolLog {
    /// What is on it.
    pub filament: String,
    /// How much.
    #[serde(with = "bits")]
    pub grams: f64,
    /// How much at most, by all that was noted: a spool that was bought larger than usual may weigh more than others.
    #[serde(with = "bits")]
    pub most: f64,
    /// When it comes; `None`: it is here.
    pub arrives: Option<DateTime<Utc>>,
    /// By how much the scales have moved it since a plan was accepted, which does not know of that.
    #[serde(with = "bits")]
    pub moved: f64,
    /// When it was weighed last, or found empty.
    pub weighed: Option<DateTime<Utc>>,
    /// What has left it since.
    pub drawn: Vec<Draw>,
}

impl SpoolLog {
    /// One of which nothing is known but what is written on it.
    pub(super) fn new(filament: &str, grams: f64, arrives: Option<DateTime<Utc>>) -> Self {
        Self {
            filament: filament.to_owned(),
            grams,
            most: grams,
            arrives,
            moved: 0.0,
            weighed: None,
            drawn: Vec::new(),
        }
    }

    /// Grams that have left it since a moment.
    pub fn drawn_since(&self, at: DateTime<Utc>) -> f64 {
        self.drawn.iter().map(|draw| draw.after(at)).sum()
    }

    /// Whether it is there at a moment.
    pub fn is_here(&self, at: DateTime<Utc>) -> bool {
        self.arrives.is_none_or(|arrives| arrives <= at)
    }

    /// By how many grams it is off what the accepted plan says of a spool, had it not been weighed since.
    pub fn off(&self, planned: f64) -> f64 {
        (self.grams - self.moved - planned).abs()
    }

    /// Whether it is the one that the accepted plan knows with so many grams: what runs took more or less than planned is between.
    pub fn is_planned(&self, planned: f64) -> bool {
        self.off(planned) <= (planned * 0.05).max(25.0)
    }
}

/// What was weighed and timed.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// What.
    pub sample: Sample,
    /// Grams of all pieces.
    pub grams: Option<f64>,
    /// Minutes of the run.
    pub minutes: Option<f64>,
    /// What was estimated of it when it was noted, where that was noted too.
    pub estimated: Option<Estimated>,
    /// The digest of the scenario of the plan that was followed then, where that is known.
    pub basis: Option<String>,
}

/// Numbers as their bits, so that what is kept of them is read back equal.
mod bits {
    use serde::{Deserialize, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(number: &f64, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_u64(number.to_bits())
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
        u64::deserialize(from).map(f64::from_bits)
    }
}
