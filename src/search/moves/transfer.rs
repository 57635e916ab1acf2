//! Pieces of several runs go to another machine at once, laid out afresh for its bed.
//!
//! A plate that fits one bed seldom fits another, and one run of a colour less on a machine saves no change of filament while others
//! stay: that a machine hands all of it over pays where no single step does.

use super::super::edit::Edit;
use super::super::plate::{Load, PlateId};
use super::super::shop::Shop;
use super::super::state::State;
use super::rebuild::fill;
use super::{Move, Tools, any_run, position_near, replace};

/// What runs of one filament and setting in a stretch of a sheet hold goes to another machine.
pub struct Transfer;

/// Longest stretch that is looked at, in runs.
const STRETCH: usize = 16;
/// Runs that may be made of it on the other machine.
const RUNS: usize = 12;

impl Move for Transfer {
    fn name(&self) -> &'static str {
        "transfer"
    }

    fn weight(&self) -> u32 {
        3
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.machines.len() > 1 && shop.items.iter().any(|item| !item.alone)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((from, at)) = any_run(state, tools) else {
            return false;
        };
        let to = tools.machine();
        let first = state.plates.get(state.sheets[from][at]);
        if to == from || first.alone {
            return false;
        }
        let group = first.group;
        let near = state.dates(from)[at].start;
        let end = (at + 2 + tools.below(STRETCH)).min(state.sheets[from].len());
        let plates: Vec<PlateId> = state.sheets[from][at..end].to_vec();
        let mut pool: Vec<Load> = Vec::new();
        for plate in plates {
            let content = state.plates.get(plate);
            if content.group != group || content.alone {
                continue;
            }
            let (go, stay): (Vec<Load>, Vec<Load>) = content
                .loads
                .iter()
                .partition(|load| !shop.ways(load.item, to).is_empty());
            if go.is_empty() {
                continue;
            }
            if !replace(shop, state, tools, edit, (from, plate), &stay) {
                return false;
            }
            for load in go {
                match pool.iter_mut().find(|known| known.item == load.item) {
                    Some(known) => known.count += load.count,
                    None => pool.push(load),
                }
            }
        }
        if pool.is_empty() {
            return false;
        }
        let before = state.plates.known(state.sheets[from][at], from).0;
        let target = match tools.below(3) {
            0 => i32::MAX,
            1 => before,
            _ => 60 + tools.below(840) as i32,
        };
        let mut position = position_near(state, to, near);
        for _ in 0..RUNS {
            if pool.is_empty() {
                return true;
            }
            let Some(plate) = fill(shop, state, tools, edit, &mut pool, to, target) else {
                return false;
            };
            let sheet = edit.sheet(state, to);
            position = position.min(sheet.len());
            sheet.insert(position, plate);
            position += 1;
        }
        false
    }
}
