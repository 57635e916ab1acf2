//! Rules about the hours at the bench.
//!
//! Knows: hours, away dates, the time that a setup takes. Must not know: windows of a calendar, parts.
//! Promises: hours that pass run forward, apart, and come about.

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

/// The stretches of a week without away dates, each with its first minute and how many it has; spans that touch are one,
/// also over midnight. Where somebody is always there, one without end.
fn stretches(hours: &[WrittenSpan]) -> Vec<(u32, u32)> {
    let mut present = vec![false; WEEK as usize];
    for written in hours {
        let day = written.day as u32 * DAY;
        for minute in day + written.span.open..day + written.span.close {
            present[minute as usize] = true; // the last day is 6 and the last minute of a day 1439
        }
    }
    // From a minute without anybody once round, so that Sunday night runs on into Monday morning.
    let Some(absent) = present.iter().position(|present| !present) else {
        return vec![(0, u32::MAX)];
    };
    let mut stretches: Vec<(u32, u32)> = Vec::new();
    let mut before = false;
    for minute in (absent..present.len()).chain(0..absent) {
        match stretches.last_mut() {
            Some((_, length)) if present[minute] && before => *length += 1,
            _ if present[minute] => stretches.push((minute as u32, 1)),
            _ => {}
        }
        before = present[minute];
    }
    stretches
}

/// A stretch in words: `sat 10:00-16:00`.
fn stretch_shown((from, length): (u32, u32)) -> String {
    const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
    let until = match (from + length) % DAY {
        0 => DAY,
        minute => minute,
    };
    let day = DAYS[(from / DAY) as usize]; // a minute of the week
    format!("{day} {}-{}", clock(from % DAY), clock(until))
}

/// A setup lies in one stretch of bench hours, so one that is longer than every stretch never happens.
pub(super) fn a_setup_fits_into_the_hours(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(hours) = facts.raw.bench.hours.as_ref() else {
        return;
    };
    if hours.value.is_empty() {
        return;
    }
    let stretches = stretches(&hours.value);
    let seconds = |&(_, minutes): &(u32, u32)| f64::from(minutes) * 60.0;
    let stretch = stretches.iter().map(seconds).fold(0.0, f64::max);
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
            continue;
        }
        let setup = turnaround.value + swap.value;
        let mut fitting = stretches.iter().filter(|stretch| setup <= seconds(stretch));
        if let (Some(only), None) = (fitting.next(), fitting.next())
            && stretches.len() > 1
        {
            collector.warn(
                swap.spot,
                &format!("{}.swap", machine.path),
                "fits, with the turnaround, only one stretch of bench hours in the week, so the filament is changed at most once a week",
                &format!("{} min", setup / 60.0),
                format!(
                    "the one is {}: lengthen another stretch of `bench.hours`, or split the work",
                    stretch_shown(*only)
                ),
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

    fn longest_stretch(hours: &[WrittenSpan]) -> u32 {
        let lengths = stretches(hours).into_iter().map(|(_, length)| length);
        lengths.max().unwrap_or(0)
    }

    #[test]
    fn a_stretch_is_named_by_its_first_day() {
        let joined = stretches(&week(&[(6, 20, 24), (0, 0, 3), (2, 8, 24)]));
        let shown: Vec<String> = joined.into_iter().map(stretch_shown).collect();
        assert_eq!(shown, ["wed 08:00-24:00", "sun 20:00-03:00"]);
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
