//! The calendar against hand-worked days and against a slow minute-by-minute oracle.

use std::collections::BTreeSet;

use chrono::{Datelike, NaiveTime, TimeZone, Timelike};
use chrono_tz::{America, Australia, Europe};
use proptest::prelude::*;

use super::*;
use crate::scenario::{DaySpan, Hands};
use crate::units::Money;

const DAY: Minute = 1440;

/// A moment written as local time; the tests write none that is skipped or doubled.
fn at(zone: Tz, text: &str) -> DateTime<Utc> {
    let local = NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").expect("a date");
    zone.from_local_datetime(&local)
        .single()
        .expect("comes once")
        .to_utc()
}

fn date(text: &str) -> NaiveDate {
    text.parse().expect("a date")
}

fn clock(text: &str) -> u32 {
    let (hours, minutes) = text.split_once(':').expect("hh:mm");
    let number = |digits: &str| digits.parse::<u32>().expect("digits");
    number(hours) * 60 + number(minutes)
}

fn spans(texts: &[&str]) -> Vec<DaySpan> {
    texts
        .iter()
        .map(|text| {
            let (open, close) = text.split_once('-').expect("from-to");
            DaySpan {
                open: clock(open),
                close: clock(close),
            }
        })
        .collect()
}

/// A bench with the same hours on each of the weekdays, Monday = 0.
fn bench(days: std::ops::RangeInclusive<usize>, hours: &[&str]) -> Bench {
    let mut week: [Vec<DaySpan>; 7] = Default::default();
    for day in days {
        week[day] = spans(hours);
    }
    Bench {
        hours: week,
        away: BTreeSet::new(),
        hands: Hands::Count(1),
        unattended: true,
        bench_hour: Money(15.0),
        energy_kwh: Money(0.3),
    }
}

fn calendar(zone: Tz, start: &str, bench: &Bench) -> Calendar {
    Calendar::build(at(zone, start), zone, bench, std::iter::empty())
}

/// The first windows as UTC, to be read beside a time-zone table.
fn shown(calendar: &Calendar, count: usize) -> Vec<String> {
    calendar.windows()[..count]
        .iter()
        .map(|window| {
            let open = calendar.moment(window.open).format("%m-%d %H:%M");
            let close = calendar.moment(window.close).format("%m-%d %H:%M");
            format!("{open} to {close}")
        })
        .collect()
}

