//! Writes a finished plan down: text for the terminal, JSON, CSV, pages, drawings, a folder with all of them.
//!
//! Knows: the scenario's words, a [`Plan`](crate::plan::Plan), the routes of parts. Must not know: how either was
//! found, nor who reads it (only `cli` prints).
//! Promises: every date is local to the build; nothing that a user wrote can break a line, a column or a spreadsheet;
//! nothing is computed here but sums and words; no line of text is wider than asked.

mod calendar;
mod check;
mod csv;
mod estimates;
mod files;
mod folder;
mod forecast;
mod grid;
mod html;
mod json;
mod local;
mod log;
mod log_json;
mod measure;
mod money;
mod odd;
mod since;
mod spans;
mod status;
mod supplies;
mod table;
mod words;

pub use calendar::{Issue, calendar};
pub use check::{check, no_time, unmakeable};
pub use csv::csv;
pub use estimates::{doubtful, estimates};
pub use files::files;
pub use folder::{FolderError, MARKER, earlier, may_write_folder, write_folder};
pub use forecast::{forecast_csv, forecast_json, forecast_table};
pub use grid::{coloured, plain};
pub use html::{day_sheets, report as html};
pub use json::json;
pub use log::{noted, shown_log};
pub use log_json::{failed_json, noted_json, shown_log_json, trouble_json};
pub use measure::{Material, measure_json, measure_table};
pub use money::gap;
pub use odd::odd;
pub use spans::spans;
pub use status::{status, status_json};
pub use supplies::{hardware_csv, orders_csv};
pub use table::table;

/// How text for a terminal is to look.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Columns that a line may fill; less than [`Look::NARROWEST`] is taken as that.
    pub width: u16,
    /// Whether to add colour; nothing is said by colour alone.
    pub colour: bool,
    /// Everything, not only the next seven days and the stages.
    pub all: bool,
}

impl Look {
    /// Fewer columns than this hold no table that can be read.
    pub const NARROWEST: u16 = 60;

    /// No colour, so many columns wide, not everything.
    pub fn plain(width: u16) -> Self {
        Self {
            width,
            colour: false,
            all: false,
        }
    }

    /// The columns that are used.
    fn columns(&self) -> u16 {
        self.width.max(Self::NARROWEST)
    }
}
