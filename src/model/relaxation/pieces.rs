//! What one piece takes of a machine at least, on each of its ways: money, minutes, bed.
//!
//! Knows: ways, machines, prices. Must not know: dates, assemblies, the linear program.
//! Promises: every number is a lower bound on the piece's share in whatever run it is on.

use std::collections::BTreeMap;

use crate::routes::{Form, PartRoutes, Way};
use crate::scenario::{FilamentIndex, Part, Scenario, SettingsIndex};
use crate::units::Money;

use super::site::Site;

/// Runs of one machine that may hold the same pieces: one filament, one setting.
pub(super) type Company = (FilamentIndex, SettingsIndex);

/// The least that one piece takes on one way. Money without what its run costs once (`runs` below) and its layers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Take {
    /// Pieces of this form that make one copy.
    pub(super) lengths: f64,
    /// Nothing else can be on its run; then its money and minutes hold the whole run, and the shares are 0.
    pub(super) solitary: bool,
    /// Money for its own minutes, plastic beyond the part's base, finishing, gluing and hardware.
    pub(super) money: f64,
    /// Minutes of the machine by itself.
    pub(super) own: f64,
    /// Minutes of the machine: own, and its share of setup, warm-up and layers.
    pub(super) minutes: f64,
    /// Minutes of hands for its share of the setup; 0 on a belt.
    pub(super) setup: f64,
    /// Shares of a run, three ways to count them; those of all pieces of a run never add up to more than 1 in any of them.
    pub(super) shares: [f64; 3],
    /// Minutes lost at layers in its run at least.
    pub(super) layers: f64,
}

impl Take {
    /// The smaller of both in every number; for two of one form of which neither is solitary.
    fn least(self, other: Self) -> Self {
        let shares = [0, 1, 2].map(|way| self.shares[way].min(other.shares[way]));
        Self {
            lengths: self.lengths,
            solitary: false,
            money: self.money.min(other.money),
            own: self.own.min(other.own),
            minutes: self.minutes.min(other.minutes),
            setup: self.setup.min(other.setup),
            layers: self.layers.min(other.layers),
            shares,
        }
    }

    /// Whether it takes no more than the other in any number, with the same freedom to share a run.
    fn covers(&self, other: &Self) -> bool {
        let numbers = |take: &Self| {
            let [a, b, c] = take.shares;
            [
                take.money,
                take.own,
                take.minutes,
                take.setup,
                take.layers,
                a,
                b,
                c,
            ]
            .map(|each| each * take.lengths)
        };
        self.solitary == other.solitary
            && self.layers <= other.layers
            && numbers(self)
                .into_iter()
                .zip(numbers(other))
                .all(|(mine, theirs)| mine <= theirs)
    }
}

/// A share of a knapsack counted three ways; those of items that fit together add up to at most 1 in each.
///
/// The share itself; and u^(k)(x) = x where (k + 1)·x is whole, ⌊(k + 1)·x⌋ / k elsewhere, for k = 1, 2: dual feasible
/// functions. Source: S. P. Fekete, J. Schepers, "New classes of fast lower bounds for bin packing problems", Mathematical
/// Programming 91 (2001) 11–31 (from memory). With k = 1: what takes more than half counts whole, half counts half, less nothing.
fn shares(share: f64) -> [f64; 3] {
    let stepped = |k: f64| {
        let steps = (k + 1.0) * share;
        // Within rounding of a whole number it is taken as whole, which gives the smaller value.
        if (steps - steps.round()).abs() < 1e-9 {
            share.min(steps.round() / (k + 1.0))
        } else {
            steps.floor() / k
        }
    };
    [share, stepped(1.0), stepped(2.0)]
}

/// All that pieces take, by part, in each group of machines.
pub(super) struct Takes {
    /// By part: (group, take), none covered by another of the same group.
    pub(super) by_part: Vec<Vec<(usize, Take)>>,
    /// By machine: the longest run that a bed can have, minutes.
    pub(super) longest_run: Vec<f64>,
}

/// What pieces take of the groups of machines that `group_of` names; where machines of a group are not all `alike`, the least of them.
pub(super) fn takes(
    scenario: &Scenario,
    routes: &[PartRoutes],
    group_of: &[usize],
    alike: bool,
) -> Takes {
    let crowd = Crowd::new(scenario, routes);
    let mut longest: Vec<BTreeMap<Company, Longest>> =
        vec![BTreeMap::new(); scenario.machines.len()];
    let by_part = routes
        .iter()
        .map(|part| {
            let all = of_part(scenario, part, &crowd, alike, &mut longest);
            let grouped = all
                .into_iter()
                .map(|(form, machine, take)| (form, group_of[machine], take));
            without_covered(if alike {
                grouped.map(|(_, group, take)| (group, take)).collect()
            } else {
                least_of_each(grouped)
            })
        })
        .collect();
    let longest_run = longest
        .iter()
        .map(|companies| companies.values().map(Longest::minutes).fold(0.0, f64::max))
        .collect();
    Takes {
        by_part,
        longest_run,
    }
}

