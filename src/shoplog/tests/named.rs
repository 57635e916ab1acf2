//! Spools by the names that the accepted plan has for them.

use super::*;
use crate::progress::Progress;

/// The plan, which says this of `tall-001`.
fn saying(said: &str) -> String {
    plan().replacen(
        r#""id":"tall-001","#,
        &format!(r#""id":"tall-001",{said},"#),
        1,
    )
}

/// A log in which it is followed.
fn following(said: &str) -> Bench {
    let mut bench = Bench::empty();
    let plan = saying(said);
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
    bench
}

fn on(bench: &Bench, machine: &str) -> Option<String> {
    bench.log.state().machines[machine].spool.clone()
}

#[test]
fn names_are_those_of_a_plan_without_a_log_also_of_more_than_nine() {
    let spools = ["100"; 12].join(", ");
    let text = SHOP
        .replace(", minutes_: 0", "")
        .replace("spools: [300, 1000]", &format!("spools: [{spools}]"));
    let Ok(reading) = scenario::read_text("shop.yaml", &text, Path::new("")) else {
        panic!("a shop with twelve spools");
    };
    let scenario = reading.scenario;
    let folder = tempfile::tempdir().expect("a temporary folder");
    let log = Log::open(&folder.path().join("shop.log.sqlite"), &scenario).expect("a new log");
    let then = progress(&scenario, &log, scenario.build.start).0;
    assert_eq!(then.spools, Progress::none(&scenario).spools);
    let names: Vec<&str> = then.spools[0]
        .iter()
        .map(|spool| spool.id.as_str())
        .collect();
    assert_eq!(
        (names[1], names[9], names[11]),
        ("red-2", "red-10", "red-12")
    );
}

#[test]
fn of_two_spools_of_one_mass_the_one_goes_on_that_the_plan_names() {
    for name in ["red-1", "red-2"] {
        let mut bench = following(&format!(r#""spool":300,"spool_name":"{name}""#));
        bench.note(weighed_spool("red-2", 300.0), "11 07:10");
        bench.start("tall-001", "11 08:00");
        assert_eq!(on(&bench, "tall").as_deref(), Some(name));
    }
    // Also where its grams are far from what the plan says: runs took more, and nobody has weighed it.
    let mut bench = following(r#""spool":300,"spool_name":"red-2""#);
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
}

#[test]
fn what_is_said_at_the_start_or_before_goes_before_the_name() {
    let named = r#""spool":300,"spool_name":"red-1""#;
    let mut bench = following(named);
    let said = Event::Started {
        run: "tall-001".into(),
        spool: Some("red-2".into()),
    };
    bench.note(said, "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
    let mut bench = following(named);
    bench.note(opened("red-2", "tall"), "11 07:50");
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
}

#[test]
fn a_named_spool_that_cannot_be_on_is_not_put_on_nor_another_of_its_mass() {
    let named = r#""spool":300,"spool_name":"red-1""#;
    // It is empty: the other goes on, since it lasts.
    let mut bench = following(named);
    bench.note(
        Event::SpoolEmpty {
            spool: "red-1".into(),
        },
        "11 07:10",
    );
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
    // It comes tomorrow.
    let mut bench = following(r#""spool":800,"spool_name":"red-3""#);
    let coming = Event::SpoolBought {
        spool: "red-3".into(),
        filament: "red".into(),
        grams: 800.0,
        arrives: Some(at("12 08:00")),
    };
    bench.note(coming, "11 07:10");
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-1"));
    // It is of another filament, or there is none: what is on stays.
    for name in ["grey-1", "red-9"] {
        let mut bench = Bench::empty();
        bench.note(opened("red-2", "tall"), "11 07:00");
        let plan = saying(&format!(r#""spool":300,"spool_name":"{name}""#));
        bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:20");
        bench.start("tall-001", "11 08:00");
        assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
    }
}

#[test]
fn a_named_spool_is_fetched_from_a_machine_that_does_not_print() {
    let mut bench = following(r#""spool":1000,"spool_name":"red-2","spool_from":"wide""#);
    bench.note(opened("red-2", "wide"), "11 07:10");
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
    assert_eq!(on(&bench, "wide"), None);
}

#[test]
fn what_is_ordered_is_none_that_the_plan_names() {
    // tall-001 gets one of 1000 g that is to be ordered; red-2, which has as much, is for tall-002.
    let plan = plan()
        .replacen(r#""id":"tall-001","#, r#""id":"tall-001","spool":1000,"#, 1)
        .replacen(
            r#""id":"tall-002","#,
            r#""id":"tall-002","spool":1000,"spool_name":"red-2","#,
            1,
        );
    let mut bench = Bench::empty();
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
    bench.note(bought("red-3", "red", 1000.0), "11 07:30");
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-3"));
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "12 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-2"));
}

#[test]
fn where_a_spool_ends_the_one_follows_that_the_plan_names() {
    // 240 g: 100 come off red-1, and then red-3 goes on, though red-2 lasts as well and weighs less.
    let mut bench = following(
        r#""spool":100,"spool_name":"red-1","spool_ends":[{"at":"2027-01-11T10:30:00Z","attended":true,"left":0,"next":1000,"next_name":"red-3"}]"#,
    );
    bench.note(bought("red-3", "red", 1000.0), "11 07:30");
    bench.note(weighed_spool("red-1", 100.0), "11 07:30");
    bench.note(weighed_spool("red-2", 500.0), "11 07:30");
    bench.start("tall-001", "11 08:00");
    let now = status(&shop(), bench.log.state(), at("11 09:00"));
    assert_eq!(now.printing[0].spool_ends, Some(at("11 10:30")));
    assert_eq!(now.printing[0].next_spool.as_deref(), Some("red-3"));
    bench.finish("tall-001", "11 14:00");
    let grams = ["red-1", "red-2", "red-3"].map(|spool| bench.grams(spool));
    assert_eq!(grams, [0.0, 500.0, 860.0]);
}

#[test]
fn what_follows_later_is_not_taken_to_be_on_from_the_start() {
    // Nobody knows what is on the machine; the plan has it end, and red-2 follow. The smallest that lasts is taken to be on.
    let mut bench = following(
        r#""spool":null,"spool_ends":[{"at":"2027-01-11T10:30:00Z","attended":true,"left":0,"next":1000,"next_name":"red-2"}]"#,
    );
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench, "tall").as_deref(), Some("red-1"));
}

#[test]
fn of_a_spool_that_ends_unplanned_the_one_is_told_that_would_be_taken_to_follow() {
    let mut bench = Bench::planned();
    bench.note(weighed_spool("red-1", 100.0), "11 08:00");
    bench.note(opened("red-1", "tall"), "11 08:10");
    bench.start("tall-001", "11 08:30");
    let now = status(&shop(), bench.log.state(), at("11 09:00"));
    assert_eq!(now.printing[0].next_spool.as_deref(), Some("red-2"));
    bench.finish("tall-001", "11 14:30");
    assert_eq!(bench.grams("red-2"), 860.0);
}

#[test]
fn what_is_next_names_the_spool_that_goes_on() {
    let bench = following(r#""spool":300,"spool_name":"red-1""#);
    let next = status(&shop(), bench.log.state(), at("11 07:00")).next;
    let spools: Vec<_> = next
        .iter()
        .filter_map(|next| match &next.what {
            Task::SetUp { run, spool, .. } => Some((run.as_str(), spool.as_deref())),
            _ => None,
        })
        .collect();
    assert!(spools.contains(&("tall-001", Some("red-1"))), "{spools:?}");
    assert!(spools.contains(&("wide-001", None)), "{spools:?}");
}
