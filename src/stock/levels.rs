//! How much of each filament is on hand, from the build's start until its last gram is printed.
//!
//! Knows: what runs take and when, orders, delivery times. Must not know: single spools, plates.
//! Promises: points are in the order of time, none below zero; the last is what was there, and came, less all that was used.

use chrono::{DateTime, Utc};

use crate::calendar::delivered;
use crate::plan::{Level, Order};
use crate::scenario::{FilamentIndex, Scenario};
use crate::units::Grams;

use super::Use;
use super::on_hand::{Held, OnHand};

/// How the level of one filament changes at a moment.
struct Change {
    at: DateTime<Utc>,
    /// Added at once: a delivery; or taken, a purge.
    step: f64,
    /// Added to the grams per minute that are printed from then on.
    rate: f64,
}

/// The level of every filament. All spools of an order come together, so long after the end of its last day as delivery takes,
/// or are there at the build's start if that is earlier; spools that are bought come when they arrive. A purge is lost when
/// its setup ends.
pub fn levels(scenario: &Scenario, on_hand: &OnHand, uses: &[Use], orders: &[Order]) -> Vec<Level> {
    let mut changes: Vec<Vec<Change>> = scenario.filaments.iter().map(|_| Vec::new()).collect();
    let mut arrivals = vec![None; scenario.filaments.len()];
    for order in orders {
        let filament = &scenario.filaments[order.filament.0];
        let day = order.order_by;
        let Some(arrives) = day.and_then(|day| delivered(scenario, order.filament, day)) else {
            continue;
        };
        arrivals[order.filament.0] = Some(arrives);
        changes[order.filament.0].push(Change {
            at: arrives.max(scenario.build.start),
            step: filament.spool.0 * f64::from(order.spools),
            rate: 0.0,
        });
    }
    for (changes, spools) in changes.iter_mut().zip(&on_hand.spools) {
        for spool in spools.iter().filter(|spool| spool.comes) {
            changes.extend(spool.from.map(|at| Change {
                at,
                step: spool.grams.0,
                rate: 0.0,
            }));
        }
    }
    for run in uses {
        let minutes = (run.end - run.start).num_minutes() as f64;
        // A run of no minutes has no grams either; nothing is divided by nothing.
        let rate = if minutes > 0.0 {
            run.grams.0 / minutes
        } else {
            0.0
        };
        let mut change = |at, step, rate| changes[run.filament.0].push(Change { at, step, rate });
        change(run.start, -run.purge.0, rate);
        change(run.end, 0.0, -rate);
    }
    changes
        .into_iter()
        .enumerate()
        .map(|(index, changes)| Level {
            filament: FilamentIndex(index),
            points: points(scenario, &on_hand.spools[index], changes),
            arrives: arrivals[index],
        })
        .collect()
}

