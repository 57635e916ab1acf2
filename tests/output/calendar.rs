//! The calendar: what it holds, and how a later one changes it.

use beamyard::plan::{Plan, Since, SpareWork, Standing, Work};
use beamyard::report::{Issue, calendar};
use beamyard::scenario::Scenario;
use beamyard::units::{Grams, Money};
use chrono::{DateTime, TimeDelta, Utc};

use crate::demo;

/// Content lines with their folds undone, of each component with this property value in it, in order.
fn component<'a>(text: &'a str, holds: &str) -> Vec<String> {
    let whole = text.replace("\r\n ", "");
    let of = |begin: &'a str, end: &'a str| -> Vec<String> {
        whole
            .split(begin)
            .skip(1)
            .filter_map(|rest| Some(rest.split_once(end)?.0.to_owned()))
            .collect()
    };
    let all = of("BEGIN:VEVENT", "END:VEVENT").into_iter();
    all.chain(of("BEGIN:VTODO", "END:VTODO"))
        .filter(|component| component.contains(holds))
        .collect()
}

fn uids(text: &str) -> Vec<String> {
    let mut uids: Vec<String> = component(text, "")
        .iter()
        .filter_map(|one| {
            Some(
                one.split_once("\r\nUID:")?
                    .1
                    .split_once("\r\n")?
                    .0
                    .to_owned(),
            )
        })
        .collect();
    uids.sort();
    uids
}

fn later(days: i64, earlier: &str) -> Issue {
    let now = demo::issue().now + TimeDelta::days(days);
    Issue {
        earlier: Some(earlier.to_owned()),
        ..Issue::first(now)
    }
}

fn demo() -> (Scenario, Plan) {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    (scenario, plan)
}

#[test]
fn the_calendar_of_a_plan() {
    let (scenario, plan) = demo();
    insta::assert_snapshot!(calendar(&scenario, &plan, &demo::issue()));
}

#[test]
fn every_line_has_at_most_75_octets_and_ends_with_both_signs() {
    // RFC 5545, 3.1. Ninety-nine letters of two octets have to be folded, and never through the middle of one.
    let (mut scenario, plan) = demo();
    scenario.build.name = "å".repeat(99);
    scenario.parts[0].id = "æ, ø; \\ å".repeat(9);
    let text = calendar(&scenario, &plan, &demo::issue());
    for line in text.split_inclusive('\n') {
        assert!(line.ends_with("\r\n"), "{line:?}");
        assert!(line.len() <= 77, "{line:?}");
    }
    assert!(
        text.replace("\r\n ", "")
            .contains(&format!("NAME:{}", "å".repeat(99)))
    );
    assert!(text.replace("\r\n ", "").contains("æ\\, ø\\; \\\\ å"));
}

#[test]
fn setups_have_alarms_and_fill_time_runs_do_not_and_stages_are_days() {
    let (scenario, plan) = demo();
    let text = calendar(&scenario, &plan, &demo::issue());
    let setups = component(&text, "SUMMARY:Clear ");
    let setups = setups
        .iter()
        .chain(&component(&text, "SUMMARY:Set up "))
        .cloned()
        .collect::<Vec<_>>();
    assert_eq!(
        setups.len(),
        plan.runs.iter().filter(|run| run.setup.is_some()).count()
    );
    for setup in &setups {
        assert!(
            setup.contains("TRANSP:OPAQUE") && setup.contains("TRIGGER:-PT600S"),
            "{setup}"
        );
        assert!(setup.contains("DTSTART;TZID=Europe/Oslo:2027"), "{setup}");
    }
    let runs = component(&text, " prints: ");
    assert_eq!(runs.len(), plan.runs.len());
    assert!(
        runs.iter()
            .all(|run| run.contains("TRANSP:TRANSPARENT") && !run.contains("VALARM"))
    );
    // The jib is due on Saturday 16 January at 18:00 or before: a day that ends where the next begins.
    let stages = component(&text, " is due\\, ");
    let dated = scenario
        .assemblies
        .iter()
        .filter(|assembly| assembly.due.is_some())
        .count();
    assert_eq!(stages.len(), dated);
    assert!(
        stages
            .iter()
            .all(|stage| stage.contains("DTSTART;VALUE=DATE:2027")
                && stage.contains("DTEND;VALUE=DATE:2027"))
    );
    // Black by 8 January, grey by the 11th.
    assert_eq!(component(&text, "DUE;VALUE=DATE:20270108").len(), 1);
    assert_eq!(component(&text, "DUE;VALUE=DATE:20270111").len(), 1);
}

