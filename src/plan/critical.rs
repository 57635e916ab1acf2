//! What the end of the build waits for: the critical path, from a run through bench work to the last assembly.
//!
//! Knows: a finished plan's dates. Must not know: how they were found, what they cost, bench hours.
//! Promises: each link waited for the one before it and for nothing later, or for the hands that it took; a plan without assemblies
//! has none.

use chrono::{DateTime, Utc};

use crate::graph::{Handwork, left_hands};
use crate::scenario::{AssemblyIndex, Hands, Scenario};

use super::{Ledger, Run, Work};

/// The chain of waits that ends with the build: the first link first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CriticalPath {
    /// The links, each with the next one waiting for it.
    pub links: Vec<Link>,
}

impl CriticalPath {
    /// The assemblies of the chain.
    pub fn assemblies(&self) -> impl Iterator<Item = AssemblyIndex> {
        self.links.iter().filter_map(|link| match link.what {
            LinkOf::Assembly(assembly) => Some(assembly),
            _ => None,
        })
    }
}

/// A link of the chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// What the next link waited for.
    pub what: LinkOf,
    /// The next waited only for the hands that this took, not for what it makes.
    pub hands: bool,
}

/// What the chain leads through; by position in the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkOf {
    /// A run of the plan.
    Run(usize),
    /// A run that was printing when the rest was planned, among [`super::Since::running`].
    Standing(usize),
    /// The setup of a run of the plan.
    Setup(usize),
    /// Joining a copy, until it has cured.
    Joining(usize),
    /// An assembly's own work, until it has cured.
    Assembly(AssemblyIndex),
}

/// The critical path of dated runs, gluing and assemblies (in the scenario's order); `None` without an assembly.
///
/// Of several things waited for to the same minute, a needed assembly counts before joining, joining before pieces, and the first
/// of each.
pub fn critical_path(scenario: &Scenario, plan: &Ledger) -> Option<CriticalPath> {
    let last = plan.assemblies.iter();
    let last = last.max_by_key(|dates| (dates.complete, std::cmp::Reverse(dates.assembly.0)))?;
    let chain = Chain::new(scenario, plan);
    let mut links = Vec::new();
    let mut at = LinkOf::Assembly(last.assembly);
    links.push(Link {
        what: at,
        hands: false,
    });
    // Going back, what is waited for was never later, and where it was not earlier it was needed: rings of needs are refused, so
    // this ends. The number of works bounds it all the same.
    for _ in 0..2 * chain.works.len().max(1) {
        let holder = chain.left_hands(at);
        let Some(before) = holder.or_else(|| chain.waited_for(at)) else {
            break;
        };
        links.push(Link {
            what: before,
            hands: holder.is_some(),
        });
        at = before;
        if matches!(at, LinkOf::Run(_) | LinkOf::Standing(_)) {
            break;
        }
    }
    links.reverse();
    Some(CriticalPath { links })
}

/// What the links are found from.
struct Chain<'a> {
    scenario: &'a Scenario,
    plan: &'a Ledger<'a>,
    /// Everything that takes hands, with what it is; the assemblies first, in the scenario's order.
    works: Vec<LinkOf>,
    dated: Vec<Handwork>,
}

pub(super) fn minute(moment: DateTime<Utc>) -> i64 {
    moment.timestamp().div_euclid(60)
}

impl<'a> Chain<'a> {
    fn new(scenario: &'a Scenario, plan: &'a Ledger<'a>) -> Self {
        let mut chain = Self {
            scenario,
            plan,
            works: Vec::new(),
            dated: Vec::new(),
        };
        let stretches = |work: &[Work]| -> Vec<(i64, i64)> {
            let each = work.iter();
            each.map(|stretch| (minute(stretch.from), minute(stretch.to)))
                .collect()
        };
        let mut put = |what: LinkOf, release: Option<DateTime<Utc>>, stretches: Vec<(i64, i64)>| {
            let first = stretches.first().map_or(0, |&(from, _)| from);
            let release = release.map_or(first, minute);
            chain.works.push(what);
            chain.dated.push(Handwork {
                release,
                stretches,
                // A setup is done when its machine is free.
                fixed: matches!(what, LinkOf::Setup(_)),
            });
        };
        for dates in plan.assemblies {
            let what = LinkOf::Assembly(dates.assembly);
            let released = before(scenario, plan, what).map(|(at, _)| at);
            put(what, released, stretches(&dates.work));
        }
        // Spares come last of all, so they take no hands from anything.
        let gluings = plan.gluings.iter().enumerate();
        for (at, gluing) in gluings.filter(|(_, gluing)| gluing.assembly.is_some()) {
            let what = LinkOf::Joining(at);
            put(what, Some(gluing.printed), stretches(&gluing.work));
        }
        for (at, run) in plan.runs.iter().enumerate() {
            let setup = run.setup.filter(|&setup| setup < run.start);
            if let Some(setup) = setup {
                let stretch = (minute(setup), minute(run.start));
                put(LinkOf::Setup(at), None, vec![stretch]);
            }
        }
        chain
    }

