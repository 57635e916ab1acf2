//! When somebody is at the bench: local bench hours, day by day, turned into spans of minutes.
//!
//! Knows: bench hours, away dates, time zones. Must not know: runs, plates, money.
//! Promises: spans are half-open, sorted, disjoint, never touching, never empty.
//!
//! A wall time that the clock skips opens and closes at the first minute after the gap. A wall time that comes twice
//! opens at the earlier and closes at the later one, so that no minute of a bench span is lost.

use chrono::{DateTime, Days, LocalResult, NaiveDate, NaiveDateTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

use crate::scenario::Scenario;

/// Minutes since the Unix epoch; a moment inside a minute counts as the minute's first.
pub(super) type Minute = i64;

/// The minute that holds a moment.
pub(super) fn minute(moment: DateTime<Utc>) -> Minute {
    moment.timestamp().div_euclid(60)
}

/// A half-open span `[from, to)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Span {
    pub from: Minute,
    pub to: Minute,
}

impl Span {
    /// Minutes from first to last; below zero if the span is written backwards.
    pub fn minutes(self) -> i64 {
        self.to - self.from
    }
}

/// Nothing that anybody plans lies further ahead; a moment beyond counts as one with nobody there.
const HORIZON_DAYS: u64 = 60 * 366;

/// After the last moment of a plan the hours of one more year are looked at, for "the next time somebody is there".
const BEYOND_LAST_DAYS: i64 = 366;

/// The spans in which somebody is at the bench.
#[derive(Debug)]
pub(super) struct Presence {
    spans: Vec<Span>,
}

impl Presence {
    /// Minutes of a stretch in which somebody is at the bench.
    pub fn within(&self, from: Minute, to: Minute) -> i64 {
        let spans = self.spans.iter();
        let minutes = spans.map(|span| (span.to.min(to) - span.from.max(from)).max(0));
        minutes.sum()
    }

    /// Bench hours of every local day from the one before the build's start until well after `last`.
    pub fn of(scenario: &Scenario, last: Minute) -> Self {
        let bench = &scenario.bench;
        let zone = scenario.build.zone;
        let first_day = scenario
            .build
            .start
            .with_timezone(&zone)
            .date_naive()
            .pred_opt();
        let until = last.saturating_add(BEYOND_LAST_DAYS * 1440);
        let mut spans = Vec::new();
        for day in first_day.into_iter().flat_map(|first| {
            (0..HORIZON_DAYS).map_while(move |ahead| first.checked_add_days(Days::new(ahead)))
        }) {
            if opening(zone, day, 0).is_none_or(|midnight| midnight > until) {
                break;
            }
            if bench.away.contains(&day) {
                continue;
            }
            let weekday = chrono::Datelike::weekday(&day).num_days_from_monday() as usize;
            for hours in &bench.hours[weekday] {
                if let (Some(from), Some(to)) = (
                    opening(zone, day, hours.open),
                    closing(zone, day, hours.close),
                ) && from < to
                {
                    spans.push(Span { from, to });
                }
            }
        }
        Self {
            spans: merged(spans),
        }
    }

    /// All spans.
    pub fn spans(&self) -> &[Span] {
        &self.spans
    }

    /// The one span that holds all of `[from, to)`, if one does.
    pub fn holding(&self, from: Minute, to: Minute) -> Option<Span> {
        let after = self.spans.partition_point(|span| span.from <= from);
        let span = *self.spans[..after].last()?;
        (from <= to && to <= span.to).then_some(span)
    }

    /// Whether somebody is there during this minute.
    pub fn at(&self, minute: Minute) -> bool {
        self.holding(minute, minute.saturating_add(1)).is_some()
    }

    /// The first minute at or after `minute` with somebody there; `None` if nobody ever comes.
    pub fn next(&self, minute: Minute) -> Option<Minute> {
        let at = self.spans.partition_point(|span| span.to <= minute);
        self.spans.get(at).map(|span| span.from.max(minute))
    }
}

fn merged(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort_unstable();
    let mut merged: Vec<Span> = Vec::with_capacity(spans.len());
    for span in spans {
        match merged.last_mut() {
            Some(last) if span.from <= last.to => last.to = last.to.max(span.to),
            _ => merged.push(span),
        }
    }
    merged
}

/// The minute at which a wall time of a local day comes, if it is to open something; `None` past the end of dates.
pub(super) fn opening(zone: Tz, day: NaiveDate, minutes: u32) -> Option<Minute> {
    existing(zone, wall(day, minutes)?).map(|(earlier, _)| earlier)
}