#[test]
fn bench_hours_are_local_and_windows_are_in_utc() {
    // Monday 11 January 2027; Oslo is one hour ahead of UTC.
    let evenings = bench(0..=4, &["07:00-08:30", "17:30-22:30"]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 07:00", &evenings);
    assert_eq!(
        shown(&calendar, 3),
        [
            "01-11 06:00 to 01-11 07:30",
            "01-11 16:30 to 01-11 21:30",
            "01-12 06:00 to 01-12 07:30"
        ]
    );
    assert_eq!(calendar.windows()[0], Window { open: 0, close: 90 });
}

#[test]
fn the_window_in_which_the_build_starts_is_cut_off_at_its_start() {
    let evenings = bench(0..=4, &["07:00-08:30"]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 08:00", &evenings);
    // 30 of the 90 minutes are left.
    assert_eq!(calendar.windows()[0], Window { open: 0, close: 30 });
}

#[test]
fn windows_that_touch_are_one_even_over_midnight() {
    // 18:00 to 24:00 and 00:00 to 02:00 of the next day: eight hours in one.
    let nights = bench(0..=6, &["00:00-02:00", "18:00-21:00", "21:00-24:00"]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 12:00", &nights);
    assert_eq!(
        calendar.windows()[0],
        Window {
            open: 6 * 60,
            close: 14 * 60
        }
    );
}

#[test]
fn a_bench_that_never_closes_is_one_window() {
    let always = bench(0..=6, &["00:00-24:00"]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 12:00", &always);
    assert_eq!(calendar.windows().len(), 1);
    assert_eq!(calendar.next_presence(1_234_567), Some(1_234_567));
}

#[test]
fn an_away_date_is_a_whole_local_day_without_hours() {
    // A window over midnight loses exactly the part on the away date: Fri 22 Jan 18:00 to 24:00 stays,
    // Sat 23 Jan is free, Sun 24 Jan begins at 00:00.
    let mut nights = bench(0..=6, &["00:00-02:00", "18:00-24:00"]);
    nights.away.insert(date("2027-01-23"));
    let calendar = calendar(Europe::Oslo, "2027-01-22 12:00", &nights);
    assert_eq!(
        shown(&calendar, 2),
        ["01-22 17:00 to 01-22 23:00", "01-23 23:00 to 01-24 01:00"]
    );
}

#[test]
fn a_bench_without_hours_has_no_windows() {
    let empty = bench(0..=6, &[]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 07:00", &empty);
    assert!(calendar.windows().is_empty());
    assert_eq!(calendar.window_at_or_after(0), 0);
    assert_eq!(calendar.next_presence(0), None);
}

#[test]
fn presence_is_found_inside_before_between_and_after_windows() {
    // One window a week, Monday 07:00 to 08:30; the build starts in its first minute.
    let mondays = bench(0..=0, &["07:00-08:30"]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 07:00", &mondays);
    assert_eq!(calendar.next_presence(-100), Some(0));
    assert_eq!(calendar.next_presence(0), Some(0));
    assert_eq!(calendar.next_presence(89), Some(89));
    // Minute 90 is the first after the window: half-open. The next Monday is 7 × 1440 later.
    assert_eq!(calendar.next_presence(90), Some(7 * DAY));
    assert_eq!(calendar.window_at_or_after(89), 0);
    assert_eq!(calendar.window_at_or_after(90), 1);
    let end = calendar.windows().last().expect("windows").close;
    assert_eq!(calendar.next_presence(end - 1), Some(end - 1));
    assert_eq!(calendar.next_presence(end), None);
    assert_eq!(calendar.next_presence(Minute::MAX), None);
}

#[test]
fn the_horizon_is_twelve_years_away() {
    let mondays = bench(0..=0, &["07:00-08:30"]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 07:00", &mondays);
    let last = calendar.moment(calendar.windows().last().expect("windows").close);
    // The last Monday before 10 January 2039 (a Monday, and no longer inside) is the 3rd.
    assert_eq!(last.date_naive(), date("2039-01-03"));
}

#[test]
fn outages_are_rounded_outwards_and_cut_off_at_the_start() {
    let start = at(Europe::Oslo, "2027-01-11 07:00");
    let second = |seconds: i64| start + TimeDelta::seconds(seconds);
    let outage = |from: i64, to: i64| Outage {
        from: second(from),
        to: second(to),
        why: String::new(),
    };
    // 90 s to 150 s touches minutes 1 and 2; 170 s to 180 s minute 2: together [1, 3).
    let offline = [
        outage(-600, -60),
        outage(-60, 1),
        outage(90, 150),
        outage(170, 180),
    ];
    let no_hours = bench(0..=6, &[]);
    let calendar = Calendar::build(
        start,
        Europe::Oslo,
        &no_hours,
        [&offline[..], &[]].into_iter(),
    );
    assert_eq!(
        calendar.outages(MachineIndex(0)),
        [Window { open: 0, close: 3 }],
        "[0, 1) and [1, 3) touch"
    );
    assert!(calendar.outages(MachineIndex(1)).is_empty());
}

#[test]
fn a_moment_inside_a_minute_belongs_to_it_also_before_the_start() {
    let no_hours = bench(0..=6, &[]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 07:00", &no_hours);
    let start = calendar.moment(0);
    let off = |milliseconds: i64| start + TimeDelta::milliseconds(milliseconds);
    assert_eq!(calendar.minute(off(59_999)), 0);
    assert_eq!(calendar.minute(off(60_000)), 1);
    assert_eq!(calendar.minute(off(-1)), -1);
    assert_eq!(calendar.minute(off(-60_000)), -1);
    assert_eq!(calendar.minute(off(-60_001)), -2);
    assert_eq!(calendar.minute_from(off(0)), 0);
    assert_eq!(calendar.minute_from(off(1)), 1);
    assert_eq!(calendar.minute_from(off(-1)), 0);
    assert_eq!(calendar.moment(calendar.minute(off(60_000))), off(60_000));
}

#[test]
fn a_moment_thousands_of_years_away_is_held_within_range() {
    let no_hours = bench(0..=6, &[]);
    let calendar = calendar(Europe::Oslo, "2027-01-11 07:00", &no_hours);
    assert_eq!(calendar.minute(DateTime::<Utc>::MAX_UTC), Minute::MAX);
    assert_eq!(calendar.minute(DateTime::<Utc>::MIN_UTC), Minute::MIN);
    assert_eq!(calendar.minute_from(DateTime::<Utc>::MAX_UTC), Minute::MAX);
}

#[test]
fn a_start_at_the_end_of_all_dates_does_not_crash() {
    let always = bench(0..=6, &["00:00-24:00"]);
    for start in [DateTime::<Utc>::MAX_UTC, DateTime::<Utc>::MIN_UTC] {
        let calendar = Calendar::build(start, Europe::Oslo, &always, std::iter::empty());
        assert_eq!(calendar.moment(0), start);
        assert!(calendar.moment(Minute::MAX) >= start);
    }
}

#[test]
fn a_window_that_begins_in_the_skipped_hour_begins_after_it() {
    // 28 March 2027, Oslo: 02:00 to 03:00 is skipped at 01:00 UTC. 02:30 to 05:00 is 03:00 to 05:00: two hours.
    let early = bench(6..=6, &["02:30-05:00"]);
    let calendar = calendar(Europe::Oslo, "2027-03-27 12:00", &early);
    assert_eq!(shown(&calendar, 1), ["03-28 01:00 to 03-28 03:00"]);
    assert_eq!(calendar.windows()[0].length(), 120);
}

#[test]
fn a_window_wholly_in_the_skipped_hour_does_not_exist_on_that_day() {
    // Sundays 02:10 to 02:50: on 28 March it is skipped, so the first one is on 4 April (summer time: 00:10 UTC).
    let early = bench(6..=6, &["02:10-02:50"]);
    let calendar = calendar(Europe::Oslo, "2027-03-27 12:00", &early);
    assert_eq!(shown(&calendar, 1), ["04-04 00:10 to 04-04 00:50"]);
}

#[test]
fn a_window_with_an_edge_in_the_doubled_hour_covers_both_of_its_times() {
    // 31 October 2027, Oslo: 02:00 to 03:00 comes from 00:00 and again from 01:00 UTC.
    // 01:00 to 02:30 closes at the later 02:30, 01:30 UTC; 02:30 to 04:00 opens at the earlier, 00:30 UTC.
    let closing = bench(6..=6, &["01:00-02:30"]);
    let closing = calendar(Europe::Oslo, "2027-10-30 12:00", &closing);
    assert_eq!(shown(&closing, 1), ["10-30 23:00 to 10-31 01:30"]);
    let opening = bench(6..=6, &["02:30-04:00"]);
    let opening = calendar(Europe::Oslo, "2027-10-30 12:00", &opening);
    assert_eq!(shown(&opening, 1), ["10-31 00:30 to 10-31 03:00"]);
    // Both on one day overlap in UTC and are one window.
    let both = bench(6..=6, &["01:00-02:15", "02:30-04:00"]);
    let both = calendar(Europe::Oslo, "2027-10-30 12:00", &both);
    assert_eq!(shown(&both, 1), ["10-30 23:00 to 10-31 03:00"]);
}

/// Whether the wall clock shows a time inside bench hours on a day that is not away: no zone arithmetic besides UTC →
/// local, which always has one answer.
fn wall_clock_says_present(zone: Tz, bench: &Bench, moment: DateTime<Utc>) -> bool {
    let local = moment.with_timezone(&zone).naive_local();
    let minute = local.hour() * 60 + local.minute();
    let weekday = local.weekday().num_days_from_monday() as usize;
    !bench.away.contains(&local.date())
        && bench.hours[weekday]
            .iter()
            .any(|span| span.open <= minute && minute < span.close)
}

/// Whether the wall clock shows the same time again within three hours either way.
fn comes_twice(zone: Tz, moment: DateTime<Utc>) -> bool {
    let wall = |moment: DateTime<Utc>| moment.with_timezone(&zone).naive_local();
    let shown = wall(moment);
    // Changes of half an hour (Lord Howe) and of an hour are in use.
    [-60, -30, 30, 60]
        .into_iter()
        .any(|minutes| wall(moment + TimeDelta::minutes(minutes)) == shown)
}

/// Hours of one weekday: some marks of a day, in pairs.
fn any_day() -> impl Strategy<Value = Vec<DaySpan>> {
    let quarter_hours = proptest::collection::btree_set(0u32..=96, 0..=6);
    // Marks near the hours at which clocks change, so that edges often fall on the skipped or doubled ones.
    let near_changes = proptest::collection::btree_set(0u32..=240, 0..=4);
    (quarter_hours, near_changes).prop_map(|(quarters, near)| {
        let marks: BTreeSet<u32> = quarters.iter().map(|q| q * 15).chain(near).collect();
        let marks: Vec<u32> = marks.into_iter().collect();
        marks
            .chunks_exact(2)
            .map(|pair| DaySpan {
                open: pair[0],
                close: pair[1],
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn the_calendar_agrees_with_the_wall_clock_minute_by_minute_for_a_year(
        zone in prop::sample::select(vec![
            Europe::Oslo,
            America::New_York,
            America::Havana,      // changes at midnight
            Australia::Lord_Howe, // changes by half an hour, in the other half of the year
            chrono_tz::Asia::Kathmandu, // 45 minutes off the hour, never changes
        ]),
        week in proptest::array::uniform7(any_day()),
        away in proptest::collection::btree_set(0u64..366, 0..12),
        start_minute in 0i64..1440,
    ) {
        let mut bench = bench(0..=6, &[]);
        bench.hours = week;
        bench.away = away.into_iter().map(|day| date("2027-01-01") + Days::new(day)).collect();
        let midnight = date("2027-01-01").and_time(NaiveTime::MIN).and_utc();
        let start = midnight + TimeDelta::minutes(start_minute);
        let calendar = Calendar::build(start, zone, &bench, std::iter::empty());

        let mut next = None;
        for minute in (0..366 * DAY).rev() {
            let moment = calendar.moment(minute);
            let present = calendar.next_presence(minute) == Some(minute);
            let expected = wall_clock_says_present(zone, &bench, moment);
            if present != expected {
                // The policy's only deviation: a span with an edge in a doubled hour is open through all of it.
                prop_assert!(
                    present && comes_twice(zone, moment),
                    "minute {minute}, {}: {present}, the wall clock says {expected}",
                    moment.with_timezone(&zone)
                );
            }
            if present {
                next = Some(minute);
            }
            // `next` is None until the last minute of presence in the year is passed, going backwards.
            if next.is_some() {
                prop_assert_eq!(calendar.next_presence(minute), next);
            }
            let index = calendar.window_at_or_after(minute);
            let closes_after = |i: usize| calendar.windows().get(i).is_none_or(|w| w.close > minute);
            prop_assert!(closes_after(index) && (index == 0 || !closes_after(index - 1)));
        }
    }
}
