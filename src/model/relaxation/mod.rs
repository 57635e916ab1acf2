//! What no plan can beat: a linear program over shares of parts, minutes of machines and hands, and dates.
//!
//! Knows: the scenario, its calendar, every way to make each part. Must not know: plates, runs, how a plan is searched for.
//! Promises: [`bound`] is not above the decided cost of any plan that makes each part by one of its ways and is dated within
//! the calendar; it rests on prices alone, so no solver's tolerance lifts it.
//!
//! Every plan is turned into a point of the program: copies by form, group of machines and way; runs; minutes; shares of what each
//! assembly takes that are printed by certain dates. Each row holds for all such points, and its proof stands above it; so the
//! least value of the program is not above any plan's cost. Filament that comes late is in no row: a plan that waits for it is a
//! plan of the scenario all the same, so that what no plan can beat no such plan can.
//!
//! - `site`, `pieces`: what one piece takes of a machine at least. `shop`: machines, put together where they are alike or too many.
//! - `costs`: rows without dates: copies, runs by bed area, layers, setups, filaments that must arrive.
//! - `presence`, `supply`, `heads`, `dates`: the calendar as numbers: what can be done by when, by when something must be done.
//! - `pools`, `promises`, `timing`, `waits`: rows with dates: machines and hands suffice for what is due.

mod costs;
mod dates;
mod heads;
mod pieces;
mod pools;
mod presence;
mod promises;
mod shop;
mod site;
mod supply;
mod timing;
mod waits;

use std::collections::BTreeMap;

use crate::calendar::{Calendar, Minute};
use crate::model::linear::LinearProgram;
use crate::model::solver::solve_lp;
use crate::routes::PartRoutes;
use crate::scenario::{Assembly, Hands, Scenario};
use crate::units::Money;

use costs::Costed;
use dates::Build;
use heads::Heads;
use pools::{Pool, Pooling, pools};
use presence::Presence;
use promises::{Promise, promises};
use shop::Shop;
use supply::Supply;
use timing::{Class, Timing};

/// What every plan costs at least.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RelaxationBound {
    /// A lower bound on the cost that a plan decides: its total less [`RelaxationBound::base_plastic`].
    pub decided: Money,
    /// Plastic that every plan needs.
    pub base_plastic: Money,
}

/// The least cost of the plastic of all copies, each in the form and way that takes least; parts without a way count nothing.
pub fn base_plastic(scenario: &Scenario, routes: &[PartRoutes]) -> Money {
    let of_part = |part: &PartRoutes| {
        pieces::base_of(scenario, part) * f64::from(scenario.parts[part.part.0].copies())
    };
    routes.iter().map(of_part).sum()
}

/// Minutes in a day.
const DAY: f64 = 1440.0;

/// How finely dates are told apart, from fine to coarse; the first that keeps the program small enough is taken.
struct Fineness {
    pooling: Pooling,
    grain: Minute,
    /// Dates on which a stage is asked for, and the end of the build.
    stage_dates: usize,
    end_dates: usize,
}

const LADDER: [Fineness; 7] = [
    Fineness::new(Pooling::Single, 1, 8, 16),
    Fineness::new(Pooling::Single, 60, 6, 10),
    Fineness::new(Pooling::Single, 360, 4, 8),
    Fineness::new(Pooling::Alike, 360, 4, 8),
    Fineness::new(Pooling::Alike, 1440, 3, 6),
    Fineness::new(Pooling::All, 2880, 2, 4),
    // No dates at all: what each promise waits for by itself is left.
    Fineness::new(Pooling::Alike, 1, 0, 0),
];

/// How large the program may become before it is made coarser.
#[derive(Clone, Copy, Debug)]
struct Limits {
    /// Groups of machines; with more, machines that differ are put together.
    groups: usize,
    /// Rows for single parts on single groups; with more, one row for many parts stands for them.
    single_rows: usize,
    /// Shares by class, group and deadline.
    shares: usize,
    /// Times that a group of machines is counted; the solver's work grows with its cube.
    counts: usize,
    /// The first step of the ladder that is tried.
    step: usize,
}

