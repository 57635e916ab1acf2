//! The log in words: one entry, or all of them.
//!
//! Knows: entries, the build's zone. Must not know: where the log is kept, what may be noted.
//! Promises: what somebody wrote into the log breaks no line and no terminal.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::scenario::Scenario;
use crate::shoplog::{Entry, Event, Log, Noting, PieceId, RunKey, Sample, State};
use crate::units::Grams;

use super::Look;
use super::grid::{Fit, Grid, Text, Tone, paragraph};
use super::local::Local;
use super::words;

/// Of what was undone no more characters are told.
const LONGEST_UNDONE: usize = 60;

/// `Noted as 14: tall-003 finished, Mon 11 Jan 12:48.` and what comes next there.
///
/// `odd`: what was odd about it before it was noted.
pub fn noted(
    scenario: &Scenario,
    log: &Noting,
    entry: &Entry,
    odd: &[String],
    look: &Look,
) -> String {
    let when = Local(scenario.build.zone).full(entry.at);
    let said = said(&entry.event, log.state(), &|id| log.numbered(id));
    let mut text = paragraph(
        look,
        0,
        Text::from(format!("Noted as {}: {said}, {when}.", log.count())),
    );
    if let Some(next) = next(scenario, log.state(), &entry.event, entry.at) {
        text.push_str(&paragraph(look, 0, Text::from(next)));
    }
    for odd in odd {
        text.push_str(&paragraph(look, 0, Text::from(format!("! {odd}"))));
    }
    text
}

/// All entries, the last so many where `last` says so.
pub fn shown_log(scenario: &Scenario, log: &Log, last: Option<usize>, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let entries = log.entries();
    let numbered = |id: &Uuid| log.numbered(id);
    let from = last.map_or(0, |last| entries.len().saturating_sub(last));
    let mut grid = Grid::new([Fit::Number(6), Fit::Upto(24), Fit::Upto(200)]);
    grid.head(["No.", "When", "What"]);
    for (position, entry) in entries.iter().enumerate().skip(from) {
        let undone = log.is_undone(entry);
        let mark = if undone { " (undone)" } else { "" };
        let tone = if undone { Tone::Quiet } else { Tone::Plain };
        grid.row([
            Text::from((position + 1).to_string()),
            Text::from(local.full(entry.at)),
            Text::from(format!(
                "{}{mark}",
                said(&entry.event, log.state(), &numbered)
            ))
            .tone(tone),
        ]);
    }
    if grid.is_empty() {
        return "Nothing has been noted.\n".to_owned();
    }
    grid.render(look, 0)
}

pub(super) fn because(why: &str) -> String {
    if why.is_empty() {
        String::new()
    } else {
        format!(" ({why})")
    }
}

fn sample(sample: &Sample) -> String {
    let Sample {
        part,
        machine,
        pieces,
        of,
    } = sample;
    let lengths = if *of > 1 {
        format!(" (lengths, {of} to a copy)")
    } else {
        String::new()
    };
    format!("{pieces}× {part}{lengths} from {machine}")
}

fn said<'a>(
    event: &Event,
    state: &State,
    numbered: &dyn Fn(&Uuid) -> Option<(usize, &'a Entry)>,
) -> String {
    let told = |word: &str, moment: Option<DateTime<Utc>>| {
        moment.map_or(String::new(), |at| {
            format!("{word}{}", state.shop.shown(at))
        })
    };
    match event {
        Event::PlanAccepted { .. } => "plan accepted".to_owned(),
        Event::Started { run, spool: None } => format!("{run} started"),
        Event::Started {
            run,
            spool: Some(spool),
        } => format!("{run} started from spool {spool}"),
        Event::Finished {
            run, scrapped, why, ..
        } if scrapped.is_empty() => {
            format!("{run} finished{}", because(why))
        }
        Event::Finished {
            run, scrapped, why, ..
        } => {
            let lost: Vec<String> = scrapped.iter().map(ToString::to_string).collect();
            format!(
                "{run} finished, no good: {}{}",
                lost.join(", "),
                because(why)
            )
        }
        Event::Scrapped { run, why, grams } => {
            let grams = grams.map_or(String::new(), |grams| format!(", {grams} g lost"));
            format!("{run} scrapped{}{grams}", because(why))
        }
        Event::Joined { part, number } => format!("{part}:{number} joined"),
        Event::Weighed {
            sample: s, grams, ..
        } => format!("{grams} g for {}", sample(s)),
        Event::Timed {
            sample: s, minutes, ..
        } => format!("{minutes} min for {}", sample(s)),
        Event::Approved { part, variant } => {
            let chosen = variant.as_ref();
            let chosen = chosen.map_or(String::new(), |name| format!(", variant {name} chosen"));
            format!("trial of {part} approved{chosen}")
        }
        Event::Rejected { part, why } => format!("trial of {part} rejected{}", because(why)),
        Event::Lost { pieces, why } => {
            let lost: Vec<String> = pieces.iter().map(ToString::to_string).collect();
            format!("lost: {}{}", lost.join(", "), because(why))
        }
        Event::SpoolOpened { spool, machine } => format!("spool {spool} is on {machine}"),
        Event::SpoolWeighed { spool, grams } => format!("spool {spool} has {grams} g"),
        Event::SpoolBought {
            spool,
            grams,
            arrives,
            ..
        } => {
            let arrives = told(", arrives ", *arrives);
            format!("spool {spool} bought, {grams} g{arrives}")
        }
        Event::SpoolEmpty { spool } => format!("spool {spool} is empty"),
        Event::Down {
            machine,
            why,
            until,
        } => format!("{machine} down{}{}", because(why), told(" until ", *until)),
        Event::Up { machine } => format!("{machine} up"),
        Event::AssemblyStarted { assembly } => format!("{assembly} started"),
        Event::AssemblyComplete { assembly } => format!("{assembly} complete"),
        Event::Note { text } => format!("note: {text}"),
        Event::Undone { id } => match numbered(id) {
            Some((number, entry)) => {
                let what = said(&entry.event, state, numbered);
                let what: String = match what.chars().count() > LONGEST_UNDONE {
                    true => what.chars().take(LONGEST_UNDONE).chain(['…']).collect(),
                    false => what,
                };
                format!("entry {number} ({what}) undone")
            }
            None => "an entry undone".to_owned(),
        },
    }
}

