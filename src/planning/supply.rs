//! Filament that cannot be there before a certain day: what of it the search may use by when, and queues for which it suffices.
//!
//! Knows: what is on hand, the shop, finished plans. Must not know: moves, which spool goes on where.
//! Promises: without a moment from which orders are sent nothing is held back; a plan that comes out has a spool for every run.
//!
//! The search counts grams, not spools: of 300 g on a machine that prints, another can have none. Where no spool is left for
//! a run although there are grams, so much is held back until one is free or comes, and the queue is dated again.

use crate::plan::{Plan, Run, purged};
use crate::scenario::{FilamentIndex, Scenario};
use crate::search::fitter::Fitter;
use crate::search::shop::{Class, Shop};
use crate::search::snapshot::Snapshot;
use crate::search::supply::{Steps, Supply, milligrams};
use crate::stock::{OnHand, Short};

use super::attended::attend;
use super::finish::{Ground, finish};

/// What of each filament can be had by when, where that may not be enough; `None`: all of it is.
pub fn supply(scenario: &Scenario, on_hand: &OnHand, shop: &Shop) -> Option<Supply> {
    on_hand.today?;
    let filaments: Vec<Option<Steps>> = (0..scenario.filaments.len())
        .map(|filament| {
            let steps = steps(scenario, on_hand, shop, FilamentIndex(filament))?;
            let at_once = steps.steps.first().map_or(0, |step| step.1);
            (most_needed(scenario, shop, filament) > at_once).then_some(steps)
        })
        .collect();
    let short = filaments.iter().any(Option::is_some);
    short.then(|| Supply {
        filaments,
        purge: purges(scenario),
    })
}

fn purges(scenario: &Scenario) -> Vec<i64> {
    let machines = scenario.machines.iter();
    machines
        .map(|machine| milligrams(machine.purge.0))
        .collect()
}

fn steps(
    scenario: &Scenario,
    on_hand: &OnHand,
    shop: &Shop,
    filament: FilamentIndex,
) -> Option<Steps> {
    let mut steps = on_hand.supply(scenario, filament)?;
    let unlimited = steps.pop()?.from;
    Some(Steps {
        steps: steps
            .iter()
            .map(|step| (shop.calendar.minute_from(step.from), milligrams(step.grams)))
            .collect(),
        unlimited: shop.calendar.minute_from(unlimited),
    })
}

/// Milligrams that no queue needs more of than this: every piece in its heaviest way, on a run of its own after a colour change.
fn most_needed(scenario: &Scenario, shop: &Shop, filament: usize) -> i64 {
    let purge = purges(scenario).into_iter().max().unwrap_or(0);
    let heaviest = |item: u32| {
        let machines = 0..shop.machines.len();
        let ways = machines.flat_map(|machine| shop.ways(item, machine));
        ways.map(|way| milligrams(way.grams)).max().unwrap_or(0)
    };
    let of_class = |class: &Class| {
        let forms = class.items.iter().map(|&leader| {
            let items = shop.team(leader).map(|item| {
                let each = i64::from(shop.items[item as usize].each);
                each * (heaviest(item) + purge)
            });
            items.sum::<i64>()
        });
        i64::from(class.copies) * forms.max().unwrap_or(0)
    };
    let of_it = shop.classes.iter().filter(|class| {
        let leader = class.items.first();
        leader.is_some_and(|&item| shop.items[item as usize].filament as usize == filament)
    });
    of_it.map(of_class).sum()
}

/// A plan for whose runs there are spools.
pub struct Settled {
    /// The plan; its bound is still zero.
    pub plan: Plan,
    /// Its queue.
    pub queue: Snapshot,
    /// The shop with the filament and the runs that had to be held back, if any had.
    pub shop: Option<Shop>,
}

/// Times that a little is held back, before all of that filament waits until an order can have come.
const TRIES: usize = 40;

