//! Whole runs change their place: a block of one to four moves, or two blocks change places.

use super::super::edit::Edit;
use super::super::shop::Shop;
use super::super::state::State;
use super::{Move, Tools, all_fit, any_run, around, position_near};

/// Longest block that moves as one.
const LONGEST: usize = 4;

/// A block goes elsewhere on its sheet or to another machine.
pub struct Relocate;

/// Two blocks change places.
pub struct Exchange;

/// Length of a block that begins at `from`: short ones more often.
fn block(tools: &mut Tools, from: usize, runs: usize) -> usize {
    let mut length = 1;
    while length < LONGEST && tools.chance(0.35) {
        length += 1;
    }
    length.min(runs - from)
}

impl Move for Relocate {
    fn name(&self) -> &'static str {
        "relocate"
    }

    fn weight(&self) -> u32 {
        40
    }

    fn can_help(&self, _shop: &Shop) -> bool {
        true
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((from, at)) = any_run(state, tools) else {
            return false;
        };
        let length = block(tools, at, state.sheets[from].len());
        let to = if tools.chance(0.35) {
            from
        } else {
            tools.machine()
        };
        if to == from {
            let runs = state.sheets[from].len();
            if runs == length {
                return false;
            }
            let target = if tools.chance(0.6) {
                around(tools, at, runs - length)
            } else {
                tools.below(runs - length + 1)
            };
            if target == at {
                return false;
            }
            let sheet = edit.sheet(state, from);
            // The runs between the old and the new place shift by the block's length.
            if target < at {
                sheet[target..at + length].rotate_right(length);
            } else {
                sheet[at..target + length].rotate_left(length);
            }
            return true;
        }
        let moved: Vec<u32> = state.sheets[from][at..at + length].to_vec();
        if !all_fit(shop, state, tools, &moved, to) {
            return false;
        }
        let centre = position_near(state, to, state.dates(from)[at].start);
        let target = around(tools, centre, state.sheets[to].len());
        edit.sheet(state, from).drain(at..at + length);
        let sheet = edit.sheet(state, to);
        sheet.splice(target..target, moved);
        true
    }
}

impl Move for Exchange {
    fn name(&self) -> &'static str {
        "exchange"
    }

    fn weight(&self) -> u32 {
        25
    }

    fn can_help(&self, _shop: &Shop) -> bool {
        true
    }

    fn draft(&self, shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((a, i)) = any_run(state, tools) else {
            return false;
        };
        let b = if tools.chance(0.3) {
            a
        } else {
            tools.machine()
        };
        let runs = state.sheets[b].len();
        if runs == 0 {
            return false;
        }
        let j = if tools.chance(0.6) {
            let centre = position_near(state, b, state.dates(a)[i].start);
            around(tools, centre, runs - 1)
        } else {
            tools.below(runs)
        };
        if a == b {
            if i == j {
                return false;
            }
            let (first, second) = (i.min(j), i.max(j));
            let k = block(tools, first, second);
            let l = block(tools, second, runs);
            let sheet = edit.sheet(state, a);
            let mut swapped = Vec::with_capacity(sheet.len());
            swapped.extend_from_slice(&sheet[..first]);
            swapped.extend_from_slice(&sheet[second..second + l]);
            swapped.extend_from_slice(&sheet[first + k..second]);
            swapped.extend_from_slice(&sheet[first..first + k]);
            swapped.extend_from_slice(&sheet[second + l..]);
            *sheet = swapped;
            return true;
        }
        let k = block(tools, i, state.sheets[a].len());
        let l = block(tools, j, runs);
        let of_a: Vec<u32> = state.sheets[a][i..i + k].to_vec();
        let of_b: Vec<u32> = state.sheets[b][j..j + l].to_vec();
        if !all_fit(shop, state, tools, &of_a, b) || !all_fit(shop, state, tools, &of_b, a) {
            return false;
        }
        edit.sheet(state, a).splice(i..i + k, of_b);
        edit.sheet(state, b).splice(j..j + l, of_a);
        true
    }
}