/// From which spool a run prints that was just started, and whether the plan meant another.
fn spool(state: &State, key: RunKey) -> String {
    let planned = state.planned(key);
    let machine = state.machines.get(&planned.machine);
    let on = machine.and_then(|machine| {
        let id = machine.spool.as_ref()?;
        Some((id, state.spools.get(id)?))
    });
    let Some((id, spool)) = on else {
        return format!(
            " No spool of {} is known to be on {}: note one with `spool bought`, or `spool weighed`.",
            planned.filament, planned.machine
        );
    };
    let grams = |grams: f64| words::mass(Grams(grams));
    let has = grams(spool.grams);
    let mut told = format!(" It prints from {id}, which has {has}.");
    let other = planned.spool_name.as_ref().filter(|name| *name != id);
    let other = other.and_then(|name| state.spools.get_key_value(name));
    if let Some((name, other)) = other.filter(|(_, other)| other.grams > 0.0) {
        told.push_str(&format!(
            " The plan puts {name} ({}) on: if that one is on, note `spool opened {name} {}`.",
            grams(other.grams),
            planned.machine
        ));
    } else if planned.spool_name.is_none()
        && let Some(meant) = planned.spool.filter(|&meant| !spool.is_planned(meant))
    {
        let mut others = state.spools.iter().filter(|(_, other)| {
            other.filament == planned.filament && other.grams > 0.0 && other.is_planned(meant)
        });
        let other = others.next().map_or("SPOOL", |(id, _)| id);
        told.push_str(&format!(
            " The plan puts a spool of {} on: if that one is on, note `spool opened {other} {}`.",
            grams(meant),
            planned.machine
        ));
    }
    told
}

/// What comes after that, where something does.
fn next(scenario: &Scenario, state: &State, event: &Event, at: DateTime<Utc>) -> Option<String> {
    let local = Local(scenario.build.zone);
    match event {
        Event::Started { run, .. } => {
            let key = state.running(run)?;
            let end = local.full(state.expected_end(key)?);
            Some(format!("It should end {end}.{}", spool(state, key)))
        }
        Event::Finished { run, .. } | Event::Scrapped { run, .. } => {
            let key = state.last_start(run)?;
            let machine = &state.planned(key).machine;
            let mut open = state.open_runs().into_iter().map(|key| state.planned(key));
            let told = match open.find(|next| next.machine == *machine) {
                Some(next) if next.id == *run => {
                    format!("{run} can be started again as it is")
                }
                Some(next) if next.begins() <= at => {
                    format!("Next on {machine}: {}, now", next.id)
                }
                Some(next) => format!(
                    "Next on {machine}: {}, {}",
                    next.id,
                    local.full(next.begins())
                ),
                None => format!("Nothing more is planned on {machine}"),
            };
            let lost = matches!(event, Event::Scrapped { .. })
                || matches!(event, Event::Finished { scrapped, .. } if !scrapped.is_empty());
            let again = if lost {
                "; plan again for what is lost."
            } else {
                "."
            };
            Some(told + again)
        }
        Event::Down { machine, .. } => {
            let (since, _, until) = state.machines.get(machine)?.down.as_ref()?;
            let until = match until {
                Some(until) => format!("until {}", local.full(*until)),
                None => "for a day from when you plan, as nobody knows how long".to_owned(),
            };
            let on = state
                .running
                .get(machine)
                .map(|&key| &state.planned(key).id);
            let on = on.map_or(String::new(), |run| {
                format!(
                    " {run} prints on it as far as is noted: if it goes on, all is right; if not, note `scrapped {machine}`, or \
                     `finished {machine} --good PIECES` for what is good."
                )
            });
            Some(format!(
                "Down since {}; plans do without it {until}.{on}",
                local.full(*since)
            ))
        }
        Event::Weighed { sample, .. } => Some(format!(
            "It corrects the estimate of {} when you plan again. What is left on the spool stays as it was: note `spool weighed SPOOL \
             GRAMS` for that.",
            sample.part
        )),
        Event::Approved { part, .. } => {
            let known = state.shop.parts.get(part)?;
            let chosen = state.trials.get(part)?.chosen.as_ref()?;
            let copies = (1..).zip(&known.variants);
            let mut others = copies.filter(|(number, name)| {
                let id = PieceId {
                    part: part.clone(),
                    number: *number,
                    length: 1,
                    of: 1,
                };
                *name != chosen && state.made.contains_key(&id)
            });
            let other = others.next();
            let other = other.map_or_else(String::new, |(number, name)| {
                format!(
                    " {part}:{number}, which is {name}, counts as good: note `lost {part}:{number}` if you cannot use it, and likewise of others."
                )
            });
            Some(format!(
                "Plan again, so that the plan says of the rest that it is {chosen}.{other}"
            ))
        }
        Event::Lost { .. } => Some("Plan again for what is lost.".to_owned()),
        Event::Rejected { .. } => {
            Some("The rest waits; plan again for new trial copies.".to_owned())
        }
        Event::SpoolBought { spool, grams, .. } => Some(format!(
            "It is called {spool} and holds {}.",
            words::mass(Grams(*grams))
        )),
        _ => None,
    }
}
