//! `beamyard log`: what really happened, noted in seconds.
//!
//! Knows: its arguments. Must not know: what may be noted, where the log is kept, how an entry is told.
//! Promises: it says that something was noted only when it is on the disk; what is refused leaves no trace.

mod arguments;

use std::path::Path;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::report;
use crate::scenario::{self, Scenario};
use crate::shoplog::{self, Event, Log, Noting, Refusal, Said, Short, State, Trouble};

use super::{Screen, Stop};
pub use arguments::Arguments;
use arguments::{AssemblyWhat, Noted, SampleArguments, SpoolWhat, What};

/// Why nothing was noted, shown or taken in.
enum Failure {
    /// The log will not have it.
    Trouble(Trouble),
    /// Anything else.
    Stop(Stop),
}

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Self {
        Self::Trouble(trouble)
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        Self::Trouble(Trouble::Refused(refusal))
    }
}

impl From<Stop> for Failure {
    fn from(stop: Stop) -> Self {
        Self::Stop(stop)
    }
}

/// Reads the scenario and its log, and notes or shows what was asked.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let Err(failure) = answer(arguments, screen) else {
        return Ok(());
    };
    let (stop, told) = match failure {
        Failure::Trouble(trouble) => {
            let file = match (&arguments.what, &trouble) {
                (What::Import { file }, Trouble::Line { .. }) => format!("{}: ", file.display()),
                _ => String::new(),
            };
            let told = report::trouble_json(&trouble);
            (Stop::Failed(format!("{file}{trouble}")), Some(told))
        }
        Failure::Stop(Stop::Failed(why)) => {
            let told = report::failed_json(&why);
            (Stop::Failed(why), Some(told))
        }
        Failure::Stop(stop) => (stop, None),
    };
    // What is exported is entries and nothing else.
    let told = told.filter(|_| arguments.json && !matches!(arguments.what, What::Export));
    if let Some(told) = told {
        screen.print(&told)?;
    }
    Err(stop)
}

fn answer(arguments: &Arguments, screen: &mut Screen) -> Result<(), Failure> {
    if arguments.at.is_some() && !matches!(arguments.what, What::Noted(_)) {
        let why = "`--at` says when what is noted happened; leave it out here, each entry has its own moment";
        return Err(Stop::Failed(why.to_owned()).into());
    }
    let path = scenario::find(&arguments.scenario).map_err(Stop::Failed)?;
    let scenario = super::read_quietly(&path, screen)?;
    let file = shoplog::beside(&path);
    let now =
        super::moment(arguments.now.as_deref(), &scenario, Utc::now())?.unwrap_or_else(Utc::now);
    let at = super::moment(arguments.at.as_deref(), &scenario, now)?.unwrap_or(now);
    match &arguments.what {
        What::Export | What::Show { .. } => {
            let read = Log::read(&file, &scenario);
            if let (What::Export, Err(trouble @ Trouble::Damaged { .. })) = (&arguments.what, &read)
            {
                return salvage(&file, trouble, screen);
            }
            let Some(log) = read? else {
                return Err(Stop::Failed(super::no_log(&file)).into());
            };
            screen.print(&match &arguments.what {
                What::Show { last } => {
                    let last = last.map(|n| n as usize);
                    match arguments.json {
                        true => report::shown_log_json(&log, last),
                        false => report::shown_log(&scenario, &log, last, &screen.look()),
                    }
                }
                _ => log.export(),
            })?;
        }
        What::Import { file: lines } => {
            let text = lines_of(lines)?;
            let mut log = Log::rehearse(&file, &scenario)?;
            let mut imported = Default::default();
            // What is refused makes no log, and neither does a file with nothing in it.
            if file.exists() || log.import(&text, now)?.added > 0 {
                log = Log::open(&file, &scenario)?;
                imported = log.import(&text, now)?;
            }
            let shoplog::Imported { added, known } = imported;
            screen.print(&if arguments.json {
                format!("{{\"added\":{added},\"known\":{known}}}\n")
            } else {
                format!("{added} taken in, {known} were there already.\n")
            })?;
        }
        What::Noted(noted) => {
            if !file.exists() {
                // What is refused makes no log. Where another program has made one by now, that one counts.
                let rehearsed = rehearsed(noted, &file, &scenario, at, now);
                if !file.exists() {
                    rehearsed?;
                }
            }
            let mut log = Noting::open(&file, &scenario)?;
            let event = event(noted, &mut log, &scenario, now)?;
            let odd = report::odd(&scenario, log.state(), &event, at);
            let entry = log.note(event, at, now)?;
            screen.print(&if arguments.json {
                report::noted_json(&log, &entry, &odd)
            } else {
                report::noted(&scenario, &log, &entry, &odd, &screen.look())
            })?;
        }
    }
    Ok(())
}

