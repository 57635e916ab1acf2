//! The state that the rest of a build is planned from.

use super::*;
use crate::progress::Progress;
use crate::scenario::{AssemblyIndex, Axis, FilamentIndex, MachineIndex, PartIndex};

fn changed(from: &str, to: &str) -> Scenario {
    assert!(SHOP.contains(from), "{from}");
    let text = SHOP.replace(", minutes_: 0", "").replace(from, to);
    match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

/// What the log says under another scenario than it was noted under.
fn differences(bench: &Bench, scenario: &Scenario) -> (Progress, Vec<String>) {
    let log = Log::read(&bench.path(), scenario)
        .expect("a log")
        .expect("it");
    let (state, differences) = progress(scenario, &log, at("13 00:00"));
    (state, differences.iter().map(ToString::to_string).collect())
}

#[test]
fn an_empty_log_is_no_progress() {
    let bench = Bench::empty();
    let scenario = shop();
    let (state, differences) = progress(&scenario, &bench.log, scenario.build.start);
    assert!(!state.has_begun(&scenario));
    assert_eq!(state.orders_from, Some(scenario.build.start));
    assert_eq!(differences, []);
    // Before the build's start nothing is planned.
    let early = progress(&scenario, &bench.log, at("01 00:00")).0;
    assert_eq!(early.now, scenario.build.start);
    // But what is wanted for it can be ordered.
    assert_eq!(early.orders_from, Some(at("01 00:00")));
}

#[test]
fn what_is_printed_prints_and_waits_is_what_the_log_says() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:30");
    bench.finish("tall-001", "11 14:10");
    bench.note(
        Event::Joined {
            part: "chord".into(),
            number: 1,
        },
        "11 15:00",
    );
    bench.start("tall-002", "12 09:00");
    bench.start("wide-001", "12 09:00");
    bench.note(scrapped("wide-001", Some(5.0)), "12 09:30");
    bench.note(
        Event::Down {
            machine: "wide".into(),
            why: String::new(),
            until: Some(at("14 12:00")),
        },
        "12 09:40",
    );
    let (state, differences) = progress(&shop(), &bench.log, at("12 10:00"));
    assert_eq!(differences, []);
    assert_eq!(state.now, at("12 10:00"));

    assert_eq!(state.made.len(), 2);
    assert_eq!((state.made[1].piece.length, state.made[1].piece.of), (2, 2));
    assert_eq!(state.made[0].assembly, Some(AssemblyIndex(0)));
    assert_eq!(state.made[0].printed, at("11 14:10"));
    assert_eq!(state.made[0].joined, Some(at("11 15:00")));

    let running = &state.running[0];
    assert_eq!(
        (running.id.as_str(), running.machine),
        ("tall-002", MachineIndex(0))
    );
    // Six hours are planned; it was started at 9.
    assert_eq!(
        (running.start, running.end),
        (at("12 09:00"), at("12 15:00"))
    );
    assert_eq!(running.pieces.len(), 3);
    assert_eq!(running.pieces[0].piece.part, PartIndex(2));
    assert_eq!(running.pieces[0].upright, Axis::Z);

    assert_eq!(state.machines[0].loaded, Some(FilamentIndex(0)));
    assert_eq!((state.machines[0].runs, state.machines[0].failed), (1, 0.0));
    assert_eq!((state.machines[1].runs, state.machines[1].failed), (1, 1.0));
    assert_eq!(state.machines[1].down_until, Some(at("14 12:00")));
    assert_eq!(state.machines[1].loaded, Some(FilamentIndex(1)));

    // Red: 300 - 240 = 60 g on red-1; the run that prints takes 120: red-1 will be empty, red-2 have 940.
    let red: Vec<(&str, f64)> = state.spools[0]
        .iter()
        .map(|s| (s.id.as_str(), s.grams.0))
        .collect();
    assert_eq!(red, [("red-2", 940.0)]);
    assert_eq!(state.spools[0][0].on, Some(MachineIndex(0)));

    // What was scrapped is to be started again, and what follows it; not what prints.
    let previous = state.previous.expect("the accepted plan");
    let waiting: Vec<&str> = previous.runs.iter().map(|run| run.id.as_str()).collect();
    assert_eq!(waiting, ["wide-001", "wide-002"]);
    assert_eq!(previous.cost, 12.5);
}

