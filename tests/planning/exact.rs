//! What the search reckons change by change is what the same sheets cost, and when they are dated, from nothing.

use beamyard::calendar::Calendar;
use beamyard::planning::{NoPlan, Options, Patience, plan};
use beamyard::routes::routes;
use beamyard::scenario::{Hands, Scenario};
use beamyard::search::construct::{RULES, construct};
use beamyard::search::dating::Dated;
use beamyard::search::edit::Edit;
use beamyard::search::fitter::Fitter;
use beamyard::search::moves::{self, Tools};
use beamyard::search::plate::Load;
use beamyard::search::portfolio::{Limit, Settings, Unwatched, search};
use beamyard::search::shop::Shop;
use beamyard::search::snapshot::Snapshot;
use beamyard::search::spares::spares_last;
use beamyard::search::state::State;
use beamyard::units::Grams;
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

use crate::shops::small_shops;
use crate::support::{SAME, cases};

/// Any small shop in which hands are never short: then the dates of a sheet are its own, in whatever order sheets are dated.
fn shops() -> impl Strategy<Value = Scenario> {
    small_shops().prop_map(|mut shop| {
        shop.bench.hands = Hands::Unlimited;
        shop
    })
}

fn numbers(scenario: &Scenario) -> Option<Shop> {
    let routes = routes(scenario);
    let made = routes.iter().all(|part| !part.forms.is_empty());
    made.then(|| Shop::new(scenario, Calendar::new(scenario), &routes))
}

/// The same sheets, with nothing known of them but what lies on each run: their cost, infinite where they cannot be dated, and their
/// dates.
fn afresh(shop: &Shop, fitter: &mut Fitter, state: &State) -> (f64, Vec<Vec<Dated>>) {
    let loads = |sheet: &Vec<u32>| -> Vec<Vec<Load>> {
        let plates = sheet.iter();
        plates
            .map(|&plate| state.plates.get(plate).loads.to_vec())
            .collect()
    };
    let sheets: Vec<Vec<Vec<Load>>> = state.sheets.iter().map(loads).collect();
    match State::of_sheets(shop, fitter, &sheets, &state.copies) {
        Some(again) => (again.cost(), dates(&again)),
        None => (f64::INFINITY, Vec::new()),
    }
}

fn dates(state: &State) -> Vec<Vec<Dated>> {
    let machines = 0..state.sheets.len();
    machines
        .map(|machine| state.dates(machine).to_vec())
        .collect()
}

/// Proposals made of each shop, every other one of those that can be dated being kept.
const PROPOSALS: usize = 200;