const LIMITS: Limits = Limits {
    groups: 16,
    single_rows: 10_000,
    shares: 4_000,
    counts: 300,
    step: 0,
};

impl Fineness {
    const fn new(pooling: Pooling, grain: Minute, stage_dates: usize, end_dates: usize) -> Self {
        Self {
            pooling,
            grain,
            stage_dates,
            end_dates,
        }
    }
}

/// A lower bound on what every plan costs, plastic that every plan needs left out.
///
/// `routes` are in the scenario's order of parts; a part without a way is left out (no plan makes it, so any bound holds).
pub fn bound(scenario: &Scenario, calendar: &Calendar, routes: &[PartRoutes]) -> RelaxationBound {
    bound_within(scenario, calendar, routes, &LIMITS)
}

fn bound_within(
    scenario: &Scenario,
    calendar: &Calendar,
    routes: &[PartRoutes],
    limits: &Limits,
) -> RelaxationBound {
    let presence = Presence::new(calendar.windows());
    let shop = Shop::new(scenario, calendar, &presence, routes, limits.groups);
    let mut program = LinearProgram::new();
    let costed = costs::write(&shop, &mut program, limits.single_rows);
    write_dates(
        &shop,
        calendar,
        &presence,
        routes,
        &costed,
        limits,
        &mut program,
    );

    // Whatever the solver says, its prices prove what they prove; without it, each copy costs its cheapest way.
    let mut proved = program.safe_bound(&costed.cheapest);
    if let Ok(solution) = solve_lp(&program) {
        proved = proved.max(program.safe_bound(&solution.prices));
    }
    let bench_hours: f64 = scenario
        .assemblies
        .iter()
        .map(|assembly| assembly.bench.hours())
        .sum();
    // The rows' own numbers are rounded to sixteen digits; a billionth is far more than that can add up to.
    let rounding = 1e-9 * proved.abs().max(1.0);
    RelaxationBound {
        decided: Money((proved - rounding).max(0.0)) + scenario.bench.bench_hour * bench_hours,
        base_plastic: base_plastic(scenario, routes),
    }
}

/// The rows with dates, as fine as leaves the program small enough; none where no day is charged.
fn write_dates(
    shop: &Shop,
    calendar: &Calendar,
    presence: &Presence,
    routes: &[PartRoutes],
    costed: &Costed,
    limits: &Limits,
    program: &mut LinearProgram,
) {
    let scenario = shop.scenario;
    let build = Build::new(scenario, routes);
    let heads = Heads::new(scenario, calendar, presence);
    let first: Vec<Vec<Vec<Option<Minute>>>> =
        routes.iter().map(|part| heads.of_part(part)).collect();
    let there: Vec<Option<Minute>> = scenario
        .assemblies
        .iter()
        .map(|assembly| all_there(&heads, routes, &first, assembly))
        .collect();
    let promises = promises(
        scenario,
        calendar,
        &build,
        &build.earliest(presence, &there),
    );
    if promises.is_empty() {
        return;
    }
    let hands = match scenario.bench.hands {
        Hands::Unlimited => None,
        Hands::Count(hands) => Some(Supply::of_hands(presence, hands)),
    };
    let mut wanted = vec![false; routes.len()];
    for (part, _) in scenario
        .assemblies
        .iter()
        .flat_map(|assembly| &assembly.parts)
    {
        wanted[part.0] = true;
    }
    for (step, fineness) in LADDER.iter().enumerate().skip(limits.step) {
        let pools = pools(shop, routes, &wanted, fineness.pooling);
        let classes = classes(shop, routes, &first, &pools);
        let made = all_made(shop, presence, &classes);
        let dates = dates_asked(&promises, made, fineness);
        let timing = Timing {
            shop,
            presence,
            build: &build,
            pools: &pools,
            classes: &classes,
            promises: &promises,
            dates: &dates,
            until: made.saturating_mul(2),
            grain: fineness.grain,
            hands: hands.as_ref(),
        };
        let deadlines = timing.deadlines();
        let small = timing.shares(&deadlines) <= limits.shares
            && timing.counts(&deadlines) <= limits.counts;
        if small || step + 1 == LADDER.len() {
            timing.write(&deadlines, &costed.choices, &costed.busy, program);
            return;
        }
    }
}

