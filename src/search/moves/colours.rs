//! Runs of one colour on a machine come together, so that it is changed once.

use super::super::edit::Edit;
use super::super::shop::Shop;
use super::super::state::State;
use super::{Move, Tools, any_run};

/// All runs of one filament within a stretch of a sheet go next to one of them.
pub struct Gather;

/// Longest stretch that is looked at, in runs.
const STRETCH: usize = 12;

impl Move for Gather {
    fn name(&self) -> &'static str {
        "gather colours"
    }

    fn weight(&self) -> u32 {
        4
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.filaments > 1
    }

    fn draft(&self, _shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((machine, at)) = any_run(state, tools) else {
            return false;
        };
        let sheet = &state.sheets[machine];
        let filament = state.plates.get(sheet[at]).filament;
        let end = (at + 2 + tools.below(STRETCH)).min(sheet.len());
        let (same, other): (Vec<u32>, Vec<u32>) = sheet[at..end]
            .iter()
            .partition(|&&p| state.plates.get(p).filament == filament);
        if same.len() < 2 || other.is_empty() {
            return false;
        }
        // The colour first, or last: at the start of the stretch or at its end.
        let gathered: Vec<u32> = if tools.chance(0.6) {
            same.into_iter().chain(other).collect()
        } else {
            other.into_iter().chain(same).collect()
        };
        if gathered == sheet[at..end] {
            return false;
        }
        edit.sheet(state, machine)[at..end].copy_from_slice(&gathered);
        true
    }
}
