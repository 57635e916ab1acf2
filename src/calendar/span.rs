//! Spans of whole minutes: made tidy, and found fast.
//!
//! Knows: minutes. Must not know: clocks, zones, what a span stands for.
//! Promises: what [`tidy`] returns is sorted, disjoint, never touching, never empty, and begins at 0 or later.

/// Minutes since the build's start, counted in UTC; the planner's clock.
pub type Minute = i32;

/// Minutes in an hour.
pub(super) const HOUR: Minute = 60;

/// A half-open span `[open, close)` of minutes since the build's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Window {
    /// First minute inside.
    pub open: Minute,
    /// First minute after.
    pub close: Minute,
}

impl Window {
    /// Minutes inside.
    pub fn length(self) -> Minute {
        self.close - self.open
    }
}

/// Cuts spans off at 0, drops empty ones, sorts them and makes one of those that touch or overlap.
pub(super) fn tidy(spans: impl Iterator<Item = Window>) -> Vec<Window> {
    let mut spans: Vec<Window> = spans
        .map(|span| Window {
            open: span.open.max(0),
            close: span.close,
        })
        .filter(|span| span.open < span.close)
        .collect();
    spans.sort_unstable();
    let mut tidy: Vec<Window> = Vec::with_capacity(spans.len());
    for span in spans {
        match tidy.last_mut() {
            Some(last) if span.open <= last.close => last.close = last.close.max(span.close),
            _ => tidy.push(span),
        }
    }
    debug_assert!(is_tidy(&tidy), "spans overlap, touch or are empty");
    tidy
}

/// Whether spans are sorted, disjoint, never touching, never empty, and none begins before 0.
fn is_tidy(spans: &[Window]) -> bool {
    spans
        .iter()
        .all(|span| 0 <= span.open && span.open < span.close)
        && spans.windows(2).all(|pair| pair[0].close < pair[1].open)
}

/// For each hour, the index of the first of the tidy `spans` that closes after the hour's first minute; as far as the
/// last span reaches.
pub(super) fn first_by_hour(spans: &[Window]) -> Vec<u32> {
    let end = spans.last().map_or(0, |last| last.close);
    let mut index = 0;
    (0..end)
        .step_by(HOUR as usize)
        .map(|minute| {
            // Ends at the last span at the latest: it closes at `end`, which is after every minute here.
            while spans[index].close <= minute {
                index += 1;
            }
            index as u32
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(open: Minute, close: Minute) -> Window {
        Window { open, close }
    }

    #[test]
    fn spans_that_touch_or_overlap_become_one() {
        let spans = [
            window(60, 90),
            window(10, 20),
            window(20, 30),
            window(80, 100),
            window(65, 70),
        ];
        assert_eq!(tidy(spans.into_iter()), [window(10, 30), window(60, 100)]);
    }

    #[test]
    fn spans_before_zero_are_cut_off_and_empty_ones_dropped() {
        let spans = [window(-50, -10), window(-5, 5), window(7, 7), window(9, 8)];
        assert_eq!(tidy(spans.into_iter()), [window(0, 5)]);
    }

    #[test]
    fn each_hour_knows_the_first_span_that_closes_after_its_first_minute() {
        // Minute 0: the first span closes at 60, after 0. Minute 60: 60 is not after 60, so the second.
        // Minute 120: the second closes at 121. The last span ends at 121, so no further hour is asked for.
        let spans = [window(10, 60), window(70, 121)];
        assert_eq!(first_by_hour(&spans), [0, 1, 1]);
        assert!(first_by_hour(&[]).is_empty());
    }
}