/// When all pieces of an assembly can be there at the earliest; `None` if never.
fn all_there(
    heads: &Heads,
    routes: &[PartRoutes],
    first: &[Vec<Vec<Option<Minute>>>],
    assembly: &Assembly,
) -> Option<Minute> {
    assembly
        .parts
        .iter()
        .try_fold(0, |latest: Minute, &(part, _)| {
            let forms = routes[part.0].forms.iter().zip(&first[part.0]);
            let there = forms.filter_map(|(form, ways)| {
                heads.copy_there(form, ways.iter().flatten().copied().min()?)
            });
            there.min().map(|there| latest.max(there))
        })
}

/// What each assembly takes of each pool.
fn classes(
    shop: &Shop,
    routes: &[PartRoutes],
    first: &[Vec<Vec<Option<Minute>>>],
    pools: &[Pool],
) -> Vec<Class> {
    let mut pool_of = vec![None; routes.len()];
    let mut printed: Vec<Vec<Option<Minute>>> = vec![vec![None; shop.groups.len()]; pools.len()];
    for (index, pool) in pools.iter().enumerate() {
        for &(part, units) in &pool.members {
            pool_of[part] = Some((index, units));
            let ways = routes[part].forms.iter().zip(&first[part]);
            for (way, date) in ways.flat_map(|(form, dates)| form.ways.iter().zip(dates)) {
                let known = &mut printed[index][shop.group_of[way.machine.0]];
                *known = known.iter().chain(date).copied().min();
            }
        }
    }
    let mut amounts: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    for (a, assembly) in shop.scenario.assemblies.iter().enumerate() {
        for &(part, copies) in &assembly.parts {
            if let Some((pool, units)) = pool_of[part.0] {
                *amounts.entry((a, pool)).or_insert(0.0) += f64::from(copies) * units / DAY;
            }
        }
    }
    let class = |((assembly, pool), amount)| Class {
        assembly,
        pool,
        amount,
        first: printed[pool].clone(),
    };
    amounts.into_iter().map(class).collect()
}

/// The first minute by which all machines together could have made everything, were each part made where it is made fastest.
fn all_made(shop: &Shop, presence: &Presence, classes: &[Class]) -> Minute {
    let work: f64 = classes.iter().map(|class| class.amount * DAY).sum();
    let made = |minute: Minute| {
        let groups = shop.groups.iter().map(|group| group.supply.by(minute));
        groups.sum::<f64>()
    };
    let (mut early, mut late) = (0, presence.end());
    while late - early > 1 {
        let middle = early + (late - early) / 2;
        if made(middle) < work {
            early = middle
        } else {
            late = middle
        }
    }
    late
}

/// The dates on which each promise is asked for: from its first late date to well past `made`, by which all machines together could
/// have made everything; closer together at the beginning.
fn dates_asked(promises: &[Promise], made: Minute, fineness: &Fineness) -> Vec<Vec<Minute>> {
    let of_promise = |promise: &Promise| {
        let (count, beyond) = if promise.is_end {
            (fineness.end_dates, 1.6)
        } else {
            (fineness.stage_dates, 1.3)
        };
        let from = promise.from();
        let span = (beyond * f64::from(made) - f64::from(from)).max(DAY);
        let mut dates: Vec<Minute> = (1..=count)
            .map(|step| {
                from.saturating_add((span * (step as f64 / count as f64).powi(2)).ceil() as Minute)
            })
            .collect();
        dates.dedup();
        dates
    };
    promises.iter().map(of_promise).collect()
}

#[cfg(test)]
mod tests;
