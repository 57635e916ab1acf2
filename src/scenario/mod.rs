//! What the user writes: its schema, its reading, its checks. Nothing else parses.
//!
//! Knows: YAML, CSV, the rules a scenario must keep. Must not know: routes, plates, plans.
//! Promises: a [`Scenario`] comes out only when every rule holds; otherwise all complaints come out at once.

mod model;

pub use model::*;
