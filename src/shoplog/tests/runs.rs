//! Runs, plans, times, notes, and what is undone.

use super::*;

#[test]
fn a_run_is_started_then_finished_and_its_pieces_are_there() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    assert_eq!(bench.log.state().running.len(), 1);
    bench.finish("tall-002", "12 13:50");
    let state = bench.log.state();
    assert!(state.running.is_empty());
    let made: Vec<String> = state.made.keys().map(PieceId::to_string).collect();
    assert_eq!(made, ["pin:1", "pin:2", "pin:3"]);
    assert_eq!(state.made[&pin(1)].at, at("12 13:50"));
    assert_eq!(state.machines["tall"].runs, 1);
    assert_eq!(state.machines["tall"].failed, 0.0);
}

#[test]
fn pieces_that_are_scrapped_are_lost_and_the_others_good() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    bench.note(finished("tall-002", &[pin(3)]), "12 14:00");
    let state = bench.log.state();
    assert!(state.made.contains_key(&pin(2)) && !state.made.contains_key(&pin(3)));
    assert_eq!(state.lost[&pin(3)], 1);
    // One of three pieces of the one run: a third of a failure, since a run that fails in part is no success.
    let tall = &state.machines["tall"];
    assert!(tall.runs == 1 && (tall.failed - 1.0 / 3.0).abs() < 1e-12);
}

#[test]
fn a_scrapped_run_loses_all_its_pieces_and_may_be_started_again() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    bench.note(scrapped("tall-002", None), "12 09:00");
    let state = bench.log.state();
    assert!(state.made.is_empty());
    assert_eq!(state.lost.values().sum::<u32>(), 3);
    assert_eq!(
        (state.machines["tall"].runs, state.machines["tall"].failed),
        (1, 1.0)
    );
    bench.start("tall-002", "12 09:30");
    bench.finish("tall-002", "12 15:30");
    assert_eq!(bench.log.state().made.len(), 3);
}

#[test]
fn a_run_that_cannot_have_been_started_is_refused() {
    let mut bench = Bench::planned();
    let why = bench.refused(started("tall-01"), "11 08:00");
    assert_eq!(why, "there is no run `tall-01`; did you mean `tall-001`?");
    let why = bench.refused(started("tall-001"), "10 08:00");
    assert!(
        why.starts_with("the build starts Mon 11 Jan 2027 07:00; set `build.start`"),
        "{why}"
    );
    bench.start("tall-001", "11 08:00");
    let why = bench.refused(started("tall-001"), "11 09:00");
    assert!(
        why.starts_with("tall-001 is printing already; note `finished tall-001`"),
        "{why}"
    );
    let why = bench.refused(started("tall-002"), "11 09:00");
    assert!(why.starts_with("tall is printing tall-001; note"), "{why}");
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(started("tall-001"), "11 15:00");
    assert_eq!(
        why,
        "tall-001 has been printed; the next on tall is tall-002"
    );
    let why = bench.refused(started("tall-002"), "11 13:59");
    assert!(
        why.contains("the run before it on tall ended Mon 11 Jan 2027 14:00"),
        "{why}"
    );
    bench.note(down("tall"), "11 14:10");
    let why = bench.refused(started("tall-002"), "11 15:00");
    assert_eq!(
        why,
        "tall is down since Mon 11 Jan 2027 14:10; note `up tall` first"
    );
}

