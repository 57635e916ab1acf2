//! `beamyard check`: what is wrong with a scenario, what fits where, and why not.
//!
//! Knows: its arguments. Must not know: how parts are fitted, how the table looks.
//! Promises: the table is shown even where a part cannot be made; the status then says so.

use std::path::PathBuf;

use crate::estimate::Calibration;
use crate::report;
use crate::routes;
use crate::strength;

use super::{Screen, Stop};

/// Say what is wrong with a scenario, what fits where, and why not
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,
}

/// Reads the scenario and shows what fits where; fails if a part cannot be made at all.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let scenario = super::read(&arguments.scenario, screen)?;
    let routes = routes::routes(&scenario);
    let look = screen.look();
    let calibration = Calibration::new(&scenario);
    screen.print(&report::check(&scenario, &routes, &look))?;
    screen.print(&report::estimates(&scenario, &calibration, &look))?;
    let spans = strength::spans(&scenario);
    screen.print(&report::spans(&scenario, &spans, &look))?;
    let impossible: Vec<&str> = routes
        .iter()
        .filter(|part| part.forms.is_empty())
        .map(|part| scenario.parts[part.part.0].id.as_str())
        .collect();
    if impossible.is_empty() {
        Ok(())
    } else {
        Err(Stop::Failed(format!(
            "cannot be made: {}",
            impossible.join(", ")
        )))
    }
}
