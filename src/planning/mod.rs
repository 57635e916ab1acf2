//! From a scenario to an audited plan: routes, search, master, bound, stock, audit, in this order.
//!
//! Knows: what each of them promises. Must not know: files, screens.
//! Promises: a plan that comes out has passed its audit; otherwise the reason comes out.

mod attended;
mod bounds;
mod changes;
mod finish;
mod firm;
mod idle;
mod join;
mod kept;
mod names;
mod numbers;
mod on_plate;
mod ranges;
mod replay;
mod rest;
mod search_on;
mod sheets;
mod supply;
mod why;

use std::time::Duration;

use crate::calendar::Calendar;
use crate::plan::Plan;
use crate::plan::audit::{Fault, Rule, audit_since, firm_but_moved};
use crate::progress::Progress;
use crate::routes::{PartRoutes, TooLong, routes};
use crate::scenario::Scenario;
use crate::search::anneal::Tally;
use crate::search::portfolio::{self, Limit, PooledSheet, Settings, Unwatched, Watch};
use crate::search::repair::repaired;
use crate::search::shop::Shop;
use crate::search::snapshot::Snapshot;
use crate::search::spares::{spares_last, spares_last_of_all};
use crate::stock::OnHand;
use crate::units::Money;

pub use bounds::Patience;
pub use sheets::sheets;

use finish::Ground;
use search_on::searched_on;

/// How a plan is made.
pub struct Options<'a> {
    /// When the search ends; `None`: after a number of moves that suits the scenario's size.
    pub limit: Option<Limit>,
    /// Where chance begins.
    pub seed: u64,
    /// How long the bound is raised after the search.
    pub patience: Patience,
    /// Moves of the search that are left out, by name, to measure what each is worth.
    pub without: &'a [String],
    /// Whether the master joins sheets of several queues.
    pub joins: bool,
    /// Whether a farm that is several farms is searched farm by farm; `false` only to measure what that is worth.
    pub apart: bool,
    /// Who watches the search.
    pub watch: &'a dyn Watch,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            limit: None,
            seed: 1,
            patience: Patience::Usual,
            without: &[],
            joins: true,
            apart: true,
            watch: &Unwatched,
        }
    }
}

/// Share of a given time that goes to the proof.
const PROOF_SHARE: f64 = 0.15;

