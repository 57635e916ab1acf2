//! The accepted plan gone on with: as it is, with only that put right that was lost or is late, or as a search from there leaves it.
//!
//! Knows: the accepted plan's runs, how a queue becomes a plan. Must not know: moves, how a better queue is sought.
//! Promises: a plan that is kept has passed its audit; no plan comes out that is worse than the accepted one put right; of firm runs that
//! could have stayed as many stay as were found to; changes are told.

use std::sync::Arc;

use crate::plan::audit::{audit_since, firm_but_moved};
use crate::plan::{Cost, Plan};
use crate::progress::{Previous, PreviousRun};
use crate::search::dating::NO_SETUP;
use crate::search::fitter::Fitter;
use crate::search::portfolio::Limit;
use crate::search::repair::repaired;
use crate::search::shop::Shop;
use crate::search::snapshot::{SavedRun, Snapshot};
use crate::search::state::State;
use crate::units::Money;

use super::finish::{Finished, finish};
use super::replay::{self, Replay, firm_until};
use super::rest::Rest;
use super::searched::{Searched, Task};
use super::{NoPlan, Options, attended, changes, firm, preferred, supply};

/// The accepted plan, and what goes on from it.
pub struct Accepted<'a> {
    /// What is planned.
    pub task: &'a Task<'a>,
    /// What is left.
    pub rest: &'a Rest,
    /// The plan.
    pub previous: &'a Previous,
}

/// A plan that keeps to the accepted one, and its queue.
struct Kept {
    plan: Plan,
    queue: Snapshot,
    /// How many firm runs could stay and do not.
    moved: usize,
}

