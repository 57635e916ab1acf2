//! The command line: arguments in, a call into the library, text out.
//!
//! Knows: arguments, the terminal, exit statuses. Must not know: how anything is planned or laid out.
//! Promises: 0 done; 1 the scenario is wrong or no plan exists, and the reason stands on standard error; 2 wrong usage.
//! Tables go to standard output, all else to standard error; a reader that goes away ends the program quietly.

mod check;
mod forecast;
mod log;
mod measure;
mod plan;
mod screen;
mod status;

use std::ffi::OsString;
use std::path::Path;

use chrono::{DateTime, Utc};
use clap::{Parser, Subcommand};

use crate::report;
use crate::routes;
use crate::scenario::{self, Cache, Judgement, Measurement, Reading, Scenario};
use crate::shoplog::{self, Log};

pub use screen::Screen;
use screen::Stop;

/// Done.
const DONE: u8 = 0;
/// The scenario is wrong, no plan exists, or something could not be written.
const FAILED: u8 = 1;

/// Plans a workshop's prints: which machine prints which plate when, what is split and joined, what to order, what it costs.
#[derive(Debug, Parser)]
#[command(name = "beamyard", version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Check(check::Arguments),
    Forecast(forecast::Arguments),
    Log(log::Arguments),
    Measure(measure::Arguments),
    Plan(plan::Arguments),
    Status(status::Arguments),
}

/// Runs a command line, the program's name first, and gives the exit status.
pub fn run(
    arguments: impl IntoIterator<Item = impl Into<OsString> + Clone>,
    screen: &mut Screen,
) -> u8 {
    let command = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments.command,
        Err(usage) => {
            let text = usage.render();
            let (plain, coloured) = (text.to_string(), text.ansi().to_string());
            if usage.use_stderr() {
                if screen.colour_notes() {
                    screen.note_coloured(&coloured);
                } else {
                    screen.note(&plain);
                }
            } else if let Err(stop) = screen.print(if screen.look().colour {
                &coloured
            } else {
                &plain
            }) {
                return exit_status(stop, screen);
            }
            return u8::try_from(usage.exit_code()).unwrap_or(FAILED);
        }
    };
    let done = match command {
        Command::Check(arguments) => check::run(&arguments, screen),
        Command::Forecast(arguments) => forecast::run(&arguments, screen),
        Command::Log(arguments) => log::run(&arguments, screen),
        Command::Measure(arguments) => measure::run(&arguments, screen),
        Command::Plan(arguments) => plan::run(&arguments, screen),
        Command::Status(arguments) => status::run(&arguments, screen),
    };
    match done {
        Ok(()) => DONE,
        Err(stop) => exit_status(stop, screen),
    }
}

fn exit_status(stop: Stop, screen: &mut Screen) -> u8 {
    match stop {
        Stop::NobodyReads => DONE,
        Stop::Failed(reason) => {
            screen.note(&format!("{}\n", reason.trim_end()));
            FAILED
        }
        Stop::Wrong(complaints) => {
            screen.note_coloured(&format!("{}\n", complaints.trim_end()));
            FAILED
        }
    }
}

/// What to say where nothing has been noted.
fn no_log(file: &Path) -> String {
    format!(
        "{}: there is no log yet; `plan --accept` makes it, or the first event that is noted with `log`",
        file.display()
    )
}

/// A moment as it is written on the command line, if one is.
fn moment(
    written: Option<&str>,
    scenario: &Scenario,
    now: DateTime<Utc>,
) -> Result<Option<DateTime<Utc>>, Stop> {
    let moment = written.map(|text| scenario::moment_by(text, scenario.build.zone, now));
    moment.transpose().map_err(Stop::Failed)
}

/// A moment that is to come, as it is written on the command line, if one is.
fn moment_ahead(
    written: Option<&str>,
    scenario: &Scenario,
    now: DateTime<Utc>,
) -> Result<Option<DateTime<Utc>>, Stop> {
    let moment = written.map(|text| scenario::moment_ahead(text, scenario.build.zone, now));
    moment.transpose().map_err(Stop::Failed)
}

/// Reads a scenario; what is odd in it goes to standard error. Parts that nothing can make are left to the command.
fn read(path: &Path, screen: &mut Screen) -> Result<Reading, Stop> {
    let judge = |scenario: &Scenario| Judgement {
        unmakeable: report::unmakeable(scenario, &routes::routes(scenario)),
        doubtful: report::doubtful(scenario),
    };
    match scenario::read_judged(path, &Cache::of_user(), &judge) {
        Ok(reading) => {
            for warning in &reading.warnings {
                let text = warning.render(screen.colour_notes());
                screen.note_coloured(&format!("{text}\n\n"));
            }
            Ok(reading)
        }
        Err(complaints) => Err(Stop::Wrong(complaints.render(screen.colour_notes()))),
    }
}

/// What the log beside a scenario has measured; a log that cannot be read is told, and nothing is taken from it.
fn measured_by_log(path: &Path, scenario: &Scenario, screen: &mut Screen) -> Vec<Measurement> {
    match Log::read(&shoplog::beside(path), scenario) {
        Ok(Some(log)) => {
            let (measured, unknown) = shoplog::measured(scenario, &log);
            screen.note(&left_out(unknown));
            measured
        }
        Ok(None) => Vec::new(),
        Err(trouble) => {
            screen.note(&format!("{trouble}; what it measured is not used\n"));
            Vec::new()
        }
    }
}

/// How many measurements of the log are not used; empty for none.
fn left_out(measurements: usize) -> String {
    match measurements {
        0 => String::new(),
        n => format!(
            "{n} of the log's measurements are not used: what was estimated when they were noted is not known, and the scenario has changed since\n"
        ),
    }
}

/// Reads a scenario at the bench, where nobody wants to be told each time what `check` and `plan` say of it.
fn read_quietly(path: &Path, screen: &Screen) -> Result<Scenario, Stop> {
    scenario::read_with(path, &Cache::of_user())
        .map(|reading| reading.scenario)
        .map_err(|complaints| Stop::Wrong(complaints.render(screen.colour_notes())))
}

/// Ends the command if nothing can make some part.
fn all_can_be_made(reading: &Reading, screen: &Screen) -> Result<(), Stop> {
    if reading.unmakeable.is_empty() {
        return Ok(());
    }
    let told = reading.unmakeable.iter();
    let told = told.map(|complaint| complaint.render(screen.colour_notes()));
    let told: Vec<String> = told.collect();
    let parts = match told.len() {
        1 => "1 part".to_owned(),
        several => format!("{several} parts"),
    };
    Err(Stop::Wrong(format!(
        "{}\n\nNo plan exists: {parts} can be made on no machine.",
        told.join("\n\n")
    )))
}
