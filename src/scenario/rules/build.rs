//! Rules about the build as a whole.
//!
//! Knows: the original, earlier builds. Must not know: parts, machines.
//! Promises: an earlier build that passes can be compared with, or there is a warning.

use super::Facts;
use crate::scenario::collector::Collector;

/// A print that outweighs its original, enlarged solid, is most probably a slip of the pen.
pub(super) fn an_earlier_print_is_no_heavier_than_the_solid(
    facts: &Facts<'_>,
    collector: &mut Collector,
) {
    for earlier in &facts.raw.build.earlier {
        let (Some(printed), Some(scale), Some(original)) = (
            earlier.printed.as_ref(),
            earlier.scale.value(),
            earlier.original.value(),
        ) else {
            continue;
        };
        let solid = original * scale.powi(3);
        if printed.value > solid {
            collector.warn(
                printed.spot,
                &format!("{}.printed_g", earlier.path),
                format!("is more than its original enlarged solid, {solid:.0} g"),
                &format!("{} g", printed.value),
                "see whether both masses are in g, and whether `scale` is that of the earlier build",
            );
        }
    }
}
