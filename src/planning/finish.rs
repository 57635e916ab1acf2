//! Turns a queue of numbers into a plan with dates, places, copies and reasons.
//!
//! Knows: the shop, a snapshot, the scenario's words. Must not know: moves, the linear program.
//! Promises: the plan's dates and cost are the snapshot's; copies are numbered in the order in which they are printed,
//! trial copies first; of one run, like copies are numbered as one reads its map.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, Utc};

use crate::calendar::Minute;
use crate::lifting;
use crate::model::relaxation::base_plastic;
use crate::plan::{
    self, AssemblyDates, Facts, Given, Gluing, Ledger, Piece, Plan, Run, Sheets, Since, SpareWork,
    SpoolNote, Trial, Work,
};
use crate::progress::Progress;
use crate::routes::{PartRoutes, kind_of};
use crate::scenario::{AssemblyIndex, FilamentIndex, MachineIndex, PartIndex, Scenario};
use crate::search::bench_work::{BenchWork, GlueTask, Stretch};
use crate::search::calm::NONE;
use crate::search::dating::NO_SETUP;
use crate::search::fitter::{Fitter, Laid};
use crate::search::shop::{EMPTY, ItemId, Shop};
use crate::search::snapshot::Snapshot;
use crate::stock::{self, OnHand, Short};
use crate::strength;
use crate::units::{Grams, Millimetres, Minutes, Money};

use super::numbers::{Number, in_reading_order, number_copies, number_pieces};
use super::rest::Rest;
use super::{idle, ranges, sheets, why};

/// What a plan is made from besides its queue.
#[derive(Clone, Copy)]
pub struct Ground<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Its routes.
    pub routes: &'a [PartRoutes],
    /// What is left of it as numbers.
    pub shop: &'a Shop,
    /// What is left of it, if something has been done.
    pub rest: Option<&'a Rest>,
    /// What has been done.
    pub progress: &'a Progress,
    /// Spools.
    pub on_hand: &'a OnHand,
}

/// A finished plan.
pub struct Finished {
    /// The plan; its bound is still zero.
    pub plan: Plan,
    /// The first run for which there is no spool when it begins: then it is no plan yet.
    pub short: Option<Short>,
}

impl<'a> Ground<'a> {
    /// The scenario of what is left to be planned.
    pub fn left(&self) -> &'a Scenario {
        self.rest.map_or(self.scenario, |rest| &rest.scenario)
    }

    fn since(&self) -> Option<&'a Since> {
        self.rest.map(|rest| &rest.since)
    }

    /// Pieces that exist or print.
    fn given(&self) -> impl Iterator<Item = &'a Given> {
        self.since().into_iter().flat_map(|since| &since.pieces)
    }

    /// Copies of a part up to this number are its trial; 0 where it has none, or it is approved.
    pub fn trial(&self, part: usize) -> u32 {
        match self.rest {
            Some(rest) => rest.begun.trial_numbers[part],
            None => self.scenario.parts[part].trial,
        }
    }
}

