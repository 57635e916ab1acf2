//! What to order by when, and what is enough.
//!
//! Knows: the orders of a plan. Must not know: single spools.
//! Promises: what is to be ordered first stands first, with its price; where more is ordered than is missing, the reason is said.

use crate::plan::{Order, Plan};
use crate::scenario::Scenario;
use crate::units::Grams;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use crate::report::local::{Local, day};
use crate::report::money::Hundredths;
use crate::report::words;

pub(super) fn orders(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let id = |order: &Order| scenario.filaments[order.filament.0].id.as_str();
    let start = Local(scenario.build.zone).date(scenario.build.start);
    let mut wanted: Vec<&Order> = plan.orders.iter().filter(|o| o.spools > 0).collect();
    wanted.sort_by_key(|order| order.order_by);
    let enough: Vec<&str> = plan
        .orders
        .iter()
        .filter(|order| order.spools == 0 && order.grams.0 > 0.0)
        .map(id)
        .collect();

    let mut grid = Grid::new([
        Fit::Upto(20),
        Fit::Number(10),
        Fit::Number(10),
        Fit::Upto(20),
        Fit::Number(12),
    ]);
    let currency = scenario.currency.as_str();
    grid.head(["Filament", "Needed", "On hand", "Order", currency, "By"]);
    let price = |order: &Order| Hundredths::nearest(order.price(scenario));
    for &order in &wanted {
        let spool = scenario.filaments[order.filament.0].spool;
        let by = match order.order_by {
            None => Text::from("–"),
            Some(date) if date < start => {
                Text::from(format!("{}, before start", day(date))).tone(Tone::Mark)
            }
            Some(date) => day(date).into(),
        };
        grid.row([
            Text::from(id(order)).tone(Tone::Strong),
            words::mass(order.grams).into(),
            words::mass(order.on_hand).into(),
            format!(
                "{} of {}",
                words::count(order.spools as usize, "spool", "spools"),
                words::mass(spool)
            )
            .into(),
            price(order).to_string().into(),
            by,
        ]);
    }
    let mut text = grid.render(look, 0);
    if wanted.len() > 1 {
        let all = Hundredths::sum(wanted.iter().map(|order| price(order)));
        let note = format!("Together {}.", words::price(scenario, all));
        text.push_str(&paragraph(look, 0, note));
    }
    let early = |order: &Order| order.spools > 0 && order.order_by.is_some_and(|by| by < start);
    if plan.orders.iter().any(early) {
        text.push_str(&paragraph(look, 0, words::ORDER_BEFORE_THE_START));
    }
    for order in &plan.orders {
        let filament = &scenario.filaments[order.filament.0];
        let missing = (order.grams - order.on_hand).0.max(0.0);
        let more = f64::from(order.spools) - (missing / filament.spool.0).ceil();
        if more >= 1.0 {
            let spools = words::count(more as usize, "spool", "spools");
            let what = if missing > 0.0 {
                format!(
                    "{spools} more than the {} that are missing",
                    words::mass(Grams(missing))
                )
            } else {
                format!("{spools} although no grams are missing")
            };
            let note = format!(
                "{}: {what}: when it goes on, what is left is on machines that print, or does not cover the run with \
                 its margin.",
                filament.id,
            );
            text.push_str(&paragraph(look, 0, note));
        }
    }
    for order in &plan.orders {
        if let Some([low, high]) = order.range.filter(|_| order.grams.0 > 0.0) {
            let note = format!(
                "{}: {} needed, by the measurements {} to {} four times in five.",
                id(order),
                words::mass(order.grams),
                words::mass(low),
                words::mass(high)
            );
            text.push_str(&paragraph(look, 0, note));
        }
    }
    for order in &plan.orders {
        let spares = words::spares(scenario, plan, order.filament);
        if !spares.is_empty() {
            let note = format!("{}: with {}.", id(order), spares.join(", "));
            text.push_str(&paragraph(look, 0, note));
        }
    }
    if !enough.is_empty() {
        let note = format!("Enough on hand: {}.", enough.join(", "));
        text.push_str(&paragraph(look, 0, note));
    }
    if text.is_empty() {
        return text;
    }
    heading(look, "Filament to order") + &text
}
