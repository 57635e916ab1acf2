//! Forecasts beside each other as text.
//!
//! Knows: which figures there are, in which order. Must not know: how wide text is (`grid`).
//! Promises: a row for each figure, a column for each forecast, in blocks where they do not fit beside each other.

use crate::forecast::{Figures, Forecast, Size};
use crate::plan::Cost;
use crate::routes::PartRoutes;
use crate::scenario::Scenario;
use crate::units::{Grams, Millimetres, Minutes};

use super::{name, unplanned};
use crate::report::Look;
use crate::report::check::explained;
use crate::report::grid::{Fit, GUTTER, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::local::{Local, day_and_year};
use crate::report::money::Shown;
use crate::report::words;

/// The column of labels is no wider.
const LABELS: u16 = 20;
/// A column of figures is no wider, and a block has as many as fit with so much each.
const FIGURES: u16 = 26;
const NARROWEST: u16 = 17;

/// Forecasts beside each other; there is at least one, all of one build.
pub fn forecast_table(forecasts: &[Forecast], look: &Look) -> String {
    let Some(first) = forecasts.first() else {
        return String::new();
    };
    let title = format!("{}: what it takes", first.scenario.build.name);
    let mut text = paragraph(look, 0, Text::from(title).tone(Tone::Strong));
    let room = look.columns().saturating_sub(LABELS);
    let beside = usize::from((room / (NARROWEST + GUTTER)).max(1));
    let even = forecasts.len().div_ceil(forecasts.len().div_ceil(beside));
    for block in forecasts.chunks(even) {
        text.push('\n');
        text.push_str(&columns(block, look));
    }
    text.push('\n');
    text.push_str(&notes(forecasts, look));
    text.push_str(&nowhere(forecasts, look));
    text
}

/// A label and a cell for each forecast.
type Row = (String, Vec<Text>);

fn columns(forecasts: &[Forecast], look: &Look) -> String {
    let mut rows: Vec<Row> = Vec::new();
    let mut row = |label: &str, cell: &dyn Fn(&Forecast) -> Text| {
        rows.push((label.to_owned(), forecasts.iter().map(cell).collect()));
    };
    row("Overall size", &size);
    row("Fit no machine", &|f| {
        let count = f.nowhere.len();
        let tone = if count > 0 { Tone::Mark } else { Tone::Plain };
        Text::from(of_parts(f, count)).tone(tone)
    });
    row("Only in lengths", &|f| {
        of_parts(f, f.only_split.len()).into()
    });
    row("Whole only on belt", &|f| {
        of_parts(f, f.only_belt.len()).into()
    });
    row("Pieces", &|f| figure(f, |n| n.pieces.to_string()));
    row("Mass", &|f| {
        figure(f, |n| words::mass(n.mass)).tone(Tone::Strong)
    });
    if forecasts.iter().any(|f| f.solid.is_some()) {
        row("  were it solid", &|f| optional(f.solid.map(words::mass)));
    }
    for at in 0..longest(forecasts, |f| f.analogies.len()) {
        let label = forecasts[0].analogies.get(at).map_or("", |a| &a.name);
        row(&format!("  as {label}"), &|f| {
            optional(f.analogies.get(at).map(|a| {
                let (low, high) = in_order(a.by_surface, a.by_share);
                between(low, high)
            }))
        });
    }
    row("Heaviest lift", &|f| {
        let Ok(figures) = &f.figures else {
            return Text::from("—");
        };
        match &figures.heaviest {
            Some((id, mass)) => Text::lines([words::mass(*mass), id.clone()]),
            None => "—".into(),
        }
    });
    if longest(forecasts, |f| f.spans) > 0 {
        row("Spans that sag", &|f| {
            let (count, of) = (f.sagging.len(), words::count(f.spans, "span", "spans"));
            Text::from(format!("{count} of {of}"))
        });
    }
    let stages = stages(&forecasts[0].scenario);
    for (at, stage) in stages.iter().enumerate() {
        let label = if at == 0 { "Mass of stages" } else { "" };
        if at == 0 {
            row(label, &|_| Text::default());
        }
        row(&format!("  {stage}"), &|f| {
            figure(f, |n| {
                n.stages
                    .get(at)
                    .map_or_else(String::new, |s| words::mass(s.1))
            })
        });
    }
    row("Filament", &|f| {
        figure(f, |n| {
            words::mass(n.filaments.iter().map(|f| f.grams).sum())
        })
    });
    for (at, filament) in forecasts[0].scenario.filaments.iter().enumerate() {
        row(&format!("  {}", filament.id), &|f| {
            figure(f, |n| {
                n.filaments.get(at).map_or_else(String::new, |need| {
                    let spools = usize::try_from(need.spools).unwrap_or(usize::MAX);
                    let spools = words::count(spools, "spool", "spools");
                    format!("{}, {spools}", words::mass(need.grams))
                })
            })
        });
    }
    row("Printing", &|f| figure(f, |n| hours(n.machine)));
    row("At the bench", &|f| figure(f, |n| hours(n.bench)));
    let currency = &forecasts[0].scenario.currency;
    row(&format!("Cost, {currency}"), &|f| {
        figure(f, |n| Shown::new(&n.cost).total().to_string()).tone(Tone::Strong)
    });
    for (at, (part, _)) in Shown::new(&Cost::default()).parts().iter().enumerate() {
        row(&format!("  {part}"), &|f| {
            figure(f, |n| Shown::new(&n.cost).parts()[at].1.to_string())
        });
    }
    row("Complete", &|f| {
        let local = Local(f.scenario.build.zone);
        figure(f, |n| {
            let days = (n.finish - f.scenario.build.start).num_minutes() as f64 / 1440.0;
            format!(
                "{}, after {}",
                day_and_year(local.date(n.finish)).replace(' ', &TIE.to_string()),
                words::days(days)
            )
        })
    });
    if !stages.is_empty() {
        row("Stages late", &|f| {
            figure(f, |n| format!("{} of {}", n.late, stages.len()))
        });
    }
    drawn(forecasts, rows, look)
}

fn drawn(forecasts: &[Forecast], rows: Vec<Row>, look: &Look) -> String {
    // Beside each other the columns share what the labels leave; the last takes the rest anyway.
    let count = u16::try_from(forecasts.len()).unwrap_or(u16::MAX);
    let labels = rows
        .iter()
        .map(|(label, _)| Text::from(label.as_str()).width());
    let labels = labels.max().unwrap_or(0).min(LABELS);
    let share = look.columns().saturating_sub(labels) / count.max(1);
    let width = share.saturating_sub(GUTTER).clamp(1, FIGURES);
    let mut grid = Grid::new(
        std::iter::once(Fit::Upto(LABELS))
            .chain(forecasts.iter().skip(1).map(|_| Fit::Upto(width))),
    );
    grid.row(
        std::iter::once(Text::from("")).chain(forecasts.iter().map(|f| {
            let partly = if f.nowhere.is_empty() { "" } else { " *" };
            Text::from(format!("{}{partly}", name(f))).tone(Tone::Strong)
        })),
    );
    for (label, cells) in rows {
        // The grid trims no blanks inside a cell, so a label may be set in.
        let label = Text::from(label.replace("  ", &format!("{TIE}{TIE}"))).tone(Tone::Quiet);
        grid.row(std::iter::once(label).chain(cells));
    }
    grid.render(look, 0)
}

fn size(forecast: &Forecast) -> Text {
    match forecast.size {
        Size::Whole(size) => sides(size).into(),
        Size::LargestPart(part) => {
            let part = &forecast.scenario.parts[part.0];
            Text::lines([
                "not known; largest part".to_owned(),
                part.id.clone(),
                sides(part.size),
            ])
        }
    }
}

/// `2640 × 1290 × 3000 mm`.
fn sides(size: [Millimetres; 3]) -> String {
    let sides = size.map(|side| format!("{:.0}", side.0));
    format!("{}{TIE}mm", sides.join(&format!("{TIE}× ")))
}

fn of_parts(forecast: &Forecast, count: usize) -> String {
    format!(
        "{count} of {}",
        words::count(forecast.scenario.parts.len(), "part", "parts")
    )
}

fn figure(forecast: &Forecast, shown: impl Fn(&Figures) -> String) -> Text {
    match &forecast.figures {
        Ok(figures) => shown(figures).into(),
        Err(_) => "—".into(),
    }
}

fn optional(shown: Option<String>) -> Text {
    shown.unwrap_or_else(|| "—".to_owned()).into()
}

fn hours(minutes: Minutes) -> String {
    format!("{:.0}{TIE}h", minutes.hours())
}

fn in_order(a: Grams, b: Grams) -> (Grams, Grams) {
    if a <= b { (a, b) } else { (b, a) }
}

/// `41.1 to 42.7 kg`; one figure where both read the same.
fn between(low: Grams, high: Grams) -> String {
    let (low, high) = (words::mass(low), words::mass(high));
    if low == high {
        low
    } else {
        format!("{low} to {high}")
    }
}

fn longest(forecasts: &[Forecast], count: impl Fn(&Forecast) -> usize) -> usize {
    forecasts.iter().map(count).max().unwrap_or(0)
}

/// Names of the stages.
pub(super) fn stages(scenario: &Scenario) -> Vec<&str> {
    let stages = scenario.assemblies.iter().filter(|a| a.due.is_some());
    stages.map(|stage| stage.id.as_str()).collect()
}

/// What has to be known to read the figures.
fn notes(forecasts: &[Forecast], look: &Look) -> String {
    let mut notes = Vec::new();
    if forecasts.iter().any(|f| !f.nowhere.is_empty()) {
        notes.push(
            "* Of what fits only: parts that fit no machine are left out of pieces, mass, filament, hours, cost and date. They \
             are named below."
                .to_owned(),
        );
    }
    for f in forecasts {
        if let Err(why) = f.figures {
            notes.push(format!("{}: no plan; {}.", name(f), unplanned(why)));
        }
    }
    let first = &forecasts[0]; // there is one, or there were no notes to write
    if first.taken_as_is > 0 {
        notes.push(format!(
            "{} of {} do not scale: their `size` is taken as it is.",
            first.taken_as_is,
            words::count(first.scenario.parts.len(), "part", "parts")
        ));
    }
    let unmeasured = longest(forecasts, |f| f.unmeasured);
    if unmeasured > 0 {
        notes.push(format!(
            "{} measured at the scenario's own scale and settings: at others estimated instead.",
            words::count(unmeasured, "part was", "parts were"),
        ));
    }
    notes.push(
        "Mass: pieces, hardware and glue, without spares. Filament: spares and colour changes too, and how many new spools \
         that fills."
            .to_owned(),
    );
    if longest(forecasts, |f| f.spans) > 0 {
        notes.push(
            "Spans that sag: as printed, by more than they may; loads are those of the scenario at any scale. `check` says what \
             helps."
                .to_owned(),
        );
    }
    if forecasts.iter().any(|f| f.solid.is_some()) {
        notes.push(
            "Were it solid: the original's mass times the cube of the scale. A print is hollow and weighs less.".to_owned(),
        );
    }
    if forecasts.iter().any(|f| !f.analogies.is_empty()) {
        notes.push(
            "As an earlier build: by its printed mass, once as growing with the surface (walls as thick as there) and once \
             with the volume (filled as much as there)."
                .to_owned(),
        );
    }
    notes.push(
        "Hours, cost and the date are those of a quick plan, checked by every rule; `plan` searches longer and finds \
         cheaper ones."
            .to_owned(),
    );
    let lines = notes.into_iter().map(|note| paragraph(look, 0, note));
    lines.collect()
}

/// Which parts fit no machine, by how much, and what would help.
fn nowhere(forecasts: &[Forecast], look: &Look) -> String {
    let mut text = String::new();
    for f in forecasts.iter().filter(|f| !f.nowhere.is_empty()) {
        let parts: Vec<&PartRoutes> = f.nowhere.iter().map(|part| &f.routes[part.0]).collect();
        text.push_str(&heading(
            look,
            &format!("What fits no machine at {}", name(f)),
        ));
        text.push_str(&explained(&f.scenario, &parts, look));
    }
    text
}
