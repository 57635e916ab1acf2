//! Plans of shops that have weighed and timed what they printed, or measured programs.

use beamyard::routes::routes;
use beamyard::scenario::{
    Axis, MachineIndex, Measurement, PartIndex, Scenario, SettingsIndex, Toolpath, read_text,
};
use beamyard::units::Grams;
use proptest::option::weighted;
use proptest::prelude::*;

use crate::shops::small_shops;
use crate::support::{SAME, cases, planned};

/// A measurement of anything, from far too little to far too much.
fn measurement() -> impl Strategy<Value = Measurement> {
    (
        (any::<usize>(), any::<usize>()),
        (1..5u32, 1..4u32),
        weighted(0.3, prop::sample::select(Axis::ALL.to_vec())),
        weighted(0.7, 0.0..8.0f64),
        weighted(0.7, 0.0..7.0f64),
    )
        .prop_map(
            |((part, machine), (pieces, lengths), upright, grams, minutes)| Measurement {
                against: None,
                part: PartIndex(part),
                machine: MachineIndex(machine),
                pieces,
                lengths,
                upright,
                grams: grams.map(|log| Grams(log.exp())),
                minutes: minutes.map(f64::exp),
            },
        )
}

/// A program of anything.
fn program() -> impl Strategy<Value = (usize, usize, Toolpath)> {
    (any::<usize>(), any::<usize>(), 0.0..6.0f64, 0.0..6.0f64).prop_map(
        |(part, machine, grams, minutes)| {
            let toolpath = Toolpath {
                grams: Grams(grams.exp()),
                minutes: minutes.exp(),
            };
            (part, machine, toolpath)
        },
    )
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn a_plan_by_measurements_and_programs_passes_an_audit_that_fits_them_again(
        mut shop in small_shops(),
        measured in prop::collection::vec(measurement(), 0..12),
        programs in prop::collection::vec(program(), 0..4),
    ) {
        let (parts, machines) = (shop.parts.len(), shop.machines.len());
        shop.measured = measured
            .into_iter()
            .map(|one| Measurement {
                part: PartIndex(one.part.0 % parts),
                machine: MachineIndex(one.machine.0 % machines),
                ..one
            })
            .collect();
        for (part, machine, toolpath) in programs {
            let known = &mut shop.parts[part % parts].toolpaths;
            known.resize(machines, None);
            known[machine % machines] = Some(toolpath);
        }
        // `planned` panics where the audit finds anything.
        if let Ok(made) = planned(&shop, 1, 1_000) {
            let plan = made.plan;
            prop_assert!(plan.bound.value() <= plan.decided.value() + SAME);
            for order in &plan.orders {
                prop_assert_eq!(order.range.is_some(), !shop.measured.is_empty());
            }
        }
    }
}

fn shop(measured: &str) -> Scenario {
    let text = format!(
        "build: {{start: 2027-01-11 07:00}}\n\
         machines:\n\
         - {{id: one, kind: bed, bed: [300, 300], height: 200, flow: 10, layer_time: 3 s, warm_up: 0 min}}\n\
         - {{id: two, kind: bed, bed: [300, 300], height: 200, flow: 10, layer_time: 3 s, warm_up: 0 min}}\n\
         filaments: [{{id: white, material: PLA, density: 1.25, spools: [5000]}}]\n\
         settings: {{full: {{layer: 0.2, infill: 100%}}}}\n\
         parts:\n\
         - {{id: brick, quantity: 4, size: [100, 50, 20]}}\n\
         {measured}\n"
    );
    let reading = read_text("bricks.yaml", &text, "".as_ref());
    reading
        .unwrap_or_else(|complaints| panic!("{complaints}"))
        .scenario
}

/// Grams and seconds (own, layers) of a brick flat on a machine.
fn brick(shop: &Scenario, machine: usize) -> [f64; 3] {
    let routes = routes(shop);
    let way = routes[0].forms[0]
        .ways
        .iter()
        .find(|way| way.machine.0 == machine && way.upright == Axis::Z)
        .expect("a brick lies flat");
    [
        way.grams.value(),
        way.own_time.value(),
        way.layer_time.value(),
    ]
}

