//! What fits where: the table part × machine, then the reasons for what fits nowhere in one piece.
//!
//! Knows: every way to make each part. Must not know: dates, prices, which way a plan will choose.
//! Promises: every part has a row and every machine a column, in blocks where they do not fit beside each other; a part
//! that fits nowhere in one piece is explained machine by machine.

use crate::routes::{PartRoutes, RouteKind, RunLimits, TooLong, Way};
use crate::scenario::{MachineIndex, Part, Scenario, Unmakeable};
use crate::units::Grams;

use super::Look;
use super::grid::{Fit, GUTTER, Grid, TIE, Text, Tone, heading, paragraph};
use super::words;

/// No machine column is wider; longer names are broken.
const MACHINE_COLUMN: u16 = 12;

/// The column of part names is no wider.
const PART_COLUMN: u16 = 24;

/// The column with the number of copies.
const COPIES_COLUMN: u16 = 6;

/// How well a part fits a machine, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Fitting {
    Whole,
    Turned,
    Diagonal,
    Belt,
    Split(u32),
    /// It fits, and no bench hours hold the run or its setup.
    NoTime,
    Not,
}

impl Fitting {
    /// The best that a machine can do for a part; fewest lengths first, then the straightest. Of a form of which some pieces have no time,
    /// there or anywhere, the others are of no use.
    fn of(
        scenario: &Scenario,
        routes: &PartRoutes,
        limits: &RunLimits,
        machine: MachineIndex,
    ) -> Self {
        let belt = scenario.machines[machine.0].is_belt();
        let forms = routes.forms.iter().map(|form| {
            let no_time = limits.too_long_on(routes, form, machine).is_some()
                || limits.too_long_in(routes, form).is_some();
            let here = form.ways.iter().filter(|way| way.machine == machine);
            let here = here.map(|way| match !no_time && limits.holds(way) {
                true => Self::way(form.lengths, way, belt),
                false => Fitting::NoTime,
            });
            here.min().unwrap_or(Fitting::Not)
        });
        forms.min().unwrap_or(Fitting::Not)
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
        let plain = |kind| Text::from(words::route(kind));
        match self {
            Fitting::Whole => plain(RouteKind::Whole),
            Fitting::Turned => plain(RouteKind::Turned),
            Fitting::Diagonal => plain(RouteKind::Diagonal).tone(Tone::Strong),
            Fitting::Belt => plain(RouteKind::Belt).tone(Tone::Strong),
            Fitting::Split(lengths) => {
                let split = words::route(RouteKind::Split);
                Text::from(format!("{split}{TIE}{lengths}")).tone(Tone::Strong)
            }
            Fitting::NoTime => Text::from(format!("no{TIE}time")).tone(Tone::Mark),
            Fitting::Not => Text::from("—").tone(Tone::Quiet),
        }
    }
}

/// That the scenario is sound, what fits where, why not, and how many; `routes` in the order of the scenario's parts.
pub fn check(
    scenario: &Scenario,
    routes: &[PartRoutes],
    limits: &RunLimits,
    look: &Look,
) -> String {
    let impossible = |part: &&PartRoutes| part.forms.is_empty() || limits.too_long(part).is_some();
    let none = routes.iter().filter(impossible).count();
    let verdict = match none {
        0 => "no errors".to_owned(),
        none => format!(
            "no errors, but {} that no machine can make",
            words::count(none, "part", "parts")
        ),
    };
    let title = Text::from(format!("{}: {verdict}", scenario.build.name)).tone(Tone::Strong);
    let mut text = paragraph(look, 0, title) + &heading(look, "What fits where");
    text.push_str(&matrix(scenario, routes, limits, look));
    text.push_str(&reasons(scenario, routes, look));
    text.push_str(&without_time(scenario, routes, limits, look));
    text.push_str(&supported(scenario, routes, look));
    text.push_str(&counts(scenario, routes, limits, look));
    text
}

