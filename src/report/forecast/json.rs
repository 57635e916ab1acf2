//! Forecasts for other programs.
//!
//! Knows: the keys and units that other programs may rely on, version 1. Must not know: how the figures were come by.
//! Promises: these keys in this order; figures that are not known are `null`; masses in g, lengths in mm, hours in h.

use serde::Serialize;

use crate::forecast::{Analogy, Figures, Forecast, Size};
use crate::routes::PartRoutes;
use crate::scenario::Scenario;
use crate::units::Millimetres;

use super::unplanned;
use crate::report::json::{CostFile, cost, decimals};
use crate::report::local::Local;
use crate::report::money::Shown;

/// The format's version; another number means that a key went or changed its meaning.
const VERSION: u32 = 1;

#[derive(Serialize)]
struct File<'a> {
    version: u32,
    build: &'a str,
    currency: &'a str,
    forecasts: Vec<Row<'a>>,
}

#[derive(Serialize)]
struct Row<'a> {
    scale: f64,
    settings: Option<&'a str>,
    size: Option<[f64; 3]>,
    largest_part: Option<Largest<'a>>,
    parts: usize,
    taken_as_is: usize,
    unmeasured: usize,
    only_in_lengths: Vec<&'a str>,
    only_on_belt: Vec<&'a str>,
    fit_nowhere: Vec<Nowhere<'a>>,
    spans: usize,
    sagging: Vec<&'a str>,
    solid_g: Option<f64>,
    analogies: Vec<AnalogyFile<'a>>,
    unplanned: Option<&'a str>,
    figures: Option<FiguresFile<'a>>,
}

#[derive(Serialize)]
struct Largest<'a> {
    part: &'a str,
    size: [f64; 3],
}

#[derive(Serialize)]
struct Nowhere<'a> {
    part: &'a str,
    refusals: Vec<Refusal<'a>>,
}

#[derive(Serialize)]
struct Refusal<'a> {
    machine: &'a str,
    why: &'a str,
}

#[derive(Serialize)]
struct AnalogyFile<'a> {
    name: &'a str,
    share: f64,
    by_share_g: f64,
    by_surface_g: f64,
}

#[derive(Serialize)]
struct FiguresFile<'a> {
    mass_g: f64,
    stages: Vec<Mass<'a>>,
    heaviest_lift: Option<Mass<'a>>,
    filaments: Vec<Filament<'a>>,
    pieces: usize,
    machine_hours: f64,
    bench_hours: f64,
    cost: CostFile,
    finish: String,
    stages_late: usize,
}

#[derive(Serialize)]
struct Mass<'a> {
    assembly: &'a str,
    mass_g: f64,
}

#[derive(Serialize)]
struct Filament<'a> {
    filament: &'a str,
    grams: f64,
    spools: u32,
    order: u32,
}

/// Forecasts as JSON, indented, ending with a line break.
pub fn forecast_json(forecasts: &[Forecast]) -> String {
    let first = forecasts.first().map(|f| &f.scenario);
    let file = File {
        version: VERSION,
        build: first.map_or("", |scenario| &scenario.build.name),
        currency: first.map_or("", |scenario| &scenario.currency),
        forecasts: forecasts.iter().map(row).collect(),
    };
    let mut text = serde_json::to_string_pretty(&file)
        .expect("text, numbers and lists with text for keys: none of them fails to be written");
    text.push('\n');
    text
}

fn row(forecast: &Forecast) -> Row<'_> {
    let scenario = &forecast.scenario;
    let id = |part: &crate::scenario::PartIndex| scenario.parts[part.0].id.as_str();
    let (size, largest_part) = match forecast.size {
        Size::Whole(size) => (Some(mm(size)), None),
        Size::LargestPart(part) => {
            let size = mm(scenario.parts[part.0].size);
            (
                None,
                Some(Largest {
                    part: id(&part),
                    size,
                }),
            )
        }
    };
    let refused = forecast.nowhere.iter().map(|part| &forecast.routes[part.0]);
    Row {
        scale: scenario.build.scale,
        settings: forecast.settings.as_deref(),
        size,
        largest_part,
        parts: scenario.parts.len(),
        taken_as_is: forecast.taken_as_is,
        unmeasured: forecast.unmeasured,
        only_in_lengths: forecast.only_split.iter().map(id).collect(),
        only_on_belt: forecast.only_belt.iter().map(id).collect(),
        fit_nowhere: refused.map(|part| nowhere(scenario, part)).collect(),
        spans: forecast.spans,
        sagging: forecast.sagging.iter().map(id).collect(),
        solid_g: forecast.solid.map(|grams| decimals(grams.0, 1)),
        analogies: forecast.analogies.iter().map(analogy).collect(),
        unplanned: forecast.figures.as_ref().err().copied().map(unplanned),
        figures: forecast.figures.as_ref().ok().map(|f| figures(scenario, f)),
    }
}

fn nowhere<'a>(scenario: &'a Scenario, part: &'a PartRoutes) -> Nowhere<'a> {
    let refusals = part.refusals.iter().map(|refusal| Refusal {
        machine: &scenario.machines[refusal.machine.0].id,
        why: &refusal.reason,
    });
    Nowhere {
        part: &scenario.parts[part.part.0].id,
        refusals: refusals.collect(),
    }
}

fn analogy(analogy: &Analogy) -> AnalogyFile<'_> {
    AnalogyFile {
        name: &analogy.name,
        share: decimals(analogy.share, 6),
        by_share_g: decimals(analogy.by_share.0, 1),
        by_surface_g: decimals(analogy.by_surface.0, 1),
    }
}

fn figures<'a>(scenario: &Scenario, figures: &'a Figures) -> FiguresFile<'a> {
    let mass = |(assembly, mass): &'a (String, crate::units::Grams)| Mass {
        assembly,
        mass_g: decimals(mass.0, 1),
    };
    FiguresFile {
        mass_g: decimals(figures.mass.0, 1),
        stages: figures.stages.iter().map(mass).collect(),
        heaviest_lift: figures.heaviest.as_ref().map(mass),
        filaments: figures
            .filaments
            .iter()
            .map(|need| Filament {
                filament: &need.filament,
                grams: decimals(need.grams.0, 1),
                spools: need.spools,
                order: need.order,
            })
            .collect(),
        pieces: figures.pieces,
        machine_hours: decimals(figures.machine.hours(), 2),
        bench_hours: decimals(figures.bench.hours(), 2),
        cost: cost(&Shown::new(&figures.cost)),
        finish: Local(scenario.build.zone).rfc3339(figures.finish),
        stages_late: figures.late,
    }
}

fn mm(size: [Millimetres; 3]) -> [f64; 3] {
    size.map(|side| decimals(side.0, 6))
}
