//! What there is, for who asks for everything: machines and spools, parts, assemblies, what is to be ordered and joined.
//!
//! Knows: a [`Tally`], the build's zone. Must not know: the log, what a screen holds.
//! Promises: every machine, spool, part and assembly has a row.

use chrono::NaiveDate;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, Text, Tone, heading};
use crate::report::local::{Local, day};
use crate::report::words;
use crate::shoplog::{PartTally, SpoolTally, Stand, Tally, TrialTally};
use crate::units::Grams;

/// All of it; `today` is the day from which moments are seen.
pub(super) fn tally(tally: &Tally, local: Local, today: NaiveDate, look: &Look) -> String {
    let mut text = section(look, "In the machines", machines(tally));
    text.push_str(&section(look, "Spools", spools(tally, local, today)));
    text.push_str(&section(look, "To order", orders(tally)));
    text.push_str(&section(look, "To join", gluings(tally, local)));
    text.push_str(&section(look, "Parts", parts(tally, local)));
    text.push_str(&section(look, "Assemblies", assemblies(tally, local)));
    text
}

fn section(look: &Look, title: &str, grid: Grid) -> String {
    match grid.is_empty() {
        true => String::new(),
        false => heading(look, title) + &grid.render(look, 0),
    }
}

fn strong(name: &str) -> Text {
    Text::from(name).tone(Tone::Strong)
}

fn machines(tally: &Tally) -> Grid {
    let mut grid = Grid::new([Fit::Upto(16)]);
    for one in &tally.machines {
        let what = match (&one.loaded, &one.spool) {
            (Some(filament), Some(spool)) => Text::from(format!("{filament}, spool {spool}")),
            (Some(filament), None) => Text::from(filament.clone()),
            (None, _) => Text::from("nothing").tone(Tone::Quiet),
        };
        let runs = match one.runs {
            0 => String::new(),
            runs => format!(
                "{} of {} failed",
                // To the tenth, since of a run that failed in part its share counts.
                (one.failed * 10.0).round() / 10.0,
                words::count(runs as usize, "run", "runs")
            ),
        };
        let share = one.share.map_or_else(String::new, |share| {
            format!("{:.1} % will", (share * 1e3).round() / 10.0)
        });
        grid.row([
            strong(&one.machine),
            what,
            Text::from(runs),
            Text::from(share),
        ]);
    }
    grid
}

fn spools(tally: &Tally, local: Local, today: NaiveDate) -> Grid {
    let mut grid = Grid::new([Fit::Upto(20), Fit::Upto(20), Fit::Number(12)]);
    for one in &tally.spools {
        let SpoolTally {
            spool,
            filament,
            grams,
            machine,
            arrives,
        } = one;
        let place = match (arrives, machine) {
            (Some(at), _) => format!("comes {}", local.seen_from(today, *at)),
            (None, Some(machine)) => format!("on {machine}"),
            (None, None) => String::new(),
        };
        let left = match *grams >= 0.5 {
            true => words::mass(Grams(*grams)),
            false => "empty".to_owned(),
        };
        grid.row([
            strong(spool),
            filament.as_str().into(),
            left.into(),
            place.into(),
        ]);
    }
    grid
}

fn orders(tally: &Tally) -> Grid {
    let mut grid = Grid::new([Fit::Upto(20), Fit::Number(12)]);
    for order in &tally.orders {
        let by = order.order_by.map(|by| format!("by {}", day(by)));
        grid.row([
            strong(&order.filament),
            words::count(order.spools as usize, "spool", "spools").into(),
            by.unwrap_or_default().into(),
        ]);
    }
    grid
}

fn gluings(tally: &Tally, local: Local) -> Grid {
    let mut grid = Grid::new([Fit::Upto(24)]);
    for one in &tally.gluings {
        let planned = one.planned.map(|at| format!("planned {}", local.full(at)));
        grid.row([
            strong(&format!("{}:{}", one.part, one.number)),
            planned.unwrap_or_default().into(),
        ]);
    }
    grid
}

fn parts(tally: &Tally, local: Local) -> Grid {
    let number = Fit::Number(8);
    let mut grid = Grid::new([Fit::Upto(24), number, number, number, number]);
    grid.head(["Part", "Needed", "Printed", "Joined", "Lost", ""]);
    for part in &tally.parts {
        let count = |n: u32| match n {
            0 => Text::from("–").tone(Tone::Quiet),
            n => Text::from(n.to_string()),
        };
        grid.row([
            strong(&part.part),
            part.needed.to_string().into(),
            count(part.printed),
            count(part.joined),
            count(part.lost),
            besides(part, local).into(),
        ]);
    }
    grid
}

/// What else there is to say of a part: lengths of copies that are not whole, its trial.
fn besides(part: &PartTally, local: Local) -> String {
    let mut all = Vec::new();
    if part.pieces > 0 && part.pieces != part.printed {
        all.push(words::count(part.pieces as usize, "piece", "pieces"));
    }
    if let Some(trial) = &part.trial {
        let TrialTally {
            approved,
            variants,
            variant,
            rejected,
        } = trial;
        let names = if variants.len() > 1 {
            format!(": {}", variants.join(" or "))
        } else {
            String::new()
        };
        all.push(match (approved, variant) {
            (Some(at), Some(variant)) => format!("{variant} chosen {}", local.full(*at)),
            (Some(at), None) if names.is_empty() => format!("trial approved {}", local.full(*at)),
            (Some(at), None) => {
                format!("trial approved {}, not said which{names}", local.full(*at))
            }
            (None, _) => format!("trial open{names}"),
        });
        if *rejected > 0 {
            let copies = words::count(*rejected as usize, "trial copy", "trial copies");
            all.push(format!("{copies} rejected"));
        }
    }
    all.join(", ")
}

fn assemblies(tally: &Tally, local: Local) -> Grid {
    let moment = Fit::Upto(20);
    let mut grid = Grid::new([Fit::Upto(24), Fit::Upto(8), moment, moment]);
    grid.head(["Assembly", "", "Since", "Expected", "Due"]);
    for one in &tally.assemblies {
        let (is, since, expected) = match one.stand {
            Stand::Open => ("open", None, one.expected),
            Stand::AtWork => ("at work", one.started, one.expected),
            Stand::Complete => ("complete", one.complete, None),
        };
        let moments = [since, expected, one.due].map(|at| match at {
            Some(at) => Text::from(local.full(at)),
            None => Text::from("–").tone(Tone::Quiet),
        });
        grid.row(
            [strong(&one.assembly), is.into()]
                .into_iter()
                .chain(moments),
        );
    }
    grid
}
