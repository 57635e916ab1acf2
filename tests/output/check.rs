//! The table of what fits where.

use beamyard::report::{Look, check, unmakeable};

use beamyard::calendar::Calendar;
use beamyard::routes::RunLimits;
use beamyard::scenario::Scenario;
use beamyard::search::shop::run_limits;
use beamyard::units::Minutes;

use crate::demo;
use crate::table::widest;

/// How long runs may be by the scenario's bench hours.
pub fn limits(scenario: &Scenario) -> RunLimits {
    run_limits(scenario, &Calendar::new(scenario))
}

#[test]
fn what_fits_where_at_80_columns() {
    let scenario = demo::scenario();
    let text = check(
        &scenario,
        &demo::routes(&scenario),
        &limits(&scenario),
        &Look::plain(80),
    );
    insta::assert_snapshot!(text);
}

#[test]
fn many_machines_are_shown_in_blocks_that_keep_within_the_width() {
    let mut scenario = demo::scenario();
    let names: Vec<String> = (0..11)
        .map(|number| format!("machine-{number:02}"))
        .collect();
    for name in &names {
        scenario
            .machines
            .push(demo::bed(name, [200.0, 200.0], None));
    }
    let routes = demo::routes(&scenario);
    for width in [60, 80, 120] {
        let text = check(&scenario, &routes, &limits(&scenario), &Look::plain(width));
        assert!(widest(&text) <= usize::from(width), "{width}:\n{text}");
        for name in &names {
            assert_eq!(
                text.matches(name.as_str()).count(),
                1,
                "{name} at {width}:\n{text}"
            );
        }
    }
}

#[test]
fn machines_that_refuse_for_the_same_reason_share_a_line() {
    let scenario = demo::scenario();
    let mut routes = demo::routes(&scenario);
    for refusal in &mut routes[demo::CAP.0].refusals {
        refusal.reason = "12 mm too high".into();
    }
    let told = unmakeable(&scenario, &routes);
    // Parts that some machine makes are not explained here.
    let parts: Vec<_> = told.iter().map(|part| part.part).collect();
    assert_eq!(parts, [demo::CAP]);
    assert_eq!(told[0].lines[0], "tall, wide: 12 mm too high");
}

#[test]
fn what_no_bench_hours_hold_has_no_time_in_the_table_and_its_reason_below() {
    let scenario = demo::scenario();
    let routes = demo::routes(&scenario);
    // Half an hour on each machine: none of the pieces is printed so soon.
    let half = RunLimits::new(vec![Some(Minutes(30)); scenario.machines.len()]);
    let text = check(&scenario, &routes, &half, &Look::plain(80));
    assert!(text.contains("no time"), "{text}");
    let why = "tower-leg  belt        takes 75 min; bench hours leave 30 min after the setup";
    assert!(text.contains(why), "{text}");
    // With all the time that there is none of it is said.
    let always = RunLimits::new(vec![Some(Minutes(i64::MAX)); scenario.machines.len()]);
    let text = check(&scenario, &routes, &always, &Look::plain(80));
    assert!(!text.contains("no time"), "{text}");
}