/// Makes the plan of a queue; its bound is still zero.
///
/// `None` if a plate that was found to fit could not be laid out again, which would be a fault of this program.
pub fn finish(ground: &Ground, queue: &Snapshot, seed: u64) -> Option<Finished> {
    let shop = ground.shop;
    let scenario = ground.scenario;
    let mut fitter = Fitter::default();
    let mut state = queue.restore(shop, &mut fitter);
    let (stretches, glue, work) = state.bench_work(shop);
    let waits = state.waits(shop);
    let copies = number_copies(ground, queue);
    let mut numbers = number_pieces(ground, queue, &copies);
    let mut runs = Vec::new();
    for (machine, waits) in waits.iter().enumerate() {
        let mut loaded = shop.machines[machine].loaded;
        for (position, saved) in queue.sheets[machine].iter().enumerate() {
            let mut laid = fitter.layout(shop, &saved.loads, machine)?;
            let filament = shop.items[saved.loads.first()?.item as usize].filament;
            let part = shop.class_of(saved.loads.first()?.item).part as usize;
            let date = saved.date;
            let at = |minute: Minute| shop.calendar.moment(minute);
            let mut pieces = Vec::with_capacity(laid.len());
            let mut grams = Grams::ZERO;
            for place in &laid {
                grams += Grams(shop.ways(place.item, machine)[place.way].grams);
            }
            in_reading_order(&mut laid, scenario.machines[machine].is_belt());
            for place in &laid {
                let number = numbers
                    .get_mut(&(machine, position, place.item))
                    .and_then(Vec::pop)?;
                pieces.push(piece(ground, machine, place, number)?);
            }
            pieces.sort_by_key(|p| (p.part, p.number, p.length));
            runs.push(Run {
                id: String::new(), // they are named when all of them are there
                machine: MachineIndex(machine),
                filament: FilamentIndex(filament as usize),
                settings: scenario.parts[part].settings,
                swap_from: (filament != loaded)
                    .then(|| (loaded != EMPTY).then_some(FilamentIndex(loaded as usize))),
                setup: (date.window != NO_SETUP).then(|| at(date.setup)),
                start: at(date.start),
                end: at(date.end),
                minutes: Minutes(i64::from(date.end - date.start)),
                alone: !shop.calendar.attended(date.start, date.end),
                grams,
                pieces,
                spool: SpoolNote::default(),
                waits: waits[position].map(at),
                put_off: date.put_off
                    || shop
                        .holds
                        .of(machine, position)
                        .is_some_and(|until| until > 0 && until == date.setup),
            });
            loaded = filament;
        }
    }
    let names = ground.rest.map(|rest| rest.names.clone());
    names.unwrap_or_default().give(scenario, &mut runs);
    let bench = Bench {
        ground,
        stretches: &stretches,
        glue: &glue,
        work: &work,
    };
    let gluings = bench.gluings(&copies);
    let mut assemblies = bench.assemblies(&runs);
    let spare_work = bench.spare_work();
    let finish = assemblies
        .iter()
        .map(|a| a.complete)
        .max()
        .unwrap_or(scenario.build.start);
    let uses = sheets::uses(scenario, &runs);
    let mut provision = stock::provide(scenario, ground.on_hand, &shop.calendar, &uses);
    for (run, note) in runs.iter_mut().zip(provision.notes) {
        run.spool = note;
    }
    let contradicted = ranges::give(ground, &runs, &mut provision.orders);
    let mut copy_grams = plan::copy_grams(scenario, ground.routes, &runs);
    if ground.rest.is_some() {
        plan::fill_copy_grams(&mut copy_grams, ground.routes);
    }
    let mut least_support = vec![Grams::ZERO; scenario.parts.len()];
    for part in ground.routes {
        least_support[part.part.0] = part.least_support().unwrap_or(Grams::ZERO);
    }
    let failures = plan::failures(scenario, ground.progress);
    let reserves = plan::reserves(scenario, ground.progress, &runs);
    let mut cautions: Vec<String> = (ground.since())
        .and_then(|since| plan::overdue(scenario, &since.running))
        .into_iter()
        .collect();
    cautions.extend(plan::cautions(
        scenario,
        &Facts {
            runs: &runs,
            failures: &failures,
            reserves: &reserves,
            gluings: &gluings,
            orders: &provision.orders,
            copy_grams: &copy_grams,
            least_support: &least_support,
        },
    ));
    cautions.extend(contradicted);
    let dated = assemblies.clone();
    let ledger = Ledger {
        runs: &runs,
        gluings: &gluings,
        assemblies: &dated,
        spare_work: &spare_work,
        finish,
        since: ground.since(),
    };
    let floats = plan::floats(scenario, &ledger, &shop.calendar);
    for (dates, float) in assemblies.iter_mut().zip(floats) {
        dates.float = float;
    }
    let mut cost = plan::cost(scenario, &ledger);
    let critical = plan::critical_path(scenario, &ledger);
    let idle = idle::idle(ground, queue, &mut state, &ledger);
    let sheets = queue.sheets.iter().enumerate();
    let moved = sheets.map(|(machine, sheet)| {
        let runs = 0..sheet.len();
        runs.filter(|&run| state.place(machine, run) == NONE)
            .count()
    });
    cost.calm = Money(shop.calm.churn) * moved.sum::<usize>() as f64;
    let decided = cost.total() - base_plastic(ground.left(), ground.routes);
    let mut plan = Plan {
        critical,
        idle,
        seed,
        cost,
        bound: Money::ZERO,
        decided,
        finish,
        routes: why::routes(ground, &runs),
        trials: trials(ground, &runs),
        chosen: chosen(ground.progress),
        runs,
        gluings,
        assemblies,
        spare_work,
        orders: provision.orders,
        failures,
        reserves,
        lifts: lifting::lifts(scenario, &copy_grams),
        spans: strength::spans(scenario),
        cautions,
        stopped: false,
        sheets: Sheets::default(),
        since: ground.since().cloned(),
    };
    let place = sheets::Place {
        scenario,
        on_hand: ground.on_hand,
        calendar: &shop.calendar,
    };
    plan.sheets = sheets::of_plan(&place, &plan, &copy_grams);
    Some(Finished {
        plan,
        short: provision.short,
    })
}