#[test]
fn a_run_that_cannot_have_ended_is_refused() {
    let mut bench = Bench::planned();
    for event in [finished("tall-001", &[]), scrapped("tall-001", None)] {
        let why = bench.refused(event, "11 08:00");
        assert!(
            why.starts_with("tall-001 has not been started; note `started tall-001` first"),
            "{why}"
        );
    }
    let why = bench.refused(finished("tail-001", &[]), "11 08:00");
    assert_eq!(why, "there is no run `tail-001`; did you mean `tall-001`?");
    bench.start("tall-001", "11 08:00");
    let why = bench.refused(finished("tall-001", &[]), "11 07:59");
    assert!(
        why.starts_with("tall-001 was started Mon 11 Jan 2027 08:00, after"),
        "{why}"
    );
    let why = bench.refused(finished("tall-001", &[pin(1)]), "11 14:00");
    assert_eq!(why, "pin:1 is not on tall-001; on it are 2× chord");
    let why = bench.refused(scrapped("tall-001", Some(900.0)), "11 14:00");
    assert_eq!(
        why,
        "900 is no number of grams that can be; write 0 to 360 grams"
    );
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(finished("tall-001", &[]), "11 15:00");
    assert_eq!(
        why,
        "tall-001 ended Mon 11 Jan 2027 14:00; undo that entry if it is wrong"
    );
    bench.start("tall-002", "12 08:00");
    let why = bench.refused(finished("tall-002", &[pin(1), pin(1)]), "12 14:00");
    assert_eq!(why, "pin:1 is named twice; name it once");
}

#[test]
fn a_run_that_is_finished_far_too_soon_is_noted_only_if_somebody_is_sure() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "12 08:00");
    let why = bench.refused(finished("tall-002", &[]), "12 08:01");
    assert!(
        why.starts_with(
            "tall-002 was started Tue 12 Jan 2027 08:00, 1 min before, and takes 360 min by the plan; say with `--at`"
        ) && why.ends_with("say `--sure` if it was so"),
        "{why}"
    );
    // A third of 360 min is 120; of one good pin of three, 40.
    bench.refused(finished("tall-002", &[]), "12 09:59");
    bench.refused(finished("tall-002", &[pin(1), pin(2)]), "12 08:39");
    let mut sure = finished("tall-002", &[]);
    if let Event::Finished { sure, .. } = &mut sure {
        *sure = true;
    }
    let noted = bench.note(sure, "12 08:01");
    let written = serde_json::to_string(&noted.event).expect("JSON");
    assert_eq!(written, r#"{"finished":{"run":"tall-002","sure":true}}"#);
    bench.note(Event::Undone { id: noted.id }, "12 08:02");
    let partly = finished("tall-002", &[pin(1), pin(2)]);
    let partly = bench.note(partly, "12 08:40");
    bench.note(Event::Undone { id: partly.id }, "12 08:41");
    let noted = bench.note(finished("tall-002", &[]), "12 10:00");
    // What was noted by an older version is restored.
    let mut other = Bench::planned();
    let exported = bench.log.export();
    let older = exported.replace("2027-01-12T10:00:00Z", "2027-01-12T08:01:00Z");
    let older: Vec<&str> = older.lines().skip(1).collect();
    let imported = other.log.import(&older.join("\n"), later());
    assert!(imported.is_ok(), "{imported:?}");
    assert!(noted.id == other.log.entries().last().expect("entries").id);
}

#[test]
fn without_an_accepted_plan_no_run_is_known() {
    let mut bench = Bench::empty();
    let why = bench.refused(started("tall-001"), "11 08:00");
    assert!(
        why.starts_with("no plan has been accepted; plan with `--accept` first"),
        "{why}"
    );
}

#[test]
fn what_is_no_plan_is_not_accepted() {
    let mut bench = Bench::empty();
    for (text, said) in [
        ("{}".to_owned(), "the plan is no plan.json of this program"),
        (
            plan().replace("\"version\":1", "\"version\":7"),
            "the plan is of version 7",
        ),
        (
            plan().replace("tall-002", "tall-001"),
            "the plan has two runs `tall-001`",
        ),
        (
            plan().replace("T14:00", "T07:00"),
            "run `tall-001` of the plan ends before it starts",
        ),
    ] {
        let why = bench.refused(
            Event::PlanAccepted {
                plan: text,
                basis: None,
            },
            "11 08:00",
        );
        assert!(why.starts_with(said), "{why}");
    }
}

#[test]
fn what_has_not_happened_yet_is_refused() {
    let mut bench = Bench::planned();
    let event = Event::Note {
        text: "door left open".to_owned(),
    };
    let trouble = bench.log.note(event, at("11 08:03"), at("11 08:00"));
    let why = trouble.expect_err("three minutes ahead").to_string();
    assert!(
        why.starts_with(
            "not noted: Mon 11 Jan 2027 08:03 has not come yet: it is Mon 11 Jan 2027 08:00"
        ),
        "{why}"
    );
}

