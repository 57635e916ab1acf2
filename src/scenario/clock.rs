//! Moments on the command line: written as on the clock on the wall.
//!
//! Knows: the scenario's notation for dates and times, the build's zone. Must not know: what happened then.
//! Promises: a time without a date is the last time that the clock showed it.

use chrono::{DateTime, Days, NaiveTime, Utc};
use chrono_tz::Tz;

use super::kinds;
use super::moment::moment;

/// The moment of `18:40`, `yesterday 18:40`, `2027-01-11 18:40` (local to the zone) or of a date with its offset as other programs
/// write it, seen from `now`.
///
/// # Errors
/// If it is none of these; how it is written.
pub fn moment_by(text: &str, zone: Tz, now: DateTime<Utc>) -> Result<DateTime<Utc>, String> {
    let text = text.trim();
    let today = now.with_timezone(&zone).date_naive();
    let on = |days: u64, time: &str| {
        let minute = kinds::minute_of_day(time.trim()).filter(|minute| *minute < 1440)?;
        let time = NaiveTime::from_num_seconds_from_midnight_opt(minute * 60, 0)?;
        Some(moment(
            zone,
            today.checked_sub_days(Days::new(days))?.and_time(time),
        ))
    };
    let found = match text.strip_prefix("yesterday") {
        Some(time) => on(1, time),
        None => on(0, text)
            .map(|then| {
                if then > now {
                    on(1, text).unwrap_or(then)
                } else {
                    then
                }
            })
            .or_else(|| {
                let written = DateTime::parse_from_rfc3339(text).ok();
                written.map(|written| written.to_utc())
            })
            .or_else(|| kinds::moment(text).map(|local| moment(zone, local))),
    };
    found.ok_or_else(|| {
        format!("`{text}` is no moment; write `18:40`, `yesterday 18:40` or `2027-01-11 18:40`")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn by(text: &str) -> Result<String, String> {
        // Monday 11 January 2027, 12:00 in Oslo (UTC+1).
        let now = "2027-01-11T11:00:00Z".parse().expect("a moment");
        let found = moment_by(text, chrono_tz::Europe::Oslo, now)?;
        Ok(found.format("%d %H:%M").to_string())
    }

    #[test]
    fn a_time_without_a_date_is_the_last_that_the_clock_showed() {
        assert_eq!(by("7:05"), Ok("11 06:05".to_owned()));
        // At noon, 18:40 was yesterday.
        assert_eq!(by("18:40"), Ok("10 17:40".to_owned()));
        assert_eq!(by("yesterday 7:05"), Ok("10 06:05".to_owned()));
    }

    #[test]
    fn a_date_is_local_unless_it_says_its_offset() {
        assert_eq!(by("2027-01-09 18:40"), Ok("09 17:40".to_owned()));
        assert_eq!(by("2027-01-09T18:40:00Z"), Ok("09 18:40".to_owned()));
    }

    #[test]
    fn what_is_no_moment_is_answered_with_how_one_is_written() {
        for text in [
            "",
            "25:00",
            "noon",
            "yesterday",
            "2027-02-30 10:00",
            "24:00",
        ] {
            let told = by(text).expect_err(text);
            assert!(told.ends_with("`2027-01-11 18:40`"), "{told}");
        }
    }
}
