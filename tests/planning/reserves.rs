//! With what certainty enough copies come of a plan, where the program counts spares: told truly, and as much as was asked.

use std::path::Path;

use beamyard::plan::{Plan, Reserve};
use beamyard::planning::{Options, again, plan};
use beamyard::progress::Progress;
use beamyard::scenario::{Scenario, read_text};
use beamyard::search::portfolio::Limit;

fn read(machines: &str, parts: &str, confidence: &str) -> Scenario {
    let text = format!(
        "build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo, confidence: {confidence}}}\n\
         bench: {{hours: {{mon-sun: [\"07:00-22:00\"]}}}}\n\
         machines: [{machines}]\n\
         filaments: [{{id: grey, material: PLA, spools: [5000]}}]\n\
         joints: {{peg: {{bench: 5 min, cure: 1 h}}}}\n\
         parts: [{parts}]\n"
    );
    let reading = read_text("spares.yaml", &text, Path::new(""));
    reading.unwrap_or_else(|all| panic!("{all}")).scenario
}

fn options<'a>() -> Options<'a> {
    Options {
        limit: Some(Limit::Moves(1_000)),
        ..Options::default()
    }
}

fn planned(scenario: &Scenario) -> Plan {
    let planned = plan(scenario, &options());
    planned.unwrap_or_else(|none| panic!("{none:?}")).plan
}

const DESK: &str = "{id: desk, kind: bed, bed: [220, 220], height: 150, scrap: 10%}";
const WORN: &str = "{id: worn, kind: bed, bed: [160, 160], height: 150, scrap: 25%}";

/// A share of the Beta distribution with these whole parameters a and b: the a-th least of a + b − 1 uniform numbers is of it.
fn share(tools: &mut Chance, failures: u32, successes: u32) -> f64 {
    let mut drawn: Vec<f64> = (1..failures + successes).map(|_| tools.next()).collect();
    drawn.sort_by(f64::total_cmp);
    drawn[failures as usize - 1]
}

struct Chance(u64);

impl Chance {
    /// A number from 0 to 1, by SplitMix64.
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// How often enough good copies came of the plan's runs, of so many times that they were drawn.
fn drawn(scenario: &Scenario, plan: &Plan, reserve: &Reserve, times: u32) -> f64 {
    let part = &scenario.parts[reserve.part.0];
    let mut tools = Chance(11);
    let mut enough = 0;
    for _ in 0..times {
        let shares: Vec<f64> = (scenario.machines.iter())
            .map(|machine| {
                let failures = (machine.scrap * 20.0).round() as u32;
                share(&mut tools, failures, 20 - failures)
            })
            .collect();
        // By length of a copy, of how many lengths it is: good pieces.
        let mut good = std::collections::BTreeMap::new();
        for run in &plan.runs {
            let fails = tools.next() < shares[run.machine.0];
            for piece in run.pieces.iter().filter(|one| one.part == reserve.part) {
                *good.entry((piece.of, piece.length)).or_insert(0) += u32::from(!fails);
            }
        }
        let mut copies = std::collections::BTreeMap::new();
        for ((of, _), n) in good {
            let least = copies.entry(of).or_insert(u32::MAX);
            *least = n.min(*least);
        }
        enough += u32::from(copies.values().sum::<u32>() >= part.quantity);
    }
    f64::from(enough) / f64::from(times)
}

#[test]
fn what_is_told_is_what_comes_of_failures_that_are_drawn() {
    for (machines, parts, confidence) in [
        (
            DESK.to_owned(),
            "{id: bar, size: [200, 62, 20], quantity: 4, spares: auto}",
            "95%",
        ),
        (
            DESK.to_owned(),
            "{id: pin, size: [20, 20, 20], quantity: 40, spares: auto}",
            "95%",
        ),
        (
            DESK.to_owned(),
            "{id: mast, size: [380, 20, 20], quantity: 8, spares: auto, split: {joint: peg, into: 2}}, \
             {id: pin, size: [20, 20, 20], quantity: 12, spares: auto}",
            "90%",
        ),
        (
            format!("{DESK}, {WORN}"),
            "{id: tile, size: [70, 70, 10], quantity: 9, spares: auto}",
            "95%",
        ),
    ] {
        let scenario = read(&machines, parts, confidence);
        let plan = planned(&scenario);
        assert_eq!(plan.reserves.len(), scenario.parts.len());
        for reserve in &plan.reserves {
            let part = &scenario.parts[reserve.part.0];
            assert!(
                reserve.exact && reserve.certainty >= scenario.build.confidence - 1e-9,
                "{}: {reserve:?}",
                part.id
            );
            // Of 20,000 the standard deviation is 0.0015 at 95 %.
            let found = drawn(&scenario, &plan, reserve, 20_000);
            assert!(
                (found - reserve.certainty).abs() < 0.008,
                "{}: {found} is not {reserve:?}",
                part.id
            );
        }
    }
}

#[test]
fn no_more_copies_share_a_run_than_the_spares_make_up_for() {
    // Four bars and four spares on one run: a run in ten fails, and all eight with it.
    let scenario = read(
        DESK,
        "{id: bar, size: [60, 30, 20], quantity: 4, spares: auto}, {id: foot, size: [30, 30, 20], quantity: 4}",
        "95%",
    );
    let most = scenario.parts[0].together.expect("some must be spare");
    let plan = planned(&scenario);
    let mut fullest = 0;
    for run in &plan.runs {
        let bars = run.pieces.iter().filter(|piece| piece.part.0 == 0);
        fullest = fullest.max(bars.count() as u32);
    }
    assert_eq!(fullest, most);
    // Feet have no spares, so nothing keeps more of them apart.
    let feet = plan.runs.iter().map(|run| {
        let feet = run.pieces.iter().filter(|piece| piece.part.0 == 1);
        feet.count() as u32
    });
    assert!(scenario.parts[1].together.is_none() && feet.sum::<u32>() == 4);
}

#[test]
fn where_machines_came_to_fail_more_often_the_plan_says_what_it_falls_short_of() {
    let mut scenario = read(
        DESK,
        "{id: bar, size: [200, 62, 20], quantity: 4, spares: auto}",
        "95%",
    );
    let mut progress = Progress::none(&scenario);
    (progress.machines[0].runs, progress.machines[0].failed) = (12, 6.0);
    // The spares are those of before.
    let few = again(&scenario, &progress, &options()).unwrap_or_else(|none| panic!("{none:?}"));
    let reserve = few.plan.reserves[0];
    assert!(reserve.certainty < 0.95, "{reserve:?}");
    let scrap = few
        .plan
        .cautions
        .iter()
        .find(|one| one.starts_with("Scrap"));
    let scrap = scrap.expect("a caution");
    // Two of twenty and six of twelve: 8 of 32.
    assert!(scrap.contains("desk 25 % (6 of 12 runs failed)"), "{scrap}");
    let expected = few.plan.runs.len() as f64 * 0.25;
    assert!(
        scrap.contains(&format!("about {expected:.1} of")),
        "{scrap}"
    );
    assert!(scrap.contains("Not 95 %, as was asked"), "{scrap}");
    assert_eq!(progress.reserve(&mut scenario), Ok(()));
    let enough = again(&scenario, &progress, &options()).unwrap_or_else(|none| panic!("{none:?}"));
    assert!(enough.plan.reserves[0].certainty >= 0.95);
}
