//! Rules about spares that the program counts.
//!
//! Knows: the scenario as written and as settled. Must not know: how many spares suffice.
//! Promises: after a complaint no scenario comes out.

use crate::scenario::collector::Collector;
use crate::scenario::fields::MOST_COPIES;
use crate::scenario::model::Scenario;
use crate::scenario::raw::RawScenario;

/// Counts the spares of `spares: auto`, before anything is printed; they suffice, and all copies can still be planned.
pub fn reserve(raw: &RawScenario, scenario: &mut Scenario, collector: &mut Collector) {
    let without = scenario.reserve(&[], &[]).err().unwrap_or_default();
    let found = |at: usize| {
        let part = &raw.parts[at]; // the settled parts are those that are written, in their order
        let spot = part.spares.as_ref().map_or(part.spot, |spares| spares.spot);
        (spot, format!("{}.spares", part.path))
    };
    for &at in &without {
        let (spot, field) = found(at);
        collector.error(
            spot,
            &field,
            format!("finds no number of spares that suffices with {} %", scenario.build.confidence * 100.0),
            "auto",
            "write a number, lower `build.confidence`, or see whether `scrap` of its machines is right",
        );
    }
    let all: u64 = scenario
        .parts
        .iter()
        .map(|part| u64::from(part.quantity) + u64::from(part.spares))
        .sum();
    let reserves = scenario.parts.iter().enumerate();
    let most = reserves
        .filter(|(_, part)| part.reserve)
        .max_by_key(|(_, part)| part.spares);
    if let Some((at, part)) = most
        && all > MOST_COPIES
    {
        let (spot, field) = found(at);
        collector.error(
            spot,
            &field,
            format!("comes to {} spares, and all parts to {all} copies; at most {MOST_COPIES} can be planned", part.spares),
            "auto",
            "write a smaller number, or lower `build.confidence`",
        );
    }
}
