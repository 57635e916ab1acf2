//! The calendar of an earlier plan: what it had, when that began, in which revision.
//!
//! Knows: how this program writes a calendar. Must not know: plans.
//! Promises: whatever the text is, nothing but what it says of UIDs and dates is believed, and nothing panics; a component that is
//! the same keeps its revision, a changed one gets the next.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;

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
    /// When an event begins; a to-do has no beginning.
    begins: Option<DateTime<Utc>>,
    /// When it ends, where it takes any time.
    ends: Option<DateTime<Utc>>,
    /// Moments that it tells by the clock of a zone.
    told: Vec<(Tz, DateTime<Utc>)>,
}

/// What stands between a run's name and its filament: of one that prints, is to print or has printed, and of one of which nothing was good.
pub(super) const PRINTS: &str = " prints: ";
pub(super) const SCRAPPED: &str = " was scrapped: ";

const KINDS: [&str; 2] = ["VEVENT", "VTODO"];

/// Years in which a calendar that this program wrote may lie. Of others a zone's rules would be endless.
const YEARS: std::ops::Range<i32> = 1970..2200;

impl Earlier {
    /// Reads what this program wrote; whatever else there is counts for nothing. Days begin and end in `zone`.
    pub(super) fn read(text: &str, zone: Tz) -> Self {
        let mut components = BTreeMap::new();
        let mut lines: Vec<&str> = Vec::new();
        for line in text.split_inclusive("\r\n") {
            let mark = line.trim_end();
            if KINDS.iter().any(|kind| mark == format!("BEGIN:{kind}")) {
                lines.clear();
            }
            lines.push(line);
            if KINDS.iter().any(|kind| mark == format!("END:{kind}")) {
                if let Some((uid, revision)) = Revision::read(&lines, zone) {
                    components.insert(uid, revision);
                }
                lines.clear();
            }
        }
        Self { components }
    }

    /// When an event began or was to begin.
    pub(super) fn begins(&self, uid: &str) -> Option<DateTime<Utc>> {
        self.components.get(uid)?.begins
    }

    /// How long an event takes or was to take.
    pub(super) fn takes(&self, uid: &str) -> TimeDelta {
        let revision = self.components.get(uid);
        let takes = revision.and_then(|event| Some(event.ends? - event.begins?));
        takes.map_or(TimeDelta::zero(), |takes| takes.max(TimeDelta::zero()))
    }

    /// A component as it was, without the number and the date of its revision.
    pub(super) fn text(&self, uid: &str) -> Option<&str> {
        Some(&self.components.get(uid)?.text)
    }

    /// A component in the revision that it now has.
    pub(super) fn revised(&self, uid: &str, text: &str, now: DateTime<Utc>) -> String {
        match self.components.get(uid) {
            Some(before) if before.text == text => before.as_it_was(),
            Some(before) => stamped(text, before.number.saturating_add(1), &stamp(now)),
            None => stamped(text, 0, &stamp(now)),
        }
    }

    /// All that is not among `written`: events that began before `past` happened and stay as they were, as does what was cancelled
    /// before; all else is cancelled. A to-do is: it is done, or need not be, and would stay open for ever. So is a run that was
    /// scrapped, as those that were are all written: that was noted by mistake.
    pub(super) fn gone(
        &self,
        written: &BTreeSet<&str>,
        past: Option<DateTime<Utc>>,
        now: DateTime<Utc>,
    ) -> String {
        self.others(written)
            .map(|before| {
                let began = (before.begins.zip(past)).is_some_and(|(begins, past)| begins < past);
                let happened = began && !before.is_scrapped();
                let cancelled = cancelled(&before.text);
                if happened || cancelled == before.text {
                    before.as_it_was()
                } else {
                    stamped(&cancelled, before.number.saturating_add(1), &stamp(now))
                }
            })
            .collect()
    }

    /// Moments that components which are not among `written` tell by the clock of a zone.
    pub(super) fn told(
        &self,
        written: &BTreeSet<&str>,
    ) -> impl Iterator<Item = (Tz, DateTime<Utc>)> {
        self.others(written)
            .flat_map(|before| before.told.iter().copied())
    }

    fn others(&self, written: &BTreeSet<&str>) -> impl Iterator<Item = &Revision> {
        let all = self.components.iter();
        all.filter(|(uid, _)| !written.contains(uid.as_str()))
            .map(|(_, revision)| revision)
    }
}

