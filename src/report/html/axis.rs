//! A stretch of time laid along a width: moments as shares of it, local days and hours as marks.
//!
//! Knows: moments, the build's zone. Must not know: what is drawn.
//! Promises: shares are per cent of the width, exact to an eighth of a minute in a year; a day with a change of the clock is an
//! hour longer or shorter.

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc, Weekday};

use crate::report::local::Local;

/// A stretch of time from one local midnight to another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axis {
    local: Local,
    pub(super) from: DateTime<Utc>,
    pub(super) to: DateTime<Utc>,
    first: NaiveDate,
    days: u64,
}

/// A stretch of an axis, in per cent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    pub(super) x: f64,
    pub(super) width: f64,
}

impl Axis {
    /// All days from the one of `from` to the one of `to`, both whole.
    pub(super) fn of(local: Local, from: DateTime<Utc>, to: DateTime<Utc>) -> Self {
        let first = local.date(from);
        let last = local.date(to.max(from));
        let days = (last - first).num_days().unsigned_abs() + 1;
        Self::days_from(local, first, days)
    }

    fn days_from(local: Local, first: NaiveDate, days: u64) -> Self {
        let end = first.checked_add_days(Days::new(days)).unwrap_or(first);
        Self {
            local,
            from: local.midnight(first),
            to: local.midnight(end),
            first,
            days,
        }
    }

    /// The weeks of this axis, Monday to Sunday.
    pub(super) fn weeks(&self) -> Vec<Self> {
        let before = u64::from(self.first.weekday().num_days_from_monday());
        let monday = self
            .first
            .checked_sub_days(Days::new(before))
            .unwrap_or(self.first);
        let weeks = (before + self.days).div_ceil(7);
        (0..weeks)
            .filter_map(|week| monday.checked_add_days(Days::new(7 * week)))
            .map(|first| Self::days_from(self.local, first, 7))
            .collect()
    }

    /// How many days.
    pub(super) fn day_count(&self) -> u64 {
        self.days
    }

    /// The zone whose days they are.
    pub(super) fn zone(&self) -> chrono_tz::Tz {
        self.local.0
    }

    /// Each day with its first moment.
    pub(super) fn days(&self) -> impl Iterator<Item = (NaiveDate, DateTime<Utc>)> + '_ {
        let dates =
            (0..self.days).filter_map(|ahead| self.first.checked_add_days(Days::new(ahead)));
        dates.map(|date| (date, self.local.midnight(date)))
    }

    /// The days that bear their date however little room there is, with their first moments: the Mondays, or the first day of a
    /// stretch that has none.
    pub(super) fn dated(&self) -> impl Iterator<Item = (NaiveDate, DateTime<Utc>)> + '_ {
        let is_monday = |date: NaiveDate| date.weekday() == Weekday::Mon;
        let none = !self.days().any(|(date, _)| is_monday(date));
        self.days()
            .filter(move |&(date, _)| is_monday(date) || none && date == self.first)
    }

    /// Where a moment is, in per cent; beyond the ends, the end.
    pub(super) fn at(&self, moment: DateTime<Utc>) -> f64 {
        let whole = (self.to - self.from).num_minutes().max(1) as f64;
        let minutes = (moment - self.from).num_minutes() as f64;
        (minutes / whole * 100.0).clamp(0.0, 100.0)
    }

    /// The part of a span that is on the axis; `None` if none is.
    pub(super) fn stretch(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Option<Stretch> {
        (from < self.to && to > self.from).then(|| {
            let x = self.at(from);
            Stretch {
                x,
                width: self.at(to) - x,
            }
        })
    }

    /// Whether a moment is on it.
    pub(super) fn holds(&self, moment: DateTime<Utc>) -> bool {
        (self.from..self.to).contains(&moment)
    }
}

/// A number for a drawing: four decimals, and none that are noughts.
pub(in crate::report) fn short(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// The same as a share.
pub(super) fn per_cent(value: f64) -> String {
    short(value) + "%"
}

#[cfg(test)]
mod tests {
    use super::*;

    const OSLO: Local = Local(chrono_tz::Europe::Oslo);

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().expect("an RFC 3339 moment")
    }

    #[test]
    fn a_moment_is_where_its_share_of_the_time_is() {
        // Monday and Tuesday, 48 h; Monday 18:00 is 18 of them: 37.5 %.
        let axis = Axis::of(
            OSLO,
            at("2027-01-11T07:00:00+01:00"),
            at("2027-01-12T20:00:00+01:00"),
        );
        assert_eq!(axis.day_count(), 2);
        assert_eq!(axis.at(at("2027-01-11T18:00:00+01:00")), 37.5);
        // From Sunday evening to Monday 12:00 only the twelve hours of Monday are on it: a quarter.
        let stretch = axis.stretch(
            at("2027-01-10T20:00:00+01:00"),
            at("2027-01-11T12:00:00+01:00"),
        );
        assert_eq!(
            stretch,
            Some(Stretch {
                x: 0.0,
                width: 25.0
            })
        );
        assert_eq!(
            axis.stretch(
                at("2027-01-13T00:00:00+01:00"),
                at("2027-01-13T09:00:00+01:00")
            ),
            None
        );
    }

    #[test]
    fn the_day_on_which_the_clocks_go_forward_has_23_hours() {
        // 28 March 2027 in Oslo; 12:00 by the clock is 11 h after midnight.
        let noon = at("2027-03-28T12:00:00+02:00");
        let axis = Axis::of(OSLO, noon, noon);
        assert!((axis.at(noon) - 100.0 * 11.0 / 23.0).abs() < 1e-9);
    }

    #[test]
    fn weeks_begin_on_monday() {
        // Saturday to the Monday after: two weeks.
        let axis = Axis::of(
            OSLO,
            at("2027-01-16T09:00:00+01:00"),
            at("2027-01-18T09:00:00+01:00"),
        );
        let firsts: Vec<String> = axis
            .weeks()
            .iter()
            .map(|week| week.first.to_string())
            .collect();
        assert_eq!(firsts, ["2027-01-11", "2027-01-18"]);
    }

    #[test]
    fn numbers_are_as_short_as_they_can_be() {
        assert_eq!(
            [short(12.5), short(3.0), short(-0.00001), short(0.12345)],
            ["12.5", "3", "0", "0.1235"]
        );
    }
}