#[test]
fn without_measurements_the_estimate_is_exactly_what_it_was() {
    // Full: 100 000 mm³, 125 g; at 10 mm³/s 10 000 s, 100 layers of 3 s.
    let shop = shop("");
    assert_eq!(brick(&shop, 0), [125.0, 10_000.0, 300.0]);
    assert!(shop.measured.is_empty());
}

#[test]
fn one_weighing_moves_grams_by_its_share_here_and_less_on_the_other_machine() {
    // Two bricks of 250 g are weighed as 262.5: ln 1.05 = 0.04879, of which 0.0043/0.0107 holds for that place and 0.0025/0.0107
    // for all of the farm (variances 0.0064 + 0.0009 + 0.0009 + 0.0025, see `Spreads`). Minutes follow the plastic.
    let shop = shop("measured: [{part: brick, machine: one, pieces: 2, grams: 262.5}]");
    let y = 1.05_f64.ln();
    let (here, there) = ((y * 0.0043 / 0.0107).exp(), (y * 0.0025 / 0.0107).exp());
    for (machine, factor) in [(0, here), (1, there)] {
        let [grams, own, layers] = brick(&shop, machine);
        assert!((grams - 125.0 * factor).abs() < 1e-9, "{machine}: {grams}");
        assert!((own - 10_000.0 * factor).abs() < 1e-6, "{machine}: {own}");
        assert_eq!(layers, 300.0);
    }
}

#[test]
fn many_timings_bring_minutes_to_what_was_timed_layers_included() {
    // Three bricks take 3 · 10 000 + 300 s = 505 min by the estimate; timed at 606, a fifth more, a hundred times.
    let one = "- {part: brick, machine: one, pieces: 3, minutes: 606}\n";
    let shop = shop(&format!("measured:\n{}", one.repeat(100)));
    let [grams, own, layers] = brick(&shop, 0);
    assert_eq!(grams, 125.0);
    for (found, estimate) in [(own, 10_000.0), (layers, 300.0)] {
        assert!(
            (found / estimate - 1.2).abs() < 0.002,
            "{found} of {estimate}"
        );
    }
}

#[test]
fn measured_lengths_are_compared_with_lengths() {
    // Half a brick, 50 × 50 × 20, is 62.5 g.
    let exact = "measured: [{part: brick, machine: one, lengths: 2, pieces: 2, grams: 125}]";
    let [grams, ..] = brick(&shop(exact), 0);
    assert!((grams - 125.0).abs() < 1e-9);
}

#[test]
fn grams_and_minutes_of_the_part_itself_are_left_as_they_are() {
    let mut shop = shop("measured: [{part: brick, machine: one, grams: 150, minutes: 300}]");
    shop.parts[0].grams = Some(Grams(130.0));
    shop.parts[0].minutes[0] = Some(200.0);
    let [grams, own, layers] = brick(&shop, 0);
    assert!((grams - 130.0).abs() < 1e-12);
    assert_eq!((own, layers), (12_000.0, 0.0));
}

#[test]
fn an_order_has_the_range_of_its_estimates_and_the_purge_in_both_ends() {
    let scenario = shop("measured: [{part: brick, machine: one, grams: 125, pieces: 1}]");
    let plan = planned(&scenario, 1, 500).expect("a plan").plan;
    let [low, high] = plan.orders[0].range.expect("something is measured");
    let calibration = beamyard::estimate::Calibration::new(&scenario);
    let (mut least, mut most) = (0.0, 0.0);
    for run in &plan.runs {
        let spread = calibration.grams(run.machine, SettingsIndex(0)).spread;
        let purge = if run.swap_from.is_some() { 12.0 } else { 0.0 };
        least += purge + run.grams.value() * (-1.281_551_565_5 * spread).exp();
        most += purge + run.grams.value() * (1.281_551_565_5 * spread).exp();
    }
    assert!((low.value() - least).abs() < 1e-6 && (high.value() - most).abs() < 1e-6);
    assert!(low < plan.orders[0].grams && plan.orders[0].grams < high);
}
