//! Which trial copies are to be approved, and when.
//!
//! Knows: trials, the runs that they are on. Must not know: bench hours.
//! Promises: every part with a trial is named.

use maud::{Markup, html};

use super::Page;
use crate::report::words;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let trials = &page.plan.trials;
    (!trials.is_empty()).then(|| {
        html! {
            p.lead { "Try these pieces as soon as they are there. The rest of their kind is set up once you have approved them." }
            ul.plain {
                @for trial in trials {
                    @let part = &page.scenario.parts[trial.part.0];
                    @let runs = words::trial_runs(page.scenario, page.plan, trial);
                    li {
                        b { (part.trial) "× " (part.id) } " from " b { (page.local.full(trial.approved)) } ", "
                        @if runs.is_empty() { "printed already" } @else { "printed on " }
                        @for (n, &at) in runs.iter().enumerate() {
                            @if n > 0 { ", " }
                            a href={ "#q" (at) } { (page.plan.runs[at].id) }
                        }
                        (words::to_choose(part))
                        @if part.trial >= part.copies() { "; there are no more of them" }
                    }
                }
            }
        }
    })
}
