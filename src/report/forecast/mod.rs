//! What a build takes at several scales: text with a column for each, JSON, CSV.
//!
//! Knows: forecasts. Must not know: how they were come by.
//! Promises: the same figures in all three; what fits nowhere is said beside every figure that leaves it out.

mod csv;
mod json;
mod table;

pub use csv::forecast_csv;
pub use json::forecast_json;
pub use table::forecast_table;

use crate::forecast::{Forecast, Unplanned};

/// Why there are no figures, in words.
fn unplanned(why: Unplanned) -> &'static str {
    match why {
        Unplanned::NothingFits => "no part fits any machine",
        Unplanned::NoTime => "the work does not end within the calendar's years",
    }
}

/// A scale as a heading: `scale 6`, `scale 6, strong`.
fn name(forecast: &Forecast) -> String {
    let scale = forecast.scenario.build.scale;
    match &forecast.settings {
        Some(settings) => format!("scale {scale}, {settings}"),
        None => format!("scale {scale}"),
    }
}
