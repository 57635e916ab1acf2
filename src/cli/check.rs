//! `beamyard check`: what is wrong with a scenario, what fits where, and why not.
//!
//! Knows: its arguments. Must not know: how parts are fitted, how the table looks.
//! Promises: the table is shown even where a part cannot be made; the status then says so.

use std::path::PathBuf;

use crate::calendar::Calendar;
use crate::estimate::Calibration;
use crate::report;
use crate::routes;
use crate::scenario;
use crate::search::shop::run_limits;
use crate::strength;

use super::{Screen, Stop};

/// Say what is wrong with a scenario, what fits where, and why not
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file, or a name that only one here or in `scenarios/` has
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,
}

/// Reads the scenario and shows what fits where; fails if a part cannot be made at all.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let path = scenario::find(&arguments.scenario).map_err(Stop::Failed)?;
    let mut reading = super::read(&path, screen)?;
    let logged = super::measured_by_log(&path, &reading.scenario, screen);
    let from_log = logged.len();
    reading.scenario.measured.extend(logged);
    let scenario = &reading.scenario;
    let routes = routes::routes(scenario);
    let look = screen.look();
    let calibration = Calibration::new(scenario);
    let limits = run_limits(scenario, &Calendar::new(scenario));
    screen.print(&report::check(scenario, &routes, &limits, &look))?;
    screen.print(&report::estimates(scenario, &calibration, from_log, &look))?;
    let spans = strength::spans(scenario);
    screen.print(&report::spans(scenario, &spans, &look))?;
    super::all_can_be_made(&reading, screen)?;
    let too_long: Vec<_> = routes
        .iter()
        .filter_map(|part| limits.too_long(part))
        .collect();
    match too_long.is_empty() {
        true => Ok(()),
        false => Err(Stop::Wrong(report::no_time(scenario, &too_long))),
    }
}