/// Which variants were chosen.
fn chosen(progress: &Progress) -> Vec<(PartIndex, usize)> {
    let trials = progress.trials.iter().enumerate();
    let approved = trials.filter(|(_, trial)| trial.approved.is_some());
    approved
        .filter_map(|(part, trial)| Some((PartIndex(part), trial.chosen?)))
        .collect()
}

/// When each part's trial copies, which have the first numbers, are printed and can be approved.
fn trials(ground: &Ground, runs: &[Run]) -> Vec<Trial> {
    let calendar = &ground.shop.calendar;
    let mut printed: BTreeMap<PartIndex, DateTime<Utc>> = BTreeMap::new();
    for run in runs {
        for piece in &run.pieces {
            if piece.number <= ground.trial(piece.part.0) {
                let last = printed.entry(piece.part).or_insert(run.end);
                *last = run.end.max(*last);
            }
        }
    }
    for given in ground
        .given()
        .filter(|one| one.number <= ground.trial(one.part.0))
    {
        let last = printed.entry(given.part).or_insert(given.printed);
        *last = given.printed.max(*last);
    }
    let approved = |printed| calendar.next_presence(calendar.minute(printed));
    printed
        .into_iter()
        .filter_map(|(part, printed)| {
            Some(Trial {
                part,
                printed,
                approved: calendar.moment(approved(printed)?),
            })
        })
        .collect()
}

/// The place of one laid piece, in the bed's own millimetres.
fn piece(ground: &Ground, machine: usize, place: &Laid, number: Number) -> Option<Piece> {
    let scenario = ground.scenario;
    let item = &ground.shop.items[place.item as usize];
    let class = ground.shop.class_of(place.item);
    let node = &ground.shop.nodes[class.node as usize];
    let m = &scenario.machines[machine];
    // A belt has its margin at both sides only; along it a run begins where it begins.
    let margin = m.margin.0;
    let along = if m.is_belt() { 0.0 } else { margin };
    let form = &ground.routes[class.part as usize].forms[item.form as usize];
    let way = form
        .ways_of(item.kind as usize, MachineIndex(machine))
        .nth(place.way)?;
    Some(Piece {
        part: PartIndex(class.part as usize),
        number: number.0,
        length: number.1,
        of: item.lengths,
        assembly: node.assembly.map(|a| AssemblyIndex(a as usize)),
        route: kind_of(item.lengths, m.is_belt(), place.turn),
        x: Millimetres(place.x + margin),
        y: Millimetres(place.y + along),
        turn: place.turn,
        size: way.size,
        upright: way.upright,
        over: way.over,
        outline: way.outline.clone(),
    })
}

/// What dating the bench work has found.
struct Bench<'a> {
    ground: &'a Ground<'a>,
    stretches: &'a [Stretch],
    glue: &'a [GlueTask],
    work: &'a BenchWork,
}

