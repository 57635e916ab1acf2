//! What `beamyard log` takes.
//!
//! Knows: names and shapes of arguments. Must not know: what they lead to.
//! Promises: what is noted and what only reads or takes in the log are apart.

use std::path::PathBuf;

use clap::Subcommand;

/// Note what really happened: runs, pieces, spools, machines, assemblies
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file, or a name that only one here or in `scenarios/` has
    #[arg(value_name = "SCENARIO")]
    pub(super) scenario: PathBuf,

    /// When it happened: `18:40`, `yesterday 18:40` or `2027-01-11 18:40`; else now
    #[arg(long, value_name = "TIME", global = true)]
    pub(super) at: Option<String>,

    /// Take this for the present moment, to rehearse or where the clock is wrong
    #[arg(long, value_name = "TIME", global = true)]
    pub(super) now: Option<String>,

    /// Answer for other programs
    #[arg(long, global = true)]
    pub(super) json: bool,

    #[command(subcommand)]
    pub(super) what: What,
}

#[derive(Debug, Subcommand)]
pub(super) enum What {
    #[command(flatten)]
    Noted(Noted),
    /// All entries as JSON, one a line
    Export,
    /// Take in what was exported or another program wrote, all of it or nothing; `-` for standard input
    Import {
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// All entries to read
    Show {
        /// Only the last so many
        #[arg(long, value_name = "N", value_parser = count)]
        last: Option<u32>,
    },
}

/// What is noted.
#[derive(Debug, Subcommand)]
pub(super) enum Noted {
    /// A run was started: its name, or a machine for the next planned there
    Started {
        #[arg(value_name = "RUN|MACHINE")]
        run: String,
        /// The spool that it prints from
        #[arg(long, value_name = "SPOOL")]
        spool: Option<String>,
    },
    /// A run came to its end: its name, or the machine that it is on
    Finished {
        #[arg(value_name = "RUN|MACHINE")]
        run: String,
        /// Pieces that are no good: `pin`, `pin=2`, `pin:3` (copy 3), `chord:1:2` (length 2 of copy 1)
        #[arg(long, value_name = "PIECES")]
        scrapped: Vec<String>,
        /// Pieces that are good, all others are not
        #[arg(long, value_name = "PIECES", conflicts_with = "scrapped")]
        good: Vec<String>,
        #[command(flatten)]
        why: Why,
        /// It was so, however soon after the start
        #[arg(long)]
        sure: bool,
    },
    /// A run was ended and nothing on it is good
    Scrapped {
        #[arg(value_name = "RUN|MACHINE")]
        run: String,
        #[command(flatten)]
        why: Why,
        /// Grams lost, where they were weighed
        #[arg(long, value_name = "GRAMS", value_parser = grams)]
        grams: Option<f64>,
    },
    /// The lengths of a copy were joined: `chord:2`
    Joined {
        #[arg(value_name = "PART:COPY")]
        copy: String,
    },
    /// Pieces were weighed: a part, one piece of it (`pin:3`), or a run with one kind of piece
    Weighed {
        #[arg(value_name = "PIECE|PART|RUN|MACHINE")]
        what: String,
        #[arg(value_name = "GRAMS", value_parser = grams)]
        grams: f64,
        #[command(flatten)]
        sample: SampleArguments,
    },
    /// A run with one kind of piece was timed, warm-up left out: `5 h 12 min`
    Timed {
        #[arg(value_name = "PART|RUN|MACHINE")]
        what: String,
        #[arg(value_name = "TIME")]
        time: String,
        #[command(flatten)]
        sample: SampleArguments,
    },
    /// The trial copies of a part are right
    Approved {
        #[arg(value_name = "PART")]
        part: String,
        /// The variant that you chose, if it has some
        #[arg(value_name = "VARIANT")]
        variant: Option<String>,
    },
    /// The trial copies of a part are not right
    Rejected {
        #[arg(value_name = "PART")]
        part: String,
        #[command(flatten)]
        why: Why,
    },
    /// Good pieces that are in no assembly are lost: they cracked, or cannot be used after all
    Lost {
        /// As for `finished --scrapped`: `pin`, `pin=2`, `pin:3` (copy 3), `chord:1:2` (length 2 of copy 1)
        #[arg(value_name = "PIECES", required = true)]
        pieces: Vec<String>,
        #[command(flatten)]
        why: Why,
    },
    /// A spool was put on, weighed, bought, or is empty
    Spool {
        #[command(subcommand)]
        what: SpoolWhat,
    },
    /// A machine is out of order
    Down {
        #[arg(value_name = "MACHINE")]
        machine: String,
        #[command(flatten)]
        why: Why,
        /// Until when, as far as anybody knows: `2027-01-12 18:00`
        #[arg(long, value_name = "TIME")]
        until: Option<String>,
    },
    /// A machine works again
    Up {
        #[arg(value_name = "MACHINE")]
        machine: String,
    },
    /// The bench work of an assembly was started, or is complete
    Assembly {
        #[command(subcommand)]
        what: AssemblyWhat,
    },
    /// Anything else worth knowing
    Note {
        #[arg(value_name = "TEXT", required = true)]
        text: Vec<String>,
    },
    /// An entry was a mistake: its number, or the last one
    Undo {
        #[arg(value_name = "NUMBER", value_parser = count)]
        entry: Option<u32>,
    },
}

#[derive(Debug, clap::Args)]
pub(super) struct Why {
    /// What happened, or is wrong
    #[arg(
        long,
        value_name = "TEXT",
        default_value = "",
        hide_default_value = true
    )]
    pub(super) why: String,
}

