//! Where a scenario has changed since the plan was accepted.
//!
//! Knows: the scenario, the state, names. Must not know: how a plan is found, files.
//! Promises: what the scenario no longer knows is told, and what it wants otherwise; nothing where it says what it said then.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::accepted::{Accepted, PlannedRun};
use super::basis::Things;
use super::progress::Names;
use super::state::State;
use crate::scenario::{Part, Scenario};

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
    #[error("filament {filament} is gone from the scenario{}", .run.as_ref().map_or(String::new(), |run| format!(", and {run} prints with it")))]
    FilamentGone {
        /// The filament.
        filament: String,
        /// What is printing with it.
        run: Option<String>,
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
    /// Parts are of another size.
    #[error("{}", told("part", .0, " of another size than when the plan was accepted; what is printed of them counts"))]
    Resized(Vec<String>),
    /// Things of a kind, by name, say otherwise.
    #[error("{}", told(.0, .1, " otherwise than when the plan was accepted"))]
    Changed(&'static str, Vec<String>),
    /// Machines, filaments or assemblies are new.
    #[error("{}", told(.0, .1, " new"))]
    Added(&'static str, Vec<String>),
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

/// So many things of a kind are named, and the rest counted.
const MOST_NAMES: usize = 6;

/// `machine two is new`, `parts cap, lid and 3 more are new`.
fn told(kind: &str, names: &[String], how: &str) -> String {
    let (named, more) = names.split_at(names.len().min(MOST_NAMES));
    let kinds = match kind {
        "assembly" => "assemblies".to_owned(),
        kind => format!("{kind}s"),
    };
    match (named, more.len()) {
        // The bench and the build have no name.
        ([], _) => format!("{kind} is{how}"),
        ([one], 0) if kind == "setting" => format!("settings {one} are{how}"),
        ([one], 0) => format!("{kind} {one} is{}", how.replace("of them", "of it")),
        (named, 0) => format!("{kinds} {} are{how}", named.join(", ")),
        (named, more) => format!("{kinds} {} and {more} more are{how}", named.join(", ")),
    }
}

/// Where the scenario has changed since the plan that is followed was accepted.
pub(super) fn differences(scenario: &Scenario, state: &State, names: &Names) -> Vec<Difference> {
    let Some(plan) = state.plan() else {
        return Vec::new();
    };
    let now = super::basis(scenario);
    let case = Case {
        scenario,
        state,
        names,
        plan,
    };
    let was = state.basis.as_ref();
    let same = was.is_some_and(|was| was.whole == now.whole);
    let mut found = match was.and_then(|was| was.things.as_deref()).zip(now.things) {
        // Of what is printing on or with something that is gone it is told until it has ended.
        _ if same => case.gone(|_, run| run.is_some(), |_, run| run.is_some()),
        Some((was, now)) => case.by_things(was, &now),
        None => case.by_plan(),
    };
    if found.is_empty() && was.is_some() && !same {
        found.push(Difference::Otherwise);
    }
    found
}

/// What is compared.
struct Case<'a> {
    scenario: &'a Scenario,
    state: &'a State,
    names: &'a Names<'a>,
    /// The plan that is followed.
    plan: &'a Accepted,
}

impl Case<'_> {
    /// By what the scenario said of each thing when the plan was accepted.
    fn by_things(&self, was: &Things, now: &Things) -> Vec<Difference> {
        let mut found = Vec::new();
        let (mut resized, mut changed) = (Vec::new(), Vec::new());
        for (id, then) in &was.parts {
            let Some(is) = now.parts.get(id) else {
                found.push(self.part_gone(id));
                continue;
            };
            if then.copies != is.copies && then.auto == is.auto {
                found.push(Difference::Quantity {
                    part: id.clone(),
                    was: then.copies,
                    is: is.copies,
                });
            }
            if then.filament != is.filament {
                found.push(Difference::Filament {
                    part: id.clone(),
                    was: then.filament.clone(),
                    is: is.filament.clone(),
                });
            }
            if then.size != is.size {
                resized.push(id.clone());
            } else if then.rest != is.rest {
                changed.push(id.clone());
            }
            if let Some(part) = self.names.part(id) {
                found.extend(self.useless_lengths(id, &self.scenario.parts[part.0]));
            }
        }
        for part in &self.scenario.parts {
            if !was.parts.contains_key(&part.id) {
                found.push(Difference::PartAdded {
                    part: part.id.clone(),
                    copies: part.copies(),
                });
            }
        }
        if !resized.is_empty() {
            found.push(Difference::Resized(resized));
        }
        let prints = |run: &Option<String>| run.is_some();
        found.extend(self.gone(
            |id, run| was.machines.contains_key(id) || prints(run),
            |id, run| was.filaments.contains_key(id) || prints(run),
        ));
        for id in was.assemblies.keys() {
            if !now.assemblies.contains_key(id) {
                found.push(Difference::AssemblyGone {
                    assembly: id.clone(),
                });
            }
        }
        found.extend(self.dues());
        let kinds = [
            ("machine", &was.machines, &now.machines),
            ("filament", &was.filaments, &now.filaments),
            ("assembly", &was.assemblies, &now.assemblies),
            ("setting", &was.settings, &now.settings),
            ("joint", &was.joints, &now.joints),
        ];
        for (kind, was, now) in kinds {
            let news = now.keys().filter(|id| !was.contains_key(*id));
            let news: Vec<String> = news.cloned().collect();
            // Of settings and joints the parts say that they have others.
            if !news.is_empty() && !matches!(kind, "setting" | "joint") {
                found.push(Difference::Added(kind, news));
            }
        }
        let parts = (!changed.is_empty()).then_some(("part", changed));
        let others = kinds.into_iter().filter_map(|(kind, was, now)| {
            let otherwise = was.iter().filter(|(id, digest)| {
                let is = now.get(*id);
                is.is_some_and(|is| is != *digest)
            });
            let ids: Vec<String> = otherwise.map(|(id, _)| id.clone()).collect();
            (!ids.is_empty()).then_some((kind, ids))
        });
        let all = [
            ("the bench (hours, hands or prices)", &was.bench, &now.bench),
            ("the build (start, prices or rules)", &was.build, &now.build),
            ("what was weighed and timed", &was.measured, &now.measured),
        ];
        let all = all.into_iter().filter(|(_, was, now)| was != now);
        let all = all.map(|(what, ..)| (what, Vec::new()));
        let changed = parts.into_iter().chain(others).chain(all);
        found.extend(changed.map(|(kind, ids)| Difference::Changed(kind, ids)));
        found
    }

    fn part_gone(&self, part: &str) -> Difference {
        let made = self.state.made.keys();
        Difference::PartGone {
            part: part.to_owned(),
            printed: made.filter(|piece| piece.part == part).count(),
        }
    }

    /// Printed lengths of a part that are no longer those of a copy.
    fn useless_lengths(&self, id: &str, wanted: &Part) -> Vec<Difference> {
        let mut useless: BTreeMap<u32, usize> = BTreeMap::new();
        for (piece, printed) in &self.state.made {
            let fits = piece.of == 1
                || printed.joined.is_some()
                || wanted
                    .split
                    .as_ref()
                    .is_some_and(|split| split.into.contains(&piece.of));
            if piece.part == id && !fits {
                *useless.entry(piece.of).or_default() += 1;
            }
        }
        let useless = useless
            .into_iter()
            .map(|(of, printed)| Difference::Lengths {
                part: id.to_owned(),
                printed,
                of,
            });
        useless.collect()
    }

    /// Machines and filaments that are gone, each with what prints there, if it is to be told.
    fn gone(
        &self,
        machine_told: impl Fn(&str, &Option<String>) -> bool,
        filament_told: impl Fn(&str, &Option<String>) -> bool,
    ) -> Vec<Difference> {
        let (state, names) = (self.state, self.names);
        let open = state.open_runs();
        let open: Vec<&PlannedRun> = open.into_iter().map(|key| state.planned(key)).collect();
        let then = state.basis.as_ref().and_then(|was| was.things.as_deref());
        let mut machines: BTreeSet<&str> = open.iter().map(|run| run.machine.as_str()).collect();
        machines.extend(state.running.keys().map(String::as_str));
        machines.extend(
            then.iter()
                .flat_map(|was| was.machines.keys().map(String::as_str)),
        );
        let mut found = Vec::new();
        for machine in machines {
            let on = state.running.get(machine);
            let run = on.map(|&key| state.planned(key).id.clone());
            if names.machine(machine).is_none() && machine_told(machine, &run) {
                found.push(Difference::MachineGone {
                    machine: machine.to_owned(),
                    run,
                });
            }
        }
        let mut filaments: BTreeSet<&str> = open.iter().map(|run| run.filament.as_str()).collect();
        filaments.extend(state.spools.values().map(|spool| spool.filament.as_str()));
        filaments.extend(
            then.iter()
                .flat_map(|was| was.filaments.keys().map(String::as_str)),
        );
        let printing = || state.running.values().map(|&key| state.planned(key));
        filaments.extend(printing().map(|run| run.filament.as_str()));
        for filament in filaments {
            let run = printing().find(|run| run.filament == filament);
            let run = run.map(|run| run.id.clone());
            if names.filament(filament).is_none() && filament_told(filament, &run) {
                found.push(Difference::FilamentGone {
                    filament: filament.to_owned(),
                    run,
                });
            }
        }
        found
    }

    /// Assemblies that are due at another time.
    fn dues(&self) -> Vec<Difference> {
        let zone = self.scenario.build.zone;
        let shown = |due: Option<DateTime<Utc>>| {
            let local = due.map(|due| due.with_timezone(&zone));
            local.map_or("at no time".to_owned(), |local| {
                local.format("%a %-d %b %H:%M").to_string()
            })
        };
        let mut found = Vec::new();
        for planned in &self.plan.assemblies {
            let known = self.names.assembly(Some(&planned.id));
            let due = known.map(|known| self.scenario.assemblies[known.0].due);
            if let Some(due) = due.filter(|due| *due != planned.due) {
                found.push(Difference::Due {
                    assembly: planned.id.clone(),
                    was: shown(planned.due),
                    is: shown(due),
                });
            }
        }
        found
    }

    /// By the plan itself, where nothing else is known.
    fn by_plan(&self) -> Vec<Difference> {
        let (state, names, plan) = (self.state, self.names, self.plan);
        let mut found = Vec::new();
        // Copies by part that the plan and what happened before it know of, and how the plan prints them.
        let mut copies: BTreeMap<&str, BTreeSet<u32>> = BTreeMap::new();
        let mut filaments: BTreeMap<&str, &str> = BTreeMap::new();
        let on_machines = state.running.values().map(|&key| state.planned(key));
        // What the plan prints of a part comes before what printed already when it was accepted.
        for run in plan.runs.iter().chain(on_machines) {
            for piece in &run.pieces {
                copies
                    .entry(piece.part())
                    .or_default()
                    .insert(piece.number());
                filaments.entry(piece.part()).or_insert(&run.filament);
            }
        }
        // What was lost and is on no run of the plan was wanted no more when it was accepted, or has come off a run that printed then.
        let printing = plan.printing.iter().map(|run| run.id.as_str());
        let printing: BTreeSet<&str> = printing.collect();
        let before = state.past.started.values();
        for run in before.filter(|run| printing.contains(run.id.as_str())) {
            for piece in &run.pieces {
                copies
                    .entry(piece.part())
                    .or_default()
                    .insert(piece.number());
            }
        }
        for piece in state.made.keys() {
            copies.entry(&piece.part).or_default().insert(piece.number);
        }
        for (part, numbers) in &copies {
            let Some(index) = names.part(part) else {
                found.push(self.part_gone(part));
                continue;
            };
            let wanted = &self.scenario.parts[index.0];
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
            let is = &self.scenario.filaments[wanted.filament.0].id;
            if let Some(was) = filaments.get(part).filter(|was| *was != is) {
                found.push(Difference::Filament {
                    part: (*part).to_owned(),
                    was: (*was).to_owned(),
                    is: is.clone(),
                });
            }
            found.extend(self.useless_lengths(part, wanted));
        }
        for part in &self.scenario.parts {
            if !copies.contains_key(part.id.as_str()) {
                found.push(Difference::PartAdded {
                    part: part.id.clone(),
                    copies: part.copies(),
                });
            }
        }
        found.extend(self.gone(|_, _| true, |_, _| true));
        let planned = plan.assemblies.iter().map(|assembly| &assembly.id);
        for assembly in planned.filter(|id| names.assembly(Some(id)).is_none()) {
            found.push(Difference::AssemblyGone {
                assembly: assembly.clone(),
            });
        }
        found.extend(self.dues());
        found
    }
}
