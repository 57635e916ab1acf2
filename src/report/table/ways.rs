//! How the long parts are made and why, and the hardware to cut for them.
//!
//! Knows: the routes that a plan uses. Must not know: other routes, dates.
//! Promises: every part that is split, on the belt or on the diagonal has a row with its reason; the others are counted.

use crate::plan::{Plan, RouteUse};
use crate::routes::RouteKind;
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::words;

pub(super) fn ways(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let mut grid = Grid::new([Fit::Upto(20), Fit::Number(6), Fit::Upto(24)]);
    grid.head(["Part", "Copies", "Made", "Why"]);
    for used in plan.routes.iter().filter(|used| is_long(used)) {
        grid.row([
            Text::from(scenario.parts[used.part.0].id.as_str()).tone(Tone::Strong),
            used.quantity.to_string().into(),
            made(scenario, used),
            used.why.as_str().into(),
        ]);
    }
    let mut text = heading(look, "How the long parts are made");
    if grid.is_empty() {
        text.push_str(&paragraph(
            look,
            0,
            "Every part is printed in one piece, square to the bed.",
        ));
        return text;
    }
    text.push_str(&grid.render(look, 0));
    for line in [others(plan), hardware(scenario, plan)] {
        if !line.is_empty() {
            text.push_str(&paragraph(look, 0, line));
        }
    }
    text
}

fn is_long(used: &RouteUse) -> bool {
    matches!(
        used.route,
        RouteKind::Split | RouteKind::Belt | RouteKind::Diagonal
    )
}

fn made(scenario: &Scenario, used: &RouteUse) -> Text {
    let machine = &scenario.machines[used.machine.0].id;
    match used.route {
        RouteKind::Split => {
            let joint = used.joint.map_or("", |joint| &scenario.joints[joint.0].id);
            Text::lines([
                format!("in {}{TIE}lengths on {machine}", used.pieces),
                joint.to_owned(),
            ])
        }
        RouteKind::Belt => format!("in one piece on {machine}").into(),
        RouteKind::Diagonal => format!("on the diagonal of {machine}").into(),
        RouteKind::Whole => format!("as drawn on {machine}").into(),
        RouteKind::Turned => format!("turned on {machine}").into(),
    }
}

/// One line on all parts that lie square on a bed in one piece.
fn others(plan: &Plan) -> String {
    let square: Vec<&RouteUse> = plan.routes.iter().filter(|used| !is_long(used)).collect();
    let copies: u32 = square.iter().map(|used| used.quantity).sum();
    let mut parts: Vec<_> = square.iter().map(|used| used.part).collect();
    parts.dedup();
    if parts.is_empty() {
        return String::new();
    }
    format!(
        "{} ({}) in one piece, square to the bed.",
        words::count(parts.len(), "other part", "other parts"),
        words::count(copies as usize, "copy", "copies"),
    )
}

/// What is to be cut, by joint.
fn hardware(scenario: &Scenario, plan: &Plan) -> String {
    let cuts: Vec<String> = scenario
        .joints
        .iter()
        .enumerate()
        .filter_map(|(index, joint)| {
            let hardware = joint.hardware.as_ref()?;
            let joints: u32 = plan
                .routes
                .iter()
                .filter(|used| used.joint.is_some_and(|joint| joint.0 == index))
                .map(|used| used.quantity * used.pieces.saturating_sub(1))
                .sum();
            (joints > 0).then(|| {
                format!(
                    "{joints}×{TIE}{}, {:.0}{TIE}mm each",
                    hardware.item, hardware.length.0
                )
            })
        })
        .collect();
    if cuts.is_empty() {
        return String::new();
    }
    format!("Hardware to cut: {}.", cuts.join("; "))
}
