//! What a plan of the rest does otherwise than the accepted one, and why.
//!
//! Knows: the changes that the plan lists. Must not know: how they were found.
//! Promises: a plan that goes on from nothing accepted has no such section.

use chrono::{DateTime, Utc};
use maud::{Markup, html};

use super::Page;
use crate::report::money::Hundredths;
use crate::report::since::{by_part, in_short};

pub(super) fn section(page: &Page) -> Option<Markup> {
    let since = page.plan.since.as_ref().filter(|since| since.accepted)?;
    let place =
        |start: Option<DateTime<Utc>>| start.map_or("—".to_owned(), |at| page.local.full(at));
    Some(html! {
        p { b { (in_short(page.scenario, page.plan, since)) }
            @if let Some(parts) = by_part(page.plan, since) { ". " (parts) } }
        @if !since.differences.is_empty() {
            ul { @for difference in &since.differences { li { (difference) } } }
        }
        @if !since.changes.is_empty() {
            div.scroll tabindex="0" role="region" aria-label="Changes; may scroll sideways" {
                table {
                    thead { tr {
                        th scope="col" { "Run" } th scope="col" { "Before" } th scope="col" { "Was to start" } th scope="col" { "Starts" }
                        th.num scope="col" { "Dearer by" } th scope="col" { "Why" }
                    } }
                    tbody {
                        @for change in &since.changes {
                            tr {
                                th scope="row" { (change.to.map_or("—", |_| change.run.as_str())) }
                                td { (change.was.as_deref().unwrap_or("—")) }
                                td { (place(change.from.as_ref().map(|(_, start)| *start))) }
                                td { (place(change.to.map(|(_, start)| start))) }
                                td.num { (change.money.map_or("—".to_owned(), |money| Hundredths::nearest(money).to_string())) }
                                td { (change.why) }
                            }
                        }
                    }
                }
            }
        }
    })
}
