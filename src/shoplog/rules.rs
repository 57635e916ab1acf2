//! What can have happened: each event held against the state before it.
//!
//! Knows: the state, the names of shop and plans. Must not know: files, the command line.
//! Promises: an event that is let through adds up; a refusal says what would be right.

use chrono::{DateTime, TimeDelta, Utc};

use super::accepted::Accepted;
use super::event::{Event, PieceId, Sample};
use super::known;
use super::shop::ShopAssembly;
use super::state::{RunKey, State};

/// Clocks of two computers differ by so much at most; what is later than that by ours has not happened yet.
const CLOCKS: TimeDelta = TimeDelta::minutes(2);

/// More grams on a spool, or in pieces, than this is no mass of a print.
const MOST_GRAMS: f64 = 100_000.0;

/// A spool may hold so many times what is written on it, common practice, no source.
const OVERFULL: f64 = 1.1;

/// A longer text is no note.
const LONGEST_TEXT: usize = 4000;

/// Why an event is not noted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what}; {fix}")]
pub struct Refusal {
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub fix: String,
}

/// A refusal.
pub(super) fn refuse<T>(what: impl Into<String>, fix: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal {
        what: what.into(),
        fix: fix.into(),
    })
}

/// Whether an event can have happened then. Undoing is checked by whoever knows all entries.
///
/// # Errors
/// If it cannot; why.
pub fn check(
    state: &State,
    event: &Event,
    at: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<(), Refusal> {
    in_time(state, at, now)?;
    short(event)?;
    match event {
        Event::PlanAccepted { plan } => match Accepted::read(plan) {
            Ok(_) => Ok(()),
            Err(what) => refuse(what, "accept what `beamyard plan` found, with `--accept`"),
        },
        Event::Started { run, spool } => started(state, run, spool.as_deref(), at),
        Event::Finished { run, scrapped, .. } => finished(state, run, scrapped, at),
        Event::Scrapped { run, grams, .. } => {
            let key = printing(state, run, at)?;
            let most = state.planned(key).grams;
            grams.map_or(Ok(()), |grams| {
                within("grams", grams, 0.0, (most * 1.5).max(most + 100.0))
            })
        }
        Event::Joined { part, number } => joined(state, part, *number),
        Event::Weighed { sample, grams } => {
            measured(state, sample)?;
            within("grams", *grams, 0.001, MOST_GRAMS)
        }
        Event::Timed { sample, minutes } => {
            measured(state, sample)?;
            within("minutes", *minutes, 0.1, 60.0 * 24.0 * 60.0)
        }
        Event::Approved { part } => approved(state, part),
        Event::Rejected { part, .. } => rejected(state, part),
        Event::SpoolOpened { spool, machine } => opened(state, spool, machine),
        Event::SpoolWeighed { spool, grams } => weighed_spool(state, spool, *grams),
        Event::SpoolBought {
            spool,
            filament,
            grams,
            ..
        } => bought(state, spool, filament, *grams),
        Event::SpoolEmpty { spool } => {
            let grams = known::spool(state, spool)?.grams;
            if grams == 0.0 {
                return refuse(
                    format!("{spool} is empty already"),
                    "nothing is to be noted",
                );
            }
            Ok(())
        }
        Event::Down { machine, .. } => {
            known::machine(state, machine)?;
            match state.machines.get(machine).and_then(|m| m.down.as_ref()) {
                Some((since, ..)) => refuse(
                    format!("{machine} is down since {}", state.shop.shown(*since)),
                    format!("note `up {machine}` first"),
                ),
                None => Ok(()),
            }
        }
        Event::Up { machine } => {
            known::machine(state, machine)?;
            match state.machines.get(machine).and_then(|m| m.down.as_ref()) {
                Some((since, ..)) if *since > at => refuse(
                    format!("{machine} went down only at {}", state.shop.shown(*since)),
                    "give a later moment with `--at`",
                ),
                Some(_) => Ok(()),
                None => refuse(format!("{machine} is not down"), "nothing is to be noted"),
            }
        }
        Event::AssemblyStarted { assembly } => assembled(state, assembly, at, false),
        Event::AssemblyComplete { assembly } => assembled(state, assembly, at, true),
        Event::Note { text } if text.trim().is_empty() => {
            refuse("the note is empty", "write what is worth knowing")
        }
        Event::Note { .. } | Event::Undone { .. } => Ok(()),
    }
}

fn in_time(state: &State, at: DateTime<Utc>, now: DateTime<Utc>) -> Result<(), Refusal> {
    if at > now + CLOCKS {
        return refuse(
            format!(
                "{} has not come yet: it is {}",
                state.shop.shown(at),
                state.shop.shown(now)
            ),
            "note what has happened; if the clock of this computer is wrong, set it, or give `--now`",
        );
    }
    Ok(())
}

fn short(event: &Event) -> Result<(), Refusal> {
    let text = match event {
        Event::Note { text } => text,
        Event::Finished { why, .. }
        | Event::Scrapped { why, .. }
        | Event::Rejected { why, .. }
        | Event::Down { why, .. } => why,
        _ => return Ok(()),
    };
    if text.len() > LONGEST_TEXT {
        return refuse(
            format!("the text is {} bytes long", text.len()),
            format!("write {LONGEST_TEXT} at most"),
        );
    }
    Ok(())
}

fn within(what: &str, value: f64, least: f64, most: f64) -> Result<(), Refusal> {
    if (least..=most).contains(&value) {
        return Ok(());
    }
    refuse(
        format!("{value} is no number of {what} that can be"),
        format!("write {least} to {most:.0} {what}"),
    )
}

fn started(
    state: &State,
    run: &str,
    spool: Option<&str>,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    if state.running(run).is_some() {
        return refuse(
            format!("{run} is printing already"),
            format!("note `finished {run}` or `scrapped {run}` when it ends"),
        );
    }
    let key = known::run(state, run)?;
    let planned = state.planned(key);
    let machine = planned.machine.as_str();
    if at < state.shop.start {
        return refuse(
            format!("the build starts {}", state.shop.shown(state.shop.start)),
            "set `build.start` to when it really began, or give a later moment with `--at`",
        );
    }
    if let Some(&on) = state.running.get(machine) {
        let on = &state.planned(on).id;
        return refuse(
            format!("{machine} is printing {on}"),
            format!("note `finished {on}` or `scrapped {on}` first"),
        );
    }
    if !state.is_open(key) {
        let next = next_on(state, machine);
        return refuse(format!("{run} has been printed"), next);
    }
    let Some(log) = state.machines.get(machine) else {
        return Ok(());
    };
    if let Some((since, ..)) = &log.down {
        return refuse(
            format!("{machine} is down since {}", state.shop.shown(*since)),
            format!("note `up {machine}` first"),
        );
    }
    if let Some(free) = log.free.filter(|free| at < *free) {
        return refuse(
            format!(
                "{run} cannot have started {}: the run before it on {machine} ended {}",
                state.shop.shown(at),
                state.shop.shown(free)
            ),
            "give a later moment with `--at`, or undo the entry that is wrong",
        );
    }
    let Some(spool) = spool else {
        return Ok(());
    };
    opened(state, spool, machine)?;
    let on = &known::spool(state, spool)?.filament;
    if *on != planned.filament {
        return refuse(
            format!(
                "{spool} is {on}, and {run} prints with {}",
                planned.filament
            ),
            format!(
                "name a spool of {}: {}",
                planned.filament,
                known::spools_of(state, &planned.filament)
            ),
        );
    }
    Ok(())
}

/// What would be started next on a machine, as advice.
fn next_on(state: &State, machine: &str) -> String {
    let mut open = state.open_runs().into_iter();
    match open.find(|&key| state.planned(key).machine == machine) {
        Some(next) => format!("the next on {machine} is {}", state.planned(next).id),
        None => format!("nothing is left to start on {machine}"),
    }
}

/// The run that is printing, if it can have ended then.
fn printing(state: &State, run: &str, at: DateTime<Utc>) -> Result<RunKey, Refusal> {
    let Some(key) = state.running(run) else {
        let key = known::run(state, run)?;
        let ended = state.attempts.get(&key).and_then(|a| a.ended.as_ref());
        return match ended {
            Some(ended) => refuse(
                format!("{run} ended {}", state.shop.shown(ended.at)),
                if ended.scrapped {
                    format!("note `started {run}` if it was started again")
                } else {
                    "undo that entry if it is wrong".to_owned()
                },
            ),
            None => refuse(
                format!("{run} has not been started"),
                format!("note `started {run}` first, with `--at` for when it was"),
            ),
        };
    };
    let started = state.attempts.get(&key).map(|attempt| attempt.started);
    match started.filter(|started| at < *started) {
        Some(started) => refuse(
            format!(
                "{run} was started {}, after {}",
                state.shop.shown(started),
                state.shop.shown(at)
            ),
            "give a later moment with `--at`, or set this computer's clock if it is slow",
        ),
        None => Ok(key),
    }
}

fn finished(
    state: &State,
    run: &str,
    scrapped: &[PieceId],
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let key = printing(state, run, at)?;
    let on: Vec<PieceId> = state.planned(key).pieces.iter().map(|p| p.id()).collect();
    for (position, piece) in scrapped.iter().enumerate() {
        if !on.contains(piece) {
            let listed = contents(&on);
            return refuse(
                format!("{piece} is not on {run}"),
                format!("on it are {listed}"),
            );
        }
        if scrapped[..position].contains(piece) {
            return refuse(format!("{piece} is named twice"), "name it once");
        }
    }
    Ok(())
}

/// `3× sheave, 2× stay-bar`, for messages.
pub(super) fn contents(pieces: &[PieceId]) -> String {
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for piece in pieces {
        match counts.iter_mut().find(|(part, _)| *part == piece.part) {
            Some((_, count)) => *count += 1,
            None => counts.push((&piece.part, 1)),
        }
    }
    let told: Vec<String> = counts.iter().map(|(p, n)| format!("{n}× {p}")).collect();
    told.join(", ")
}

fn joined(state: &State, part: &str, number: u32) -> Result<(), Refusal> {
    known::part(state, part)?;
    let of_copy = |piece: &&PieceId| piece.part == part && piece.number == number;
    let lengths: Vec<&PieceId> = state.made.keys().filter(of_copy).collect();
    let Some(of) = lengths.iter().map(|piece| piece.of).find(|of| *of > 1) else {
        return refuse(
            format!("no lengths of {part}:{number} are printed"),
            match lengths.is_empty() {
                true => "note the run that printed them first".to_owned(),
                false => "it is in one piece: nothing is to be joined".to_owned(),
            },
        );
    };
    if lengths.len() < of as usize {
        return refuse(
            format!(
                "{} of {of} lengths of {part}:{number} are printed",
                lengths.len()
            ),
            "note the run that printed the others first",
        );
    }
    let done = lengths
        .iter()
        .any(|piece| state.made[*piece].joined.is_some());
    if done {
        return refuse(
            format!("{part}:{number} is joined already"),
            "nothing is to be noted",
        );
    }
    Ok(())
}

fn measured(state: &State, sample: &Sample) -> Result<(), Refusal> {
    known::part(state, &sample.part)?;
    known::machine(state, &sample.machine)?;
    let (pieces, of) = (sample.pieces, sample.of);
    if pieces == 0 || pieces > 10_000 || of == 0 || of > 100 {
        return refuse(
            format!("{pieces} pieces, {of} to a copy, cannot be"),
            "write how many pieces were measured together, and of how many lengths a copy is",
        );
    }
    let printed = state
        .made
        .iter()
        .filter(|(piece, printed)| {
            piece.part == sample.part && piece.of == of && printed.machine == sample.machine
        })
        .count();
    let lost = state
        .lost
        .iter()
        .filter(|(piece, _)| piece.part == sample.part && piece.of == of)
        .map(|(_, times)| *times as usize)
        .sum::<usize>();
    let on = state.running.get(&sample.machine).map_or(0, |&key| {
        let pieces = state.planned(key).pieces.iter();
        pieces
            .filter(|piece| piece.part() == sample.part && piece.of() == of)
            .count()
    });
    if (pieces as usize) > printed + lost + on {
        return refuse(
            format!(
                "{} {} of {} {} printed on {}, not {pieces}",
                printed + lost + on,
                if of > 1 { "lengths" } else { "copies" },
                sample.part,
                if printed + lost + on == 1 {
                    "is"
                } else {
                    "are"
                },
                sample.machine
            ),
            "note the run that printed them first, or name the machine with `--machine`",
        );
    }
    Ok(())
}

/// How many trial copies a part has, and how many of them are printed whole.
fn trial(state: &State, part: &str) -> Result<(u32, u32), Refusal> {
    known::part(state, part)?;
    let wanted = state.shop.parts.get(part).copied().unwrap_or(0);
    if wanted == 0 {
        return refuse(
            format!("{part} has no trial copies"),
            format!(
                "give it `trial: 1` in the scenario, or name one of {}",
                known::trials(state)
            ),
        );
    }
    let printed = (1..=wanted).filter(|&number| {
        let mut lengths = state.made.keys();
        lengths.any(|piece| piece.part == part && piece.number == number)
    });
    Ok((wanted, printed.count() as u32))
}

fn approved(state: &State, part: &str) -> Result<(), Refusal> {
    let (wanted, printed) = trial(state, part)?;
    if printed < wanted {
        return refuse(
            format!("{printed} of {wanted} trial copies of {part} are printed"),
            "note the run that printed them first",
        );
    }
    match state.trials.get(part).and_then(|trial| trial.approved) {
        Some(when) => refuse(
            format!("{part} was approved {}", state.shop.shown(when)),
            "nothing is to be noted",
        ),
        None => Ok(()),
    }
}

fn rejected(state: &State, part: &str) -> Result<(), Refusal> {
    let (wanted, printed) = trial(state, part)?;
    if printed == 0 {
        return refuse(
            format!("none of {wanted} trial copies of {part} is printed"),
            "note the run that printed them first",
        );
    }
    Ok(())
}

fn opened(state: &State, spool: &str, machine: &str) -> Result<(), Refusal> {
    let known = known::spool(state, spool)?;
    known::machine(state, machine)?;
    if known.grams == 0.0 {
        return refuse(
            format!("{spool} is empty"),
            format!("name another: {}", known::spools_of(state, &known.filament)),
        );
    }
    if let Some(on) = state.machine_of(spool).filter(|on| *on != machine)
        && let Some(&key) = state.running.get(on)
    {
        return refuse(
            format!("{spool} is on {on}, which prints {}", state.planned(key).id),
            format!("name another: {}", known::spools_of(state, &known.filament)),
        );
    }
    if let Some(&key) = state.running.get(machine) {
        let run = state.planned(key);
        if run.filament != known.filament {
            return refuse(
                format!("{machine} prints {} with {}", run.id, run.filament),
                format!(
                    "name a spool of it: {}",
                    known::spools_of(state, &run.filament)
                ),
            );
        }
    }
    Ok(())
}

fn weighed_spool(state: &State, spool: &str, grams: f64) -> Result<(), Refusal> {
    let filament = &known::spool(state, spool)?.filament;
    let known = state.shop.filaments.get(filament);
    let most = known.map_or(MOST_GRAMS, |known| {
        let spools = known.spools.iter().copied();
        spools.fold(known.new, f64::max) * OVERFULL
    });
    if grams > most && grams <= MOST_GRAMS {
        return refuse(
            format!("{grams} g is more than a spool of {filament} holds"),
            format!("take off the empty spool's own mass: at most {most:.0} g"),
        );
    }
    within("grams", grams, 0.0, most)
}

fn bought(state: &State, spool: &str, filament: &str, grams: f64) -> Result<(), Refusal> {
    known::filament(state, filament)?;
    if spool.is_empty() || spool.len() > 80 || spool.contains(char::is_whitespace) {
        return refuse(
            format!("`{spool}` is no name for a spool"),
            format!(
                "name it as the others, such as {}",
                known::next_spool(state, filament)
            ),
        );
    }
    if state.spools.contains_key(spool) {
        return refuse(
            format!("there is a spool {spool} already"),
            format!("call it {}", known::next_spool(state, filament)),
        );
    }
    within("grams", grams, 1.0, MOST_GRAMS)
}

fn assembled(state: &State, id: &str, at: DateTime<Utc>, complete: bool) -> Result<(), Refusal> {
    let assembly = known::assembly(state, id)?;
    let log = state.assemblies.get(id).cloned().unwrap_or_default();
    if let Some(when) = log.complete {
        return refuse(
            format!("{id} was complete {}", state.shop.shown(when)),
            "undo that entry if it is wrong",
        );
    }
    match log.started {
        Some(when) if !complete => refuse(
            format!("{id} was started {}", state.shop.shown(when)),
            format!("note `assembly complete {id}` when it is done"),
        ),
        Some(when) if at < when => refuse(
            format!(
                "{id} was started {}, after {}",
                state.shop.shown(when),
                state.shop.shown(at)
            ),
            "give a later moment with `--at`",
        ),
        Some(_) => Ok(()),
        None => assembly.map_or(Ok(()), |assembly| can_begin(state, id, assembly, at)),
    }
}

fn can_begin(
    state: &State,
    id: &str,
    assembly: &ShopAssembly,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    for need in &assembly.needs {
        let complete = state.assemblies.get(need).and_then(|log| log.complete);
        match complete {
            Some(when) if when <= at => {}
            Some(when) => {
                return refuse(
                    format!(
                        "{need}, which {id} needs, was complete {}",
                        state.shop.shown(when)
                    ),
                    "give a later moment with `--at`",
                );
            }
            None => {
                return refuse(
                    format!("{id} needs {need}, which is not complete"),
                    format!("note `assembly complete {need}` first"),
                );
            }
        }
    }
    for (part, wanted) in &assembly.parts {
        let used: u32 = state
            .assemblies
            .keys()
            .filter_map(|other| state.shop.assemblies.get(other))
            .flat_map(|other| &other.parts)
            .filter(|(other, _)| other == part)
            .map(|(_, count)| count)
            .sum();
        let there = whole_copies(state, part, at).saturating_sub(used);
        if there < *wanted {
            return refuse(
                format!(
                    "{id} needs {wanted}× {part}, and {there} of them were printed by {}",
                    state.shop.shown(at)
                ),
                "note the runs that printed the others first",
            );
        }
    }
    Ok(())
}

/// Copies of a part of which all lengths were printed by a moment.
fn whole_copies(state: &State, part: &str, at: DateTime<Utc>) -> u32 {
    let from = PieceId {
        part: part.to_owned(),
        number: 0,
        length: 0,
        of: 0,
    };
    let lengths = state
        .made
        .range(from..)
        .take_while(|(piece, _)| piece.part == part)
        .filter(|(_, printed)| printed.at <= at)
        .map(|(piece, _)| piece);
    let mut copies = 0;
    let (mut number, mut seen) = (0, 0);
    for piece in lengths {
        if piece.number != number {
            (number, seen) = (piece.number, 0);
        }
        seen += 1;
        copies += u32::from(seen == piece.of);
    }
    copies
}
