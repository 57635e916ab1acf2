//! What can have happened to spools.
//!
//! Knows: the state. Must not know: runs.
//! Promises: a spool holds no more than it can, and what a machine prints.

use super::{MOST_GRAMS, Refusal, refuse, within};
use crate::shoplog::known;
use crate::shoplog::state::State;

/// A spool may hold so many times what is written on it, common practice, no source.
const OVERFULL: f64 = 1.1;

/// A spool that is bought may be larger than those that there were by so much (judgement), and as large as this in any case: the largest
/// that are commonly sold, common practice, no source.
const SEVERAL: f64 = 10.0;
const LARGEST: f64 = 10_000.0;

pub(super) fn opened(state: &State, spool: &str, machine: &str) -> Result<(), Refusal> {
    let Some(known) = known::spool(state, spool)? else {
        return Ok(());
    };
    known::machine(state, machine)?;
    // How full it was at first the scenario says.
    if known.grams == 0.0 && !state.restoring {
        return refuse(
            format!("{spool} is empty"),
            format!(
                "note `spool weighed {spool} GRAMS` if it is not, or name another: {}",
                known::spools_of(state, &known.filament)
            ),
        );
    }
    // Which spool a run takes of itself rests on those that the scenario has.
    if let Some(on) = state.machine_of(spool).filter(|on| *on != machine)
        && !state.restoring
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

pub(super) fn weighed_spool(state: &State, spool: &str, grams: f64) -> Result<(), Refusal> {
    let Some(log) = known::spool(state, spool)?.filter(|_| !state.restoring) else {
        return within("grams", grams, 0.0, MOST_GRAMS);
    };
    let filament = &log.filament;
    let known = state.shop.filaments.get(filament);
    let most = known.map_or(MOST_GRAMS, |known| {
        let spools = known.spools.iter().copied();
        spools.fold(known.new.max(log.most), f64::max) * OVERFULL
    });
    if grams > most && grams <= MOST_GRAMS {
        return refuse(
            format!("{grams} g is more than a spool of {filament} holds"),
            format!("take off the empty spool's own mass: at most {most:.0} g"),
        );
    }
    within("grams", grams, 0.0, most)
}

/// What names are made of, as in a scenario.
fn is_of_a_name(letter: char) -> bool {
    letter.is_alphanumeric() || matches!(letter, '-' | '_' | '.')
}

pub(super) fn bought(
    state: &State,
    spool: &str,
    filament: &str,
    grams: f64,
) -> Result<(), Refusal> {
    known::filament(state, filament)?;
    if spool.is_empty() || spool.len() > 80 || !spool.chars().all(is_of_a_name) {
        return refuse(
            format!("`{spool}` is no name for a spool"),
            format!(
                "name it as the others, such as {}",
                known::next_spool(state, filament)
            ),
        );
    }
    // The scenario may have been given one of that name since.
    let given = state.restoring && state.shop.has_spool(spool);
    if state.spools.contains_key(spool) && !given {
        return refuse(
            format!("there is a spool {spool} already"),
            format!("call it {}", known::next_spool(state, filament)),
        );
    }
    if state.restoring {
        return within("grams", grams, 1.0, MOST_GRAMS);
    }
    let shop = &state.shop;
    let what = match spool {
        spool if shop.parts.contains_key(spool) => "a part",
        spool if shop.machines.contains_key(spool) => "a machine",
        spool if shop.assemblies.contains_key(spool) => "an assembly",
        _ => "",
    };
    if !what.is_empty() {
        return refuse(
            format!("{spool} is {what}"),
            format!("call it {}", known::next_spool(state, filament)),
        );
    }
    let usual = shop.filaments.get(filament).map_or(0.0, |known| {
        let spools = known.spools.iter().copied();
        spools.fold(known.new, f64::max)
    });
    let most = (usual * SEVERAL).max(LARGEST);
    if grams > most && grams <= MOST_GRAMS {
        return refuse(
            format!("{grams} g are more than a spool of {filament} holds"),
            format!(
                "write the grams of one spool, at most {most:.0}, and note each by itself; if there are such, say so in the filament's `spool`"
            ),
        );
    }
    within("grams", grams, 1.0, most)
}
