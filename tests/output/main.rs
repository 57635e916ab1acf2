//! What the bench gets to see of a plan: text, JSON, CSV and the folder with all three.

mod cautions;
mod check;
mod cli;
mod csv;
mod demo;
mod folder;
mod hostile;
mod html;
mod json;
mod stock;
mod table;