#[test]
fn a_clock_that_was_set_back_loses_nothing_and_confuses_nothing() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    // The clock is set back by a day: what is noted now seems to be before what was noted.
    let why = bench.refused(finished("tall-001", &[]), "10 14:00");
    assert!(why.contains("or set this computer's clock"), "{why}");
    let note = Event::Note {
        text: "clock was wrong".to_owned(),
    };
    bench.note(note, "10 14:01");
    bench.finish("tall-001", "11 14:00");
    let read = Log::read(&bench.path(), &shop())
        .expect("a log")
        .expect("it");
    assert_eq!(read.entries(), bench.log.entries());
    assert_eq!(read.state().made.len(), 2);
}

#[test]
fn weighing_in_the_middle_of_a_run_leaves_only_the_rest_to_be_taken() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    // After 3 of 6 hours half of 240 g has flowed: the scales say 175 where 180 were expected; 120 more flow.
    bench.note(weighed_spool("red-1", 175.0), "11 11:00");
    bench.finish("tall-001", "11 14:00");
    assert_eq!(bench.grams("red-1"), 55.0);
}

#[test]
fn a_scrapped_run_takes_what_was_weighed_or_what_flowed() {
    for (grams, left) in [(Some(33.0), 267.0), (None, 300.0 - 80.0)] {
        let mut bench = Bench::planned();
        bench.start("tall-001", "11 08:00");
        // 2 of 6 hours: 80 of 240 g.
        bench.note(scrapped("tall-001", grams), "11 10:00");
        assert!((bench.grams("red-1") - left).abs() < 1e-9);
    }
}

#[test]
fn an_entry_is_undone_by_another_and_only_where_nothing_rests_on_it() {
    let mut bench = Bench::planned();
    let start = bench.note(started("tall-002"), "12 08:00");
    let finish = bench.note(finished("tall-002", &[]), "12 14:00");
    let why = bench.refused(Event::Undone { id: start.id }, "12 15:00");
    assert_eq!(
        why,
        "entry 3 rests on it: without it tall-002 has not been started; undo 3 first"
    );
    let undone = bench.note(Event::Undone { id: finish.id }, "12 15:00");
    assert_eq!(bench.log.state().running.len(), 1);
    assert!(bench.log.state().made.is_empty());
    assert_eq!(bench.grams("red-1"), 300.0);
    let why = bench.refused(Event::Undone { id: finish.id }, "12 15:00");
    assert!(why.starts_with("this entry is undone already"), "{why}");
    let why = bench.refused(Event::Undone { id: undone.id }, "12 15:00");
    assert!(why.ends_with("note it anew"), "{why}");
    let why = bench.refused(Event::Undone { id: Uuid::nil() }, "12 15:00");
    assert!(why.starts_with("there is no entry 0000"), "{why}");
    bench.note(Event::Undone { id: start.id }, "12 15:01");
    assert!(bench.log.state().running.is_empty());
    let read = Log::read(&bench.path(), &shop())
        .expect("a log")
        .expect("it");
    assert_eq!(read.entries().len(), 5);
    assert!(read.state().running.is_empty());
}

#[test]
fn a_note_says_something() {
    let mut bench = Bench::empty();
    let note = |text: String| Event::Note { text };
    let why = bench.refused(note("  ".into()), "11 08:00");
    assert!(why.starts_with("the note is empty"), "{why}");
    let why = bench.refused(note("x".repeat(4001)), "11 08:00");
    assert!(why.starts_with("the text is 4001 bytes long"), "{why}");
    bench.note(note("bearing squeaks".into()), "11 08:00");
}

