//! How the shop stands, on one screen or for other programs.
//!
//! Knows: a [`Status`], the build's zone. Must not know: the log, how anything was found.
//! Promises: short enough for a screen unless everything is asked for; `version` of the JSON changes when a key goes.

use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::scenario::Scenario;
use crate::shoplog::{Low, Next, Status, Task};
use crate::units::{Grams, Minutes};

use super::Look;
use super::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use super::json::decimals;
use super::local::{Local, day_and_year};
use super::words;

/// So many things to do are shown, unless all are asked for.
const SHOWN: usize = 7;

/// The format's version.
const VERSION: u32 = 1;

/// For the terminal.
pub fn status(scenario: &Scenario, status: &Status, differences: &[String], look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let today = local.date(status.now);
    let mut text = paragraph(
        look,
        0,
        format!(
            "{}, {} {}: {} printed, {} to print, {} lost",
            scenario.build.name,
            day_and_year(today),
            local.clock(status.now),
            words::count(status.printed, "piece", "pieces"),
            status.to_print,
            status.lost
        ),
    );
    if !status.planned {
        text.push_str(&paragraph(
            look,
            0,
            "No plan has been accepted: plan with --accept first.",
        ));
    }
    text.push_str(&heading(look, "Now printing"));
    let mut grid = Grid::new([Fit::Upto(16), Fit::Upto(20), Fit::Upto(24), Fit::Upto(200)]);
    for printing in &status.printing {
        let over = printing.until < status.now;
        let until = local.seen_from(today, printing.until);
        let until = if over {
            format!("! since {until}")
        } else {
            format!("until {until}")
        };
        let pieces = printing.pieces.iter();
        let pieces: Vec<String> = pieces
            .map(|(part, n)| format!("{n}×\u{a0}{part}"))
            .collect();
        let mut what = pieces.join(", ");
        if let Some(ends) = printing.spool_ends {
            let nobody = if printing.stops {
                " with nobody there"
            } else {
                ""
            };
            what.push_str(&format!(
                "; ! spool ends {}{nobody}",
                local.seen_from(today, ends)
            ));
        }
        grid.row([
            Text::from(printing.machine.clone()).tone(Tone::Strong),
            Text::from(printing.run.clone()),
            Text::from(until).tone(if over { Tone::Mark } else { Tone::Plain }),
            Text::from(what),
        ]);
    }
    for idle in &status.idle {
        let because = |why: &str| match why {
            "" => String::new(),
            why => format!(": {why}"),
        };
        let (what, tone) = match (&idle.down, &idle.offline) {
            (Some((since, why)), _) => {
                let since = local.full(*since);
                let until = idle.down_until.map_or(String::new(), |until| {
                    format!(" until {}", local.seen_from(today, until))
                });
                let down = format!("! down since {since}{until}{}", because(why));
                (down, Tone::Mark)
            }
            (None, Some((until, why))) => {
                let until = local.seen_from(today, *until);
                (
                    format!("out of use until {until}{}", because(why)),
                    Tone::Plain,
                )
            }
            (None, None) => ("idle".to_owned(), Tone::Quiet),
        };
        grid.row([
            Text::from(idle.machine.clone()).tone(Tone::Strong),
            Text::from(""),
            Text::from(""),
            Text::from(what).tone(tone),
        ]);
    }
    text.push_str(&grid.render(look, 0));

    text.push_str(&heading(look, "Next at the bench"));
    let shown = if look.all { status.next.len() } else { SHOWN };
    let mut grid = Grid::new([Fit::Upto(20), Fit::Upto(200)]);
    for next in status.next.iter().take(shown) {
        let when = if next.at <= status.now {
            "now".to_owned()
        } else {
            local.seen_from(today, next.at)
        };
        grid.row([Text::from(when), Text::from(task(&next.what, local))]);
    }
    if grid.is_empty() {
        text.push_str(&paragraph(look, 0, "Nothing."));
    } else {
        text.push_str(&grid.render(look, 0));
    }
    if status.next.len() > shown {
        let more = status.next.len() - shown;
        text.push_str(&paragraph(
            look,
            0,
            format!("{more} more; --all shows them."),
        ));
    }

    if !status.in_no_run.is_empty() {
        let lost = status.in_no_run.iter();
        let lost: Vec<String> = lost.map(|(part, n)| format!("{n}×\u{a0}{part}")).collect();
        let told = format!(
            "In no run: {}. Plan again for what was lost.",
            lost.join(", ")
        );
        text.push_str(&paragraph(look, 0, Text::from(told).tone(Tone::Mark)));
    }

    if !status.stages.is_empty() {
        text.push_str(&heading(look, "Stages"));
        let mut grid = Grid::new([Fit::Upto(24), Fit::Upto(20), Fit::Upto(20), Fit::Upto(200)]);
        grid.head(["Stage", "Due", "Complete", "Ahead or behind"]);
        for stage in &status.stages {
            let minutes = |from: DateTime<Utc>, to: DateTime<Utc>| (to - from).num_minutes();
            let slip = minutes(stage.planned, stage.expected);
            let late = minutes(stage.due, stage.expected);
            let plan = match slip {
                0 => "as planned".to_owned(),
                1.. => format!("{} behind the plan", words::span(Minutes(slip))),
                _ => format!("{} ahead of the plan", words::span(Minutes(-slip))),
            };
            let plan = if stage.complete {
                format!("complete, {plan}")
            } else {
                plan
            };
            let (verdict, tone) = if late > 0 {
                (
                    format!("{plan}; ! late by {}", words::span(Minutes(late))),
                    Tone::Mark,
                )
            } else {
                (plan, Tone::Plain)
            };
            grid.row([
                Text::from(stage.assembly.clone()).tone(Tone::Strong),
                Text::from(local.full(stage.due)),
                Text::from(local.full(stage.expected)),
                Text::from(verdict).tone(tone),
            ]);
        }
        text.push_str(&grid.render(look, 0));
    }

    if !status.low.is_empty() {
        text.push_str(&heading(look, "Filament low"));
        let mut grid = Grid::new([Fit::Upto(24), Fit::Upto(200)]);
        for low in &status.low {
            let mut what = format!(
                "{} needed, what prints included, {} here",
                words::mass(Grams(low.needed)),
                words::mass(Grams(low.here))
            );
            if low.coming > 0.0 {
                what.push_str(&format!(
                    ", {} on their way",
                    words::mass(Grams(low.coming))
                ));
            }
            let short = low.needed - low.here - low.coming;
            if short > 0.0 {
                what.push_str(&format!("; short by {}", words::mass(Grams(short))));
            }
            grid.row([
                Text::from(low.filament.clone()).tone(Tone::Strong),
                Text::from(what),
            ]);
        }
        text.push_str(&grid.render(look, 0));
        let short = |low: &Low| low.needed > low.here + low.coming;
        if status.low.iter().any(short) {
            text.push_str(&paragraph(
                look,
                0,
                "What is short is taken to be ordered today, and runs wait for it. Note what is ordered already: \
                 `log … spool bought FILAMENT --arrives TIME`; or plan again, to print meanwhile what does not need it.",
            ));
        }
    }

    if !differences.is_empty() {
        text.push_str(&heading(look, "Changed since the plan"));
        for difference in differences {
            text.push_str(&paragraph(look, 0, difference.clone()));
        }
        text.push_str(&paragraph(look, 0, "Plan again to go by it."));
    }
    text
}

