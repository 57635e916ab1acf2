//! Where a scenario has changed since the plan was accepted.
//!
//! Knows: the scenario, the state, names. Must not know: how a plan is found, files.
//! Promises: what the scenario no longer knows is told, and what it wants otherwise; nothing where it says what it said then.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::accepted::PlannedRun;
use super::progress::Names;
use super::state::State;
use crate::scenario::Scenario;

/// Where the scenario has changed since the plan was accepted, or no longer knows what was noted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Difference {
    /// A part is wanted no longer.
    #[error("part {part} is gone from the scenario; {printed} of its pieces are printed")]
    PartGone {
        /// The part.
        part: String,
        /// Pieces of it that exist.
        printed: usize,
    },
    /// A part is new.
    #[error("part {part} is new: {copies} to print")]
    PartAdded {
        /// The part.
        part: String,
        /// Copies wanted.
        copies: u32,
    },
    /// Fewer or more copies are wanted.
    #[error("part {part}: {is} copies are wanted, {was} were planned")]
    Quantity {
        /// The part.
        part: String,
        /// Copies printed and planned.
        was: u32,
        /// Copies wanted.
        is: u32,
    },
    /// A part is to be of another filament.
    #[error("part {part} is to be {is}, and was planned in {was}; what is printed counts")]
    Filament {
        /// The part.
        part: String,
        /// In the accepted plan.
        was: String,
        /// In the scenario.
        is: String,
    },
    /// Printed lengths are no longer those of a copy.
    #[error("part {part}: {printed} printed lengths, {of} to a copy, are of no use any more")]
    Lengths {
        /// The part.
        part: String,
        /// Pieces of it that exist.
        printed: usize,
        /// Lengths to a copy.
        of: u32,
    },
    /// A machine is gone.
    #[error("machine {machine} is gone from the scenario{}", .run.as_ref().map_or(String::new(), |run| format!(", and {run} prints on it")))]
    MachineGone {
        /// The machine.
        machine: String,
        /// What is printing on it.
        run: Option<String>,
    },
    /// A filament is gone.
    #[error("filament {filament} is gone from the scenario")]
    FilamentGone {
        /// The filament.
        filament: String,
    },
    /// An assembly is due at another time.
    #[error("assembly {assembly} is due {is}, and was {was}")]
    Due {
        /// The assembly.
        assembly: String,
        /// In the accepted plan.
        was: String,
        /// In the scenario.
        is: String,
    },
    /// Something else that plans depend on.
    #[error("hours, machines, prices or parts are otherwise than when the plan was accepted")]
    Otherwise,
    /// An assembly is gone.
    #[error("assembly {assembly} is gone from the scenario")]
    AssemblyGone {
        /// The assembly.
        assembly: String,
    },
}