impl Bench<'_> {
    fn at(&self, minute: Minute) -> DateTime<Utc> {
        self.ground.shop.calendar.moment(minute)
    }

    /// The stretches of a task, those that touch joined.
    fn work_of(&self, task: usize) -> Vec<Work> {
        let mut spans: Vec<(Minute, Minute)> = Vec::new();
        for stretch in self.stretches.iter().filter(|s| s.task as usize == task) {
            match spans.last_mut() {
                Some(last) if last.1 == stretch.from => last.1 = stretch.to,
                _ => spans.push((stretch.from, stretch.to)),
            }
        }
        spans
            .into_iter()
            .map(|(from, to)| Work {
                from: self.at(from),
                to: self.at(to),
            })
            .collect()
    }

    /// Gluing of each split copy, numbered as its pieces are: in the order in which its last length ends.
    fn gluings(&self, copies: &HashMap<ItemId, Vec<u32>>) -> Vec<Gluing> {
        let shop = self.ground.shop;
        let mut next: HashMap<ItemId, usize> = HashMap::new();
        let mut gluings = Vec::new();
        for (index, task) in self.glue.iter().enumerate() {
            let (part, form, number) = match shop.joins.get(index) {
                // Those that are only to be joined come first.
                Some(join) => (join.copy.part, join.copy.form, join.copy.number),
                None => {
                    let item = &shop.items[task.item as usize];
                    let copy = next.entry(task.item).or_insert(0);
                    let list = copies.get(&task.item);
                    let number = list.and_then(|list| list.get(*copy)).copied().unwrap_or(1);
                    *copy += 1;
                    let part = shop.class_of(task.item).part as usize;
                    (part, item.form as usize, number)
                }
            };
            let form = &self.ground.routes[part].forms[form];
            let Some(joint) = form.joint else { continue };
            let node = &shop.nodes[task.node as usize];
            let pieces = self.ground.given();
            let given = pieces.filter(|one| (one.part.0, one.number) == (part, number));
            let given = given.map(|one| one.printed).max();
            // What was printed before now may have been so long before.
            let printed = match shop.joins.get(index) {
                Some(_) => given.unwrap_or(self.at(task.release)),
                None => self.at(task.release),
            };
            gluings.push(Gluing {
                part: PartIndex(part),
                number,
                assembly: node.assembly.map(|a| AssemblyIndex(a as usize)),
                joint,
                printed,
                work: self.work_of(shop.nodes.len() + index),
                ready: self.at(self.work.glued[index]),
            });
        }
        gluings.sort_by_key(|g| (g.part, g.number));
        gluings
    }

    /// Dates of all assemblies, in scenario order.
    fn assemblies(&self, runs: &[Run]) -> Vec<AssemblyDates> {
        let scenario = self.ground.scenario;
        let shop = self.ground.shop;
        let mut printed: Vec<Option<DateTime<Utc>>> = vec![None; scenario.assemblies.len()];
        for run in runs {
            for assembly in run.pieces.iter().filter_map(|p| p.assembly) {
                let known = printed[assembly.0].unwrap_or(run.end);
                printed[assembly.0] = Some(known.max(run.end));
            }
        }
        for given in self.ground.given() {
            if let Some(assembly) = given.assembly {
                let known = printed[assembly.0].unwrap_or(given.printed);
                printed[assembly.0] = Some(known.max(given.printed));
            }
        }
        let mut dates: Vec<AssemblyDates> = Vec::new();
        let mut order: Vec<(usize, usize)> = shop
            .nodes
            .iter()
            .enumerate()
            .filter_map(|(n, node)| node.assembly.map(|a| (a as usize, n)))
            .collect();
        order.sort_unstable();
        for (assembly, node) in order {
            let work = self.work_of(node);
            let complete = self.work.complete[node];
            let could = self.work.could_start[node];
            let due = scenario.assemblies[assembly].due;
            let done = self
                .ground
                .since()
                .and_then(|since| since.complete_at(AssemblyIndex(assembly)));
            if let Some(complete) = done {
                dates.push(AssemblyDates {
                    assembly: AssemblyIndex(assembly),
                    printed: complete,
                    start: complete,
                    work: Vec::new(),
                    complete,
                    late_days: due.map_or(0.0, |due| plan::days(complete - due).max(0.0)),
                    float: Minutes::ZERO,
                });
                continue;
            }
            dates.push(AssemblyDates {
                assembly: AssemblyIndex(assembly),
                printed: printed[assembly].unwrap_or(scenario.build.start),
                start: work.first().map_or(self.at(could), |w| w.from),
                late_days: due.map_or(0.0, |due| plan::days(self.at(complete) - due).max(0.0)),
                work,
                complete: self.at(complete),
                float: Minutes::ZERO,
            });
        }
        dates
    }

    fn spare_work(&self) -> Vec<SpareWork> {
        let shop = self.ground.shop;
        (0..shop.nodes.len())
            .filter(|&n| shop.nodes[n].assembly.is_none())
            .filter_map(|n| {
                let class = *shop.nodes[n].classes.first()?;
                let work = self.work_of(n);
                (!work.is_empty()).then(|| SpareWork {
                    part: PartIndex(shop.classes[class as usize].part as usize),
                    work,
                })
            })
            .collect()
    }
}
