//! What the bench gets to see of a plan: text, JSON, CSV and the folder with all three.

mod calendar;
mod cautions;
mod check;
mod cli;
mod csv;
mod day_sheets;
mod demo;
mod folder;
mod forecast;
#[path = "../common/hall.rs"]
mod hall;
mod hostile;
mod html;
mod interrupt;
mod json;
mod lifting;
mod measure;
mod measured;
mod measured_then;
mod size;
mod spans;
mod spool_names;
mod status;
mod stock;
mod supplies;
mod table;
mod variants;
mod week;
