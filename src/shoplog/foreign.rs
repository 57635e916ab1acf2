//! Whether a log is of another build than its scenario.
//!
//! Knows: the accepted plan, the shop by name. Must not know: files, entries.
//! Promises: a build that was renamed, or of which every part was, is still its own.

use std::collections::BTreeSet;

use super::state::State;

/// One part in so many, or fewer, is next to none: a pin or a bracket is in many a build (judgement).
const FEW: usize = 10;

impl State {
    /// Why the plan that is followed is of another build: it is called otherwise, and of its parts this one has next to none.
    ///
    /// A build may be renamed, or have other parts by and by; both at once is a file in the wrong place.
    pub(super) fn foreign(&self) -> Option<String> {
        let plan = self.plan().filter(|plan| plan.build != self.shop.name)?;
        let pieces = plan.runs.iter().flat_map(|run| &run.pieces);
        let parts: BTreeSet<&str> = pieces.map(|piece| piece.part()).collect();
        let known = parts
            .iter()
            .filter(|part| self.shop.parts.contains_key(**part));
        let known = known.count();
        (!parts.is_empty() && known * FEW <= parts.len()).then(|| {
            format!(
                "this is the log of `{}`, not of `{}`: the scenario has {} of the {} parts in its plan",
                plan.build,
                self.shop.name,
                if known == 0 { "none".to_owned() } else { known.to_string() },
                parts.len()
            )
        })
    }
}
