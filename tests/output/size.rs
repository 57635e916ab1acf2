//! How large a report may be.

use std::path::Path;

use beamyard::plan::{Plan, Work};
use beamyard::planning::{Options, plan};
use beamyard::report::html;
use beamyard::scenario::{Scenario, read};
use beamyard::search::portfolio::Limit;
use chrono::TimeDelta;

use crate::hall::hall;

/// A plan that need not be good.
fn planned(scenario: &Scenario, moves: u64) -> Plan {
    let options = Options {
        limit: Some(Limit::Moves(moves)),
        ..Options::default()
    };
    plan(scenario, &options).expect("there is a plan").plan
}

#[test]
fn the_cranes_report_is_smaller_than_a_megabyte() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/quayside-crane.yaml");
    let scenario = read(&file).expect("an example is right").scenario;
    let plan = planned(&scenario, 300);
    let size = html(&scenario, &plan).len();
    assert!(size < 1_000_000, "{size} bytes of {} runs", plan.runs.len());
}

/// The queue of a plan, over and over until there are so many runs within twelve weeks.
fn repeated(plan: &Plan, runs: usize) -> Plan {
    let times = runs.div_ceil(plan.runs.len());
    let apart = TimeDelta::days(12 * 7) / i32::try_from(times).expect("a few");
    let mut long = plan.clone();
    long.runs = Vec::new();
    // By machine, then by time, as in every plan.
    for of_machine in plan.runs.chunk_by(|a, b| a.machine == b.machine) {
        for time in 0..times {
            let later = apart * i32::try_from(time).expect("a few");
            for (at, run) in of_machine.iter().enumerate() {
                let mut run = run.clone();
                let machine = run.id.split('-').next().unwrap_or_default();
                run.id = format!("{machine}-{:03}", time * of_machine.len() + at + 1);
                run.setup = run.setup.map(|setup| setup + later);
                run.start += later;
                run.end += later;
                for end in &mut run.spool.ends {
                    end.at += later;
                }
                long.runs.push(run);
            }
        }
    }
    long.runs.truncate(runs);
    let days = 0..12 * 7;
    long.sheets.hours = days
        .map(|day| {
            let from = plan.sheets.hours[0].from + TimeDelta::days(day);
            let to = from + TimeDelta::hours(15);
            Work { from, to }
        })
        .collect();
    long.finish += apart * i32::try_from(times - 1).expect("a few");
    long
}

#[test]
fn a_report_of_forty_machines_and_three_thousand_runs_is_smaller_than_eight_megabytes() {
    // 40 kinds of panel, 36 of each, four on a plate: some 360 runs, which a test plans in a moment; the report is made of as many
    // more of the same as 3000 are.
    let scenario = hall(40, 40);
    let plan = planned(&scenario, 50);
    assert!(plan.runs.len() >= 300, "{}", plan.runs.len());
    let long = repeated(&plan, 3000);
    assert_eq!(long.runs.len(), 3000);
    let size = html(&scenario, &long).len();
    assert!(size < 8_000_000, "{size} bytes of {} runs", long.runs.len());
    // And it grows by its runs alone: twice as many are less than twice the bytes.
    let twice = html(&scenario, &repeated(&plan, 6000)).len();
    assert!(twice < 2 * size, "{twice} {size}");
}