#[test]
fn a_run_that_prints_on_under_a_new_plan_is_ended_by_its_old_name() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    // The new plan has the same name for the run that goes on, and new ones for the rest.
    let next = plan().replace("tall-002", "tall-003");
    bench.note(
        Event::PlanAccepted {
            plan: next,
            basis: None,
        },
        "11 09:00",
    );
    let open: Vec<String> = bench
        .log
        .state()
        .open_runs()
        .iter()
        .map(|&key| bench.log.state().planned(key).id.clone())
        .collect();
    assert_eq!(open, ["wide-001", "tall-003", "wide-002"]);
    bench.finish("tall-001", "11 14:00");
    let why = bench.refused(started("tall-001"), "11 15:00");
    assert!(why.starts_with("tall-001 has been printed"), "{why}");
    bench.start("tall-003", "12 08:00");
    let why = bench.refused(started("tall-002"), "12 08:00");
    assert!(
        why.starts_with("tall-002 is a run of an earlier plan"),
        "{why}"
    );
}

#[test]
fn a_plan_is_not_accepted_once_something_was_noted_that_it_does_not_know() {
    let mut bench = Bench::planned();
    let known = bench.log.entries().len();
    bench.start("tall-001", "11 08:00");
    let trouble = bench
        .log
        .accept(plan(), String::new().into(), known, later());
    let why = trouble.expect_err("one entry too many").to_string();
    assert_eq!(
        why,
        "not noted: since the plan was made the log has grown by 1; plan again"
    );
    let known = bench.log.entries().len();
    bench
        .log
        .accept(plan(), String::new().into(), known, later())
        .expect("nothing came between");
}

#[test]
fn a_plan_by_which_a_run_was_started_is_not_undone() {
    let mut bench = Bench::planned();
    let plan = bench.log.entries()[0].id;
    bench.start("tall-001", "11 08:00");
    let why = bench.refused(Event::Undone { id: plan }, "11 09:00");
    assert_eq!(
        why,
        "tall-001 of this plan has been started; undo that first, or plan again and accept another plan"
    );
    let started = bench.log.entries()[1].id;
    bench.note(Event::Undone { id: started }, "11 09:00");
    bench.note(Event::Undone { id: plan }, "11 09:10");
}

