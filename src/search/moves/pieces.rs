//! Pieces change their plate: some go to another run of the same filament and setting, or trade places with others.

use super::super::edit::Edit;
use super::super::plate::Load;
use super::super::shop::Shop;
use super::super::state::State;
use super::{Move, Tools, add_run, any_run, companion, replace, with};

/// Some pieces of one kind go to another plate, or to a plate of their own.
pub struct Shift;

/// Pieces of two plates trade places.
pub struct Trade;

/// One of the loads and a count of its pieces: all, one, or any number.
fn some_pieces(tools: &mut Tools, loads: &[Load]) -> Load {
    let load = loads[tools.below(loads.len())];
    let count = match tools.below(3) {
        0 => load.count,
        1 => 1,
        _ => 1 + tools.below(load.count as usize) as u32,
    };
    Load {
        item: load.item,
        count,
    }
}

fn shares_plates(shop: &Shop) -> bool {
    shop.items.iter().any(|item| !item.alone)
}

impl Move for Shift {
    fn name(&self) -> &'static str {
        "shift pieces"
    }

    fn weight(&self) -> u32 {
        25
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shares_plates(shop)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        let source = state.sheets[a][i];
        let plate = state.plates.get(source);
        if plate.alone {
            return false;
        }
        let loads = plate.loads.clone();
        let moved = some_pieces(tools, &loads);
        let rest = with(&loads, moved.item, -i64::from(moved.count));
        if tools.chance(0.1) {
            if rest.is_empty() {
                return false;
            }
            let near = state.dates(a)[i].start;
            return replace(shop, state, tools, edit, (a, source), &rest)
                && add_run(shop, state, tools, edit, &[moved], near);
        }
        let Some((b, j)) = companion(state, tools, a, i) else {
            return false;
        };
        let target = state.sheets[b][j];
        let filled = with(
            &state.plates.get(target).loads,
            moved.item,
            i64::from(moved.count),
        );
        replace(shop, state, tools, edit, (b, target), &filled)
            && replace(shop, state, tools, edit, (a, source), &rest)
    }
}

impl Move for Trade {
    fn name(&self) -> &'static str {
        "trade pieces"
    }

    fn weight(&self) -> u32 {
        12
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shares_plates(shop)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        let first = state.sheets[a][i];
        if state.plates.get(first).alone {
            return false;
        }
        let Some((b, j)) = companion(state, tools, a, i) else {
            return false;
        };
        let second = state.sheets[b][j];
        let of_first = state.plates.get(first).loads.clone();
        let of_second = state.plates.get(second).loads.clone();
        let out = some_pieces(tools, &of_first);
        let back = some_pieces(tools, &of_second);
        if out.item == back.item {
            return false;
        }
        let trade = |loads: &[Load], gives: Load, gets: Load| {
            with(
                &with(loads, gives.item, -i64::from(gives.count)),
                gets.item,
                i64::from(gets.count),
            )
        };
        replace(
            shop,
            state,
            tools,
            edit,
            (a, first),
            &trade(&of_first, out, back),
        ) && replace(
            shop,
            state,
            tools,
            edit,
            (b, second),
            &trade(&of_second, back, out),
        )
    }
}