/// The plan of a queue, dated again where some run would have no spool, and changed where a spool would end with nobody there
/// without need. `None` as [`finish`], or if the horizon is too near.
pub fn settle(ground: &Ground, queue: &Snapshot, seed: u64) -> Option<Settled> {
    let settled = provided(ground, queue, seed)?;
    let there = Ground {
        shop: settled.shop.as_ref().unwrap_or(ground.shop),
        ..*ground
    };
    let Some((shop, queue)) = attend(&there, &settled.queue) else {
        return Some(settled);
    };
    let attended = Ground {
        shop: &shop,
        ..*ground
    };
    // Masses of pieces as laid out differ from the search's by rounding, which may leave the last gram of a spool short.
    let finished = finish(&attended, &queue, seed)?;
    Some(match finished.short {
        Some(_) => settled,
        None => Settled {
            plan: finished.plan,
            queue,
            shop: Some(shop),
        },
    })
}

/// The plan of a queue, dated again where some run would have no spool.
fn provided(ground: &Ground, queue: &Snapshot, seed: u64) -> Option<Settled> {
    let first = finish(ground, queue, seed)?;
    let mut settled = Settled {
        plan: first.plan,
        queue: queue.clone(),
        shop: None,
    };
    let mut short = first.short;
    let mut tries = 0;
    while let Some(lacks) = short {
        let mut shop = settled.shop.take().unwrap_or_else(|| ground.shop.clone());
        // Without a spool also a firm run waits.
        shop.calm.latest.clear();
        let scenario = ground.scenario;
        let before = match tries {
            ..TRIES => taken_before(scenario, &settled.plan.runs, &lacks),
            _ => 0,
        };
        // Once all of each filament waits there is nothing more to be held back.
        if tries > TRIES + scenario.filaments.len() {
            return None;
        }
        tries += 1;
        hold_back(ground, &mut shop, &lacks, before, tries > TRIES)?;
        let mut state = settled.queue.restore(&shop, &mut Fitter::default());
        if !state.redate(&shop).is_finite() {
            return None;
        }
        settled.queue = Snapshot::of(&state);
        let tightened = Ground {
            shop: &shop,
            ..*ground
        };
        let finished = finish(&tightened, &settled.queue, seed)?;
        (settled.plan, short) = (finished.plan, finished.short);
        settled.shop = Some(shop);
    }
    Some(settled)
}

/// Milligrams of a filament that runs take which come before the one that lacks it.
fn taken_before(scenario: &Scenario, runs: &[Run], lacks: &Short) -> i64 {
    let begins = |run: &Run| (run.setup.unwrap_or(run.start), run.machine);
    let before = runs.iter().filter(|run| {
        run.filament == lacks.filament && begins(run) < (lacks.begins, lacks.machine)
    });
    before
        .map(|run| milligrams(run.grams.0) + milligrams(purged(scenario, run).0))
        .sum()
}

/// Lets no more of a filament be taken until a spool may be there.
fn hold_back(
    ground: &Ground,
    shop: &mut Shop,
    lacks: &Short,
    most: i64,
    whole: bool,
) -> Option<()> {
    let scenario = ground.scenario;
    let known = shop.supply.as_ref();
    let known = known.and_then(|supply| supply.steps(lacks.filament.0 as u32).cloned());
    let mut held = match known {
        Some(steps) => steps,
        None => steps(scenario, ground.on_hand, shop, lacks.filament)?,
    };
    let until = lacks.until.filter(|_| !whole);
    let until = until.map_or(held.unlimited, |at| shop.calendar.minute_from(at));
    let until = until.min(held.unlimited);
    let there = held.steps.iter().rfind(|step| step.0 <= until);
    let there = there.map_or(0, |step| step.1);
    held.steps.retain(|step| step.0 != until);
    for step in held.steps.iter_mut().filter(|step| step.0 < until) {
        step.1 = step.1.min(most);
    }
    if until < held.unlimited {
        let at = held.steps.partition_point(|step| step.0 < until);
        held.steps.insert(at, (until, there));
    }
    let supply = shop.supply.get_or_insert_with(|| Supply {
        filaments: vec![None; scenario.filaments.len()],
        purge: purges(scenario),
    });
    supply.filaments[lacks.filament.0] = Some(held);
    Some(())
}
