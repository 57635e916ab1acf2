//! An accepted plan, as far as the log asks for it.
//!
//! Knows: the keys of `plan.json`. Must not know: scenarios, how the plan was found.
//! Promises: a plan that is read names each run and each piece once, and no run ends before it starts; keys that are not asked for may
//! be there or not.

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

use super::event::PieceId;

/// The version of `plan.json` that is read.
const VERSION: u32 = 1;

/// Years in which plans are made; with others, sums of moments would leave the calendar.
const YEARS: std::ops::Range<i32> = 1900..2200;
/// No run is longer, its setup included.
const LONGEST_RUN: TimeDelta = TimeDelta::days(366);
/// A copy has no more lengths.
const MOST_LENGTHS: u32 = 100;

/// An accepted plan.
#[derive(Clone, Debug, Deserialize)]
pub struct Accepted {
    version: u32,
    /// The build's name; empty where it is not said.
    #[serde(default)]
    pub build: String,
    /// When it ends.
    pub finish: DateTime<Utc>,
    cost: Total,
    /// Its runs.
    pub runs: Vec<PlannedRun>,
    /// Runs that printed when it was made, and when it takes them to end.
    #[serde(default)]
    pub printing: Vec<PlannedStanding>,
    /// Dates of its assemblies.
    #[serde(default)]
    pub assemblies: Vec<PlannedAssembly>,
    /// What it orders, of every filament.
    #[serde(default)]
    pub orders: Vec<PlannedOrder>,
    /// Trials that it waits for.
    #[serde(default)]
    pub trials: Vec<PlannedTrial>,
    /// What it joins.
    #[serde(default)]
    pub gluings: Vec<PlannedGluing>,
    #[serde(skip)]
    positions: HashMap<String, usize>,
}

#[derive(Clone, Debug, Deserialize)]
struct Total {
    total: f64,
}

/// A run as it was planned.
#[derive(Clone, Debug, Serialize, Deserialize)]
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
    /// Grams on the spool that goes on at its setup, if one does.
    #[serde(default)]
    pub spool: Option<f64>,
    /// The name of that spool; none of one that is only to be ordered, nor in a plan that was accepted before plans named spools.
    #[serde(default)]
    pub spool_name: Option<String>,
    /// Spools that end, or are changed before that, while it prints.
    #[serde(default)]
    pub spool_ends: Vec<PlannedSpoolEnd>,
    /// What is on it.
    pub pieces: Vec<PlannedPiece>,
}

impl PlannedRun {
    /// When it needs somebody, or starts by itself.
    pub fn begins(&self) -> DateTime<Utc> {
        self.setup.unwrap_or(self.start)
    }

    /// The number at the end of its name; 0 where there is none.
    pub fn number(&self) -> u32 {
        let number = self.id.rsplit('-').next();
        number.and_then(|number| number.parse().ok()).unwrap_or(0)
    }
}

/// A run that printed when a plan was made.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedStanding {
    /// Its name.
    pub id: String,
    /// When it is taken to end.
    pub end: DateTime<Utc>,
}

/// The end of a spool, or its change before that, as it was planned.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PlannedSpoolEnd {
    /// When.
    pub at: DateTime<Utc>,
    /// Whether somebody is there.
    pub attended: bool,
    /// The name of the spool that follows, as with [`PlannedRun::spool_name`].
    #[serde(default)]
    pub next_name: Option<String>,
}

/// A piece as it was planned.
#[derive(Clone, Debug, Serialize, Deserialize)]
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
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PlannedAssembly {
    /// Its name.
    pub id: String,
    /// When it is complete.
    pub complete: DateTime<Utc>,
    /// When it should be.
    pub due: Option<DateTime<Utc>>,
}

/// An order as it was planned.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedOrder {
    /// Of which filament.
    pub filament: String,
    /// Whole spools.
    #[serde(default)]
    pub spools: u32,
    /// The last day for it.
    #[serde(default)]
    pub order_by: Option<NaiveDate>,
}

/// A trial as it was planned.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedTrial {
    /// Of which part.
    pub part: String,
    /// When somebody is there to approve it.
    pub approved: DateTime<Utc>,
}

/// The lengths of a copy, joined, as it was planned.
#[derive(Clone, Debug, Deserialize)]
pub struct PlannedGluing {
    /// Of which part.
    pub part: String,
    /// Which copy.
    pub number: u32,
    /// When somebody is at it.
    #[serde(default)]
    pub work: Vec<PlannedWork>,
}

/// A stretch of bench work as it was planned.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct PlannedWork {
    /// When it begins.
    pub from: DateTime<Utc>,
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
        plan.moments()?;
        plan.pieces()?;
        let numbered = plan.runs.iter().enumerate();
        plan.positions = numbered.map(|(at, run)| (run.id.clone(), at)).collect();
        Ok(plan)
    }

    /// Whether all its moments can be reckoned with.
    fn moments(&self) -> Result<(), String> {
        let of_runs = self.runs.iter().flat_map(|run| {
            let ends = run.spool_ends.iter().map(|end| end.at);
            let all = run.setup.into_iter().chain([run.start, run.end]);
            let all = all.chain(ends);
            all.map(|moment| ("run", &run.id, moment))
        });
        let of_assemblies = self.assemblies.iter().flat_map(|assembly| {
            let all = assembly.due.into_iter().chain([assembly.complete]);
            all.map(|moment| ("assembly", &assembly.id, moment))
        });
        let of_printing = (self.printing.iter()).map(|run| ("run", &run.id, run.end));
        let of_gluings = self.gluings.iter().flat_map(|gluing| {
            let work = gluing.work.iter();
            work.map(|work| ("joint", &gluing.part, work.from))
        });
        let others = of_printing.chain(of_gluings);
        for (what, id, moment) in of_runs.chain(of_assemblies).chain(others) {
            if !YEARS.contains(&moment.year()) {
                return Err(format!(
                    "{what} `{id}` of the plan has a moment in the year {}",
                    moment.year()
                ));
            }
        }
        if let Some(run) = self
            .runs
            .iter()
            .find(|run| run.end - run.begins() > LONGEST_RUN)
        {
            return Err(format!(
                "run `{}` of the plan takes more than a year",
                run.id
            ));
        }
        match self.runs.iter().find(|run| run.begins() > run.start) {
            Some(run) => Err(format!(
                "run `{}` of the plan is set up after it starts",
                run.id
            )),
            None => Ok(()),
        }
    }

    /// Whether its pieces can be, each once.
    fn pieces(&self) -> Result<(), String> {
        let mut seen = BTreeSet::new();
        for run in &self.runs {
            for piece in &run.pieces {
                let (number, length, of) = (piece.number, piece.length, piece.of);
                if number == 0 || of == 0 || of > MOST_LENGTHS || !(1..=of).contains(&length) {
                    return Err(format!(
                        "run `{}` of the plan has copy {number} of {}, length {length} of {of}",
                        run.id, piece.part
                    ));
                }
                if !seen.insert((&piece.part, number, length, of)) {
                    return Err(format!(
                        "the plan prints {} {number} (length {length} of {of}) twice",
                        piece.part
                    ));
                }
            }
        }
        Ok(())
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