#[test]
fn a_plan_that_cannot_be_is_not_accepted() {
    let mut bench = Bench::planned();
    let mut refused = |from: &str, to: &str| {
        let text = plan().replacen(from, to, 1);
        assert_ne!(text, plan());
        let event = Event::PlanAccepted {
            plan: text,
            basis: None,
        };
        bench.refused(event, "11 08:00")
    };
    let why = refused("2027-01-11T14:00:00Z", "+262142-01-01T00:00:00Z");
    assert!(why.contains("a moment in the year 262142"), "{why}");
    let why = refused("2027-01-11T07:50:00Z", "2027-01-11T08:50:00Z");
    assert!(why.contains("is set up after it starts"), "{why}");
    let why = refused(r#""number":2"#, r#""number":0"#);
    assert!(why.contains("has copy 0 of"), "{why}");
    let why = refused(r#""length":2,"of":2"#, r#""length":1,"of":2"#);
    assert!(why.contains("twice"), "{why}");
}

#[test]
fn moments_that_lead_out_of_the_calendar_are_refused() {
    let mut bench = Bench::planned();
    let until = |year: &str| Event::Down {
        machine: "tall".into(),
        why: String::new(),
        until: format!("{year}-12-31T23:30:00Z").parse().ok(),
    };
    let why = bench.refused(until("+262142"), "11 08:00");
    assert!(
        why.starts_with("+262142-12-31 is more than ten years on"),
        "{why}"
    );
    let why = bench.refused(
        Event::SpoolBought {
            spool: "red-9".into(),
            filament: "red".into(),
            grams: 1000.0,
            arrives: "2090-01-01T00:00:00Z".parse().ok(),
        },
        "11 08:00",
    );
    assert!(
        why.starts_with("2090-01-01 is more than ten years on"),
        "{why}"
    );
    bench.note(until("2027"), "11 08:00");
    let text = plan().replacen("2027-01-11T14:00:00Z", "2199-01-11T14:00:00Z", 1);
    let event = Event::PlanAccepted {
        plan: text,
        basis: None,
    };
    let why = bench.refused(event, "11 08:10");
    assert!(why.contains("takes more than a year"), "{why}");
}

#[test]
fn a_run_cannot_have_started_while_its_machine_was_down_but_before_and_after() {
    let mut bench = Bench::planned();
    bench.note(down("tall"), "11 09:20");
    let why = bench.refused(started("tall-001"), "11 09:20");
    assert!(
        why.starts_with("tall is down since Mon 11 Jan 2027 09:20"),
        "{why}"
    );
    // It was noted after it went down, and happened before.
    let undo = bench.note(started("tall-001"), "11 09:15").id;
    bench.note(Event::Undone { id: undo }, "11 09:30");
    bench.note(up("tall"), "11 10:00");
    let why = bench.refused(started("tall-001"), "11 09:45");
    assert!(
        why.starts_with(
            "tall-001 cannot have started Mon 11 Jan 2027 09:45: tall was down from Mon 11 Jan 2027 09:20 to Mon 11 Jan 2027 10:00"
        ),
        "{why}"
    );
    bench.note(started("tall-001"), "11 10:00");
}

#[test]
fn a_run_does_not_start_before_the_trial_that_its_copies_wait_for_is_approved() {
    let mut bench = Bench::planned();
    let refused = |bench: &mut Bench| bench.refused(started("wide-002"), "12 08:00");
    assert_eq!(
        refused(&mut bench),
        "wide-002 has copies of cap that wait for its trial, which is not approved; note `approved cap` first, or plan again"
    );
    let printed = || {
        let mut bench = Bench::planned();
        bench.start("wide-001", "11 08:00");
        bench.finish("wide-001", "11 14:00");
        bench
    };
    let mut bench = printed();
    bench.note(rejected("cap"), "11 15:00");
    assert!(refused(&mut bench).contains("plan again for new trial copies"));
    let mut bench = printed();
    bench.note(approved("cap"), "11 15:00");
    assert_eq!(
        bench.refused(started("wide-002"), "11 14:30"),
        "wide-002 has copies of cap that wait for its trial, which was approved only Mon 11 Jan 2027 15:00; give a later moment with \
         `--at`; if it was approved before, undo that and note it with the moment"
    );
    bench.start("wide-002", "11 15:00");
}

#[test]
fn a_run_that_was_forgotten_is_told_how_to_be_noted_and_can_be() {
    let mut bench = Bench::planned();
    let start = bench.note(started("tall-002"), "11 15:00");
    let said = "if tall-001 was forgotten, undo what is noted of tall-002, the last first (`log SCENARIO show` has the numbers), note tall-001, \
                and note that again";
    let why = bench.refused(started("tall-001"), "11 08:00");
    assert_eq!(why, format!("tall is printing tall-002; {said}"));
    let end = bench.note(finished("tall-002", &[]), "11 21:00");
    let why = bench.refused(started("tall-001"), "11 08:00");
    assert!(
        why.contains("the run before it on tall ended Mon 11 Jan 2027 21:00; give a later moment")
            && why.ends_with(said),
        "{why}"
    );
    for entry in [end, start] {
        bench.note(Event::Undone { id: entry.id }, "11 22:00");
    }
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "11 15:00");
    bench.finish("tall-002", "11 21:00");
}

#[test]
fn a_machine_in_the_place_of_a_run_is_told_for_what_it_is() {
    let mut bench = Bench::planned();
    let mut taken = |event: Event, moment: &str| {
        let event = serde_json::to_string(&event).expect("JSON");
        let moment = at(moment).to_rfc3339();
        let line = format!(r#"{{"at":"{moment}","event":{event}}}"#);
        let taken = bench.log.import(&line, later());
        taken.map_err(|trouble| trouble.to_string())
    };
    let said = "line 1: tall is a machine, and runs are called by their own names here; ";
    let why = taken(started("tall"), "11 08:00").expect_err("no run");
    assert_eq!(
        why,
        format!("{said}the next on it is tall-001; nothing was taken in")
    );
    taken(started("tall-001"), "11 08:00").expect("a run");
    let why = taken(finished("tall", &[]), "11 14:00").expect_err("no run");
    assert_eq!(
        why,
        format!("{said}on it is tall-001; nothing was taken in")
    );
}
