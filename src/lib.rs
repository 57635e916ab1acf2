//! Beamyard plans a small, mixed print farm: a build graph of parts and subassemblies, a few unlike machines and the
//! hours at the bench become a dated print queue.
//!
//! The folders are the flow: `scenario` → `routes` → `plates`, `search`, `model` → `plan` → `report`. A module names
//! only what stands before it in that line, besides `units`, `geometry` and `calendar`.

pub mod calendar;
pub mod chance;
pub mod cli;
pub mod estimate;
pub mod forecast;
pub mod geometry;
pub mod graph;
pub mod lifting;
pub mod model;
pub mod plan;
pub mod planning;
pub mod plates;
pub mod progress;
pub mod report;
pub mod routes;
pub mod scenario;
pub mod search;
pub mod shoplog;
pub mod stock;
pub mod strength;
pub mod toolpath;
pub mod units;
