//! Minute by minute since the build's start: is somebody there?

use beamyard::scenario::Scenario;
use chrono::{DateTime, Datelike, TimeDelta, Timelike, Utc};

/// Minutes since the build's start.
pub type Minute = i64;

/// Days that are looked at; queues that take longer are not found.
const DAYS: i64 = 25;

/// Who is there when.
pub struct Clock {
    start: DateTime<Utc>,
    /// For each minute, until when somebody is there without a break; the minute itself if nobody is.
    until: Vec<Minute>,
}

impl Clock {
    pub fn of(shop: &Scenario) -> Self {
        let start = shop.build.start;
        let there = |minute: Minute| {
            // A minute is inside bench hours if the clock on the wall shows a time inside them: whatever the clock
            // does at night, this neither loses nor doubles one.
            let local = (start + TimeDelta::minutes(minute)).with_timezone(&shop.build.zone);
            let shown = local.hour() * 60 + local.minute();
            let day = local.weekday().num_days_from_monday() as usize;
            !shop.bench.away.contains(&local.date_naive())
                && shop.bench.hours[day]
                    .iter()
                    .any(|span| span.open <= shown && shown < span.close)
        };
        let minutes = DAYS * 1440;
        let mut until: Vec<Minute> = (0..minutes).collect();
        for minute in (0..minutes).rev() {
            if there(minute) {
                let next = until.get(minute as usize + 1).copied();
                until[minute as usize] = next.unwrap_or(minute + 1).max(minute + 1);
            }
        }
        Self { start, until }
    }

    /// Minutes from the start to a moment; moments of a scenario are whole minutes.
    pub fn minute(&self, moment: DateTime<Utc>) -> Minute {
        (moment - self.start).num_minutes()
    }

    /// The last minute that is looked at, and one more.
    pub fn end(&self) -> Minute {
        self.until.len() as Minute
    }

    /// Until when somebody is there without a break from a minute on; that minute if nobody is.
    pub fn until(&self, minute: Minute) -> Minute {
        self.until.get(minute as usize).copied().unwrap_or(minute)
    }

    /// The first minute from one on at which somebody is there.
    pub fn next(&self, minute: Minute) -> Option<Minute> {
        (minute..self.end()).find(|&at| self.until(at) > at)
    }
}
