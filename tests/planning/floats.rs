//! Floats where there are several pairs of hands.

use beamyard::scenario::{Scenario, read_text};
use beamyard::units::Minutes;
use proptest::prelude::*;

use crate::support::{cases, planned};

/// Somebody is always there, with two pairs of hands. The cover is urgent and takes one of them for five hours; the other does the
/// lamp's foot, the lamp, and in between the setups of the caps, of which the last ends the build a day after it is printed.
const INTERRUPTED: &str = r#"
build: {name: Hands, start: 2026-01-05 07:00, timezone: Europe/Oslo, each_day: 10}
bench: {hours: {mon-sun: ["00:00-24:00"]}, hands: 2}
machines:
  - {id: one, kind: bed, bed: [100, 100], height: 100, warm_up: 0 s, layer_time: 0 s, loaded: grey, turnaround: 10 min}
  - {id: two, kind: bed, bed: [100, 100], height: 100, warm_up: 0 s, layer_time: 0 s, loaded: grey, turnaround: 10 min}
  - {id: three, kind: bed, bed: [100, 100], height: 100, warm_up: 0 s, layer_time: 0 s, loaded: grey, turnaround: 10 min}
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts:
  - {id: cap, quantity: 3, size: [60, 60, 20], filament: grey, alone: true, only: [one], grams: 10, minutes: {one: 40}}
  - {id: lid, size: [60, 60, 20], filament: grey, only: [two], grams: 10, minutes: {two: 20}}
  - {id: pin, size: [60, 60, 20], filament: grey, only: [three], grams: 10, minutes: {three: 20}}
assemblies:
  - {id: foot, parts: {pin: 1}, bench: 10 min}
  - {id: lamp, needs: [foot], bench: 2 h}
  - {id: cover, parts: {lid: 1}, bench: 5 h, due: 2026-01-05 12:30, late: 500}
  - {id: crown, parts: {cap: 3}, cure: 24 h}
"#;

fn scenario(text: &str) -> Scenario {
    match read_text("hands.yaml", text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

#[test]
fn a_setup_in_the_midst_of_a_work_is_no_minute_of_that_work() {
    // Minutes: the foot 40 to 50, the lamp 60 to 100 and, after a setup, 110 to 190; the last cap is printed at 150 and the crown complete
    // at 150 + 1440 = 1590. The lamp takes 120, so it may begin at 1470, and the foot end then: 1420 later.
    let shop = scenario(INTERRUPTED);
    let plan = planned(&shop, 1, 2_000).expect("a plan").plan;
    let minute = |at: chrono::DateTime<chrono::Utc>| (at - shop.build.start).num_minutes();
    let [foot, lamp, _, crown] = &plan.assemblies[..] else {
        panic!("four assemblies");
    };
    let work: Vec<_> = (lamp.work.iter())
        .map(|one| (minute(one.from), minute(one.to)))
        .collect();
    assert_eq!(work, [(60, 100), (110, 190)]);
    assert_eq!(minute(crown.complete), 1590);
    assert_eq!(foot.float, Minutes(1420));
}

/// What is made on a machine and assembled: copies, minutes to print each; minutes at the bench, whether it cures for a day; when it is due
/// in hours, and the assemblies before it that it needs, by bit.
type Stage = ((usize, u32, u32), (u32, bool), Option<u32>, u8);

/// Two pairs of hands that are always there, for setups and for works that last long enough to be interrupted.
fn busy_bench(turnaround: u32, stages: &[Stage]) -> Scenario {
    let [mut parts, mut assemblies] = [String::new(), String::new()];
    for (at, &((machine, copies, minutes), (bench, cures), due, needs)) in stages.iter().enumerate()
    {
        let on = ["one", "two", "three"][machine];
        let cure = if cures { "24 h" } else { "0 h" };
        let due = due.map_or(String::new(), |hours| {
            format!(
                ", due: 2026-01-{:02} {:02}:00, late: 500",
                5 + (7 + hours) / 24,
                (7 + hours) % 24
            )
        });
        let needs: Vec<String> = (0..at)
            .filter(|before| needs >> before & 1 == 1)
            .map(|before| format!("stage-{before}"))
            .collect();
        let needs = needs.join(", ");
        parts += &format!(
            "  - {{id: part-{at}, quantity: {copies}, size: [60, 60, 20], filament: grey, alone: true, only: [{on}], grams: 10, minutes: {{{on}: {minutes}}}}}\n"
        );
        assemblies += &format!(
            "  - {{id: stage-{at}, parts: {{part-{at}: {copies}}}, needs: [{needs}], bench: {bench} min, cure: {cure}{due}}}\n"
        );
    }
    let machines = ["one", "two", "three"].map(|id| {
        format!("  - {{id: {id}, kind: bed, bed: [100, 100], height: 100, warm_up: 0 s, layer_time: 0 s, loaded: grey, turnaround: {turnaround} min}}\n")
    });
    scenario(&format!(
        r#"
build: {{name: Hands, start: 2026-01-05 07:00, timezone: Europe/Oslo, each_day: 10}}
bench: {{hours: {{mon-sun: ["00:00-24:00"]}}, hands: 2}}
machines:
{}filaments: [{{id: grey, material: PLA, spools: [1000]}}]
parts:
{parts}assemblies:
{assemblies}"#,
        machines.concat()
    ))
}

fn stage() -> impl Strategy<Value = Stage> {
    (
        (0..3usize, 1..4u32, 10..90u32),
        (prop_oneof![1 => Just(0u32), 3 => 5..300u32], any::<bool>()),
        proptest::option::weighted(0.4, 1..20u32),
        any::<u8>(),
    )
}

proptest! {
    #![proptest_config(cases(25))]

    #[test]
    fn two_pairs_of_hands_give_sound_plans_however_often_works_are_interrupted(
        turnaround in 5..25u32,
        stages in proptest::collection::vec(stage(), 3..7),
    ) {
        // `planned` fails where a plan fails its audit.
        let made = planned(&busy_bench(turnaround, &stages), 1, 100);
        prop_assert!(made.is_ok());
    }
}
