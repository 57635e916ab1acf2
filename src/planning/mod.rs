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
mod searched;
mod sheets;
mod supply;
mod why;

use crate::calendar::Calendar;
use crate::plan::Plan;
use crate::plan::audit::{Fault, Rule, audit_since};
use crate::progress::Progress;
use crate::routes::{PartRoutes, TooLong, routes};
use crate::scenario::Scenario;
use crate::search::anneal::Tally;
use crate::search::portfolio::{Limit, Unwatched, Watch};
use crate::search::shop::Shop;
use crate::stock::OnHand;
use crate::units::Money;

pub use bounds::Patience;
pub use sheets::sheets;

use searched::{Searched, Task};

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
    let task = Task {
        options,
        written: scenario,
        scenario: &whole,
        routes: &routes,
        progress,
        rest: rest.as_ref(),
        previous,
        on_hand: &on_hand,
        least: &least,
    };
    let searched = match (previous, &rest) {
        (Some(previous), Some(rest)) => {
            let accepted = kept::Accepted {
                task: &task,
                rest,
                previous,
            };
            accepted.gone_on_with(&mut shop)?
        }
        _ => task.searched(&mut shop, None)?,
    };
    let Searched { mut plan, .. } = searched;
    plan.stopped = options.watch.stop();
    let mut faults = audit_since(scenario, progress, &plan);
    // What is firm may be possible in a way that was not found: then it is said, rather than no plan given.
    if faults.iter().any(|fault| fault.rule == Rule::Firm)
        && let Some(previous) = previous
    {
        kept::say_yielded(&task, previous, &mut plan);
        faults = audit_since(scenario, progress, &plan);
    }
    if !faults.is_empty() {
        return Err(NoPlan::Unsound(faults));
    }
    Ok(Planned {
        plan,
        optimal: searched.optimal,
        constructed: searched.constructed,
        moves: searched.moves,
        joined: searched.joined,
        tallies: searched.tallies,
    })
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

#[cfg(test)]
mod tests;