impl Accepted<'_> {
    /// The plan of what is left.
    pub fn gone_on_with(&self, shop: &mut Shop) -> Result<Searched, NoPlan> {
        let build = &self.task.scenario.build;
        shop.calm = replay::calm(shop, self.previous, build.churn);
        let again = replay::replay(shop, self.task.routes, self.rest, self.previous);
        let kept = self.as_it_is(shop, &again);
        let kept = match kept {
            // A plan that can be kept as it is, is kept, unless something is known by which another may be cheaper.
            Some(kept) if !self.previous.news && !self.previous.early => {
                return Ok(kept.unsearched());
            }
            kept => kept,
        };
        let until = firm_until(shop, build.firm);
        let start = firm::hold(shop, again.clone(), until).map(|start| repaired(shop, &start));
        let first = self.searched(self.task, shop, start.as_ref(), kept, &again)?;
        let moved = self.moved(&first.plan);
        // Whoever ended the search waits for no other.
        if moved.is_empty() || self.task.options.watch.stop() {
            return Ok(first);
        }
        // What a firm run waited for may have found another place in time only after the run had been let go: so once more, from there.
        let second = self.asked_again(shop, &again, &first.queue, &moved);
        let left = |second: &Searched| self.moved(&second.plan).len();
        let second = second.filter(|second| left(second) < moved.len());
        let Some(mut second) = second else {
            return Ok(first);
        };
        // What keeping costs was found before.
        if left(&second) == 0 {
            let kept = first.plan.since.as_ref().and_then(|since| since.kept);
            self.tell(shop, &mut second.plan, kept);
        }
        Ok(second)
    }

    /// Names of firm runs that could stay and do not.
    fn moved(&self, plan: &Plan) -> Vec<String> {
        firm_but_moved(self.task.written, self.task.progress, plan)
    }

    /// From the queue that was found, with firm runs put back where they were accepted.
    fn asked_again(
        &self,
        shop: &mut Shop,
        again: &Replay,
        found: &Snapshot,
        moved: &[String],
    ) -> Option<Searched> {
        let until = firm_until(shop, self.task.scenario.build.firm);
        let runs = self.previous.runs.iter();
        let back = runs.filter(|run| moved.contains(&run.id)).map(|run| {
            let start = shop.calendar.minute(run.start);
            let sheet = again.sheets.get(run.machine.0)?;
            let saved = sheet.iter().find(|saved| saved.date.start == start)?;
            Some((run.machine.0, saved.clone()))
        });
        let back: Vec<(usize, SavedRun)> = back.collect::<Option<_>>()?;
        let queue = firm::put_back(again, found, &back, until)?;
        shop.no_stops = true;
        let start = firm::hold(shop, queue, until)?;
        let stand = back.iter().all(|(machine, run)| {
            let firm = shop.calm.firm(*machine);
            let mut heads = start.sheets[*machine].iter().take(firm);
            heads.any(|head| head.loads == run.loads && head.date.start == run.date.start)
        });
        let start = stand.then(|| repaired(shop, &start))?;
        let options = Options {
            limit: self.task.options.limit.map(|limit| match limit {
                Limit::Moves(moves) => Limit::Moves(moves / ASKED_AGAIN),
                Limit::Time(time) => Limit::Time(time / ASKED_AGAIN as u32),
                Limit::Usual => Limit::Usual,
            }),
            ..*self.task.options
        };
        let task = Task {
            options: &options,
            ..*self.task
        };
        self.searched(&task, shop, Some(&start), None, again).ok()
    }

    /// What a search from a queue finds; or the accepted plan kept, or put right as that queue has it, where that is better.
    fn searched(
        &self,
        task: &Task,
        shop: &mut Shop,
        start: Option<&Snapshot>,
        kept: Option<Kept>,
        again: &Replay,
    ) -> Result<Searched, NoPlan> {
        // A search from the accepted plan may end dearer: spools that are allotted after it may hold runs up.
        let kept = kept.or_else(|| self.put_right(shop, start?, again));
        let mut searched = match task.searched(shop, start) {
            Ok(searched) => searched,
            Err(none) => return kept.map(Kept::unsearched).ok_or(none),
        };
        let kept_costs = kept.as_ref().map(|kept| kept.plan.cost);
        self.tell(shop, &mut searched.plan, kept_costs);
        Ok(match kept {
            // What is firm goes before what is cheaper.
            Some(kept)
                if kept.moved < self.moved(&searched.plan).len()
                    || !preferred(&searched.plan, &kept.plan) =>
            {
                Searched {
                    plan: kept.plan,
                    queue: kept.queue,
                    optimal: false,
                    ..searched
                }
            }
            _ => searched,
        })
    }

    /// As it is, if it makes all that is left, keeps every rule and lets no run stop without need. A run with fewer pieces, or with others that
    /// take another time than was reckoned with, ends when it does.
    fn as_it_is(&self, shop: &Shop, again: &Replay) -> Option<Kept> {
        if !again.covers {
            return None;
        }
        let loads = |sheet: &Vec<SavedRun>| sheet.iter().map(|run| run.loads.to_vec()).collect();
        let loads: Vec<_> = again.sheets.iter().map(loads).collect();
        let fresh = State::of_sheets(shop, &mut Fitter::default(), &loads, &again.copies)?;
        let sheets = again.sheets.iter().enumerate().map(|(machine, sheet)| {
            let plates = sheet.iter().zip(&fresh.sheets[machine]);
            let runs = plates.map(|(run, &plate)| {
                let mut run = run.clone();
                run.date.end = run.date.start + fresh.plates.known(plate, machine).0;
                run
            });
            Arc::new(runs.collect())
        });
        let sheets: Vec<Arc<Vec<SavedRun>>> = sheets.collect();
        let state = State::restored(shop, &mut Fitter::default(), &sheets, &again.copies);
        if !state.cost().is_finite() {
            return None;
        }
        let queue = Snapshot::of(&state);
        let ground = self.task.ground(shop);
        let Finished { plan, short } = finish(&ground, &queue, self.task.options.seed)?;
        if short.is_some() || attended::attend(&ground, &queue).is_some() {
            return None;
        }
        self.told(shop, plan, queue)
    }

    /// In its order, with what was lost or is late where it costs least, and with what spools there are: each run when it was accepted, if it
    /// can be, or all as soon as they can be, whichever is better.
    fn put_right(&self, shop: &mut Shop, start: &Snapshot, again: &Replay) -> Option<Kept> {
        // What spools there are may leave no choice.
        shop.no_stops = false;
        let seed = self.task.options.seed;
        let settled = |shop: &Shop, start: &Snapshot| {
            let settled = supply::settle(&self.task.ground(shop), start, seed)?;
            self.told(shop, settled.plan, settled.queue)
        };
        let soon = settled(shop, start);
        let in_time = held(shop, start, again).and_then(|(shop, held)| settled(&shop, &held));
        let better = |one: &Kept, other: &Kept| {
            one.moved < other.moved || one.moved == other.moved && preferred(&one.plan, &other.plan)
        };
        match (soon, in_time) {
            (Some(soon), Some(in_time)) if better(&in_time, &soon) => Some(in_time),
            (soon, in_time) => soon.or(in_time),
        }
    }

    /// With its changes, if it passes its audit. What it costs is what keeping the accepted plan costs.
    fn told(&self, shop: &Shop, mut plan: Plan, queue: Snapshot) -> Option<Kept> {
        plan.bound = Money(self.task.least.decided.0.min(plan.decided.0));
        let cost = plan.cost;
        self.tell(shop, &mut plan, Some(cost));
        let yielded = say_yielded(self.task, self.previous, &mut plan);
        audit_since(self.task.written, self.task.progress, &plan)
            .is_empty()
            .then_some(Kept {
                plan,
                queue,
                moved: yielded,
            })
    }

    /// What a plan does otherwise than the accepted one, and what keeping that would cost.
    fn tell(&self, shop: &Shop, plan: &mut Plan, kept: Option<Cost>) {
        let again = replay::replay(shop, self.task.routes, self.rest, self.previous);
        let fits = |run: &PreviousRun| {
            let start = shop.calendar.minute(run.start);
            let sheet = again.sheets.get(run.machine.0).into_iter().flatten();
            let mut stood = sheet.filter(|saved| saved.date.start == start);
            let lies = |saved: &SavedRun| {
                let mut fitter = Fitter::default();
                fitter.layout(shop, &saved.loads, run.machine.0).is_some()
            };
            stood.next().is_none_or(lies)
        };
        let firm = firm_until(shop, self.task.scenario.build.firm);
        let case = changes::Case {
            scenario: self.task.written,
            routes: self.task.routes,
            progress: self.task.progress,
            previous: self.previous,
            calendar: &shop.calendar,
            firm: shop.calendar.moment(firm),
            cheaper: kept.is_some_and(|kept| plan.cost.total() < kept.total() - SAME_COST),
            fits: &fits,
        };
        let (changes, shifted) = changes::changes(&case, &plan.runs, &plan.trials);
        if let Some(since) = &mut plan.since {
            (since.kept, since.changes, since.shifted) = (kept, changes, shifted);
        }
    }
}

