//! Bench hours that go by before a run that waits for longer ones are used by what is short enough.
//!
//! Where a machine must be watched, a long run waits for hours that are long enough, and what stands behind it on the sheet
//! waits with it. A whole run that fits the hours in between may not exist: so one is made to their measure, of pieces of another.

use super::super::edit::Edit;
use super::super::plate::{Fit, Load, PlateId};
use super::super::shop::Shop;
use super::super::state::State;
use super::rebuild::fill;
use super::{Move, Tools, all_fit, any_run, around, position_near, replace, with};

/// Pieces of a run go on one of their own, before a run that waits on a machine that must be watched.
pub struct Backfill;

/// All pieces of a run go where hours are left: on runs of their own, or with others to the end of their hours. A run less to wait
/// for frees hours for all that stand behind it; a shorter one seldom does.
pub struct Spread;

/// Bench hours in a row that are looked at: those of about a week.
const WINDOWS: usize = 14;
/// Shorter hours are too short for a run.
const LEAST_ROOM: i32 = 20;
/// Places that are looked at for the pieces of a run.
const PLACES: usize = 24;

/// Whether any machine must be watched.
pub(super) fn watched(shop: &Shop) -> bool {
    shop.machines.iter().any(|machine| !machine.unattended)
}

impl Move for Backfill {
    fn name(&self) -> &'static str {
        "backfill"
    }

    fn weight(&self) -> u32 {
        20
    }

    fn can_help(&self, shop: &Shop) -> bool {
        watched(shop)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((from, at)) = any_run(state, tools) else {
            return false;
        };
        let source = state.sheets[from][at];
        let mut left = state.plates.get(source).loads.to_vec();
        let turn = tools.below(left.len());
        left.rotate_left(turn);
        let machine = tools.machine();
        let position = tools.below(state.sheets[machine].len() + 1);
        if !put_before(shop, state, tools, edit, (machine, position), &mut left) {
            return false;
        }
        left.sort_by_key(|load| load.item);
        replace(shop, state, tools, edit, (from, source), &left)
    }
}

impl Move for Spread {
    fn name(&self) -> &'static str {
        "spread a run"
    }

    fn weight(&self) -> u32 {
        10
    }

    fn can_help(&self, shop: &Shop) -> bool {
        watched(shop)
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((from, at)) = any_run(state, tools) else {
            return false;
        };
        let source = state.sheets[from][at];
        let mut left = state.plates.get(source).loads.to_vec();
        // Plates of other dates than the sheets say are not lengthened.
        let mut moved: Vec<PlateId> = vec![source];
        if tools.chance(0.5) {
            let Some(instead) = take_place(shop, state, tools, edit, (from, at)) else {
                return false;
            };
            moved.push(instead);
        }
        if !replace(shop, state, tools, edit, (from, source), &[]) {
            return false;
        }
        for _ in 0..PLACES {
            if left.is_empty() {
                return true;
            }
            let machine = tools.machine();
            let runs = state.sheets[machine].len();
            if shop.machines[machine].unattended {
                continue;
            }
            let position = tools.below(runs + 1);
            if position < runs && tools.chance(0.5) {
                let plate = state.sheets[machine][position];
                if !moved.contains(&plate)
                    && lengthen(shop, state, tools, edit, (machine, position), &mut left)
                {
                    moved.push(plate);
                }
            } else {
                put_before(shop, state, tools, edit, (machine, position), &mut left);
            }
        }
        left.is_empty()
    }
}

/// Puts a later run, of the same machine or another, in front of one that is to go; `None` if there is none that fits.
fn take_place(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    (machine, position): (usize, usize),
) -> Option<PlateId> {
    let other = if tools.chance(0.6) {
        machine
    } else {
        tools.machine()
    };
    let start = state.dates(machine)[position].start;
    let first = position_near(state, other, start + 1);
    let later = state.sheets[other].len().saturating_sub(first);
    if later == 0 {
        return None;
    }
    let from = first + tools.below(later);
    let moved = state.sheets[other][from];
    if !all_fit(shop, state, tools, &[moved], machine) {
        return None;
    }
    edit.sheet(state, other).remove(from);
    edit.sheet(state, machine).insert(position, moved);
    Some(moved)
}

