//! Another order of the queue, where spools have held runs up that the search did not expect to wait.
//!
//! Knows: the search, spools by what they hold back. Must not know: moves, the linear program, how plans are shown.
//! Promises: what comes out is never less preferred than what came in; by moves it is reproducible.

use std::time::Duration;

use crate::search::fitter::Fitter;
use crate::search::portfolio::{self, Limit, Settings};
use crate::search::snapshot::Snapshot;
use crate::search::spares::spares_last;

use super::finish::Ground;
use super::{preferred, supply};

/// Share of a given time that is kept for this, where filament is short.
pub(super) const SHARE: f64 = 0.25;
/// Searches with what had to be held back, at most.
const SEARCHES: u64 = 4;
/// Share of the cost by which a queue is dearer for what was held back, from which on another order of it is sought.
const MUCH_DEARER: f64 = 0.002;

/// Where filament had to be held back for spools, a queue that was found without that is in a bad order for it: so it is searched on
/// from there with what is known now; and where that does not pay, once more from the beginning, by other chances. `within` is the
/// time for all of it, where the clock limits. Never a dearer plan than `settled`.
pub(super) fn searched_on(
    ground: &Ground,
    settings: &Settings,
    within: Duration,
    hoped: f64,
    mut settled: supply::Settled,
) -> supply::Settled {
    let mut pays = true;
    for time in 1..=SEARCHES {
        let held = settled.shop.as_ref();
        let held = held.filter(|held| held.supply != ground.shop.supply);
        let dearer = settled.queue.cost() > hoped * (1.0 + MUCH_DEARER);
        let over = matches!(settings.limit, Limit::Time(_)) && within.is_zero();
        let Some(held) = held.filter(|_| dearer && !over && !settings.watch.stop()) else {
            break;
        };
        let mut shop = if pays { held } else { ground.shop }.clone();
        // Runs are held by their places, which a search changes; but for those that stay at the heads.
        shop.holds = ground.shop.holds.clone();
        shop.no_stops = true;
        let start = if pays {
            let mut state = settled.queue.restore(&shop, &mut Fitter::default());
            if !state.redate(&shop).is_finite() {
                break;
            }
            Some(Snapshot::of(&state))
        } else {
            settings.start.cloned()
        };
        let again = Settings {
            limit: match settings.limit {
                Limit::Moves(moves) => Limit::Moves(moves / 4),
                Limit::Time(_) => Limit::Time(within / SEARCHES as u32),
                Limit::Usual => Limit::Usual,
            },
            seed: settings.seed.wrapping_add(time * 7_919),
            recombine: None,
            proven: None,
            start: start.as_ref(),
            ..*settings
        };
        let found = portfolio::search(&shop, &again).map(|found| spares_last(&shop, &found.best));
        shop.no_stops = false;
        let on = Ground {
            shop: &shop,
            ..*ground
        };
        let next = found.and_then(|best| supply::settle(&on, &best, settled.plan.seed));
        let next = next.filter(|next| preferred(&next.plan, &settled.plan));
        pays = next.is_some();
        if let Some(next) = next {
            settled = supply::Settled {
                shop: Some(next.shop.unwrap_or(shop)),
                ..next
            };
        }
    }
    settled
}
