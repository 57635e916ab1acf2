//! From the shop to a plan: search, spools, idle machines, proof, in this order.
//!
//! Knows: what each of them promises, and the accepted plan as the queue that the search begins with. Must not know: how that queue came about,
//! what else than a search could keep the accepted plan, the audit.
//! Promises: what is firm of the queue that it begins with stands as it was.

use std::time::Duration;

use crate::model::relaxation::RelaxationBound;
use crate::plan::Plan;
use crate::progress::{Previous, Progress};
use crate::routes::{PartRoutes, TooLong};
use crate::scenario::Scenario;
use crate::search::anneal::Tally;
use crate::search::portfolio::{self, Limit, PooledSheet, Settings, Watch};
use crate::search::shop::Shop;
use crate::search::snapshot::Snapshot;
use crate::search::spares::{spares_last, spares_last_of_all};
use crate::stock::OnHand;

use super::finish::Ground;
use super::rest::Rest;
use super::search_on::{self, searched_on};
use super::{NoPlan, Options, Patience, bounds, finish, idle, join, preferred, supply};

/// Share of a given time that goes to the proof.
const PROOF_SHARE: f64 = 0.15;

/// What is planned.
pub struct Task<'a> {
    /// How.
    pub options: &'a Options<'a>,
    /// The scenario as it is written.
    pub written: &'a Scenario,
    /// The same as it stands, by what has been done.
    pub scenario: &'a Scenario,
    /// Its routes.
    pub routes: &'a [PartRoutes],
    /// What has been done.
    pub progress: &'a Progress,
    /// What is left, if something has been done.
    pub rest: Option<&'a Rest>,
    /// The accepted plan, if there is one and it is gone on with.
    pub previous: Option<&'a Previous>,
    /// Spools.
    pub on_hand: &'a OnHand,
    /// No plan costs less.
    pub least: &'a RelaxationBound,
}

/// What came of it.
pub struct Searched {
    /// The plan; it is not audited.
    pub plan: Plan,
    /// Its queue.
    pub queue: Snapshot,
    /// Whether no plan at all costs less.
    pub optimal: bool,
    /// Cost of the best constructed queue.
    pub constructed: f64,
    /// Moves made.
    pub moves: u64,
    /// Money saved by joining sheets.
    pub joined: f64,
    /// Tries and successes by move.
    pub tallies: Vec<(&'static str, Tally)>,
}

impl<'a> Task<'a> {
    /// What plans of a shop are made from.
    pub fn ground<'b>(&'b self, shop: &'b Shop) -> Ground<'b> {
        Ground {
            scenario: self.scenario,
            routes: self.routes,
            shop,
            rest: self.rest,
            progress: self.progress,
            on_hand: self.on_hand,
        }
    }

