//! Turns bench hours, away dates and machine outages into windows of time.
//!
//! Knows: the bench, the outages, IANA time zones. Must not know: parts, plates, prices, files.
//! Promises: windows are half-open `[open, close)`, sorted, disjoint, never touching, never empty, and none begins
//! before the build's start; so are the outages of each machine.
//! Does not choose which run uses a window (`search`) nor show local time (`report`).

mod local;
mod span;

use chrono::{DateTime, Days, Months, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;

use crate::scenario::{Bench, FilamentIndex, MachineIndex, Outage, Scenario};
use crate::units::Minutes;

pub use local::{Edge, to_utc};
pub use span::{Minute, Window};

/// How far ahead the bench's hours are laid out; no build that anybody plans takes longer.
pub const HORIZON_YEARS: u32 = 12;

/// Spans are cut to this many minutes, some thousand years: three of them and a date still fit a [`Minute`], and nothing so
/// long ends before the horizon.
pub const LONGEST_SPAN: Minute = Minute::MAX / 4;

/// A span on the planner's clock.
pub fn clock_minutes(span: Minutes) -> Minute {
    // The clamp makes the cast exact.
    span.0.clamp(0, i64::from(LONGEST_SPAN)) as Minute
}

/// The dated hours of a scenario.
#[derive(Clone, Debug)]
pub struct Calendar {
    origin: DateTime<Utc>,
    windows: Vec<Window>,
    /// For each hour since the origin, the first window that closes after that hour's first minute; so a query walks
    /// over the few windows of one hour, not over years.
    by_hour: Vec<u32>,
    outages: Vec<Vec<Window>>,
}

impl Calendar {
    /// The calendar of a scenario, from the build's start for [`HORIZON_YEARS`].
    pub fn new(scenario: &Scenario) -> Self {
        Self::build(
            scenario.build.start,
            scenario.build.zone,
            &scenario.bench,
            scenario.machines.iter().map(|machine| &machine.offline[..]),
        )
    }

    fn build<'a>(
        origin: DateTime<Utc>,
        zone: Tz,
        bench: &Bench,
        offline: impl Iterator<Item = &'a [Outage]>,
    ) -> Self {
        let windows = bench_windows(origin, zone, bench);
        let outages = offline
            .map(|spans| {
                let rounded = spans.iter().map(|outage| Window {
                    open: minute_down(origin, outage.from),
                    close: minute_up(origin, outage.to),
                });
                span::tidy(rounded)
            })
            .collect();
        Self {
            origin,
            by_hour: span::first_by_hour(&windows),
            windows,
            outages,
        }
    }

    /// The minute that holds a moment (rounded down). Negative before the build's start.
    pub fn minute(&self, moment: DateTime<Utc>) -> Minute {
        minute_down(self.origin, moment)
    }

    /// The first minute that begins no earlier than a moment (rounded up).
    pub fn minute_from(&self, moment: DateTime<Utc>) -> Minute {
        minute_up(self.origin, moment)
    }

    /// The moment at which a minute begins.
    pub fn moment(&self, minute: Minute) -> DateTime<Utc> {
        self.origin
            .checked_add_signed(TimeDelta::minutes(i64::from(minute)))
            .unwrap_or(DateTime::<Utc>::MAX_UTC)
    }

    /// All bench windows from the build's start to the horizon.
    pub fn windows(&self) -> &[Window] {
        &self.windows
    }

    /// Index of the first window that closes after `minute`; the number of windows if there is none.
    pub fn window_at_or_after(&self, minute: Minute) -> usize {
        let hour = usize::try_from(minute / span::HOUR).unwrap_or(0);
        let Some(&first) = self.by_hour.get(hour) else {
            return self.windows.len();
        };
        let mut index = first as usize;
        while self
            .windows
            .get(index)
            .is_some_and(|window| window.close <= minute)
        {
            index += 1;
        }
        index
    }

    /// First minute at or after `minute` at which somebody is there; `None` past the horizon.
    pub fn next_presence(&self, minute: Minute) -> Option<Minute> {
        let window = self.windows.get(self.window_at_or_after(minute))?;
        Some(window.open.max(minute))
    }

    /// Until when runs are firm for whoever plans at a minute: for so long; `None`: until the end of the next bench window.
    pub fn firm_until(&self, minute: Minute, firm: Option<Minutes>) -> Minute {
        match firm {
            Some(firm) => minute.saturating_add(clock_minutes(firm)),
            None => {
                let next = self.windows.get(self.window_at_or_after(minute));
                next.map_or(minute, |window| window.close)
            }
        }
    }

    /// Whether somebody is there from `start` to `end`: both lie in one bench window.
    pub fn attended(&self, start: Minute, end: Minute) -> bool {
        self.windows
            .get(self.window_at_or_after(start))
            .is_some_and(|window| window.open <= start && end <= window.close)
    }

    /// The spans in which a machine is out of use: sorted, disjoint.
    pub fn outages(&self, machine: MachineIndex) -> &[Window] {
        &self.outages[machine.0]
    }
}

