//! The audit: holds a finished plan against every rule of the shop and adds its cost up again.
//!
//! Knows: the scenario, the plan, units. Must not know: how plans are made. It shares no code with the calendar, the
//! routes, the estimate, the plates or the search: bench hours, minutes, grams, distances and money are derived here a
//! second time, the slow and obvious way, so that an error there cannot hide itself.
//! Promises: it never panics, whatever the plan says; a plan without faults keeps every [`Rule`].

mod assembly;
mod calibration;
mod cost;
mod counts;
mod estimate;
mod evidence;
mod firm;
mod given;
mod gluing;
mod hands;
mod levels;
mod mesh;
mod names;
mod outline;
mod plates;
mod presence;
mod references;
mod reserves;
mod rule;
mod runs;
mod sheets;
mod shelf;
mod slips;
mod spools;
mod stock;
mod summary;

use std::fmt;

pub use rule::Rule;

use super::{Cost, Plan};
use crate::progress::Progress;
use crate::scenario::Scenario;
use evidence::Evidence;
use presence::Presence;

/// One breach of one rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The rule that is broken.
    pub rule: Rule,
    /// Where, what was found, and what would be right.
    pub what: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} (the rule: {})", self.what, self.rule)
    }
}

/// Every fault of a plan, by rule; empty for a plan that keeps them all.
///
/// Where the plan names something that the scenario does not have, or a number that is none, only such faults are
/// reported: nothing else can be checked against them.
pub fn audit(scenario: &Scenario, plan: &Plan) -> Vec<Fault> {
    audit_since(scenario, &Progress::none(scenario), plan)
}

/// Every fault of a plan of the rest of a build, after what has been done; see [`audit`].
pub fn audit_since(scenario: &Scenario, progress: &Progress, plan: &Plan) -> Vec<Fault> {
    let mut faults = Faults::default();
    references::check(scenario, plan, &mut faults);
    if !faults.0.is_empty() {
        return faults.0;
    }
    let begun = progress.has_begun(scenario);
    let scenario = &given::as_it_is(scenario, progress);
    let mut evidence = Evidence::gather(scenario, progress, plan);
    evidence.given.any = begun;
    given::check(scenario, progress, plan, &evidence.given, &mut faults);
    let presence = Presence::of(scenario, evidence.last_moment());
    references::check_moments(&evidence, &mut faults);
    names::check(&evidence, progress, &mut faults);
    runs::check(&evidence, &presence, &mut faults);
    plates::check(&evidence, &mut faults);
    mesh::check(&evidence, &mut faults);
    counts::check(&evidence, &mut faults);
    firm::check(&evidence, progress, &presence, &mut faults);
    gluing::check(&evidence, &mut faults);
    assembly::check(&evidence, &mut faults);
    hands::check(&evidence, &presence, &mut faults);
    slips::check(&evidence, &presence, &mut faults);
    cost::check(&evidence, &mut faults);
    stock::check(&evidence, &presence, &mut faults);
    spools::check(&evidence, &mut faults);
    reserves::check(&evidence, progress, &mut faults);
    summary::check(&evidence, &mut faults);
    sheets::check(&evidence, &presence, &mut faults);
    levels::check(&evidence, &mut faults);
    faults.0.sort_by_key(|fault| fault.rule);
    faults.0
}

/// Names of firm runs of the accepted plan that are otherwise in a plan of the rest though nothing is found that speaks against them:
/// [`Rule::Firm`]. None of a plan that breaks [`Rule::References`].
pub fn firm_but_moved(scenario: &Scenario, progress: &Progress, plan: &Plan) -> Vec<String> {
    let mut faults = Faults::default();
    references::check(scenario, plan, &mut faults);
    if !faults.0.is_empty() {
        return Vec::new();
    }
    let scenario = &given::as_it_is(scenario, progress);
    let evidence = Evidence::gather(scenario, progress, plan);
    let presence = Presence::of(scenario, evidence.last_moment());
    let moved = firm::but_moved(&evidence, progress, &presence);
    moved.into_iter().map(|run| run.id).collect()
}

/// Whether a plan keeps every rule.
pub fn is_clean(scenario: &Scenario, plan: &Plan) -> bool {
    audit(scenario, plan).is_empty()
}

/// The cost of a plan, added up from its runs and its bench work alone; what the plan says of its cost is not read.
///
/// A plan that breaks [`Rule::References`] has no cost to add up: zero.
pub fn recount_cost(scenario: &Scenario, plan: &Plan) -> Cost {
    recount_cost_since(scenario, &Progress::none(scenario), plan)
}

/// The same of a plan of the rest of a build.
pub fn recount_cost_since(scenario: &Scenario, progress: &Progress, plan: &Plan) -> Cost {
    let mut faults = Faults::default();
    references::check(scenario, plan, &mut faults);
    if !faults.0.is_empty() {
        return Cost::default();
    }
    let scenario = &given::as_it_is(scenario, progress);
    cost::recount(&Evidence::gather(scenario, progress, plan))
}

/// The faults found so far.
#[derive(Default)]
struct Faults(Vec<Fault>);

impl Faults {
    fn report(&mut self, rule: Rule, what: String) {
        self.0.push(Fault { rule, what });
    }

    /// Reports a breach of `rule` unless `holds`; `what` is only put into words when needed.
    fn require(&mut self, holds: bool, rule: Rule, what: impl FnOnce() -> String) {
        if !holds {
            self.report(rule, what());
        }
    }
}