#[test]
fn a_machine_that_is_down_nobody_knows_how_long_is_so_for_a_day_more() {
    let mut bench = Bench::planned();
    bench.note(down("wide"), "11 09:00");
    let state = progress(&shop(), &bench.log, at("12 10:00")).0;
    assert_eq!(state.machines[1].down_until, Some(at("13 10:00")));
}

#[test]
fn assemblies_trials_and_measurements_are_handed_on() {
    let mut bench = Bench::all_printed();
    bench.note(assembly("mast", false), "13 08:00");
    bench.note(assembly("mast", true), "13 09:00");
    let weighed = Event::Weighed {
        estimated: None,
        sample: sample("pin", "tall", 3, 1),
        grams: 11.85,
    };
    bench.note(weighed, "13 10:00");
    let timed = Event::Timed {
        estimated: None,
        sample: sample("chord", "tall", 2, 2),
        minutes: 350.0,
    };
    bench.note(timed, "13 10:00");
    let state = progress(&shop(), &bench.log, at("13 12:00")).0;
    assert_eq!(state.assemblies[0].started, Some(at("13 08:00")));
    assert_eq!(state.assemblies[0].complete, Some(at("13 09:00")));
    assert_eq!(state.trials[1].approved, Some(at("11 14:05")));
    let of = |index: usize| {
        let m = &state.measured[index];
        (
            m.part.0,
            m.machine.0,
            m.pieces,
            m.lengths,
            m.grams.map(|g| g.0),
            m.minutes,
        )
    };
    assert_eq!(of(0), (2, 0, 3, 1, Some(11.85), None));
    assert_eq!(of(1), (0, 0, 2, 2, None, Some(350.0)));
    assert_eq!(state.running, []);
    assert_eq!(state.previous.map(|previous| previous.runs.len()), Some(0));
}

#[test]
fn where_the_scenario_has_changed_since_the_plan_it_is_told() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    let told = |from: &str, to: &str| differences(&bench, &changed(from, to)).1;
    assert_eq!(
        told("pin, quantity: 3", "pin, quantity: 3, spares: 2"),
        ["part pin: 5 copies are wanted, 3 were planned"]
    );
    assert_eq!(
        told("cap, quantity: 2", "cap, quantity: 3"),
        ["part cap: 3 copies are wanted, 2 were planned"]
    );
    assert_eq!(
        told(
            "size: [40, 40, 20], filament: grey",
            "size: [40, 40, 20], filament: red"
        ),
        ["part cap is to be red, and was planned in grey; what is printed counts"]
    );
    assert_eq!(
        told("into: 2..3", "into: 3..4"),
        ["part chord: 2 printed lengths, 2 to a copy, are of no use any more"]
    );
    assert_eq!(
        told("id: boom,", "id: jib,"),
        ["assembly boom is gone from the scenario"]
    );
    assert_eq!(
        told("id: wide,", "id: broad,"),
        ["machine wide is gone from the scenario"]
    );
}

