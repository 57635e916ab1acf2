//! Why machines print nothing, or nothing more, while others do.
//!
//! Knows: a dated queue, routes, exact costs of a changed queue. Must not know: moves of the search, words.
//! Promises: a reason holds for every piece that others print from then on; a cost is that of the whole queue with the change,
//! dated exactly. What was not tried is not claimed. A move that would make the plan cheaper is no reason: [`better`] makes it in a queue
//! that was found; where it is not asked (a plan that is kept, or was found by the proof) or the move comes to nothing, it is only said
//! that something could be made there.
//!
//! Told of a machine without any run, and of one that ends [`LONG`] before the last, if that may cost something: a stage is late, or
//! something is paid by the day, and something is still to be started elsewhere.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};

use crate::plan::{Idle, Ledger, Unused};
use crate::scenario::{MachineIndex, Part, PartIndex};
use crate::search::edit::Edit;
use crate::search::fitter::Fitter;
use crate::search::plate::Load;
use crate::search::shop::ItemId;
use crate::search::snapshot::Snapshot;
use crate::search::state::State;
use crate::units::Money;

use super::finish::Ground;

/// A machine that ends so much earlier than the last is told of; common practice, no source.
const LONG: TimeDelta = TimeDelta::days(3);

/// Moves that are dated for all machines together; of a farm of thousands of runs some.
const MOVES: usize = 400;

/// Sums of costs that are nearer are equal.
const SAME: f64 = 0.005;

/// All such machines, in the scenario's order. The plan's runs are those of the queue, machine by machine in the order of its sheets.
pub fn idle(ground: &Ground, queue: &Snapshot, state: &mut State, plan: &Ledger) -> Vec<Idle> {
    let (standing, each) = standing(ground, plan);
    let mut tries = Tries {
        ground,
        queue,
        state,
        fitter: Fitter::default(),
    };
    let of = |(machine, from)| {
        let why = tries.why(plan, machine, from, each);
        Idle { machine, from, why }
    };
    standing.into_iter().map(of).collect()
}

/// The queue with the cheapest of the moves to machines without work that make it cheaper; `None` where none of them does.
pub fn better(ground: &Ground, queue: &Snapshot, plan: &Ledger) -> Option<Snapshot> {
    let mut state = queue.restore(ground.shop, &mut Fitter::default());
    let (standing, each) = standing(ground, plan);
    let before = state.cost();
    let mut tries = Tries {
        ground,
        queue,
        state: &mut state,
        fitter: Fitter::default(),
    };
    let mut best: Option<(Try, MachineIndex)> = None;
    for (machine, from) in standing {
        let others = tries.others(plan, machine, from);
        let (_, cheapest) = tries.cheapest(machine, &others, each);
        let cheapest = cheapest.filter(|one| one.cost <= before - SAME);
        if let Some(one) = cheapest
            && best.as_ref().is_none_or(|(known, _)| one.cost < known.cost)
        {
            best = Some((one, machine));
        }
    }
    let (one, machine) = best?;
    let loads = tries.loads(one.other).to_vec();
    let (mut edit, _) = tries.proposed(one.other, &loads, &one.taken, machine)?;
    tries.state.keep(&mut edit);
    Some(Snapshot::of(tries.state))
}

/// A machine to be told of, and from when on.
type Standing = (MachineIndex, Option<DateTime<Utc>>);

/// The machines to be told of, from when on, and how many moves to each are tried.
fn standing(ground: &Ground, plan: &Ledger) -> (Vec<Standing>, usize) {
    let machines = 0..ground.scenario.machines.len();
    let standing: Vec<_> = machines
        .map(MachineIndex)
        .filter_map(|machine| Some((machine, stands(ground, plan, machine)?)))
        .collect();
    let each = MOVES / standing.len().max(1);
    (standing, each)
}

/// Whether a machine is to be told of, and from when on.
fn stands(ground: &Ground, plan: &Ledger, machine: MachineIndex) -> Option<Option<DateTime<Utc>>> {
    let last = plan.runs.iter().map(|run| run.end).max()?;
    let here = plan.runs.iter().filter(|run| run.machine == machine);
    let standing = plan.since.into_iter().flat_map(|since| &since.running);
    let standing = standing.filter(|run| run.machine == machine);
    let ends = here.map(|run| run.end).chain(standing.map(|run| run.end));
    let Some(end) = ends.max() else {
        return Some(None);
    };
    let late = plan.assemblies.iter().any(|dates| dates.late_days > 0.0);
    let paid = ground.scenario.build.each_day.0 > 0.0 && !plan.assemblies.is_empty();
    let begins = plan.runs.iter().any(|run| run.start >= end);
    (last - end >= LONG && (late || paid) && begins).then_some(Some(end))
}

/// A queue that is changed in one way after another.
struct Tries<'a> {
    ground: &'a Ground<'a>,
    queue: &'a Snapshot,
    state: &'a mut State,
    fitter: Fitter,
}

