//! From a scenario to an audited plan: routes, search, master, bound, stock, audit, in this order.
//!
//! Knows: what each of them promises. Must not know: files, screens.
//! Promises: a plan that comes out has passed its audit; otherwise the reason comes out.

mod finish;
mod join;
mod why;

use crate::calendar::Calendar;
use crate::plan::Plan;
use crate::plan::audit::{Fault, audit};
use crate::routes::{PartRoutes, routes};
use crate::scenario::Scenario;
use crate::search::portfolio::{self, Limit, Settings, Unwatched, Watch};
use crate::search::shop::Shop;

use finish::Ground;

/// How a plan is made.
pub struct Options<'a> {
    /// When the search ends; `None`: after a number of moves that suits the scenario's size.
    pub limit: Option<Limit>,
    /// Where chance begins.
    pub seed: u64,
    /// Who watches the search.
    pub watch: &'a dyn Watch,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            limit: None,
            seed: 1,
            watch: &Unwatched,
        }
    }
}

/// Why there is no plan.
#[derive(Debug)]
pub enum NoPlan {
    /// Some parts can be made on no machine; all parts' routes, with the reasons.
    NoRoute(Vec<PartRoutes>),
    /// The work does not end within the calendar's horizon: too little bench time, or runs longer than any bench hours
    /// on machines that must be watched.
    NoTime,
    /// A plan was found but fails its audit: a fault of this program.
    Unsound(Vec<Fault>),
}

/// Plans a scenario.
pub fn plan(scenario: &Scenario, options: &Options) -> Result<Plan, NoPlan> {
    let routes = routes(scenario);
    if routes.iter().any(|r| r.forms.is_empty()) {
        return Err(NoPlan::NoRoute(routes));
    }
    let shop = Shop::new(scenario, Calendar::new(scenario), &routes);
    let settings = Settings {
        limit: options.limit.unwrap_or(Limit::Usual),
        seed: options.seed,
        without: &[],
        recombine: Some(&|best, pool| join::join(&shop, best, pool)),
        watch: options.watch,
    };
    let found = portfolio::search(&shop, &settings).ok_or(NoPlan::NoTime)?;
    let ground = Ground {
        scenario,
        routes: &routes,
        shop: &shop,
    };
    let plan = finish::finish(&ground, &found.best, options.seed).ok_or(NoPlan::NoTime)?;
    let faults = audit(scenario, &plan);
    if !faults.is_empty() {
        return Err(NoPlan::Unsound(faults));
    }
    Ok(plan)
}