fn task(task: &Task, local: Local) -> String {
    match task {
        Task::SetUp {
            run,
            machine,
            filament,
            change,
            waits,
            trial,
        } => {
            let change = if *change {
                format!(", change to {filament}")
            } else {
                String::new()
            };
            let waits = waits.map_or(String::new(), |at| {
                let at = local.full(at);
                format!("; waits for {filament}, which can be there {at}")
            });
            let trial = trial.as_ref().map_or(String::new(), |part| {
                format!("; not before the trial of {part} is approved")
            });
            format!("set up {run} on {machine}{change}{waits}{trial}")
        }
        Task::Approve { part } => format!("look at the trial of {part}: approved or rejected?"),
        Task::Join { part, number } => format!("join {part}:{number}"),
        Task::Assemble { assembly } => format!("assemble {assembly}: all is there"),
        Task::Complete { assembly } => format!("complete {assembly}"),
    }
}

#[derive(Serialize)]
struct StatusFile<'a> {
    version: u32,
    now: String,
    planned: bool,
    printed: usize,
    to_print: usize,
    lost: u32,
    printing: Vec<PrintingFile<'a>>,
    idle: Vec<IdleFile<'a>>,
    next: Vec<NextFile<'a>>,
    stages: Vec<StageFile<'a>>,
    low: Vec<LowFile<'a>>,
    in_no_run: Vec<PiecesFile<'a>>,
    differences: &'a [String],
}

#[derive(Serialize)]
struct PrintingFile<'a> {
    machine: &'a str,
    run: &'a str,
    started: String,
    until: String,
    spool_ends: Option<String>,
    stops: bool,
    pieces: Vec<PiecesFile<'a>>,
}

