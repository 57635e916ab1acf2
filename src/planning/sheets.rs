//! The sheets of a finished plan: bench hours, each day's work, filament on hand, masses.
//!
//! Knows: the calendar, stock, a dated plan. Must not know: the search.
//! Promises: they follow from the scenario and the plan alone, so that they can be made again for a plan that was changed.

use chrono::{DateTime, Utc};

use crate::calendar::Calendar;
use crate::lifting;
use crate::plan::{self, Listed, Plan, Run, Sheets, Work};
use crate::routes::PartRoutes;
use crate::scenario::Scenario;
use crate::stock::{self, OnHand};

/// The sheets of a plan from the build's start; `routes` are those of the scenario. What the plan says of its sheets is not read.
pub fn sheets(scenario: &Scenario, routes: &[PartRoutes], plan: &Plan) -> Sheets {
    let copy_grams = plan::copy_grams(scenario, routes, &plan.runs);
    let place = Place {
        scenario,
        on_hand: &OnHand::at_start(scenario),
        calendar: &Calendar::new(scenario),
    };
    of_plan(&place, plan, &copy_grams)
}

/// What sheets follow from besides the plan.
pub(super) struct Place<'a> {
    pub scenario: &'a Scenario,
    pub on_hand: &'a OnHand,
    pub calendar: &'a Calendar,
}

/// The same where spools, the calendar and the masses of copies are known.
pub(super) fn of_plan(place: &Place, plan: &Plan, copy_grams: &[crate::units::Grams]) -> Sheets {
    let Place {
        scenario,
        on_hand,
        calendar,
    } = *place;
    let until = last_moment(plan);
    let hours = hours(calendar, until);
    let days = plan::work_by_day(
        scenario,
        &Listed {
            runs: &plan.runs,
            standing: plan.standing(),
            trials: &plan.trials,
            gluings: &plan.gluings,
            assemblies: &plan.assemblies,
            spare_work: &plan.spare_work,
            orders: &plan.orders,
            hours: &hours,
        },
    );
    Sheets {
        hours,
        days,
        levels: stock::levels(scenario, on_hand, &uses(scenario, &plan.runs), &plan.orders),
        masses: plan::masses(scenario, &lifting::lifts(scenario, copy_grams), copy_grams),
    }
}

/// When everything is printed, done and complete.
fn last_moment(plan: &Plan) -> DateTime<Utc> {
    let standing = plan.standing().iter().map(|run| run.end);
    let runs = plan.runs.iter().map(|run| run.end).chain(standing);
    let gluings = plan.gluings.iter().flat_map(|gluing| &gluing.work);
    let assemblies = plan.assemblies.iter().flat_map(|dates| &dates.work);
    let spares = plan.spare_work.iter().flat_map(|spare| &spare.work);
    let work = gluings.chain(assemblies).chain(spares).map(|work| work.to);
    runs.chain(work).fold(plan.finish, DateTime::max)
}

/// Of a window that goes on and on, so many minutes after all is done are shown.
const AFTER: i32 = 24 * 60;

/// Bench windows until a moment, and the one after it, in which the last run is taken off.
fn hours(calendar: &Calendar, until: DateTime<Utc>) -> Vec<Work> {
    let until = calendar.minute(until);
    let last = calendar.window_at_or_after(until);
    let windows = calendar.windows().iter();
    windows
        .take(last.saturating_add(1))
        .map(|window| Work {
            from: calendar.moment(window.open),
            to: calendar.moment(window.close.min(window.open.max(until) + AFTER)),
        })
        .collect()
}

/// What runs take of their filament.
pub(super) fn uses(scenario: &Scenario, runs: &[Run]) -> Vec<stock::Use> {
    runs.iter()
        .map(|run| stock::Use {
            machine: run.machine,
            filament: run.filament,
            setup: run.setup,
            start: run.start,
            end: run.end,
            grams: run.grams,
            purge: plan::purged(scenario, run),
        })
        .collect()
}
