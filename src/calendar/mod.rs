//! Turns bench hours, away dates and machine outages into windows of time.
//!
//! Knows: the bench, the outages, IANA time zones. Must not know: parts, plates, prices, files.
//! Promises: windows are half-open `[open, close)`, sorted, disjoint, never touching, never empty.
//! Does not choose which run uses a window (`search`) nor show local time (`report`).

use chrono::{DateTime, Utc};

use crate::scenario::{MachineIndex, Scenario};

/// Minutes since the build's start, counted in UTC; the planner's clock.
pub type Minute = i32;

/// A half-open span `[open, close)` of minutes since the build's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Window {
    /// First minute inside.
    pub open: Minute,
    /// First minute after.
    pub close: Minute,
}

/// The dated hours of a scenario.
#[derive(Clone, Debug)]
pub struct Calendar {
    origin: DateTime<Utc>,
    windows: Vec<Window>,
    /// For each hour since the origin, the first window that closes after that hour's first minute.
    by_hour: Vec<u32>,
    outages: Vec<Vec<Window>>,
}

impl Calendar {
    /// The calendar of a scenario, from the build's start for `years`.
    pub fn new(_scenario: &Scenario) -> Self {
        todo!()
    }

    /// The minute that holds a moment (rounded down).
    pub fn minute(&self, moment: DateTime<Utc>) -> Minute {
        (moment - self.origin).num_minutes() as Minute
    }

    /// The moment at which a minute begins.
    pub fn moment(&self, minute: Minute) -> DateTime<Utc> {
        self.origin + chrono::Duration::minutes(i64::from(minute))
    }

    /// All bench windows from the build's start to the horizon.
    pub fn windows(&self) -> &[Window] {
        &self.windows
    }

    /// Index of the first window that closes after `minute`; the number of windows if there is none.
    pub fn window_at_or_after(&self, _minute: Minute) -> usize {
        let _ = &self.by_hour;
        todo!()
    }

    /// First minute at or after `minute` at which somebody is there; `None` past the horizon.
    pub fn next_presence(&self, _minute: Minute) -> Option<Minute> {
        todo!()
    }

    /// The spans in which a machine is out of use: sorted, disjoint.
    pub fn outages(&self, machine: MachineIndex) -> &[Window] {
        &self.outages[machine.0]
    }
}
