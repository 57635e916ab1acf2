//! How good plans are, how fast, at what size, and what each part of the search is worth: `cargo bench --bench plans`.
//!
//! Without arguments it takes about three minutes. All there is to choose: `cargo bench --bench plans -- --help`. For
//! example, the long run that `docs/benchmarks.md` is written from:
//!
//! ```text
//! cargo bench --bench plans -- --write --seconds 10,60 --prove 120 \
//!     --sizes farm-8,farm-20,farm-60,farm-150,farm-400,tower-5x60,tower-20x2000,tower-50x5000,tower-200x20000
//! ```
//!
//! Knows: arguments, which tables there are. Must not know: how anything is measured.
//! Promises: the instances are drawn here from seeds; nothing else is read but the scenario that the program plans.

mod ablation;
mod farm;
mod growth;
mod instance;
mod memory;
mod program;
mod setting;
mod table;
mod tower;
mod trial;

use std::fs;
use std::path::Path;
use std::process::ExitCode;

use clap::{Parser, ValueEnum};

use ablation::Ablation;
use growth::Growth;
use instance::Instance;

/// Where `--write` writes, from the project's folder.
const DOCUMENT: &str = "docs/benchmarks.md";

/// Measures plans: cost, bound, time and memory by size; what the search loses without each of its parts
#[derive(Debug, Parser)]
#[command(bin_name = "cargo bench --bench plans --")]
struct Arguments {
    /// Which tables
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        default_value = "growth,ablations,program"
    )]
    tables: Vec<Table>,

    /// Sizes in the table of growth: farm-RUNS, tower-MACHINESxPIECES, watched-MACHINESxPIECES
    #[arg(
        long,
        value_delimiter = ',',
        default_value = "farm-8,farm-20,farm-60,farm-150,farm-400,tower-5x60,tower-20x2000"
    )]
    sizes: Vec<Instance>,

    /// Seeds: each draws a build of every size, and the search's chance
    #[arg(long, value_delimiter = ',', default_value = "1,2,3")]
    seeds: Vec<u64>,

    /// Seconds of search; several give a row each
    #[arg(long, value_delimiter = ',', value_parser = seconds, default_value = "2")]
    seconds: Vec<f64>,

    /// Seconds for the bound, after the search
    #[arg(long, value_parser = seconds, default_value = "2")]
    prove: f64,

    /// Instances for the ablations
    #[arg(
        long,
        value_delimiter = ',',
        default_value = "farm-60,tower-5x60,watched-5x60"
    )]
    ablate: Vec<Instance>,

    /// Moves of each search in the ablations
    #[arg(long, default_value_t = 280_000)]
    effort: u64,

    /// The scenarios that the program checks and plans
    #[arg(
        long,
        value_delimiter = ',',
        default_value = "scenarios/quayside-crane.yaml"
    )]
    scenario: Vec<String>,

    /// What else the program's `plan` is given, such as --with=--seconds,10,--prove,50s
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true)]
    with: Vec<String>,

    /// Also write the tables to docs/benchmarks.md
    #[arg(long)]
    write: bool,

    /// Plan one trial and answer with its outcome, for the measuring process
    #[arg(long, hide = true)]
    trial: Option<String>,

    /// Given by `cargo bench`
    #[arg(long, hide = true)]
    bench: bool,
}

/// The tables that there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Table {
    /// By size
    Growth,
    /// Without each part of the search
    Ablations,
    /// The program on a scenario file
    Program,
}

fn seconds(written: &str) -> Result<f64, String> {
    match written.parse() {
        Ok(seconds) if (0.0..=86_400.0).contains(&seconds) => Ok(seconds),
        _ => Err("write seconds from 0 to 86400".to_owned()),
    }
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let done = if let Some(job) = &arguments.trial {
        trial::answer(job)
    } else if arguments.bench {
        report(&arguments)
    } else {
        // `cargo test --benches` starts benchmarks too, only to see that they start.
        println!("run me with: cargo bench --bench plans");
        Ok(())
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(reason) => {
            eprintln!("{reason}");
            ExitCode::FAILURE
        }
    }
}

fn report(arguments: &Arguments) -> Result<(), String> {
    // Described first: the load is that of others.
    let mut document = format!("# Benchmarks\n\n{}", setting::describe());
    for table in &arguments.tables {
        let section = match table {
            Table::Growth => growth::section(&Growth {
                sizes: &arguments.sizes,
                seeds: &arguments.seeds,
                seconds: &arguments.seconds,
                prove: arguments.prove,
            }),
            Table::Ablations => ablation::section(&Ablation {
                sizes: &arguments.ablate,
                seeds: &arguments.seeds,
                effort: arguments.effort,
            }),
            Table::Program => arguments
                .scenario
                .iter()
                .map(|scenario| program::section(scenario, &arguments.with, &arguments.seeds))
                .collect(),
        };
        document += &format!("\n{}\n", section.trim_end());
    }
    println!("{document}");
    if arguments.write {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(DOCUMENT);
        let folder = path.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder)
            .and_then(|()| fs::write(&path, &document))
            .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
        eprintln!("written to {}", path.display());
    }
    Ok(())
}
