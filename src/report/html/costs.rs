//! What the plan costs, what its assemblies weigh, what to take care of.
//!
//! Knows: sums of a plan. Must not know: single runs.
//! Promises: the parts of the cost as shown add up to the total as shown; masses that ask for help are said in words.

use maud::{Markup, html};

use super::Page;
use super::axis::per_cent;
use super::code::quoted;
use crate::report::money::{Hundredths, Shown, gap};
use crate::report::words;

/// What each part of the cost is for.
const MEANING: [&str; 9] = [
    "stages after their date",
    "days until all is done",
    "wear, by the hour",
    "electricity",
    "your hours",
    "lost in colour changes",
    "filament in the pieces",
    "rods, tubes, dowels",
    "what you accepted and is otherwise",
];

pub(super) fn section(page: &Page) -> Option<Markup> {
    let plan = page.plan;
    let shown = Shown::new(&plan.cost);
    let parts = shown.parts();
    let most = parts
        .iter()
        .map(|(_, part)| part.number())
        .fold(0.01, f64::max);
    Some(html! {
        table.bars {
            thead { tr { th scope="col" { "Part" } th.num scope="col" { (page.scenario.currency) } th scope="col" { "For" } } }
            tbody {
                @for ((name, part), meaning) in parts.iter().zip(MEANING) {
                    tr {
                        th scope="row" { (name) }
                        td.num { (part) }
                        td { (bar(part.number() / most)) span { (meaning) } }
                    }
                }
            }
            tfoot { tr { th scope="row" { "total" } td.num { b { (shown.total()) } } td {} } }
        }
        p { b { (Hundredths::down(plan.bound)) } " of the " (Hundredths::nearest(plan.decided)) " " (page.scenario.currency)
            " that planning decides cannot be avoided by any plan; at most " b { (format!("{:.1} %", gap(plan.decided, plan.bound) * 100.0)) } " could be saved." }
    })
}

pub(super) fn masses(page: &Page) -> Option<Markup> {
    let masses = &page.plan.sheets.masses;
    let most = masses.iter().map(|mass| mass.whole.0).fold(0.0, f64::max);
    (most > 0.0).then(|| html! {
        p.lead { "Pieces, hardware and glue, as estimated. By itself, and with everything that it needs." }
        table.bars.masses {
            thead { tr { th scope="col" { "Assembly" } th.num scope="col" { "Itself" } th.num scope="col" { "In all" } th scope="col" { "Beside the heaviest" } } }
            tbody {
                @for (assembly, mass) in page.scenario.assemblies.iter().zip(masses) {
                    tr {
                        th scope="row" { (assembly.id) }
                        td.num { (words::mass(mass.own)) }
                        td.num { b { (words::mass(mass.whole)) } }
                        td { (bar(mass.whole.0 / most)) }
                    }
                }
            }
        }
    })
}

pub(super) fn cautions(page: &Page) -> Option<Markup> {
    let cautions = &page.plan.cautions;
    (!cautions.is_empty()).then(|| {
        html! {
            ul.cautions {
                @for caution in cautions {
                    // Most begin with their subject; a colon further on is another's.
                    @let subject = caution.split_once(':').filter(|(subject, _)| !subject.contains(['.', '`']));
                    @match subject {
                        Some((subject, rest)) => li { b { (subject) ":" } (quoted(rest)) },
                        None => li { (quoted(caution)) },
                    }
                }
            }
        }
    })
}

/// A share of the most, as a bar; the figure stands beside it.
fn bar(share: f64) -> Markup {
    html! { svg.share height="14" aria-hidden="true" focusable="false" { rect width=(per_cent(share * 100.0)) height="14" {} } }
}
