//! `beamyard measure`: what a machine program (G-code) comes to.
//!
//! Knows: its arguments. Must not know: how a program is read, how the table looks.
//! Promises: nothing is shown of a program that cannot be read to its end.

use std::path::PathBuf;

use clap::ValueEnum;

use crate::report::{self, Material};
use crate::scenario::gcode;
use crate::toolpath::Kinematics;
use crate::units::{Density, Millimetres};

use super::{Screen, Stop};

/// Measure a G-code file: filament, printing time, size, layers
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The program of a machine, a G-code file
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// What to show
    #[arg(long, value_enum, default_value_t = Format::Table)]
    format: Format,

    /// Diameter of the filament, in mm
    #[arg(long, value_name = "MM", default_value_t = 1.75, value_parser = diameter)]
    diameter: f64,

    /// Density of the filament, in g/cm³
    #[arg(long, value_name = "G/CM3", default_value_t = 1.24, value_parser = density)]
    density: f64,

    /// Take diameter and density of a filament of this scenario
    #[arg(long, value_name = "SCENARIO", requires = "filament")]
    scenario: Option<PathBuf>,

    /// Which filament of the scenario
    #[arg(long, value_name = "ID", requires = "scenario", conflicts_with_all = ["diameter", "density"])]
    filament: Option<String>,

    /// How fast the head gains speed, in mm/s²; M204 in the file has the last word
    #[arg(long, value_name = "MM/S2", default_value_t = Kinematics::USUAL.acceleration, value_parser = acceleration)]
    acceleration: f64,

    /// By how many mm the head may cut a corner
    #[arg(long, value_name = "MM", default_value_t = Kinematics::USUAL.deviation, value_parser = deviation)]
    corner: f64,
}

/// How `measure` shows what it found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Text for the terminal
    Table,
    /// For other programs
    Json,
}

fn within(written: &str, least: f64, most: f64, unit: &str) -> Result<f64, String> {
    match written.parse() {
        Ok(number) if (least..=most).contains(&number) => Ok(number),
        _ => Err(format!("write a number, {least} to {most} {unit}")),
    }
}

fn diameter(written: &str) -> Result<f64, String> {
    within(written, 0.5, 10.0, "mm")
}

fn density(written: &str) -> Result<f64, String> {
    within(written, 0.2, 10.0, "g/cm³")
}

fn acceleration(written: &str) -> Result<f64, String> {
    within(written, 1.0, 1e6, "mm/s²")
}

fn deviation(written: &str) -> Result<f64, String> {
    within(written, 0.001, 10.0, "mm")
}

/// Measures the file and shows what it comes to.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let material = material(arguments, screen)?;
    let kinematics = Kinematics {
        acceleration: arguments.acceleration,
        deviation: arguments.corner,
    };
    let measured = gcode::measure(&arguments.file, kinematics)
        .map_err(|complaint| Stop::Wrong(complaint.render(screen.colour_notes())))?;
    let shown = match arguments.format {
        Format::Table => {
            let name = arguments.file.display().to_string();
            report::measure_table(&name, &measured, material, &screen.look())
        }
        Format::Json => report::measure_json(&measured, material),
    };
    screen.print(&shown)
}

/// The filament that the program is measured with.
fn material(arguments: &Arguments, screen: &mut Screen) -> Result<Material, Stop> {
    let (Some(path), Some(id)) = (&arguments.scenario, &arguments.filament) else {
        return Ok(Material {
            diameter: Millimetres(arguments.diameter),
            density: Density(arguments.density),
        });
    };
    let scenario = super::read(path, screen)?.scenario;
    match scenario
        .filaments
        .iter()
        .find(|filament| filament.id == *id)
    {
        Some(filament) => Ok(Material {
            diameter: filament.diameter,
            density: filament.density,
        }),
        None => {
            let known: Vec<&str> = scenario.filaments.iter().map(|f| f.id.as_str()).collect();
            Err(Stop::Failed(format!(
                "{}: there is no filament of this name (found {id}); take one of {}",
                path.display(),
                known.join(", ")
            )))
        }
    }
}
