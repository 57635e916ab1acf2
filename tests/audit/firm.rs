//! Firm runs of the accepted plan. What was accepted is changed rather than the plan: where the two differ, the plan has moved a run.

use std::collections::BTreeSet;

use beamyard::plan::Plan;
use beamyard::plan::Since;
use beamyard::plan::audit::{Rule, audit_since, recount_cost_since};
use beamyard::progress::{PreviousRun, Progress};
use beamyard::scenario::Scenario;
use beamyard::units::{Millimetres, Minutes, Money};
use chrono::{DateTime, TimeDelta, Utc};

use crate::moment::accepted;
use crate::tide_clock::{self, TALL, WIDE, at};

/// The rules that have a planted fault here.
pub const PLANTED: &[Rule] = &[Rule::Firm, Rule::RunIdsStay];

/// The good plan, planned again at the build's start from an accepted one that said the same; then one of them is changed.
fn expect(rules: &[Rule], breaking: impl FnOnce(&mut Scenario, &mut Plan, &mut Progress)) {
    let (mut shop, mut plan) = (tide_clock::shop(), tide_clock::plan());
    let mut progress = Progress::none(&shop);
    progress.previous = Some(accepted(&plan, at("10 00:00")));
    plan.since = Some(Since {
        now: shop.build.start,
        pieces: Vec::new(),
        running: Vec::new(),
        ended: Vec::new(),
        down: Vec::new(),
        complete: Vec::new(),
        churn: shop.build.churn,
        accepted: progress.previous.is_some(),
        differences: Vec::new(),
        kept: None,
        shifted: 0,
        yielded: Vec::new(),
        changes: Vec::new(),
    });
    breaking(&mut shop, &mut plan, &mut progress);
    if !rules.contains(&Rule::Cost) {
        plan.cost = recount_cost_since(&shop, &progress, &plan);
    }
    let faults = audit_since(&shop, &progress, &plan);
    let found = faults.iter().map(|fault| fault.rule);
    let found: BTreeSet<Rule> = found.filter(|rule| !crate::SHEETS.contains(rule)).collect();
    assert_eq!(found, rules.iter().copied().collect(), "{faults:#?}");
}

/// A run as it was accepted.
fn run<'a>(progress: &'a mut Progress, id: &str) -> &'a mut PreviousRun {
    let previous = progress.previous.as_mut().expect("a plan was accepted");
    let mut runs = previous.runs.iter_mut();
    runs.find(|run| run.id == id).expect("it has this run")
}

/// Another run than the plan has now, so that it was called otherwise.
fn otherwise(run: &mut PreviousRun) {
    run.id = format!("{}-then", run.id);
}

/// Sets when a run was to start; setup and end go with it.
fn start(run: &mut PreviousRun, start: DateTime<Utc>) {
    let by: TimeDelta = start - run.start;
    run.setup = run.setup.map(|setup| setup + by);
    (run.start, run.end) = (start, run.end + by);
}

/// The dial, which the plan prints on the tall machine, was to go onto the wide one, whose run ends 15:15.
fn dial_on_wide(progress: &mut Progress, moment: &str, y: f64) {
    let dial = run(progress, "tall-004");
    otherwise(dial);
    dial.machine = WIDE;
    dial.pieces[0].at[1] = Millimetres(y);
    start(dial, at(moment));
}

#[test]
fn a_plan_that_keeps_what_was_accepted_is_clean() {
    expect(&[], |_, _, _| {});
}

#[test]
fn a_firm_run_that_is_said_to_have_yielded_and_only_that() {
    for (said, rules) in [("tall-004", &[][..]), ("tall-003", &[Rule::Firm])] {
        expect(rules, |_, plan, progress| {
            start(run(progress, "tall-004"), at("11 18:50"));
            let since = plan.since.as_mut().expect("it is the rest");
            since.yielded.push(said.to_owned());
        });
    }
}

#[test]
fn a_firm_run_that_moved() {
    // The run before it ends 18:25 and the setup takes 15 min: it could start 18:50 as well as 18:40.
    expect(&[Rule::Firm], |_, _, progress| {
        start(run(progress, "tall-004"), at("11 18:50"));
    });
    // Not firm: it moved by ten minutes only, so nothing is charged.
    expect(&[], |shop, _, progress| {
        shop.build.firm = Some(Minutes(600));
        start(run(progress, "tall-004"), at("11 18:50"));
    });
    // As many minutes from now on as it says, this last one among them.
    expect(&[Rule::Firm], |shop, _, progress| {
        shop.build.firm = Some(Minutes(650));
        start(run(progress, "tall-004"), at("11 18:50"));
    });
}