#[test]
fn what_the_scenario_no_longer_knows_is_not_handed_on() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "12 08:00");
    let renamed = SHOP
        .replace(", minutes_: 0", "")
        .replace("id: pin,", "id: peg,")
        .replace("pin: ", "peg: ")
        .replace("id: chord,", "id: beam,")
        .replace("chord: ", "beam: ");
    let scenario = match scenario::read_text("shop.yaml", &renamed, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let (state, told) = differences(&bench, &scenario);
    assert_eq!(state.made, []);
    // The run goes on, with nothing of use on it.
    assert_eq!(state.running.len(), 1);
    assert_eq!(state.running[0].pieces, []);
    assert_eq!(
        told,
        [
            "part chord is gone from the scenario; 2 of its pieces are printed",
            "part pin is gone from the scenario; 0 of its pieces are printed",
            "part beam is new: 1 to print",
            "part peg is new: 3 to print",
        ]
    );
    let (state, told) = differences(&bench, &changed("id: tall,", "id: high,"));
    assert_eq!(state.running, []);
    assert_eq!(
        told,
        ["machine tall is gone from the scenario, and tall-002 prints on it"]
    );
}

/// Whether the accepted plan is held for worth a search, as another may cost less.
fn news(bench: &Bench, scenario: &Scenario) -> bool {
    let state = differences(bench, scenario).0;
    state.previous.expect("a plan was accepted").news
}

/// The plan accepted as one of the shop.
fn accept(bench: &mut Bench, moment: &str) {
    let event = Event::PlanAccepted {
        plan: plan(),
        basis: Some(basis(&shop())),
    };
    bench.note(event, moment);
}

#[test]
fn a_machine_that_the_plan_did_without_and_that_is_back_early_is_news() {
    let mut bench = Bench::empty();
    accept(&mut bench, "11 07:00");
    // It went down and came back after the plan was made, which counts on it anyway.
    bench.note(down("wide"), "11 08:00");
    bench.note(up("wide"), "11 09:00");
    assert!(!news(&bench, &shop()));
    // Down when the plan was made, nobody knew how long: taken to be so until the same time on the next day.
    bench.note(down("wide"), "11 10:00");
    accept(&mut bench, "11 11:00");
    assert!(!news(&bench, &shop()));
    let undo = bench.note(up("wide"), "12 11:00").id;
    assert!(!news(&bench, &shop()), "as the plan has it");
    bench.note(Event::Undone { id: undo }, "12 11:00");
    bench.note(up("wide"), "12 10:59");
    assert!(news(&bench, &shop()));
    accept(&mut bench, "12 12:00");
    assert!(!news(&bench, &shop()));
}

#[test]
fn an_assembly_complete_early_and_a_spool_bought_are_news() {
    let mut bench = Bench::empty();
    accept(&mut bench, "11 07:00");
    for run in ["tall-001", "tall-002", "wide-001", "wide-002"] {
        if run == "wide-002" {
            bench.note(approved("cap"), "11 15:00");
        }
        let day = if run.ends_with('1') { "11" } else { "12" };
        bench.start(run, &format!("{day} 08:00"));
        bench.finish(run, &format!("{day} 14:00"));
    }
    bench.note(joined("chord", 1), "12 14:10");
    assert!(!news(&bench, &shop()));
    // Of the mast the plan says nothing.
    bench.note(assembly("mast", true), "12 15:00");
    assert!(!news(&bench, &shop()));
    // The boom is to be complete on the 13th at 10:00: to the minute as planned is no news.
    let undo = bench.note(assembly("boom", true), "13 10:00").id;
    assert!(!news(&bench, &shop()));
    bench.note(Event::Undone { id: undo }, "13 11:00");
    let undo = bench.note(assembly("boom", true), "13 09:59").id;
    assert!(news(&bench, &shop()));
    // With a cure it would be complete an hour later than that.
    let cured = changed("id: boom, parts", "id: boom, cure: 1 h, parts");
    let read = Log::read(&bench.path(), &cured).expect("a log");
    assert!(!read.expect("it").state().sooner);
    bench.note(Event::Undone { id: undo }, "13 11:00");
    assert!(!news(&bench, &shop()));
    bench.note(bought("red-3", "red", 1000.0), "13 08:00");
    assert!(news(&bench, &shop()));
}

/// Whether something that the accepted plan reckons with came sooner.
fn early(bench: &Bench) -> bool {
    let state = differences(bench, &shop()).0;
    state.previous.expect("a plan was accepted").early
}

