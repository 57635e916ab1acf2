//! The table of what fits where.

use beamyard::report::{Look, check, unmakeable};

use beamyard::calendar::Calendar;
use beamyard::routes::{Kind, RunLimits};
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

#[test]
fn a_split_of_which_one_length_has_no_time_is_none() {
    // One length takes 5 h and fits both machines, the other 12 h and fits one; bench hours leave 10 h.
    let scenario = demo::scenario();
    let mut routes = demo::routes(&scenario);
    let part = demo::CHORD.0;
    let form = &mut routes[part].forms[0];
    let [first, other] = [vec![1], vec![2]].map(|positions| Kind {
        positions,
        ..form.kinds[0].clone()
    });
    form.kinds = vec![first, other];
    for way in &mut form.ways {
        way.alone = Minutes(300);
    }
    let mut long = form.ways[0].clone();
    (long.kind, long.alone) = (1, Minutes(720));
    form.ways.push(long);
    let told = |hours: i64| {
        let limits = RunLimits::new(vec![Some(Minutes(hours * 60)); scenario.machines.len()]);
        let text = check(&scenario, &routes, &limits, &Look::plain(80));
        let mut rows = text.lines().map(str::to_owned);
        let id = scenario.parts[part].id.as_str();
        let row = rows.find(|row| row.starts_with(id)).expect("its row");
        (row, text)
    };
    let (row, text) = told(10);
    assert_eq!(row.matches("no time").count(), 2, "{row}");
    assert!(!row.contains("split"), "{row}");
    // The cap is made by no machine, whatever the hours.
    assert!(
        text.contains("no errors, but 2 parts that no machine can make"),
        "{text}"
    );
    assert!(
        text.contains("1 for which no bench hours are long enough"),
        "{text}"
    );
    let (row, text) = told(12);
    assert_eq!(row.matches("split 2").count(), 2, "{row}");
    assert!(
        text.contains("no errors, but 1 part that no machine can make"),
        "{text}"
    );
}
