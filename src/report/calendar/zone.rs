//! The build's time zone as a calendar needs it: when its clocks change while the plan goes on.
//!
//! Knows: IANA zones. Must not know: plans.
//! Promises: every moment of the span has its true offset under the rules that are written (RFC 5545, 3.6.5).

use chrono::{DateTime, Offset, TimeDelta, TimeZone, Utc};
use chrono_tz::{OffsetComponents, OffsetName, Tz};

/// The zone's definition for moments from `from` to `to`.
pub(super) fn definition(zone: Tz, from: DateTime<Utc>, to: DateTime<Utc>) -> String {
    let mut text = format!("BEGIN:VTIMEZONE\r\nTZID:{}\r\n", zone.name());
    // A day more at each end: whatever is listed by its day alone lies in it too.
    let (from, to) = (from - TimeDelta::days(1), to + TimeDelta::days(1));
    text.push_str(&observance(zone, from, from));
    let mut at = from;
    while at < to {
        let next = (at + TimeDelta::days(1)).min(to);
        if offset(zone, at) != offset(zone, next) {
            let change = change_between(zone, at, next);
            text.push_str(&observance(zone, change - TimeDelta::minutes(1), change));
        }
        at = next;
    }
    text.push_str("END:VTIMEZONE\r\n");
    text
}

/// Seconds that a zone is ahead of UTC.
fn offset(zone: Tz, moment: DateTime<Utc>) -> i32 {
    zone.offset_from_utc_datetime(&moment.naive_utc())
        .fix()
        .local_minus_utc()
}

/// The first minute with another offset than `from` has; by halving, as there is one change at most in a day.
fn change_between(zone: Tz, from: DateTime<Utc>, to: DateTime<Utc>) -> DateTime<Utc> {
    let (mut before, mut after) = (from, to);
    while after - before > TimeDelta::minutes(1) {
        let middle = before + TimeDelta::minutes((after - before).num_minutes() / 2);
        if offset(zone, middle) == offset(zone, from) {
            before = middle;
        } else {
            after = middle;
        }
    }
    after
}

/// What holds from `at` on, where `before` was the last moment of the former rule.
fn observance(zone: Tz, before: DateTime<Utc>, at: DateTime<Utc>) -> String {
    let holds = zone.offset_from_utc_datetime(&at.naive_utc());
    let kind = if holds.dst_offset().is_zero() {
        "STANDARD"
    } else {
        "DAYLIGHT"
    };
    let former = offset(zone, before);
    // An onset is told by the clock as it was before (3.6.5: with reference to TZOFFSETFROM).
    let onset = at.naive_utc() + TimeDelta::seconds(i64::from(former));
    let name = holds
        .abbreviation()
        .map_or_else(String::new, |name| format!("TZNAME:{name}\r\n"));
    format!(
        "BEGIN:{kind}\r\nDTSTART:{}\r\nTZOFFSETFROM:{}\r\nTZOFFSETTO:{}\r\n{name}END:{kind}\r\n",
        onset.format("%Y%m%dT%H%M%S"),
        written(former),
        written(offset(zone, at)),
    )
}

/// `+0100`, `-0330`, `+001730`.
fn written(seconds: i32) -> String {
    let sign = if seconds < 0 { '-' } else { '+' };
    let all = seconds.unsigned_abs();
    let (hours, minutes, rest) = (all / 3600, all / 60 % 60, all % 60);
    let tail = if rest > 0 {
        format!("{rest:02}")
    } else {
        String::new()
    };
    format!("{sign}{hours:02}{minutes:02}{tail}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().expect("an RFC 3339 moment")
    }

    #[test]
    fn the_clocks_of_oslo_go_forward_on_28_march_2027_at_two() {
        // 2027-03-28 02:00 +01:00 is 01:00 UTC; the onset is told by the winter clock.
        let text = definition(
            chrono_tz::Europe::Oslo,
            at("2027-03-20T12:00:00Z"),
            at("2027-04-02T12:00:00Z"),
        );
        assert!(text.contains("BEGIN:STANDARD\r\nDTSTART:20270319T130000\r\nTZOFFSETFROM:+0100\r\nTZOFFSETTO:+0100\r\nTZNAME:CET\r\n"), "{text}");
        assert!(text.contains("BEGIN:DAYLIGHT\r\nDTSTART:20270328T020000\r\nTZOFFSETFROM:+0100\r\nTZOFFSETTO:+0200\r\nTZNAME:CEST\r\n"), "{text}");
    }

    #[test]
    fn a_zone_without_changes_has_one_rule() {
        let text = definition(
            chrono_tz::Asia::Kathmandu,
            at("2027-01-01T00:00:00Z"),
            at("2027-12-31T00:00:00Z"),
        );
        assert_eq!(text.matches("TZOFFSETTO:+0545").count(), 1, "{text}");
        assert_eq!(text.matches("BEGIN:STANDARD").count(), 1);
    }
}
