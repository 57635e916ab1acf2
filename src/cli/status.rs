//! `beamyard status`: how the shop stands, on one screen.
//!
//! Knows: its arguments. Must not know: how it is found out, how it looks.
//! Promises: changes nothing.

use std::path::PathBuf;

use chrono::Utc;

use crate::report::{self, Look};
use crate::scenario;
use crate::shoplog::{self, Log};

use super::{Screen, Stop};

/// Show what prints until when, what comes next, which stages slip, which filament runs short
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file, or a name that only one here or in `scenarios/` has
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Take this for the present moment: `18:40`, `yesterday 18:40` or `2027-01-11 18:40`
    #[arg(long, value_name = "TIME")]
    now: Option<String>,

    /// Answer for other programs
    #[arg(long)]
    json: bool,

    /// Show everything that is to be done, not only what is next, and what there is
    #[arg(long)]
    all: bool,
}

/// Reads the scenario and its log, and shows how the shop stands.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let path = scenario::find(&arguments.scenario).map_err(Stop::Failed)?;
    let scenario = super::read_quietly(&path, screen)?;
    let asked = super::moment(arguments.now.as_deref(), &scenario, Utc::now())?;
    let file = shoplog::beside(&path);
    let log = Log::read(&file, &scenario).map_err(|trouble| Stop::Failed(trouble.to_string()))?;
    let Some(log) = log else {
        return Err(Stop::Failed(super::no_log(&file)));
    };
    // By the clock all that is noted has happened, even if the clock was set back since.
    let (state, later) = match asked {
        Some(then) => log.state_at(then),
        None => (log.state().clone(), 0),
    };
    let now = asked.unwrap_or_else(Utc::now);
    if later > 0 {
        screen.note(&format!(
            "how it stood then: {later} of {} entries are of later and left out\n",
            log.entries().len()
        ));
    }
    let bought = shoplog::bought(&log, asked);
    let status = shoplog::status(&scenario, &state, &bought, now);
    let differences = shoplog::changed(&scenario, &state);
    let differences: Vec<String> = differences.iter().map(ToString::to_string).collect();
    screen.print(&if arguments.json {
        report::status_json(&scenario, &status, &differences)
    } else {
        let look = Look {
            all: arguments.all,
            ..screen.look()
        };
        report::status(&scenario, &status, &differences, &look)
    })
}
