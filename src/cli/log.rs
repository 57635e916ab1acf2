//! `beamyard log`: what really happened, noted in seconds.
//!
//! Knows: its arguments. Must not know: what may be noted, where the log is kept, how an entry is told.
//! Promises: it says that something was noted only when it is on the disk; what is refused leaves no trace.

use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use clap::Subcommand;
use uuid::Uuid;

use crate::report;
use crate::scenario::{self, Scenario};
use crate::shoplog::{self, Event, Log, Refusal, Short, Trouble};

use super::{Screen, Stop};

/// Note what really happened: runs, pieces, spools, machines, assemblies
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file, or a name that only one here or in `scenarios/` has
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// When it happened: `18:40`, `yesterday 18:40` or `2027-01-11 18:40`; else now
    #[arg(long, value_name = "TIME", global = true)]
    at: Option<String>,

    /// Take this for the present moment, to rehearse or where the clock is wrong
    #[arg(long, value_name = "TIME", global = true)]
    now: Option<String>,

    /// Answer for other programs
    #[arg(long, global = true)]
    json: bool,

    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
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
        /// What is wrong with them
        #[arg(
            long,
            value_name = "TEXT",
            default_value = "",
            hide_default_value = true
        )]
        why: String,
    },
    /// A run was ended and nothing on it is good
    Scrapped {
        #[arg(value_name = "RUN|MACHINE")]
        run: String,
        /// What happened
        #[arg(
            long,
            value_name = "TEXT",
            default_value = "",
            hide_default_value = true
        )]
        why: String,
        /// Grams lost, where they were weighed
        #[arg(long, value_name = "GRAMS")]
        grams: Option<f64>,
    },
    /// The lengths of a copy were joined: `chord:2`
    Joined {
        #[arg(value_name = "PART:COPY")]
        copy: String,
    },
    /// Pieces were weighed: a part, or a run with one kind of piece
    Weighed {
        #[arg(value_name = "PART|RUN|MACHINE")]
        what: String,
        #[arg(value_name = "GRAMS")]
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
    },
    /// The trial copies of a part are not right
    Rejected {
        #[arg(value_name = "PART")]
        part: String,
        /// What is wrong with them
        #[arg(
            long,
            value_name = "TEXT",
            default_value = "",
            hide_default_value = true
        )]
        why: String,
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
        /// What is wrong with it
        #[arg(
            long,
            value_name = "TEXT",
            default_value = "",
            hide_default_value = true
        )]
        why: String,
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
        #[arg(value_name = "NUMBER")]
        entry: Option<usize>,
    },
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
        #[arg(long, value_name = "N")]
        last: Option<usize>,
    },
}

#[derive(Debug, clap::Args)]
struct SampleArguments {
    /// Where they were printed, if on several machines
    #[arg(long, value_name = "MACHINE")]
    machine: Option<String>,
    /// How many together; else one, or all of the run
    #[arg(long, value_name = "N")]
    pieces: Option<u32>,
    /// Each is one of so many lengths of a copy, if it was printed in several ways
    #[arg(long, value_name = "N")]
    lengths: Option<u32>,
}