#[test]
fn a_later_plan_changes_what_there_is_and_doubles_nothing() {
    let (scenario, plan) = demo();
    let first = calendar(&scenario, &plan, &demo::issue());
    let stamp = |moment: DateTime<Utc>| format!("DTSTAMP:{}", moment.format("%Y%m%dT%H%M%SZ"));

    // The last run takes an hour more, and the second has another name: it is another run.
    let mut changed = plan.clone();
    let last = changed.runs.len() - 1;
    let gone = changed.runs[1].id.clone();
    changed.runs[last].end += TimeDelta::hours(1);
    changed.runs[1].id = "tall-077".into();
    let second = calendar(&scenario, &changed, &later(1, &first));

    let run = |text: &str, id: &str| component(text, &format!("SUMMARY:{id} prints"));
    let unchanged = run(&second, &plan.runs[0].id);
    assert!(
        unchanged[0].contains("SEQUENCE:0") && unchanged[0].contains(&stamp(demo::issue().now))
    );
    let longer = run(&second, &plan.runs[last].id);
    assert_eq!(longer.len(), 1);
    assert!(
        longer[0].contains("SEQUENCE:1")
            && longer[0].contains(&stamp(demo::issue().now + TimeDelta::days(1)))
    );
    let cancelled = run(&second, &gone);
    assert_eq!(cancelled.len(), 1);
    assert!(cancelled[0].contains("STATUS:CANCELLED") && cancelled[0].contains("SEQUENCE:1"));
    // Its setup rings no bell any more.
    let setup = component(&second, &format!("et up {gone}:"));
    assert!(setup[0].contains("STATUS:CANCELLED") && !setup[0].contains("VALARM"));
    // Its spool ends elsewhere, too.
    let spool = component(&second, &format!("While {gone} prints."));
    assert!(spool[0].contains("STATUS:CANCELLED") && spool[0].contains("SEQUENCE:1"));
    // Everything of the first file is in the second, once, and the new run, its setup and the end of its spool besides.
    let (before, after) = (uids(&first), uids(&second));
    assert!(
        before
            .iter()
            .all(|uid| after.iter().filter(|other| *other == uid).count() == 1)
    );
    assert_eq!(after.len(), before.len() + 3);

    // The same plan again: nothing is revised, what was cancelled stays so.
    assert_eq!(calendar(&scenario, &changed, &later(2, &second)), second);
    // And the first plan again: what was cancelled is back, in a later revision.
    let third = calendar(&scenario, &plan, &later(3, &second));
    let back = run(&third, &gone);
    assert!(back[0].contains("STATUS:CONFIRMED") && back[0].contains("SEQUENCE:2"));
}

#[test]
fn another_file_in_the_calendars_place_counts_for_nothing() {
    let (scenario, plan) = demo();
    let first = calendar(&scenario, &plan, &demo::issue());
    for other in [
        "",
        "garbage",
        "BEGIN:VEVENT\r\nUID:a\r\nEND:VEVENT\r\n",
        "BEGIN:VEVENT\r\nDTSTAMP:\u{1F642}\r\nSEQUENCE:x\r\nUID:a\r\nEND:VEVENT\r\n",
    ] {
        let issue = Issue {
            earlier: Some(other.into()),
            ..demo::issue()
        };
        assert_eq!(calendar(&scenario, &plan, &issue), first);
    }
}