impl Revision {
    fn read(lines: &[&str], zone: Tz) -> Option<(String, Self)> {
        let value = |key: &str| -> Option<&str> {
            let found = lines.iter().find_map(|line| line.strip_prefix(key))?;
            Some(found.strip_prefix(':')?.trim_end())
        };
        let stamp = value("DTSTAMP")?;
        let of = |key: &str| {
            let line = lines.iter().find(|line| property(line) == key)?;
            Told::read(line.trim_end(), zone)
        };
        let told = ["DTSTART", "DTEND", "DUE"].map(of);
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
            begins: told[0].map(|told| told.moment), // of three
            ends: told[1].map(|told| told.moment),
            told: (told.iter().flatten())
                .filter_map(|told| Some((told.zone?, told.moment)))
                .collect(),
        };
        let is_stamp = stamp.len() == STAMP.len() && stamp.is_ascii();
        is_stamp.then(|| Some((value("UID")?.to_owned(), revision)))?
    }

    /// Whether it says of a run that it was scrapped.
    fn is_scrapped(&self) -> bool {
        let whole = self.text.replace("\r\n ", "");
        let mut lines = whole.lines();
        lines.any(|line| property(line) == "SUMMARY" && line.contains(SCRAPPED))
    }

    fn as_it_was(&self) -> String {
        stamped(&self.text, self.number, &self.stamp)
    }
}

/// A component that is not to be: it rings no bell any more.
pub(super) fn cancelled(text: &str) -> String {
    let mut alarm = false;
    let mut cancelled = String::new();
    for line in text.split_inclusive("\r\n") {
        let mark = line.trim_end();
        alarm |= mark == "BEGIN:VALARM";
        match mark.split_once(':') {
            _ if alarm => {}
            Some(("STATUS", _)) => cancelled.push_str("STATUS:CANCELLED\r\n"),
            _ => cancelled.push_str(line),
        }
        alarm &= mark != "END:VALARM";
    }
    cancelled
}

/// The property that a content line gives; of a line that goes on with another, none that is asked for.
pub(super) fn property(line: &str) -> &str {
    line.split([';', ':']).next().unwrap_or(line).trim_end()
}

/// A date or time as a content line tells it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Told {
    moment: DateTime<Utc>,
    /// By whose clock; `None`: a whole day, or universal time.
    zone: Option<Tz>,
}

impl Told {
    /// Of `DTSTART;TZID=Europe/Oslo:20270112T182000`, `DTEND:20271031T013000Z`, `DTSTART;VALUE=DATE:20270116`.
    fn read(line: &str, days: Tz) -> Option<Self> {
        let (name, value) = line.split_once(':')?;
        let mut parameters = name.split(';').skip(1);
        let named = parameters.find_map(|one| one.strip_prefix("TZID="));
        let zone: Option<Tz> = match named {
            Some(name) => Some(name.parse().ok()?),
            None => None,
        };
        let local = match NaiveDate::parse_from_str(value, "%Y%m%d") {
            Ok(date) => date.and_time(NaiveTime::MIN),
            Err(_) => {
                NaiveDateTime::parse_from_str(value.trim_end_matches('Z'), "%Y%m%dT%H%M%S").ok()?
            }
        };
        let moment = if value.ends_with('Z') {
            local.and_utc()
        } else {
            let told = local.and_local_timezone(zone.unwrap_or(days));
            told.earliest()?.to_utc()
        };
        YEARS
            .contains(&moment.year())
            .then_some(Self { moment, zone })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_is_read_by_the_clock_that_it_names() {
        let oslo = chrono_tz::Europe::Oslo;
        let told = |line: &str| Told::read(line, oslo);
        let at = |text: &str| -> DateTime<Utc> { text.parse().expect("an RFC 3339 moment") };
        // 18:20 in Helsinki is 16:20; the second 02:30 of 31 October is told in universal time; a day begins at Oslo's midnight.
        let helsinki = Told {
            moment: at("2027-01-12T16:20:00Z"),
            zone: Some(chrono_tz::Europe::Helsinki),
        };
        assert_eq!(
            told("DTSTART;TZID=Europe/Helsinki:20270112T182000"),
            Some(helsinki)
        );
        let day = told("DTSTART;VALUE=DATE:20270116").map(|told| told.moment);
        assert_eq!(day, Some(at("2027-01-15T23:00:00Z")));
        let second = told("DTEND:20271031T013000Z");
        assert_eq!(
            second.map(|told| (told.moment, told.zone)),
            Some((at("2027-10-31T01:30:00Z"), None))
        );
        // No zone, no date, a year without end, an hour that no clock shows.
        for line in [
            "DTSTART;TZID=Middle/Earth:20270112T182000",
            "DTSTART:tomorrow",
            "DTSTART:99990101T000000Z",
            "DTSTART;TZID=Europe/Oslo:20270328T023000",
            "DTSTART",
        ] {
            assert_eq!(told(line), None, "{line}");
        }
    }
}
