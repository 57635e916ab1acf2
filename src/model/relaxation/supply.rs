//! How many minutes machines can be at work by a date, at most.
//!
//! Knows: bench windows, outages, whether a machine runs alone. Must not know: pieces, money, assemblies.
//! Promises: [`Supply::by`] is never less than what any queue of runs, setups counted, can use by that minute.

use crate::calendar::{Minute, Window};

use super::presence::Presence;

/// How a machine depends on people.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Attendance {
    /// Every run lies inside a window.
    Always,
    /// A setup lies inside a window; then the run goes on alone, no longer than so many minutes.
    AtSetups { longest_run: f64 },
    /// After one setup, runs follow each other alone.
    AtFirstSetup,
}

/// Minutes of work that machines together can do by a date; piecewise linear, rising.
#[derive(Clone, Debug)]
pub(super) struct Supply {
    /// Date and minutes by then, at every change of slope.
    points: Vec<(f64, f64)>,
    /// Machines, that is, the slope after the last point.
    machines: f64,
}

/// `minutes by t ≤ slope · t + offset` for all t.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    pub(super) slope: f64,
    pub(super) offset: f64,
}

impl Supply {
    /// Several machines together: for each kind of attendance and outages, how many machines have it.
    pub(super) fn new(presence: &Presence, machines: &[(Attendance, &[Window], usize)]) -> Self {
        let mut changes: Vec<(f64, f64)> = Vec::new();
        for &(attendance, outages, count) in machines {
            for (from, to) in usable(presence, attendance, outages) {
                changes.push((from, count as f64));
                changes.push((to, -(count as f64)));
            }
        }
        changes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let (mut points, mut slope, mut minutes, mut last) = (vec![(0.0, 0.0)], 0.0, 0.0, 0.0);
        for (at, change) in changes {
            if at > last {
                minutes += slope * (at - last);
                points.push((at, minutes));
                last = at;
            }
            slope += change;
        }
        Self {
            points,
            machines: machines.iter().map(|&(_, _, count)| count as f64).sum(),
        }
    }

    /// Minutes of hands by a date.
    pub(super) fn of_hands(presence: &Presence, hands: u32) -> Self {
        Self::new(presence, &[(Attendance::Always, &[], hands as usize)])
    }

    /// Minutes of work by a date, at most.
    pub(super) fn by(&self, minute: Minute) -> f64 {
        let at = f64::from(minute);
        let after = self.points.partition_point(|&(date, _)| date <= at);
        let Some(&(from, minutes)) = self.points[..after].last() else {
            return 0.0;
        };
        match self.points.get(after) {
            Some(&(to, later)) => minutes + (later - minutes) * (at - from) / (to - from),
            None => minutes + self.machines * (at - from),
        }
    }

    /// Straight lines above the supply, up to the last point, that touch it before `until`: at most `most` of them, edges of its
    /// concave hull.
    pub(super) fn lines(&self, until: f64, most: usize) -> Vec<Line> {
        let mut hull: Vec<(f64, f64)> = Vec::new();
        for &point in &self.points {
            while let [.., a, b] = hull[..] {
                // b lies on or below the line from a to the new point: it is no corner.
                if (b.1 - a.1) * (point.0 - a.0) > (point.1 - a.1) * (b.0 - a.0) {
                    break;
                }
                hull.pop();
            }
            hull.push(point);
        }
        let edges: Vec<Line> = hull
            .windows(2)
            .take_while(|edge| edge[0].0 < until)
            .map(|edge| {
                let slope = (edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0);
                Line {
                    slope,
                    offset: edge[0].1 - slope * edge[0].0,
                }
            })
            .collect();
        let step = edges.len().div_ceil(most.max(1)).max(1);
        // The last edge is the one that holds longest; the others are thinned out from there.
        let mut chosen: Vec<Line> = edges.into_iter().rev().step_by(step).collect();
        chosen.reverse();
        chosen
    }
}

