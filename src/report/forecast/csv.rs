//! Forecasts for a spreadsheet: one row a forecast.
//!
//! Knows: CSV, and what a spreadsheet takes for a formula. Must not know: how the figures were come by.
//! Promises: the same columns in every row; what is not known is empty; figures of what fits only are marked in a column.

use crate::forecast::{Figures, Forecast, Size};
use crate::plan::Cost;

use super::table::stages;
use crate::report::csv::{guarded, written};
use crate::report::local::Local;
use crate::report::money::Shown;

/// Forecasts as CSV with CRLF line ends. Masses in g, lengths in mm, hours in h; after the columns that every build has
/// those of its analogies, stages (`mass:boom`) and filaments (`grams:yellow`, `spools:yellow`, `order:yellow`).
pub fn forecast_csv(forecasts: &[Forecast]) -> String {
    let Some(first) = forecasts.first() else {
        return String::new();
    };
    let rows = forecasts.iter().map(row);
    written(std::iter::once(heading(first)).chain(rows))
}

fn heading(forecast: &Forecast) -> Vec<String> {
    const FIXED: [&str; 26] = [
        "scale",
        "settings",
        "size_x",
        "size_y",
        "size_z",
        "largest_part",
        "parts",
        "taken_as_is",
        "unmeasured",
        "only_in_lengths",
        "only_on_belt",
        "fit_nowhere",
        "of_what_fits_only",
        "spans",
        "sagging",
        "solid_g",
        "finish",
        "stages_late",
        "pieces",
        "mass_g",
        "heaviest_lift",
        "heaviest_lift_g",
        "machine_hours",
        "bench_hours",
        "currency",
        "cost",
    ];
    let scenario = &forecast.scenario;
    let mut names: Vec<String> = FIXED.map(str::to_owned).to_vec();
    let parts = Shown::new(&Cost::default()).parts();
    names.extend(parts.iter().map(|(part, _)| format!("cost:{part}")));
    for analogy in &forecast.analogies {
        names.push(guarded(&format!("by_surface_g:{}", analogy.name)));
        names.push(guarded(&format!("by_share_g:{}", analogy.name)));
    }
    names.extend(stages(scenario).iter().map(|id| format!("mass_g:{id}")));
    for filament in &scenario.filaments {
        names.extend(["grams", "spools", "order"].map(|what| format!("{what}:{}", filament.id)));
    }
    names
}

fn row(forecast: &Forecast) -> Vec<String> {
    let scenario = &forecast.scenario;
    let (part, size) = match forecast.size {
        Size::Whole(size) => (String::new(), size),
        Size::LargestPart(part) => {
            let part = &scenario.parts[part.0];
            (guarded(&part.id), part.size)
        }
    };
    let nowhere: Vec<&str> = forecast
        .nowhere
        .iter()
        .map(|part| scenario.parts[part.0].id.as_str())
        .collect();
    let mut cells = vec![
        scenario.build.scale.to_string(),
        guarded(forecast.settings.as_deref().unwrap_or("")),
    ];
    cells.extend(size.map(|side| format!("{:.1}", side.0)));
    cells.extend([
        part,
        scenario.parts.len().to_string(),
        forecast.taken_as_is.to_string(),
        forecast.unmeasured.to_string(),
        forecast.only_split.len().to_string(),
        forecast.only_belt.len().to_string(),
        guarded(&nowhere.join(" ")),
        if nowhere.is_empty() { "no" } else { "yes" }.to_owned(),
        forecast.spans.to_string(),
        forecast.sagging.len().to_string(),
        forecast
            .solid
            .map_or_else(String::new, |g| format!("{:.1}", g.0)),
    ]);
    let shown = |of: &dyn Fn(&Figures) -> String| {
        forecast.figures.as_ref().map_or_else(|_| String::new(), of)
    };
    let local = Local(scenario.build.zone);
    cells.extend([
        shown(&|f| local.rfc3339(f.finish)),
        shown(&|f| f.late.to_string()),
        shown(&|f| f.pieces.to_string()),
        shown(&|f| format!("{:.1}", f.mass.0)),
        shown(&|f| {
            f.heaviest
                .as_ref()
                .map_or_else(String::new, |h| guarded(&h.0))
        }),
        shown(&|f| {
            f.heaviest
                .as_ref()
                .map_or_else(String::new, |h| format!("{:.1}", h.1.0))
        }),
        shown(&|f| format!("{:.2}", f.machine.hours())),
        shown(&|f| format!("{:.2}", f.bench.hours())),
        guarded(&scenario.currency),
        shown(&|f| Shown::new(&f.cost).total().to_string()),
    ]);
    for part in 0..Shown::new(&Cost::default()).parts().len() {
        cells.push(shown(&|f| Shown::new(&f.cost).parts()[part].1.to_string()));
    }
    for analogy in &forecast.analogies {
        cells.push(format!("{:.1}", analogy.by_surface.0));
        cells.push(format!("{:.1}", analogy.by_share.0));
    }
    for stage in 0..stages(scenario).len() {
        cells.push(shown(&|f| {
            f.stages
                .get(stage)
                .map_or_else(String::new, |s| format!("{:.1}", s.1.0))
        }));
    }
    for filament in 0..scenario.filaments.len() {
        let need = |of: &dyn Fn(&crate::forecast::Need) -> String| {
            shown(&|f| f.filaments.get(filament).map_or_else(String::new, of))
        };
        cells.push(need(&|n| format!("{:.1}", n.grams.0)));
        cells.push(need(&|n| n.spools.to_string()));
        cells.push(need(&|n| n.order.to_string()));
    }
    cells
}