/// Puts what fits of some pieces on a run in hours that nothing uses before a run; whether any did.
fn put_before(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    (machine, position): (usize, usize),
    left: &mut Vec<Load>,
) -> bool {
    let Some(first) = left.first() else {
        return false;
    };
    let filament = shop.items[first.item as usize].filament;
    let Some(room) = room_before(shop, state, tools, (machine, position), filament) else {
        return false;
    };
    let before = left.clone();
    let Some(filled) = fill(shop, state, tools, edit, left, machine, room) else {
        return false;
    };
    // One piece is laid out however long it takes.
    let fits = matches!(
        state.plates.fit(shop, &mut tools.fitter, filled, machine),
        Fit::Yes { minutes, .. } if minutes <= room
    );
    if !fits {
        *left = before;
        edit.fresh.retain(|&plate| plate != filled);
        state.plates.release(filled);
        return false;
    }
    let follows = state.sheets[machine].get(position).copied();
    let sheet = edit.sheet(state, machine);
    // The run that it goes before may have gone, or have been laid out anew, in the same draft.
    let place = follows.and_then(|plate| sheet.iter().position(|&p| p == plate));
    sheet.insert(place.unwrap_or(position.min(sheet.len())), filled);
    true
}

/// Adds what fits of some pieces to a run that ends before its bench hours do; whether any did.
fn lengthen(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    (machine, position): (usize, usize),
    left: &mut Vec<Load>,
) -> bool {
    let date = state.dates(machine)[position];
    let windows = shop.calendar.windows();
    let Some(window) = windows.get(shop.calendar.window_at_or_after(date.start)) else {
        return false;
    };
    let next = state.dates(machine).get(position + 1);
    let until = next.map_or(window.close, |next| next.setup.min(window.close));
    let (old, most) = (state.sheets[machine][position], until - date.start);
    let content = state.plates.get(old);
    let (loads, group) = (content.loads.to_vec(), content.group);
    let first = left.first().map(|load| &shop.items[load.item as usize]);
    if content.alone || first.is_none_or(|item| item.group != group || item.alone) {
        return false;
    }
    let mut all = loads;
    let mut best: Option<PlateId> = None;
    for load in left.iter_mut() {
        let mut step = load.count;
        while step > 0 && load.count > 0 {
            let count = step.min(load.count);
            let more = with(&all, load.item, i64::from(count));
            let tried = state.make(shop, &mut tools.fitter, edit, &more, machine);
            let short = tried.is_some_and(|plate| state.plates.known(plate, machine).0 <= most);
            let unused = if short { best } else { tried };
            if let Some(unused) = unused {
                edit.fresh.retain(|&plate| plate != unused);
                state.plates.release(unused);
            }
            if short {
                (best, all) = (tried, more);
                load.count -= count;
            } else {
                step = count / 2;
            }
        }
    }
    left.retain(|load| load.count > 0);
    let Some(plate) = best else { return false };
    edit.gone.push(old);
    // Nothing else in the draft has changed this run, so it is where it was but for runs put before it.
    if let Some(at) = edit.sheet(state, machine).iter().position(|&p| p == old) {
        edit.sheet(state, machine)[at] = plate;
    }
    true
}

/// Puts pieces of one load on a run to the measure of some bench hours near a moment, on a machine that must be watched; how many.
pub(super) fn put_in_hours(
    shop: &Shop,
    state: &mut State,
    tools: &mut Tools,
    edit: &mut Edit,
    load: Load,
    near: i32,
) -> Option<u32> {
    let machine = tools.machine();
    if shop.machines[machine].unattended {
        return None;
    }
    let centre = position_near(state, machine, near);
    let position = around(tools, centre, state.sheets[machine].len());
    let mut left = vec![load];
    put_before(shop, state, tools, edit, (machine, position), &mut left)
        .then(|| load.count - left.first().map_or(0, |left| left.count))
}

/// Minutes for a run of a filament in some bench hours that nothing on the machine uses before a run; `None` if there are no such.
fn room_before(
    shop: &Shop,
    state: &State,
    tools: &mut Tools,
    (machine, position): (usize, usize),
    filament: u32,
) -> Option<i32> {
    let m = &shop.machines[machine];
    if m.unattended {
        return None;
    }
    let (sheet, dates) = (&state.sheets[machine], state.dates(machine));
    let before = position.checked_sub(1);
    let free = before.map_or(0, |before| dates[before].end);
    let loaded = before.map_or(m.loaded, |before| state.plates.get(sheet[before]).filament);
    let until = dates.get(position).map_or(i32::MAX, |date| date.setup);
    let need = m.turnaround + if filament == loaded { 0 } else { m.swap };
    let first = shop.calendar.window_at_or_after(free);
    let windows = shop.calendar.windows().iter().skip(first).take(WINDOWS);
    let rooms: Vec<i32> = windows
        .take_while(|window| window.open < until)
        .map(|window| window.close.min(until) - window.open.max(free) - need)
        .filter(|&room| room >= LEAST_ROOM)
        .collect();
    (!rooms.is_empty()).then(|| rooms[tools.below(rooms.len())])
}
