//! Two machines that want the same hands, or the same filament where it is short, change who is served first.
//!
//! Every other move dates the machines that it changes against the setups of those that it does not, which therefore keep
//! the hands and the filament that they once got.

use super::super::edit::Edit;
use super::super::shop::Shop;
use super::super::state::State;
use super::{Move, Tools, any_run, position_near};

/// From some moment on, another machine is set up first and this one sees what hands and filament are left.
pub struct Yield;

impl Move for Yield {
    fn name(&self) -> &'static str {
        "yield hands"
    }

    fn weight(&self) -> u32 {
        5
    }

    fn can_help(&self, shop: &Shop) -> bool {
        shop.contended() && shop.machines.len() > 1
    }

    fn draft(&self, _shop: &Shop, state: &mut State, tools: &mut Tools, edit: &mut Edit) -> bool {
        let Some((yields, from)) = any_run(state, tools) else {
            return false;
        };
        let other = tools.machine();
        let first = position_near(state, other, state.dates(yields)[from].setup);
        if other == yields || first == state.sheets[other].len() {
            return false;
        }
        edit.date_again(state, other, first);
        edit.date_again(state, yields, from);
        true
    }
}