pub(super) fn differences(scenario: &Scenario, state: &State, names: &Names) -> Vec<Difference> {
    let mut found = Vec::new();
    let Some(plan) = state.plan() else {
        return found;
    };
    // Copies by part that the plan and what happened before it know of, and how the plan prints them.
    let mut copies: BTreeMap<&str, BTreeSet<u32>> = BTreeMap::new();
    let mut filaments: BTreeMap<&str, &str> = BTreeMap::new();
    let on_machines = state.running.values().map(|&key| state.planned(key));
    for run in plan.runs.iter().chain(on_machines) {
        for piece in &run.pieces {
            copies
                .entry(piece.part())
                .or_default()
                .insert(piece.number());
            filaments.insert(piece.part(), &run.filament);
        }
    }
    for piece in state.made.keys().chain(state.lost.keys()) {
        copies.entry(&piece.part).or_default().insert(piece.number);
    }
    for (part, numbers) in &copies {
        let Some(index) = names.part(part) else {
            let printed = state
                .made
                .keys()
                .filter(|piece| piece.part == **part)
                .count();
            found.push(Difference::PartGone {
                part: (*part).to_owned(),
                printed,
            });
            continue;
        };
        let wanted = &scenario.parts[index.0];
        let was = numbers.len() as u32;
        // Where spares are counted by what failed, that alone changes their number.
        // What was printed beyond what is wanted now is printed; nothing is to be planned for it.
        let printed = state.made.keys().filter(|piece| piece.part == **part);
        let printed: BTreeSet<u32> = printed.map(|piece| piece.number).collect();
        let left_over = was > wanted.copies() && *numbers == printed;
        if was != wanted.copies() && !wanted.reserve && !left_over {
            found.push(Difference::Quantity {
                part: (*part).to_owned(),
                was,
                is: wanted.copies(),
            });
        }
        let is = &scenario.filaments[wanted.filament.0].id;
        if let Some(was) = filaments.get(part).filter(|was| *was != is) {
            found.push(Difference::Filament {
                part: (*part).to_owned(),
                was: (*was).to_owned(),
                is: is.clone(),
            });
        }
        let mut useless: BTreeMap<u32, usize> = BTreeMap::new();
        for (piece, printed) in &state.made {
            let fits = piece.of == 1
                || printed.joined.is_some()
                || wanted
                    .split
                    .as_ref()
                    .is_some_and(|split| split.into.contains(&piece.of));
            if piece.part == **part && !fits {
                *useless.entry(piece.of).or_default() += 1;
            }
        }
        found.extend(
            useless
                .into_iter()
                .map(|(of, printed)| Difference::Lengths {
                    part: (*part).to_owned(),
                    printed,
                    of,
                }),
        );
    }
    for part in scenario
        .parts
        .iter()
        .filter(|part| !copies.contains_key(part.id.as_str()))
    {
        found.push(Difference::PartAdded {
            part: part.id.clone(),
            copies: part.copies(),
        });
    }
    let open: Vec<&PlannedRun> = state
        .open_runs()
        .into_iter()
        .map(|key| state.planned(key))
        .collect();
    let mut machines: BTreeSet<&str> = open.iter().map(|run| run.machine.as_str()).collect();
    machines.extend(state.running.keys().map(String::as_str));
    for machine in machines
        .into_iter()
        .filter(|id| names.machine(id).is_none())
    {
        let on = state.running.get(machine);
        found.push(Difference::MachineGone {
            machine: machine.to_owned(),
            run: on.map(|&key| state.planned(key).id.clone()),
        });
    }
    let mut filaments: BTreeSet<&str> = open.iter().map(|run| run.filament.as_str()).collect();
    filaments.extend(state.spools.values().map(|spool| spool.filament.as_str()));
    for filament in filaments
        .into_iter()
        .filter(|id| names.filament(id).is_none())
    {
        found.push(Difference::FilamentGone {
            filament: filament.to_owned(),
        });
    }
    let planned = plan.assemblies.iter().map(|assembly| &assembly.id);
    for assembly in planned.filter(|id| names.assembly(Some(id)).is_none()) {
        found.push(Difference::AssemblyGone {
            assembly: assembly.clone(),
        });
    }
    let shown = |at: DateTime<Utc>| {
        let local = at.with_timezone(&scenario.build.zone);
        local.format("%a %-d %b %H:%M").to_string()
    };
    for assembly in &plan.assemblies {
        let known = names.assembly(Some(&assembly.id));
        let due = known.map(|known| scenario.assemblies[known.0].due);
        if let Some(due) = due.filter(|due| *due != assembly.due) {
            let shown = |due: Option<DateTime<Utc>>| due.map_or("at no time".to_owned(), shown);
            found.push(Difference::Due {
                assembly: assembly.id.clone(),
                was: shown(assembly.due),
                is: shown(due),
            });
        }
    }
    let basis = state.basis.as_ref();
    if found.is_empty() && basis.is_some_and(|was| *was != super::basis(scenario)) {
        found.push(Difference::Otherwise);
    }
    found
}