/// The least plastic that one copy can have, in money.
pub(super) fn base_of(scenario: &Scenario, routes: &PartRoutes) -> Money {
    let price = scenario.filaments[scenario.parts[routes.part.0].filament.0].price_kg;
    let copies = routes
        .forms
        .iter()
        .map(|form| Money(form.least_of_copy(|way| (way.grams * price).value())));
    copies
        .reduce(|one, other| if one <= other { one } else { other })
        .unwrap_or(Money::ZERO)
}

pub(super) fn company(scenario: &Scenario, part: &PartRoutes) -> Company {
    let part = &scenario.parts[part.part.0];
    (part.filament, part.settings)
}

/// Who could be on a run with a piece.
struct Crowd {
    /// By machine and company: the least footprint of any piece.
    smallest: BTreeMap<(usize, Company), f64>,
    /// By company: pieces at most.
    pieces: BTreeMap<Company, u64>,
}

impl Crowd {
    fn new(scenario: &Scenario, routes: &[PartRoutes]) -> Self {
        let (mut smallest, mut pieces) = (BTreeMap::new(), BTreeMap::new());
        for part in routes {
            let company = company(scenario, part);
            let most = part
                .forms
                .iter()
                .map(|form| form.lengths)
                .max()
                .unwrap_or(0);
            let copies = scenario.parts[part.part.0].copies();
            *pieces.entry(company).or_insert(0) += u64::from(copies) * u64::from(most);
            for way in part.forms.iter().flat_map(|form| &form.ways) {
                let site = Site::new(scenario, &scenario.machines[way.machine.0]);
                let least = smallest
                    .entry((way.machine.0, company))
                    .or_insert(f64::INFINITY);
                *least = site.footprint(way).min(*least);
            }
        }
        Self { smallest, pieces }
    }

    /// Whether a piece that keeps so much area free can have no other beside it: there is no other, or even the
    /// smallest does not fit the room with it.
    fn keeps_off(&self, machine: usize, company: Company, area: f64, room: f64) -> bool {
        let alone = self.pieces.get(&company).is_none_or(|&pieces| pieces <= 1);
        alone
            || self
                .smallest
                .get(&(machine, company))
                .is_some_and(|least| area + least > room)
    }
}

/// What a part's pieces take: form, machine, take.
fn of_part(
    scenario: &Scenario,
    routes: &PartRoutes,
    crowd: &Crowd,
    alike: bool,
    longest: &mut [BTreeMap<Company, Longest>],
) -> Vec<(usize, usize, Take)> {
    let part = &scenario.parts[routes.part.0];
    let base = base_of(scenario, routes).value();
    let company = company(scenario, routes);
    let mut takes = Vec::new();
    let mut own_most: BTreeMap<usize, f64> = BTreeMap::new();
    for (index, form) in routes.forms.iter().enumerate() {
        for way in &form.ways {
            let machine = way.machine.0;
            let site = Site::new(scenario, &scenario.machines[machine]);
            let (room, area) = (site.room(), site.footprint(way));
            let solitary = part.alone || crowd.keeps_off(machine, company, area, room);
            let share = (area / room).min(1.0);
            let own = way.own_time.value() / 60.0;
            let pieces = f64::from(part.copies()) * f64::from(form.lengths);
            let most = own_most.entry(machine).or_insert(0.0);
            *most = most.max(pieces * own);
            longest[machine]
                .entry(company)
                .or_default()
                .hear(&site, way, share, solitary);
            // Where the least of several machines counts, a run of its own is one that it fills: so all are told alike.
            let share = match (solitary, alike) {
                (true, true) => None,
                (true, false) => Some(1.0),
                (false, _) => Some(share),
            };
            takes.push((
                index,
                machine,
                take(scenario, part, base, &site, form, way, share),
            ));
        }
    }
    for (machine, most) in own_most {
        longest[machine].entry(company).or_default().all_own += most;
    }
    takes
}

