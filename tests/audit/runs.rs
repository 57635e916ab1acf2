//! Runs in time: names, lengths, setups, outages, attendance, files, trials.

use beamyard::plan::audit::Rule;
use beamyard::plan::{Plan, Run, Since, Trial};
use beamyard::scenario::{FilamentIndex, MachineIndex, PartIndex};
use beamyard::units::{Grams, Millimetres, Minutes, Money};
use chrono::Duration;

use crate::tide_clock::{
    BELT, BLUE, BRACKET, PILLAR, RAIL, RED, TALL, WIDE, at, plan, run, shop, span,
};

/// Says of these runs, rightly after a change of the hours, that they print with nobody there.
fn leave_alone(plan: &mut Plan, ids: &[&str]) {
    for id in ids {
        run(plan, id).alone = true;
    }
}

fn trial(part: PartIndex, printed: &str, approved: &str) -> Trial {
    Trial {
        part,
        printed: at(printed),
        approved: at(approved),
    }
}

planted! {
    a_plan_that_goes_on_from_what_has_not_been_done: Given => |shop, plan| {
        plan.since = Some(Since {
            now: shop.build.start,
            pieces: Vec::new(),
            running: Vec::new(),
            ended: Vec::new(),
            down: Vec::new(),
            complete: Vec::new(),
            churn: Money::ZERO,
            accepted: false,
            differences: Vec::new(),
            kept: None,
            shifted: 0,
            yielded: Vec::new(),
            changes: Vec::new(),
        });
    }
    a_run_said_to_be_attended_that_is_not: AloneSaid => |_, plan| {
        run(plan, "tall-004").alone = true;
    }
    a_trial_approved_before_it_is_printed: TrialListed => |_, plan| {
        plan.trials[0].approved = at("11 08:59");
    }
    a_trial_that_is_not_listed: TrialListed => |_, plan| {
        plan.trials.clear();
    }
    a_trial_that_there_is_not: TrialListed => |_, plan| {
        plan.trials.push(plan.trials[0].clone());
    }
    a_machine_that_does_not_exist: References => |_, plan| {
        plan.runs[0].machine = MachineIndex(3);
    }
    a_filament_that_does_not_exist: References => |_, plan| {
        plan.runs[0].swap_from = Some(Some(FilamentIndex(2)));
    }
    a_place_that_is_no_number: References => |_, plan| {
        plan.runs[0].pieces[0].x = Millimetres(f64::NAN);
    }
    half_a_minute: WholeMinutes => |_, plan| {
        let noon = at("11 12:00") + Duration::seconds(30);
        run(plan, "tall-002").spool.ends[0].at = noon;
    }
    a_setup_before_the_build_starts: NotBeforeStart => |shop, _| {
        shop.build.start = at("11 08:05");
    }
    two_runs_of_one_name: RunIds => |_, plan| {
        run(plan, "tall-002").id = "tall-001".into();
    }
    a_run_named_for_another_machine: RunIds => |_, plan| {
        run(plan, "wide-001").id = "tall-005".into();
    }
    a_number_of_two_digits: RunIds => |_, plan| {
        run(plan, "wide-001").id = "wide-01".into();
    }
    runs_out_of_order: RunOrder => |_, plan| {
        plan.runs.swap(5, 6);
    }
    a_run_of_nothing: RunHasPieces => |_, plan| {
        // Warm-up alone: 5 min.
        let empty = Run {
            id: "wide-002".into(),
            setup: Some(at("11 15:25")),
            start: at("11 15:35"),
            end: at("11 15:40"),
            minutes: Minutes(5),
            grams: Grams::ZERO,
            pieces: Vec::new(),
            ..run(plan, "wide-001").clone()
        };
        plan.runs.insert(5, empty);
    }
    minutes_that_do_not_match_the_dates: RunMinutes => |_, plan| {
        run(plan, "tall-001").minutes = Minutes(51);
    }
    a_run_a_minute_too_long: RunLength => |_, plan| {
        let dial = run(plan, "tall-004");
        (dial.end, dial.minutes) = (at("11 20:00"), Minutes(80));
        plan.assemblies[1].printed = at("11 20:00");
    }
    a_run_a_minute_too_short: RunLength => |_, plan| {
        let dial = run(plan, "tall-004");
        (dial.end, dial.minutes) = (at("11 19:58"), Minutes(78));
        plan.assemblies[1].printed = at("11 19:58");
    }
    a_gram_too_much: RunGrams => |_, plan| {
        run(plan, "tall-004").grams = Grams(53.97);
    }
    a_setup_before_the_plate_is_printed: OneRunAtATime => |_, plan| {
        // The run before ends at 16:05.
        let brackets = run(plan, "tall-003");
        brackets.setup = Some(at("11 16:00"));
        (brackets.start, brackets.end) = (at("11 16:10"), at("11 18:20"));
        plan.assemblies[0].printed = at("11 18:20");
    }
    a_belt_run_into_the_one_before: OneRunAtATime + SetupNeeded => |_, plan| {
        let rail = run(plan, "belt-002");
        (rail.start, rail.end) = (at("11 13:39"), at("11 18:44"));
    }
    a_belt_that_has_stood_and_starts_by_itself: SetupNeeded => |_, plan| {
        // The run before ends at 13:40; a minute later nobody has started it again.
        let rail = run(plan, "belt-002");
        (rail.start, rail.end) = (at("11 13:41"), at("11 18:46"));
    }
    a_bed_that_starts_by_itself: SetupNeeded => |_, plan| {
        run(plan, "tall-003").setup = None;
    }
    a_belt_whose_first_run_has_no_setup: SetupNeeded => |shop, plan| {
        shop.machines[BELT.0].loaded = Some(BLUE);
        shop.machines[BELT.0].purge = Grams::ZERO;
        let first = run(plan, "belt-001");
        (first.setup, first.swap_from) = (None, None);
        plan.orders[1].grams = Grams(464.97);
    }
    a_belt_that_changes_its_filament_by_itself: SetupNeeded + OneFilament + OrderGrams => |_, plan| {
        let second = run(plan, "belt-002");
        (second.filament, second.swap_from) = (RED, Some(Some(BLUE)));
    }
    a_colour_change_in_no_time: SetupLength => |_, plan| {
        run(plan, "tall-004").setup = Some(at("11 18:30"));
    }
    a_setup_when_the_bench_closes: SetupInWindow => |shop, plan| {
        // The last setup of the day is 18:25 to 18:40; the belt prints until 18:45.
        shop.bench.hours[0] = vec![span(480, 1110)];
        leave_alone(plan, &["tall-004", "belt-002"]);
    }
    a_setup_across_a_break: SetupInWindow + Attended => |shop, plan| {
        // Nobody is there from 08:15 to 08:16, while the wide machine is set up, which may not run alone either.
        shop.bench.hours[0] = vec![span(480, 495), span(496, 1200)];
        leave_alone(plan, &["tall-001"]);
    }
    a_change_that_is_not_told: SwapFrom => |_, plan| {
        run(plan, "tall-004").swap_from = None;
    }
    a_change_from_the_wrong_filament: SwapFrom => |_, plan| {
        run(plan, "belt-001").swap_from = Some(Some(RED));
    }
    a_run_into_an_outage: Offline => |shop, _| {
        shop.machines[WIDE.0].offline[0].from = at("11 15:14");
    }
    a_setup_in_an_outage: Offline => |shop, _| {
        let outage = &mut shop.machines[WIDE.0].offline[0];
        (outage.from, outage.to) = (at("11 07:00"), at("11 08:11"));
    }
    a_run_that_nobody_may_leave_alone: Attended => |shop, plan| {
        // Set up 18:25 to 18:40, printed at 19:59.
        shop.bench.hours[0] = vec![span(480, 1140)];
        shop.machines[TALL.0].unattended = false;
        leave_alone(plan, &["tall-004"]);
    }
    a_start_before_the_file_is_ready: Ready => |shop, _| {
        shop.parts[BRACKET.0].ready = Some(at("11 08:11"));
    }
    more_copies_beside_the_trial: Trial => |shop, plan| {
        // The second copy lies on one plate with the third and the fourth.
        shop.parts[BRACKET.0].trial = 2;
        plan.trials[0] = trial(BRACKET, "11 18:25", "11 18:25");
    }
    a_belt_that_goes_on_before_anybody_approves: Trial => |shop, plan| {
        // The first rail is printed at 13:40; somebody is back at 14:00; the second starts at 13:40.
        shop.parts[RAIL.0].trial = 1;
        shop.bench.hours[0] = vec![span(480, 810), span(840, 1200)];
        shop.machines[WIDE.0].unattended = true;
        leave_alone(plan, &["tall-002", "wide-001", "belt-001", "belt-002"]);
        plan.trials.push(trial(RAIL, "11 13:40", "11 14:00"));
    }
}

