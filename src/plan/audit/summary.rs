//! What a plan says in sum: its routes and its bound.
//!
//! Knows: copies, routes, the bound. Must not know: dates, plates.
//! Promises: totals are compared, never single runs.

use std::collections::BTreeMap;

use super::Faults;
use super::evidence::Evidence;
use super::gluing::lengths;
use super::rule::Rule;
use crate::routes::RouteKind;
use crate::scenario::PartIndex;

/// Money that rounding may lose, and the share of a large sum.
const MONEY: f64 = 0.005;
const SHARE: f64 = 1e-9;

pub(super) fn check(evidence: &Evidence, faults: &mut Faults) {
    check_sums(evidence, faults);
    check_joints(evidence, faults);
    check_bound(evidence, faults);
}

/// [`Rule::RoutesSum`].
fn check_sums(evidence: &Evidence, faults: &mut Faults) {
    // By part, kind and pieces per copy: copies that are made so, copies that the routes state.
    let mut sums: BTreeMap<(PartIndex, RouteKind, u32), (u64, u64)> = BTreeMap::new();
    for (&(part, _), pieces) in &evidence.copies {
        let key = (part, pieces[0].piece.route, lengths(pieces));
        sums.entry(key).or_default().0 += 1;
    }
    for route in &evidence.plan.routes {
        let key = (route.part, route.route, route.pieces);
        sums.entry(key).or_default().1 += u64::from(route.quantity);
    }
    for ((part, kind, pieces), (made, stated)) in sums {
        faults.require(made == stated, Rule::RoutesSum, || {
            format!(
                "{}: {made} copies are made {kind:?} of {pieces} pieces, its routes state {stated}",
                evidence.part_name(part)
            )
        });
    }
}

/// [`Rule::RouteJoint`].
fn check_joints(evidence: &Evidence, faults: &mut Faults) {
    for route in &evidence.plan.routes {
        let split = evidence.scenario.parts[route.part.0].split.as_ref();
        let several = route.pieces > 1;
        let joint = split.filter(|_| several).map(|split| split.joint);
        let right = (route.route == RouteKind::Split) == several && route.joint == joint;
        faults.require(right, Rule::RouteJoint, || {
            format!(
                "{}: the {:?} route of {} pieces has the wrong joint or name",
                evidence.part_name(route.part),
                route.route,
                route.pieces
            )
        });
    }
}

/// [`Rule::Bound`].
fn check_bound(evidence: &Evidence, faults: &mut Faults) {
    let plan = evidence.plan;
    let total = plan.cost.total().value();
    let slack = MONEY + SHARE * total.abs();
    for (low, low_name, high, high_name) in [
        (
            plan.bound.value(),
            "the bound",
            plan.decided.value(),
            "the cost that the plan decides",
        ),
        (
            plan.decided.value(),
            "the cost that the plan decides",
            total,
            "the whole cost",
        ),
    ] {
        faults.require(low <= high + slack, Rule::Bound, || {
            format!("{low_name} is {low}, {high_name} only {high}")
        });
    }
}