/// The minute at which a wall time of a local day comes, if it is to close something; `None` past the end of dates.
fn closing(zone: Tz, day: NaiveDate, minutes: u32) -> Option<Minute> {
    existing(zone, wall(day, minutes)?).map(|(_, later)| later)
}

/// So many minutes of the wall clock after midnight; 1440 is the next day's midnight.
fn wall(day: NaiveDate, minutes: u32) -> Option<NaiveDateTime> {
    day.and_hms_opt(0, 0, 0)?
        .checked_add_signed(TimeDelta::minutes(i64::from(minutes)))
}

/// Both minutes that a wall time names (the same, unless it comes twice), or those of the first minute after a gap.
fn existing(zone: Tz, wall: NaiveDateTime) -> Option<(Minute, Minute)> {
    // The longest gap on record is a whole skipped day (Samoa, 30 December 2011).
    (0..=48 * 60).find_map(|ahead| {
        let shown = wall.checked_add_signed(TimeDelta::minutes(ahead))?;
        match zone.from_local_datetime(&shown) {
            LocalResult::Single(at) => Some((minute(at.to_utc()), minute(at.to_utc()))),
            LocalResult::Ambiguous(one, other) => {
                let (one, other) = (minute(one.to_utc()), minute(other.to_utc()));
                Some((one.min(other), one.max(other)))
            }
            LocalResult::None => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const OSLO: Tz = chrono_tz::Europe::Oslo;

    fn utc(text: &str) -> Minute {
        minute(text.parse::<DateTime<Utc>>().expect("an RFC 3339 moment"))
    }

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a date")
    }

    #[test]
    fn a_night_in_which_the_clock_jumps_has_nine_or_eleven_hours() {
        // Time zone database, Europe/Oslo and America/New_York in 2027: 22:00 to 08:00 across the change in spring is
        // 9 h, in autumn 11 h.
        let new_york = chrono_tz::America::New_York;
        for (zone, evening, morning, hours) in [
            (OSLO, "2027-03-27", "2027-03-28", 9),
            (OSLO, "2027-10-30", "2027-10-31", 11),
            (new_york, "2027-03-13", "2027-03-14", 9),
            (new_york, "2027-11-06", "2027-11-07", 11),
        ] {
            let from = opening(zone, day(evening), 22 * 60).expect("it exists");
            let to = closing(zone, day(morning), 8 * 60).expect("it exists");
            assert_eq!(to - from, hours * 60, "{zone} {evening}");
        }
    }

    #[test]
    fn a_skipped_wall_time_opens_and_closes_when_the_gap_ends() {
        // Oslo, 28 March 2027: 02:00 to 03:00 does not exist; 03:00 is 01:00 UTC.
        let gap_end = utc("2027-03-28T01:00:00Z");
        assert_eq!(opening(OSLO, day("2027-03-28"), 150), Some(gap_end));
        assert_eq!(closing(OSLO, day("2027-03-28"), 150), Some(gap_end));
    }

    #[test]
    fn a_wall_time_that_comes_twice_opens_early_and_closes_late() {
        // Oslo, 31 October 2027: 02:30 is 00:30 UTC and again 01:30 UTC.
        let twice = day("2027-10-31");
        assert_eq!(opening(OSLO, twice, 150), Some(utc("2027-10-31T00:30:00Z")));
        assert_eq!(closing(OSLO, twice, 150), Some(utc("2027-10-31T01:30:00Z")));
    }

    #[test]
    fn twenty_four_hundred_is_the_next_midnight() {
        assert_eq!(
            closing(OSLO, day("2027-01-11"), 1440),
            opening(OSLO, day("2027-01-12"), 0)
        );
    }

    #[test]
    fn spans_that_touch_or_overlap_are_one() {
        let span = |from, to| Span { from, to };
        assert_eq!(
            merged(vec![span(30, 40), span(0, 10), span(10, 20), span(15, 18)]),
            [span(0, 20), span(30, 40)]
        );
    }

    #[test]
    fn a_span_is_held_by_one_window_or_none() {
        let presence = Presence {
            spans: vec![Span { from: 0, to: 20 }, Span { from: 30, to: 40 }],
        };
        assert!(presence.holding(0, 20).is_some());
        assert!(presence.holding(10, 21).is_none());
        assert!(presence.holding(15, 35).is_none());
        assert!(presence.holding(25, 28).is_none());
        assert!(presence.at(19) && !presence.at(20) && !presence.at(-1));
        assert_eq!(presence.next(5), Some(5));
        assert_eq!(presence.next(20), Some(30));
        assert_eq!(presence.next(40), None);
    }
}
