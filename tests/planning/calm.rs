//! A new plan keeps to the accepted one as far as that pays.

use beamyard::plan::Plan;
use beamyard::plan::audit::{Rule, audit_since};
use beamyard::progress::Progress;
use beamyard::scenario::Scenario;
use beamyard::units::{Minutes, Money};
use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;

use crate::again::rest;
use crate::moment::{accepted, later};
use crate::shops::small_shops;
use crate::support::{cases, planned};

/// A moment within a build at which no setup is under way: then all runs are started or are not.
fn quiet(shop: &Scenario, plan: &Plan, share: f64) -> DateTime<Utc> {
    let whole = (plan.finish - shop.build.start).num_minutes();
    let mut now = shop.build.start + TimeDelta::minutes((whole as f64 * share) as i64);
    loop {
        let busy = plan.runs.iter().find(|run| {
            run.setup
                .is_some_and(|setup| setup < now && now < run.start)
        });
        match busy {
            Some(run) => now = run.start,
            None => return now,
        }
    }
}

/// Each run that is to begin: where, when, and how many pieces.
fn queue(plan: &Plan, now: DateTime<Utc>) -> Vec<(usize, DateTime<Utc>, DateTime<Utc>, usize)> {
    let runs = plan.runs.iter().filter(|run| run.start > now);
    runs.map(|run| (run.machine.0, run.start, run.end, run.pieces.len()))
        .collect()
}

/// How many of a plan's runs after a moment another does not have on their machine within half a day, and of how many.
fn changed(before: &Plan, after: &Plan, now: DateTime<Utc>) -> (usize, usize) {
    let runs = before.runs.iter().filter(|run| run.start > now);
    let same = |run: &&beamyard::plan::Run| {
        after.runs.iter().any(|other| {
            let what = |run: &beamyard::plan::Run| {
                let mut what: Vec<_> = run.pieces.iter().map(|p| (p.part, p.of)).collect();
                what.sort_unstable();
                what
            };
            other.machine == run.machine
                && (other.start - run.start).abs() <= TimeDelta::hours(12)
                && what(other) == what(run)
        })
    };
    (
        runs.clone().count() - runs.clone().filter(same).count(),
        runs.count(),
    )
}

proptest! {
    #![proptest_config(cases(40))]

    #[test]
    fn with_no_news_the_plan_does_not_change_at_all(shop in small_shops(), share in 0.0..1.0f64) {
        let Ok(first) = planned(&shop, 1, 1_500) else { return Ok(()) };
        let now = quiet(&shop, &first.plan, share);
        let mut then = later(&shop, &first.plan, &Progress::none(&shop), now, |_| true);
        then.previous = Some(accepted(&first.plan, now));
        if then.now == shop.build.start && then.made.is_empty() && then.running.is_empty() {
            return Ok(());
        }
        let second = rest(&shop, &then, 1_500);
        prop_assert!(second.is_some());
        if let Some(second) = second {
            // Trial copies that are looked at later than the moment they were due at hold up the rest: that is news.
            prop_assert_eq!(queue(&first.plan, now), queue(&second, now));
            prop_assert_eq!(second.cost.calm.0, 0.0);
            prop_assert!(second.since.is_none_or(|since| since.changes.is_empty()));
        }
    }
}

fn scenario(name: &str) -> Scenario {
    let path = format!("{}/scenarios/{name}.yaml", env!("CARGO_MANIFEST_DIR"));
    match beamyard::scenario::read(path.as_ref()) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// Every so many runs of a plan are scrapped, each in its turn: the share of the other runs, of those that were still to begin, that
/// the plan made then changes.
fn share_changed(shop: &Scenario, every: usize, moves: u64) -> f64 {
    let first = planned(shop, 1, moves).expect("a plan").plan;
    let mut sums = (0, 0);
    for run in first.runs.iter().step_by(every) {
        let now = run.end;
        let mut then = later(shop, &first, &Progress::none(shop), now, |id| id != run.id);
        then.previous = Some(accepted(&first, now));
        let second = rest(shop, &then, moves).expect("a plan");
        let (moved, of) = changed(&first, &second, now);
        sums = (sums.0 + moved, sums.1 + of);
    }
    sums.0 as f64 / sums.1 as f64
}

#[test]
fn one_scrapped_run_changes_less_than_a_quarter_of_the_others() {
    for (shop, every, moves) in [
        (crate::tide_clock::shop(), 1, 4_000),
        (scenario("footbridge"), 5, 4_000),
        (scenario("quayside-crane"), 11, 4_000),
    ] {
        let share = share_changed(&shop, every, moves);
        eprintln!("{}: {share:.3}", shop.build.name);
        assert!(share < 0.25, "{}: {share}", shop.build.name);
    }
}

#[test]
fn firm_runs_stay_at_the_head_of_their_machines() {
    let shop = crate::tide_clock::shop();
    let first = planned(&shop, 1, 4_000).expect("a plan").plan;
    let lost = first.runs.iter().min_by_key(|run| run.end).expect("a run");
    let now = lost.end;
    let mut then = later(&shop, &first, &Progress::none(&shop), now, |id| {
        id != lost.id
    });
    then.previous = Some(accepted(&first, now));
    let second = rest(&shop, &then, 4_000).expect("a plan");
    let since = second.since.as_ref().expect("it is the rest");
    // The pieces that were lost come back on some run, which is listed.
    assert!(!since.changes.is_empty());
    assert!(since.changes.iter().all(|change| !change.why.is_empty()));
    let calm = since.churn.0 * since.changes.iter().filter(|c| c.to.is_some()).count() as f64;
    assert!(second.cost.calm.0 <= calm + 1e-9);
}

#[test]
fn the_scenario_says_how_long_runs_are_firm_and_what_a_change_costs() {
    let mut shop = crate::tide_clock::shop();
    let first = planned(&shop, 1, 4_000).expect("a plan").plan;
    let lost = first.runs.iter().min_by_key(|run| run.end).expect("a run");
    let now = lost.end;
    let mut then = later(&shop, &first, &Progress::none(&shop), now, |id| {
        id != lost.id
    });
    then.previous = Some(accepted(&first, now));
    shop.build.churn = Money(7.5);
    // All of it is firm: every run that was still to begin stays on its machine, in its order.
    shop.build.firm = Some(Minutes(60 * 24 * 30));
    let second = rest(&shop, &then, 4_000).expect("a plan");
    let (moved, _) = changed(&first, &second, now);
    assert_eq!(moved, 0);
    let mut since = second.since.clone().expect("it is the rest");
    assert_eq!(since.churn, Money(7.5));
    // Charged otherwise, the audit says so.
    since.churn = Money(1.0);
    let mut wrong = second.clone();
    wrong.since = Some(since);
    let faults = audit_since(&shop, &then, &wrong);
    assert!(
        faults.iter().any(|fault| fault.rule == Rule::Given),
        "{faults:?}"
    );
}
