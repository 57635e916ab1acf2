//! What parts that span sag under their load, and with which rod or tube.
//!
//! Knows: spans as they were reckoned. Must not know: how.
//! Promises: the same words and figures as in the text; every bar stands beside its figure, and ends at a limit that is drawn.

use maud::{Markup, html};

use super::Page;
use super::axis::per_cent;
use crate::report::grid::Tone;
use crate::report::spans::{CAUTION, rod, sag, verdict, whole_mm};
use crate::report::words;
use crate::strength::Span;

/// Where on a bar of sag the limit stands, in per cent: what is enough lies left of it, and three times as much ends the bar.
const LIMIT: f64 = 100.0 / 3.0;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let spans = &page.plan.spans;
    (!spans.is_empty()).then(|| {
        html! {
            p.lead { (CAUTION) }
            table.spans {
                thead { tr { th scope="col" { "Part" } th scope="col" { "Span" } th scope="col" { "Load" } th scope="col" { "Sag" } th scope="col" { "At most" } th scope="col" { "Sag beside what it may be (the stroke)" } } }
                @for span in spans { (one(page, span)) }
            }
        }
    })
}

fn one(page: &Page, span: &Span) -> Markup {
    let (tone, said) = verdict(page.scenario, span);
    html! {
        tbody {
            tr {
                th scope="row" { (page.scenario.parts[span.part.0].id) }
                td { (whole_mm(span.length)) }
                td { (words::mass(span.load)) }
                td { (sag(span.sag)) }
                td { (sag(span.limit)) }
                td { (bar(span.sag.0 / span.limit.0)) @if tone == Tone::Plain { (said) } @else { b.warn[tone == Tone::Mark] { (said) } } }
            }
            @for (at, with) in span.reinforced.iter().enumerate() {
                tr.rod {
                    td colspan="3" { "with " (page.scenario.joints[with.joint.0].id) }
                    td { @if with.fits { (sag(with.sag)) } @else { "–" } }
                    td {}
                    td { @if with.fits { (bar(with.sag.0 / span.limit.0)) } (rod(page.scenario, span, at)) }
                }
            }
        }
    }
}

/// A sag as a share of what it may be, with a stroke where that is.
fn bar(share: f64) -> Markup {
    html! {
        svg.share height="14" aria-hidden="true" focusable="false" {
            rect y="2" width=(per_cent((share * LIMIT).min(100.0))) height="10" {}
            line x1=(per_cent(LIMIT)) x2=(per_cent(LIMIT)) y1="0" y2="14" {}
        }
    }
}