#[test]
fn a_clock_time_that_comes_twice_is_told_in_universal_time_the_second_time() {
    // Oslo, 31 October 2027: 02:30 comes at 00:30 and at 01:30 UTC; 02:30 by name alone is the first.
    let (scenario, mut plan) = demo();
    let at = |text: &str| -> DateTime<Utc> { text.parse().expect("a moment") };
    plan.runs[0].start = at("2027-10-31T00:30:00Z");
    plan.runs[0].end = at("2027-10-31T01:30:00Z");
    let text = calendar(&scenario, &plan, &demo::issue());
    let run = component(&text, &format!("SUMMARY:{} prints", plan.runs[0].id));
    assert!(
        run[0].contains("DTSTART;TZID=Europe/Oslo:20271031T023000"),
        "{}",
        run[0]
    );
    assert!(run[0].contains("DTEND:20271031T013000Z"), "{}", run[0]);
    assert!(text.contains("DTSTART:20271031T030000\r\nTZOFFSETFROM:+0200\r\nTZOFFSETTO:+0100"));
}

#[test]
fn a_change_of_spool_rings_a_bell_where_somebody_is_there_to_hear_it() {
    // The second run's spool ends on Tuesday at 04:15 with nobody there. The fifth's is changed at 18:20 with 37 g left.
    let (scenario, mut plan) = demo();
    plan.runs[4].spool = demo::ending("2027-01-12 18:20", true, 900.0);
    plan.runs[4].spool.ends[0].left = Grams(37.0);
    let text = calendar(&scenario, &plan, &demo::issue());
    let ends: usize = plan.runs.iter().map(|run| run.spool.ends.len()).sum();
    assert_eq!(component(&text, "he spool on ").len(), ends);
    let changed = component(&text, &format!("While {} prints.", plan.runs[4].id));
    for holds in [
        "SUMMARY:Change the spool on wide: black",
        "DTSTART;TZID=Europe/Oslo:20270112T182000",
        "Put on an ordered one of 900 g.",
        "About 37 g is left on the one that comes off",
        "LOCATION:wide",
        "TRIGGER:-PT600S",
    ] {
        assert!(changed[0].contains(holds), "{holds}: {}", changed[0]);
    }
    // A moment has no end, and takes nobody's time.
    assert!(changed[0].contains("TRANSP:TRANSPARENT") && !changed[0].contains("DTEND"));
    let alone = component(&text, &format!("While {} prints.", plan.runs[1].id));
    for holds in [
        "SUMMARY:The spool on tall ends with nobody there: yellow",
        "DTSTART;TZID=Europe/Oslo:20270112T041500",
        "until somebody changes the spool",
    ] {
        assert!(alone[0].contains(holds), "{holds}: {}", alone[0]);
    }
    assert!(!alone[0].contains("VALARM"));
}

#[test]
fn trial_copies_are_to_dos_until_somebody_is_there_to_approve_them() {
    // Three caps, printed by 16:32; the bench opens at 17:30.
    let (scenario, plan) = demo();
    let text = calendar(&scenario, &plan, &demo::issue());
    let [trial] = &component(&text, "Try and approve")[..] else {
        panic!("one part has trial copies: {text}");
    };
    for holds in [
        "SUMMARY:Try and approve cap",
        "DUE;TZID=Europe/Oslo:20270111T173000",
        "STATUS:NEEDS-ACTION",
        "printed on tall-001",
        "The rest is set up after that.",
    ] {
        assert!(trial.contains(holds), "{holds}: {trial}");
    }
}

