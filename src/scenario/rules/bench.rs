//! Rules about the hours at the bench.

use chrono::{Datelike, Days};

use super::Facts;
use crate::scenario::collector::{At, Collector};
use crate::scenario::kinds::{WrittenSpan, clock};

const DAY: u32 = 24 * 60;
const WEEK: u32 = 7 * DAY;

fn shown(written: &WrittenSpan) -> String {
    format!("{}-{}", clock(written.span.open), clock(written.span.close))
}

/// Spans of one day may touch, but not overlap.
pub(super) fn spans_do_not_overlap(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(hours) = facts.raw.bench.hours.as_ref() else {
        return;
    };
    let mut spans = hours.value.clone();
    spans.sort_by_key(|written| (written.day, written.span));
    for pair in spans.windows(2) {
        let [before, after] = pair else { continue };
        if before.day == after.day && after.span.open < before.span.close {
            let (first, second) = if before.spot < after.spot {
                (before, after)
            } else {
                (after, before)
            };
            collector.error(
                second.spot,
                "bench.hours",
                format!("overlaps \"{}\" on the same day", shown(first)),
                &shown(second),
                "make one span of the two, or let one end before the other begins",
            );
        }
    }
}

/// In the first year there is a day with hours that is not away.
pub(super) fn somebody_is_there_sometimes(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(At { value: hours, spot }) = facts.raw.bench.hours.as_ref() else {
        return;
    };
    let example = "write for example `hours: {mon-fri: [\"17:30-22:30\"]}`";
    if hours.is_empty() {
        let rule = "nobody is ever there to set up a machine";
        collector.error(*spot, "bench.hours", rule, "no hours", example);
        return;
    }
    let (Some(start), Some(away)) = (
        facts.raw.build.start.as_ref(),
        facts.raw.bench.away.as_ref(),
    ) else {
        return;
    };
    let present = (0..366)
        .filter_map(|days| start.value.date().checked_add_days(Days::new(days)))
        .filter(|date| !away.value.contains(date))
        .any(|date| {
            let day = date.weekday().num_days_from_monday() as usize;
            hours.iter().any(|written| written.day == day)
        });
    if !present {
        collector.error(
            away.spot,
            "bench.away",
            "leaves no bench hours in the year after the build's start",
            &format!("{} days away", away.value.len()),
            "leave out some of the days, or add bench hours",
        );
    }
}

/// The longest stretch of a week without away dates, in minutes; spans that touch are one, also over midnight.
fn longest_stretch(hours: &[WrittenSpan]) -> u32 {
    let mut present = vec![false; WEEK as usize];
    for written in hours {
        let day = written.day as u32 * DAY;
        for minute in day + written.span.open..day + written.span.close {
            present[minute as usize] = true; // the last day is 6 and the last minute of a day 1439
        }
    }
    if present.iter().all(|present| *present) {
        return u32::MAX;
    }
    // Twice round, so that Sunday night runs on into Monday morning.
    let mut longest = 0;
    let mut stretch = 0;
    for present in present.iter().chain(&present) {
        stretch = if *present { stretch + 1 } else { 0 };
        longest = longest.max(stretch);
    }
    longest
}

/// A setup lies in one stretch of bench hours, so one that is longer than every stretch never happens.
pub(super) fn a_setup_fits_into_the_hours(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(hours) = facts.raw.bench.hours.as_ref() else {
        return;
    };
    if hours.value.is_empty() {
        return;
    }
    let stretch = f64::from(longest_stretch(&hours.value)) * 60.0;
    for machine in &facts.raw.machines {
        let (Some(turnaround), Some(swap)) = (machine.turnaround.as_ref(), machine.swap.as_ref())
        else {
            continue;
        };
        let fix = format!(
            "the longest stretch is {} min: lengthen `bench.hours`, or split the work",
            stretch / 60.0
        );
        if turnaround.value > stretch {
            collector.error(
                turnaround.spot,
                &format!("{}.turnaround", machine.path),
                "is longer than every stretch of bench hours, so the machine is never set up",
                &format!("{} min", turnaround.value / 60.0),
                fix,
            );
        } else if turnaround.value + swap.value > stretch {
            collector.warn(
                swap.spot,
                &format!("{}.swap", machine.path),
                "is, with the turnaround, longer than every stretch of bench hours, so the filament is never changed",
                &format!("{} min", (turnaround.value + swap.value) / 60.0),
                fix,
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::collector::{FileIndex, Spot};
    use crate::scenario::model::DaySpan;

    fn week(spans: &[(usize, u32, u32)]) -> Vec<WrittenSpan> {
        let file: FileIndex = Collector::default().add_file("hours", "".into());
        let spot = Spot::whole(file);
        let span = |(day, open, close): &(usize, u32, u32)| WrittenSpan {
            day: *day,
            span: DaySpan {
                open: open * 60,
                close: close * 60,
            },
            spot,
        };
        spans.iter().map(span).collect()
    }

    #[test]
    fn stretches_join_over_midnight_and_over_the_end_of_the_week() {
        assert_eq!(longest_stretch(&week(&[(0, 8, 10), (1, 8, 11)])), 180);
        // Monday 22:00 to Tuesday 06:00 is eight hours.
        assert_eq!(longest_stretch(&week(&[(0, 22, 24), (1, 0, 6)])), 480);
        // Sunday 20:00 to Monday 03:00 is seven.
        assert_eq!(longest_stretch(&week(&[(6, 20, 24), (0, 0, 3)])), 420);
        let always: Vec<_> = (0..7).map(|day| (day, 0, 24)).collect();
        assert_eq!(longest_stretch(&week(&always)), u32::MAX);
    }
}
