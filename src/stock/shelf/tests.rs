//! Which spool goes on, with shelves that are drawn.

use proptest::prelude::*;

use super::super::Held;
use super::*;
use crate::scenario::read_text;

/// Two beds, spools of 1000 g that take so many days.
fn farm(lead: u32) -> Scenario {
    let text = format!(
        r"
build: {{start: 2027-01-11 07:00}}
machines:
  - {{id: one, kind: bed, bed: [300, 300], height: 100}}
  - {{id: two, kind: bed, bed: [300, 300], height: 100}}
filaments: [{{id: grey, material: PLA, spool: 1000, lead: {lead} d}}]
parts: [{{id: rod, size: [60, 20, 20], filament: grey}}]
"
    );
    match read_text("shelf.yaml", &text, std::path::Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

const GREY: FilamentIndex = FilamentIndex(0);
const ONE: MachineIndex = MachineIndex(0);

proptest! {
    #[test]
    fn no_end_that_is_soon_empty_goes_on_while_something_else_would_do(
        shelf in proptest::collection::vec(15u32..400, 1..6),
        idle in proptest::option::of(15u32..600),
        chain in 20u32..900,
        late in any::<bool>(),
        ends_first in any::<bool>(),
        hours in proptest::collection::vec(any::<bool>(), 1..12),
    ) {
        let scenario = farm(if late { 30 } else { 1 });
        let start = scenario.build.start;
        let held = |grams: u32| Held { name: "grey".into(), grams: Grams(f64::from(grams)), from: None, on: None, comes: false };
        let mut on_hand = OnHand {
            spools: vec![shelf.iter().copied().map(held).collect()],
            today: Some(start.date_naive()),
        };
        on_hand.spools[0].extend(idle.map(|grams| Held { on: Some(MachineIndex(1)), ..held(grams) }));
        let chain = f64::from(chain);
        let sum: u32 = shelf.iter().sum::<u32>() + idle.unwrap_or(0);
        let habit = Habit { keep: true, ends_first, counted_from: start.date_naive(), offered: &[] };
        let mut of = Shelf::new(&scenario, &on_hand, &[Grams(f64::from(sum))], habit);
        let need = Need {
            machine: ONE,
            filament: GREY,
            begins: start + TimeDelta::days(7),
            setup: true,
            purge: 0.0,
            run: chain,
            chain,
        };
        // A gram a minute; somebody is there in some hours.
        let minutes = |grams: f64| TimeDelta::minutes(grams.max(0.0) as i64);
        let lasts = |left: f64| if left >= chain {
            Lasting { time: TimeDelta::MAX, rest: TimeDelta::zero(), attended: true }
        } else {
            let hour = left as usize / 60;
            Lasting { time: minutes(left), rest: minutes(chain - left), attended: hours[hour % hours.len()] }
        };
        let (spool, _) = of.set_up(&need, &lasts);
        let chosen = lasts(spool.left);
        if chosen.time < TimeDelta::hours(1) {
            // Then there is nothing that lasts longer, and no order can have come.
            prop_assert!(late);
            let others = shelf.iter().chain(&idle).map(|&grams| f64::from(grams));
            for other in others.filter(|&other| other > 10.0) {
                prop_assert!(lasts(other).time < TimeDelta::hours(1), "{other} would do");
            }
        }
        if spool.left < chain && chosen.rest < TimeDelta::hours(1) {
            // Then none covers it, nor ends with somebody there and leaves more than that to the next.
            for other in shelf.iter().map(|&grams| f64::from(grams)) {
                prop_assert!(other < chain);
                let better = lasts(other);
                prop_assert!(!(chosen.attended && better.attended && better.is_long() && better.leaves_much()), "{other} would do");
            }
        }
    }
}
