//! Moments on the command line: written as on the clock on the wall.
//!
//! Knows: the scenario's notation for dates and times, the build's zone. Must not know: what happened then.
//! Promises: a time without a date is the last time that the clock showed it, or the next, as is asked.

use chrono::{
    DateTime, Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone, Utc,
};
use chrono_tz::Tz;

use super::kinds;
use super::moment::moment;

/// A clock on the wall may be ahead of this computer's by so much.
const CLOCKS: TimeDelta = TimeDelta::minutes(2);

/// The moment of `18:40`, `yesterday 18:40`, `2027-01-11 18:40` (local to the zone) or of a date with its offset as other programs
/// write it, seen from `now`: a time without a date is the last at which the clock showed it.
///
/// # Errors
/// If it is none of these; how it is written.
pub fn moment_by(text: &str, zone: Tz, now: DateTime<Utc>) -> Result<DateTime<Utc>, String> {
    read(text, zone, now, &|time| {
        let today = local_day(zone, now);
        let days = [0, 1].map(|days| today.checked_sub_days(Days::new(days)));
        // In the hour that the clock shows twice, the later one that has come.
        let moments = days
            .into_iter()
            .flatten()
            .flat_map(|day| shown(zone, day.and_time(time)));
        moments.filter(|moment| *moment <= now + CLOCKS).max()
    })
}

/// The same of what is to come: a time without a date is the next at which the clock shows it; `tomorrow 18:40` is read too.
///
/// # Errors
/// As [`moment_by`], or if it is over.
pub fn moment_ahead(text: &str, zone: Tz, now: DateTime<Utc>) -> Result<DateTime<Utc>, String> {
    let moment = ahead(text, zone, now)?;
    if moment <= now {
        return Err(format!(
            "`{}` is over: it is {} now; write a moment that is to come, such as `tomorrow 18:40`",
            text.trim(),
            now.with_timezone(&zone).format("%Y-%m-%d %H:%M")
        ));
    }
    Ok(moment)
}

fn ahead(text: &str, zone: Tz, now: DateTime<Utc>) -> Result<DateTime<Utc>, String> {
    if let Some(text) = text.trim().strip_prefix("tomorrow") {
        let minute = kinds::minute_of_day(text.trim()).filter(|minute| *minute < 1440);
        let time =
            minute.and_then(|minute| NaiveTime::from_num_seconds_from_midnight_opt(minute * 60, 0));
        let day = local_day(zone, now).checked_add_days(Days::new(1));
        return match (time, day) {
            (Some(time), Some(day)) => Ok(moment(zone, day.and_time(time))),
            _ => Err("`tomorrow` needs a time of day: write `tomorrow 18:40`".to_owned()),
        };
    }
    read(text, zone, now, &|time| {
        let today = local_day(zone, now);
        let days = [0, 1].map(|days| today.checked_add_days(Days::new(days)));
        let moments = days
            .into_iter()
            .flatten()
            .flat_map(|day| shown(zone, day.and_time(time)));
        moments.filter(|moment| *moment > now).min()
    })
}

fn local_day(zone: Tz, now: DateTime<Utc>) -> NaiveDate {
    now.with_timezone(&zone).date_naive()
}

/// The moments at which a clock shows a local time: one, two where it is set back, or the one into which a gap is closed.
fn shown(zone: Tz, local: NaiveDateTime) -> Vec<DateTime<Utc>> {
    let found = zone.from_local_datetime(&local);
    match (found.earliest(), found.latest()) {
        (Some(first), Some(last)) => vec![first.to_utc(), last.to_utc()],
        _ => vec![moment(zone, local)],
    }
}