#[test]
fn a_changed_queue_costs_what_its_sheets_cost_from_nothing_and_one_taken_back_what_it_cost_before()
{
    let config = cases(80);
    let mut runner = TestRunner::new(config.clone());
    let (mut kept, mut taken_back, mut impossible) = (0u32, 0u32, 0u32);
    for case in 0..config.cases {
        let scenario = shops().new_tree(&mut runner).expect("it draws").current();
        let Some(shop) = numbers(&scenario) else {
            continue;
        };
        let mut fitter = Fitter::default();
        let rule = &RULES[case as usize % RULES.len()];
        let Some(mut state) = construct(&shop, &mut fitter, rule, i32::MAX) else {
            continue;
        };
        let mut tools = Tools {
            rng: Pcg64Mcg::seed_from_u64(u64::from(case)),
            fitter: Fitter::default(),
            machines: (0..shop.machines.len()).collect(),
        };
        let mut moves = moves::all();
        moves.retain(|change| change.can_help(&shop));
        let mut edit = Edit::default();
        for proposal in 0..PROPOSALS {
            let change = &moves[tools.below(moves.len())];
            edit.clear();
            if !change.draft(&shop, &mut state, &mut tools, &mut edit) {
                for plate in edit.fresh.drain(..) {
                    state.plates.release(plate);
                }
                continue;
            }
            let before = (state.cost(), dates(&state));
            let cost = state.propose(&shop, &mut edit);
            let name = change.name();
            let (expected, dated) = afresh(&shop, &mut fitter, &state);
            assert_eq!(
                cost.is_finite(),
                expected.is_finite(),
                "case {case}, proposal {proposal}, {name}: {cost}, from nothing {expected}"
            );
            if cost.is_finite() {
                assert!(
                    (cost - expected).abs() < SAME,
                    "case {case}, proposal {proposal}, {name}: {cost}, from nothing {expected}"
                );
                assert_eq!(dates(&state), dated, "case {case}, {proposal}, {name}");
            }
            if cost.is_finite() && proposal % 2 == 0 {
                state.keep(&mut edit);
                kept += 1;
                let set_aside = Snapshot::of(&state);
                let again = set_aside.restore(&shop, &mut fitter);
                assert!((again.cost() - cost).abs() < SAME);
                assert_eq!(dates(&again), dated);
            } else {
                state.take_back(&shop, &mut edit);
                taken_back += 1;
                impossible += u32::from(!cost.is_finite());
                // To the last digit: nothing of what was not taken is left.
                assert_eq!((state.cost(), dates(&state)), before);
                let (cost, dated) = afresh(&shop, &mut fitter, &state);
                assert!((cost - before.0).abs() < SAME, "case {case}, {name}");
                assert_eq!(dated, before.1);
            }
        }
    }
    eprintln!("{kept} kept, {taken_back} taken back, {impossible} of them impossible");
    let least = 10 * config.cases;
    assert!(kept >= least && taken_back >= least && impossible > 0);
}

#[test]
fn a_finished_plan_costs_what_the_search_says_its_queue_costs() {
    let config = cases(60);
    let mut runner = TestRunner::new(config.clone());
    let (mut plans, mut alike) = (0, 0);
    for case in 0..config.cases {
        let mut scenario = shops().new_tree(&mut runner).expect("it draws").current();
        // A spool that lasts, so that no run is put off for what comes after the search.
        for filament in &mut scenario.filaments {
            filament.spools = vec![Grams(1e6)];
            filament.spool = Grams(1e6);
        }
        let made = plan(
            &scenario,
            &Options {
                limit: Some(Limit::Moves(1_000)),
                patience: Patience::Rounds(0),
                ..Options::default()
            },
        );
        let made = match made {
            Ok(made) => made.plan,
            Err(NoPlan::NoRoute(_) | NoPlan::NoTime(_)) => continue,
            Err(fault) => panic!("{fault:?}"),
        };
        let shop = numbers(&scenario).expect("there is a plan");
        // Too short for a whole round: nothing is joined or proved.
        let found = search(
            &shop,
            &Settings {
                limit: Limit::Moves(1_000),
                seed: 1,
                without: &[],
                recombine: None,
                proven: None,
                least: f64::NEG_INFINITY,
                start: None,
                anew: false,
                apart: true,
                watch: &Unwatched,
            },
        );
        // Spares change places with copies that are waited for, on runs that stay as they are.
        let queue = spares_last(&shop, &found.expect("there is a plan").best);
        plans += 1;
        let at = |minute| shop.calendar.moment(minute);
        let runs = queue
            .sheets
            .iter()
            .enumerate()
            .flat_map(|(machine, sheet)| {
                let dates = sheet.iter().map(|run| run.date);
                dates.map(move |date| (machine, at(date.start), at(date.end)))
            });
        let planned = made.runs.iter();
        let planned = planned.map(|run| (run.machine.0, run.start, run.end));
        let (cost, said) = (made.cost.total().0, queue.cost());
        if runs.eq(planned) {
            alike += 1;
            assert!((cost - said).abs() < SAME, "case {case}: {cost} and {said}");
        } else {
            // Machines without work were given some afterwards, since that is cheaper.
            assert!(cost < said + SAME, "case {case}: {cost} and {said}");
        }
    }
    eprintln!("{alike} of {plans} as they were found");
    assert!(plans >= 30 && alike * 4 >= plans * 3, "{alike} of {plans}");
}
