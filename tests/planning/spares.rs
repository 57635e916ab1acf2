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
use beamyard::search::spares::{spares_last, spares_last_of_all};
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
fn where_hands_are_short_the_spare_changes_too_and_no_work_moves() {
    // The mast's lengths and the spare print into the night; the foot that the lamp takes follows next evening. Then the mast is
    // glued at 17:10, cured by 20:15 and built into the stand before nine, and the lamp is worked on when its foot is there. With
    // the lamp's work at 17:10 the glue would come after it, and the stand a day later.
    let text = "build: {start: 2027-01-11 17:00, timezone: Europe/Oslo, each_day: 3}\n\
         bench: {hours: {mon-sun: [\"17:00-21:00\"]}}\n\
         machines: [{id: desk, kind: bed, bed: [220, 220], height: 200}]\n\
         filaments: [{id: moss, material: PLA, spools: [5000]}]\n\
         joints: {peg: {bench: 5 min, cure: 3 h}}\n\
         parts:\n\
         - {id: mast, size: [400, 20, 20], lie: [y, z], split: {joint: peg, into: 2}}\n\
         - {id: foot, size: [100, 100, 20], spares: 1, minutes: {desk: 300}}\n\
         assemblies:\n\
         - {id: lamp, parts: {foot: 1}, bench: 90 min, due: 2027-01-14, late: 1}\n\
         - {id: stand, parts: {mast: 1}, bench: 40 min, cure: 4 h}\n\
         - {id: all, needs: [lamp, stand], bench: 30 min}\n";
    let reading = read_text("lamp.yaml", text, Path::new("")).unwrap_or_else(|all| panic!("{all}"));
    let scenario = reading.scenario;
    let shop = shop(&scenario);
    let of = |part: u32, spare: bool| {
        let class = shop.classes.iter().find(|class| {
            let none = shop.nodes[class.node as usize].assembly.is_none();
            class.part == part && none == spare
        });
        class.expect("it is there").items[0]
    };
    let (mast, foot, spare) = (of(0, false), of(1, false), of(1, true));
    let load = |item, count| Load { item, count };
    let sheets = [vec![
        vec![load(mast, 2), load(spare, 1)],
        vec![load(foot, 1)],
    ]];
    let mut copies = vec![0; shop.items.len()];
    for item in [mast, foot, spare] {
        copies[item as usize] = 1;
    }
    let state =
        State::of_sheets(&shop, &mut Fitter::default(), &sheets, &copies).expect("they fit");
    let before = Snapshot::of(&state);
    assert_eq!(spares_last(&shop, &before), before, "it would cost a day");
    let (after, held) = spares_last_of_all(&shop, &before).expect("it changes");
    let on = |run: usize| -> Vec<ItemId> {
        after.sheets[0][run]
            .loads
            .iter()
            .map(|load| load.item)
            .collect()
    };
    assert!(on(0).contains(&foot) && on(1) == [spare]);
    assert!((after.cost() - before.cost()).abs() < 1e-9);
    assert!(spares_last_of_all(&held, &after).is_none());
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
