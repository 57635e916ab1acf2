//! Changes of filament that nobody would make.

use beamyard::plan::Run;
use beamyard::scenario::FilamentIndex;
use chrono::{DateTime, TimeDelta, Utc};

use crate::{Looked, Shop};

/// Neighbours of one day on a machine that would save changes of filament the other way round.
pub fn saved_by_exchanging_neighbours(shop: &Shop) -> Looked {
    let Shop { scenario, plan, .. } = shop;
    let mut looked = Looked::default();
    let day = |at: DateTime<Utc>| at.with_timezone(&scenario.build.zone).date_naive();
    // What has to be tried first, or to wait, has its place for that.
    let tried = |run: &Run| {
        let mut pieces = run.pieces.iter();
        pieces.any(|piece| scenario.parts[piece.part.0].trial > 0)
    };
    let waits = |run: &Run| {
        let mut pieces = run.pieces.iter();
        pieces.any(|piece| scenario.parts[piece.part.0].ready.is_some())
    };
    for machine in 0..scenario.machines.len() {
        let runs = plan.runs.iter().filter(|run| run.machine.0 == machine);
        let runs: Vec<&Run> = runs.collect();
        for at in 1..runs.len() {
            let (first, second) = (runs[at - 1], runs[at]);
            // Only where the two end on one day as well: then nothing at the bench is later than that evening for it.
            if first.setup.map(day) != second.setup.map(day) || day(first.end) != day(second.end) {
                continue;
            }
            if tried(first) || tried(second) || waits(second) {
                continue;
            }
            looked.compared += 1;
            let before = match at.checked_sub(2) {
                Some(before) => Some(runs[before].filament),
                None => scenario.machines[machine].loaded,
            };
            let after = runs.get(at + 1).map(|run| run.filament);
            let changes = |order: [FilamentIndex; 2]| {
                usize::from(before != Some(order[0]))
                    + usize::from(order[0] != order[1])
                    + usize::from(after.is_some_and(|after| after != order[1]))
            };
            let now = changes([first.filament, second.filament]);
            let then = changes([second.filament, first.filament]);
            if now > then {
                let (first, second) = (&first.id, &second.id);
                let saved = now - then;
                looked
                    .absurd
                    .push(format!("{second} before {first} saves {saved}"));
            }
        }
    }
    looked
}

#[test]
fn a_plan_with_a_change_too_many_is_refused() {
    let mut shop = crate::planned("first-week", 2_000);
    let part = |run: &Run| shop.scenario.parts[run.pieces[0].part.0].id.clone();
    let of = |id: &str| shop.plan.runs.iter().find(|run| part(run) == id).cloned();
    let (mut red, mut white) = (
        of("foot").expect("it is red"),
        of("pane").expect("it is white"),
    );
    assert_eq!(shop.scenario.machines[0].loaded, Some(white.filament));
    assert_ne!(red.filament, white.filament);
    // White is loaded. An hour each on one morning: red in between is two changes, red last is one.
    let hour = |run: &mut Run, hour: i64| {
        let from = shop.scenario.build.start + TimeDelta::hours(hour);
        run.setup = Some(from);
        run.start = from + TimeDelta::minutes(10);
        run.end = from + TimeDelta::hours(1);
    };
    hour(&mut red, 1);
    hour(&mut white, 0);
    shop.plan.runs = vec![white.clone(), red.clone()];
    let good = saved_by_exchanging_neighbours(&shop);
    assert_eq!((good.compared, good.absurd), (1, vec![]));
    hour(&mut red, 0);
    hour(&mut white, 1);
    shop.plan.runs = vec![red, white];
    let bad = saved_by_exchanging_neighbours(&shop);
    assert_eq!((bad.compared, bad.absurd.len()), (1, 1), "{:?}", bad.absurd);
}