#[test]
fn touching_spans_are_no_break() {
    // The bench is written 08:00-10:00, 10:00-20:00; two minutes of work across 10:00 are inside one window.
    let (shop, mut plan) = (shop(), plan());
    let spare = &mut plan.spare_work[0].work[0];
    (spare.from, spare.to) = (at("12 09:59"), at("12 10:01"));
    assert_eq!(crate::broken(&shop, &plan), [].into());
}

#[test]
fn a_belt_does_not_go_on_in_the_minute_in_which_somebody_is_to_approve() {
    // The first rail is printed at 13:40 in bench hours, the second starts at 13:40 by itself: nobody has looked at it.
    let (mut shop, mut plan) = (shop(), plan());
    shop.parts[RAIL.0].trial = 1;
    plan.trials.push(trial(RAIL, "11 13:40", "11 13:40"));
    assert_eq!(crate::broken(&shop, &plan), [Rule::Trial].into());
}

#[test]
fn an_outage_may_end_as_a_setup_begins_and_begin_as_a_run_ends() {
    let (mut shop, plan) = (shop(), plan());
    let mut before = shop.machines[WIDE.0].offline[0].clone();
    (before.from, before.to) = (at("11 00:00"), at("11 08:10"));
    shop.machines[WIDE.0].offline.insert(0, before);
    shop.machines[WIDE.0].offline[1].from = at("11 15:15");
    assert_eq!(crate::broken(&shop, &plan), [].into());
}

#[test]
fn measured_minutes_and_grams_are_of_a_whole_copy_and_shared_by_its_lengths() {
    // A pillar weighs 300 g, as estimated. Measured at 410 min it needs 2 × 205 min and no layers: with 5 min of
    // warm-up 415 min, as estimated too.
    let (mut shop, plan) = (shop(), plan());
    shop.parts[PILLAR.0].grams = Some(Grams(300.0));
    shop.parts[PILLAR.0].minutes[TALL.0] = Some(410.0);
    assert_eq!(crate::broken(&shop, &plan), [].into());

    shop.parts[PILLAR.0].minutes[TALL.0] = Some(412.0);
    assert_eq!(crate::broken(&shop, &plan), [Rule::RunLength].into());
}
