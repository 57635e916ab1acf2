//! What can be noted: one entry of the log, and every event that it may hold.
//!
//! Knows: the words of the log as they are written and exported. Must not know: files, what is possible when.
//! Promises: an entry written as JSON reads back equal; a field that no event has is refused.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Deserializer, Serialize};
use uuid::Uuid;

use super::basis::Basis;
use super::estimated::Estimated;

/// One entry. Nothing changes it; a mistake is undone by another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Its own name, the same in every copy of the log.
    pub id: Uuid,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// When it was noted, by the clock of the computer.
    pub noted: DateTime<Utc>,
    /// What happened.
    pub event: Event,
}

impl Entry {
    /// As it is exported, on one line.
    pub fn line(&self) -> String {
        serde_json::to_string(self)
            .expect("text, numbers and lists: none of them fails to be written")
    }
}

/// A piece by name: a copy of a part, or one length of it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PieceId {
    /// The part.
    pub part: String,
    /// Which copy, from 1.
    pub number: u32,
    /// Which length of the copy, from 1.
    #[serde(
        default = "one",
        deserialize_with = "absent_one",
        skip_serializing_if = "is_one"
    )]
    pub length: u32,
    /// Lengths that make the copy; 1: whole.
    #[serde(
        default = "one",
        deserialize_with = "absent_one",
        skip_serializing_if = "is_one"
    )]
    pub of: u32,
}

impl std::fmt::Display for PieceId {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{}:{}", self.part, self.number)?;
        if self.of > 1 {
            write!(out, ":{}", self.length)?;
        }
        Ok(())
    }
}

/// What other programs write as `null` is not there.
fn absent<'de, T, D>(from: D) -> Result<T, D::Error>
where
    T: Default + Deserialize<'de>,
    D: Deserializer<'de>,
{
    Ok(Option::deserialize(from)?.unwrap_or_default())
}

fn absent_one<'de, D: Deserializer<'de>>(from: D) -> Result<u32, D::Error> {
    Ok(Option::deserialize(from)?.unwrap_or(1))
}

fn one() -> u32 {
    1
}

fn is_one(number: &u32) -> bool {
    *number == 1
}

/// What was measured: so many pieces of one part, all whole or all lengths.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sample {
    /// The part.
    pub part: String,
    /// Where they were printed.
    pub machine: String,
    /// How many together.
    #[serde(
        default = "one",
        deserialize_with = "absent_one",
        skip_serializing_if = "is_one"
    )]
    pub pieces: u32,
    /// Each is one of so many lengths of a copy; 1: whole.
    #[serde(
        default = "one",
        deserialize_with = "absent_one",
        skip_serializing_if = "is_one"
    )]
    pub of: u32,
}

/// What happened. Names are those of the scenario and of the accepted plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Event {
    /// A plan is to be followed from here on; the text of its `plan.json`, whole.
    PlanAccepted {
        /// The text.
        plan: String,
        /// Digests of the scenario that it is for, where it was planned here.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        basis: Option<Basis>,
    },
    /// A run of the accepted plan was started.
    Started {
        /// The run.
        run: String,
        /// The spool that it prints from, where it was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spool: Option<String>,
    },
    /// A run came to its end.
    Finished {
        /// The run.
        run: String,
        /// Pieces that are no good; all others are.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "Vec::is_empty"
        )]
        scrapped: Vec<PieceId>,
        /// What is wrong with them.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "String::is_empty"
        )]
        why: String,
        /// Whether it was so, however soon that is after the start.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "std::ops::Not::not"
        )]
        sure: bool,
    },
    /// A run was ended, and nothing on it is good.
    Scrapped {
        /// The run.
        run: String,
        /// What happened.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "String::is_empty"
        )]
        why: String,
        /// Grams lost, where they were weighed; otherwise they are taken from the time that it ran.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        grams: Option<f64>,
    },
    /// The lengths of a copy were joined.
    Joined {
        /// The part.
        part: String,
        /// Which copy.
        number: u32,
    },
    /// Pieces were weighed together.
    Weighed {
        /// What was weighed.
        sample: Sample,
        /// Grams of all of them.
        grams: f64,
        /// What was estimated of them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        estimated: Option<Estimated>,
    },
    /// A run of one part was timed.
    Timed {
        /// What was on the run.
        sample: Sample,
        /// Minutes without warm-up.
        minutes: f64,
        /// What was estimated of it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        estimated: Option<Estimated>,
    },
    /// The trial copies of a part are right: the rest may be printed.
    Approved {
        /// The part.
        part: String,
        /// The one of its variants that was chosen, where it was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        variant: Option<String>,
    },
    /// They are not: new ones are to be printed first.
    Rejected {
        /// The part.
        part: String,
        /// What is wrong with them.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "String::is_empty"
        )]
        why: String,
    },
    /// Pieces that were good are no more, and are in no assembly: they cracked, went missing, or cannot be used after all.
    Lost {
        /// Which.
        pieces: Vec<PieceId>,
        /// What happened.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "String::is_empty"
        )]
        why: String,
    },
    /// A spool went onto a machine.
    SpoolOpened {
        /// The spool.
        spool: String,
        /// The machine.
        machine: String,
    },
    /// A spool was weighed.
    SpoolWeighed {
        /// The spool.
        spool: String,
        /// Grams of plastic left on it, the empty spool taken off.
        grams: f64,
    },
    /// A spool was bought.
    SpoolBought {
        /// Its new name.
        spool: String,
        /// What is on it.
        filament: String,
        /// How much of it.
        grams: f64,
        /// When it comes, if it is not here yet.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        arrives: Option<DateTime<Utc>>,
    },
    /// A spool is empty.
    SpoolEmpty {
        /// The spool.
        spool: String,
    },
    /// A machine is out of order; where it is so already, until when or why is known better now.
    Down {
        /// The machine.
        machine: String,
        /// What is wrong.
        #[serde(
            default,
            deserialize_with = "absent",
            skip_serializing_if = "String::is_empty"
        )]
        why: String,
        /// Until when, as far as anybody knows.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        until: Option<DateTime<Utc>>,
    },
    /// It works again.
    Up {
        /// The machine.
        machine: String,
    },
    /// The bench work of an assembly was begun.
    AssemblyStarted {
        /// The assembly.
        assembly: String,
    },
    /// The bench work of an assembly is done; its cure counts from here.
    AssemblyComplete {
        /// The assembly.
        assembly: String,
    },
    /// Anything else worth knowing.
    Note {
        /// It.
        text: String,
    },
    /// An earlier entry was a mistake.
    Undone {
        /// That entry.
        id: Uuid,
    },
}
