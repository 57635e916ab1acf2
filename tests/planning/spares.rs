//! Nobody prints a spare while an assembly waits for its like.

use std::path::Path;

use beamyard::calendar::Calendar;
use beamyard::planning::{Options, plan};
use beamyard::routes::routes;
use beamyard::scenario::{Scenario, read_text};
use beamyard::search::fitter::Fitter;
use beamyard::search::plate::Load;
use beamyard::search::portfolio::Limit;
use beamyard::search::shop::{ItemId, Shop};
use beamyard::search::snapshot::Snapshot;
use beamyard::search::spares::spares_last;
use beamyard::search::state::State;

/// One bed, one part wanted twice with so many fields besides, each copy a run of its own.
fn scenario(part: &str, lamp: &str) -> Scenario {
    let text = format!(
        "build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 3}}\n\
         bench: {{hours: {{mon-sun: [\"07:00-22:00\"]}}}}\n\
         machines: [{{id: desk, kind: bed, bed: [220, 220], height: 200}}, {{id: tall, kind: bed, bed: [220, 220], height: 200}}]\n\
         filaments: [{{id: moss, material: PLA, spools: [5000]}}]\n\
         joints: {{peg: {{bench: 6 min, cure: 1 h}}}}\n\
         parts: [{{id: foot, quantity: 2, alone: true, {part}}}]\n\
         assemblies: [{{id: lamp, parts: {{foot: 2}}, {lamp}}}]\n"
    );
    let reading =
        read_text("lamp.yaml", &text, Path::new("")).unwrap_or_else(|all| panic!("{all}"));
    reading.scenario
}

fn shop(scenario: &Scenario) -> Shop {
    Shop::new(scenario, Calendar::new(scenario), &routes(scenario))
}

/// The first item of the spares, or of what the assembly takes.
fn item(shop: &Shop, spare: bool) -> ItemId {
    let of = |class: &&beamyard::search::shop::Class| {
        shop.nodes[class.node as usize].assembly.is_none() == spare
    };
    shop.classes.iter().find(of).expect("there are both").items[0]
}

#[test]
fn a_spare_printed_first_changes_with_the_copy_that_is_waited_for() {
    let scenario = scenario("size: [200, 200, 40], spares: 2", "bench: 0 min");
    let shop = shop(&scenario);
    let (needed, spare) = (item(&shop, false), item(&shop, true));
    let on = |items: &[ItemId]| -> Vec<Vec<Load>> {
        items
            .iter()
            .map(|&item| vec![Load { item, count: 1 }])
            .collect()
    };
    let copies: Vec<u32> = shop
        .items
        .iter()
        .map(|item| shop.classes[item.class as usize].copies)
        .collect();
    // Both spares go first, one on each machine.
    let sheets = [on(&[spare, needed]), on(&[spare, needed])];
    let state =
        State::of_sheets(&shop, &mut Fitter::default(), &sheets, &copies).expect("they fit");
    let before = Snapshot::of(&state);
    let after = spares_last(&shop, &before);
    for sheet in &after.sheets {
        let items: Vec<ItemId> = sheet.iter().map(|run| run.loads[0].item).collect();
        assert_eq!(items, [needed, spare]);
    }
    // The lamp is complete a run earlier, and no date of a run has moved.
    assert!(after.cost() < before.cost());
    let dates = |queue: &Snapshot| -> Vec<_> {
        queue
            .sheets
            .iter()
            .flat_map(|sheet| sheet.iter().map(|run| run.date).collect::<Vec<_>>())
            .collect()
    };
    assert_eq!(dates(&before), dates(&after));
    // The cost that is claimed is the cost of what comes out.
    let again = after.restore(&shop, &mut Fitter::default());
    assert!((again.cost() - after.cost()).abs() < 1e-9);
    // What is in order already stays as it is.
    assert_eq!(spares_last(&shop, &after), after);
}

#[test]
fn no_plan_prints_a_spare_before_a_copy_that_is_waited_for() {
    for (part, lamp) in [
        ("size: [200, 200, 40], spares: 3", "bench: 0 min"),
        (
            "size: [200, 200, 40], spares: auto",
            "due: 2027-03-01, late: 5",
        ),
        ("size: [200, 200, 40], spares: 2, trial: 1", "bench: 20 min"),
        (
            "size: [400, 40, 40], spares: 2, split: {joint: peg, into: 2}",
            "bench: 20 min",
        ),
    ] {
        let scenario = scenario(part, lamp);
        for seed in 1..=4 {
            let options = Options {
                limit: Some(Limit::Moves(60)),
                seed,
                ..Options::default()
            };
            let planned = plan(&scenario, &options).unwrap_or_else(|none| panic!("{none:?}"));
            let ends = |spare: bool| {
                let runs = planned.plan.runs.iter();
                let pieces = runs.flat_map(|run| run.pieces.iter().map(|piece| (run.end, piece)));
                let of = pieces.filter(move |(_, piece)| piece.assembly.is_none() == spare);
                of.map(|(end, _)| end).collect::<Vec<_>>()
            };
            let (spares, needed) = (ends(true), ends(false));
            assert!(!spares.is_empty(), "{part}");
            assert!(
                spares.iter().min() >= needed.iter().max(),
                "{part}, seed {seed}"
            );
        }
    }
}