/// The table, as many machines beside each other as the width allows.
fn matrix(scenario: &Scenario, routes: &[PartRoutes], limits: &RunLimits, look: &Look) -> String {
    let columns: Vec<Vec<Text>> = (0..scenario.machines.len())
        .map(|machine| {
            let fits = routes
                .iter()
                .map(|part| Fitting::of(scenario, part, limits, MachineIndex(machine)));
            let name = Text::from(scenario.machines[machine].id.as_str()).tone(Tone::Quiet);
            std::iter::once(name)
                .chain(fits.map(Fitting::text))
                .collect()
        })
        .collect();
    let names: Vec<[Text; 2]> =
        std::iter::once(["Part".into(), "Copies".into()].map(|name: Text| name.tone(Tone::Quiet)))
            .chain(routes.iter().map(|part| {
                let drawn = &scenario.parts[part.part.0];
                [drawn.id.as_str().into(), drawn.copies().to_string().into()]
            }))
            .collect();
    let left = names
        .iter()
        .map(|[part, _]| part.width())
        .max()
        .unwrap_or(0);
    let room = look
        .columns()
        .saturating_sub(left.min(PART_COLUMN) + GUTTER + COPIES_COLUMN);

    let blocks: Vec<String> = beside(&columns, room)
        .into_iter()
        .map(|block| {
            let mut grid = Grid::new(
                [Fit::Upto(PART_COLUMN), Fit::Number(COPIES_COLUMN)]
                    .into_iter()
                    .chain(block.iter().map(|_| Fit::Upto(MACHINE_COLUMN))),
            );
            for (row, name) in names.iter().enumerate() {
                let cells = block.iter().map(|column| column[row].clone());
                grid.row(name.iter().cloned().chain(cells));
            }
            grid.render(look, 0)
        })
        .collect();
    blocks.join("\n")
}

/// Columns in blocks, each as many as fit into `room`, at least one.
fn beside(columns: &[Vec<Text>], room: u16) -> Vec<&[Vec<Text>]> {
    let mut blocks = Vec::new();
    let (mut first, mut taken) = (0, 0);
    for (index, column) in columns.iter().enumerate() {
        let width = column.iter().map(Text::width).max().unwrap_or(0);
        let width = GUTTER + width.min(MACHINE_COLUMN);
        if index > first && taken + width > room {
            blocks.push(&columns[first..index]);
            (first, taken) = (index, 0);
        }
        taken += width;
    }
    blocks.push(&columns[first..]);
    blocks
}

/// What fits a machine where no bench hours are long enough for it, as it best fits.
fn without_time(
    scenario: &Scenario,
    routes: &[PartRoutes],
    limits: &RunLimits,
    look: &Look,
) -> String {
    let machines = || (0..scenario.machines.len()).map(MachineIndex);
    let best = |part: &PartRoutes, on: MachineIndex| -> Option<TooLong> {
        let mut forms = part.forms.iter();
        let first = forms.find(|form| form.ways.iter().any(|way| way.machine == on))?;
        limits.too_long_on(part, first, on)
    };
    let mut grid = Grid::new([Fit::Upto(PART_COLUMN), Fit::Upto(20)]);
    for part in routes {
        let mut told: Vec<(String, Vec<&str>)> = Vec::new();
        for lacking in machines().filter_map(|on| best(part, on)) {
            let why = words::lacking(&lacking);
            let machine = scenario.machines[lacking.machine.0].id.as_str();
            match told.iter_mut().find(|(known, _)| *known == why) {
                Some((_, machines)) => machines.push(machine),
                None => told.push((why, vec![machine])),
            }
        }
        for (why, machines) in told {
            let id = scenario.parts[part.part.0].id.as_str();
            grid.row([id.into(), machines.join(", ").into(), why.into()]);
        }
    }
    if grid.is_empty() {
        return String::new();
    }
    heading(look, "What bench hours do not hold") + &grid.render(look, 0)
}

/// That no plan exists, for parts that no bench hours are long enough for, and what would help.
pub fn no_time(scenario: &Scenario, parts: &[TooLong]) -> String {
    let told = parts.iter().map(|part| words::too_long(scenario, part));
    let told: Vec<String> = told.collect();
    format!(
        "No plan exists: no bench hours that come about once a month are long enough.\n{}\n\
         Have longer hours on one day of the week, allow `unattended` on a machine where somebody must watch now, or \
         split the part.",
        told.join("\n")
    )
}

