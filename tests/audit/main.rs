//! The audit, rule by rule: a good plan is broken in one way, and that rule must be reported, and no other.
//!
//! Each `planted!` block is a list of tests. `name: Rule => |shop, plan| { … }` breaks the shop or the plan;
//! `name: Rule + Other => …` says which further rules that one break cannot help breaking.

#[path = "../common/moment/mod.rs"]
mod moment;
#[path = "../common/shops/prism.rs"]
mod prism;
#[path = "../common/tide_clock/mod.rs"]
mod tide_clock;

use std::collections::BTreeSet;

use beamyard::plan::Plan;
use beamyard::plan::audit::{Rule, audit, is_clean, recount_cost};
use beamyard::scenario::Scenario;

/// The rules that an audit reports, each once, save those of the sheets.
fn broken(shop: &Scenario, plan: &Plan) -> BTreeSet<Rule> {
    let faults = audit(shop, plan);
    let rules = faults.iter().map(|fault| fault.rule);
    rules.filter(|rule| !SHEETS.contains(rule)).collect()
}

/// Rules of what follows from the rest of a plan: whatever else is broken breaks some of them too.
const SHEETS: [Rule; 5] = [
    Rule::HoursShown,
    Rule::DaySheets,
    Rule::TakenOff,
    Rule::Levels,
    Rule::Masses,
];

/// Breaks the good plan and expects exactly these rules. Its cost is added up again first, unless that is the break. Rules
/// of the sheets count only where one of them is planted.
fn expect(rules: &[Rule], breaking: impl FnOnce(&mut Scenario, &mut Plan)) {
    let (mut shop, mut plan) = (tide_clock::shop(), tide_clock::plan());
    breaking(&mut shop, &mut plan);
    if !rules.contains(&Rule::Cost) {
        plan.cost = recount_cost(&shop, &plan);
    }
    let faults = audit(&shop, &plan);
    let planted_sheet = rules.iter().any(|rule| SHEETS.contains(rule));
    let found: BTreeSet<Rule> = faults
        .iter()
        .map(|fault| fault.rule)
        .filter(|rule| planted_sheet || !SHEETS.contains(rule))
        .collect();
    assert_eq!(found, rules.iter().copied().collect(), "{faults:#?}");
}

macro_rules! planted {
    ($($name:ident: $rule:ident $(+ $also:ident)* => |$shop:tt, $plan:tt| $breaking:block)+) => {
        /// The rules that have a planted fault here.
        pub const PLANTED: &[beamyard::plan::audit::Rule] =
            &[$(beamyard::plan::audit::Rule::$rule),+];

        $(
            #[test]
            fn $name() {
                use beamyard::plan::audit::Rule;
                crate::expect(&[Rule::$rule, $(Rule::$also),*], |$shop, $plan| $breaking);
            }
        )+
    };
}

mod bench;
mod critical;
mod firm;
mod money;
mod nonsense;
mod pieces;
mod runs;
mod sheets;
mod spools;
mod supply;

#[test]
fn the_good_plan_is_clean() {
    let (shop, plan) = (tide_clock::shop(), tide_clock::plan());
    assert_eq!(audit(&shop, &plan), []);
    assert!(is_clean(&shop, &plan));
}

#[test]
fn every_rule_has_a_planted_fault() {
    let planted: BTreeSet<Rule> = [
        bench::PLANTED,
        firm::PLANTED,
        money::PLANTED,
        pieces::PLANTED,
        runs::PLANTED,
        sheets::PLANTED,
        spools::PLANTED,
        supply::PLANTED,
    ]
    .concat()
    .into_iter()
    .collect();
    let missing: Vec<&Rule> = Rule::ALL
        .iter()
        .filter(|rule| !planted.contains(rule))
        .collect();
    assert!(missing.is_empty(), "no planted fault: {missing:?}");
}
