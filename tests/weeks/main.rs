//! Weeks at the bench, played against the planner: runs fail, machines break down, somebody comes late, runs take longer or weigh more than
//! was reckoned; after each stretch the rest is planned anew from what has really been done, keeping to the plan before.

mod logged;
mod went;

#[path = "../common/moment/mod.rs"]
mod moment;
#[allow(dead_code, unused_imports, reason = "other tests use the rest of it")]
#[path = "../common/shops/mod.rs"]
mod shops;
#[allow(dead_code, unused_imports, reason = "other tests use the rest of it")]
#[path = "../common/tide_clock/mod.rs"]
mod tide_clock;

use std::collections::BTreeSet;

use beamyard::plan::audit::audit_since;
use beamyard::plan::{Plan, Run};
use beamyard::planning::{NoPlan, Options, again};
use beamyard::progress::{Previous, Progress};
use beamyard::scenario::{Measurement, Scenario, read};
use beamyard::search::portfolio::Limit;
use beamyard::units::Grams;
use chrono::{DateTime, TimeDelta, Utc};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use moment::{accepted, later};
use went::{REAL, as_it_went};

const README: &str = include_str!("../../README.md");

/// Plannings of one build at most; by then all but the unluckiest are complete.
const MOST: usize = 24;
/// Moves of each planning: enough to come to an end, not to be good.
const MOVES: u64 = 200;
/// The share of runs that fail, and of stretches in which a machine breaks down.
const FAIL: f64 = 0.06;
const BREAK: f64 = 0.1;
/// The share of runs of one part that are weighed and timed.
const MEASURE: f64 = 0.3;

/// What came of a build.
#[derive(Debug, Default)]
struct Played {
    plannings: usize,
    /// Runs that ended, those of them that failed, and those that were weighed and timed.
    runs: usize,
    failures: usize,
    measured: usize,
    /// Firm runs for which no way to keep them was found.
    yielded: usize,
    complete: bool,
    /// Stages with a date, and those of them that were complete by the first plan's date for them, a quarter of its time later at
    /// most.
    stages: usize,
    met: usize,
    /// Those that the first plan had in time, and of them those that were complete by their own date.
    in_time: usize,
    kept: usize,
}

fn plan(shop: &Scenario, progress: &Progress) -> Option<Plan> {
    let options = Options {
        limit: Some(Limit::Moves(MOVES)),
        ..Options::default()
    };
    match again(shop, progress, &options) {
        Ok(made) => {
            assert_eq!(audit_since(shop, progress, &made.plan), []);
            Some(made.plan)
        }
        Err(NoPlan::NoRoute(_) | NoPlan::NoTime(_)) => None,
        Err(fault) => panic!("{fault:?}"),
    }
}

/// Every copy that is wanted is there, prints, or is planned, and no piece is twice.
fn nothing_is_lost(shop: &Scenario, progress: &Progress, plan: &Plan) {
    let mut pieces = BTreeSet::new();
    let mut each = |part: usize, number: u32, length: u32| {
        assert!(
            pieces.insert((part, number, length)),
            "part {part}, copy {number}, length {length}"
        );
    };
    for made in &progress.made {
        each(made.piece.part.0, made.piece.number, made.piece.length);
    }
    for placed in progress.running.iter().flat_map(|run| &run.pieces) {
        each(
            placed.piece.part.0,
            placed.piece.number,
            placed.piece.length,
        );
    }
    for piece in plan.runs.iter().flat_map(|run| &run.pieces) {
        each(piece.part.0, piece.number, piece.length);
    }
    for (at, part) in shop.parts.iter().enumerate() {
        let of_part = pieces.iter().filter(|piece| piece.0 == at);
        let copies: BTreeSet<u32> = of_part.map(|piece| piece.1).collect();
        assert_eq!(copies.len() as u32, part.copies(), "{}", part.id);
    }
}