#[test]
fn a_firm_run_that_could_not_start_when_it_was_to() {
    // Its setup would begin while the firm run before it prints.
    expect(&[], |_, _, progress| {
        start(run(progress, "tall-004"), at("11 18:39"));
    });
    // It would begin before now.
    expect(&[], |_, _, progress| {
        start(run(progress, "wide-001"), at("11 08:09"));
    });
    // The one pair of hands sets up the belt, which is firm too, from 08:20 on.
    expect(&[], |_, _, progress| {
        start(run(progress, "wide-001"), at("11 08:30"));
    });
    // With two pairs it could.
    expect(&[Rule::Firm], |shop, _, progress| {
        shop.bench.hands = beamyard::scenario::Hands::Count(2);
        start(run(progress, "wide-001"), at("11 08:30"));
    });
    // Nobody is there at 21:00; firm for a day.
    expect(&[], |shop, _, progress| {
        shop.build.firm = Some(Minutes(1440));
        start(run(progress, "tall-004"), at("11 21:00"));
    });
}

#[test]
fn a_firm_run_on_another_machine() {
    expect(&[Rule::Firm], |_, _, progress| {
        dial_on_wide(progress, "11 15:40", 100.0);
    });
    // The wide bed ends at 195 mm, and the dial would reach to 200.
    expect(&[], |_, _, progress| {
        dial_on_wide(progress, "11 15:40", 150.0);
    });
    // Out of use all day on the 12th.
    expect(&[], |shop, _, progress| {
        shop.build.firm = Some(Minutes(2880));
        dial_on_wide(progress, "12 15:40", 100.0);
    });
    // Without such an outage it could.
    expect(&[Rule::Firm], |shop, _, progress| {
        shop.build.firm = Some(Minutes(2880));
        shop.machines[WIDE.0].offline.clear();
        dial_on_wide(progress, "12 15:40", 100.0);
    });
}

#[test]
fn a_firm_run_with_other_pieces() {
    // Two of its three brackets were to be on it.
    expect(&[Rule::Firm], |_, _, progress| {
        let brackets = run(progress, "tall-003");
        otherwise(brackets);
        brackets.pieces.pop();
    });
    // A fifth bracket is not wanted any more.
    expect(&[], |_, _, progress| {
        let brackets = run(progress, "tall-003");
        otherwise(brackets);
        let mut fifth = brackets.pieces[0];
        fifth.piece.number = 5;
        fifth.at[1] = Millimetres(250.0);
        brackets.pieces.push(fifth);
    });
}

#[test]
fn a_firm_run_that_waits_for_a_trial() {
    // The brackets wait for the first of them, which is printed 09:00; the wide machine was to have them at 08:20.
    expect(&[], |_, _, progress| {
        let pillars = run(progress, "wide-001");
        otherwise(pillars);
        pillars.machine = TALL;
        start(pillars, at("14 10:00"));
        let brackets = run(progress, "tall-003");
        otherwise(brackets);
        brackets.machine = WIDE;
        for placed in &mut brackets.pieces {
            placed.at[1] = Millimetres(100.0);
        }
        start(brackets, at("11 08:20"));
    });
}

#[test]
fn a_change_that_is_not_charged() {
    // The dial was to start thirteen hours later, and is not firm: 1 EUR, and nothing more.
    let moved = |shop: &mut Scenario, plan: &mut Plan, progress: &mut Progress| {
        shop.build.firm = Some(Minutes::ZERO);
        start(run(progress, "tall-004"), at("12 07:40"));
        plan.cost = recount_cost_since(shop, progress, plan);
        assert_eq!(plan.cost.calm, Money(1.0));
    };
    expect(&[], moved);
    expect(&[Rule::Cost], |shop, plan, progress| {
        moved(shop, plan, progress);
        plan.cost.calm = Money::ZERO;
    });
    expect(&[Rule::Given], |shop, plan, progress| {
        moved(shop, plan, progress);
        plan.since.as_mut().expect("it is the rest").churn = Money(0.5);
    });
}

#[test]
fn a_run_that_is_called_otherwise_than_it_was_accepted() {
    expect(&[Rule::RunIdsStay], |_, plan, _| {
        let run = plan.runs.iter_mut().find(|run| run.id == "tall-004");
        run.expect("it has this run").id = "tall-099".into();
    });
    // A new run has the number of none that was accepted.
    expect(&[Rule::RunIds], |_, _, progress| {
        let previous = progress.previous.as_mut().expect("a plan was accepted");
        previous.runs.retain(|run| run.id != "tall-004");
        progress.machines[TALL.0].last_number = 4;
    });
}