fn points(
    scenario: &Scenario,
    spools: &[Held],
    mut changes: Vec<Change>,
) -> Vec<(DateTime<Utc>, Grams)> {
    // What comes is there before what is taken at the same moment.
    changes.sort_by(|a, b| {
        (a.at, b.step)
            .partial_cmp(&(b.at, a.step))
            .unwrap_or(a.at.cmp(&b.at))
    });
    let here = spools.iter().filter(|spool| !spool.comes);
    let on_hand: Grams = here.map(|spool| spool.grams).sum();
    let mut now = scenario.build.start;
    let (mut level, mut rate) = (on_hand.0, 0.0);
    let mut points = vec![(now, Grams(level))];
    for change in changes {
        let minutes = (change.at - now).num_minutes() as f64;
        if minutes > 0.0 {
            level -= rate * minutes;
            now = change.at;
            points.push((now, Grams(level.max(0.0))));
        }
        rate += change.rate;
        if change.step != 0.0 {
            level += change.step;
            points.push((now, Grams(level.max(0.0))));
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{MachineIndex, read_text};

    fn scenario(spools: &str) -> Scenario {
        let text = format!(
            "
build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo}}
machines: [{{id: bed, kind: bed, bed: [200, 200], height: 100}}]
filaments: [{{id: grey, material: PLA, spools: {spools}, spool: 500, lead: 2 d}}]
parts: [{{id: bracket, size: [80, 40, 12]}}]
"
        );
        match read_text("levels.yaml", &text, std::path::Path::new(".")) {
            Ok(reading) => reading.scenario,
            Err(complaints) => panic!("{complaints}"),
        }
    }

    fn at(text: &str) -> DateTime<Utc> {
        format!("2027-01-{}+01:00", text.replacen(' ', "T", 1) + ":00")
            .parse()
            .expect("a day and a time")
    }

    fn used(start: &str, end: &str, grams: f64, purge: f64) -> Use {
        Use {
            machine: MachineIndex(0),
            filament: FilamentIndex(0),
            setup: Some(at(start)),
            start: at(start),
            end: at(end),
            grams: Grams(grams),
            purge: Grams(purge),
        }
    }

    fn order(spools: u32, by: &str) -> Order {
        Order {
            filament: FilamentIndex(0),
            grams: Grams(0.0),
            range: None,
            on_hand: Grams(0.0),
            spools,
            order_by: by.parse().ok(),
        }
    }

    #[test]
    fn two_runs_at_once_take_twice_as_much_and_a_purge_is_a_step() {
        let scenario = scenario("[300]");
        // 60 g in 60 min from 08:00, 12 g of purge first; 120 g in 60 min from 08:30: 1, then 3, then 2 g a minute.
        // 300 − 12 = 288; − 30 = 258; − 90 = 168; − 60 = 108.
        let uses = [
            used("11 08:00", "11 09:00", 60.0, 12.0),
            used("11 08:30", "11 09:30", 120.0, 0.0),
        ];
        let levels = levels(
            &scenario,
            &OnHand::at_start(&scenario),
            &uses,
            &[order(0, "")],
        );
        let expected = [
            ("11 07:00", 300.0),
            ("11 08:00", 300.0),
            ("11 08:00", 288.0),
            ("11 08:30", 258.0),
            ("11 09:00", 168.0),
            ("11 09:30", 108.0),
        ];
        assert_eq!(levels[0].points.len(), expected.len());
        for (found, (moment, grams)) in levels[0].points.iter().zip(expected) {
            assert_eq!(found.0, at(moment));
            assert!((found.1.0 - grams).abs() < 1e-9, "{found:?}");
        }
        assert_eq!(levels[0].arrives, None);
    }

    #[test]
    fn an_order_comes_its_delivery_time_after_its_last_day_is_over() {
        let scenario = scenario("[100]");
        // Out by the end of Tuesday the 12th, two days on the way: Friday the 15th at 00:00. 2 × 500 g.
        let uses = [
            used("11 08:00", "11 08:50", 100.0, 0.0),
            used("15 08:00", "15 10:00", 600.0, 0.0),
        ];
        let levels = levels(
            &scenario,
            &OnHand::at_start(&scenario),
            &uses,
            &[order(2, "2027-01-12")],
        );
        assert_eq!(levels[0].arrives, Some(at("15 00:00")));
        let grams: Vec<f64> = levels[0]
            .points
            .iter()
            .map(|point| point.1.0.round())
            .collect();
        // At the start, at 08:00, 08:50, the delivery's step, at 08:00 and 10:00 on the 15th.
        assert_eq!(grams, [100.0, 100.0, 0.0, 0.0, 1000.0, 1000.0, 400.0]);
    }

    #[test]
    fn what_comes_before_the_start_is_there_at_the_start() {
        let scenario = scenario("[100]");
        let levels = levels(
            &scenario,
            &OnHand::at_start(&scenario),
            &[],
            &[order(1, "2027-01-04")],
        );
        let expected = [
            (at("11 07:00"), Grams(100.0)),
            (at("11 07:00"), Grams(600.0)),
        ];
        assert_eq!(levels[0].points, expected);
    }
}
