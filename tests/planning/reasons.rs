//! The reasons that a plan of the rest gives for its changes: each is true, and given where it is to be.

use beamyard::plan::{Plan, Run};
use beamyard::progress::{Previous, Progress};
use beamyard::scenario::{MachineIndex, Scenario, read_text};
use chrono::TimeDelta;

use crate::again::rest;
use crate::moment::{accepted, accepted_but, later};
use crate::support::planned;

/// Two machines that are alike, and bench hours; setups take ten minutes, and nothing is firm.
pub fn text(hours: &str, parts: &str, assemblies: &str) -> String {
    format!(
        r#"
build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo, firm: 0 h}}
bench: {{hours: {{mon-sun: ["{hours}"]}}, hands: 1}}
machines:
  - {{id: one, kind: bed, bed: [200, 200], height: 200, materials: [PLA], loaded: grey, turnaround: 10 min, warm_up: 0 s, layer_time: 0 s}}
  - {{id: two, kind: bed, bed: [200, 200], height: 200, materials: [PLA], loaded: grey, turnaround: 10 min, warm_up: 0 s, layer_time: 0 s}}
filaments: [{{id: grey, material: PLA, spools: [5000]}}]
parts:
{parts}
assemblies:
{assemblies}
"#
    )
}

pub fn read(text: &str) -> Scenario {
    match read_text("reasons.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn shop(hours: &str, parts: &str, assemblies: &str) -> Scenario {
    read(&text(hours, parts, assemblies))
}

fn first(shop: &Scenario) -> Plan {
    planned(shop, 1, 1_000).expect("a plan").plan
}

/// What the rest says of an accepted run.
fn why(rest: &Plan, was: &str) -> String {
    let since = rest.since.as_ref().expect("it is the rest");
    let mut changes = since.changes.iter();
    let change = changes.find(|change| change.was.as_deref() == Some(was));
    let known = || {
        let changes = since.changes.iter();
        changes.map(|one| (&one.was, &one.why)).collect::<Vec<_>>()
    };
    change
        .unwrap_or_else(|| panic!("{was} is no change: {:?}", known()))
        .why
        .clone()
}

fn local(shop: &Scenario, run: &Run) -> String {
    let start = run.start.with_timezone(&shop.build.zone);
    start.format("%d %H:%M").to_string()
}

const BY_DAY: &str = "08:00-18:00";

/// One setup a day.
const SHORT: &str = "08:00-08:10";

#[test]
fn a_run_whose_trial_is_printed_again_waits_for_its_approval() {
    // Ten hours each: the trial until Monday 18:10, looked at on Tuesday 08:00, when the two others are to be set up.
    let shop = shop(
        BY_DAY,
        "  - {id: cap, size: [150, 60, 30], quantity: 3, trial: 1, filament: grey, minutes: {one: 600, two: 600}}",
        "  - {id: lamp, parts: {cap: 3}}",
    );
    let first = first(&shop);
    let of = |number: u32| {
        let mut runs = first.runs.iter();
        let run = runs.find(|run| run.pieces[0].number == number);
        run.expect("it is printed")
    };
    let (trial, other) = (of(1), of(2));
    assert_eq!(local(&shop, other), "12 08:10");
    let mut then = later(&shop, &first, &Progress::none(&shop), trial.end, |_| false);
    let mut previous = accepted_but(&first, trial.end, &[&trial.id]);
    // On the machine that prints nothing else.
    let free = MachineIndex(1 - trial.machine.0);
    let name = format!("{}-001", shop.machines[free.0].id);
    for run in previous.runs.iter_mut().filter(|run| run.id == other.id) {
        (run.machine, run.id) = (free, name.clone());
    }
    then.previous = Some(previous);
    let second = rest(&shop, &then, 1_000).expect("a plan");
    let run = second.runs.iter().find(|run| run.id == name);
    let run = run.expect("it is where it was");
    assert_eq!(
        (run.machine, local(&shop, run).as_str()),
        (free, "13 08:10")
    );
    assert_eq!(why(&second, &name), "it waits for the approval of cap");
}

/// One piece on each machine; the first is due on Monday evening.
fn two_parts(hours: &str) -> Scenario {
    shop(
        hours,
        "  - {id: cap, size: [150, 150, 30], alone: true, filament: grey, only: [one], minutes: {one: 60}}\n  \
         - {id: lid, size: [150, 150, 30], alone: true, filament: grey, only: [two], minutes: {two: 60}}",
        "  - {id: lamp, parts: {cap: 1}, due: 2027-01-11 20:00, late: 500}\n  - {id: box, parts: {lid: 1}}",
    )
}

#[test]
fn a_run_that_leaves_the_hands_to_another_is_not_said_to_cost_less_so() {
    // The cap is scrapped on Monday, and on Tuesday there is time for one setup only.
    let shop = two_parts(SHORT);
    let first = first(&shop);
    let (cap, lid) = (&first.runs[0], &first.runs[1]);
    assert_eq!(
        [cap, lid].map(|run| local(&shop, run)),
        ["11 08:10", "12 08:10"]
    );
    let mut then = later(&shop, &first, &Progress::none(&shop), cap.end, |_| false);
    then.previous = Some(accepted_but(&first, cap.end, &[&cap.id]));
    let second = rest(&shop, &then, 1_000).expect("a plan");
    let mut runs = second.runs.iter();
    let run = runs.find(|run| run.id == lid.id).expect("it is left");
    assert_eq!(local(&shop, run), "13 08:10");
    assert_eq!(
        why(&second, &lid.id),
        "nothing cheaper was found that keeps its time"
    );
    assert_eq!(
        why(&second, &cap.id),
        "it was scrapped, and is printed again"
    );
}

/// Both on one machine, the first for eleven hours and forty minutes and due on Monday evening.
fn one_after_the_other() -> Scenario {
    shop(
        BY_DAY,
        "  - {id: cap, size: [150, 150, 30], alone: true, filament: grey, only: [one], minutes: {one: 700}}\n  \
         - {id: lid, size: [150, 150, 30], alone: true, filament: grey, only: [one], minutes: {one: 60}}",
        "  - {id: lamp, parts: {cap: 1}, due: 2027-01-11 20:00, late: 500}\n  - {id: box, parts: {lid: 1}}",
    )
}

#[test]
fn a_run_that_goes_behind_another_says_when_that_ends() {
    // The cap is scrapped on Monday 19:50 and printed again on Tuesday until 19:50; the lid could be set up the morning after.
    let shop = one_after_the_other();
    let first = first(&shop);
    let (cap, lid) = (&first.runs[0], &first.runs[1]);
    assert_eq!(
        [cap, lid].map(|run| local(&shop, run)),
        ["11 08:10", "12 08:10"]
    );
    let mut then = later(&shop, &first, &Progress::none(&shop), cap.end, |_| false);
    then.previous = Some(accepted_but(&first, cap.end, &[&cap.id]));
    let second = rest(&shop, &then, 1_000).expect("a plan");
    let again = &second.runs[0].id;
    assert_eq!(
        why(&second, &lid.id),
        format!("it comes after {again}, which ends Tue 12 Jan 19:50")
    );
}

#[test]
fn a_run_whose_machine_prints_longer_than_it_should_waits_for_that() {
    let shop = one_after_the_other();
    let first = first(&shop);
    let (cap, lid) = (&first.runs[0], &first.runs[1]);
    let noon = cap.start + TimeDelta::hours(4);
    let mut then = later(&shop, &first, &Progress::none(&shop), noon, |_| true);
    // It takes a day longer.
    then.running[0].end += TimeDelta::days(1);
    then.previous = Some(accepted(&first, noon));
    let second = rest(&shop, &then, 1_000).expect("a plan");
    assert_eq!(
        why(&second, &lid.id),
        format!("{} prints there still", cap.id)
    );
}

#[test]
fn a_run_that_was_not_begun_in_time_says_so() {
    // In the one span of hours, at noon, and in the midst of the setup.
    let shop = two_parts(SHORT);
    let first = first(&shop);
    let cap = &first.runs[0];
    let when = |now| {
        let mut then = Progress::none(&shop);
        then.now = now;
        then.previous = Some(accepted(&first, shop.build.start));
        why(&rest(&shop, &then, 1_000).expect("a plan"), &cap.id)
    };
    let noon = cap.start + TimeDelta::hours(4);
    assert_eq!(when(noon), "it did not start when it should");
    let amid = cap.start - TimeDelta::minutes(5);
    assert_eq!(when(amid), "its setup should have begun before");
}

/// What the rest says of a lid that either machine may make, accepted as the first plan has it but for what is done to plan and shop.
fn lid(change: impl Fn(&mut Previous, &mut Scenario)) -> String {
    let mut shop = shop(
        BY_DAY,
        "  - {id: lid, size: [150, 150, 30], alone: true, filament: grey, minutes: {one: 60, two: 60}}",
        "  - {id: box, parts: {lid: 1}}",
    );
    let first = first(&shop);
    let mut previous = accepted(&first, shop.build.start);
    previous.news = true;
    change(&mut previous, &mut shop);
    let mut then = Progress::none(&shop);
    then.previous = Some(previous);
    why(
        &rest(&shop, &then, 1_000).expect("a plan"),
        &first.runs[0].id,
    )
}

#[test]
fn a_run_that_costs_less_elsewhere_says_where() {
    let dear = lid(|previous, shop| {
        let on = previous.runs[0].machine;
        assert_eq!(on.0, 0);
        shop.machines[on.0].hourly.0 += 100.0;
    });
    assert_eq!(dear, "the whole costs less with it on two");
}

#[test]
fn a_run_that_is_earlier_is_not_said_to_cost_less_so() {
    // Nothing is paid by the day: it is earlier because nothing is in its way.
    let late = lid(|previous, _| {
        let by = TimeDelta::days(2);
        for run in &mut previous.runs {
            run.setup = run.setup.map(|setup| setup + by);
            (run.start, run.end) = (run.start + by, run.end + by);
        }
    });
    assert_eq!(late, "it can begin earlier");
}

/// What the rest says of the runs of a plan, accepted as the first plan of one shop has it, planned again in another.
fn told(then: &Scenario, now: &Scenario) -> Vec<String> {
    let first = first(then);
    let mut previous = accepted(&first, then.build.start);
    previous.news = true;
    let mut progress = Progress::none(now);
    progress.previous = Some(previous);
    let second = rest(now, &progress, 1_000).expect("a plan");
    let since = second.since.expect("it is the rest");
    since.changes.iter().map(|one| one.why.clone()).collect()
}

/// The same with dear days: what is quicker on the first machine is on it.
fn dear_days(text: &str) -> String {
    text.replace("firm: 0 h", "firm: 0 h, each_day: 100")
}

/// What is said of a lid that is quicker on the first machine, when the scenario is changed.
fn lid_where(hours: &str, change: impl Fn(&str) -> String) -> Vec<String> {
    let parts = "  - {id: lid, size: [150, 150, 150], alone: true, filament: grey, minutes: {one: 60, two: 600}}";
    let of = |hours| dear_days(&text(hours, parts, "  - {id: box, parts: {lid: 1}}"));
    let (then, now) = (of(BY_DAY), change(&of(hours)));
    assert_ne!(then, now, "nothing is changed");
    told(&read(&then), &read(&now))
}

/// The first machine with other words in place of some.
fn of_one<'a>(from: &'a str, to: &'a str) -> impl Fn(&str) -> String + 'a {
    move |text| {
        let (before, after) = text.split_once("id: two").expect("two machines");
        assert!(before.contains(from), "{from}");
        format!("{}id: two{after}", before.replace(from, to))
    }
}

#[test]
fn a_run_whose_place_is_impossible_now_is_not_said_to_cost_less_elsewhere() {
    let why = |from, to| lid_where(BY_DAY, of_one(from, to));
    assert_eq!(
        why("bed: [200, 200]", "bed: [140, 140]"),
        ["lid fits one no more"]
    );
    assert_eq!(
        why("materials: [PLA], loaded: grey", "materials: [PETG]"),
        ["one takes no PLA now"]
    );
    assert_eq!(
        why(
            "loaded: grey",
            "loaded: grey, offline: [{from: 2027-01-11 00:00, to: 2027-01-13 00:00, why: fair}]"
        ),
        ["one is out of use then (fair)"]
    );
    let only = |text: &str| {
        text.replace(
            "minutes: {one: 60, two: 600}",
            "only: [two], minutes: {two: 600}",
        )
    };
    assert_eq!(
        lid_where(BY_DAY, only),
        ["lid is not to be made on one now"]
    );
}

#[test]
fn a_run_whose_setup_is_in_no_hours_any_more_or_whose_part_is_not_ready_says_so() {
    // It was to be set up at 8:00.
    let later = lid_where("21:00-23:00", str::to_owned);
    assert_eq!(later, ["by the hours as they are now nobody is there then"]);
    let ready = |text: &str| text.replace("alone: true", "alone: true, ready: 2027-01-12 12:00");
    assert_eq!(
        lid_where(BY_DAY, ready),
        ["lid is ready only Tue 12 Jan 12:00"]
    );
}

#[test]
fn pieces_that_each_fit_a_smaller_bed_but_not_together_are_said_not_to() {
    let parts = "  - {id: cap, size: [150, 90, 90], quantity: 2, filament: grey, minutes: {one: 60, two: 70}}";
    let box_of = "  - {id: box, parts: {cap: 2}}";
    // Each setup costs 10, so that both are on one plate, and the first machine is the quicker one.
    let dear = dear_days(&text(BY_DAY, parts, box_of));
    let dear = dear.replace("hands: 1}", "hands: 1, bench_hour: 60}");
    let then = read(&dear);
    // Two of 90 and their distance are more than 160; one fits.
    let now = of_one("bed: [200, 200]", "bed: [160, 160]")(&dear);
    let first = first(&then);
    assert_eq!(first.runs.len(), 1, "both on one plate");
    assert_eq!(first.runs[0].machine, MachineIndex(0));
    let told = told(&then, &read(&now));
    assert!(
        told.iter().all(|why| why == "it fits one no more"),
        "{told:?}"
    );
    assert_eq!(told.len(), 1);
}

#[test]
fn a_run_that_is_printed_in_another_filament_is_a_change_with_both_names() {
    let parts = "  - {id: lid, size: [150, 150, 30], alone: true, filament: grey, minutes: {one: 60, two: 70}}";
    let box_of = "  - {id: box, parts: {lid: 1}}";
    let two_colours = |text: String| {
        text.replace(
            "filaments: [{id: grey",
            "filaments: [{id: red, material: PLA, spools: [5000]}, {id: grey",
        )
    };
    let then = read(&two_colours(text(BY_DAY, parts, box_of)));
    let now = read(&two_colours(text(
        BY_DAY,
        &parts.replace("filament: grey", "filament: red"),
        box_of,
    )));
    assert_eq!(told(&then, &now), ["it is printed in red now, was grey"]);
}

#[test]
fn a_run_missed_before_its_machine_went_down_is_not_said_to_be_missed_for_that() {
    let shop = two_parts(SHORT);
    let first = first(&shop);
    let cap = &first.runs[0];
    let when = |since: TimeDelta| {
        let mut then = Progress::none(&shop);
        then.now = cap.start + TimeDelta::hours(4);
        then.machines[cap.machine.0].down_since = Some(cap.start + since);
        then.machines[cap.machine.0].down_until = Some(then.now + TimeDelta::hours(30));
        then.previous = Some(accepted(&first, shop.build.start));
        why(&rest(&shop, &then, 1_000).expect("a plan"), &cap.id)
    };
    assert_eq!(when(TimeDelta::hours(1)), "it did not start when it should");
    assert_eq!(when(-TimeDelta::hours(1)), "one is out of order then");
}

#[test]
fn a_run_behind_one_that_should_have_ended_waits_for_that_and_the_plan_says_it_is_overdue() {
    let shop = one_after_the_other();
    let first = first(&shop);
    let (cap, lid) = (&first.runs[0], &first.runs[1]);
    // The cap should have ended on Monday 19:50; nobody has noted it when the lid should have begun on Tuesday.
    let mut then = later(&shop, &first, &Progress::none(&shop), cap.start, |_| true);
    then.now = lid.start + TimeDelta::hours(1);
    then.previous = Some(accepted(&first, cap.start));
    let second = rest(&shop, &then, 1_000).expect("a plan");
    assert_eq!(
        why(&second, &lid.id),
        format!("{} prints there still", cap.id)
    );
    let overdue = format!(
        "Overdue: {} should have ended Mon 11 Jan 19:50, and its end is not noted; the plan takes it to end now.",
        cap.id
    );
    assert!(second.cautions.contains(&overdue), "{:?}", second.cautions);
    let in_time = later(&shop, &first, &Progress::none(&shop), cap.start, |_| true);
    let in_time = rest(&shop, &in_time, 1_000).expect("a plan");
    let mut cautions = in_time.cautions.iter();
    assert!(!cautions.any(|caution| caution.starts_with("Overdue")));
}