/// A name means one run: what the accepted plan called so is told as that, wherever it is now.
fn names_stay(progress: &Progress, plan: &Plan) {
    let accepted = progress.previous.iter().flat_map(|previous| &previous.runs);
    let accepted: BTreeSet<&str> = accepted.map(|run| run.id.as_str()).collect();
    let changes = plan.since.iter().flat_map(|since| &since.changes);
    for change in changes.filter(|change| accepted.contains(change.run.as_str())) {
        assert_eq!(change.was.as_ref(), Some(&change.run));
    }
}

fn play(shop: &Scenario, seed: u64) -> Option<Played> {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let mut progress = Progress::none(shop);
    let mut current = plan(shop, &progress)?;
    let first = current.clone();
    let span = (first.finish - shop.build.start).max(TimeDelta::hours(1));
    let mut played = Played::default();
    while played.plannings < MOST {
        // About a fifth of what is left, so that every planning sees some news.
        let left = (current.finish.max(progress.now) - progress.now).num_minutes();
        let share = rng.random_range(0.1..0.5);
        // Once all is printed, nobody plans anew in the middle of an assembly.
        let share = match current.runs.is_empty() && progress.running.is_empty() {
            true => 1.0,
            false => share,
        };
        let step = (left as f64 * share) as i64 + 30;
        let now = progress.now + TimeDelta::minutes(step);
        let busy = progress.running.iter().map(|run| (run.machine.0, run.end));
        let went = as_it_went(shop, &current, &busy.collect(), &mut rng);
        let mut ended = Vec::new();
        let mut then = later(shop, &went, &progress, now, |id| {
            let good = rng.random_range(0.0..1.0) >= FAIL;
            ended.push((id.to_owned(), good));
            good
        });
        played.runs += ended.len();
        played.failures += ended.iter().filter(|(_, good)| !good).count();
        for run in &went.runs {
            let good = ended.contains(&(run.id.clone(), true));
            let measured = measured(shop, run).filter(|_| good);
            if let Some(measured) = measured
                && rng.random_range(0.0..1.0) < MEASURE
            {
                let real = rng.random_range(REAL[0]..REAL[1]);
                then.measured.push(Measurement {
                    grams: Some(Grams(run.grams.0 * real)),
                    ..measured
                });
                played.measured += 1;
            }
        }
        for machine in &mut then.machines {
            let down = rng.random_range(0.0..1.0) < BREAK;
            machine.down_until = down.then(|| now + TimeDelta::minutes(rng.random_range(30..3000)));
        }
        then.previous = Some(not_begun(&current, &went, now));
        progress = then;
        if progress
            .assemblies
            .iter()
            .all(|state| state.complete.is_some())
        {
            played.complete = true;
            break;
        }
        current = plan(shop, &progress)?;
        nothing_is_lost(shop, &progress, &current);
        names_stay(&progress, &current);
        let since = current.since.iter();
        played.yielded += since.map(|since| since.yielded.len()).sum::<usize>();
        played.plannings += 1;
    }
    for (dates, then) in current.assemblies.iter().zip(&first.assemblies) {
        if let Some(due) = shop.assemblies[dates.assembly.0].due {
            played.stages += 1;
            played.met += usize::from(dates.complete <= then.complete + span / 4);
            played.in_time += usize::from(then.complete <= due);
            played.kept += usize::from(then.complete <= due && dates.complete <= due);
        }
    }
    Some(played)
}

/// A run of one part, as it is measured: its minutes without warm-up.
fn measured(shop: &Scenario, run: &Run) -> Option<Measurement> {
    let piece = run.pieces.first()?;
    let mut pieces = run.pieces.iter();
    let alike = pieces.all(|other| (other.part, other.of) == (piece.part, piece.of));
    let warm_up = shop.machines[run.machine.0].warm_up.0 / 60.0;
    let minutes = (run.end - run.start).num_minutes() as f64 - warm_up;
    alike.then_some(Measurement {
        against: None,
        part: piece.part,
        machine: run.machine,
        pieces: run.pieces.len() as u32,
        lengths: piece.of,
        upright: None,
        grams: None,
        minutes: Some(minutes.max(1.0)),
    })
}

