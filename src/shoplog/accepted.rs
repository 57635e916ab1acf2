//! An accepted plan, as far as the log asks for it.
//!
//! Knows: the keys of `plan.json`. Must not know: scenarios, how the plan was found.
//! Promises: a plan that is read names each run once, and no run ends before it starts; keys that are not asked for may
//! be there or not.

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use serde::Deserialize;

use super::event::PieceId;

/// The version of `plan.json` that is read.
const VERSION: u32 = 1;

/// An accepted plan.
#[derive(Clone, Debug, Deserialize)]
pub struct Accepted {
    version: u32,
    /// When it ends.
    pub finish: DateTime<Utc>,
    cost: Total,
    /// Its runs.
    pub runs: Vec<PlannedRun>,
    /// Dates of its assemblies.
    #[serde(default)]
    pub assemblies: Vec<PlannedAssembly>,
    #[serde(skip)]
    positions: HashMap<String, usize>,
}

#[derive(Clone, Debug, Deserialize)]
struct Total {
    total: f64,
}

/// A run as it was planned.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedRun {
    /// Its name.
    pub id: String,
    /// Where.
    pub machine: String,
    /// What it prints with.
    pub filament: String,
    /// When its setup begins; `None`: it follows another without one.
    pub setup: Option<DateTime<Utc>>,
    /// When printing starts.
    pub start: DateTime<Utc>,
    /// When it ends.
    pub end: DateTime<Utc>,
    /// Plastic in its pieces, grams.
    pub grams: f64,
    /// What is on it.
    pub pieces: Vec<PlannedPiece>,
}

impl PlannedRun {
    /// When it needs somebody, or starts by itself.
    pub fn begins(&self) -> DateTime<Utc> {
        self.setup.unwrap_or(self.start)
    }
}

/// A piece as it was planned.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedPiece {
    part: String,
    number: u32,
    length: u32,
    of: u32,
    /// What it is for; `None`: a spare.
    pub assembly: Option<String>,
    /// Centre, mm.
    pub x: f64,
    /// See `x`.
    pub y: f64,
    /// Turn about the centre, degrees.
    pub turn: f64,
    /// Box as it lies before turning, mm.
    pub size: [f64; 3],
    /// The axis that stands upright, where the plan says so.
    pub upright: Option<String>,
}

impl PlannedPiece {
    /// Its name.
    pub fn id(&self) -> PieceId {
        PieceId {
            part: self.part.clone(),
            number: self.number,
            length: self.length,
            of: self.of,
        }
    }

    /// The part that it is a copy of.
    pub fn part(&self) -> &str {
        &self.part
    }

    /// Lengths that make its copy.
    pub fn of(&self) -> u32 {
        self.of
    }

    /// Which copy of the part.
    pub fn number(&self) -> u32 {
        self.number
    }
}

/// An assembly as it was planned.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedAssembly {
    /// Its name.
    pub id: String,
    /// When it is complete.
    pub complete: DateTime<Utc>,
    /// When it should be.
    pub due: Option<DateTime<Utc>>,
}

impl Accepted {
    /// Reads the text of a `plan.json`.
    ///
    /// # Errors
    /// If it is no such text; what is wrong with it, in words.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut plan: Self = serde_json::from_str(text)
            .map_err(|error| format!("the plan is no plan.json of this program: {error}"))?;
        if plan.version != VERSION {
            return Err(format!(
                "the plan is of version {} (this program reads version {VERSION})",
                plan.version
            ));
        }
        let mut names = BTreeSet::new();
        for run in &plan.runs {
            if !names.insert(&run.id) {
                return Err(format!("the plan has two runs `{}`", run.id));
            }
            if run.end < run.start {
                return Err(format!(
                    "run `{}` of the plan ends before it starts",
                    run.id
                ));
            }
            if !(run.grams.is_finite() && run.grams >= 0.0) {
                return Err(format!(
                    "run `{}` of the plan weighs {} g",
                    run.id, run.grams
                ));
            }
        }
        let numbered = plan.runs.iter().enumerate();
        plan.positions = numbered.map(|(at, run)| (run.id.clone(), at)).collect();
        Ok(plan)
    }

    /// The position of a run in [`Accepted::runs`].
    pub fn position(&self, run: &str) -> Option<usize> {
        self.positions.get(run).copied()
    }

    /// What it said it would cost.
    pub fn cost(&self) -> f64 {
        self.cost.total
    }
}
