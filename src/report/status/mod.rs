//! How the shop stands, on one screen; for other programs in `json`.
//!
//! Knows: a [`Status`], the build's zone. Must not know: the log, how anything was found.
//! Promises: short enough for a screen unless everything is asked for.

mod json;
mod tally;

use chrono::{DateTime, Utc};

use crate::scenario::Scenario;
use crate::shoplog::{Low, Next, Printing, Status, Task};
use crate::units::{Grams, Minutes};

use super::Look;
use super::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use super::local::{Local, day_and_year};
use super::words;

pub use json::status_json;

/// So many things to do are shown, unless all are asked for.
const SHOWN: usize = 6;

/// So many machines, stages and filaments are, with those first that need somebody.
const MACHINES: usize = 6;
const STAGES: usize = 5;
const LOW: usize = 4;

/// So many changes of the scenario, a line or two each, and so many parts that are in no run.
const DIFFERENCES: usize = 3;
const LOST: usize = 8;

/// So many names stand in one line of what is to be done, and of what prints, unless all are asked for.
const NAMED: usize = 6;
const PARTS: usize = 2;

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
    let mut machines = Vec::new();
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
        let mut what = named(&pieces, if look.all { pieces.len() } else { PARTS });
        what.push_str(&spool(printing, |at| local.seen_from(today, at)));
        let row = [
            Text::from(printing.machine.clone()).tone(Tone::Strong),
            Text::from(printing.run.clone()),
            Text::from(until).tone(if over { Tone::Mark } else { Tone::Plain }),
            Text::from(what),
        ];
        let needs_somebody = over || printing.spool_ends.is_some();
        machines.push((if needs_somebody { 0 } else { 1 }, row));
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
        let row = [
            Text::from(idle.machine.clone()).tone(Tone::Strong),
            Text::from(""),
            Text::from(""),
            Text::from(what).tone(tone),
        ];
        let rank = match (&idle.down, &idle.offline) {
            (Some(_), _) => 0,
            (None, None) => 2,
            (None, Some(_)) => 3,
        };
        machines.push((rank, row));
    }
    let mut grid = Grid::new([Fit::Upto(16), Fit::Upto(20), Fit::Upto(24), Fit::Upto(200)]);
    let (machines, more) = first(machines, MACHINES, look);
    for row in machines {
        grid.row(row);
    }
    text.push_str(&grid.render(look, 0));
    text.push_str(&further(more, look));

    text.push_str(&heading(look, "Next at the bench"));
    let rows = rows(&status.next, look.all, local);
    let shown = if look.all { rows.len() } else { SHOWN };
    let mut grid = Grid::new([Fit::Upto(20), Fit::Upto(200)]);
    for (at, what) in rows.iter().take(shown) {
        let when = if *at <= status.now {
            "now".to_owned()
        } else {
            local.seen_from(today, *at)
        };
        grid.row([Text::from(when), Text::from(what.clone())]);
    }
    if grid.is_empty() {
        text.push_str(&paragraph(look, 0, "Nothing."));
    } else {
        text.push_str(&grid.render(look, 0));
    }
    text.push_str(&further(rows.len().saturating_sub(shown), look));

    if !status.in_no_run.is_empty() {
        let lost = status.in_no_run.iter();
        let lost: Vec<String> = lost.map(|(part, n)| format!("{n}×\u{a0}{part}")).collect();
        let lost = named(&lost, if look.all { lost.len() } else { LOST });
        let told = format!("In no run: {lost}. Plan again for what was lost.");
        text.push_str(&paragraph(look, 0, Text::from(told).tone(Tone::Mark)));
    }

    if !status.stages.is_empty() {
        text.push_str(&heading(look, "Stages"));
        let mut grid = Grid::new([Fit::Upto(24), Fit::Upto(20), Fit::Upto(20), Fit::Upto(200)]);
        grid.head(["Stage", "Due", "Complete", "Ahead or behind"]);
        let stages = status.stages.iter().map(|stage| {
            let late = stage.expected > stage.due;
            let rank = if stage.complete {
                2
            } else {
                1 - u8::from(late)
            };
            (rank, stage)
        });
        let (stages, more) = first(stages.collect(), STAGES, look);
        for stage in stages {
            let minutes = |from: DateTime<Utc>, to: DateTime<Utc>| (to - from).num_minutes();
            let slip = minutes(stage.planned, stage.expected);
            let late = minutes(stage.due, stage.expected);
            let plan = match slip {
                0 => "as planned".to_owned(),
                1.. => format!("{} behind", words::span(Minutes(slip))),
                _ => format!("{} ahead", words::span(Minutes(-slip))),
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
        text.push_str(&further(more, look));
    }

    if !status.low.is_empty() {
        text.push_str(&heading(
            look,
            "Filament low, what prints and is purged included",
        ));
        let mut grid = Grid::new([Fit::Upto(24), Fit::Upto(200)]);
        let short = |low: &Low| low.needed > low.here + low.coming;
        let filaments = status.low.iter().map(|low| (u8::from(!short(low)), low));
        let (filaments, more) = first(filaments.collect(), LOW, look);
        for low in filaments {
            let mut what = format!(
                "{} needed, {} here",
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
        text.push_str(&further(more, look));
        if status.low.iter().any(short) {
            text.push_str(&paragraph(
                look,
                0,
                "What is short is taken to be ordered today, and runs wait for it. Note what is ordered: \
                 `log … spool bought FILAMENT --arrives TIME`; or plan again.",
            ));
        }
    }

    if !differences.is_empty() {
        text.push_str(&heading(look, "Changed since the plan"));
        let shown = match look.all {
            true => differences.len(),
            false => DIFFERENCES,
        };
        for difference in differences.iter().take(shown) {
            text.push_str(&paragraph(look, 0, difference.clone()));
        }
        text.push_str(&further(differences.len().saturating_sub(shown), look));
        text.push_str(&paragraph(look, 0, "Plan again to go by it."));
    }
    if look.all {
        text.push_str(&tally::tally(&status.tally, local, today, look));
    }
    text
}

/// The first rows by their rank, in the order that they had, and how many are left out; unless all are asked for.
fn first<T>(rows: Vec<(u8, T)>, most: usize, look: &Look) -> (Vec<T>, usize) {
    let most = if look.all { rows.len() } else { most };
    let mut ranked: Vec<(usize, (u8, T))> = rows.into_iter().enumerate().collect();
    ranked.sort_by_key(|(at, (rank, _))| (*rank, *at));
    let more = ranked.len().saturating_sub(most);
    ranked.truncate(most);
    ranked.sort_by_key(|(at, _)| *at);
    let rows = ranked.into_iter().map(|(_, (_, row))| row);
    (rows.collect(), more)
}

/// That there is more than is shown.
fn further(more: usize, look: &Look) -> String {
    match more {
        0 => String::new(),
        more => paragraph(look, 0, format!("… and {more} more; --all shows them.")),
    }
}

/// What is to be known of the spool that a run prints from; nothing where it lasts.
fn spool(printing: &Printing, clock: impl Fn(DateTime<Utc>) -> String) -> String {
    let Some(ends) = printing.spool_ends else {
        return String::new();
    };
    let told = match (printing.stops, printing.change) {
        (false, Some(change)) => format!("; ! change its spool {}", clock(change)),
        (false, None) => format!("; ! spool ends {}", clock(ends)),
        (true, None) => format!("; ! spool ends {} with nobody there", clock(ends)),
        (true, Some(change)) => format!(
            "; ! spool ends {} with nobody there: change it by {}",
            clock(ends),
            clock(change)
        ),
    };
    match &printing.next_spool {
        Some(next) => format!("{told}, then {next}"),
        None => told,
    }
}

/// What is to be done, a line each; what is to be done at one time in one way is in one line, so that it hides nothing else.
fn rows(next: &[Next], all: bool, local: Local) -> Vec<(DateTime<Utc>, String)> {
    let mut rows: Vec<(DateTime<Utc>, [&str; 2], Vec<String>)> = Vec::new();
    for one in next {
        let (before, what, after) = task(&one.what, local);
        let alone = matches!(one.what, Task::SetUp { .. });
        let alike = |row: &&mut (DateTime<Utc>, [&str; 2], Vec<String>)| {
            !alone && row.0 == one.at && row.1 == [before, after]
        };
        match rows.iter_mut().find(alike) {
            Some(row) => row.2.push(what),
            None => rows.push((one.at, [before, after], vec![what])),
        }
    }
    rows.into_iter()
        .map(|(at, [before, after], names)| {
            let told = named(&names, if all { names.len() } else { NAMED });
            (at, format!("{before} {told}{after}"))
        })
        .collect()
}

/// The first of some names, and how many more there are.
fn named(names: &[String], most: usize) -> String {
    match names.get(..most) {
        Some(first) if first.len() < names.len() => {
            format!("{} and {} more", first.join(", "), names.len() - most)
        }
        _ => names.join(", "),
    }
}

/// A task as it is told: what it is, of what, and what follows.
fn task(task: &Task, local: Local) -> (&'static str, String, &'static str) {
    match task {
        Task::SetUp {
            run,
            machine,
            filament,
            change,
            spool,
            waits,
            trial,
        } => {
            let change = if *change {
                format!(", change to {filament}")
            } else {
                String::new()
            };
            let spool = (spool.as_ref()).map_or(String::new(), |name| format!(", spool {name}"));
            let waits = waits.map_or(String::new(), |at| {
                let at = local.full(at);
                format!("; waits for {filament}, which can be there {at}")
            });
            let trial = trial.as_ref().map_or(String::new(), |part| {
                format!("; not before the trial of {part} is approved")
            });
            let what = format!("{run} on {machine}{change}{spool}{waits}{trial}");
            ("set up", what, "")
        }
        Task::Approve { part, variants } => (
            "look at the trial of",
            if variants.is_empty() {
                part.clone()
            } else {
                format!("{part} ({})", variants.join(" or "))
            },
            ": approved or rejected?",
        ),
        Task::Join { part, number } => ("join", format!("{part}:{number}"), ""),
        Task::Assemble { assembly } => ("assemble", assembly.clone(), ": all is there"),
        Task::Complete { assembly } => ("complete", assembly.clone(), ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn approvals_share_a_line_and_hide_no_setup() {
        let now = DateTime::<Utc>::UNIX_EPOCH;
        let local = Local(chrono_tz::UTC);
        let set_up = |run: &str| Task::SetUp {
            run: run.to_owned(),
            machine: "tall".to_owned(),
            filament: "red".to_owned(),
            change: false,
            spool: None,
            waits: None,
            trial: None,
        };
        let approve = |part: &str| Task::Approve {
            part: part.to_owned(),
            variants: Vec::new(),
        };
        let parts = ["cap", "fin", "hub", "key", "lid", "nut", "pin", "rod"];
        let mut tasks: Vec<Task> = parts.iter().map(|part| approve(part)).collect();
        tasks.push(set_up("tall-001"));
        tasks.push(set_up("tall-002"));
        let next: Vec<Next> = tasks
            .into_iter()
            .map(|what| Next { at: now, what })
            .collect();
        let told = |all: bool| -> Vec<String> {
            let rows = rows(&next, all, local).into_iter();
            rows.map(|(_, what)| what).collect()
        };
        assert_eq!(
            told(false),
            [
                "look at the trial of cap, fin, hub, key, lid, nut and 2 more: approved or rejected?",
                "set up tall-001 on tall",
                "set up tall-002 on tall",
            ]
        );
        assert!(told(true)[0].contains("nut, pin, rod:"));
    }
}
