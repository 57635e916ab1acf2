//! What the accepted plan had and the scenario has no more, or makes otherwise: it is told, with what became of it.

use beamyard::plan::{Change, Plan};
use beamyard::progress::{Gone, GoneRun, Previous, PreviousRun, Progress};
use beamyard::scenario::Scenario;
use chrono::TimeDelta;

use crate::again::rest;
use crate::moment::{accepted, later};
use crate::reasons::{read, text};
use crate::support::planned;

const BY_DAY: &str = "08:00-18:00";

/// Two lids, each alone on its plate.
const LIDS: [&str; 2] = [
    "  - {id: lid, size: [150, 150, 30], quantity: 2, alone: true, filament: grey, minutes: {one: 60, two: 60}}",
    "  - {id: box, parts: {lid: 2}}",
];

const ONE_LID: [&str; 2] = [
    "  - {id: lid, size: [150, 150, 30], alone: true, filament: grey, minutes: {one: 60, two: 60}}",
    "  - {id: box, parts: {lid: 1}}",
];

fn shop([parts, assemblies]: [&str; 2]) -> Scenario {
    read(&text(BY_DAY, parts, assemblies))
}

fn first(shop: &Scenario) -> Plan {
    planned(shop, 1, 1_000).expect("a plan").plan
}

/// What the rest of a shop changes in a plan that was accepted.
fn changes(shop: &Scenario, mut previous: Previous) -> Vec<Change> {
    previous.news = true;
    let mut then = Progress::none(shop);
    then.previous = Some(previous);
    let second = rest(shop, &then, 1_000).expect("a plan");
    second.since.expect("it is the rest").changes
}

fn gone(run: PreviousRun, machine: &str, why: Gone) -> GoneRun {
    GoneRun {
        id: run.id,
        machine: machine.to_owned(),
        on: None,
        filament: Some(run.filament),
        start: run.start,
        end: run.end,
        pieces: run.pieces,
        why,
        scrapped: false,
    }
}

#[test]
fn runs_of_a_machine_that_is_gone_are_said_to_be_what_they_were_there() {
    let shop = shop(ONE_LID);
    let first = first(&shop);
    let mut previous = accepted(&first, shop.build.start);
    let mut run = previous.runs.remove(0);
    run.id = "left-001".to_owned();
    let start = run.start;
    previous.gone.push(gone(run, "left", Gone::Machine));
    let changes = changes(&shop, previous);
    let [change] = &changes[..] else {
        panic!("one run is another: {changes:?}")
    };
    assert_eq!(change.was.as_deref(), Some("left-001"));
    assert_eq!(change.from, Some(("left".to_owned(), start)));
    assert!(change.to.is_some());
    assert_eq!(change.why, "machine left is gone");
    // What it cost there nobody knows any more.
    assert_eq!(change.money, None);
}

#[test]
fn a_run_of_a_part_that_is_gone_is_told_though_nothing_comes_in_its_place() {
    let shop = shop(LIDS);
    let first = first(&shop);
    let mut previous = accepted(&first, shop.build.start);
    let mut peg = previous.runs[0].clone();
    (peg.id, peg.pieces) = ("one-007".to_owned(), Vec::new());
    let pegs = Gone::Parts(vec!["peg".to_owned()]);
    previous.gone.push(gone(peg, "one", pegs));
    let changes = changes(&shop, previous);
    let [change] = &changes[..] else {
        panic!("one run is no more: {changes:?}")
    };
    assert_eq!((change.run.as_str(), change.to), ("one-007", None));
    assert_eq!(change.why, "peg is wanted no more");
}

#[test]
fn a_run_that_loses_some_of_its_parts_is_a_change_with_their_names() {
    let shop = shop(ONE_LID);
    let first = first(&shop);
    let mut previous = accepted(&first, shop.build.start);
    previous.runs[0].without = vec!["peg".to_owned()];
    let was = previous.runs[0].id.clone();
    let changes = changes(&shop, previous);
    let [change] = &changes[..] else {
        panic!("one run is another: {changes:?}")
    };
    assert_eq!(change.was, Some(was.clone()));
    assert_ne!(change.run, was, "its name means a plate with a peg");
    assert_eq!(change.why, "of what was on it peg is wanted no more");
}