#[derive(Debug, Subcommand)]
enum SpoolWhat {
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
        #[arg(value_name = "GRAMS")]
        grams: f64,
    },
    /// A spool of a filament was bought
    Bought {
        #[arg(value_name = "FILAMENT")]
        filament: String,
        /// What is on it; else as on a new spool of the scenario
        #[arg(value_name = "GRAMS")]
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
enum AssemblyWhat {
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

/// Reads the scenario and its log, and notes or shows what was asked.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let path = scenario::find(&arguments.scenario).map_err(Stop::Failed)?;
    let scenario = super::read_quietly(&path, screen)?;
    let file = shoplog::beside(&path);
    let now =
        super::moment(arguments.now.as_deref(), &scenario, Utc::now())?.unwrap_or_else(Utc::now);
    let at = super::moment(arguments.at.as_deref(), &scenario, now)?.unwrap_or(now);
    match &arguments.what {
        What::Export | What::Show { .. } => {
            let Some(log) = Log::read(&file, &scenario).map_err(failed)? else {
                return Err(Stop::Failed(super::no_log(&file)));
            };
            screen.print(&match &arguments.what {
                What::Show { last } if !arguments.json => {
                    report::shown_log(&scenario, &log, *last, &screen.look())
                }
                _ => log.export(),
            })
        }
        What::Import { file: lines } => {
            let text = lines_of(lines)?;
            let mut log = Log::open(&file, &scenario).map_err(failed)?;
            let imported = log
                .import(&text, now)
                .map_err(|trouble| Stop::Failed(format!("{}: {trouble}", lines.display())))?;
            let shoplog::Imported { added, known } = imported;
            screen.print(&if arguments.json {
                format!("{{\"added\":{added},\"known\":{known}}}\n")
            } else {
                format!("{added} taken in, {known} were there already.\n")
            })
        }
        what => {
            let mut log = Log::open(&file, &scenario).map_err(failed)?;
            let event = event(what, &log, &scenario, now)?;
            log.note(event, at, now).map_err(failed)?;
            screen.print(&if arguments.json {
                let entries = log.export();
                format!("{}\n", entries.lines().last().unwrap_or_default())
            } else {
                report::noted(&scenario, &log, &screen.look())
            })
        }
    }
}

fn failed(trouble: Trouble) -> Stop {
    Stop::Failed(trouble.to_string())
}

fn refused(refusal: Refusal) -> Stop {
    failed(Trouble::Refused(refusal))
}

/// The lines of a file, or of standard input.
fn lines_of(file: &Path) -> Result<String, Stop> {
    let read = if file == Path::new("-") {
        std::io::read_to_string(std::io::stdin())
    } else {
        shoplog::text_of(file)
    };
    read.map_err(|error| Stop::Failed(format!("{}: cannot be read: {error}", file.display())))
}

/// The event in full.
fn event(what: &What, log: &Log, scenario: &Scenario, now: DateTime<Utc>) -> Result<Event, Stop> {
    let short = Short(log.state());
    let sample = |what: &str, sample: &SampleArguments| {
        let machine = sample.machine.as_deref();
        short
            .sample(what, machine, sample.pieces, sample.lengths)
            .map_err(refused)
    };
    Ok(match what {
        What::Started { run, spool } => Event::Started {
            run: short.to_start(run).map_err(refused)?,
            spool: spool.clone(),
        },
        What::Finished {
            run,
            scrapped,
            good,
            why,
        } => {
            let run = short.to_end(run).map_err(refused)?;
            let scrapped = if good.is_empty() {
                short.pieces(&run, scrapped)
            } else {
                short.all_but(&run, good)
            };
            Event::Finished {
                run,
                scrapped: scrapped.map_err(refused)?,
                why: why.clone(),
            }
        }
        What::Scrapped { run, why, grams } => Event::Scrapped {
            run: short.to_end(run).map_err(refused)?,
            why: why.clone(),
            grams: *grams,
        },
        What::Joined { copy } => {
            let named = copy.split_once(':');
            let Some((part, Ok(number))) = named.map(|(part, number)| (part, number.parse()))
            else {
                let how = format!(
                    "not noted: `{copy}` names no copy; write `chord:2` for copy 2 of chord"
                );
                return Err(Stop::Failed(how));
            };
            Event::Joined {
                part: part.to_owned(),
                number,
            }
        }
        What::Weighed {
            what,
            grams,
            sample: s,
        } => Event::Weighed {
            sample: sample(what, s)?,
            grams: *grams,
        },
        What::Timed {
            what,
            time,
            sample: s,
        } => {
            let Some(time) = scenario::duration(time) else {
                let how = format!(
                    "not noted: `{time}` is no time; write for example `5 h 12 min` or `312min`"
                );
                return Err(Stop::Failed(how));
            };
            Event::Timed {
                sample: sample(what, s)?,
                minutes: time.0 / 60.0,
            }
        }
        What::Approved { part } => Event::Approved { part: part.clone() },
        What::Rejected { part, why } => Event::Rejected {
            part: part.clone(),
            why: why.clone(),
        },
        What::Spool { what } => spool(what, log, scenario, now)?,
        What::Down {
            machine,
            why,
            until,
        } => Event::Down {
            machine: machine.clone(),
            why: why.clone(),
            until: super::moment(until.as_deref(), scenario, now)?,
        },
        What::Up { machine } => Event::Up {
            machine: machine.clone(),
        },
        What::Assembly { what } => match what {
            AssemblyWhat::Started { assembly } => Event::AssemblyStarted {
                assembly: assembly.clone(),
            },
            AssemblyWhat::Complete { assembly } => Event::AssemblyComplete {
                assembly: assembly.clone(),
            },
        },
        What::Note { text } => Event::Note {
            text: text.join(" "),
        },
        What::Undo { entry } => Event::Undone {
            id: to_undo(log, *entry)?,
        },
        // These note nothing; `run` has seen to them.
        What::Export | What::Import { .. } | What::Show { .. } => Event::Note {
            text: String::new(),
        },
    })
}

fn spool(
    what: &SpoolWhat,
    log: &Log,
    scenario: &Scenario,
    now: DateTime<Utc>,
) -> Result<Event, Stop> {
    Ok(match what {
        SpoolWhat::Opened { spool, machine } => Event::SpoolOpened {
            spool: spool.clone(),
            machine: machine.clone(),
        },
        SpoolWhat::Weighed { spool, grams } => Event::SpoolWeighed {
            spool: spool.clone(),
            grams: *grams,
        },
        SpoolWhat::Bought {
            filament,
            grams,
            name,
            arrives,
        } => {
            let known = scenario
                .filaments
                .iter()
                .find(|known| known.id == *filament);
            let new = known.map_or(0.0, |known| known.spool.0);
            Event::SpoolBought {
                spool: name
                    .clone()
                    .unwrap_or_else(|| shoplog::next_spool(log.state(), filament)),
                filament: filament.clone(),
                grams: grams.unwrap_or(new),
                arrives: super::moment(arrives.as_deref(), scenario, now)?,
            }
        }
        SpoolWhat::Empty { spool } => Event::SpoolEmpty {
            spool: spool.clone(),
        },
    })
}

/// The entry of a number, or the last that can be undone.
fn to_undo(log: &Log, number: Option<usize>) -> Result<Uuid, Stop> {
    let entries = log.entries();
    let found = match number {
        Some(number) => number.checked_sub(1).and_then(|at| entries.get(at)),
        None => {
            let mut latest = entries.iter().rev();
            latest
                .find(|entry| !matches!(entry.event, Event::Undone { .. }) && !log.is_undone(entry))
        }
    };
    found.map(|entry| entry.id).ok_or_else(|| {
        let what = match number {
            Some(number) => format!("there is no entry {number}"),
            None => "there is nothing to undo".to_owned(),
        };
        refused(Refusal {
            what,
            fix: "`log SCENARIO show` lists all entries".to_owned(),
        })
    })
}