/// A plan, and how it was come by.
pub struct Planned {
    /// The plan; it has passed its audit.
    pub plan: Plan,
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

/// Why there is no plan.
#[derive(Debug)]
pub enum NoPlan {
    /// Some parts can be made on no machine; all parts' routes, with the reasons.
    NoRoute(Vec<PartRoutes>),
    /// The work does not end within the calendar's horizon: too little bench time, or runs longer than any bench hours
    /// on machines that must be watched.
    NoTime(Vec<TooLong>),
    /// A plan was found but fails its audit: a fault of this program.
    Unsound(Vec<Fault>),
    /// A queue was found but could not be laid out again: a fault of this program.
    Lost,
}

/// Plans a scenario from its start.
pub fn plan(scenario: &Scenario, options: &Options) -> Result<Planned, NoPlan> {
    again(scenario, &Progress::none(scenario), options)
}

/// Plans the rest of a build from what has been done; nothing done is a plan from the start.
///
/// Runs that are printing stand; nothing is set up before [`Progress::now`]. The cost is of what is left, see [`Plan::since`].
pub fn again(
    scenario: &Scenario,
    progress: &Progress,
    options: &Options,
) -> Result<Planned, NoPlan> {
    let whole = rest::as_it_stands(scenario, progress);
    let routes = routes(&whole);
    let begun = progress.has_begun(scenario);
    let mut rest = begun.then(|| rest::rest(&whole, progress, &routes));
    let left = rest.as_ref().map_or(&whole, |rest| &rest.scenario);
    let wanted = |r: &PartRoutes| !begun || left.parts[r.part.0].copies() > 0;
    if routes.iter().any(|r| r.forms.is_empty() && wanted(r)) {
        return Err(NoPlan::NoRoute(routes));
    }
    let previous = progress.previous.as_ref().filter(|_| begun);
    let churn = previous.map_or(Money::ZERO, |_| scenario.build.churn);
    if let Some(rest) = &mut rest {
        rest.since.churn = churn;
    }
    let left = rest.as_ref().map_or(&whole, |rest| &rest.scenario);
    let mut shop = match &rest {
        Some(rest) => Shop::begun(left, Calendar::new(left), &routes, &rest.begun),
        None => Shop::new(left, Calendar::new(left), &routes),
    };
    let on_hand = OnHand::of(&whole, progress);
    shop.supply = supply::supply(&whole, &on_hand, &shop);
    // Planned again, what is accepted may count on what was ordered since.
    if !begun {
        shop.early_spools = shop.early_spools(&whole);
    }
    // Before the search, so that whoever watches knows how much there is to gain.
    let least = bounds::relaxed(left, &shop, &routes);
    let mut start = None;
    // The accepted plan as it is, or with only that put right that was lost or is late, in case a search from it ends dearer: spools that are
    // allotted after it may hold runs up.
    let mut standby = None;
    if let (Some(previous), Some(rest)) = (previous, &mut rest) {
        shop.calm = replay::calm(&shop, previous, scenario.build.churn);
        let again = replay::replay(&shop, &routes, rest, previous);
        let ground = Ground {
            scenario: &whole,
            routes: &routes,
            shop: &shop,
            rest: Some(rest),
            on_hand: &on_hand,
        };
        let accepted = kept::Accepted {
            scenario,
            progress,
            previous,
            least: least.decided,
            seed: options.seed,
        };
        // A plan that can be kept as it is, is kept, unless something is known by which another may be cheaper.
        standby = accepted.as_it_is(&ground, &again);
        if !previous.news
            && let Some(plan) = standby.take()
        {
            let cost = plan.cost.total().0;
            return Ok(Planned {
                plan,
                optimal: false,
                constructed: cost,
                moves: 0,
                joined: 0.0,
                tallies: Vec::new(),
            });
        }
        let until = replay::firm_until(&shop, scenario.build.firm);
        start = firm::hold(&mut shop, again, until).map(|start| repaired(&shop, &start));
        if standby.is_none() {
            shop.no_stops = false;
            let ground = Ground {
                scenario: &whole,
                routes: &routes,
                shop: &shop,
                rest: Some(rest),
                on_hand: &on_hand,
            };
            standby = start
                .as_ref()
                .and_then(|start| accepted.put_right(&ground, start));
            shop.no_stops = true;
        }
        rest.since.kept = standby.as_ref().map(|plan| plan.cost.total());
    }
    let firm_heads = |queue: &Snapshot| {
        start.as_ref().is_none_or(|start| {
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
        (Some(Limit::Time(time)), Patience::Usual) if bounds::has_usual_proof(&shop) => (
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
        start: start.as_ref(),
        anew: changed,
        apart: options.apart,
        watch: options.watch,
    };
    options.watch.least(least.decided.0 + given, given);
    let found = portfolio::search(&shop, &settings)
        .ok_or_else(|| NoPlan::NoTime(too_long(&shop, &routes)))?;
    // What spools there are may leave no choice.
    shop.no_stops = false;
    let ground = Ground {
        scenario: &whole,
        routes: &routes,
        shop: &shop,
        rest: rest.as_ref(),
        on_hand: &on_hand,
    };
    // Also where it costs the same: whoever looks at a spare while an assembly waits for its like wonders.
    let best = spares_last(&shop, &found.best);
    let mut settled = supply::settle(&ground, &best, options.seed).ok_or(NoPlan::Lost)?;
    // Spools may suit another queue better, that was a little dearer without them.
    let suits = |settled: &supply::Settled| {
        settled.plan.sums().stop == 0 && settled.queue.cost() <= best.cost() * (1.0 + SUITS)
    };
    for other in found.others.iter().filter(|other| firm_heads(other)) {
        if suits(&settled) || options.watch.stop() {
            break;
        }
        let other = supply::settle(&ground, &spares_last(&shop, other), options.seed);
        if let Some(other) = other.filter(|other| preferred(&other.plan, &settled.plan)) {
            settled = other;
        }
    }
    let settled = searched_on(&ground, &settings, on_time, best.cost(), settled);
    let settled = polished(&ground, settled, firm_heads, options.watch);
    let ground = Ground {
        shop: settled.shop.as_ref().unwrap_or(&shop),
        ..ground
    };
    let firm = shop
        .calendar
        .moment(replay::firm_until(&shop, scenario.build.firm));
    let mut plan = built_in_first(&ground, settled.plan, &settled.queue);
    let mut proved = {
        // Whoever ended the search waits for no proof.
        let stopped = options.watch.stop();
        let patience = if stopped || bounds::goes_on(&shop) || start.is_some() {
            Patience::Rounds(0)
        } else {
            patience
        };
        let known = bounds::Beforehand {
            relaxed: least.decided,
            watch: options.watch,
        };
        bounds::bound(
            &ground,
            &plan,
            &settled.queue,
            &found.pool,
            patience,
            &known,
        )
    };
    if let Some(better) = proved.better.take().filter(&firm_heads) {
        let better = spares_last(&shop, &better);
        // Without what the first one had to hold back.
        let ground = Ground {
            shop: &shop,
            ..ground
        };
        let settled = supply::settle(&ground, &better, options.seed).ok_or(NoPlan::Lost)?;
        // Runs of a better queue may share spools less well; then that is no better.
        if preferred(&settled.plan, &plan) {
            plan = settled.plan;
        } else {
            proved.optimal = false;
        }
    }
    plan.bound = proved.bound;
    if let (Some(since), Some(previous)) = (&mut plan.since, previous) {
        since.changes =
            changes::changes(&whole, progress, previous, firm, &plan.runs, &plan.trials);
    }
    if let Some(kept) = standby
        && !preferred(&plan, &kept)
    {
        plan = kept;
        proved.optimal = false;
    }
    plan.stopped = options.watch.stop();
    let mut faults = audit_since(scenario, progress, &plan);
    // What is firm may be possible in a way that was not found: then it is said, rather than no plan given.
    if faults.iter().any(|fault| fault.rule == Rule::Firm)
        && let Some(previous) = previous
    {
        let names = firm_but_moved(scenario, progress, &plan);
        if let Some(since) = &mut plan.since {
            changes::yielded(&mut since.changes, previous, &plan.runs, &names);
            since.yielded = names;
        }
        faults = audit_since(scenario, progress, &plan);
    }
    if !faults.is_empty() {
        return Err(NoPlan::Unsound(faults));
    }
    Ok(Planned {
        plan,
        optimal: proved.optimal,
        constructed: found.constructed,
        moves: found.moves,
        joined: found.recombined,
        tallies: found.tallies,
    })
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

/// Whether a plan is to be had rather than another: fewer of its runs stop with nobody there, or as many and it costs less; where
/// lateness differs the cost alone decides.
fn preferred(one: &Plan, other: &Plan) -> bool {
    let (a, b) = (&one.cost, &other.cost);
    let cheaper = a.total() < b.total();
    if (a.late - b.late).0.abs() > 0.005 {
        return cheaper;
    }
    let stops = |plan: &Plan| plan.sums().stop;
    stops(one) < stops(other) || stops(one) == stops(other) && cheaper
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

#[cfg(test)]
mod tests;