#[test]
fn a_run_whose_filament_is_gone_keeps_its_machine_and_what_it_prints_is_not_printed_again() {
    let shop = shop(LIDS);
    let first = first(&shop);
    let run = &first.runs[0];
    let now = run.start + TimeDelta::minutes(10);
    let mut then = later(&shop, &first, &Progress::none(&shop), now, |_| true);
    let prints = then.running.len();
    for running in &mut then.running {
        running.filament = None;
    }
    for machine in &mut then.machines {
        machine.loaded = None;
    }
    let second = rest(&shop, &then, 1_000).expect("a plan");
    assert_eq!(second.runs.len() + prints, first.runs.len());
    let mut behind = second.runs.iter();
    assert!(behind.all(|next| {
        let mut standing = second.standing().iter();
        let before = standing.find(|one| one.machine == next.machine);
        before.is_none_or(|one| next.setup.is_some_and(|setup| setup >= one.end))
    }));
}

#[test]
fn a_part_that_is_made_of_other_lengths_says_so_on_either_side() {
    let beams = |into: &str| {
        let part = format!(
            "  - {{id: beam, size: [300, 40, 30], filament: grey, alone: true, split: {{joint: dowel, into: {into}}}}}"
        );
        let text = text(BY_DAY, &part, "  - {id: box, parts: {beam: 1}}");
        read(&text.replace(
            "parts:\n  - {id: beam",
            "joints: {dowel: {shortest: 50, bench: 5 min, cure: 1 h, grams: 2}}\nparts:\n  - {id: beam",
        ))
    };
    let (then, now) = (beams("2"), beams("3"));
    let first = first(&then);
    let changes = changes(&now, accepted(&first, then.build.start));
    let (came, went): (Vec<&Change>, Vec<&Change>) =
        changes.iter().partition(|one| one.to.is_some());
    assert!(!came.is_empty() && !went.is_empty(), "{changes:?}");
    for change in came.into_iter().chain(went) {
        assert_eq!(change.why, "beam is made of 3 lengths now");
    }
}

#[test]
fn what_is_needed_no_more_and_what_is_new_is_told_by_its_number() {
    // Each setup costs 10, so that all caps are on one plate.
    let shop = |caps: u32, lids: u32| {
        let part = |id: &str, count: u32| match count {
            0 => String::new(),
            _ => format!(
                "  - {{id: {id}, size: [90, 90, 90], quantity: {count}, filament: grey, only: [one], minutes: {{one: 60}}}}\n"
            ),
        };
        let lids_of = if lids > 0 {
            format!(", lid: {lids}")
        } else {
            String::new()
        };
        let box_of = format!("  - {{id: box, parts: {{cap: {caps}{lids_of}}}}}");
        let text = text(BY_DAY, &(part("cap", caps) + &part("lid", lids)), &box_of);
        read(&text.replace("hands: 1}", "hands: 1, bench_hour: 60}"))
    };
    let why = |then: &Scenario, now: &Scenario| {
        let first = first(then);
        let changes = changes(now, accepted(&first, then.build.start));
        let told = changes
            .into_iter()
            .map(|one| (one.was, one.to.is_some(), one.why));
        told.collect::<Vec<_>>()
    };
    let was = || Some("one-001".to_owned());
    assert_eq!(
        why(&shop(4, 0), &shop(3, 0)),
        [
            (None, true, "it has pieces of what was one-001".to_owned()),
            (
                was(),
                false,
                "pieces of it are on one-002 now; 1 piece of cap is needed no more".to_owned()
            ),
        ]
    );
    assert_eq!(
        why(&shop(3, 0), &shop(4, 0)),
        [
            (
                None,
                true,
                "it has pieces of what was one-001; 1 piece of cap was lost or is wanted besides"
                    .to_owned()
            ),
            (was(), false, "its pieces are on one-002 now".to_owned()),
        ]
    );
    // Two plates of four, of which one is needed: no piece is said to be in two places.
    let half: Vec<String> = why(&shop(8, 0), &shop(2, 0))
        .into_iter()
        .map(|(.., why)| why)
        .collect();
    let no_more = half.iter().filter(|why| why.ends_with("needed no more"));
    assert_eq!(no_more.count(), 2, "{half:?}");
    let moved = half.iter().filter(|why| why.contains("are on one-003 now"));
    assert_eq!(moved.count(), 1, "{half:?}");
    assert_eq!(
        why(&shop(4, 0), &shop(4, 1)),
        [(None, true, "lid is new".to_owned())]
    );
}
