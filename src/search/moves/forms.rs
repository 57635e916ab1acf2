//! A copy of a part is made another way: whole instead of split, in fewer lengths, on the belt.

use super::super::edit::Edit;
use super::super::plate::{Load, PlateId};
use super::super::shop::{ItemId, Shop};
use super::super::state::State;
use super::backfill::{put_in_hours, watched};
use super::{Move, Tools, add_run, any_run, replace, with};

/// Copies change from one form to another.
pub struct Reroute;

impl Move for Reroute {
    fn name(&self) -> &'static str {
        "reroute"
    }

    fn weight(&self) -> u32 {
        6
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.classes.iter().any(|class| class.items.len() > 1)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((machine, at)) = any_run(state, tools) else {
            return false;
        };
        let near = state.dates(machine)[at].start;
        let plate = state.plates.get(state.sheets[machine][at]);
        let old = plate.loads[tools.below(plate.loads.len())].item;
        let old = shop.items[old as usize].leader;
        let class = shop.class_of(old);
        if class.items.len() < 2 {
            return false;
        }
        let new = class.items[tools.below(class.items.len())];
        if new == old {
            return false;
        }
        let made = state.copies[old as usize];
        let copies = match tools.below(3) {
            0 => 1,
            1 => made,
            _ => 1 + tools.below(made as usize) as u32,
        };
        let pieces = |item: ItemId| copies * shop.items[item as usize].each;
        let off: Vec<(ItemId, u32)> = shop.team(old).map(|item| (item, pieces(item))).collect();
        if !take_off(shop, state, tools, edit, (machine, at), &off) {
            return false;
        }
        edit.copies.push((old, -(copies as i32)));
        edit.copies.push((new, copies as i32));
        shop.team(new)
            .all(|item| put_on(shop, state, tools, edit, item, pieces(item), near))
    }
}

/// Takes so many pieces of some items off the sheets, beginning at one run and going on by machine from there.
fn take_off(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    first: (usize, usize),
    wanted: &[(ItemId, u32)],
) -> bool {
    // Kinds of one copy may share a plate, which is replaced once: what comes off it is gathered first.
    type Off = (usize, PlateId, Vec<(ItemId, u32)>);
    let mut found: Vec<Off> = Vec::new();
    let mut left = wanted.to_vec();
    'search: for machine in tools.machines_from(first.0) {
        let sheet = &state.sheets[machine];
        let from = if machine == first.0 { first.1 } else { 0 };
        for i in 0..sheet.len() {
            let plate = sheet[(from + i) % sheet.len()];
            let loads = &state.plates.get(plate).loads;
            let mut off = Vec::new();
            for (item, left) in &mut left {
                let load = loads.iter().find(|load| load.item == *item);
                let count = load.map_or(0, |load| load.count.min(*left));
                if count > 0 {
                    off.push((*item, count));
                    *left -= count;
                }
            }
            if !off.is_empty() {
                found.push((machine, plate, off));
                if left.iter().all(|(_, left)| *left == 0) {
                    break 'search;
                }
            }
        }
    }
    left.iter().all(|(_, left)| *left == 0)
        && found.into_iter().all(|(machine, plate, off)| {
            let mut rest = state.plates.get(plate).loads.to_vec();
            for (item, count) in off {
                rest = with(&rest, item, -i64::from(count));
            }
            replace(shop, state, tools, edit, (machine, plate), &rest)
        })
}

/// Puts so many pieces of an item on new runs near a moment, as many to a run as fit.
fn put_on(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    item: ItemId,
    pieces: u32,
    near: i32,
) -> bool {
    let mut left = pieces;
    while left > 0 {
        // All together, or shared among machines from the beginning.
        let mut count = if tools.chance(0.5) {
            left
        } else {
            1 + tools.below(left as usize) as u32
        };
        if watched(shop)
            && tools.chance(0.5)
            && let Some(put) = put_in_hours(shop, state, tools, edit, Load { item, count }, near)
        {
            left -= put;
            continue;
        }
        while !add_run(shop, state, tools, edit, &[Load { item, count }], near) {
            if count == 1 {
                return false;
            }
            count = count.div_ceil(2);
        }
        left -= count;
    }
    true
}