/// Sums of costs that are nearer are equal.
const SAME_COST: Money = Money(0.005);

/// Says of firm runs that could have stayed, as far as is known, that no way to keep them was found; how many they are.
pub fn say_yielded(task: &Task, previous: &Previous, plan: &mut Plan) -> usize {
    let names = firm_but_moved(task.written, task.progress, plan);
    let count = names.len();
    if count > 0 {
        changes::yielded(plan, task.written, previous, &names);
        if let Some(since) = &mut plan.since {
            since.yielded = names;
        }
    }
    count
}

/// A queue in which every run that the accepted plan has on that machine is set up no earlier than there, and the shop with these holds; runs
/// of a belt that follow by themselves do so still. `None` if it cannot be dated.
fn held(shop: &Shop, start: &Snapshot, again: &Replay) -> Option<(Shop, Snapshot)> {
    let mut shop = shop.clone();
    for (machine, sheet) in start.sheets.iter().enumerate() {
        let mut accepted: Vec<&SavedRun> = again.sheets[machine].iter().collect();
        for (place, run) in sheet.iter().enumerate() {
            let alike = accepted.iter().position(|then| then.loads == run.loads);
            let Some(then) = alike.map(|at| accepted.remove(at).date) else {
                continue;
            };
            if then.window != NO_SETUP && shop.holds.of(machine, place).is_none() {
                shop.holds.hold(machine, place, then.setup);
            }
        }
    }
    let mut state = start.restore(&shop, &mut Fitter::default());
    let possible = state.redate(&shop).is_finite();
    possible.then(|| (shop, Snapshot::of(&state)))
}

/// Asking again takes so small a part of a time or a number of moves that is given, besides.
const ASKED_AGAIN: u64 = 4;

impl Kept {
    /// As if it had been searched.
    fn unsearched(self) -> Searched {
        Searched {
            constructed: self.plan.cost.total().0,
            plan: self.plan,
            queue: self.queue,
            optimal: false,
            moves: 0,
            joined: 0.0,
            tallies: Vec::new(),
        }
    }
}