    /// What left the hands to it that it waited for; `None`, where it waited for none.
    fn left_hands(&self, what: LinkOf) -> Option<LinkOf> {
        if self.scenario.bench.hands == Hands::Unlimited {
            return None;
        }
        let at = self.works.iter().position(|work| *work == what)?;
        self.works.get(left_hands(&self.dated, at)?).copied()
    }

    /// What it waited for to begin at all; `None`: for nothing that the plan does.
    fn waited_for(&self, what: LinkOf) -> Option<LinkOf> {
        before(self.scenario, self.plan, what)?.1
    }
}

/// When all that something waits for is there, and the last of it; `None` where it waits for nothing.
pub(super) fn before(
    scenario: &Scenario,
    plan: &Ledger,
    what: LinkOf,
) -> Option<(DateTime<Utc>, Option<LinkOf>)> {
    match what {
        LinkOf::Run(_) | LinkOf::Standing(_) | LinkOf::Setup(_) => None,
        LinkOf::Joining(at) => {
            let gluing = plan.gluings.get(at)?;
            let of_copy = |run: &Run| {
                let mut pieces = run.pieces.iter();
                pieces.any(|p| (p.part, p.number) == (gluing.part, gluing.number))
            };
            let run = last_run(plan, of_copy).filter(|(end, _)| *end >= gluing.printed);
            let run = run.map(|(_, run)| run);
            Some((
                gluing.printed,
                run.or_else(|| standing(plan, gluing.printed)),
            ))
        }
        LinkOf::Assembly(at) => {
            let dates = plan.assemblies.get(at.0)?;
            if (plan.since).is_some_and(|since| since.is_complete(at)) {
                return None;
            }
            let complete = |a: AssemblyIndex| plan.assemblies.get(a.0).map(|d| d.complete);
            let needs = scenario.assemblies.get(at.0)?.needs.iter();
            let need = needs
                .filter_map(|&a| Some((complete(a)?, std::cmp::Reverse(a.0))))
                .max()
                .map(|(when, first)| (when, LinkOf::Assembly(AssemblyIndex(first.0))));
            let glued = plan.gluings.iter().enumerate();
            let glued = glued
                .filter(|(_, gluing)| gluing.assembly == Some(at))
                .map(|(g, gluing)| (gluing.ready, gluing.printed, std::cmp::Reverse(g)))
                .max()
                .map(|(when, _, first)| (when, LinkOf::Joining(first.0)));
            let for_it = |run: &Run| run.pieces.iter().any(|p| p.assembly == Some(at));
            let run = last_run(plan, for_it).filter(|(end, _)| *end >= dates.printed);
            let run = run.map(|(_, run)| run);
            let printed = (dates.printed, run.or_else(|| standing(plan, dates.printed)));
            // Copies that were joined before the rest was planned.
            let given = plan.since.into_iter().flat_map(|since| &since.pieces);
            let joined = given.filter(|one| one.assembly == Some(at));
            let joined = joined.filter_map(|one| one.joined).max();
            let there = |(when, link)| (when, Some(link));
            let waits = need.map(there).into_iter().chain(glued.map(there));
            let waits = waits
                .chain([printed])
                .chain(joined.map(|when| (when, None)));
            // Of equals the first, as `max_by_key` would not.
            waits.reduce(|a, b| if b.0 > a.0 { b } else { a })
        }
    }
}

/// The run that ends last of those that are asked for, and its end.
fn last_run(plan: &Ledger, is: impl Fn(&Run) -> bool) -> Option<(DateTime<Utc>, LinkOf)> {
    let runs = plan.runs.iter().enumerate();
    runs.filter(|(_, run)| is(run))
        .map(|(at, run)| (run.end, std::cmp::Reverse(at)))
        .max()
        .map(|(end, at)| (end, LinkOf::Run(at.0)))
}

/// A run that was printing before, and ends at a moment.
fn standing(plan: &Ledger, end: DateTime<Utc>) -> Option<LinkOf> {
    let mut running = plan.since?.running.iter();
    running.position(|run| run.end == end).map(LinkOf::Standing)
}
