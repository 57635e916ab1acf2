//! Two plates become one, or one becomes two: long plates for the night, short ones by day.

use super::super::edit::Edit;
use super::super::plate::Load;
use super::super::shop::Shop;
use super::super::state::State;
use super::{Move, Tools, add_run, any_run, companion, replace};

/// Two runs of one filament and setting become one.
pub struct Merge;

/// One run becomes two.
pub struct Divide;

impl Move for Merge {
    fn name(&self) -> &'static str {
        "merge plates"
    }

    fn weight(&self) -> u32 {
        6
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.items.iter().any(|item| !item.alone)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        let source = state.sheets[a][i];
        if state.plates.get(source).alone {
            return false;
        }
        let Some((b, j)) = companion(state, tools, a, i) else {
            return false;
        };
        let target = state.sheets[b][j];
        let mut together = state.plates.get(target).loads.to_vec();
        together.extend_from_slice(&state.plates.get(source).loads);
        replace(shop, state, tools, edit, (b, target), &together)
            && replace(shop, state, tools, edit, (a, source), &[])
    }
}

impl Move for Divide {
    fn name(&self) -> &'static str {
        "divide a plate"
    }

    fn weight(&self) -> u32 {
        6
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.items.iter().any(|item| !item.alone)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        let source = state.sheets[a][i];
        let loads = state.plates.get(source).loads.clone();
        let ready = |load: &Load| shop.class_of(load.item).ready;
        let latest = loads.iter().map(ready).max().unwrap_or(0);
        let (mut stay, mut go): (Vec<Load>, Vec<Load>) =
            if latest > 0 && loads.iter().any(|l| ready(l) < latest) && tools.chance(0.7) {
                // What need not wait with the rest goes before it.
                loads.iter().partition(|&load| ready(load) == latest)
            } else {
                at_random(tools, &loads)
            };
        if tools.chance(0.3) {
            std::mem::swap(&mut stay, &mut go);
        }
        if stay.is_empty() || go.is_empty() {
            return false;
        }
        let near = state.dates(a)[i].start;
        replace(shop, state, tools, edit, (a, source), &stay)
            && add_run(shop, state, tools, edit, &go, near)
    }
}

/// Each kind of piece in two parts, by chance.
fn at_random(tools: &mut Tools, loads: &[Load]) -> (Vec<Load>, Vec<Load>) {
    let (mut stay, mut go): (Vec<Load>, Vec<Load>) = (Vec::new(), Vec::new());
    for load in loads {
        let gone = if load.count == 1 {
            u32::from(tools.chance(0.5))
        } else {
            tools.below(load.count as usize + 1) as u32
        };
        for (list, count) in [(&mut go, gone), (&mut stay, load.count - gone)] {
            if count > 0 {
                list.push(Load {
                    item: load.item,
                    count,
                });
            }
        }
    }
    (stay, go)
}