    /// Searches from a queue whose heads are firm as [`Shop::calm`] says, or from nothing.
    pub fn searched(&self, shop: &mut Shop, start: Option<&Snapshot>) -> Result<Searched, NoPlan> {
        let Self {
            options,
            routes,
            progress,
            previous,
            least,
            ..
        } = *self;
        shop.no_stops = true;
        let firm_heads = |queue: &Snapshot| {
            start.is_none_or(|start| {
                let pairs = start.sheets.iter().zip(&queue.sheets).enumerate();
                pairs.into_iter().all(|(machine, (then, now))| {
                    let firm = shop.calm.firm(machine);
                    let heads = then.iter().take(firm).map(|run| &run.loads);
                    let starts = now.iter().map(|run| run.date.start);
                    heads.eq(now.iter().take(firm).map(|run| &run.loads))
                        && shop.calm.in_time(machine, starts)
                })
            })
        };
        let join = |shop: &Shop, best: &Snapshot, pool: &[PooledSheet]| {
            join::join(shop, best, pool).filter(&firm_heads)
        };
        let proven = |shop: &Shop, best: &Snapshot, pool: &[PooledSheet]| {
            !shop.contended() && bounds::proves_small(shop, best, pool)
        };
        // Of a time that is given, the last part goes to the proof, unless a time for that is given as well.
        let (limit, patience) = match (options.limit, options.patience) {
            (Some(Limit::Time(time)), Patience::Usual) if bounds::has_usual_proof(shop) => (
                Limit::Time(time.mul_f64(1.0 - PROOF_SHARE)),
                Patience::Time(time.mul_f64(PROOF_SHARE)),
            ),
            (limit, patience) => (limit.unwrap_or(Limit::Usual), patience),
        };
        // Where filament is short, spools may hold runs up after the search; then some of the time is for another order.
        let (limit, on_time) = match limit {
            Limit::Time(time) if shop.supply.is_some() => (
                Limit::Time(time.mul_f64(1.0 - search_on::SHARE)),
                time.mul_f64(search_on::SHARE),
            ),
            limit => (limit, Duration::ZERO),
        };
        // What was lost or is late is put right in the accepted plan; only where much may be otherwise than it was reckoned with another plan
        // altogether is sought beside it.
        let down = progress
            .machines
            .iter()
            .any(|machine| machine.down_until.is_some_and(|until| until > progress.now));
        let changed = down || previous.is_some_and(|previous| previous.news);
        let given = least.base_plastic.0;
        let settings = Settings {
            limit,
            seed: options.seed,
            without: options.without,
            recombine: options.joins.then_some(&join),
            proven: Some(&proven)
                .filter(|_| start.is_none())
                .map(|proven| proven as portfolio::Proven),
            least: least.decided.0 + given,
            start,
            anew: changed,
            apart: options.apart,
            watch: options.watch,
        };
        options.watch.least(least.decided.0 + given, given);
        let found = portfolio::search(shop, &settings)
            .ok_or_else(|| NoPlan::NoTime(too_long(shop, routes)))?;
        // What spools there are may leave no choice.
        shop.no_stops = false;
        let shop = &*shop;
        let ground = self.ground(shop);
        // Also where it costs the same: whoever looks at a spare while an assembly waits for its like wonders.
        let best = spares_last(shop, &found.best);
        let mut settled = supply::settle(&ground, &best, options.seed).ok_or(NoPlan::Lost)?;
        // Spools may suit another queue better, that was a little dearer without them.
        let suits = |settled: &supply::Settled| {
            settled.plan.sums().stop == 0 && settled.queue.cost() <= best.cost() * (1.0 + SUITS)
        };
        for other in found.others.iter().filter(|other| firm_heads(other)) {
            if suits(&settled) || options.watch.stop() {
                break;
            }
            let other = supply::settle(&ground, &spares_last(shop, other), options.seed);
            if let Some(other) = other.filter(|other| preferred(&other.plan, &settled.plan)) {
                settled = other;
            }
        }
        let settled = searched_on(&ground, &settings, on_time, best.cost(), settled);
        let settled = polished(&ground, settled, firm_heads, options.watch);
        let ground = Ground {
            shop: settled.shop.as_ref().unwrap_or(shop),
            ..ground
        };
        let mut plan = built_in_first(&ground, settled.plan, &settled.queue);
        let mut queue = settled.queue;
        let mut proved = {
            // Whoever ended the search waits for no proof.
            let stopped = options.watch.stop();
            let patience = if stopped || bounds::goes_on(shop) || start.is_some() {
                Patience::Rounds(0)
            } else {
                patience
            };
            let known = bounds::Beforehand {
                relaxed: least.decided,
                watch: options.watch,
            };
            bounds::bound(&ground, &plan, &queue, &found.pool, patience, &known)
        };
        if let Some(better) = proved.better.take().filter(&firm_heads) {
            let better = spares_last(shop, &better);
            // Without what the first one had to hold back.
            let ground = self.ground(shop);
            let settled = supply::settle(&ground, &better, options.seed).ok_or(NoPlan::Lost)?;
            // Runs of a better queue may share spools less well; then that is no better.
            if preferred(&settled.plan, &plan) {
                plan = settled.plan;
                queue = settled.queue;
            } else {
                proved.optimal = false;
            }
        }
        plan.bound = proved.bound;
        Ok(Searched {
            plan,
            queue,
            optimal: proved.optimal,
            constructed: found.constructed,
            moves: found.moves,
            joined: found.recombined,
            tallies: found.tallies,
        })
    }
}

/// Parts still to be made that no bench hours are long enough for.
fn too_long(shop: &Shop, routes: &[PartRoutes]) -> Vec<TooLong> {
    let wanted = |part: &&PartRoutes| {
        let mut classes = shop.classes.iter();
        classes.any(|class| class.part as usize == part.part.0)
    };
    let limits = shop.run_limits();
    let parts = routes.iter().filter(wanted);
    parts.filter_map(|part| limits.too_long(part)).collect()
}

/// A queue is not sought among others where it costs no more than this share above what the search found, with spools and without an end
/// that nobody attends.
const SUITS: f64 = 0.003;

/// Moves to machines without work that a finished plan is bettered by.
const POLISHES: usize = 20;

/// A queue that is found, with work for machines that stand without, while the plan with it is [`preferred`]. The cheapest move ends it
/// where it may not be made, or what spools there are leaves no better plan: the next is not tried.
fn polished(
    ground: &Ground,
    mut settled: supply::Settled,
    may: impl Fn(&Snapshot) -> bool,
    watch: &dyn Watch,
) -> supply::Settled {
    for _ in 0..POLISHES {
        // Whoever ended the search has waited long enough.
        if watch.stop() {
            break;
        }
        let there = Ground {
            shop: settled.shop.as_ref().unwrap_or(ground.shop),
            ..*ground
        };
        let better = idle::better(&there, &settled.queue, &settled.plan.ledger());
        let Some(better) = better.filter(&may) else {
            break;
        };
        let held = settled.shop.clone();
        let next = supply::settle(&there, &better, settled.plan.seed);
        match next.filter(|next| preferred(&next.plan, &settled.plan)) {
            Some(next) => {
                settled = supply::Settled {
                    shop: next.shop.or(held),
                    ..next
                };
            }
            None => break,
        }
    }
    settled
}

/// Sums of costs that are nearer are equal.
const SAME_COST: f64 = 1e-6;

/// The plan of a queue with its spares last wherever that costs nothing, an assembly's work being left where it is.
fn built_in_first(ground: &Ground, plan: Plan, queue: &Snapshot) -> Plan {
    let Some((queue, shop)) = spares_last_of_all(ground.shop, queue) else {
        return plan;
    };
    let held = Ground {
        shop: &shop,
        ..*ground
    };
    let first = finish::finish(&held, &queue, plan.seed).filter(|first| first.short.is_none());
    match first.map(|first| first.plan) {
        Some(first)
            if first.cost.total().0 <= plan.cost.total().0 + SAME_COST
                && first.sums().stop <= plan.sums().stop =>
        {
            first
        }
        _ => plan,
    }
}
