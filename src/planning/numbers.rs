//! Which copy each piece of a queue is of.
//!
//! Knows: the queue, the shop, copies that exist. Must not know: dates of the bench, costs.
//! Promises: copies are numbered in the order in which they are printed, trial copies first; what exists keeps its number.

use std::collections::HashMap;

use crate::calendar::Minute;
use crate::search::fitter::Laid;
use crate::search::shop::{Item, ItemId, positions};
use crate::search::snapshot::Snapshot;

use super::finish::Ground;

/// A piece's number: which copy, which length.
pub(super) type Number = (u32, u32);

/// The numbers of each item's copies, by its team's first; trial copies have the first numbers of their part, and what exists
/// keeps its own.
pub(super) fn number_copies(ground: &Ground, queue: &Snapshot) -> HashMap<ItemId, Vec<u32>> {
    let shop = ground.shop;
    let mut free: Vec<_> = (0..ground.scenario.parts.len())
        .map(|part| {
            let taken = ground.rest.map(|rest| rest.taken[part].clone());
            let taken = taken.unwrap_or_default();
            // Once one of its variants is chosen, no copy is called what another is called by.
            let variants = match ground.trial(part) {
                0 => ground.scenario.parts[part].variants.len() as u32,
                _ => 0,
            };
            (1..)
                .filter(move |number| *number > variants && !taken.contains(number))
                .peekable()
        })
        .collect();
    let mut classes: Vec<usize> = (0..shop.classes.len()).collect();
    classes.sort_by_key(|&c| (shop.classes[c].part, !shop.classes[c].is_trial, c));
    let mut numbers = HashMap::new();
    for class in classes {
        let class = &shop.classes[class];
        let part = class.part as usize;
        for &leader in &class.items {
            let copies = queue.copies[leader as usize];
            let list: Vec<u32> = match &class.open {
                Some(open) => vec![open.number; copies as usize],
                None => {
                    // What waits for a trial has none of the trial's numbers.
                    if class.trial.is_some() && !class.is_trial {
                        while free[part].next_if(|&n| n <= ground.trial(part)).is_some() {}
                    }
                    free[part].by_ref().take(copies as usize).collect()
                }
            };
            numbers.insert(leader, list);
        }
    }
    numbers
}

/// Which copies and lengths lie on each run, by machine, position and item; the first to be handed out last in the list.
pub(super) fn number_pieces(
    ground: &Ground,
    queue: &Snapshot,
    copies: &HashMap<ItemId, Vec<u32>>,
) -> HashMap<(usize, usize, ItemId), Vec<Number>> {
    let shop = ground.shop;
    let mut by_item: Vec<Vec<(Minute, usize, usize, u32)>> = vec![Vec::new(); shop.items.len()];
    for (machine, sheet) in queue.sheets.iter().enumerate() {
        for (position, run) in sheet.iter().enumerate() {
            for load in run.loads.iter() {
                by_item[load.item as usize].push((run.date.end, machine, position, load.count));
            }
        }
    }
    let mut numbers: HashMap<(usize, usize, ItemId), Vec<Number>> = HashMap::new();
    // Of every kind of piece the first to be printed are the first copy's.
    for (id, ends) in by_item.iter_mut().enumerate() {
        let Item {
            form, kind, leader, ..
        } = shop.items[id];
        let class = shop.class_of(id as ItemId);
        let form = &ground.routes[class.part as usize].forms[form as usize];
        let positions = positions(class, &form.kinds[kind as usize].positions);
        let Some(copies) = copies.get(&leader) else {
            continue;
        };
        ends.sort_unstable();
        let mut pieces = copies
            .iter()
            .flat_map(|&copy| positions.iter().map(move |&length| (copy, length)));
        for &(_, machine, position, count) in ends.iter() {
            let list = numbers
                .entry((machine, position, id as ItemId))
                .or_default();
            list.extend(pieces.by_ref().take(count as usize));
        }
    }
    for list in numbers.values_mut() {
        list.reverse();
    }
    numbers
}

/// Places of like pieces that differ by less across rows are in one row: less than any two pieces behind each other, mm.
const ROW: f64 = 5.0;

/// Like pieces in the order in which one looks for them on a map: row by row from the back left corner; on a belt as they come.
pub(super) fn in_reading_order(laid: &mut [Laid], belt: bool) {
    // The front is at the foot of a map.
    let down = |place: &Laid| if belt { place.y } else { -place.y };
    laid.sort_by(|a, b| a.item.cmp(&b.item).then(down(a).total_cmp(&down(b))));
    for like in laid.chunk_by_mut(|a, b| a.item == b.item) {
        let mut rest = like;
        while let Some(first) = rest.first() {
            let end = down(first) + ROW;
            let count = rest.partition_point(|place| down(place) < end);
            let (row, others) = rest.split_at_mut(count);
            row.sort_by(|a, b| a.x.total_cmp(&b.x));
            rest = others;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copies_are_numbered_as_one_reads_a_map() {
        let at = |x: f64, y: f64| Laid {
            item: 0,
            way: 0,
            x,
            y,
            turn: 0.0,
        };
        let places = |belt: bool| {
            let mut laid = [
                at(10.0, 20.0),
                at(60.0, 18.0),
                at(40.0, 80.0),
                at(20.0, 76.5),
            ];
            in_reading_order(&mut laid, belt);
            laid.map(|place| place.x as i32)
        };
        // On a bed the back row first, which is the upper one on its map; a few millimetres make no row.
        assert_eq!(places(false), [20, 40, 10, 60]);
        // A belt carries off first what lies nearest to its start.
        assert_eq!(places(true), [10, 60, 20, 40]);
    }
}