/// The spans in which one machine can be set up or print.
fn usable(presence: &Presence, attendance: Attendance, outages: &[Window]) -> Vec<(f64, f64)> {
    let windows = presence.windows();
    let mut spans = Vec::with_capacity(2 * windows.len());
    for (index, window) in windows.iter().enumerate() {
        spans.extend(without(*window, outages));
        let next = windows.get(index + 1).map(|next| next.open);
        match (attendance, next) {
            (Attendance::Always, _) => {}
            // What prints while nobody is there was set up before: it is one run, which ends before the next outage.
            (Attendance::AtSetups { longest_run }, next) => {
                let gap = Window {
                    open: window.close,
                    close: next.unwrap_or(Minute::MAX),
                };
                if let Some((from, to)) = without(gap, outages)
                    .first()
                    .copied()
                    .filter(|span| span.0 <= f64::from(gap.open))
                {
                    spans.push((from, to.min(from + longest_run)));
                }
            }
            (Attendance::AtFirstSetup, Some(next)) => {
                spans.extend(without(
                    Window {
                        open: window.close,
                        close: next,
                    },
                    outages,
                ));
            }
            (Attendance::AtFirstSetup, None) => {}
        }
    }
    spans.retain(|(from, to)| from < to);
    spans
}

/// What outages leave of a span.
fn without(span: Window, outages: &[Window]) -> Vec<(f64, f64)> {
    let mut left = Vec::new();
    let mut from = span.open;
    let first = outages.partition_point(|outage| outage.close <= span.open);
    for outage in outages[first..]
        .iter()
        .take_while(|outage| outage.open < span.close)
    {
        if outage.open > from {
            left.push((f64::from(from), f64::from(outage.open)));
        }
        from = outage.close.max(from);
    }
    if from < span.close {
        left.push((f64::from(from), f64::from(span.close)));
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(open: Minute, close: Minute) -> Window {
        Window { open, close }
    }

    /// 100–160 and 400–460.
    fn presence() -> Presence {
        Presence::new(&[window(100, 160), window(400, 460)])
    }

    fn supply(attendance: Attendance, outages: &[Window]) -> Supply {
        Supply::new(&presence(), &[(attendance, outages, 1)])
    }

    #[test]
    fn nothing_is_done_before_the_first_window() {
        for attendance in [
            Attendance::Always,
            Attendance::AtFirstSetup,
            Attendance::AtSetups { longest_run: 50.0 },
        ] {
            assert_eq!(supply(attendance, &[]).by(100), 0.0);
            assert_eq!(supply(attendance, &[]).by(130), 30.0);
        }
    }

    #[test]
    fn an_attended_machine_works_in_windows_only() {
        // 60 + half of the second window.
        assert_eq!(supply(Attendance::Always, &[]).by(430), 90.0);
    }

    #[test]
    fn a_run_goes_on_alone_but_no_other_follows_it() {
        // 60 in the window, then one run of at most 90 until minute 250, idle until 400.
        let machine = supply(Attendance::AtSetups { longest_run: 90.0 }, &[]);
        assert_eq!(machine.by(250), 150.0);
        assert_eq!(machine.by(400), 150.0);
        // A run of 300 min may fill the whole gap of 240.
        assert_eq!(
            supply(Attendance::AtSetups { longest_run: 300.0 }, &[]).by(400),
            300.0
        );
    }

    #[test]
    fn an_outage_ends_what_runs_alone_on_a_bed_and_interrupts_a_belt() {
        let outage = [window(200, 250)];
        // Bed: 60 + 40 until the outage. Belt: the 150 min after it as well.
        assert_eq!(
            supply(Attendance::AtSetups { longest_run: 300.0 }, &outage).by(400),
            100.0
        );
        assert_eq!(supply(Attendance::AtFirstSetup, &outage).by(400), 250.0);
        // An outage that has begun when the window closes leaves nothing to run alone.
        assert_eq!(
            supply(
                Attendance::AtSetups { longest_run: 300.0 },
                &[window(150, 200)]
            )
            .by(400),
            50.0
        );
    }

    #[test]
    fn machines_add_up() {
        let both = Supply::new(
            &presence(),
            &[
                (Attendance::Always, &[], 2),
                (Attendance::AtFirstSetup, &[], 1),
            ],
        );
        // By 200: 2 × 60 + 100.
        assert_eq!(both.by(200), 220.0);
    }

    #[test]
    fn lines_lie_above_the_supply_and_touch_it() {
        let machine = supply(Attendance::Always, &[]);
        let lines = machine.lines(1e9, 8);
        assert!(!lines.is_empty());
        for line in &lines {
            let slack =
                |minute: Minute| line.slope * f64::from(minute) + line.offset - machine.by(minute);
            assert!((0..=460).all(|minute| slack(minute) >= -1e-9));
            assert!((0..=460).any(|minute| slack(minute) < 1e-9));
        }
        // From (0, 0) over (160, 60) to (460, 120).
        assert_eq!(lines.len(), 2);
        assert!((lines[1].slope - 0.2).abs() < 1e-12 && (lines[1].offset - 28.0).abs() < 1e-9);
    }
}
