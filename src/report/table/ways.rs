//! How the long parts are made and why, and the hardware to cut for them.
//!
//! Knows: the routes that a plan uses. Must not know: other routes, dates.
//! Promises: every part that is split, on a belt or at an angle for its length is named with its reason, those that share
//! one in one row, and so is what another kind of machine would make for less; the others are counted.

use std::collections::BTreeMap;

use crate::plan::{Plan, RouteUse};
use crate::routes::RouteKind;
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::words;

/// Columns by which the parts are set in under how they are made.
const INDENT: u16 = 2;

pub(super) fn ways(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let long: Vec<&RouteUse> = plan.routes.iter().filter(|used| used.is_told()).collect();
    let mut text = heading(look, "How the long parts are made");
    if !long.iter().any(|used| used.long) {
        text.push_str(&paragraph(look, 0, "No part is too long for a bed."));
    }
    let mut every_row = columns();
    let groups = groups(scenario, &long);
    for row in groups.values().flatten() {
        every_row.row(row.cells());
    }
    let widths = every_row.widths(look, INDENT);
    for (made, rows) in &groups {
        text.push_str(&paragraph(
            look,
            0,
            Text::from(made.1.as_str()).tone(Tone::Strong),
        ));
        let mut grid = columns();
        for row in rows {
            grid.row(row.cells());
        }
        text.push_str(&grid.render_in(&widths, look, INDENT));
    }
    for line in [others(plan), hardware(scenario, plan)] {
        if !line.is_empty() {
            text.push_str(&paragraph(look, 0, line));
        }
    }
    text
}

fn columns() -> Grid {
    Grid::new([Fit::Upto(32)])
}

/// Parts that are made alike for the same reason.
struct Row<'a> {
    /// How many copies of which.
    parts: Vec<(&'a str, u32)>,
    why: &'a str,
}

impl Row<'_> {
    fn cells(&self) -> [Text; 2] {
        let parts = self.parts.iter();
        let parts: Vec<String> = parts
            .map(|(id, copies)| format!("{copies}×{TIE}{id}"))
            .collect();
        [parts.join(", ").into(), self.why.into()]
    }
}

/// Rows by how their parts are made: in lengths, which are the most work, then on the belt, then on the diagonal.
fn groups<'a>(
    scenario: &'a Scenario,
    long: &[&'a RouteUse],
) -> BTreeMap<(u8, String), Vec<Row<'a>>> {
    let mut groups: BTreeMap<(u8, String), Vec<Row>> = BTreeMap::new();
    for used in long {
        let id = scenario.parts[used.part.0].id.as_str();
        let part = (id, used.quantity);
        let rows = groups.entry(made(scenario, used)).or_default();
        match rows.iter_mut().find(|row| row.why == used.why) {
            // A part that is made so in two ways, straight and turned, is named once.
            Some(row) => match row.parts.iter_mut().find(|known| known.0 == id) {
                Some(known) => known.1 += used.quantity,
                None => row.parts.push(part),
            },
            None => rows.push(Row {
                parts: vec![part],
                why: &used.why,
            }),
        }
    }
    groups
}

/// How a part is made, in words, with the place of these words among the others.
fn made(scenario: &Scenario, used: &RouteUse) -> (u8, String) {
    let machine = &scenario.machines[used.machine.0].id;
    match used.route {
        _ if used.dearer => (4, format!("On {machine}, though dearer there")),
        RouteKind::Split => {
            let lengths = format!("In {}{TIE}lengths on {machine}", used.pieces);
            let joint = used
                .joint
                .map(|joint| format!(", joined by {}", scenario.joints[joint.0].id));
            (0, lengths + &joint.unwrap_or_default())
        }
        RouteKind::Belt => (1, format!("In one piece on {machine}")),
        RouteKind::Diagonal => (2, format!("On the diagonal of {machine}")),
        RouteKind::Whole | RouteKind::Turned => (3, format!("Square to the bed of {machine}")),
    }
}

/// One line on all other parts, which a bed takes in one piece.
fn others(plan: &Plan) -> String {
    let others: Vec<&RouteUse> = plan.routes.iter().filter(|used| !used.is_told()).collect();
    let copies = |wanted: fn(RouteKind) -> bool| -> u32 {
        let of_it = others.iter().filter(|used| wanted(used.route));
        of_it.map(|used| used.quantity).sum()
    };
    let mut parts: Vec<_> = others.iter().map(|used| used.part).collect();
    parts.dedup();
    if parts.is_empty() {
        return String::new();
    }
    let elsewhere: Vec<String> = [
        (copies(|route| route == RouteKind::Belt), "on a belt"),
        (copies(|route| route == RouteKind::Diagonal), "at an angle"),
    ]
    .into_iter()
    .filter(|(copies, _)| *copies > 0)
    .map(|(copies, how)| format!("{copies}{TIE}{how}"))
    .collect();
    let elsewhere = match &elsewhere[..] {
        [] => String::new(),
        some => format!("; of them {} all the same", some.join(" and ")),
    };
    format!(
        "{} ({}) in one piece that a bed takes{elsewhere}.",
        words::count(parts.len(), "other part", "other parts"),
        words::count(copies(|_| true) as usize, "copy", "copies"),
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