/// What can still be read of a damaged log, and that it is not all.
fn salvage(file: &Path, trouble: &Trouble, screen: &mut Screen) -> Result<(), Failure> {
    let (lines, entries) = Log::salvage(file)?;
    screen.print(&lines)?;
    let which = match entries {
        0 => "none".to_owned(),
        1 => "entry 1".to_owned(),
        _ => format!("entries 1 to {entries}"),
    };
    let why =
        format!("{trouble}\nexported: {which}; the next cannot be read or is not what was noted");
    Err(Stop::Failed(why).into())
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

/// Whether an event could be the first of a log.
fn rehearsed(
    noted: &Noted,
    file: &Path,
    scenario: &Scenario,
    at: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<(), Failure> {
    let mut log = Noting::rehearse(file, scenario)?;
    let event = event(noted, &mut log, scenario, now)?;
    log.note(event, at, now)?;
    Ok(())
}

/// The event in full.
fn event(
    noted: &Noted,
    log: &mut Noting,
    scenario: &Scenario,
    now: DateTime<Utc>,
) -> Result<Event, Failure> {
    let short = Short(log.state());
    Ok(match noted {
        Noted::Started { run, spool } => Event::Started {
            run: short.to_start(run)?,
            spool: spool.clone(),
        },
        Noted::Finished {
            run,
            scrapped,
            good,
            why,
            sure,
        } => {
            let run = short.to_end(run)?;
            let scrapped = if good.is_empty() {
                short.pieces(&run, scrapped)
            } else {
                short.all_but(&run, good)
            };
            Event::Finished {
                run,
                scrapped: scrapped?,
                why: why.why.clone(),
                sure: *sure,
            }
        }
        Noted::Scrapped { run, why, grams } => Event::Scrapped {
            run: short.to_end(run)?,
            why: why.why.clone(),
            grams: *grams,
        },
        Noted::Joined { copy } => {
            let named = copy.split_once(':');
            let Some((part, Ok(number))) = named.map(|(part, number)| (part, number.parse()))
            else {
                return Err(Failure::from(Refusal {
                    what: format!("`{copy}` names no copy"),
                    fix: "write `chord:2` for copy 2 of chord".to_owned(),
                }));
            };
            Event::Joined {
                part: part.to_owned(),
                number,
            }
        }
        Noted::Weighed {
            what,
            grams,
            sample: s,
        } => {
            let sample = short.weighed(what, &said(s))?;
            Event::Weighed {
                estimated: shoplog::estimated(scenario, &sample),
                sample,
                grams: *grams,
            }
        }
        Noted::Timed {
            what,
            time,
            sample: s,
        } => {
            let Some(time) = scenario::duration(time) else {
                return Err(Failure::from(Refusal {
                    what: format!("`{time}` is no time"),
                    fix: "write for example `5 h 12 min` or `312min`".to_owned(),
                }));
            };
            let sample = short.timed(what, &said(s))?;
            Event::Timed {
                estimated: shoplog::estimated(scenario, &sample),
                sample,
                minutes: time.0 / 60.0,
            }
        }
        Noted::Approved { part, variant } => Event::Approved {
            part: part.clone(),
            variant: variant.clone(),
        },
        Noted::Rejected { part, why } => Event::Rejected {
            part: part.clone(),
            why: why.why.clone(),
        },
        Noted::Lost { pieces, why } => Event::Lost {
            pieces: short.good(pieces)?,
            why: why.why.clone(),
        },
        Noted::Spool { what } => spool(what, log.state(), scenario, now)?,
        Noted::Down {
            machine,
            why,
            until,
        } => Event::Down {
            machine: machine.clone(),
            why: why.why.clone(),
            until: super::moment_ahead(until.as_deref(), scenario, now)?,
        },
        Noted::Up { machine } => Event::Up {
            machine: machine.clone(),
        },
        Noted::Assembly { what } => match what {
            AssemblyWhat::Started { assembly } => Event::AssemblyStarted {
                assembly: assembly.clone(),
            },
            AssemblyWhat::Complete { assembly } => Event::AssemblyComplete {
                assembly: assembly.clone(),
            },
        },
        Noted::Note { text } => Event::Note {
            text: text.join(" "),
        },
        Noted::Undo { entry } => Event::Undone {
            id: to_undo(log.whole()?, entry.map(|n| n as usize))?,
        },
    })
}

fn said(sample: &SampleArguments) -> Said<'_> {
    Said {
        machine: sample.machine.as_deref(),
        pieces: sample.pieces,
        of: sample.lengths,
    }
}

fn spool(
    what: &SpoolWhat,
    state: &State,
    scenario: &Scenario,
    now: DateTime<Utc>,
) -> Result<Event, Failure> {
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
                    .unwrap_or_else(|| shoplog::next_spool(state, filament)),
                filament: filament.clone(),
                grams: grams.unwrap_or(new),
                arrives: super::moment_ahead(arrives.as_deref(), scenario, now)?,
            }
        }
        SpoolWhat::Empty { spool } => Event::SpoolEmpty {
            spool: spool.clone(),
        },
    })
}

/// The entry of a number, or the last that can be undone.
fn to_undo(log: &Log, number: Option<usize>) -> Result<Uuid, Refusal> {
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
        Refusal {
            what,
            fix: "`log SCENARIO show` lists all entries".to_owned(),
        }
    })
}