/// Bench windows from `origin` to the horizon.
fn bench_windows(origin: DateTime<Utc>, zone: Tz, bench: &Bench) -> Vec<Window> {
    // A local date is at most one day from the date in UTC, so the day before the latter is early enough.
    let first = origin.date_naive();
    let first = first.checked_sub_days(Days::new(1)).unwrap_or(first);
    let last = first
        .checked_add_months(Months::new(12 * HORIZON_YEARS))
        .unwrap_or(NaiveDate::MAX);
    let spans = first
        .iter_days()
        .take_while(|&date| date < last)
        .filter(|date| !bench.away.contains(date))
        .flat_map(|date| {
            let weekday = chrono::Datelike::weekday(&date).num_days_from_monday() as usize;
            bench.hours[weekday].iter().filter_map(move |hours| {
                let open = to_utc(zone, on(date, hours.open)?, Edge::Opening);
                let close = to_utc(zone, on(date, hours.close)?, Edge::Closing);
                Some(Window {
                    open: minute_up(origin, open),
                    close: minute_down(origin, close),
                })
            })
        });
    span::tidy(spans)
}

/// The local time so many minutes after a date's midnight by the wall clock; 1440 is the next date's midnight.
fn on(date: NaiveDate, minutes: u32) -> Option<NaiveDateTime> {
    date.and_time(NaiveTime::MIN)
        .checked_add_signed(TimeDelta::minutes(i64::from(minutes)))
}

/// The first whole minute that is not before a moment.
pub fn minute_after(moment: DateTime<Utc>) -> DateTime<Utc> {
    let over = moment.timestamp().rem_euclid(60);
    let nanos = i64::from(moment.timestamp_subsec_nanos());
    if over == 0 && nanos == 0 {
        return moment;
    }
    let up = TimeDelta::seconds(60 - over) - TimeDelta::nanoseconds(nanos);
    moment.checked_add_signed(up).unwrap_or(moment)
}

/// Whole minutes from `origin` to `moment`, rounded down; held within what a [`Minute`] can say.
fn minute_down(origin: DateTime<Utc>, moment: DateTime<Utc>) -> Minute {
    let elapsed = moment - origin;
    // `num_seconds` rounds towards zero; below zero a fraction of a second belongs to the second before.
    let seconds = elapsed.num_seconds() - i64::from(elapsed.subsec_nanos() < 0);
    let minutes = seconds.div_euclid(60);
    let bounded = minutes.clamp(i64::from(Minute::MIN), i64::from(Minute::MAX));
    Minute::try_from(bounded).unwrap_or(Minute::MAX) // just clamped to the range
}

/// Whole minutes from `origin` to `moment`, rounded up.
fn minute_up(origin: DateTime<Utc>, moment: DateTime<Utc>) -> Minute {
    let down = minute_down(origin, moment);
    let begun = origin.checked_add_signed(TimeDelta::minutes(i64::from(down)));
    if begun.is_some_and(|begun| begun < moment) {
        down.saturating_add(1)
    } else {
        down
    }
}

/// When an order of a filament that is out by the end of a local date has come: as long after that as delivery takes. The one place
/// that decides it.
pub fn delivered(
    scenario: &Scenario,
    filament: FilamentIndex,
    date: NaiveDate,
) -> Option<DateTime<Utc>> {
    let midnight = date
        .checked_add_days(Days::new(1))?
        .and_time(NaiveTime::MIN);
    let sent = to_utc(scenario.build.zone, midnight, Edge::Opening);
    let lead = TimeDelta::minutes(scenario.filaments[filament.0].lead.value());
    sent.checked_add_signed(lead)
}

#[cfg(test)]
mod tests;
