//! The pieces of several runs are laid out afresh: the most urgent on the earliest run, each run as long as its slot asks.

use super::super::edit::Edit;
use super::super::plate::{Fit, Load, PlateId};
use super::super::shop::Shop;
use super::super::state::State;
use super::{Move, Tools, add_run, any_run, companion};

/// Two to five runs of one filament and setting are emptied and filled again.
pub struct Rebuild;

/// Most runs that are emptied at once.
const MOST: usize = 5;

impl Move for Rebuild {
    fn name(&self) -> &'static str {
        "rebuild"
    }

    fn weight(&self) -> u32 {
        5
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.items.iter().any(|item| !item.alone)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        if state.plates.get(state.sheets[a][i]).alone {
            return false;
        }
        let mut slots = vec![(a, i)];
        let wanted = 2 + tools.below(MOST - 1);
        for _ in 0..2 * wanted {
            if slots.len() == wanted {
                break;
            }
            match companion(state, tools, a, i) {
                Some(slot) if !slots.contains(&slot) => slots.push(slot),
                _ => {}
            }
        }
        if slots.len() < 2 {
            return false;
        }
        slots.sort_by_key(|&(m, at)| (state.dates(m)[at].start, m));
        let mut pool: Vec<Load> = slots
            .iter()
            .flat_map(|&(m, at)| state.plates.get(state.sheets[m][at]).loads.iter().copied())
            .collect();
        pool.sort_by_key(|l| {
            let class = shop.class_of(l.item);
            (
                !class.is_trial,
                shop.nodes[class.node as usize].rank,
                l.item,
            )
        });
        pool.dedup_by(|next, kept| {
            kept.item == next.item && {
                kept.count += next.count;
                true
            }
        });
        if tools.chance(0.3) {
            let turn = tools.below(pool.len());
            pool.rotate_left(turn);
        }
        let near = state.dates(a)[i].start;
        for (machine, at) in slots {
            let old = state.sheets[machine][at];
            let (before, _) = state.plates.known(old, machine);
            let target = match tools.below(3) {
                0 => before,
                1 => until_somebody_comes(shop, state, machine, at).unwrap_or(before),
                _ => (f64::from(before) * (0.5 + tools.below(100) as f64 / 66.0)) as i32,
            };
            let filled = fill(shop, state, tools, edit, &mut pool, machine, target);
            edit.gone.push(old);
            let sheet = edit.sheet(state, machine);
            // Slots are distinct runs, so each old plate is on its sheet still.
            let Some(position) = sheet.iter().position(|&p| p == old) else {
                return false;
            };
            match filled {
                Some(plate) => sheet[position] = plate,
                None => {
                    sheet.remove(position);
                }
            }
        }
        while let Some(load) = pool.pop() {
            let mut count = load.count;
            while !add_run(shop, state, tools, edit, &[Load { count, ..load }], near) {
                if count == 1 {
                    return false;
                }
                count = count.div_ceil(2);
            }
            if count < load.count {
                pool.push(Load {
                    count: load.count - count,
                    ..load
                });
            }
        }
        true
    }
}

/// Minutes from a run's start to the first bench minute after the window in which it was set up; of one that must be watched, to
/// that window's end.
fn until_somebody_comes(shop: &Shop, state: &State, machine: usize, at: usize) -> Option<i32> {
    let date = state.dates(machine)[at];
    let windows = shop.calendar.windows();
    let window = shop.calendar.window_at_or_after(date.setup);
    if !shop.machines[machine].unattended {
        return windows.get(window).map(|window| window.close - date.start);
    }
    let next = windows.get(window + 1)?;
    Some(next.open - date.start)
}

/// Fills a plate from the pool, in the pool's order, as far as bed and target allow; takes what it used out of the pool.
pub(super) fn fill(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    pool: &mut Vec<Load>,
    machine: usize,
    target: i32,
) -> Option<PlateId> {
    let mut loads: Vec<Load> = Vec::new();
    let mut best: Option<PlateId> = None;
    for entry in pool.iter_mut() {
        if shop.ways(entry.item, machine).is_empty() {
            continue;
        }
        let mut step = entry.count;
        while step > 0 {
            let count = step.min(entry.count);
            if count == 0 {
                break;
            }
            loads.push(Load { count, ..*entry });
            let tried = state.make(shop, &mut tools.fitter, edit, &loads, machine);
            let short = tried.is_some_and(|plate| {
                matches!(
                    state.plates.fit(shop, &mut tools.fitter, plate, machine),
                    Fit::Yes { minutes, .. } if minutes <= target || loads.len() == 1 && count == 1
                )
            });
            if short {
                // The plate before stays among the edit's fresh ones and is given back with them or kept unused.
                if let Some(unused) = best {
                    edit.fresh.retain(|&p| p != unused);
                    state.plates.release(unused);
                }
                best = tried;
                entry.count -= count;
            } else {
                loads.pop();
                if let Some(unused) = tried {
                    edit.fresh.retain(|&p| p != unused);
                    state.plates.release(unused);
                }
                step = step.min(count) / 2;
            }
        }
    }
    pool.retain(|l| l.count > 0);
    best
}
