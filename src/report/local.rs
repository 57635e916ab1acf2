//! Moments as the bench reads them: local days and clock times.
//!
//! Knows: the build's time zone. Must not know: calendars, plans.
//! Promises: a moment is shown in the offset that holds at that moment, on both sides of a change of the clock.

use chrono::{DateTime, NaiveDate, NaiveTime, SecondsFormat, TimeDelta, Utc};
use chrono_tz::Tz;

use super::grid::TIE;

/// Shows moments in one zone.
#[derive(Clone, Copy, Debug)]
pub(super) struct Local(pub(super) Tz);

impl Local {
    /// The local date of a moment.
    pub(super) fn date(self, moment: DateTime<Utc>) -> NaiveDate {
        moment.with_timezone(&self.0).date_naive()
    }

    /// The first moment of a local date. A midnight that the clock skips comes an hour later, one that comes twice is the first.
    pub(super) fn midnight(self, date: NaiveDate) -> DateTime<Utc> {
        let midnight = date.and_time(NaiveTime::MIN);
        (0..=24)
            .find_map(|hour| {
                let wall = midnight.checked_add_signed(TimeDelta::hours(hour))?;
                wall.and_local_timezone(self.0).earliest()
            })
            .map_or_else(|| midnight.and_utc(), |moment| moment.to_utc())
    }

    /// `2027-02-11T19:40:00+01:00`.
    pub(super) fn rfc3339(self, moment: DateTime<Utc>) -> String {
        moment
            .with_timezone(&self.0)
            .to_rfc3339_opts(SecondsFormat::Secs, false)
    }

    /// `19:40`.
    pub(super) fn clock(self, moment: DateTime<Utc>) -> String {
        moment.with_timezone(&self.0).format("%H:%M").to_string()
    }

    /// `Thu 11 Feb 19:40`, never broken.
    pub(super) fn full(self, moment: DateTime<Utc>) -> String {
        format!("{}{TIE}{}", day(self.date(moment)), self.clock(moment))
    }

    /// `19:40` on `today`; within six days of it `Thu 19:40`; else `11 Feb 19:40`.
    pub(super) fn seen_from(self, today: NaiveDate, moment: DateTime<Utc>) -> String {
        let date = self.date(moment);
        let clock = self.clock(moment);
        match (date - today).num_days() {
            0 => clock,
            1..=6 => format!("{}{TIE}{clock}", date.format("%a")),
            _ => format!("{}{TIE}{clock}", tied(&date.format("%-d %b").to_string())),
        }
    }
}

/// `Thu 11 Feb`, never broken.
pub(super) fn day(date: NaiveDate) -> String {
    tied(&date.format("%a %-d %b").to_string())
}

/// `Thu 11 Feb 2027`, never broken.
pub(super) fn day_and_year(date: NaiveDate) -> String {
    tied(&date.format("%a %-d %b %Y").to_string())
}

fn tied(text: &str) -> String {
    text.replace(' ', TIE.encode_utf8(&mut [0; 4]))
}

#[cfg(test)]
mod tests {
    use chrono::TimeZone;

    use super::*;

    const OSLO: Local = Local(chrono_tz::Europe::Oslo);

    fn utc(month: u32, day: u32, hour: u32, minute: u32) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2027, month, day, hour, minute, 0)
            .single()
            .expect("UTC has neither gaps nor doubled times")
    }

    #[test]
    fn the_offset_is_the_one_that_holds_at_the_moment() {
        // Oslo 2027: a run of 480 min from 27 March 22:00 (+01:00) ends 07:00 summer time; one from 30 October 22:00
        // (+02:00) ends 05:00 winter time.
        assert_eq!(OSLO.rfc3339(utc(3, 28, 5, 0)), "2027-03-28T07:00:00+02:00");
        assert_eq!(OSLO.rfc3339(utc(10, 31, 4, 0)), "2027-10-31T05:00:00+01:00");
    }

    #[test]
    fn a_moment_is_named_no_further_than_needed_to_find_it_from_a_day() {
        let monday = OSLO.date(utc(1, 11, 12, 0));
        // 22:30 UTC is 23:30 in Oslo, still Monday; an hour later it is Tuesday there.
        assert_eq!(OSLO.seen_from(monday, utc(1, 11, 22, 30)), "23:30");
        assert_eq!(OSLO.seen_from(monday, utc(1, 11, 23, 30)), "Tue\u{a0}00:30");
        assert_eq!(OSLO.seen_from(monday, utc(1, 17, 5, 0)), "Sun\u{a0}06:00");
        // A week on, the weekday alone would mean another day.
        assert_eq!(
            OSLO.seen_from(monday, utc(1, 18, 5, 0)),
            "18\u{a0}Jan\u{a0}06:00"
        );
    }
}