/// A move that was tried.
struct Try {
    /// What the whole queue costs with it.
    cost: f64,
    other: Other,
    taken: Vec<Load>,
    whole: bool,
}

/// A run that could be elsewhere: its machine, its place there, its name's place in the plan.
#[derive(Clone, Copy)]
struct Other {
    machine: usize,
    place: usize,
    run: usize,
    /// It may not be moved.
    firm: bool,
}

impl Tries<'_> {
    fn why(
        &mut self,
        plan: &Ledger,
        machine: MachineIndex,
        from: Option<DateTime<Utc>>,
        moves: usize,
    ) -> Unused {
        let others = self.others(plan, machine, from);
        let Some(until) = others.iter().map(|other| plan.runs[other.run].end).max() else {
            return Unused::Fits(0);
        };
        if self.is_out(plan, machine, from, until) {
            return Unused::Out;
        }
        let shop = self.ground.shop;
        let part = |item: ItemId| PartIndex(shop.class_of(item).part as usize);
        let items: BTreeSet<ItemId> = others
            .iter()
            .flat_map(|other| self.loads(*other))
            .map(|load| load.item)
            .collect();
        let parts: BTreeSet<PartIndex> = items.iter().map(|&item| part(item)).collect();
        // In whatever form, not only in those in which they are printed.
        let all = 0..shop.items.len() as ItemId; // an item's number is its place
        let can = all.filter(|&item| !shop.ways(item, machine.0).is_empty());
        let can: BTreeSet<PartIndex> = can.map(part).filter(|part| parts.contains(part)).collect();
        if can.is_empty() {
            return self.no_way(&parts, machine);
        }
        let nothing = Unused::Fits(can.len());
        self.no_cheaper(plan, machine, &others, moves)
            .unwrap_or(nothing)
    }

    /// Runs of other machines that are started from then on.
    fn others(
        &self,
        plan: &Ledger,
        machine: MachineIndex,
        from: Option<DateTime<Utc>>,
    ) -> Vec<Other> {
        let mut places: BTreeMap<usize, usize> = BTreeMap::new();
        let mut others = Vec::new();
        for (run, dated) in plan.runs.iter().enumerate() {
            let on = dated.machine.0;
            let place = places.entry(on).or_default();
            if on != machine.0 && from.is_none_or(|from| dated.start >= from) {
                others.push(Other {
                    machine: on,
                    place: *place,
                    run,
                    firm: *place < self.ground.shop.calm.firm(on),
                });
            }
            *place += 1;
        }
        others
    }

    fn loads(&self, other: Other) -> &[Load] {
        let sheet = self.queue.sheets.get(other.machine);
        let run = sheet.and_then(|sheet| sheet.get(other.place));
        run.map_or(&[], |run| &run.loads)
    }

    fn is_out(
        &self,
        plan: &Ledger,
        machine: MachineIndex,
        from: Option<DateTime<Utc>>,
        until: DateTime<Utc>,
    ) -> bool {
        let start = plan
            .since
            .map_or(self.ground.scenario.build.start, |since| since.now);
        let mut free = from.unwrap_or(start);
        let said = self.ground.scenario.machines[machine.0].offline.iter();
        let noted = plan.since.into_iter().flat_map(|since| &since.down);
        let noted = noted
            .filter(|(of, _)| *of == machine)
            .map(|(_, outage)| outage);
        let mut outages: Vec<_> = said.chain(noted).collect();
        outages.sort_by_key(|outage| outage.from);
        for outage in outages {
            if outage.from <= free {
                free = outage.to.max(free);
            }
        }
        free >= until
    }

    /// Why none of these parts, in any form, can be made on a machine; the first reason that holds for all of them.
    fn no_way(&self, parts: &BTreeSet<PartIndex>, machine: MachineIndex) -> Unused {
        let scenario = self.ground.scenario;
        let m = &scenario.machines[machine.0];
        let material = |part: &Part| {
            let filament = &scenario.filaments[part.filament.0];
            m.materials.contains(&filament.material)
        };
        let allowed = |part: &Part| {
            part.only.get(machine.0).copied().unwrap_or(true) && (part.belt || !m.is_belt())
        };
        let all = |is: &dyn Fn(&Part) -> bool| parts.iter().all(|part| is(&scenario.parts[part.0]));
        if all(&|part| !material(part)) {
            Unused::Material
        } else if all(&|part| !allowed(part)) {
            Unused::Forbidden
        } else if !all(&|part| material(part) && allowed(part)) {
            Unused::NoWay
        } else {
            // What fits a machine and is not among the shop's ways is longer than its runs may be.
            let fits = |part: &PartIndex| {
                let forms = self.ground.routes[part.0].forms.iter();
                let mut ways = forms.flat_map(|form| &form.ways);
                ways.any(|way| way.machine == machine)
            };
            match parts.iter().filter(|part| fits(part)).count() {
                0 => Unused::Size,
                some if some == parts.len() => Unused::Hours,
                _ => Unused::NoWay,
            }
        }
    }

    /// How many moves of these runs, or of some of their pieces, to a machine were tried, and the cheapest of them.
    fn cheapest(
        &mut self,
        machine: MachineIndex,
        others: &[Other],
        moves: usize,
    ) -> (usize, Option<Try>) {
        let mut tried = 0;
        let mut least: Option<Try> = None;
        for &other in others.iter().filter(|other| !other.firm) {
            let loads = self.loads(other).to_vec();
            for taken in self.taken(&loads, machine) {
                if tried == moves {
                    break;
                }
                let whole = taken == loads;
                let Some(cost) = self.cost_of(other, &loads, &taken, machine) else {
                    continue;
                };
                tried += 1;
                if least.as_ref().is_none_or(|known| cost < known.cost) {
                    least = Some(Try {
                        cost,
                        other,
                        taken,
                        whole,
                    });
                }
            }
        }
        (tried, least)
    }

    /// The cheapest of the moves that were tried, if none is cheaper than the queue as it is.
    fn no_cheaper(
        &mut self,
        plan: &Ledger,
        machine: MachineIndex,
        others: &[Other],
        moves: usize,
    ) -> Option<Unused> {
        let before = self.state.cost();
        let (tried, least) = self.cheapest(machine, others, moves);
        let Try {
            cost,
            other,
            taken,
            whole,
        } = least?;
        let by = cost - before;
        (by.is_finite() && by > -SAME).then(|| Unused::Dearer {
            moves: tried,
            run: plan.runs[other.run].id.clone(),
            pieces: taken
                .iter()
                .map(|load| {
                    let part = self.ground.shop.class_of(load.item).part as usize;
                    (PartIndex(part), load.count)
                })
                .collect(),
            whole,
            by: Money(if by < SAME { 0.0 } else { by }),
        })
    }

    /// What may be taken off a run for a machine: all that it can make, each kind of it, half of it, one of it.
    fn taken(&self, loads: &[Load], machine: MachineIndex) -> Vec<Vec<Load>> {
        let shop = self.ground.shop;
        let fits = |load: &&Load| !shop.ways(load.item, machine.0).is_empty();
        let all: Vec<Load> = loads.iter().filter(fits).copied().collect();
        let mut taken = vec![all.clone()];
        for load in all {
            for count in [load.count, load.count / 2, 1] {
                let some = vec![Load { count, ..load }];
                if count > 0 && !taken.contains(&some) {
                    taken.push(some);
                }
            }
        }
        taken.retain(|some| !some.is_empty());
        taken
    }

    /// What the queue costs with these pieces on a run of their own at the end of the machine's sheet; `None` where they, or what is
    /// left, do not fit on a plate, or nothing can be dated so.
    fn cost_of(
        &mut self,
        other: Other,
        loads: &[Load],
        taken: &[Load],
        machine: MachineIndex,
    ) -> Option<f64> {
        let (mut edit, cost) = self.proposed(other, loads, taken, machine)?;
        self.state.take_back(self.ground.shop, &mut edit);
        cost.is_finite().then_some(cost)
    }

    /// The queue so, proposed to the state, and what it costs.
    fn proposed(
        &mut self,
        other: Other,
        loads: &[Load],
        taken: &[Load],
        machine: MachineIndex,
    ) -> Option<(Edit, f64)> {
        let shop = self.ground.shop;
        let mut edit = Edit::default();
        let left: Vec<Load> = loads
            .iter()
            .filter_map(|load| {
                let gone = taken.iter().find(|gone| gone.item == load.item);
                let count = load.count - gone.map_or(0, |gone| gone.count);
                (count > 0).then_some(Load { count, ..*load })
            })
            .collect();
        // A hold is of a place on a sheet: where a run goes, those after it would get its neighbours'.
        let mut after = other.place..self.state.sheets[other.machine].len();
        let held = after.any(|place| shop.holds.of(other.machine, place).is_some());
        if left.is_empty() && held {
            return None;
        }
        let there = self
            .state
            .make(shop, &mut self.fitter, &mut edit, taken, machine.0);
        let here = if left.is_empty() {
            Some(None)
        } else {
            let made = self
                .state
                .make(shop, &mut self.fitter, &mut edit, &left, other.machine);
            made.map(Some)
        };
        let (Some(there), Some(here)) = (there, here) else {
            for plate in edit.fresh.drain(..) {
                self.state.plates.release(plate);
            }
            return None;
        };
        let sheet = edit.sheet(self.state, other.machine);
        sheet.splice(other.place..=other.place, here);
        edit.sheet(self.state, machine.0).push(there);
        let cost = self.state.propose(shop, &mut edit);
        Some((edit, cost))
    }
}
