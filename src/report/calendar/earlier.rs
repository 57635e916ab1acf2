//! The calendar of an earlier plan: what it had, in which revision.
//!
//! Knows: how this program writes a calendar. Must not know: plans.
//! Promises: whatever the text is, nothing but what it says of UIDs is believed, and nothing panics; a component that is the
//! same keeps its revision, a changed one gets the next.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::{NUMBER, STAMP};

/// What an earlier calendar has, by UID.
#[derive(Clone, Debug, Default)]
pub(super) struct Earlier {
    components: BTreeMap<String, Revision>,
}

#[derive(Clone, Debug)]
struct Revision {
    number: u32,
    stamp: String,
    /// Its text with [`STAMP`] and [`NUMBER`] in place of the two above.
    text: String,
}

const KINDS: [&str; 2] = ["VEVENT", "VTODO"];

impl Earlier {
    /// Reads what this program wrote; whatever else there is counts for nothing.
    pub(super) fn read(text: &str) -> Self {
        let mut components = BTreeMap::new();
        let mut lines: Vec<&str> = Vec::new();
        for line in text.split_inclusive("\r\n") {
            let mark = line.trim_end();
            if KINDS.iter().any(|kind| mark == format!("BEGIN:{kind}")) {
                lines.clear();
            }
            lines.push(line);
            if KINDS.iter().any(|kind| mark == format!("END:{kind}")) {
                if let Some((uid, revision)) = Revision::read(&lines) {
                    components.insert(uid, revision);
                }
                lines.clear();
            }
        }
        Self { components }
    }

    /// A component in the revision that it now has.
    pub(super) fn revised(&self, uid: &str, text: &str, now: DateTime<Utc>) -> String {
        match self.components.get(uid) {
            Some(before) if before.text == text => stamped(text, before.number, &before.stamp),
            Some(before) => stamped(text, before.number.saturating_add(1), &stamp(now)),
            None => stamped(text, 0, &stamp(now)),
        }
    }

    /// All that is not among `kept`, cancelled; what was cancelled before, as it was.
    pub(super) fn cancelled(&self, kept: &BTreeSet<&str>, now: DateTime<Utc>) -> String {
        let gone = self
            .components
            .iter()
            .filter(|(uid, _)| !kept.contains(uid.as_str()));
        gone.map(|(_, before)| {
            let cancelled = before.without_status_and_alarm();
            if cancelled == before.text {
                stamped(&cancelled, before.number, &before.stamp)
            } else {
                stamped(&cancelled, before.number.saturating_add(1), &stamp(now))
            }
        })
        .collect()
    }
}

impl Revision {
    fn read(lines: &[&str]) -> Option<(String, Self)> {
        let value = |key: &str| -> Option<&str> {
            let found = lines.iter().find_map(|line| line.strip_prefix(key))?;
            Some(found.strip_prefix(':')?.trim_end())
        };
        let stamp = value("DTSTAMP")?;
        let revision = Self {
            number: value("SEQUENCE")?.parse().ok()?,
            stamp: stamp.to_owned(),
            text: lines
                .iter()
                .map(|line| match line.split_once(':') {
                    Some(("DTSTAMP", _)) => format!("DTSTAMP:{STAMP}\r\n"),
                    Some(("SEQUENCE", _)) => format!("SEQUENCE:{NUMBER}\r\n"),
                    _ => (*line).to_owned(),
                })
                .collect(),
        };
        let is_stamp = stamp.len() == STAMP.len() && stamp.is_ascii();
        is_stamp.then(|| Some((value("UID")?.to_owned(), revision)))?
    }

    fn without_status_and_alarm(&self) -> String {
        let mut alarm = false;
        let mut text = String::new();
        for line in self.text.split_inclusive("\r\n") {
            let mark = line.trim_end();
            alarm |= mark == "BEGIN:VALARM";
            match mark.split_once(':') {
                _ if alarm => {}
                Some(("STATUS", _)) => text.push_str("STATUS:CANCELLED\r\n"),
                _ => text.push_str(line),
            }
            alarm &= mark != "END:VALARM";
        }
        text
    }
}

/// The text with its revision in place.
fn stamped(text: &str, number: u32, stamp: &str) -> String {
    text.replace(
        &format!("\r\nDTSTAMP:{STAMP}\r\n"),
        &format!("\r\nDTSTAMP:{stamp}\r\n"),
    )
    .replace(
        &format!("\r\nSEQUENCE:{NUMBER}\r\n"),
        &format!("\r\nSEQUENCE:{number}\r\n"),
    )
}

fn stamp(now: DateTime<Utc>) -> String {
    now.format("%Y%m%dT%H%M%SZ").to_string()
}
