//! Which spool is meant: faults of their names.

use beamyard::plan::Plan;
use beamyard::scenario::Scenario;
use beamyard::units::Grams;

use crate::money::provide_with;
use crate::tide_clock::{BLUE, RED, plan, run, shop};

/// Two spools of red that last for all, `red-1` on `tall` and `red-2` on `wide`; `blue-1` of the 1000 g on the belt.
fn named(shop: &mut Scenario, plan: &mut Plan, margin: f64) {
    shop.filaments[RED.0].spools = vec![Grams(600.0), Grams(650.0)];
    shop.filaments[BLUE.0].spools = vec![Grams(1000.0), Grams(700.0)];
    provide_with(shop, plan, margin);
    let mut name = |id: &str| run(plan, id).spool.name.as_deref().map(str::to_owned);
    assert_eq!(name("tall-001").as_deref(), Some("red-1"));
    assert_eq!(name("wide-001").as_deref(), Some("red-2"));
    assert_eq!(name("tall-002"), None);
}

#[test]
fn spools_that_are_named_as_they_are_keep_every_rule() {
    for margin in [0.0, 0.03] {
        let (mut shop, mut plan) = (shop(), plan());
        named(&mut shop, &mut plan, margin);
        assert_eq!(crate::broken(&shop, &plan), [].into(), "{margin}");
    }
}

planted! {
    a_spool_that_nobody_has: SpoolNamed => |shop, plan| {
        named(shop, plan, 0.03);
        run(plan, "tall-001").spool.name = Some("red-3".into());
    }
    a_spool_of_another_filament: SpoolNamed => |shop, plan| {
        named(shop, plan, 0.03);
        run(plan, "tall-001").spool.name = Some("blue-1".into());
    }
    a_spool_on_two_machines: SpoolNamed => |shop, plan| {
        named(shop, plan, 0.03);
        // 570 g of it are left when `wide` is set up.
        let spool = &mut run(plan, "wide-001").spool;
        (spool.name, spool.put_on) = (Some("red-1".into()), Some(Grams(570.0)));
    }
    a_spool_on_two_machines_without_a_margin: SpoolNamed => |shop, plan| {
        named(shop, plan, 0.0);
        let spool = &mut run(plan, "wide-001").spool;
        (spool.name, spool.put_on) = (Some("red-1".into()), Some(Grams(570.0)));
    }
    a_spool_with_the_grams_of_another: SpoolNamed => |shop, plan| {
        named(shop, plan, 0.03);
        run(plan, "tall-001").spool.name = Some("red-2".into());
    }
    a_spool_on_hand_that_is_said_to_be_ordered: SpoolAllotted => |shop, plan| {
        named(shop, plan, 0.03);
        run(plan, "tall-001").spool.name = None;
    }
    a_name_where_no_spool_goes_on: SpoolNamed => |shop, plan| {
        named(shop, plan, 0.03);
        run(plan, "tall-002").spool.name = Some("red-1".into());
    }
    an_ordered_spool_with_a_name: SpoolNamed => |shop, plan| {
        // One of the 500 g that are on hand, one of 1000 g to come: what is ordered has not the other's name.
        provide_with(shop, plan, 0.03);
        let ordered = plan.runs.iter_mut().find(|run| run.filament == RED && run.spool.put_on == Some(Grams(1000.0)));
        let ordered = ordered.expect("one is missing");
        assert_eq!(ordered.spool.name, None);
        ordered.spool.name = Some("red-1".into());
    }
}
