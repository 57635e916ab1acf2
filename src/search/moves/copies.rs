//! Like pieces change their purpose: a copy printed early goes to the assembly that waits for it.

use super::super::edit::Edit;
use super::super::shop::{ItemId, Shop};
use super::super::state::State;
use super::{Move, Tools, any_run, replace, with};

/// Pieces of one part and form, on two runs and for two assemblies, change their assemblies.
pub struct Reassign;

/// The item of the same form in another class of the same part.
fn sibling(shop: &Shop, tools: &mut Tools, item: ItemId) -> Option<ItemId> {
    let shape = shop.items[item as usize].shape;
    let part = shop.class_of(item).part;
    // Classes of one part stand side by side.
    let class = shop.items[item as usize].class as usize;
    let first = (0..=class)
        .rev()
        .take_while(|&c| shop.classes[c].part == part)
        .last()?;
    let count = shop.classes[first..]
        .iter()
        .take_while(|c| c.part == part)
        .count();
    if count < 2 {
        return None;
    }
    let other = first + tools.below(count);
    if other == class {
        return None;
    }
    shop.classes[other]
        .items
        .iter()
        .flat_map(|&leader| shop.team(leader))
        .find(|&i| shop.items[i as usize].shape == shape)
}

impl Move for Reassign {
    fn name(&self) -> &'static str {
        "reassign copies"
    }

    fn weight(&self) -> u32 {
        6
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.classes.windows(2).any(|c| c[0].part == c[1].part)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        let first = state.sheets[a][i];
        let loads = state.plates.get(first).loads.clone();
        let load = loads[tools.below(loads.len())];
        let Some(other) = sibling(shop, tools, load.item) else {
            return false;
        };
        let start = tools.machine();
        let mut target = None;
        'search: for b in tools.machines_from(start) {
            for &plate in &state.sheets[b] {
                if plate != first
                    && let Some(found) = state
                        .plates
                        .get(plate)
                        .loads
                        .iter()
                        .find(|l| l.item == other)
                {
                    target = Some((b, plate, found.count));
                    break 'search;
                }
            }
        }
        let Some((b, second, there)) = target else {
            return false;
        };
        let count = i64::from(load.count.min(there));
        let count = if tools.chance(0.5) { count } else { 1 };
        let swapped = with(&with(&loads, load.item, -count), other, count);
        let of_second = state.plates.get(second).loads.clone();
        let back = with(&with(&of_second, other, -count), load.item, count);
        replace(shop, state, tools, edit, (a, first), &swapped)
            && replace(shop, state, tools, edit, (b, second), &back)
    }
}
