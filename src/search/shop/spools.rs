//! How much the spool covers that a run can count on.
//!
//! Knows: spools on hand and to be bought, what all pieces take at least. Must not know: runs, dates, which spool goes on for which run.
//! Promises: there are spools of that size, on hand or to be bought, for all that is needed, as far as sums of grams tell.

use crate::calendar::{Minute, delivered};
use crate::scenario::{FilamentIndex, Scenario};
use crate::search::supply::milligrams;

use super::{ItemId, Shop};

impl Shop {
    /// By filament: what the spool that a run can count on covers with its margin after a change of filament; no limit where spools
    /// are not regarded.
    pub(super) fn spools_to_count_on(&self, scenario: &Scenario) -> Vec<i64> {
        let margin = scenario.build.spool_margin;
        if margin <= 0.0 {
            return vec![i64::MAX; scenario.filaments.len()];
        }
        let needed = self.least_grams();
        let filaments = scenario.filaments.iter().zip(needed);
        filaments
            .map(|(filament, needed)| {
                let spools = filament.spools.iter().map(|spool| spool.0);
                let size = to_count_on(spools.collect(), filament.spool.0, needed * (1.0 + margin));
                covers(scenario, size)
            })
            .collect()
    }

    /// By filament, until when and what the largest spool on hand covers, while no order of the start can have come: where what is on
    /// hand is enough for a new spool and more, none is ordered before the start. Otherwise nothing is known, and that minute is 0.
    pub fn early_spools(&self, scenario: &Scenario) -> Vec<(Minute, i64)> {
        let start = scenario.build.start;
        let start = start.with_timezone(&scenario.build.zone).date_naive();
        let filaments = scenario.filaments.iter().enumerate();
        filaments
            .map(|(at, filament)| {
                let spools = || filament.spools.iter().map(|spool| spool.0);
                let comes = delivered(scenario, FilamentIndex(at), start);
                match comes.filter(|_| spools().sum::<f64>() >= filament.spool.0) {
                    Some(comes) if scenario.build.spool_margin > 0.0 => (
                        self.calendar.minute(comes),
                        covers(scenario, spools().fold(0.0, f64::max)).min(self.one_spool[at]),
                    ),
                    _ => (0, 0),
                }
            })
            .collect()
    }

    /// What the spool covers that a run of a filament can count on which starts at a minute.
    pub fn spool_at(&self, filament: u32, start: Minute) -> i64 {
        match self.early_spools.get(filament as usize) {
            Some(&(until, covers)) if start < until => covers,
            _ => self.one_spool[filament as usize],
        }
    }

    /// By filament: what all pieces take at least, each in its lightest form.
    fn least_grams(&self) -> Vec<f64> {
        let mut grams = vec![0.0; self.filaments as usize];
        for class in &self.classes {
            let forms = class.items.iter().map(|&leader| {
                let each = self
                    .team(leader)
                    .map(|item| f64::from(self.items[item as usize].each) * self.lightest(item));
                each.sum::<f64>()
            });
            let least = forms.fold(f64::INFINITY, f64::min);
            if let Some(&leader) = class.items.first().filter(|_| least.is_finite()) {
                grams[self.items[leader as usize].filament as usize] +=
                    f64::from(class.copies) * least;
            }
        }
        grams
    }

    /// Grams of an item on the machine where it takes least; infinite where none makes it.
    fn lightest(&self, item: ItemId) -> f64 {
        let ways = (0..self.machines.len()).flat_map(|machine| self.ways(item, machine));
        ways.map(|way| way.grams).fold(f64::INFINITY, f64::min)
    }
}

/// Milligrams that a spool covers with its margin after a change of filament.
fn covers(scenario: &Scenario, spool: f64) -> i64 {
    let purges = scenario.machines.iter().map(|machine| machine.purge.0);
    let purge = purges.fold(0.0, f64::max);
    milligrams((spool / (1.0 + scenario.build.spool_margin) - purge).max(0.0))
}

/// Grams: the largest size of which the spools that are no smaller hold all that is needed; a new one can be bought as often as one likes.
///
/// With the largest of all instead, one large spool among small ones had every run planned for it, and all but one of
/// them stopped.
fn to_count_on(mut sizes: Vec<f64>, new: f64, needed: f64) -> f64 {
    sizes.sort_by(|a, b| b.total_cmp(a));
    let mut sum = 0.0;
    for size in sizes.into_iter().take_while(|&size| size > new) {
        sum += size;
        if sum >= needed {
            return size;
        }
    }
    new
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_large_spool_among_small_ones_is_none_to_count_on() {
        // 5 kg are needed: 2.5 kg are on one large spool, the rest comes on new ones of 1 kg.
        assert_eq!(to_count_on(vec![2500.0, 900.0], 1000.0, 5000.0), 1000.0);
        // For 2 kg it is enough, and so are two for 5 kg.
        assert_eq!(to_count_on(vec![900.0, 2500.0], 1000.0, 2000.0), 2500.0);
        assert_eq!(
            to_count_on(vec![2500.0, 900.0, 2500.0], 1000.0, 5000.0),
            2500.0
        );
        // Of 3 kg on spools of 2 kg and more: those of 2.5 and 2 kg together.
        assert_eq!(to_count_on(vec![2500.0, 2000.0], 1000.0, 3000.0), 2000.0);
    }

    #[test]
    fn where_new_ones_are_larger_they_count() {
        assert_eq!(to_count_on(vec![1000.0, 1000.0], 2500.0, 100.0), 2500.0);
    }
}
