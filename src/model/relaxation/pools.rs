//! Parts that the dates of the relaxation count together, so that it stays small enough to solve.
//!
//! Knows: what pieces take, which forms must be glued. Must not know: dates, the linear program.
//! Promises: a pool's minutes are a lower bound on those of its members, whatever the mix.

use std::collections::BTreeMap;

use crate::routes::PartRoutes;

use super::shop::Shop;

/// How finely parts are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pooling {
    /// Every part by itself.
    Single,
    /// Parts that the same groups make about equally fast in proportion.
    Alike,
    /// All parts that need no glue, and all that do.
    All,
}

/// Parts counted together, in units of the minutes that each takes on its fastest group.
pub(super) struct Pool {
    /// Part and units in one copy of it.
    pub(super) members: Vec<(usize, f64)>,
    /// By group: minutes of machine and of hands for setups per unit; `None`: no member can be made there.
    pub(super) rates: Vec<Option<Rate>>,
    /// Gluing and curing minutes of every form of a member, of which one applies to each copy.
    pub(super) joints: Vec<(i64, i64)>,
}

/// Minutes per unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rate {
    pub(super) machine: f64,
    pub(super) hands: f64,
}

/// Pools of the parts that are in `wanted`.
pub(super) fn pools(
    shop: &Shop,
    routes: &[PartRoutes],
    wanted: &[bool],
    pooling: Pooling,
) -> Vec<Pool> {
    let mut pools: BTreeMap<Vec<i64>, Pool> = BTreeMap::new();
    for part in (0..wanted.len()).filter(|&part| wanted[part] && !shop.takes[part].is_empty()) {
        let per_copy = per_copy(shop, part);
        let fastest = per_copy
            .iter()
            .flatten()
            .map(|rate| rate.machine)
            .fold(f64::INFINITY, f64::min);
        // A part that takes no time at all still has units, so that none is divided by.
        let units = fastest.max(1e-3);
        let joints: Vec<(i64, i64)> = routes[part]
            .forms
            .iter()
            .map(|form| (form.glue.value(), form.cure.value()))
            .collect();
        let glued = i64::from(!joints.contains(&(0, 0)));
        let key = match pooling {
            Pooling::Single => vec![i64::try_from(part).unwrap_or(i64::MAX)],
            // Proportions in steps of a quarter.
            Pooling::Alike => per_copy
                .iter()
                .map(|rate| {
                    rate.map_or(-1, |rate| {
                        ((rate.machine / units).max(1.0).ln() / 1.25_f64.ln()) as i64
                    })
                })
                .chain([glued])
                .collect(),
            Pooling::All => vec![glued],
        };
        let rates = per_copy.into_iter().map(|rate| {
            rate.map(|rate| Rate {
                machine: rate.machine / units,
                hands: rate.hands / units,
            })
        });
        match pools.get_mut(&key) {
            None => {
                let rates = rates.collect();
                pools.insert(
                    key,
                    Pool {
                        members: vec![(part, units)],
                        rates,
                        joints,
                    },
                );
            }
            Some(pool) => {
                pool.members.push((part, units));
                for (known, rate) in pool.rates.iter_mut().zip(rates) {
                    *known = match (*known, rate) {
                        (Some(one), Some(other)) => Some(Rate {
                            machine: one.machine.min(other.machine),
                            hands: one.hands.min(other.hands),
                        }),
                        (one, other) => one.or(other),
                    };
                }
                pool.joints.extend(joints);
            }
        }
    }
    let tidy = |mut pool: Pool| {
        pool.joints.sort_unstable();
        pool.joints.dedup();
        pool
    };
    pools.into_values().map(tidy).collect()
}

/// By group: the least minutes that a copy takes of machine and of hands there, were it made there wholly.
///
/// Proof that they may be shared out: a copy of several lengths, some made here, is here to the share of its lengths, each of which
/// takes at least the least length's minutes of any form.
fn per_copy(shop: &Shop, part: usize) -> Vec<Option<Rate>> {
    let mut least: Vec<Option<Rate>> = vec![None; shop.groups.len()];
    for &(group, take) in &shop.takes[part] {
        let (machine, hands) = (take.minutes * take.lengths, take.setup * take.lengths);
        least[group] = Some(match least[group] {
            None => Rate { machine, hands },
            Some(known) => Rate {
                machine: known.machine.min(machine),
                hands: known.hands.min(hands),
            },
        });
    }
    least
}
