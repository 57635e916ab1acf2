//! Which names an event may use, and what a misspelt one most probably meant.
//!
//! Knows: the shop, the accepted plans, the spools. Must not know: events.
//! Promises: a name that is not known is refused with a near one, or with those that there are; but what was noted before may name what the
//! scenario no longer has.

use std::collections::BTreeSet;

use super::records::SpoolLog;
use super::rules::{Refusal, refuse};
use super::shop::ShopAssembly;
use super::state::{RunKey, State};
use crate::progress::spool_name;
use crate::scenario::nearest;

/// More names than this are not listed.
const MOST_SHOWN: usize = 12;

fn unknown<T>(what: &str, id: &str, names: &BTreeSet<&str>) -> Result<T, Refusal> {
    let id: String = id.chars().take(60).collect();
    let fix = match nearest(&id, names.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if names.is_empty() => format!("there is no {what} yet"),
        None => {
            let more = if names.len() > MOST_SHOWN {
                ", …"
            } else {
                ""
            };
            let some: Vec<&str> = names.iter().copied().take(MOST_SHOWN).collect();
            format!("take one of {}{more}", some.join(", "))
        }
    };
    refuse(format!("there is no {what} `{id}`"), fix)
}

/// A run of the plan that is followed.
pub(super) fn run(state: &State, id: &str) -> Result<RunKey, Refusal> {
    if let Some(key) = state.current(id) {
        return Ok(key);
    }
    let Some(plan) = state.plan() else {
        return refuse(
            "no plan has been accepted",
            "plan with `--accept` first: runs are known by the plan that names them",
        );
    };
    if let Some(ended) = state.last_start(id).and_then(|key| state.ended(key)) {
        return refuse(
            format!("{id} ended {}", state.shop.shown(ended.at)),
            "the plan that is followed now has no run of that name; undo its end if that is wrong",
        );
    }
    if state.past.runs.contains(id) {
        return refuse(
            format!("{id} is a run of an earlier plan; another has taken that one's place"),
            "see `status` for what is next; if it was printed all the same, undo the plan that was accepted after it, note the run, and plan again",
        );
    }
    let runs = plan.runs.iter().map(|run| run.id.as_str());
    let machines = || state.shop.machines.keys().map(String::as_str);
    // A machine stands for the run that is on it.
    if nearest(id, runs.clone()).is_none() && nearest(id, machines()).is_some() {
        return unknown("run or machine", id, &machines().collect());
    }
    unknown("run", id, &runs.collect())
}

/// A machine.
pub(super) fn machine(state: &State, id: &str) -> Result<(), Refusal> {
    if state.restoring {
        return Ok(());
    }
    let mut names: BTreeSet<&str> = state.shop.machines.keys().map(String::as_str).collect();
    names.extend(state.machines.keys().map(String::as_str));
    if names.contains(id) {
        return Ok(());
    }
    let planned = state.plan().into_iter().flat_map(|plan| &plan.runs);
    names.extend(planned.map(|run| run.machine.as_str()));
    names.extend(state.past.machines.keys().map(String::as_str));
    if names.contains(id) {
        return Ok(());
    }
    unknown("machine", id, &names)
}

/// A filament.
pub(super) fn filament(state: &State, id: &str) -> Result<(), Refusal> {
    if state.restoring {
        return Ok(());
    }
    let mut names: BTreeSet<&str> = state.shop.filaments.keys().map(String::as_str).collect();
    names.extend(state.spools.values().map(|spool| spool.filament.as_str()));
    if names.contains(id) {
        return Ok(());
    }
    unknown("filament", id, &names)
}

/// A part.
pub(super) fn part(state: &State, id: &str) -> Result<(), Refusal> {
    if state.restoring {
        return Ok(());
    }
    if state.shop.parts.contains_key(id) {
        return Ok(());
    }
    let planned = state.plan().into_iter().flat_map(|plan| &plan.runs);
    let mut names: BTreeSet<&str> = planned
        .flat_map(|run| &run.pieces)
        .map(|piece| piece.part())
        .collect();
    names.extend(state.past.parts.iter().map(String::as_str));
    if names.contains(id) {
        return Ok(());
    }
    names.extend(state.shop.parts.keys().map(String::as_str));
    unknown("part", id, &names)
}

/// A variant of a part.
pub(super) fn variant(state: &State, part: &str, name: &str) -> Result<(), Refusal> {
    let known = state.shop.parts.get(part).map(|part| &part.variants);
    let names: BTreeSet<&str> = known.into_iter().flatten().map(String::as_str).collect();
    if names.contains(name) {
        return Ok(());
    }
    if names.is_empty() {
        return refuse(
            format!("{part} has no variants to choose from"),
            format!("note `approved {part}` alone"),
        );
    }
    unknown(&format!("variant of {part}"), name, &names)
}

/// Parts that have trial copies.
pub(super) fn trials(state: &State) -> String {
    let with = state.shop.parts.iter().filter(|(_, part)| part.trial > 0);
    let names: Vec<&str> = with.map(|(id, _)| id.as_str()).collect();
    if names.is_empty() {
        "those that have some (none has)".to_owned()
    } else {
        names.join(", ")
    }
}

/// An assembly; `None` where only an accepted plan knows it, or the scenario is not asked.
pub(super) fn assembly<'a>(
    state: &'a State,
    id: &str,
) -> Result<Option<&'a ShopAssembly>, Refusal> {
    if state.restoring {
        return Ok(None);
    }
    if let Some(assembly) = state.shop.assemblies.get(id) {
        return Ok(Some(assembly));
    }
    let planned = state.plan().into_iter().flat_map(|plan| &plan.assemblies);
    let mut names: BTreeSet<&str> = planned.map(|assembly| assembly.id.as_str()).collect();
    names.extend(state.past.assemblies.keys().map(String::as_str));
    if names.contains(id) {
        return Ok(None);
    }
    names.extend(state.shop.assemblies.keys().map(String::as_str));
    unknown("assembly", id, &names)
}

/// A spool; `None` where it is one that the scenario had and has no more.
pub(super) fn spool<'a>(state: &'a State, id: &str) -> Result<Option<&'a SpoolLog>, Refusal> {
    match state.spools.get(id) {
        Some(spool) => Ok(Some(spool)),
        None if state.restoring => Ok(None),
        None => unknown(
            "spool",
            id,
            &state.spools.keys().map(String::as_str).collect(),
        ),
    }
}

/// Spools of a filament that have something on them.
pub(super) fn spools_of(state: &State, filament: &str) -> String {
    let of = state
        .spools
        .iter()
        .filter(|(_, spool)| spool.filament == filament && spool.grams > 0.0);
    let told: Vec<String> = of
        .map(|(id, spool)| format!("{id} ({:.0} g)", spool.grams))
        .collect();
    if told.is_empty() {
        "none is left".to_owned()
    } else {
        told.join(", ")
    }
}

/// The name of the next spool of a filament.
pub fn next_spool(state: &State, filament: &str) -> String {
    let names = (1..).map(|number| spool_name(filament, number));
    let mut free = names.filter(|name| !state.spools.contains_key(name));
    free.next().unwrap_or_default() // there are only so many spools
}
