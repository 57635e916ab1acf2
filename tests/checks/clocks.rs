//! Nights on which the clock changes. Dates and offsets: IANA time zone database; the hours are counted by hand.

use beamyard::calendar::{Edge, to_utc};
use chrono::{NaiveDateTime, SecondsFormat, TimeDelta};
use chrono_tz::{America, Europe, Tz};

fn local(text: &str) -> NaiveDateTime {
    NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").expect("a date")
}

fn hours(zone: Tz, from: &str, to: &str) -> f64 {
    let from = to_utc(zone, local(from), Edge::Opening);
    let to = to_utc(zone, local(to), Edge::Closing);
    (to - from).num_minutes() as f64 / 60.0
}

#[test]
fn a_night_from_22_to_8_has_nine_hours_in_spring_and_eleven_in_autumn() {
    // Ten hours by the wall clock, less the one skipped, or with the one doubled.
    let oslo = |from, to| hours(Europe::Oslo, from, to);
    assert_eq!(oslo("2027-03-27 22:00", "2027-03-28 08:00"), 9.0);
    assert_eq!(oslo("2027-10-30 22:00", "2027-10-31 08:00"), 11.0);
    let new_york = |from, to| hours(America::New_York, from, to);
    assert_eq!(new_york("2027-03-13 22:00", "2027-03-14 08:00"), 9.0);
    assert_eq!(new_york("2027-11-06 22:00", "2027-11-07 08:00"), 11.0);
    // And ten on any other night.
    assert_eq!(oslo("2027-03-26 22:00", "2027-03-27 08:00"), 10.0);
}

#[test]
fn a_run_of_480_minutes_from_22_ends_at_7_in_spring_and_at_5_in_autumn() {
    // 22:00 to 06:00 by an unchanged clock; one hour on in spring, one hour back in autumn.
    let end = |start: &str| {
        let start = to_utc(Europe::Oslo, local(start), Edge::Opening);
        let end = (start + TimeDelta::minutes(480)).with_timezone(&Europe::Oslo);
        end.to_rfc3339_opts(SecondsFormat::Secs, false)
    };
    assert_eq!(end("2027-03-27 22:00"), "2027-03-28T07:00:00+02:00");
    assert_eq!(end("2027-10-30 22:00"), "2027-10-31T05:00:00+01:00");
}
