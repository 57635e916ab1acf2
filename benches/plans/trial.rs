//! One instance planned once, in a process of its own, so that its peak of memory is its own.
//!
//! Knows: the planner's interface, this program's own path. Must not know: tables, medians.
//! Promises: every cost is that of a plan that passed its audit; where there is none, the reason comes back.

use std::env;
use std::process::Command;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use beamyard::planning::{self, NoPlan, Options, Patience, Planned};
use beamyard::scenario::Scenario;
use beamyard::search::portfolio::{Limit, Unwatched, Watch};
use serde::{Deserialize, Serialize};

use crate::instance::Instance;
use crate::memory;

/// When a search ends.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub enum Budget {
    /// After so many seconds.
    Seconds(f64),
    /// After so many moves.
    Moves(u64),
}

/// What is planned, and how.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Trial {
    /// What is drawn.
    pub instance: Instance,
    /// Draws the instance and the search.
    pub seed: u64,
    /// When the search ends.
    pub budget: Budget,
    /// Seconds for the bound after it.
    pub prove: f64,
    /// Moves left out, by name.
    pub without: Vec<String>,
    /// Whether the master joins sheets of several queues.
    pub joins: bool,
    /// Whether a farm that is several farms is searched farm by farm.
    pub apart: bool,
}

/// The first plan: constructed, dated, audited, not yet searched.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct First {
    /// Its cost.
    pub cost: f64,
    /// The part of it that planning decides.
    pub decided: f64,
    /// Seconds until it was audited.
    pub seconds: f64,
}

/// What came out.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Outcome {
    /// Runs of the plan.
    pub runs: usize,
    /// What the plan costs.
    pub cost: f64,
    /// The part of it that planning decides.
    pub decided: f64,
    /// No plan decides less.
    pub bound: f64,
    /// Whether the plan is proven best.
    pub optimal: bool,
    /// Moves made.
    pub moves: u64,
    /// Money saved by joining sheets.
    pub joined: f64,
    /// Names of the moves that were made.
    pub moves_by_name: Vec<String>,
    /// The first plan, which is found apart from the search.
    pub first: First,
    /// Seconds of the search, without construction, bound and audit.
    pub search_seconds: f64,
    /// Seconds from the scenario to the audited plan, bound included.
    pub seconds: f64,
    /// The most memory held, kilobytes.
    pub peak: Option<u64>,
}

/// Plans a trial in a process of its own.
pub fn measure(trial: &Trial) -> Result<Outcome, String> {
    let told = |error: &dyn std::error::Error| error.to_string();
    let this = env::current_exe().map_err(|e| told(&e))?;
    let job = serde_json::to_string(trial).map_err(|e| told(&e))?;
    let output = Command::new(this)
        .args(["--trial", &job])
        .output()
        .map_err(|e| told(&e))?;
    if !output.status.success() {
        let reason = String::from_utf8_lossy(&output.stderr);
        let last = reason.lines().last().unwrap_or("no reason given");
        return Err(format!("{} ({last})", output.status));
    }
    serde_json::from_slice(&output.stdout).map_err(|e| told(&e))
}

/// The other side of [`measure`]: plans the trial and writes the outcome to standard output.
pub fn answer(job: &str) -> Result<(), String> {
    let trial: Trial = serde_json::from_str(job).map_err(|e| e.to_string())?;
    let outcome = plan(&trial)?;
    let line = serde_json::to_string(&outcome).map_err(|e| e.to_string())?;
    println!("{line}");
    Ok(())
}

fn plan(trial: &Trial) -> Result<Outcome, String> {
    let scenario = trial.instance.scenario(trial.seed);
    let begun = Instant::now();
    let first = search(
        &scenario,
        trial,
        Limit::Moves(0),
        Patience::Rounds(0),
        &Unwatched,
    )?;
    let first = First {
        cost: first.plan.cost.total().0,
        decided: first.plan.decided.0,
        seconds: begun.elapsed().as_secs_f64(),
    };
    let limit = match trial.budget {
        Budget::Seconds(seconds) => Limit::Time(Duration::from_secs_f64(seconds)),
        Budget::Moves(moves) => Limit::Moves(moves),
    };
    let patience = Patience::Time(Duration::from_secs_f64(trial.prove));
    let begun = Instant::now();
    let clock = Clock::new(begun);
    let found = search(&scenario, trial, limit, patience, &clock)?;
    Ok(Outcome {
        runs: found.plan.runs.len(),
        cost: found.plan.cost.total().0,
        decided: found.plan.decided.0,
        bound: found.plan.bound.0,
        optimal: found.optimal,
        moves: found.moves,
        joined: found.joined,
        moves_by_name: found
            .tallies
            .iter()
            .map(|(name, _)| (*name).to_owned())
            .collect(),
        first,
        search_seconds: clock.search_seconds(),
        seconds: begun.elapsed().as_secs_f64(),
        peak: memory::own_peak(),
    })
}

fn search(
    scenario: &Scenario,
    trial: &Trial,
    limit: Limit,
    patience: Patience,
    watch: &dyn Watch,
) -> Result<Planned, String> {
    let options = Options {
        limit: Some(limit),
        seed: trial.seed,
        patience,
        without: &trial.without,
        joins: trial.joins,
        apart: trial.apart,
        watch,
    };
    planning::plan(scenario, &options).map_err(|none| match none {
        NoPlan::NoRoute(_) => "some part can be made on no machine".to_owned(),
        NoPlan::NoTime(_) => "the work does not end within the calendar".to_owned(),
        NoPlan::Lost => "the queue cannot be laid out again".to_owned(),
        NoPlan::Unsound(faults) => match faults.first() {
            Some(fault) => format!("the plan fails its audit: {fault}"),
            None => "the plan fails its audit".to_owned(),
        },
    })
}

/// Notes when the search began and when it was last asked whether to stop.
struct Clock {
    begun: Instant,
    /// Microseconds until the constructed queue; `u64::MAX` before.
    constructed: AtomicU64,
    /// Microseconds until the last question.
    last: AtomicU64,
}

impl Clock {
    fn new(begun: Instant) -> Self {
        Self {
            begun,
            constructed: AtomicU64::new(u64::MAX),
            last: AtomicU64::new(0),
        }
    }

    fn now(&self) -> u64 {
        self.begun.elapsed().as_micros() as u64
    }

    fn search_seconds(&self) -> f64 {
        let constructed = self.constructed.load(Ordering::Relaxed);
        let last = self.last.load(Ordering::Relaxed);
        last.saturating_sub(constructed) as f64 / 1e6
    }
}

impl Watch for Clock {
    fn better(&self, _cost: f64) {
        // The first queue that is reported is the constructed one.
        self.constructed.fetch_min(self.now(), Ordering::Relaxed);
    }

    fn stop(&self) -> bool {
        self.last.fetch_max(self.now(), Ordering::Relaxed);
        false
    }
}
