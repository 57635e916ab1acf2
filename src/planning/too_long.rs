//! Parts of which some piece, alone, is longer than any bench hours, where somebody must be there.
//!
//! Knows: routes, how long runs may be on each machine. Must not know: queues, words.
//! Promises: what is named can be made in no bench hours that come about once a month or more often.

use crate::routes::{Form, PartRoutes, TooLong};
use crate::scenario::PartIndex;
use crate::search::shop::Shop;
use crate::units::Minutes;

/// Parts of which each form has such a piece, whatever machine it is on.
pub(super) fn too_long(shop: &Shop, routes: &[PartRoutes]) -> Vec<TooLong> {
    let wanted = |part: PartIndex| {
        shop.classes
            .iter()
            .any(|class| class.part as usize == part.0)
    };
    let parts = routes.iter().filter(|part| wanted(part.part));
    parts.filter_map(|part| of_part(shop, part)).collect()
}

/// The form that comes nearest, if none can be made.
fn of_part(shop: &Shop, part: &PartRoutes) -> Option<TooLong> {
    let forms: Option<Vec<TooLong>> = part
        .forms
        .iter()
        .map(|form| {
            let pieces = (0..form.kinds.len()).filter_map(|kind| of_piece(shop, part, form, kind));
            pieces.max_by_key(short)
        })
        .collect();
    forms?.into_iter().min_by_key(short)
}

fn short(lacking: &TooLong) -> i64 {
    lacking.takes.value() - lacking.most.map_or(0, Minutes::value)
}

/// The machine on which a piece comes nearest, if it is too long on all.
fn of_piece(shop: &Shop, part: &PartRoutes, form: &Form, kind: usize) -> Option<TooLong> {
    let ways = form.ways.iter().filter(|way| way.kind == kind);
    let all: Option<Vec<TooLong>> = ways
        .map(|way| {
            let most = shop.machines[way.machine.0].longest;
            let most = most.map(|most| Minutes(i64::from(most)));
            let fits = most.is_some_and(|most| way.alone <= most);
            (!fits).then_some(TooLong {
                part: part.part,
                machine: way.machine,
                takes: way.alone,
                most,
            })
        })
        .collect();
    all?.into_iter().min_by_key(short)
}
