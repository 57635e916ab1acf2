//! A new plan keeps to the accepted one as far as that pays.

use beamyard::calendar::Calendar;
use beamyard::plan::audit::{Rule, audit_since};
use beamyard::plan::{Plan, Run};
use beamyard::progress::Progress;
use beamyard::scenario::Scenario;
use beamyard::units::{Minutes, Money};
use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;

use crate::again::rest;
use crate::moment::{accepted, accepted_but, later};
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

/// Each run that is to begin: its name, where, when, and which pieces of what copies are on it, for what.
fn queue(plan: &Plan, now: DateTime<Utc>) -> Vec<String> {
    let runs = plan.runs.iter().filter(|run| run.start > now);
    let told = runs.map(|run| {
        let pieces = run.pieces.iter().map(|piece| {
            let assembly = piece.assembly.map(|assembly| assembly.0);
            let (part, number) = (piece.part.0, piece.number);
            (part, number, piece.length, piece.of, assembly)
        });
        let mut pieces: Vec<_> = pieces.collect();
        pieces.sort_unstable();
        let (id, machine, setup) = (&run.id, run.machine.0, run.setup);
        format!(
            "{id} on {machine}: {setup:?} {} {} {pieces:?}",
            run.start, run.end
        )
    });
    told.collect()
}

