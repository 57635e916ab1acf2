//! Filament that can be there only from a certain day on.

use std::collections::BTreeSet;

use beamyard::plan::Plan;
use beamyard::plan::audit::{Rule, audit_since};
use beamyard::progress::{Progress, Spool};
use beamyard::scenario::Scenario;
use beamyard::units::{Grams, Minutes};

use crate::tide_clock::{self, RED, at};

/// The rules that have a planted fault here.
pub const PLANTED: &[Rule] = &[Rule::OrderAhead, Rule::FilamentThere, Rule::FilamentWaited];

/// Breaks the good plan, asked for on the 5th: what is ordered then comes on the 10th, before the start.
fn expect(rules: &[Rule], breaking: impl FnOnce(&mut Scenario, &mut Plan, &mut Progress)) {
    let (mut shop, mut plan) = (tide_clock::shop(), tide_clock::plan());
    let mut progress = Progress::none(&shop);
    progress.orders_from = Some(at("05 08:00"));
    breaking(&mut shop, &mut plan, &mut progress);
    let faults = audit_since(&shop, &progress, &plan);
    let found = faults.iter().map(|fault| fault.rule);
    let found: BTreeSet<Rule> = found.filter(|rule| !crate::SHEETS.contains(rule)).collect();
    assert_eq!(found, rules.iter().copied().collect(), "{faults:#?}");
}

/// A spool of red.
fn bought(grams: f64, arrives: &str) -> Spool {
    Spool {
        id: "red-9".into(),
        grams: Grams(grams),
        on: None,
        arrives: Some(at(arrives)),
    }
}

/// 1000 g of red are on hand or come, for 720 g: nothing is ordered.
fn with_bought(plan: &mut Plan, progress: &mut Progress, arrives: &str) {
    progress.spools[RED.0].push(bought(500.0, arrives));
    let order = &mut plan.orders[RED.0];
    (order.on_hand, order.spools, order.order_by) = (Grams(1000.0), 0, None);
}

#[test]
fn a_plan_that_was_asked_for_in_time_is_clean() {
    expect(&[], |_, _, _| {});
}

#[test]
fn an_order_of_yesterday() {
    expect(&[Rule::OrderAhead], |shop, _, progress| {
        // It would come the day on which it is sent, but is to be sent on the 7th.
        shop.filaments[RED.0].lead = Minutes::ZERO;
        progress.orders_from = Some(at("08 08:00"));
    });
}

#[test]
fn runs_that_begin_before_their_filament_comes() {
    // 500 g are there, 720 g are taken on the 11th; 500 g more come on the 20th. (What was bought is something done, of which the
    // good plan says nothing.)
    expect(&[Rule::FilamentThere, Rule::Given], |_, plan, progress| {
        with_bought(plan, progress, "20 08:00");
        progress.orders_from = Some(at("08 08:00"));
    });
    // They come in time.
    expect(&[Rule::Given], |_, plan, progress| {
        with_bought(plan, progress, "11 08:00");
        progress.orders_from = Some(at("08 08:00"));
    });
}

#[test]
fn a_new_spool_that_cannot_have_come() {
    // Ordered on the 8th it comes on the 13th. Three faults: of the sum, of the spool, of the day.
    let rules = [Rule::FilamentThere, Rule::SpoolAllotted, Rule::OrderAhead];
    expect(&rules, |shop, plan, progress| {
        crate::money::provide_with(shop, plan, 0.03);
        progress.orders_from = Some(at("08 08:00"));
    });
}

#[test]
fn a_run_said_to_wait_for_what_comes_after_it() {
    expect(&[Rule::FilamentWaited], |_, plan, _| {
        plan.runs[0].waits = Some(at("11 08:01"));
    });
    expect(&[], |_, plan, _| {
        plan.runs[0].waits = Some(at("11 08:00"));
    });
}
