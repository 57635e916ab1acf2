//! `beamyard plan`: from a scenario to a dated print queue.
//!
//! Knows: its arguments, in which order things are shown and written. Must not know: how a plan is found.
//! Promises: a folder that cannot be written is refused before the search; nothing is shown of a plan that was not found.

use std::path::PathBuf;

use clap::ValueEnum;
use indicatif::ProgressBar;

use crate::plan::Plan;
use crate::report::{self, Look};
use crate::scenario::Scenario;

use super::{Screen, Stop};

/// Columns of the text that is written to a folder.
const FOLDER_WIDTH: u16 = 100;

/// Plan a scenario: a dated print queue, what it costs, what to order by when
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Search for so many seconds; the plan then depends on how fast this computer is
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=86_400), conflicts_with = "effort")]
    seconds: Option<u64>,

    /// Search for so many moves; the same seed and effort give the same plan everywhere
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    effort: Option<u64>,

    /// Which random numbers the search draws
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    /// Also write plan.json, queue.csv and plan.txt to this folder, all or none
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// What to show
    #[arg(long, value_enum, default_value_t = Format::Table)]
    format: Format,

    /// Show every run and every assembly, not only the next seven days and the stages
    #[arg(long)]
    all: bool,
}

/// What `plan` shows on standard output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Text for the terminal
    Table,
    /// The plan for other programs
    Json,
    /// The queue for a spreadsheet
    Csv,
}

/// When to stop searching.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// The planner's own effort.
    Usual,
    /// After so many moves.
    Moves(u64),
    /// After so many seconds.
    Seconds(u64),
}

/// What the user asks of the search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Search {
    /// When to stop.
    pub limit: Limit,
    /// Which random numbers to draw.
    pub seed: u64,
}

/// Steps of the bar that shows how far the search is.
pub const BAR_STEPS: u64 = 1000;

impl Arguments {
    fn search(&self) -> Search {
        let limit = match (self.effort, self.seconds) {
            (Some(moves), _) => Limit::Moves(moves),
            (None, Some(seconds)) => Limit::Seconds(seconds),
            (None, None) => Limit::Usual,
        };
        Search {
            limit,
            seed: self.seed,
        }
    }
}

/// Reads the scenario, has it planned, writes the folder and shows the plan.
///
/// `planner` gets the scenario, the user's wishes, and a bar of [`BAR_STEPS`] to move; where no plan exists it says why.
pub fn run(
    arguments: &Arguments,
    screen: &mut Screen,
    planner: impl FnOnce(&Scenario, Search, &ProgressBar) -> Result<Plan, String>,
) -> Result<(), Stop> {
    let scenario = super::read(&arguments.scenario, screen)?;
    // A folder that cannot be written is better known before a long search than after it.
    if let Some(folder) = &arguments.out {
        report::may_write_folder(folder).map_err(failed)?;
    }
    let bar = screen.bar(BAR_STEPS, "planning");
    let planned = planner(&scenario, arguments.search(), &bar);
    bar.finish_and_clear();
    let plan = planned.map_err(Stop::Failed)?;

    if let Some(folder) = &arguments.out {
        let everything = Look {
            all: true,
            ..Look::plain(FOLDER_WIDTH)
        };
        let files = [
            ("plan.json", report::json(&scenario, &plan)),
            ("queue.csv", report::csv(&scenario, &plan)),
            ("plan.txt", report::table(&scenario, &plan, &everything)),
        ];
        report::write_folder(folder, &files).map_err(failed)?;
        screen.note(&format!("written to {}\n", folder.display()));
    }
    let shown = match arguments.format {
        Format::Table => {
            let look = Look {
                all: arguments.all,
                ..screen.look()
            };
            report::table(&scenario, &plan, &look)
        }
        Format::Json => report::json(&scenario, &plan),
        Format::Csv => report::csv(&scenario, &plan),
    };
    screen.print(&shown)
}

fn failed(error: report::FolderError) -> Stop {
    Stop::Failed(error.to_string())
}
