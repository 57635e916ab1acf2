//! Entries as JSON, one a line, for other programs and for copies.
//!
//! Knows: JSON lines. Must not know: what an entry means, the file of the log.
//! Promises: what is exported is read back equal; an entry without an id of its own gets one from what it says, so that the
//! same file taken in twice adds nothing.

use chrono::{DateTime, Utc};
use serde::Deserialize;
use uuid::Uuid;

use super::event::{Entry, Event};
use super::slips;

/// The namespace of ids that are made from what an entry says.
const NAMESPACE: Uuid = Uuid::from_u128(0x6b3e_9a51_4c1d_5f08_9d27_0c54_7be1_a6f3);

/// An entry as another program may write it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    id: Option<Uuid>,
    at: DateTime<Utc>,
    noted: Option<DateTime<Utc>>,
    event: Event,
}

/// A line that was read.
pub(super) struct Read {
    /// Its number, from 1.
    pub line: usize,
    /// What it says.
    pub entry: Entry,
    /// Whether it says when it was noted, and by which id: then it was in a log before.
    pub noted: bool,
}

/// Reads lines. Empty ones are left out.
///
/// # Errors
/// If one of them is no entry: its number, and what is wrong.
pub(super) fn read(text: &str, now: DateTime<Utc>) -> Result<Vec<Read>, (usize, String)> {
    let numbered = text.trim_start_matches('\u{feff}').lines().zip(1..);
    numbered
        .filter(|(line, _)| !line.trim().is_empty())
        .map(|(line, number)| {
            let line: Line = slips::read(line).map_err(|what| (number, what))?;
            let noted = line.id.is_some() && line.noted.is_some();
            let id = line.id.unwrap_or_else(|| {
                let event = serde_json::to_string(&line.event)
                    .expect("text, numbers and lists: none of them fails to be written");
                let said = format!("{} {event}", line.at.to_rfc3339());
                Uuid::new_v5(&NAMESPACE, said.as_bytes())
            });
            let entry = Entry {
                id,
                at: line.at,
                noted: line.noted.unwrap_or(now),
                event: line.event,
            };
            Ok(Read {
                line: number,
                entry,
                noted,
            })
        })
        .collect()
}
