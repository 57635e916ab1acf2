//! Minutes with somebody at the bench, counted forward and backward.
//!
//! Knows: bench windows. Must not know: who does what in them.
//! Promises: [`Presence::earliest_end`] and [`Presence::latest_start`] are exact for work that may be interrupted between windows.

use crate::calendar::{Minute, Window};

/// Bench windows with the minutes present before each.
#[derive(Clone, Debug)]
pub(super) struct Presence {
    windows: Vec<Window>,
    /// Minutes present before each window opens; one entry more than windows.
    before: Vec<i64>,
}

impl Presence {
    /// From windows that are sorted and disjoint.
    pub(super) fn new(windows: &[Window]) -> Self {
        let mut before = vec![0];
        let mut total = 0;
        for window in windows {
            total += i64::from(window.close - window.open);
            before.push(total);
        }
        Self {
            windows: windows.to_vec(),
            before,
        }
    }

    pub(super) fn windows(&self) -> &[Window] {
        &self.windows
    }

    /// First minute after the last window; 0 if nobody ever comes.
    pub(super) fn end(&self) -> Minute {
        self.windows.last().map_or(0, |window| window.close)
    }

    /// Minutes present before `minute`.
    pub(super) fn until(&self, minute: Minute) -> i64 {
        let opened = self.windows.partition_point(|window| window.open < minute);
        match opened
            .checked_sub(1)
            .map(|index| (index, self.windows[index]))
        {
            None => 0,
            Some((index, window)) => {
                self.before[index] + i64::from(minute.min(window.close) - window.open)
            }
        }
    }

    /// The earliest end of so many minutes of work that begins no earlier than `start`; `None` past the last window.
    /// No work ends when it could begin, whether anybody is there or not.
    pub(super) fn earliest_end(&self, start: Minute, minutes: i64) -> Option<Minute> {
        if minutes == 0 {
            return Some(start);
        }
        let wanted = self.until(start) + minutes;
        // The first window by whose close so much has been worked.
        let index = self.before[1..].partition_point(|&total| total < wanted);
        let window = self.windows.get(index)?;
        Minute::try_from(i64::from(window.open) + wanted - self.before[index]).ok()
    }

    /// The latest start of so many minutes of work that ends no later than `end`; `None` if there is not so much time before.
    pub(super) fn latest_start(&self, end: Minute, minutes: i64) -> Option<Minute> {
        if minutes == 0 {
            return Some(end);
        }
        let left = self.until(end) - minutes;
        // The last window before whose opening no more than that has been worked: work begins inside it.
        let index = self
            .before
            .partition_point(|&total| total <= left)
            .checked_sub(1)?;
        let window = self.windows.get(index)?;
        Minute::try_from(i64::from(window.open) + left - self.before[index]).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn presence() -> Presence {
        // 60 min from 100, 30 min from 200.
        Presence::new(&[
            Window {
                open: 100,
                close: 160,
            },
            Window {
                open: 200,
                close: 230,
            },
        ])
    }

    #[test]
    fn work_is_interrupted_between_windows() {
        // 70 min from 0: 60 in the first window, 10 in the second.
        assert_eq!(presence().earliest_end(0, 70), Some(210));
        assert_eq!(presence().earliest_end(0, 60), Some(160));
        assert_eq!(presence().earliest_end(150, 10), Some(160));
        assert_eq!(presence().earliest_end(150, 11), Some(201));
        assert_eq!(presence().earliest_end(0, 91), None);
        assert_eq!(presence().earliest_end(180, 0), Some(180));
    }

    #[test]
    fn work_before_a_date_begins_as_late_as_it_can() {
        // Ending by 230: 30 min begin at 200, 31 at 159; ending by 190 (nobody there): 10 min begin at 150.
        assert_eq!(presence().latest_start(230, 30), Some(200));
        assert_eq!(presence().latest_start(230, 31), Some(159));
        assert_eq!(presence().latest_start(190, 10), Some(150));
        assert_eq!(presence().latest_start(230, 90), Some(100));
        assert_eq!(presence().latest_start(230, 91), None);
        assert_eq!(presence().latest_start(50, 0), Some(50));
    }

    proptest! {
        #[test]
        fn counted_minute_by_minute_it_is_the_same(
            gaps in prop::collection::vec((1i32..30, 1i32..30), 1..6), from in 0i32..150, minutes in 1i64..60,
        ) {
            let mut at = 0;
            let windows: Vec<Window> = gaps.iter().map(|&(gap, length)| {
                let open = at + gap;
                at = open + length;
                Window { open, close: at }
            }).collect();
            let presence = Presence::new(&windows);
            let there = |minute: i32| windows.iter().any(|w| w.open <= minute && minute < w.close);
            let slow_until = (0..from).filter(|&minute| there(minute)).count() as i64;
            prop_assert_eq!(presence.until(from), slow_until);
            let slow_end = (from..at).filter(|&minute| there(minute)).nth(minutes as usize - 1).map(|last| last + 1);
            prop_assert_eq!(presence.earliest_end(from, minutes), slow_end);
            let slow_start = (0..from).rev().filter(|&minute| there(minute)).nth(minutes as usize - 1);
            prop_assert_eq!(presence.latest_start(from, minutes), slow_start);
        }
    }
}
