//! The search of a farm that is several farms: each by itself, then all together.
//!
//! Knows: the parts, what a search of one is. Must not know: moves, the linear program.
//! Promises: limited by moves, each part's share is fixed before the search, so that the same seed gives the same queue and
//! more moves never cost more; the cost told to whoever watches is always that of a queue of the whole farm.

use std::time::Instant;

use super::apart::{Part, together};
use super::portfolio::{Found, Limit, Settings, Watch, add_tallies, constructed, search_from};
use super::shop::Shop;
use super::snapshot::Snapshot;

/// Searches part by part; `None` if some part has no queue within the calendar's horizon.
pub(super) fn search_each(shop: &Shop, parts: &[Part], settings: &Settings) -> Option<Found> {
    let begun = Instant::now();
    let starts: Vec<Vec<Snapshot>> = parts.iter().map(|part| constructed(&part.shop)).collect();
    let mut best: Vec<Snapshot> = starts
        .iter()
        .map(|starts| starts.first().cloned())
        .collect::<Option<_>>()?;
    let runs: Vec<f64> = best.iter().map(|queue| queue.runs() as f64).collect();
    let whole = |best: &[Snapshot]| together(shop, &parts.iter().zip(best).collect::<Vec<_>>());
    let first = whole(&best)?;
    let mut found = Found::begun(first);
    for (at, (part, starts)) in parts.iter().zip(starts).enumerate() {
        let share = runs[at] / runs.iter().sum::<f64>();
        let limit = match settings.limit {
            Limit::Usual => Limit::Usual,
            Limit::Moves(total) => Limit::Moves((total as f64 * share) as u64),
            // What an earlier part did not need, the later ones have.
            Limit::Time(total) => {
                let of_rest = runs[at] / runs[at..].iter().sum::<f64>();
                Limit::Time(total.saturating_sub(begun.elapsed()).mul_f64(of_rest))
            }
        };
        let rest = found.best.cost() - best[at].cost();
        let watch = Within {
            watch: settings.watch,
            rest,
        };
        let own = Settings {
            limit,
            watch: &watch,
            least: settings.least - rest,
            ..*settings
        };
        let of_part = search_from(&part.shop, starts, &own, share)?;
        best[at] = of_part.best;
        found.best = whole(&best)?;
        found.moves += of_part.moves;
        found.recombined += of_part.recombined;
        found.pool.extend(part.sheets_of(&of_part.pool));
        found.tallies = add_tallies(found.tallies.into_iter().chain(of_part.tallies));
    }
    Some(found)
}

/// Tells a watcher of the whole farm what was found in a part, all else being as it is.
struct Within<'a> {
    watch: &'a dyn Watch,
    /// What the whole costs beyond the part's own queue.
    rest: f64,
}

impl Watch for Within<'_> {
    fn better(&self, cost: f64) {
        self.watch.better(cost + self.rest);
    }

    fn stop(&self) -> bool {
        self.watch.stop()
    }
}
