//! When the build starts and when somebody is at the bench: ordinary weeks, odd ones, and both changes of the clock.

use beamyard::scenario::{DaySpan, Hands};
use chrono::{DateTime, Utc};
use chrono_tz::{Europe, Tz};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

/// A week at the bench, and the days from the start on which nobody is there.
#[derive(Clone, Debug)]
pub struct Hours {
    pub kind: Week,
    pub away: Vec<u64>,
}

/// Kinds of week.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Week {
    /// An hour before work, the evening after it, all day at weekends.
    BeforeAndAfterWork,
    /// Weekdays, in two spans that touch.
    Office,
    /// Every day from midnight to midnight, so that all windows are one.
    Always,
    /// Every evening into the night, over midnight.
    OverMidnight,
    /// Every night from one to four, when the clock changes.
    SmallHours,
    /// Saturdays only.
    Saturdays,
    /// A quarter of an hour at noon: too short for some setups.
    Noon,
}

pub fn hours() -> impl Strategy<Value = Hours> {
    let kind = prop_oneof![
        6 => Just(Week::BeforeAndAfterWork),
        3 => Just(Week::Office),
        2 => Just(Week::Always),
        2 => Just(Week::OverMidnight),
        2 => Just(Week::SmallHours),
        1 => Just(Week::Saturdays),
        1 => Just(Week::Noon),
    ];
    (kind, vec(0..6u64, 0..=2)).prop_map(|(kind, away)| Hours { kind, away })
}

pub fn hands() -> impl Strategy<Value = Hands> {
    select(vec![
        Hands::Count(1),
        Hands::Count(1),
        Hands::Count(2),
        Hands::Unlimited,
    ])
}

impl Hours {
    /// Spans by weekday, Monday first.
    pub fn week(&self) -> [Vec<DaySpan>; 7] {
        let span = |open: u32, close: u32| DaySpan {
            open: open * 15,
            close: close * 15,
        };
        // In quarters of an hour.
        std::array::from_fn(|day| match (self.kind, day) {
            (Week::BeforeAndAfterWork, 0..5) => vec![span(28, 32), span(70, 88)],
            (Week::BeforeAndAfterWork, _) => vec![span(36, 80)],
            (Week::Office, 0..5) => vec![span(32, 48), span(48, 66)],
            (Week::Office, _) => Vec::new(),
            (Week::Always, _) => vec![span(0, 96)],
            (Week::OverMidnight, _) => vec![span(0, 4), span(84, 96)],
            (Week::SmallHours, _) => vec![span(4, 16)],
            (Week::Saturdays, 5) => vec![span(36, 60)],
            (Week::Saturdays, _) => Vec::new(),
            (Week::Noon, _) => vec![span(48, 49)],
        })
    }
}

/// When the build starts; all in Oslo.
#[derive(Clone, Copy, Debug)]
pub struct Start(&'static str);

/// A Monday morning, before the bench opens; in the middle of an evening; the day before each change of the clock.
const STARTS: [&str; 4] = [
    "2027-01-11T06:00:00+01:00",
    "2027-01-13T18:10:00+01:00",
    "2027-03-27T13:00:00+01:00",
    "2027-10-30T13:00:00+02:00",
];

pub fn start() -> impl Strategy<Value = Start> {
    select(STARTS.to_vec()).prop_map(Start)
}

impl Start {
    pub fn moment(self) -> DateTime<Utc> {
        self.0.parse().expect("written as RFC 3339 above")
    }

    pub fn zone(self) -> Tz {
        Europe::Oslo
    }
}
