//! `beamyard forecast`: what the build takes, at other scales and with other settings.
//!
//! Knows: its arguments, in which order the cases stand. Must not know: how a figure is come by.
//! Promises: every case was read with all the rules that hold for a scenario; if one breaks a rule, nothing is shown.

use std::path::{Path, PathBuf};

use clap::ValueEnum;

use crate::estimate::against;
use crate::forecast::{Forecast, forecast};
use crate::planning::NoPlan;
use crate::report;
use crate::scenario::{self, Cache, Change, Measurement};

use super::{Screen, Stop};

/// Say what the build takes at one scale or several: size, mass, filament, hours, money, a first possible end
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file, or a name that only one here or in `scenarios/` has
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Scales in place of the scenario's, with commas between, e.g. `4,5,6`
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_delimiter = ',', value_parser = scenario::scale)]
    scale: Vec<f64>,

    /// Settings in place of every part's own, by name, with commas between
    #[arg(long, value_name = "NAME", value_delimiter = ',')]
    settings: Vec<String>,

    /// What to show
    #[arg(long, value_enum, default_value_t = Format::Table)]
    format: Format,
}

/// What `forecast` shows on standard output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Text for the terminal
    Table,
    /// The figures for other programs
    Json,
    /// A row for each scale, for a spreadsheet
    Csv,
}

impl Arguments {
    /// Every scale with every choice of settings; of what is asked for twice, the first.
    fn cases(&self) -> Vec<Change> {
        let or_own = |given: usize| if given == 0 { 1 } else { given };
        let mut cases: Vec<Change> = Vec::new();
        for settings in 0..or_own(self.settings.len()) {
            for scale in 0..or_own(self.scale.len()) {
                let case = Change {
                    scale: self.scale.get(scale).copied(),
                    settings: self.settings.get(settings).cloned(),
                };
                if !cases.contains(&case) {
                    cases.push(case);
                }
            }
        }
        cases
    }
}

/// Reads the scenario at every scale and with all settings, plans each quickly, shows them side by side.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    // What is odd in the scenario as written is said once.
    let path = scenario::find(&arguments.scenario).map_err(Stop::Failed)?;
    let written = super::read(&path, screen)?.scenario;
    // What was measured is compared with what is estimated as written, also where parts and settings are changed.
    let mut measured = written.measured.clone();
    measured.extend(super::measured_by_log(&path, &written, screen));
    for one in &mut measured {
        one.against = Some(against(&written, one));
    }
    let waiting = screen.spinner("forecasting");
    let cases = arguments.cases();
    let made = cases
        .iter()
        .map(|case| made(&path, case, &measured, screen));
    let forecasts = made.collect::<Result<Vec<Forecast>, Stop>>();
    waiting.finish_and_clear();
    let forecasts = forecasts?;
    screen.print(&match arguments.format {
        Format::Table => report::forecast_table(&forecasts, &screen.look()),
        Format::Json => report::forecast_json(&forecasts),
        Format::Csv => report::forecast_csv(&forecasts),
    })
}

fn made(
    path: &Path,
    case: &Change,
    measured: &[Measurement],
    screen: &Screen,
) -> Result<Forecast, Stop> {
    let mut reading = scenario::read_changed(path, case, &Cache::of_user())
        .map_err(|wrong| Stop::Wrong(refused(case, &wrong.render(screen.colour_notes()))))?;
    reading.scenario.measured = measured.to_vec();
    forecast(&reading, case.settings.as_deref()).map_err(|none| Stop::Failed(fault(&none)))
}

/// What is wrong with the scenario as changed.
fn refused(case: &Change, complaints: &str) -> String {
    match case.scale {
        Some(scale) => format!("At scale {scale}:\n{complaints}"),
        None => complaints.to_owned(),
    }
}

fn fault(none: &NoPlan) -> String {
    format!(
        "A quick plan was found that cannot be shown, which is a fault of this program.\n  {none:?}"
    )
}
