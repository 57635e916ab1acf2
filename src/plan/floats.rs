//! By how much each assembly of a finished plan may slip.
//!
//! Knows: the plan's dates, bench hours. Must not know: how the dates were found, prices.
//! Promises: an assembly whose bench work ends later by its float, or that is complete so much later where it has none, makes no stage
//! late, or later, and the last assembly no later, all other work being done in the plan's order.

use chrono::{DateTime, Utc};

use crate::calendar::Calendar;
use crate::graph::{self, Activity, Handwork};
use crate::scenario::{AssemblyIndex, Hands, Scenario};
use crate::units::Minutes;

use super::critical::{LinkOf, before, minute};
use super::{Ledger, Work};

/// The float of each assembly of a plan, as the plan lists them: in the scenario's order.
pub fn floats(scenario: &Scenario, plan: &Ledger, calendar: &Calendar) -> Vec<Minutes> {
    let finish = plan.assemblies.iter().map(|dates| minute(dates.complete));
    let finish = finish.max().unwrap_or_default();
    let glued = plan.gluings.iter().enumerate();
    // Copies that nothing waits for are joined last of all.
    let glued: Vec<_> = glued
        .filter_map(|(at, gluing)| Some((at, gluing, gluing.assembly?)))
        .collect();
    let mut activities: Vec<Activity> = Vec::new();
    for dates in plan.assemblies {
        let assembly = &scenario.assemblies[dates.assembly.0];
        let complete = minute(dates.complete);
        let due = assembly.due.map_or(i64::MAX, minute);
        let own = (0..).zip(&glued).filter(|(_, one)| one.2 == dates.assembly);
        let joined = own.map(|(at, _): (usize, _)| plan.assemblies.len() + at);
        activities.push(Activity {
            work: handwork(
                released(scenario, plan, dates.assembly, dates.start, &dates.work),
                &dates.work,
            ),
            complete,
            needs: assembly.needs.iter().map(|a| a.0).chain(joined).collect(),
            limit: due.max(complete).min(finish),
        });
    }
    activities.extend(glued.iter().map(|(_, gluing, _)| Activity {
        work: handwork(gluing.printed, &gluing.work),
        complete: minute(gluing.ready),
        needs: Vec::new(),
        limit: finish,
    }));
    let setups = plan
        .runs
        .iter()
        .filter_map(|run| Some((run.setup?, run.start)));
    let taken: Vec<(i64, i64)> = setups
        .map(|(from, to)| (minute(from), minute(to)))
        .collect();
    let start = minute(calendar.moment(0));
    let open: Vec<(i64, i64)> = calendar
        .windows()
        .iter()
        .map(|window| {
            (
                start + i64::from(window.open),
                start + i64::from(window.close),
            )
        })
        .take_while(|&(open, _)| open <= finish)
        .collect();
    let hands = graph::Hands {
        count: match scenario.bench.hands {
            Hands::Count(hands) => Some(hands),
            Hands::Unlimited => None,
        },
        open: &open,
        taken: &taken,
    };
    let mut floats = graph::floats(&activities, &hands);
    floats.truncate(plan.assemblies.len());
    floats.into_iter().map(Minutes).collect()
}

/// When an assembly could be worked on; without work, when its cure begins.
fn released(
    scenario: &Scenario,
    plan: &Ledger,
    assembly: AssemblyIndex,
    start: DateTime<Utc>,
    work: &[Work],
) -> DateTime<Utc> {
    if work.is_empty() {
        return start;
    }
    before(scenario, plan, LinkOf::Assembly(assembly)).map_or(start, |(at, _)| at)
}

fn handwork(release: DateTime<Utc>, work: &[Work]) -> Handwork {
    let stretches = work.iter().map(|one| (minute(one.from), minute(one.to)));
    Handwork {
        release: minute(release),
        stretches: stretches.collect(),
        fixed: false,
    }
}
