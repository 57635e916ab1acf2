//! The plan in one sentence, and the figures behind it.
//!
//! Knows: a plan's sums. Must not know: single runs.
//! Promises: the sentence says when, whether in time, and for how much; what stands in the way of the dates is beside it.

use maud::{Markup, html};

use super::Page;
use super::colour::swatch;
use crate::plan::{AssemblyDates, Sums};
use crate::report::local::{day, day_and_year};
use crate::report::money::{Shown, gap};
use crate::report::words;

pub(super) fn header(page: &Page) -> Markup {
    let plan = page.plan;
    let Sums {
        printed,
        hours,
        alone,
        stop,
        ..
    } = plan.sums();
    let used = |at: &usize| plan.runs.iter().any(|run| run.filament.0 == *at);
    html! {
        header.top {
            h1 { (page.scenario.build.name) }
            p.sentence { (sentence(page)) }
            ul.figures {
                li { b { (plan.runs.len()) } " runs, " b { (format!("{hours:.0}")) " h" } " of printing" }
                @if alone > 0 { li { b { (alone) } " of them print with nobody there for some of the time" } }
                li { b { (words::mass(printed)) } " of plastic, " (words::changes(&plan.sums())) }
                @for run in plan.standing() {
                    @if let Some(at) = run.stops {
                        li.warn { b { "! " (run.id) } " prints: " (words::stops(&page.local.full(at))) "; dates include it" }
                    }
                }
                @if stop > 0 {
                    li.warn { b { "! " (stop) } (if stop == 1 { " run stops when its spool ends" } else { " runs stop when their spool ends" }) "; no date includes it" }
                }
                li { "at most " b { (format!("{:.1} %", gap(plan.decided, plan.bound) * 100.0)) } " of what planning decides could still be saved" }
                @if plan.stopped { li.warn { "the search was stopped before its end; a longer one may find a better plan" } }
                @if let Some(order) = first_order(page) { li { (order) } }
            }
            ul.key aria-label="Filaments" {
                @for at in (0..page.scenario.filaments.len()).filter(used) {
                    li { (swatch(at)) " " (page.scenario.filaments[at].id) }
                }
            }
        }
    }
}

fn sentence(page: &Page) -> Markup {
    let plan = page.plan;
    let due = |dates: &&AssemblyDates| page.scenario.assemblies[dates.assembly.0].due.is_some();
    let stages: Vec<&AssemblyDates> = plan.assemblies.iter().filter(due).collect();
    let late: Vec<&&AssemblyDates> = stages
        .iter()
        .filter(|dates| dates.late_days > 0.0)
        .collect();
    let cost = Shown::new(&plan.cost).total();
    let unless = match plan.sums().stop {
        0 => "",
        _ => words::UNLESS_ONE_STOPS,
    };
    html! {
        "Complete on " b { (day_and_year(page.local.date(plan.finish))) " at " (page.local.clock(plan.finish)) }
        @match (stages.len(), late.as_slice()) {
            (0, _) => {},
            (1, []) => { ", in time" (unless) },
            (all, []) => { ", with all " (all) " stages in time" (unless) },
            (1, [_]) => { ", " b.warn { "late by " (words::late(late[0])) } },
            (all, [one]) => { ", with " b.warn { (page.scenario.assemblies[one.assembly.0].id) " late by " (words::late(one)) } " of " (all) " stages" },
            (all, several) => { ", with " b.warn { (several.len()) " of " (all) " stages late" } },
        }
        ", for " b { (cost) " " (page.scenario.currency) } "."
    }
}

/// The first thing to order.
fn first_order(page: &Page) -> Option<Markup> {
    let orders = page.plan.orders.iter().filter(|order| order.spools > 0);
    let first = orders
        .filter(|order| order.order_by.is_some())
        .min_by_key(|order| order.order_by)?;
    let by = first.order_by?;
    let early = by < page.local.date(page.scenario.build.start);
    Some(html! {
        "first order: " b { (page.scenario.filaments[first.filament.0].id) " by " (day(by)) }
        @if early { ". " (words::ORDER_BEFORE_THE_START) }
    })
}
