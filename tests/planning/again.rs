//! Planning the rest of a build from what has been done.

use beamyard::plan::Plan;
use beamyard::plan::audit::{Rule, audit_since, recount_cost_since};
use beamyard::planning::{NoPlan, Options, again};
use beamyard::progress::{MachineState, Progress};
use beamyard::scenario::{PartIndex, Scenario};
use beamyard::search::portfolio::Limit;
use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;

use crate::moment::later;
use crate::shops::small_shops;
use crate::support::{SAME, cases, planned};

/// Plans the rest with so many moves; a plan that comes out has passed its audit, and costs what is left of it.
pub fn rest(shop: &Scenario, progress: &Progress, moves: u64) -> Option<Plan> {
    let made = again(
        shop,
        progress,
        &Options {
            limit: Some(Limit::Moves(moves)),
            ..Options::default()
        },
    );
    match made {
        Ok(made) => {
            let counted = recount_cost_since(shop, progress, &made.plan).total().0;
            assert!((made.plan.cost.total().0 - counted).abs() < SAME);
            assert!(made.plan.bound.0 <= made.plan.decided.0 + SAME);
            Some(made.plan)
        }
        Err(NoPlan::NoTime(_)) => None,
        Err(other) => panic!("{other:?}"),
    }
}

/// The moment at a share of the time from a plan's first setup to its end.
fn moment(shop: &Scenario, plan: &Plan, share: f64) -> DateTime<Utc> {
    let ends = plan.runs.iter().map(|run| run.end).chain([plan.finish]);
    let whole = ends
        .max()
        .map_or(0, |end| (end - shop.build.start).num_minutes());
    shop.build.start + TimeDelta::seconds((whole as f64 * share * 60.0) as i64)
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn the_rest_of_any_build_is_planned_from_any_moment(
        shop in small_shops(),
        share in 0.0..1.1f64,
        fate in any::<u64>(),
        down in prop::option::of(1..4000i64),
    ) {
        let Ok(first) = planned(&shop, 1, 1_000) else { return Ok(()) };
        let now = moment(&shop, &first.plan, share);
        // One run in eight is scrapped, drawn by its name.
        let mut failed = 0;
        let good = |id: &str| {
            let drawn = id.bytes().fold(fate, |sum, byte| {
                (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
            });
            failed += usize::from(drawn % 8 == 0);
            drawn % 8 != 0
        };
        let none = Progress::none(&shop);
        let mut then = later(&shop, &first.plan, &none, now, good);
        if let Some(minutes) = down {
            then.machines[0].down_until = Some(now + TimeDelta::minutes(minutes));
        }
        let Some(second) = rest(&shop, &then, 600) else { return Ok(()) };
        for run in &second.runs {
            prop_assert!(run.setup.unwrap_or(run.start) >= now);
        }
        // With nothing lost and all machines up, what is left is no more than was planned from here on.
        if failed == 0 && down.is_none() {
            let before = first.plan.runs.iter().filter(|run| run.start > now);
            let pieces: usize = before.map(|run| run.pieces.len()).sum();
            let whole: usize = second.runs.iter().map(|run| run.pieces.len()).sum();
            let splits = shop.parts.iter().any(|part| part.split.is_some());
            prop_assert!(splits || whole == pieces, "{whole} pieces are planned, {pieces} were left");
        }
        // And once more, halfway through the rest.
        let halfway = now + (second.finish.max(now) - now) / 2;
        let third = later(&shop, &second, &then, halfway, |_| true);
        rest(&shop, &third, 300);
    }
}

/// A shop with one part of a dozen copies, half of them made.
fn half_done(shop: &Scenario) -> Option<(Plan, Progress)> {
    let first = planned(shop, 1, 1_000).ok()?.plan;
    let now = moment(shop, &first, 0.5);
    let then = later(shop, &first, &Progress::none(shop), now, |_| true);
    Some((first, then))
}

#[test]
fn nothing_done_is_a_plan_from_the_start() {
    let shop = crate::tide_clock::shop();
    let one = planned(&shop, 1, 2_000).expect("a plan").plan;
    let other = rest(&shop, &Progress::none(&shop), 2_000).expect("a plan");
    assert!(other.since.is_none());
    assert_eq!(format!("{one:?}"), format!("{other:?}"));
}

#[test]
fn what_is_done_is_neither_printed_nor_charged_again() {
    let shop = crate::tide_clock::shop();
    let (first, then) = half_done(&shop).expect("a plan");
    assert!(!then.made.is_empty());
    let second = rest(&shop, &then, 2_000).expect("a plan");
    let printed = |plan: &Plan| plan.sums().printed.0;
    let made: usize = then.made.len() + then.running.iter().map(|r| r.pieces.len()).sum::<usize>();
    let pieces = |plan: &Plan| plan.runs.iter().map(|r| r.pieces.len()).sum::<usize>();
    assert_eq!(pieces(&second) + made, pieces(&first));
    assert!(printed(&second) < printed(&first));
    assert!(second.cost.plastic.0 < first.cost.plastic.0);
}

#[test]
fn a_scrapped_run_comes_back() {
    let shop = crate::tide_clock::shop();
    let first = planned(&shop, 1, 2_000).expect("a plan").plan;
    let run = first
        .runs
        .iter()
        .min_by_key(|run| run.end)
        .expect("a run")
        .clone();
    let good = later(&shop, &first, &Progress::none(&shop), run.end, |_| true);
    let bad = later(&shop, &first, &Progress::none(&shop), run.end, |id| {
        id != run.id
    });
    let pieces = |then: &Progress| {
        let plan = rest(&shop, then, 1_000).expect("a plan");
        plan.runs.iter().map(|r| r.pieces.len()).sum::<usize>()
    };
    assert_eq!(pieces(&bad), pieces(&good) + run.pieces.len());
}

#[test]
fn a_machine_that_is_down_is_set_up_only_after() {
    let shop = crate::tide_clock::shop();
    let until = shop.build.start + TimeDelta::days(2);
    let mut then = Progress::none(&shop);
    then.machines[0] = MachineState {
        down_until: Some(until),
        ..then.machines[0]
    };
    let plan = rest(&shop, &then, 1_000).expect("a plan");
    let first = plan.runs.iter().filter(|run| run.machine.0 == 0);
    assert!(
        first
            .map(|run| run.setup.unwrap_or(run.start))
            .all(|at| at >= until)
    );
}

#[test]
fn a_plan_that_forgets_what_is_there_fails_its_audit() {
    let shop = crate::tide_clock::shop();
    let (first, then) = half_done(&shop).expect("a plan");
    let faults = audit_since(&shop, &then, &first);
    assert!(faults.iter().any(|fault| fault.rule == Rule::Given));
    let mut second = rest(&shop, &then, 500).expect("a plan");
    let since = second.since.as_mut().expect("it is the rest");
    since.pieces.pop().expect("pieces are there");
    let faults = audit_since(&shop, &then, &second);
    assert!(!faults.is_empty());
}

#[test]
fn rejected_trial_copies_are_printed_again_before_the_rest() {
    let mut shop = crate::tide_clock::shop();
    let part = (0..shop.parts.len())
        .max_by_key(|&p| shop.parts[p].quantity)
        .expect("parts");
    assert!(shop.parts[part].quantity > 2);
    shop.parts[part].trial = 1;
    let first = planned(&shop, 1, 1_000).expect("a plan").plan;
    let trial = first.trials[0].clone();
    assert_eq!(trial.part, PartIndex(part));
    let mut then = later(&shop, &first, &Progress::none(&shop), trial.printed, |_| {
        true
    });
    then.trials[part].approved = None;
    let rests = |plan: &Plan| -> Vec<(DateTime<Utc>, u32)> {
        let runs = plan.runs.iter().flat_map(|run| {
            let from = run.setup.unwrap_or(run.start);
            run.pieces
                .iter()
                .filter(|p| p.part.0 == part)
                .map(move |p| (from, p.number))
        });
        runs.collect()
    };
    // Printed and waiting: the rest may go from when somebody is there, and the trial is not printed again.
    let waiting = rest(&shop, &then, 1_000).expect("a plan");
    assert!(
        rests(&waiting)
            .iter()
            .all(|&(from, number)| number > 1 && from >= trial.approved)
    );
    // Approved: the rest may go at once.
    let mut approved = then.clone();
    approved.trials[part].approved = Some(trial.printed);
    let going = rest(&shop, &approved, 1_000).expect("a plan");
    assert!(going.trials.is_empty() && rests(&going).iter().all(|&(_, number)| number > 1));
    // Rejected: number 1 comes back as a trial, and all others wait for it.
    then.made
        .retain(|made| (made.piece.part.0, made.piece.number) != (part, 1));
    then.trials[part].rejected = 1;
    let again = rest(&shop, &then, 1_000).expect("a plan");
    assert_eq!(again.trials[0].part, PartIndex(part));
    let tried = rests(&again)
        .iter()
        .filter(|(_, number)| *number == 1)
        .count();
    assert!(tried > 0);
    let after = again.trials[0].approved;
    assert!(
        rests(&again)
            .iter()
            .all(|&(from, number)| number == 1 || from >= after)
    );
}

#[test]
fn a_belt_that_prints_leaves_a_bound() {
    let text = "
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 2}
bench: {hours: {mon-sun: [\"07:00-22:00\"]}}
machines: [{id: belt, kind: belt, section: [200, 200], longest: 1000, hourly: 0.5, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [3000]}, {id: red, material: PLA, spools: [3000]}]
parts:
  - {id: beam, size: [600, 60, 40], quantity: 5, filament: grey, belt: allowed, alone: true}
  - {id: rail, size: [500, 40, 40], quantity: 3, filament: red, belt: allowed, alone: true}
";
    let shop = match beamyard::scenario::read_text("belt.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let first = planned(&shop, 1, 2_000).expect("a plan").plan;
    let now = moment(&shop, &first, 0.3);
    let then = later(&shop, &first, &Progress::none(&shop), now, |_| true);
    assert_eq!(then.running.len(), 1, "the belt prints");
    let second = rest(&shop, &then, 2_000).expect("a plan");
    // At least the machine's hours of what is left, at 0.5 an hour.
    let hours: i64 = second.runs.iter().map(|run| run.minutes.0).sum();
    let printing = hours as f64 / 60.0 * 0.5;
    assert!(
        second.bound.0 > 0.5 * printing,
        "{} of {printing}",
        second.bound.0
    );
    assert!(second.bound.0 <= second.decided.0);
}

#[test]
fn nothing_follows_by_itself_a_run_that_stands_for_want_of_filament() {
    let text = "
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 2}
bench: {hours: {mon-sun: [\"07:00-22:00\"]}}
machines: [{id: belt, kind: belt, section: [200, 200], longest: 1000, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [5000]}]
parts: [{id: beam, size: [600, 60, 40], quantity: 3, filament: grey, alone: true}]
";
    let shop = match beamyard::scenario::read_text("belt.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let first = planned(&shop, 1, 200).expect("a plan").plan;
    let now = first.runs[0].start + TimeDelta::minutes(10);
    let mut then = later(&shop, &first, &Progress::none(&shop), now, |_| true);
    let mut follows = rest(&shop, &then, 200).expect("a plan");
    assert_eq!(follows.runs[0].setup, None);
    then.running[0].stops = Some(now);
    let stands = rest(&shop, &then, 200).expect("a plan");
    assert!(stands.runs[0].setup.is_some());
    // The audit knows it by itself.
    for run in follows
        .since
        .iter_mut()
        .flat_map(|since| &mut since.running)
    {
        run.stops = Some(now);
    }
    let faults = audit_since(&shop, &then, &follows);
    assert!(faults.iter().any(|fault| fault.rule == Rule::SetupNeeded));
}

const BENCH: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["18:00-22:00"]}, hands: 1}
machines:
  - {id: one, kind: bed, bed: [200, 200], height: 200, materials: [PLA], loaded: grey}
filaments: [{id: grey, material: PLA, spools: [5000]}]
parts:
  - {id: lid, size: [150, 150, 30], quantity: 2, filament: grey, minutes: {one: 300}, finishing: 15 min}
assemblies:
  - {id: box, parts: {lid: 2}, bench: 3 h, cure: 2 h}
"#;

#[test]
fn bench_work_that_is_done_on_what_was_started_is_not_done_again() {
    let reading = beamyard::scenario::read_text("bench.yaml", BENCH, std::path::Path::new("."));
    let shop = match reading {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let first = planned(&shop, 1, 300).expect("a plan").plan;
    // Half an hour of finishing and three hours of work, from the first evening's hours after the prints on.
    let printed = first.runs.iter().map(|run| run.end).max().expect("a run");
    let evening = first.assemblies[0].start;
    assert!(evening >= printed);
    let complete = |minutes: i64, started: Option<DateTime<Utc>>| {
        let now = evening + TimeDelta::minutes(minutes);
        let mut then = later(&shop, &first, &Progress::none(&shop), now, |_| true);
        then.assemblies[0].started = started;
        then.assemblies[0].complete = None;
        let plan = rest(&shop, &then, 300).expect("a plan");
        assert_eq!(audit_since(&shop, &then, &plan), []);
        (plan.assemblies[0].complete - evening).num_minutes()
    };
    let whole = 30 + 180 + 120;
    let day = 24 * 60;
    // The hours end at 22:00: what is begun at 18:00 is done in them, and what was begun an hour later, too.
    assert_eq!(complete(60, Some(evening)), whole);
    assert_eq!(complete(200, Some(evening)), whole);
    // Not begun by then, half an hour of it is left for the next evening.
    assert_eq!(complete(60, None), day + 30 + 120);
    // Over night nobody works on it.
    let late = evening + TimeDelta::minutes(180);
    assert_eq!(complete(day + 10, Some(late)), day + 210 - 60 + 120);
    // Longer than it takes: it is complete when somebody says so, at the earliest now.
    assert_eq!(complete(230, Some(evening)), 230 + 120);
}