#[test]
fn work_at_the_bench_fills_time_and_each_stretch_keeps_its_identity() {
    let (scenario, mut plan) = demo();
    let work = |from: &str, to: &str| Work {
        from: demo::at(from),
        to: demo::at(to),
    };
    plan.gluings[0].work = vec![
        work("2027-01-12 22:28", "2027-01-12 22:30"),
        work("2027-01-13 07:00", "2027-01-13 07:04"),
    ];
    plan.spare_work = vec![SpareWork {
        part: demo::CAP,
        work: vec![work("2027-01-14 22:00", "2027-01-14 22:30")],
    }];
    let first = calendar(&scenario, &plan, &demo::issue());
    let glue = |text: &str| component(text, "luing jib-chord 1 with steel-rod");
    let begun = component(&first, "SUMMARY:Glue jib-chord 1 with steel-rod");
    assert!(begun[0].contains("TRANSP:OPAQUE"), "{}", begun[0]);
    assert!(begun[0].contains("DTSTART;TZID=Europe/Oslo:20270112T222800"));
    assert!(begun[0].contains("DTEND;TZID=Europe/Oslo:20270112T223000"));
    assert!(begun[0].contains("DESCRIPTION:It goes on Wed 13 Jan 07:00."));
    let goes_on = glue(&first);
    assert!(goes_on[0].contains("SUMMARY:Go on with gluing"));
    assert!(goes_on[0].contains("DESCRIPTION:Cured Wed 13 Jan 02:06."));
    let assembled: usize = plan.assemblies.iter().map(|dates| dates.work.len()).sum();
    let events = component(&first, "SUMMARY:Deburr and assemble ").len();
    let resumed = component(&first, "SUMMARY:Go on with ").len() - goes_on.len();
    assert_eq!(events + resumed, assembled);
    assert_eq!(component(&first, "SUMMARY:Deburr spares of cap").len(), 1);

    // Now it is glued in one go, an hour earlier: the first stretch moves, the second is cancelled.
    plan.gluings[0].work = vec![work("2027-01-12 21:28", "2027-01-12 21:34")];
    let second = calendar(&scenario, &plan, &later(1, &first));
    let moved = component(&second, "SUMMARY:Glue jib-chord 1 with steel-rod");
    assert!(moved[0].contains("SEQUENCE:1") && moved[0].contains("T212800"));
    let gone = glue(&second);
    assert!(gone[0].contains("STATUS:CANCELLED"), "{}", gone[0]);
    assert_eq!(uids(&first), uids(&second));
}

#[test]
fn the_calendars_zone_reaches_as_far_as_work_at_the_bench_does() {
    // Everything is printed by 19 January; an assembly waits until April, when Oslo's clocks have gone forward.
    let (scenario, mut plan) = demo();
    let last = plan.assemblies.len() - 1;
    plan.assemblies[last].work = vec![Work {
        from: demo::at("2027-04-05 18:00"),
        to: demo::at("2027-04-05 19:00"),
    }];
    let text = calendar(&scenario, &plan, &demo::issue());
    assert!(text.contains("DTSTART:20270328T020000\r\nTZOFFSETFROM:+0100\r\nTZOFFSETTO:+0200"));
}

/// The plan of what is left, seen at a moment at which the fifth run prints, half an hour later than it was to.
fn while_the_fifth_prints(plan: &Plan, now: &str, stops: Option<&str>) -> (Plan, Issue) {
    let mut rest = plan.clone();
    let run = rest.runs.remove(4);
    rest.sheets.days.clear();
    rest.since = Some(Since {
        now: demo::at(now),
        pieces: Vec::new(),
        running: vec![Standing {
            id: run.id,
            machine: run.machine,
            filament: run.filament,
            start: run.start + TimeDelta::minutes(30),
            end: run.end + TimeDelta::minutes(30),
            stops: stops.map(demo::at),
            pieces: run.pieces,
        }],
        ended: Vec::new(),
        down: Vec::new(),
        complete: Vec::new(),
        churn: Money::ZERO,
        kept: None,
        changes: Vec::new(),
        yielded: Vec::new(),
    });
    let issue = Issue {
        planned: demo::at(now),
        ..demo::issue()
    };
    (rest, issue)
}

#[test]
fn a_run_that_prints_takes_the_changes_of_its_spool_with_it() {
    // Its spool was to be changed at 18:20; it was started half an hour late.
    let (scenario, mut plan) = demo();
    plan.runs[4].spool = demo::ending("2027-01-12 18:20", true, 900.0);
    let first = calendar(&scenario, &plan, &demo::issue());
    let id = plan.runs[4].id.clone();
    let (rest, issue) = while_the_fifth_prints(&plan, "2027-01-12 18:00", None);
    let issue = |earlier: &str| Issue {
        earlier: Some(earlier.to_owned()),
        ..issue.clone()
    };
    let second = calendar(&scenario, &rest, &issue(&first));
    let spool = component(&second, &format!("While {id} prints."));
    for holds in [
        "DTSTART;TZID=Europe/Oslo:20270112T185000",
        "STATUS:CONFIRMED",
        "SEQUENCE:1",
        "TRIGGER:-PT600S",
    ] {
        assert!(spool[0].contains(holds), "{holds}: {}", spool[0]);
    }
    assert_eq!(spool.len(), 1);
    // Planned again while it prints, it is where it is.
    assert_eq!(calendar(&scenario, &rest, &issue(&second)), second);
    // The spool is known to end while nobody is there: that takes the place of what was planned.
    let (stands, _) = while_the_fifth_prints(&plan, "2027-01-12 18:00", Some("2027-01-13 03:10"));
    let third = calendar(&scenario, &stands, &issue(&second));
    let spool = component(&third, &format!("While {id} prints."));
    assert_eq!(spool.len(), 2);
    let (gone, stop): (Vec<_>, Vec<_>) = spool
        .iter()
        .partition(|one| one.contains("STATUS:CANCELLED"));
    assert!(
        gone[0].contains("T185000") && !gone[0].contains("VALARM"),
        "{}",
        gone[0]
    );
    assert!(
        stop[0].contains("DTSTART;TZID=Europe/Oslo:20270113T031000"),
        "{}",
        stop[0]
    );
    assert!(stop[0].contains("ends with nobody there"), "{}", stop[0]);
}