/// What a piece takes where its share of a run is `share`; `None`: it is on a run of its own.
fn take(
    scenario: &Scenario,
    part: &Part,
    base: f64,
    site: &Site,
    form: &Form,
    way: &Way,
    share: Option<f64>,
) -> Take {
    let lengths = f64::from(form.lengths);
    let price = scenario.filaments[part.filament.0].price_kg;
    let per_copy = form.hardware.value() + site.bench * form.glue.value() as f64 - base;
    let besides = (way.grams * price).value()
        + site.bench * part.finishing.value() / 60.0
        + per_copy / lengths;
    let (own, turnaround) = (way.own_time.value() / 60.0, site.turnaround());
    match share {
        None => {
            let alone = way.alone.value() as f64;
            Take {
                lengths,
                solitary: true,
                money: site.minute * alone + site.bench * turnaround + besides,
                own: alone + turnaround,
                minutes: alone + turnaround,
                setup: turnaround,
                shares: [0.0; 3],
                layers: 0.0,
            }
        }
        // Proof: shares of a run add up to at most 1, so what the run takes once is at least each piece's share of it, and its
        // layers, those of the piece with the most, are at least the average that the shares weigh.
        Some(share) => Take {
            lengths,
            solitary: false,
            money: site.minute * own + besides,
            own,
            minutes: own + share * (turnaround + site.warm_up() + site.layers(way)),
            setup: share * turnaround,
            shares: shares(share),
            layers: site.layers(way),
        },
    }
}

/// By form and group: the least of every number.
fn least_of_each(takes: impl Iterator<Item = (usize, usize, Take)>) -> Vec<(usize, Take)> {
    let mut least: BTreeMap<(usize, usize), Take> = BTreeMap::new();
    for (form, group, take) in takes {
        least
            .entry((form, group))
            .and_modify(|known| *known = known.least(take))
            .or_insert(take);
    }
    least
        .into_iter()
        .map(|((_, group), take)| (group, take))
        .collect()
}

/// Without those that another of the same group makes needless; of equal ones the first stays.
fn without_covered(takes: Vec<(usize, Take)>) -> Vec<(usize, Take)> {
    let mut kept: Vec<(usize, Take)> = Vec::new();
    for (group, take) in takes {
        if kept
            .iter()
            .any(|(other, better)| *other == group && better.covers(&take))
        {
            continue;
        }
        kept.retain(|(other, worse)| *other != group || !take.covers(worse));
        kept.push((group, take));
    }
    kept
}

/// How long a run of one company on one machine can be.
#[derive(Clone, Debug, Default)]
struct Longest {
    solitary: f64,
    warm_up: f64,
    layers: f64,
    /// Own minutes of a run filled with the piece that has most of them for its share.
    full: f64,
    /// Own minutes of all pieces.
    all_own: f64,
}

impl Longest {
    fn hear(&mut self, site: &Site, way: &Way, share: f64, solitary: bool) {
        let own = way.own_time.value() / 60.0;
        if solitary {
            self.solitary = self.solitary.max(way.alone.value() as f64);
        } else {
            self.warm_up = site.warm_up();
            self.layers = self.layers.max(site.layers(way));
            self.full = self.full.max(own / share);
        }
    }

    /// Proof: own minutes of a run are Σ own ≤ max(own / share) · Σ share, and Σ share ≤ 1; the run is rounded up to a minute.
    fn minutes(&self) -> f64 {
        let shared = if self.full > 0.0 {
            self.warm_up + self.layers + self.full.min(self.all_own) + 1.0
        } else {
            0.0
        };
        self.solitary.max(shared)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn more_than_half_of_a_run_counts_whole_and_half_counts_half() {
        // u^(1): 0.6 → ⌊1.2⌋ / 1, 0.5 → 0.5, 0.4 → ⌊0.8⌋ = 0. u^(2): 0.6 → ⌊1.8⌋ / 2, 0.5 → ⌊1.5⌋ / 2, 0.4 → ⌊1.2⌋ / 2, 1/3 → 1/3.
        assert_eq!(shares(0.6), [0.6, 1.0, 0.5]);
        assert_eq!(shares(0.5), [0.5, 0.5, 0.5]);
        assert_eq!(shares(0.4), [0.4, 0.0, 0.5]);
        let third = 1.0 / 3.0;
        assert!((shares(third)[2] - third).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn shares_that_fill_a_run_stay_within_one_however_they_are_counted(
            cuts in prop::collection::vec(1u32..1000, 1..7), sixths in any::<bool>(),
        ) {
            // Parts of a whole; in sixths, where the steps are.
            let parts: Vec<f64> = cuts.iter().map(|&cut| f64::from(if sixths { cut % 3 + 1 } else { cut })).collect();
            let whole: f64 = if sixths { 6.0 } else { parts.iter().sum() };
            let mut left = 1.0;
            let mut sums = [0.0; 3];
            for share in parts.iter().map(|part| part / whole) {
                if share <= left + 1e-12 {
                    left -= share;
                    for (sum, counted) in sums.iter_mut().zip(shares(share)) {
                        *sum += counted;
                    }
                }
            }
            prop_assert!(sums.iter().all(|&sum| sum <= 1.0 + 1e-9), "{parts:?}: {sums:?}");
        }
    }
}
