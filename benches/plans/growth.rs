//! How cost, bound, time and memory grow with the size of the build.
//!
//! Knows: sizes, seeds, budgets. Must not know: how a plan is found.
//! Promises: a trial without a plan has a row that says so, and counts in no median.

use crate::instance::Instance;
use crate::table::{decimals, median, megabytes, percent, table};
use crate::trial::{Budget, Outcome, Trial, measure};

/// What is to be measured.
pub struct Growth<'a> {
    /// Which sizes.
    pub sizes: &'a [Instance],
    /// Which seeds of each.
    pub seeds: &'a [u64],
    /// How many seconds of search, each for every size.
    pub seconds: &'a [f64],
    /// Seconds for the bound.
    pub prove: f64,
}

/// One row before it is text.
struct Row {
    instance: Instance,
    seconds: f64,
    seed: u64,
    outcome: Result<Outcome, String>,
}

const HEADINGS: [&str; 16] = [
    "instance",
    "seed",
    "machines",
    "runs",
    "first plan",
    "after s",
    "cost",
    "decided",
    "saved",
    "bound",
    "gap",
    "proved",
    "first s",
    "all s",
    "moves/s",
    "MB",
];

/// Measures, telling on standard error how far it is, and writes the section.
pub fn section(growth: &Growth) -> String {
    let mut rows = Vec::new();
    for &instance in growth.sizes {
        for &seconds in growth.seconds {
            for &seed in growth.seeds {
                let outcome = measure(&Trial {
                    instance,
                    seed,
                    budget: Budget::Seconds(seconds),
                    prove: growth.prove,
                    without: Vec::new(),
                    joins: true,
                    apart: true,
                });
                match &outcome {
                    Ok(o) => eprintln!(
                        "{instance} seed {seed}, {seconds} s: {:.2} of at least {:.2}",
                        o.decided, o.bound
                    ),
                    Err(reason) => eprintln!("{instance} seed {seed}, {seconds} s: {reason}"),
                }
                rows.push(Row {
                    instance,
                    seconds,
                    seed,
                    outcome,
                });
            }
        }
    }
    let medians: Vec<[String; 16]> = rows
        .chunk_by(|a, b| a.instance == b.instance && a.seconds == b.seconds)
        .map(|rows| cells(rows, format!("all {}", rows.len())))
        .collect();
    let each: Vec<[String; 16]> = rows
        .iter()
        .map(|row| cells(std::slice::from_ref(row), row.seed.to_string()))
        .collect();
    format!(
        "## Growth\n\n\
         `farm-N` has N packed runs, `farms-MxN` M such farms in one, each of a material of its own, `tower-MxN` N pieces on M machines, `watched-MxN` the same where every other machine prints only while somebody is there. The first plan is constructed, not searched; it \
         is audited like every other. `after s` is the time given to the search, construction included. `decided` is the cost \
         without the plastic that every plan needs, `saved` the share by which it is below the first plan's; no plan's can be below `bound`, as found in at most {} s more, and \
         `gap` is the share of it above. `all s` is from the scenario to the audited plan, search, \
         bound and audit included; `moves/s` is of the search alone, of all cores together. `MB` is the peak of the \
         process, which plans nothing else.\n\n\
         Medians over seeds, each seed another build:\n\n{}\nEach seed:\n\n{}{}",
        growth.prove,
        table(HEADINGS, &medians),
        table(HEADINGS, &each),
        without_plan(&rows)
    )
}

/// Medians over some rows of one size and budget.
fn cells(rows: &[Row], seed: String) -> [String; 16] {
    let of = |value: fn(&Outcome) -> f64| {
        median(
            rows.iter()
                .filter_map(|r| r.outcome.as_ref().ok())
                .map(value),
        )
    };
    let proved = rows
        .iter()
        .filter(|r| r.outcome.as_ref().is_ok_and(|o| o.optimal))
        .count();
    let peaks = rows.iter().filter_map(|r| r.outcome.as_ref().ok()?.peak);
    let row = &rows[0];
    [
        row.instance.to_string(),
        seed,
        row.instance.machines().to_string(),
        decimals(of(|o| o.runs as f64), 0),
        decimals(of(|o| o.first.cost), 2),
        row.seconds.to_string(),
        decimals(of(|o| o.cost), 2),
        decimals(of(|o| o.decided), 2),
        percent(of(|o| {
            1.0 - o.decided / o.first.decided.max(f64::MIN_POSITIVE)
        })),
        decimals(of(|o| o.bound), 2),
        percent(of(gap)),
        format!("{proved} of {}", rows.len()),
        decimals(of(|o| o.first.seconds), 2),
        decimals(of(|o| o.seconds), 2),
        decimals(of(|o| o.moves as f64 / o.search_seconds.max(1e-6)), 0),
        megabytes(median(peaks.map(|kilobytes| kilobytes as f64))),
    ]
}

fn gap(outcome: &Outcome) -> f64 {
    if outcome.decided > 0.0 {
        (outcome.decided - outcome.bound) / outcome.decided
    } else {
        0.0
    }
}

/// The trials that have no plan, and why.
fn without_plan(rows: &[Row]) -> String {
    let told: String = rows
        .iter()
        .filter_map(|row| {
            let reason = row.outcome.as_ref().err()?;
            Some(format!(
                "- {} seed {}, {} s: {reason}\n",
                row.instance, row.seed, row.seconds
            ))
        })
        .collect();
    if told.is_empty() {
        told
    } else {
        format!("\nWithout a plan:\n\n{told}")
    }
}