#[test]
fn what_begins_ends_or_is_approved_before_its_time_is_known_to_be_early() {
    let mut bench = Bench::empty();
    let waits = r#","trials":[{"part":"cap","copies":1,"printed":"2027-01-11T14:00:00Z","approved":"2027-01-11T17:00:00Z"}]}"#;
    let text = plan();
    let plan = format!("{}{waits}", text.strip_suffix('}').expect("an object"));
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
    // A run to the minute as planned, and its start, are none.
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    assert!(!early(&bench));
    let undo = bench.note(approved("cap"), "11 17:00").id;
    assert!(!early(&bench));
    bench.note(Event::Undone { id: undo }, "11 17:00");
    let undo = bench.note(approved("cap"), "11 16:59").id;
    assert!(early(&bench));
    bench.note(Event::Undone { id: undo }, "11 17:00");
    assert!(!early(&bench));
    bench.start("tall-001", "11 08:00");
    let undo = bench.note(finished("tall-001", &[]), "11 13:59").id;
    assert!(early(&bench));
    bench.note(Event::Undone { id: undo }, "11 19:00");
    bench.finish("tall-001", "11 14:00");
    assert!(!early(&bench));
    bench.start("tall-002", "12 07:59");
    assert!(early(&bench));
}

#[test]
fn what_no_plan_depends_on_is_no_news() {
    let mut bench = Bench::empty();
    accept(&mut bench, "11 07:00");
    assert!(!news(
        &bench,
        &changed("name: Footbridge", "name: Foot bridge")
    ));
    assert!(!news(&bench, &changed("#b0302a", "#c0302a")));
    assert!(!news(&bench, &changed("currency: EUR", "currency: NOK")));
    assert!(news(&bench, &changed("price_kg: 20", "price_kg: 21")));
}

#[test]
fn a_run_whose_spool_ends_with_nobody_there_ends_when_status_says() {
    let mut bench = Bench::planned();
    bench.note(weighed_spool("red-1", 120.0), "11 08:00");
    bench.note(opened("red-1", "tall"), "11 08:10");
    // Half of the 240 g are out after three hours, at 23:00; the bench opens at 7:00, so the run ends at 10:00 and not at 2:00.
    bench.start("tall-001", "11 20:00");
    let state = progress(&shop(), &bench.log, at("11 21:00")).0;
    let running = &state.running[0];
    assert_eq!(
        (running.end, running.stops),
        (at("12 10:00"), Some(at("11 23:00")))
    );
}

#[test]
fn starts_of_a_run_at_one_moment_are_told_apart() {
    // Given up and started again, all by the clock of one minute; then it went well.
    let mut bench = Bench::planned();
    bench.start("wide-001", "11 10:00");
    bench.note(scrapped("wide-001", Some(5.0)), "11 10:00");
    bench.start("wide-001", "11 10:00");
    bench.finish("wide-001", "11 16:00");
    let (state, _) = differences(&bench, &shop());
    let ended: Vec<_> = (state.ended.iter())
        .map(|run| (run.id.as_str(), run.start, run.end, run.scrapped))
        .collect();
    let (start, end) = (at("11 10:00"), at("11 16:00"));
    assert_eq!(
        ended,
        [
            ("wide-001", start, start, true),
            ("wide-001", start, end, false)
        ]
    );
    // And where it is not over yet.
    let mut bench = Bench::planned();
    for _ in 0..2 {
        bench.start("wide-001", "11 10:00");
        bench.note(scrapped("wide-001", Some(5.0)), "11 10:00");
    }
    bench.start("wide-001", "11 10:00");
    let (state, _) = differences(&bench, &shop());
    assert_eq!(
        state
            .ended
            .iter()
            .map(|run| run.scrapped)
            .collect::<Vec<_>>(),
        [true, true]
    );
}
