//! The same scenario at another scale, or with other print settings for every part.
//!
//! Knows: the scenario as written, and which of its values hold only at its own scale and settings. Must not know: what
//! is made of it, routes, masses.
//! Promises: a changed scenario goes through every rule as a written one does; what was measured under other conditions is
//! left out and named, never scaled.

use super::collector::{At, Collector, Spot};
use super::names::Names;
use super::raw::{Got, RawPart, RawScenario};

/// What is to be other than the file says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Change {
    /// The build's scale; within the limits of `build.scale`, see [`scale`](super::scale).
    pub scale: Option<f64>,
    /// The settings of every part, by name.
    pub settings: Option<String>,
}

/// Changes what was read, before any rule is checked; gives the positions of the parts whose measured mass or minutes no
/// longer hold.
pub(super) fn apply(
    change: &Change,
    raw: &mut RawScenario,
    whole: Spot,
    collector: &mut Collector,
) -> Vec<usize> {
    let times = match (change.scale, raw.build.scale.value()) {
        (Some(asked), Some(written)) => asked / written,
        _ => 1.0,
    };
    let other_scale = times != 1.0;
    if let Some(scale) = change.scale {
        let spot = raw.build.scale.as_ref().map_or(whole, |at| at.spot);
        raw.build.scale = Got::Read(At { value: scale, spot });
    }
    let mut other_settings = vec![false; raw.parts.len()];
    if let Some(name) = &change.settings {
        let asked = At {
            value: name.clone(),
            spot: whole,
        };
        let ids = raw.settings.iter().map(|item| item.id.as_ref());
        let known = Names::new("settings", !raw.settings.is_empty(), ids);
        known.refuse_unknown(&asked, "--settings", collector);
        if known.find(name).is_some() {
            for (part, other) in raw.parts.iter_mut().zip(&mut other_settings) {
                *other = part.settings.as_ref().map(|at| &at.value) != Some(name);
                part.settings = Got::Read(asked.clone());
            }
        }
    }
    let mut unmeasured = Vec::new();
    for (index, part) in raw.parts.iter_mut().enumerate() {
        // A span is written at print scale, and grows with the part that spans.
        if !is_taken_as_is(part)
            && let Some(span) = &mut part.span
            && let Got::Read(length) = &mut span.length
        {
            length.value *= times;
        }
        let other = other_settings[index] || (other_scale && !is_taken_as_is(part));
        if other
            && (part.grams.as_ref().is_some() || !part.minutes.is_empty() || !part.gcode.is_empty())
        {
            part.grams = Got::Absent;
            part.minutes.clear();
            part.gcode.clear();
            unmeasured.push(index);
        }
    }
    unmeasured
}

/// Whether a part has the same size at any scale.
pub(super) fn is_taken_as_is(part: &RawPart) -> bool {
    part.model.as_ref().is_none() && part.mesh.as_ref().is_none()
}