/// Parts that need support however they lie, with the least that a copy takes.
fn supported(scenario: &Scenario, routes: &[PartRoutes], look: &Look) -> String {
    let mut text = String::new();
    for part in routes {
        let least = part.least_support().filter(|least| *least > Grams::ZERO);
        if let Some(Grams(grams)) = least {
            let id = &scenario.parts[part.part.0].id;
            let line = format!("{id}: {grams:.1} g of support a copy at least, however it lies");
            text.push_str(&paragraph(look, 0, Text::from(line).tone(Tone::Mark)));
        }
    }
    if text.is_empty() {
        return text;
    }
    heading(look, "What needs support") + &text
}

/// Parts that nothing can make, why not, and what would help, for a complaint about each.
pub fn unmakeable(scenario: &Scenario, routes: &[PartRoutes]) -> Vec<Unmakeable> {
    let impossible = routes.iter().filter(|part| part.forms.is_empty());
    let told = impossible.map(|part| {
        let reasons = reasons_by_machine(scenario, part).into_iter();
        let reasons = reasons.map(|(machines, reason)| format!("{machines}: {reason}"));
        Unmakeable {
            part: part.part,
            size: size(&scenario.parts[part.part.0]),
            lines: reasons.chain(part.remedies.iter().cloned()).collect(),
        }
    });
    told.collect()
}

/// A part's box, whole millimetres.
fn size(part: &Part) -> String {
    let sides = part.size.map(|side| format!("{:.0}", side.0));
    format!("{} mm", sides.join(" × "))
}

/// Why machines refuse a part; neighbours that do so for the same reason together.
fn reasons_by_machine<'p>(scenario: &Scenario, part: &'p PartRoutes) -> Vec<(String, &'p str)> {
    let alike = part.refusals.chunk_by(|a, b| a.reason == b.reason);
    let told = alike.map(|alike| {
        let machines = alike.iter();
        let machines = machines.map(|refusal| scenario.machines[refusal.machine.0].id.as_str());
        let machines: Vec<&str> = machines.collect();
        (machines.join(", "), alike[0].reason.as_str()) // no chunk is empty
    });
    told.collect()
}

/// Why a part fits nowhere in one piece, what is done instead, and what would help.
fn reasons(scenario: &Scenario, routes: &[PartRoutes], look: &Look) -> String {
    let nowhere_whole = |part: &&PartRoutes| !part.forms.iter().any(|form| form.lengths == 1);
    let mut parts: Vec<&PartRoutes> = routes.iter().filter(nowhere_whole).collect();
    // What cannot be made at all stands first: the user has to act on it.
    parts.sort_by_key(|part| !part.forms.is_empty());
    if parts.is_empty() {
        return String::new();
    }
    heading(look, "What fits nowhere in one piece") + &explained(scenario, &parts, look)
}

pub(super) fn explained(scenario: &Scenario, parts: &[&PartRoutes], look: &Look) -> String {
    let mut text = String::new();
    for (number, part) in parts.iter().enumerate() {
        let drawn = &scenario.parts[part.part.0];
        if number > 0 {
            text.push('\n');
        }
        let (instead, tone) = match part.forms.first() {
            None => ("cannot be made".to_owned(), Tone::Mark),
            Some(form) => (format!("made in {} lengths", form.lengths), Tone::Strong),
        };
        let title = format!("{} ({}): {instead}", drawn.id, size(drawn));
        text.push_str(&paragraph(look, 0, Text::from(title).tone(tone)));
        let mut grid = Grid::new([Fit::Upto(20)]);
        for (machines, reason) in reasons_by_machine(scenario, part) {
            grid.row([machines.into(), reason.into()]);
        }
        for remedy in &part.remedies {
            grid.row([Text::from("→"), remedy.as_str().into()]);
        }
        text.push_str(&grid.render(look, 2));
    }
    text
}

/// How many parts and copies are at best made in which way.
fn counts(scenario: &Scenario, routes: &[PartRoutes], limits: &RunLimits, look: &Look) -> String {
    let machines = scenario.machines.len();
    let best = |part: &PartRoutes| {
        (0..machines)
            .map(|machine| Fitting::of(scenario, part, limits, MachineIndex(machine)))
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
        (
            of(|fit| fit == Fitting::NoTime),
            "for which no bench hours are long enough",
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
