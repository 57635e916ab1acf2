//! The rules between fields.
//!
//! Knows: the scenario as written. Must not know: how it is written.
//! Promises: every rule is checked, whatever the others find.

use super::collector::Collector;
use super::raw::RawScenario;

/// Checks every rule.
pub fn check(_raw: &RawScenario, _collector: &mut Collector) {}