#[derive(Serialize)]
struct PiecesFile<'a> {
    part: &'a str,
    pieces: usize,
}

#[derive(Serialize)]
struct IdleFile<'a> {
    machine: &'a str,
    down_since: Option<String>,
    down_until: Option<String>,
    offline_until: Option<String>,
    why: Option<&'a str>,
}

#[derive(Serialize)]
struct NextFile<'a> {
    at: String,
    task: &'static str,
    run: Option<&'a str>,
    machine: Option<&'a str>,
    filament: Option<&'a str>,
    filament_comes: Option<String>,
    part: Option<&'a str>,
    number: Option<u32>,
    assembly: Option<&'a str>,
}

#[derive(Serialize)]
struct StageFile<'a> {
    assembly: &'a str,
    due: String,
    planned: String,
    expected: String,
    complete: bool,
}

#[derive(Serialize)]
struct LowFile<'a> {
    filament: &'a str,
    needed: f64,
    here: f64,
    coming: f64,
}

/// For other programs; moments in the build's zone, masses in grams.
pub fn status_json(scenario: &Scenario, status: &Status, differences: &[String]) -> String {
    let local = Local(scenario.build.zone);
    let file = StatusFile {
        version: VERSION,
        now: local.rfc3339(status.now),
        planned: status.planned,
        printed: status.printed,
        to_print: status.to_print,
        lost: status.lost,
        printing: status
            .printing
            .iter()
            .map(|printing| PrintingFile {
                machine: &printing.machine,
                run: &printing.run,
                started: local.rfc3339(printing.started),
                until: local.rfc3339(printing.until),
                spool_ends: printing.spool_ends.map(|ends| local.rfc3339(ends)),
                stops: printing.stops,
                pieces: printing
                    .pieces
                    .iter()
                    .map(|(part, pieces)| PiecesFile {
                        part,
                        pieces: *pieces,
                    })
                    .collect(),
            })
            .collect(),
        idle: status
            .idle
            .iter()
            .map(|idle| IdleFile {
                machine: &idle.machine,
                down_since: idle.down.as_ref().map(|(since, _)| local.rfc3339(*since)),
                down_until: idle.down_until.map(|until| local.rfc3339(until)),
                offline_until: idle
                    .offline
                    .as_ref()
                    .map(|(until, _)| local.rfc3339(*until)),
                why: (idle.down.as_ref().or(idle.offline.as_ref())).map(|(_, why)| why.as_str()),
            })
            .collect(),
        next: status
            .next
            .iter()
            .map(|next| next_file(local, next))
            .collect(),
        stages: status
            .stages
            .iter()
            .map(|stage| StageFile {
                assembly: &stage.assembly,
                due: local.rfc3339(stage.due),
                planned: local.rfc3339(stage.planned),
                expected: local.rfc3339(stage.expected),
                complete: stage.complete,
            })
            .collect(),
        low: status
            .low
            .iter()
            .map(|low| LowFile {
                filament: &low.filament,
                needed: decimals(low.needed, 3),
                here: decimals(low.here, 3),
                coming: decimals(low.coming, 3),
            })
            .collect(),
        in_no_run: status
            .in_no_run
            .iter()
            .map(|(part, &pieces)| PiecesFile { part, pieces })
            .collect(),
        differences,
    };
    let mut text = serde_json::to_string_pretty(&file)
        .expect("text, numbers and lists with text for keys: none of them fails to be written");
    text.push('\n');
    text
}

fn next_file(local: Local, next: &Next) -> NextFile<'_> {
    let file = NextFile {
        at: local.rfc3339(next.at),
        task: "",
        run: None,
        machine: None,
        filament: None,
        filament_comes: None,
        part: None,
        number: None,
        assembly: None,
    };
    match &next.what {
        Task::SetUp {
            run,
            machine,
            filament,
            waits,
            ..
        } => NextFile {
            filament_comes: waits.map(|at| local.rfc3339(at)),
            task: "set-up",
            run: Some(run),
            machine: Some(machine),
            filament: Some(filament),
            ..file
        },
        Task::Approve { part } => NextFile {
            task: "approve",
            part: Some(part),
            ..file
        },
        Task::Join { part, number } => NextFile {
            task: "join",
            part: Some(part),
            number: Some(*number),
            ..file
        },
        Task::Assemble { assembly } => NextFile {
            task: "assemble",
            assembly: Some(assembly),
            ..file
        },
        Task::Complete { assembly } => NextFile {
            task: "complete",
            assembly: Some(assembly),
            ..file
        },
    }
}