/// How many of a plan's runs after a moment another does not have on their machine within half a day, and of how many.
fn changed(before: &Plan, after: &Plan, now: DateTime<Utc>) -> (usize, usize) {
    let runs = before.runs.iter().filter(|run| run.start > now);
    let same = |run: &&Run| {
        after.runs.iter().any(|other| {
            let what = |run: &Run| {
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
        // That filament was not ordered in time is news.
        let mut orders = first.plan.orders.iter();
        if orders.any(|order| order.order_by.is_some_and(|day| day <= now.date_naive())) {
            return Ok(());
        }
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
fn one_scrapped_run_changes_less_than_a_fifth_of_the_others_however_long_is_searched() {
    for (shop, every, moves) in [
        (crate::tide_clock::shop(), 1, 4_000),
        (scenario("footbridge"), 5, 4_000),
        (scenario("quayside-crane"), 11, 400),
        (scenario("quayside-crane"), 11, 4_000),
        (scenario("quayside-crane"), 22, 40_000),
    ] {
        let share = share_changed(&shop, every, moves);
        eprintln!("{}: {share:.3}", shop.build.name);
        assert!(share < 0.2, "{}: {share}", shop.build.name);
    }
}

#[test]
fn what_was_lost_goes_where_it_costs_least_and_not_behind_all_that_is_planned() {
    // One machine, plates of some hours each; the box is due on the second day, and the eight caps are for nobody soon.
    const DUE: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, firm: 0 h}
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines: [{id: bed, kind: bed, bed: [200, 200], height: 200, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [5000]}]
parts:
  - {id: lid, size: [150, 150, 40], solid: 0.3, filament: grey, alone: true}
  - {id: cap, size: [150, 150, 30], solid: 0.3, quantity: 8, filament: grey, alone: true}
assemblies:
  - {id: box, parts: {lid: 1}, due: 2027-01-12 20:00, late: 500}
  - {id: lamp, parts: {cap: 8}}
"#;
    let shop = match beamyard::scenario::read_text("due.yaml", DUE, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let first = planned(&shop, 1, 2_000).expect("a plan").plan;
    let lid = first.runs.iter().find(|run| run.pieces[0].part.0 == 0);
    let lid = lid.expect("it is printed");
    let now = lid.end;
    let mut then = later(&shop, &first, &Progress::none(&shop), now, |id| {
        id != lid.id
    });
    then.previous = Some(accepted(&first, now));
    // Two moves: as good as no search.
    let second = rest(&shop, &then, 2).expect("a plan");
    assert_eq!(second.cost.late, Money(0.0));
    let since = second.since.as_ref().expect("it is the rest");
    let kept = since.kept.expect("what was accepted can be kept").0;
    assert!(kept <= second.cost.total().0 + 20.0, "{kept}");
    // The caps stay in their order, and keep their names.
    let (before, after): (Vec<_>, Vec<_>) = (
        first.runs.iter().filter(|run| run.start > now).collect(),
        second
            .runs
            .iter()
            .filter(|run| run.pieces[0].part.0 == 1)
            .collect(),
    );
    assert_eq!(before.len(), after.len());
    for (then, now) in before.iter().zip(&after) {
        assert_eq!(then.id, now.id);
    }
}

/// Runs of a plan of which nothing has begun at a moment, that start while they are firm, and that wait for no trial which is not approved by then.
fn firm<'a>(shop: &Scenario, plan: &'a Plan, then: &Progress) -> Vec<&'a Run> {
    let calendar = Calendar::new(shop);
    let until = match shop.build.firm {
        Some(firm) => then.now + TimeDelta::minutes(firm.0),
        None => {
            let next = calendar.window_at_or_after(calendar.minute(then.now));
            calendar.moment(calendar.windows()[next].close)
        }
    };
    let waits = |run: &Run| {
        run.pieces.iter().any(|piece| {
            let trial = shop.parts[piece.part.0].trial;
            let approved = then.trials[piece.part.0].approved;
            piece.number > trial && trial > 0 && approved.is_none()
        })
    };
    let runs = plan.runs.iter();
    let begins = |run: &Run| run.setup.unwrap_or(run.start);
    let runs = runs.filter(|run| {
        then.now < run.start && then.now <= begins(run) && run.start <= until && !waits(run)
    });
    runs.collect()
}

/// Every so many runs of a plan are scrapped at their ends, each in its turn, and the rest is planned again: how many runs were firm then.
/// Each of them starts at its minute on its machine, by its name.
fn firm_after_each_loss(shop: &Scenario, first: &Plan, every: usize, moves: u64) -> usize {
    let mut all = 0;
    for lost in first.runs.iter().step_by(every) {
        let now = lost.end;
        let mut then = later(shop, first, &Progress::none(shop), now, |id| id != lost.id);
        then.previous = Some(accepted_but(first, now, &[&lost.id]));
        let second = rest(shop, &then, moves).expect("a plan");
        let since = second.since.as_ref().expect("it is the rest");
        for firm in firm(shop, first, &then) {
            let stands = second.runs.iter().any(|run| {
                (&run.id, run.machine, run.start) == (&firm.id, firm.machine, firm.start)
            });
            let told = since.changes.iter().map(|c| (&c.run, &c.why));
            assert!(
                stands,
                "{} is scrapped, {} was firm at {}: {:?}",
                lost.id,
                firm.id,
                firm.start,
                told.collect::<Vec<_>>()
            );
            all += 1;
        }
        assert_eq!(since.yielded, [] as [String; 0]);
        // The pieces that were lost come back, which is told.
        let told = since.changes.iter().find(|change| {
            change.was.as_ref() == Some(&lost.id) && change.why.contains("was scrapped")
        });
        assert!(told.is_some(), "{}: {:?}", lost.id, since.changes);
    }
    all
}

#[test]
fn firm_runs_stay_at_their_minute_when_a_run_is_scrapped() {
    for (mut shop, every, moves) in [
        (crate::tide_clock::shop(), 1, 2_000),
        (scenario("first-week"), 1, 1_000),
        (scenario("quayside-crane"), 9, 400),
    ] {
        let first = planned(&shop, 1, moves).expect("a plan").plan;
        let usual = firm_after_each_loss(&shop, &first, every, moves);
        shop.build.firm = Some(Minutes(48 * 60));
        let longer = firm_after_each_loss(&shop, &first, every, moves);
        eprintln!("{}: {usual}, {longer}", shop.build.name);
        assert!(longer >= usual && longer > 0, "{usual} {longer}");
    }
}

#[test]
fn the_scenario_says_how_long_runs_are_firm_and_what_a_change_costs() {
    let mut shop = crate::tide_clock::shop();
    let first = planned(&shop, 1, 4_000).expect("a plan").plan;
    // Not a trial, for whose approval the others would have to wait.
    let no_trial = |run: &&Run| run.pieces.iter().all(|p| shop.parts[p.part.0].trial == 0);
    let lost = first.runs.iter().filter(no_trial);
    let lost = lost.min_by_key(|run| run.end).expect("a run");
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

/// One plate, and two machines that are alike but for what an hour on them costs.
const TWO_ALIKE: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, churn: 0, each_day: 50}
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines:
  - {id: left, kind: bed, bed: [200, 200], height: 200, hourly: 0.5, materials: [PLA]}
  - {id: right, kind: bed, bed: [200, 200], height: 200, hourly: 1, materials: [PLA]}
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts: [{id: lid, size: [150, 150, 40], solid: 0.3, filament: grey}]
assemblies: [{id: box, parts: {lid: 1}}]
"#;

fn two_alike(firm: &str, left: &str) -> Scenario {
    let text = TWO_ALIKE.replace("churn: 0", &format!("churn: 0{firm}"));
    let text = text.replace("hourly: 0.5", &format!("hourly: {left}"));
    match beamyard::scenario::read_text("alike.yaml", &text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// Where and how many hours after the build's start the lid is printed, planned again after it was accepted to be so on the left
/// machine that many hours late, and this has become dear.
fn lid(firm: &str, late: i64, left: &str) -> (usize, i64) {
    let shop = two_alike(firm, left);
    let second = lid_again(&shop, late);
    let run = &second.runs[0];
    (run.machine.0, (run.start - shop.build.start).num_hours())
}

/// The plan then.
fn lid_again(shop: &Scenario, late: i64) -> Plan {
    let first = planned(&two_alike("", "0.5"), 1, 500).expect("a plan").plan;
    assert_eq!(first.runs.len(), 1);
    assert_eq!(first.runs[0].machine.0, 0, "an hour on it costs less");
    let mut then = Progress::none(shop);
    let mut before = accepted(&first, shop.build.start);
    before.news = true;
    for run in &mut before.runs {
        let by = TimeDelta::hours(late);
        run.setup = run.setup.map(|setup| setup + by);
        (run.start, run.end) = (run.start + by, run.end + by);
    }
    then.previous = Some(before);
    rest(shop, &then, 500).expect("a plan")
}

#[test]
fn a_firm_run_stays_though_it_would_cost_less_elsewhere_and_nothing_is_charged_for_a_change() {
    // Until the bench closes at 22:00, or for an hour: the setup takes some minutes.
    assert_eq!(lid("", 0, "5"), (0, 0));
    assert_eq!(lid(", firm: 1 h", 0, "5"), (0, 0));
    // Not firm, it goes where an hour costs less.
    assert_eq!(lid(", firm: 0 h", 0, "5"), (1, 0));
}

#[test]
fn a_run_that_is_not_firm_stays_where_it_was_unless_moving_it_saves_more_than_a_change_costs() {
    let mut shop = two_alike(", firm: 0 h", "5");
    // On the right machine each hour costs 4 less, and all else is the same there.
    let hours = lid_again(&shop, 0).runs[0].minutes.hours();
    let gain = 4.0 * hours;
    assert!(gain > 1.0);
    let mut with = |churn: f64| {
        shop.build.churn = Money(churn);
        let plan = lid_again(&shop, 0);
        let told = plan.since.iter().flat_map(|since| &since.changes);
        (plan.runs[0].machine.0, plan.cost.calm.0, told.count())
    };
    assert_eq!(
        with(gain - 0.01),
        (1, gain - 0.01, 1),
        "it goes, and that is charged and told"
    );
    assert_eq!(with(gain + 0.01), (0, 0.0, 0), "it stays");
}

#[test]
fn a_firm_run_is_not_put_forward_though_each_day_costs_money() {
    assert_eq!(lid("", 3, "0.5"), (0, 3));
    assert_eq!(lid(", firm: 2 h", 3, "0.5"), (0, 0));
}

#[test]
fn a_firm_run_whose_machine_is_down_until_later_is_free() {
    let shop = two_alike("", "0.5");
    let first = planned(&shop, 1, 500).expect("a plan").plan;
    let mut then = Progress::none(&shop);
    then.previous = Some(accepted(&first, shop.build.start));
    let run = |then: &Progress| rest(&shop, then, 500).expect("a plan").runs[0].clone();
    // For an hour it waits, and stays first on its machine; for longer than it is firm it need not.
    then.machines[0].down_until = Some(shop.build.start + TimeDelta::hours(1));
    assert_eq!(run(&then).machine.0, 0);
    then.machines[0].down_until = Some(shop.build.start + TimeDelta::days(3));
    assert_eq!(run(&then).machine.0, 1);
}

#[test]
fn what_is_firm_stays_also_where_a_trial_is_to_be_printed_again() {
    // One machine: the trial is lost, and what waits for it was to follow; the plates before that are firm.
    const TRIED: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, firm: 6 h}
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines: [{id: bed, kind: bed, bed: [200, 200], height: 200, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [5000]}]
parts:
  - {id: cap, size: [150, 150, 30], solid: 0.3, quantity: 3, filament: grey, trial: 1, alone: true}
  - {id: lid, size: [150, 150, 40], solid: 0.3, quantity: 4, filament: grey, alone: true}
assemblies:
  - {id: box, parts: {lid: 4}, due: 2027-01-11 20:00, late: 500}
  - {id: lamp, parts: {cap: 3}}
"#;
    let shop = match beamyard::scenario::read_text("tried.yaml", TRIED, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let first = planned(&shop, 1, 2_000).expect("a plan").plan;
    let trial = |run: &Run| run.pieces[0].part.0 == 0 && run.pieces[0].number == 1;
    let mut then = Progress::none(&shop);
    then.previous = Some(accepted(&first, shop.build.start));
    let previous = then.previous.as_mut().expect("a plan");
    previous.runs.retain(|before| {
        !first
            .runs
            .iter()
            .any(|run| run.id == before.id && trial(run))
    });
    let until = shop.build.start + TimeDelta::hours(6);
    let firm = |runs: &[(usize, DateTime<Utc>)]| {
        let mut firm: Vec<_> = runs
            .iter()
            .filter(|(part, at)| *part == 1 && *at <= until)
            .copied()
            .collect();
        firm.sort_unstable();
        firm
    };
    let before: Vec<_> = previous
        .runs
        .iter()
        .map(|run| (run.pieces[0].piece.part.0, run.start))
        .collect();
    let second = rest(&shop, &then, 2_000).expect("a plan");
    let after: Vec<_> = second
        .runs
        .iter()
        .map(|run| (run.pieces[0].part.0, run.start))
        .collect();
    assert!(!firm(&before).is_empty());
    assert!(
        firm(&before).iter().all(|run| after.contains(run)),
        "{before:?} {after:?}"
    );
    assert!(second.since.expect("it is the rest").kept.is_some());
}

const LIDS: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, churn: 20}
bench: {hours: {mon-sun: ["08:00-18:00"]}}
machines:
  - {id: one, kind: bed, bed: [200, 200], height: 200, materials: [PLA], loaded: grey, turnaround: 10 min}
filaments: [{id: grey, material: PLA, spools: [5000]}]
parts:
  - {id: cap, size: [150, 150, 30], quantity: 3, filament: grey, alone: true, minutes: {one: 500}}
  - {id: lid, size: [150, 150, 30], quantity: 4, filament: grey, alone: true, minutes: {one: 500}}
assemblies:
  - {id: lamp, parts: {cap: 3}, due: 2027-01-14 00:00, late: 100}
  - {id: box, parts: {lid: 4}}
"#;

fn lids(caps: u32, churn: f64) -> Scenario {
    let text = LIDS.replace("quantity: 3", &format!("quantity: {caps}"));
    let text = text.replace("cap: 3", &format!("cap: {caps}"));
    let text = text.replace("churn: 20", &format!("churn: {churn}"));
    match beamyard::scenario::read_text("lids.yaml", &text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// When the lids are printed: as accepted with three caps before them, and planned again with one; and what the changes cost.
fn lids_after_a_cut(churn: f64) -> (Vec<DateTime<Utc>>, Vec<DateTime<Utc>>, f64) {
    let first = planned(&lids(3, churn), 1, 1_500).expect("a plan").plan;
    let shop = lids(1, churn);
    let mut then = Progress::none(&shop);
    let mut before = accepted(&first, shop.build.start);
    before.news = true;
    then.previous = Some(before);
    let second = rest(&shop, &then, 1_500).expect("a plan");
    let starts = |plan: &Plan| {
        let lids = plan.runs.iter().filter(|run| run.pieces[0].part.0 == 1);
        let mut starts: Vec<_> = lids.map(|run| run.start).collect();
        starts.sort();
        starts
    };
    (starts(&first), starts(&second), second.cost.calm.0)
}

#[test]
fn what_is_no_longer_wanted_leaves_the_rest_where_it_was_while_that_is_cheaper() {
    // Two days sooner done is worth 2 EUR at most, each change costs 20.
    let (before, after, calm) = lids_after_a_cut(20.0);
    assert_eq!(after, before);
    assert_eq!(calm, 0.0);
    // Where changes cost next to nothing they are made.
    let (before, after, _) = lids_after_a_cut(0.01);
    assert!(after[3] < before[3], "{after:?} {before:?}");
}

/// The most runs of a plan that stand in accepted ones, each in one of its own, by trying to make room (Kuhn's algorithm: H. W. Kuhn, The
/// Hungarian method for the assignment problem, Naval Research Logistics Quarterly 2, 1955; the augmenting path of it from memory).
fn most_in_place(before: &[&Run], after: &[&Run]) -> usize {
    let what = |run: &Run| {
        let mut what: Vec<_> = run.pieces.iter().map(|p| (p.part, p.of)).collect();
        what.sort_unstable();
        what
    };
    let near = |run: &Run, then: &Run| {
        run.machine == then.machine
            && (run.start - then.start).abs() <= TimeDelta::hours(12)
            && what(run) == what(then)
    };
    fn seat(
        run: usize,
        fits: &[Vec<usize>],
        seated: &mut [Option<usize>],
        seen: &mut [bool],
    ) -> bool {
        fits[run].iter().any(|&place| {
            if std::mem::replace(&mut seen[place], true) {
                return false;
            }
            let free = seated[place].is_none_or(|other| seat(other, fits, seated, seen));
            if free {
                seated[place] = Some(run);
            }
            free
        })
    }
    let fits: Vec<Vec<usize>> = after
        .iter()
        .map(|run| {
            (0..before.len())
                .filter(|&at| near(run, before[at]))
                .collect()
        })
        .collect();
    let mut seated = vec![None; before.len()];
    (0..after.len())
        .filter(|&run| seat(run, &fits, &mut seated, &mut vec![false; before.len()]))
        .count()
}

#[test]
fn each_accepted_run_stands_for_one_run_only() {
    // The lids move up by two days: two of them stand where others were to, and two do not.
    let (before, after, calm) = lids_after_a_cut(0.01);
    assert_eq!((before.len(), after.len()), (4, 4));
    assert!((calm - 0.02).abs() < 1e-9, "{calm} {before:?} {after:?}");
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn what_changes_cost_is_the_least_that_any_way_to_hold_the_plans_against_each_other_leaves(
        shop in small_shops(),
        share in 0.0..0.9f64,
        churn in 0.01..0.5f64,
    ) {
        let mut shop = shop;
        shop.build.churn = Money(churn);
        shop.build.firm = Some(Minutes(0));
        let Ok(first) = planned(&shop, 1, 600) else { return Ok(()) };
        let now = quiet(&shop, &first.plan, share);
        let mut then = later(&shop, &first.plan, &Progress::none(&shop), now, |_| true);
        for machine in then.machines.iter_mut().take(1) {
            machine.down_until = Some(now + TimeDelta::hours(30));
        }
        let previous = accepted(&first.plan, now);
        then.previous = Some(previous);
        let Some(second) = rest(&shop, &then, 600) else { return Ok(()) };
        let before: Vec<&Run> = first.plan.runs.iter().filter(|run| run.start > now).collect();
        let after: Vec<&Run> = second.runs.iter().collect();
        let stand = most_in_place(&before, &after);
        let charged = churn * (after.len() - stand) as f64;
        prop_assert!((second.cost.calm.0 - charged).abs() < 1e-6, "{} {charged}", second.cost.calm.0);
    }
}

const THREE_LONG: &str = r#"
build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 20, firm: 0 h}
bench: {hours: {mon-sun: ["08:00-18:00"]}}
machines:
  - {id: one, kind: bed, bed: [200, 200], height: 200, materials: [PLA], loaded: grey, turnaround: 10 min, warm_up: 0 s, layer_time: 0 s}
filaments: [{id: grey, material: PLA, spools: [5000]}]
parts:
  - {id: cap, size: [150, 150, 30], quantity: 3, filament: grey, alone: true, minutes: {one: 600}}
assemblies:
  - {id: lamp, parts: {cap: 3}, due: 2027-01-12 20:00, late: 300}
"#;

#[test]
fn a_run_that_ends_early_lets_the_rest_begin_sooner() {
    let reading = beamyard::scenario::read_text("long.yaml", THREE_LONG, std::path::Path::new("."));
    let shop = match reading {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let first = planned(&shop, 1, 500).expect("a plan").plan;
    // One a day and one over night are two by Tuesday evening, and the third is late.
    assert!(first.cost.late.0 > 0.0);
    let mut went = first.clone();
    went.runs[0].end -= TimeDelta::hours(5);
    let now = went.runs[0].end;
    let again = |early| {
        let mut then = later(&shop, &went, &Progress::none(&shop), now, |_| true);
        let mut previous = accepted(&first, now);
        previous.early = early;
        then.previous = Some(previous);
        rest(&shop, &then, 500).expect("a plan")
    };
    assert_eq!(again(true).cost.late.0, 0.0);
    assert!(again(false).cost.late.0 > 0.0, "nothing is known of it");
}
