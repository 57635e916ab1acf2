//! What fits where: the table part × machine, then the reasons for what fits nowhere in one piece.
//!
//! Knows: every way to make each part. Must not know: dates, prices, which way a plan will choose.
//! Promises: every part has a row and every machine a column, in blocks where they do not fit beside each other; a part
//! that fits nowhere in one piece is explained machine by machine.

use crate::routes::{PartRoutes, RouteKind, Way};
use crate::scenario::{MachineIndex, Scenario};

use super::Look;
use super::grid::{Fit, Grid, Text, Tone, heading, paragraph};
use super::words;

/// No machine column is wider; longer names are broken.
const MACHINE_COLUMN: u16 = 12;

/// The column of part names.
const PART_COLUMN: u16 = 24;

/// How well a part fits a machine, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Fitting {
    Whole,
    Turned,
    Diagonal,
    Belt,
    Split(u32),
    Not,
}

impl Fitting {
    /// The best that a machine can do for a part; fewest lengths first, then the straightest.
    fn of(scenario: &Scenario, routes: &PartRoutes, machine: MachineIndex) -> Self {
        let belt = scenario.machines[machine.0].is_belt();
        routes
            .forms
            .iter()
            .flat_map(|form| form.ways.iter().map(|way| (form.lengths, way)))
            .filter(|(_, way)| way.machine == machine)
            .map(|(lengths, way)| Self::way(lengths, way, belt))
            .min()
            .unwrap_or(Fitting::Not)
    }

    fn way(lengths: u32, way: &Way, belt: bool) -> Self {
        if lengths > 1 {
            Fitting::Split(lengths)
        } else if belt {
            Fitting::Belt
        } else if way.straight {
            Fitting::Whole
        } else if way.turned {
            Fitting::Turned
        } else {
            Fitting::Diagonal
        }
    }

    fn text(self) -> Text {
        match self {
            Fitting::Whole => words::route(RouteKind::Whole).into(),
            Fitting::Turned => words::route(RouteKind::Turned).into(),
            Fitting::Diagonal => words::route(RouteKind::Diagonal).into(),
            Fitting::Belt => words::route(RouteKind::Belt).into(),
            Fitting::Split(lengths) => {
                format!("{} {lengths}", words::route(RouteKind::Split)).into()
            }
            Fitting::Not => Text::from("—").tone(Tone::Quiet),
        }
    }
}

/// What fits where, why not, and how many; `routes` in the order of the scenario's parts.
pub fn check(scenario: &Scenario, routes: &[PartRoutes], look: &Look) -> String {
    let mut text = heading(look, "What fits where");
    text.push_str(&matrix(scenario, routes, look));
    text.push_str(&reasons(scenario, routes, look));
    text.push_str(&counts(scenario, routes, look));
    text
}

/// The table, as many machines beside each other as the width allows.
fn matrix(scenario: &Scenario, routes: &[PartRoutes], look: &Look) -> String {
    let machines: Vec<MachineIndex> = (0..scenario.machines.len()).map(MachineIndex).collect();
    // A column and its gutter, beside the part's name and the number of copies.
    let room = look.columns().saturating_sub(PART_COLUMN + 2 + 6 + 2) / (MACHINE_COLUMN + 2);
    let blocks: Vec<&[MachineIndex]> = machines.chunks(usize::from(room.max(1))).collect();
    let mut text = String::new();
    for (number, block) in blocks.iter().enumerate() {
        let mut grid = Grid::new(
            [Fit::Upto(PART_COLUMN), Fit::Number(6)]
                .into_iter()
                .chain(block.iter().map(|_| Fit::Upto(MACHINE_COLUMN))),
        );
        grid.head(
            ["Part", "Copies"].into_iter().chain(
                block
                    .iter()
                    .map(|machine| scenario.machines[machine.0].id.as_str()),
            ),
        );
        for part in routes {
            let Some(drawn) = scenario.parts.get(part.part.0) else {
                continue;
            };
            let fits = block
                .iter()
                .map(|&machine| Fitting::of(scenario, part, machine).text());
            grid.row(
                [
                    Text::from(drawn.id.as_str()).tone(Tone::Strong),
                    drawn.copies().to_string().into(),
                ]
                .into_iter()
                .chain(fits),
            );
        }
        if number > 0 {
            text.push('\n');
        }
        text.push_str(&grid.render(look, 0));
    }
    text
}

/// Why a part fits nowhere in one piece, what is done instead, and what would help.
fn reasons(scenario: &Scenario, routes: &[PartRoutes], look: &Look) -> String {
    let nowhere_whole = |part: &&PartRoutes| !part.forms.iter().any(|form| form.lengths == 1);
    let mut explained: Vec<&PartRoutes> = routes.iter().filter(nowhere_whole).collect();
    // What cannot be made at all stands first: the user has to act on it.
    explained.sort_by_key(|part| !part.forms.is_empty());
    if explained.is_empty() {
        return String::new();
    }
    let mut text = heading(look, "What fits nowhere in one piece");
    for (number, part) in explained.into_iter().enumerate() {
        let Some(drawn) = scenario.parts.get(part.part.0) else {
            continue;
        };
        if number > 0 {
            text.push('\n');
        }
        let size = drawn.size.map(|side| format!("{:.0}", side.0)).join(" × ");
        let (instead, tone) = match part.forms.first() {
            None => ("cannot be made".to_owned(), Tone::Mark),
            Some(form) => (format!("made in {} lengths", form.lengths), Tone::Strong),
        };
        let title = format!("{} ({size} mm): {instead}", drawn.id);
        text.push_str(&paragraph(look, 0, Text::from(title).tone(tone)));
        let mut grid = Grid::new([Fit::Upto(20)]);
        for refusal in &part.refusals {
            grid.row([
                scenario.machines[refusal.machine.0].id.as_str().into(),
                refusal.reason.as_str().into(),
            ]);
        }
        for remedy in &part.remedies {
            grid.row([Text::from("→"), remedy.as_str().into()]);
        }
        text.push_str(&grid.render(look, 2));
    }
    text
}

/// How many parts and copies are at best made in which way.
fn counts(scenario: &Scenario, routes: &[PartRoutes], look: &Look) -> String {
    let machines = scenario.machines.len();
    let best = |part: &PartRoutes| {
        (0..machines)
            .map(|machine| Fitting::of(scenario, part, MachineIndex(machine)))
            .min()
            .unwrap_or(Fitting::Not)
    };
    let of = |kind: fn(Fitting) -> bool| routes.iter().filter(|part| kind(best(part))).count();
    let tally = [
        (
            of(|fit| matches!(fit, Fitting::Whole | Fitting::Turned)),
            "square to a bed",
        ),
        (
            of(|fit| fit == Fitting::Diagonal),
            "at best on the diagonal",
        ),
        (
            of(|fit| fit == Fitting::Belt),
            "in one piece only on the belt",
        ),
        (
            of(|fit| matches!(fit, Fitting::Split(_))),
            "only in lengths",
        ),
        (of(|fit| fit == Fitting::Not), "not at all"),
    ];
    let copies: u64 = scenario
        .parts
        .iter()
        .map(|part| u64::from(part.copies()))
        .sum();
    let told: Vec<String> = tally
        .iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, how)| format!("{number} {how}"))
        .collect();
    let line = format!(
        "{}, {}: {}.",
        words::count(routes.len(), "part", "parts"),
        words::count(
            usize::try_from(copies).unwrap_or(usize::MAX),
            "copy",
            "copies"
        ),
        told.join(", ")
    );
    format!("\n{}", paragraph(look, 0, line))
}