/// The accepted plan, without its runs that have really begun by a moment.
fn not_begun(plan: &Plan, went: &Plan, now: DateTime<Utc>) -> Previous {
    let mut previous = accepted(plan, DateTime::<Utc>::MIN_UTC);
    let begun = went.runs.iter().filter(|run| run.start <= now);
    let begun: BTreeSet<&str> = begun.map(|run| run.id.as_str()).collect();
    previous.runs.retain(|run| !begun.contains(run.id.as_str()));
    previous
}

#[test]
fn weeks_with_failures_lose_nothing_and_meet_most_stages() {
    let mut runner = TestRunner::new_with_rng(
        Config::default(),
        TestRng::deterministic_rng(RngAlgorithm::ChaCha),
    );
    let mut sum = Played::default();
    let mut builds = 0;
    let mut complete = 0;
    let mut count = |played: Played| {
        sum.plannings += played.plannings;
        sum.runs += played.runs;
        sum.failures += played.failures;
        sum.measured += played.measured;
        sum.in_time += played.in_time;
        sum.kept += played.kept;
        sum.yielded += played.yielded;
        sum.stages += played.stages;
        sum.met += played.met;
        builds += 1;
        complete += usize::from(played.complete);
    };
    for seed in 0..150 {
        let shop = shops::small_shops()
            .new_tree(&mut runner)
            .expect("a shop can be drawn")
            .current();
        if let Some(played) = play(&shop, seed) {
            count(played);
        }
    }
    for seed in 0..5 {
        count(play(&tide_clock::shop(), seed).expect("the tide clock can be planned"));
    }
    eprintln!("{complete} of {builds} builds complete: {sum:?}");
    assert!(sum.plannings >= 200, "{} plannings", sum.plannings);
    assert!(sum.runs >= 300, "{} runs", sum.runs);
    assert!(sum.measured >= 30, "{} measured", sum.measured);
    assert!(sum.failures >= 15, "{} failures", sum.failures);
    // What is firm stays where it can; that no way to keep it is found would be told, and is not to be.
    assert_eq!(sum.yielded, 0, "in {} plannings", sum.plannings);
    assert!(
        complete * 10 >= builds * 8,
        "{complete} of {builds} complete"
    );
    // By the first plan's date and a quarter of its time later; many are due sooner than anybody could be done.
    let share = sum.met as f64 / sum.stages.max(1) as f64;
    assert!(share >= 0.65, "{} of {} stages", sum.met, sum.stages);
    // By their own dates, as README says.
    assert!(README.contains("four of five stages that the first plan has in time are in time"));
    assert!(sum.in_time >= 60, "{} stages", sum.in_time);
    assert!(
        sum.kept * 5 >= sum.in_time * 4,
        "{} of {} stages",
        sum.kept,
        sum.in_time
    );
}

#[test]
fn builds_that_are_played_through_their_logs_come_to_their_ends() {
    let file = format!("{}/scenarios/tide-clock.yaml", env!("CARGO_MANIFEST_DIR"));
    let example = read(file.as_ref()).expect("an example is right").scenario;
    let mut sum = Played::default();
    for (shop, seed) in [(&tide_clock::shop(), 1), (&example, 2), (&example, 3)] {
        let played = logged::play(shop, seed);
        eprintln!("{played:?}");
        assert!(played.complete, "{played:?}");
        assert_eq!(played.yielded, 0, "{played:?}");
        sum.runs += played.runs;
        sum.failures += played.failures;
        sum.measured += played.measured;
    }
    assert!(
        sum.runs >= 30 && sum.failures > 0 && sum.measured > 0,
        "{sum:?}"
    );
}