/// A moment as it is written; `by_clock` says which of a time without a date.
fn read(
    text: &str,
    zone: Tz,
    now: DateTime<Utc>,
    by_clock: &dyn Fn(NaiveTime) -> Option<DateTime<Utc>>,
) -> Result<DateTime<Utc>, String> {
    let text = text.trim();
    let time = |text: &str| {
        let minute = kinds::minute_of_day(text.trim()).filter(|minute| *minute < 1440)?;
        NaiveTime::from_num_seconds_from_midnight_opt(minute * 60, 0)
    };
    let found = match text.strip_prefix("yesterday") {
        Some(text) => time(text).and_then(|time| {
            let day = local_day(zone, now).checked_sub_days(Days::new(1))?;
            Some(moment(zone, day.and_time(time)))
        }),
        None => time(text)
            .and_then(by_clock)
            .or_else(|| with_offset(text))
            .or_else(|| kinds::moment(text).map(|local| moment(zone, local))),
    };
    // With others sums of moments would leave the calendar.
    let found = found.filter(|moment| (1970..2200).contains(&moment.year()));
    found.ok_or_else(|| {
        format!("`{text}` is no moment; write `18:40`, `yesterday 18:40` or `2027-01-11 18:40`")
    })
}

/// A moment with its offset from UTC, with or without seconds.
fn with_offset(text: &str) -> Option<DateTime<Utc>> {
    let whole = DateTime::parse_from_rfc3339(text);
    let to_the_minute = || DateTime::parse_from_str(text, "%Y-%m-%dT%H:%M%#z");
    let written = whole.or_else(|_| to_the_minute()).ok();
    written.map(|written| written.to_utc())
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
        // The clock on the wall may be two minutes ahead.
        assert_eq!(by("12:02"), Ok("11 11:02".to_owned()));
        assert_eq!(by("12:03"), Ok("10 11:03".to_owned()));
    }

    #[test]
    fn what_is_to_come_is_the_next_that_the_clock_shows() {
        let now = "2027-01-11T11:00:00Z".parse().expect("a moment");
        let ahead = |text: &str| {
            let found = moment_ahead(text, chrono_tz::Europe::Oslo, now).expect(text);
            found.format("%d %H:%M").to_string()
        };
        assert_eq!(ahead("18:40"), "11 17:40");
        assert_eq!(ahead("7:05"), "12 06:05");
        assert_eq!(ahead("2027-01-19 18:40"), "19 17:40");
        assert_eq!(ahead("tomorrow 18:40"), "12 17:40");
    }

    #[test]
    fn what_is_over_is_not_to_come() {
        let now = "2027-01-11T11:00:00Z".parse().expect("a moment");
        let refused = |text: &str| {
            moment_ahead(text, chrono_tz::Europe::Oslo, now).expect_err("it is refused")
        };
        assert_eq!(
            refused("2027-01-09 18:40"),
            "`2027-01-09 18:40` is over: it is 2027-01-11 12:00 now; write a moment that is to come, such as `tomorrow 18:40`"
        );
        assert!(refused("tomorrow").contains("write `tomorrow 18:40`"));
    }

    #[test]
    fn in_the_hour_that_comes_twice_the_later_that_has_come_is_meant() {
        // Clocks in Oslo go back at 03:00 on 31 October 2027: 02:35 is 00:35 and 01:35 UTC.
        let by = |now: &str| {
            let now = now.parse().expect("a moment");
            let found = moment_by("02:35", chrono_tz::Europe::Oslo, now).expect("a moment");
            found.format("%d %H:%M").to_string()
        };
        assert_eq!(by("2027-10-31T01:40:00Z"), "31 01:35");
        assert_eq!(by("2027-10-31T01:10:00Z"), "31 00:35");
    }

    #[test]
    fn a_date_is_local_unless_it_says_its_offset() {
        assert_eq!(by("2027-01-09 18:40"), Ok("09 17:40".to_owned()));
        assert_eq!(by("2027-01-09T18:40:00Z"), Ok("09 18:40".to_owned()));
        for written in ["2027-01-09T18:40Z", "2027-01-09T20:40+02:00"] {
            assert_eq!(by(written), Ok("09 18:40".to_owned()), "{written}");
        }
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