#[test]
fn a_run_that_prints_has_its_entry_where_no_earlier_calendar_has_it() {
    let (scenario, plan) = demo();
    let (rest, issue) = while_the_fifth_prints(&plan, "2027-01-12 18:00", None);
    let text = calendar(&scenario, &rest, &issue);
    let run = component(&text, &format!("SUMMARY:{} prints", plan.runs[4].id));
    assert_eq!(run.len(), 1);
    let start = (plan.runs[4].start + TimeDelta::minutes(30)).with_timezone(&scenario.build.zone);
    let begins = format!("DTSTART;TZID=Europe/Oslo:{}", start.format("%Y%m%dT%H%M%S"));
    assert!(
        run[0].contains(&begins) && run[0].contains("SEQUENCE:0"),
        "{}",
        run[0]
    );
}

#[test]
fn to_dos_that_a_later_plan_does_not_have_are_cancelled_whenever_they_were_due() {
    // The black spools were due to be ordered by 8 January; on the 12th they are on their way.
    let (scenario, plan) = demo();
    let first = calendar(&scenario, &plan, &demo::issue());
    let (mut rest, mut issue) = while_the_fifth_prints(&plan, "2027-01-12 18:00", None);
    rest.orders.clear();
    issue.earlier = Some(first);
    let second = calendar(&scenario, &rest, &issue);
    let order = component(&second, "DUE;VALUE=DATE:20270108");
    assert!(order[0].contains("STATUS:CANCELLED"), "{}", order[0]);
}

#[test]
fn what_stays_of_an_earlier_calendar_keeps_the_clock_that_it_is_told_by() {
    // A run after Oslo's clocks have gone forward on 28 March stays in a plan that has nothing after January; then the build moves
    // to Helsinki.
    let (mut scenario, mut plan) = demo();
    plan.runs[0].start = demo::at("2027-03-30 08:00");
    plan.runs[0].end = demo::at("2027-03-30 18:00");
    let first = calendar(&scenario, &plan, &demo::issue());
    let (mut rest, mut issue) = while_the_fifth_prints(&plan, "2027-04-02 18:00", None);
    let id = rest.runs[0].id.clone();
    rest.runs.clear();
    rest.assemblies.clear();
    rest.gluings.clear();
    rest.trials.clear();
    issue.earlier = Some(first);
    let second = calendar(&scenario, &rest, &issue);
    let run = component(&second, &format!("SUMMARY:{id} prints"));
    assert!(
        run[0].contains("STATUS:CONFIRMED") && run[0].contains("Oslo:20270330T080000"),
        "{}",
        run[0]
    );
    assert!(second.contains("DTSTART:20270328T020000\r\nTZOFFSETFROM:+0100\r\nTZOFFSETTO:+0200"));
    scenario.build.zone = chrono_tz::Europe::Helsinki;
    issue.earlier = Some(second);
    let third = calendar(&scenario, &rest, &issue);
    let zones: Vec<&str> = third
        .lines()
        .filter_map(|line| line.strip_prefix("TZID:"))
        .collect();
    assert_eq!(zones, ["Europe/Helsinki", "Europe/Oslo"]);
}
