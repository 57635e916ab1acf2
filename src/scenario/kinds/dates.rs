//! Local dates and times, and the zone that they are local to.
//!
//! Knows: `2027-01-11 07:00`, IANA zone names. Must not know: bench hours, stages.
//! Promises: a moment on the local clock between the years 2000 and 2100; whole minutes.

use std::collections::BTreeSet;

use chrono::{Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime};
use chrono_tz::{TZ_VARIANTS, Tz};

use super::{Ask, Kind, entries, text};
use crate::scenario::names::nearest;
use crate::scenario::tree::Node;

/// The years that a date may be in.
const YEARS: std::ops::RangeInclusive<i32> = 2000..=2100;

/// A local date with or without a time; without: its first minute.
pub struct Moment;

/// Local dates: `2027-01-23`, or `2027-07-10..2027-07-24` for all days from the first to the last.
pub struct Dates {
    /// Most days altogether.
    pub most: usize,
}

/// An IANA time zone.
pub struct Zone;

fn date(text: &str) -> Option<NaiveDate> {
    NaiveDate::parse_from_str(text, "%Y-%m-%d")
        .ok()
        .filter(|date| YEARS.contains(&date.year()))
}

/// Minutes after midnight of `7:05`, `07:05`, `24:00`; `07:05:00` too, since other programs write it.
pub fn minute_of_day(text: &str) -> Option<u32> {
    let text = match text.strip_suffix(":00") {
        Some(short) if short.contains(':') => short,
        _ => text,
    };
    let (hours, minutes) = text.split_once(':')?;
    let digits = |text: &str, count: std::ops::RangeInclusive<usize>| {
        (count.contains(&text.len()) && text.chars().all(|c| c.is_ascii_digit()))
            .then(|| text.parse::<u32>().ok())
            .flatten()
    };
    let (hours, minutes) = (digits(hours, 1..=2)?, digits(minutes, 2..=2)?);
    let minute = hours * 60 + minutes;
    (minutes < 60 && minute <= 1440).then_some(minute)
}

/// Of a date that is rightly written, of a day that its month does not have: what is wrong with it.
fn no_day(text: &str) -> Option<String> {
    let text = text.trim();
    let mut fields = text.splitn(3, '-');
    let mut next = || fields.next()?.parse::<i32>().ok();
    let (year, month, day) = (next()?, u32::try_from(next()?).ok()?, next()?);
    if !YEARS.contains(&year) {
        return None;
    }
    let first = NaiveDate::from_ymd_opt(year, month, 1)?;
    let days = first.num_days_in_month();
    // There is such a day, however many noughts stand before it.
    if (1..=i32::from(days)).contains(&day) {
        return None;
    }
    let (name, which) = (first.format("%B"), first.format("%B %Y"));
    Some(match day {
        ..1 => "there is no such day: days are counted from 1".to_owned(),
        32.. => format!("no month has a day {day}; {name} has {days} days"),
        _ if month == 2 => format!("there is no such day: {which} has {days} days"),
        _ => format!("there is no such day: {name} has {days} days"),
    })
}

/// A date whose second number is that of no month.
fn has_no_month(text: &str) -> bool {
    let mut fields = text.split(['-', ' ', 'T']);
    let mut next = || fields.next()?.parse::<i32>().ok();
    match (next(), next(), next()) {
        (Some(year), Some(month), Some(_)) => YEARS.contains(&year) && !(1..=12).contains(&month),
        _ => false,
    }
}

/// A date with a time that no day has.
fn has_no_hour(text: &str) -> bool {
    let Some((day, time)) = text.split_once([' ', 'T']) else {
        return false;
    };
    let mut numbers = time.trim().split(':').map(|number| number.parse::<u32>());
    let hours = numbers.next();
    let rest: Vec<_> = numbers.collect();
    date(day).is_some()
        && hours.is_some_and(|hours| hours.is_ok_and(|hours| hours >= 24))
        && (1..=2).contains(&rest.len())
        && rest.iter().all(Result::is_ok)
}

/// A date with or without a time, as it is written.
pub fn moment(text: &str) -> Option<NaiveDateTime> {
    let (day, time) = match text.split_once([' ', 'T']) {
        Some((day, time)) => (date(day)?, minute_of_day(time.trim_start())?),
        None => (date(text)?, 0),
    };
    // 24:00 is the next day's first minute.
    let day = if time == 1440 { day.succ_opt()? } else { day };
    let time = NaiveTime::from_num_seconds_from_midnight_opt(time % 1440 * 60, 0)?;
    Some(day.and_time(time))
}