#[derive(Debug, clap::Args)]
pub(super) struct SampleArguments {
    /// Where they were printed, if on several machines
    #[arg(long, value_name = "MACHINE")]
    pub(super) machine: Option<String>,
    /// How many together; else one, or all of the run
    #[arg(long, value_name = "N", value_parser = count)]
    pub(super) pieces: Option<u32>,
    /// Each is one of so many lengths of a copy, if it was printed in several ways
    #[arg(long, value_name = "N", value_parser = count)]
    pub(super) lengths: Option<u32>,
}

#[derive(Debug, Subcommand)]
pub(super) enum SpoolWhat {
    /// It was put on a machine
    Opened {
        #[arg(value_name = "SPOOL")]
        spool: String,
        #[arg(value_name = "MACHINE")]
        machine: String,
    },
    /// So many grams of plastic are left on it, the empty spool taken off
    Weighed {
        #[arg(value_name = "SPOOL")]
        spool: String,
        #[arg(value_name = "GRAMS", value_parser = grams)]
        grams: f64,
    },
    /// A spool of a filament was bought
    Bought {
        #[arg(value_name = "FILAMENT")]
        filament: String,
        /// What is on it; else as on a new spool of the scenario
        #[arg(value_name = "GRAMS", value_parser = grams)]
        grams: Option<f64>,
        /// Its name; else the next free one, such as `yellow-3`
        #[arg(long, value_name = "NAME")]
        name: Option<String>,
        /// When it comes, if it is not here yet: `2027-01-12 18:00`
        #[arg(long, value_name = "TIME")]
        arrives: Option<String>,
    },
    /// It is empty
    Empty {
        #[arg(value_name = "SPOOL")]
        spool: String,
    },
}

#[derive(Debug, Subcommand)]
pub(super) enum AssemblyWhat {
    /// Its bench work was begun
    Started {
        #[arg(value_name = "ASSEMBLY")]
        assembly: String,
    },
    /// Its bench work is done; its cure counts from here
    Complete {
        #[arg(value_name = "ASSEMBLY")]
        assembly: String,
    },
}

/// Grams as somebody writes them.
fn grams(written: &str) -> Result<f64, String> {
    let number = |text: &str| text.parse().ok().filter(|number: &f64| number.is_finite());
    if let Some(grams) = number(written) {
        return Ok(grams);
    }
    let bare = written
        .trim()
        .trim_end_matches(['g', ' '])
        .replace(',', ".");
    Err(match number(&bare) {
        Some(_) if written.contains(',') => format!("write it with a decimal point, `{bare}`"),
        Some(_) => format!("write the number of grams alone, `{bare}`"),
        None => "write a number of grams, such as `27.5`".to_owned(),
    })
}

/// A number of things, or of an entry.
fn count(written: &str) -> Result<u32, String> {
    let number = written.parse().ok().filter(|&number: &u32| number > 0);
    number.ok_or_else(|| "write a whole number, 1 or more, such as `3`".to_owned())
}
