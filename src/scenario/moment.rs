//! Local times become moments, by one policy.
//!
//! Knows: time zones. Must not know: what happens at a moment.
//! Promises: every local time is one moment, also in the two nights a year when the clocks change.

use chrono::{DateTime, Duration, MappedLocalTime, NaiveDateTime, TimeZone, Utc};
use chrono_tz::Tz;

/// The longest gap: a zone that moves over the date line leaves out a whole day.
const LONGEST_GAP_MINUTES: i64 = 24 * 60;

/// The moment of a local time. One that the clocks leave out is the first minute after; one that comes twice is the
/// earlier.
pub fn moment(zone: Tz, local: NaiveDateTime) -> DateTime<Utc> {
    for minutes in 0..=LONGEST_GAP_MINUTES {
        match zone.from_local_datetime(&(local + Duration::minutes(minutes))) {
            MappedLocalTime::Single(moment) => return moment.with_timezone(&Utc),
            MappedLocalTime::Ambiguous(one, other) => return one.min(other).with_timezone(&Utc),
            MappedLocalTime::None => {}
        }
    }
    // No zone has such a gap; a moment is needed all the same, and UTC's is at most a day off.
    Utc.from_utc_datetime(&local)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utc(zone: &str, local: &str) -> String {
        let zone: Tz = zone.parse().unwrap();
        let local = NaiveDateTime::parse_from_str(local, "%Y-%m-%d %H:%M").unwrap();
        moment(zone, local).format("%Y-%m-%d %H:%M").to_string()
    }

    #[test]
    fn winter_and_summer_have_their_own_offsets() {
        assert_eq!(utc("Europe/Oslo", "2027-01-11 07:00"), "2027-01-11 06:00");
        assert_eq!(utc("Europe/Oslo", "2027-07-11 07:00"), "2027-07-11 05:00");
    }

    #[test]
    fn a_time_that_is_left_out_in_spring_is_the_first_minute_after() {
        // On 28 March 2027 Oslo goes from 01:59 (UTC+1) to 03:00 (UTC+2): 02:30 becomes 03:00, that is 01:00 UTC.
        assert_eq!(utc("Europe/Oslo", "2027-03-28 02:30"), "2027-03-28 01:00");
        assert_eq!(utc("Europe/Oslo", "2027-03-28 02:00"), "2027-03-28 01:00");
        assert_eq!(utc("Europe/Oslo", "2027-03-28 01:59"), "2027-03-28 00:59");
    }

    #[test]
    fn a_time_that_comes_twice_in_autumn_is_the_earlier() {
        // On 31 October 2027 Oslo goes from 02:59 (UTC+2) back to 02:00 (UTC+1): 02:30 is first 00:30 UTC.
        assert_eq!(utc("Europe/Oslo", "2027-10-31 02:30"), "2027-10-31 00:30");
        assert_eq!(utc("Europe/Oslo", "2027-10-31 03:00"), "2027-10-31 02:00");
    }

    #[test]
    fn a_day_that_is_left_out_ends_in_the_next_ones_first_minute() {
        // Samoa had no 30 December 2011: it went from UTC-10 to UTC+14 at midnight, 10:00 UTC.
        assert_eq!(utc("Pacific/Apia", "2011-12-30 00:00"), "2011-12-30 10:00");
    }
}
