//! The plan as pages to look at and to print: `report.html` and `day-sheets.html`, each one file that needs nothing else.
//!
//! Knows: which sections there are, in which order. Must not know: how a section is drawn (one module each), how the plan was found.
//! Promises: every text that a user wrote is escaped (the templates are checked when this is compiled); nothing is loaded from
//! anywhere; everything can be read with scripts off; nothing is said by colour alone.

mod axis;
mod bed;
mod beside;
mod changes;
mod chart;
mod code;
mod colour;
mod costs;
mod dates;
mod filament;
mod graph;
mod headline;
mod kits;
mod labels;
mod long;
mod marks;
mod plane;
mod plate;
mod plate_sheet;
mod plates;
mod queue;
mod sheets;
mod spans;
mod trials;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::plan::{Plan, Run};
use crate::scenario::Scenario;

use super::local::Local;

pub(super) use axis::short;
pub(super) use plate::Plate;
pub(super) use plate_sheet::sheet as plate_sheet;

const STYLE: &str = include_str!("look.css");
const SHEET_STYLE: &str = include_str!("sheets.css");
const SCRIPT: &str = include_str!("chart.js");

/// What every section looks at.
#[derive(Clone, Copy)]
struct Page<'a> {
    scenario: &'a Scenario,
    plan: &'a Plan,
    local: Local,
}

impl<'a> Page<'a> {
    fn new(scenario: &'a Scenario, plan: &'a Plan) -> Self {
        Self {
            scenario,
            plan,
            local: Local(scenario.build.zone),
        }
    }

    fn machine(&self, run: &Run) -> &'a str {
        &self.scenario.machines[run.machine.0].id
    }

    fn filament(&self, run: &Run) -> &'a str {
        &self.scenario.filaments[run.filament.0].id
    }

    /// The number of a run on its machine, without noughts before it.
    fn number<'r>(&self, id: &'r str) -> &'r str {
        let after = id.rsplit('-').next().unwrap_or(id);
        let number = after.trim_start_matches('0');
        if number.is_empty() { after } else { number }
    }
}

/// Everything about a plan on one page.
pub fn report(scenario: &Scenario, plan: &Plan) -> String {
    let page = Page::new(scenario, plan);
    let sections: Vec<(&str, &str, Markup)> = [
        ("changes", "Changes", changes::section(&page)),
        ("weeks", "The weeks", chart::section(&page)),
        ("queue", "Queue by day", queue::section(&page)),
        ("trials", "To approve", trials::section(&page)),
        ("plates", "Plates", plates::section(&page)),
        ("long", "Long parts", long::section(&page)),
        ("spans", "Spans", spans::section(&page)),
        ("graph", "Build graph", graph::section(&page)),
        ("filament", "Filament", filament::section(&page)),
        ("costs", "Costs", costs::section(&page)),
        ("masses", "Masses", costs::masses(&page)),
        ("cautions", "Take care", costs::cautions(&page)),
    ]
    .into_iter()
    .filter_map(|(id, title, markup)| Some((id, title, markup?)))
    .collect();
    let body = html! {
        (headline::header(&page))
        nav.contents aria-label="Sections" {
            @for (id, title, _) in &sections { a href={ "#" (id) } { (title) } }
        }
        main {
            @for (id, title, markup) in &sections {
                section id=(id) aria-labelledby={ "h-" (id) } {
                    h2 id={ "h-" (id) } { (title) }
                    (markup)
                }
            }
        }
        script { (PreEscaped(SCRIPT)) }
    };
    document(&page, &scenario.build.name, STYLE, &body)
}

/// A page a day in the order of the work at the bench, then what goes into which assembly.
pub fn day_sheets(scenario: &Scenario, plan: &Plan) -> String {
    let page = Page::new(scenario, plan);
    let title = format!("{}: day sheets", scenario.build.name);
    let style = format!("{STYLE}{SHEET_STYLE}");
    let body = html! {
        header.top { h1 { (title) } p { (sheets::summary(&page)) } }
        main {
            (sheets::days(&page))
            (kits::kits(&page))
        }
    };
    document(&page, &title, &style, &body)
}

fn document(page: &Page, title: &str, style: &str, body: &Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                // An empty picture, or browsers ask for one.
                link rel="icon" href="data:,";
                style { (PreEscaped(style)) }
                (colour::definitions(page.scenario, page.plan))
            }
            body { (body) }
        }
    }
    .into_string()
}