impl Kind for Moment {
    type Out = NaiveDateTime;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<NaiveDateTime> {
        let written = text(self, node, ask)?;
        let slip = no_day(written.split([' ', 'T']).next().unwrap_or(written));
        match (moment(written), slip) {
            (Some(moment), _) => Some(moment),
            (None, _) if written.contains('+') || written.ends_with('Z') => ask.refuse(
                node,
                "a time is local to `build.timezone` and has no offset",
            ),
            (None, Some(slip)) => ask.refuse(node, slip),
            (None, None) if has_no_month(written) => ask.refuse(
                node,
                "there is no such month: a date is written year-month-day",
            ),
            (None, None) if has_no_hour(written) => ask.refuse(
                node,
                "there is no such time of day: hours go to 23:59",
            ),
            (None, None) if written.parse::<i32>().is_ok_and(|year| YEARS.contains(&year)) => ask.refuse(
                node,
                "is only a year: a date is written year-month-day, and the time of day behind it",
            ),
            (None, None) => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        "a date, year-month-day, with or without a time of day, in the years 2000 to 2100"
            .to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        [
            "2027-02-29",
            "11.01.2027",
            "2027-01-11 24:01",
            "2027-01-11 7",
            "2027-01-11T07:00:00Z",
            "2027-01-11T07:00+01:00",
            "1999-12-31",
            "2101-01-01",
            "tomorrow",
            "[]",
        ]
        .map(str::to_owned)
        .to_vec()
    }
}

impl Kind for Dates {
    type Out = BTreeSet<NaiveDate>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let mut days = BTreeSet::new();
        let mut whole = true;
        for entry in entries(node) {
            let written = text(self, entry, ask)?;
            let (first, last) = written.split_once("..").unwrap_or((written, written));
            let (Some(first), Some(last)) = (date(first.trim()), date(last.trim())) else {
                whole = false;
                let slip = no_day(first).or_else(|| no_day(last));
                let rule = slip.unwrap_or_else(|| format!("must be {}", self.rule()));
                ask.refuse::<()>(entry, rule);
                continue;
            };
            if first > last {
                whole = false;
                ask.refuse_with::<()>(
                    entry,
                    "must not run backward",
                    format!("write `{last}..{first}`"),
                );
                continue;
            }
            let mut day = Some(first);
            while let Some(some) = day.filter(|day| *day <= last && days.len() <= self.most) {
                days.insert(some);
                day = some.checked_add_days(Days::new(1));
            }
        }
        if days.len() > self.most {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        whole.then_some(days)
    }

    fn rule(&self) -> String {
        format!(
            "dates, year-month-day, or spans `first..last`, at most {} days",
            self.most
        )
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        [
            "[2027-01-32]",
            "[2027-01-23, x]",
            "2027-02-01..2027-01-01",
            "2001-01-01..2099-01-01",
            "[{}]",
        ]
        .map(str::to_owned)
        .to_vec()
    }
}

impl Kind for Zone {
    type Out = Tz;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Tz> {
        let written = text(self, node, ask)?;
        match written.parse::<Tz>() {
            Ok(zone) => Some(zone),
            Err(_) => {
                let rule = format!("must be {}", self.rule());
                let names = || TZ_VARIANTS.iter().map(|zone| zone.name());
                let place = written.trim().replace(' ', "_").to_lowercase();
                let of_place = names().find(|name| {
                    let last = name.rsplit('/').next().unwrap_or(name);
                    name.contains('/') && last.to_lowercase() == place
                });
                let of_place_misspelt = || {
                    let lasts = names().filter_map(|name| name.rsplit_once('/'));
                    let last = nearest(written, lasts.map(|(_, last)| last))?;
                    names().find(|name| name.ends_with(&format!("/{last}")))
                };
                let meant = of_place
                    .or_else(|| nearest(written, names()))
                    .or_else(of_place_misspelt);
                match meant {
                    Some(zone) => ask.refuse_with(node, rule, format!("did you mean `{zone}`?")),
                    None => ask.refuse(node, rule),
                }
            }
        }
    }

    fn rule(&self) -> String {
        "the IANA name of a time zone".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec!["Europe/Nowhere".to_owned(), "+01:00".to_owned()]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Option<String> {
        moment(text).map(|moment| moment.format("%Y-%m-%d %H:%M").to_string())
    }

    #[test]
    fn a_date_alone_is_its_first_minute_and_24_00_the_next_days() {
        assert_eq!(at("2027-01-11").as_deref(), Some("2027-01-11 00:00"));
        assert_eq!(at("2027-01-11 7:05").as_deref(), Some("2027-01-11 07:05"));
        assert_eq!(at("2027-01-11T07:00").as_deref(), Some("2027-01-11 07:00"));
        assert_eq!(
            at("2027-01-11 07:00:00").as_deref(),
            Some("2027-01-11 07:00")
        );
        assert_eq!(at("2027-12-31 24:00").as_deref(), Some("2028-01-01 00:00"));
    }

    #[test]
    fn a_day_that_no_month_has_is_told_from_what_is_no_date() {
        for (text, slip) in [
            ("2027-09-31", "there is no such day: September has 30 days"),
            (
                "2027-02-29",
                "there is no such day: February 2027 has 28 days",
            ),
            (
                "2028-02-30",
                "there is no such day: February 2028 has 29 days",
            ),
            ("2027-04-32", "no month has a day 32; April has 30 days"),
            ("2027-05-99", "no month has a day 99; May has 31 days"),
            (
                "2027-04-00",
                "there is no such day: days are counted from 1",
            ),
        ] {
            assert_eq!(no_day(text).as_deref(), Some(slip), "{text}");
        }
        for text in [
            "2027-13-01",
            "2027-09-30",
            "2027-05-005",
            "31.09.2027",
            "1027-09-31",
            "x",
        ] {
            assert_eq!(no_day(text), None, "{text}");
        }
    }

    #[test]
    fn an_hour_that_no_day_has_is_told_from_what_is_no_time() {
        for text in [
            "2027-01-11 25:00",
            "2027-01-11T24:01",
            "2027-01-11 30:00:00",
        ] {
            assert!(has_no_hour(text), "{text}");
        }
        for text in [
            "2027-01-11 7",
            "2027-13-11 25:00",
            "2027-01-11 25",
            "2027-01-11 x:00",
            "25:00",
        ] {
            assert!(!has_no_hour(text), "{text}");
        }
    }

    #[test]
    fn a_time_of_day_ends_at_24_00() {
        assert_eq!(minute_of_day("24:00"), Some(1440));
        assert_eq!(minute_of_day("24:01"), None);
        assert_eq!(minute_of_day("7:60"), None);
        assert_eq!(minute_of_day("7"), None);
        assert_eq!(minute_of_day(":00"), None);
        assert_eq!(minute_of_day("+7:00"), None);
        assert_eq!(minute_of_day("07:00:30"), None);
    }
}
