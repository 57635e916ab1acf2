//! The dates above the chart of the weeks, which stay in sight while it scrolls.
//!
//! Knows: days and weeks of an axis. Must not know: runs.
//! Promises: wherever the chart is scrolled to, the date of what is at its left edge is in sight: a day's or a week's words move along
//! within their day or week; hours are by the clock on the wall.

use chrono::{DateTime, TimeDelta, Timelike, Utc};
use maud::{Markup, html};

use super::axis::{Axis, per_cent};
use crate::report::local::day;

/// The hours after midnight that have a line.
pub(super) const HOURS: [i64; 3] = [6, 12, 18];

/// A stretch shorter than this at the end of the chart has no room for its date beside the one before.
const SHORTEST: usize = 4;

/// So many hours after a midnight.
pub(super) fn clock(midnight: DateTime<Utc>, hours: i64) -> DateTime<Utc> {
    midnight + TimeDelta::hours(hours)
}

pub(super) fn ruler(axis: &Axis) -> Markup {
    let days: Vec<_> = axis.days().collect();
    let mut weeks: Vec<_> = axis.dated().collect();
    let left = |from: DateTime<Utc>| {
        days.iter()
            .filter(|(_, midnight)| *midnight >= from)
            .count()
    };
    if weeks.len() > 1 {
        weeks.pop_if(|last| left(last.1) < SHORTEST);
    }
    let end =
        |next: Option<&(chrono::NaiveDate, DateTime<Utc>)>| next.map_or(axis.to, |next| next.1);
    html! {
        div.dates aria-hidden="true" {
            @for (at, &(date, midnight)) in weeks.iter().enumerate() {
                div.week style=(place(axis, midnight, end(weeks.get(at + 1)))) { b { (day(date)) } }
            }
            @for (at, &(date, midnight)) in days.iter().enumerate() {
                div.date style=(place(axis, midnight, end(days.get(at + 1)))) {
                    b { (day(date)) }
                    span.initial { (date.format("%a").to_string().chars().take(1).collect::<String>()) }
                }
                // By the clock on the wall, which may have changed in the night.
                @for hour in HOURS {
                    @let at = clock(midnight, hour);
                    span.hour style={ "left:" (per_cent(axis.at(at))) } { (at.with_timezone(&axis.zone()).hour()) ":00" }
                }
            }
        }
    }
}

fn place(axis: &Axis, from: DateTime<Utc>, to: DateTime<Utc>) -> String {
    let (left, right) = (axis.at(from), axis.at(to));
    format!("left:{};width:{}", per_cent(left), per_cent(right - left))
}
