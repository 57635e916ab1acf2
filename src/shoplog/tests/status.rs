//! How the shop stands.

use super::*;

fn tasks(bench: &Bench, moment: &str) -> Vec<(DateTime<Utc>, Task)> {
    let next = status(&shop(), bench.log.state(), at(moment)).next;
    next.into_iter().map(|next| (next.at, next.what)).collect()
}

fn set_up(run: &str, filament: &str, change: bool) -> Task {
    Task::SetUp {
        run: run.to_owned(),
        machine: run[..4].to_owned(),
        filament: filament.to_owned(),
        change,
        spool: None,
        waits: None,
        // The second cap is on it.
        trial: (run == "wide-002").then(|| "cap".to_owned()),
    }
}

#[test]
fn what_prints_has_its_end_and_that_of_its_spool() {
    let mut bench = Bench::planned();
    bench.note(weighed_spool("red-1", 100.0), "11 08:00");
    bench.note(opened("red-1", "tall"), "11 08:10");
    bench.start("tall-001", "11 08:30");
    let status = status(&shop(), bench.log.state(), at("11 09:00"));
    let printing = &status.printing[0];
    assert_eq!(
        (printing.run.as_str(), printing.until),
        ("tall-001", at("11 14:30"))
    );
    assert_eq!(printing.pieces, [("chord".to_owned(), 2)]);
    // 100 of 240 g in six hours are gone after 2 h 30 min.
    assert_eq!(printing.spool_ends, Some(at("11 11:00")));
    assert_eq!(status.idle.len(), 1);
    assert_eq!((status.printed, status.lost, status.to_print), (0, 0, 7));
}

#[test]
fn what_is_next_waits_for_its_machine_and_for_somebody_to_be_there() {
    let mut bench = Bench::planned();
    assert_eq!(
        tasks(&bench, "11 07:00"),
        [
            (at("11 07:50"), set_up("tall-001", "red", false)),
            (at("11 07:50"), set_up("wide-001", "grey", true)),
            (at("12 07:50"), set_up("tall-002", "red", false)),
            (at("12 07:50"), set_up("wide-002", "grey", false)),
        ]
    );
    // Started at 20:00 on the 11th it ends at 2:00; the bench opens at 7:00, but 7:50 was planned. Started at 3:00 on the
    // 12th it ends at 9:00, and its successor is set up then.
    bench.start("tall-001", "11 20:00");
    assert!(
        tasks(&bench, "11 21:00").contains(&(at("12 07:50"), set_up("tall-002", "red", false)))
    );
    let mut bench = Bench::planned();
    bench.start("tall-001", "12 03:00");
    assert!(
        tasks(&bench, "12 04:00").contains(&(at("12 09:00"), set_up("tall-002", "red", false)))
    );
    // Started at 18:00 on the 12th it ends at midnight: seven in the morning.
    let mut bench = Bench::planned();
    bench.start("tall-001", "12 18:00");
    assert!(
        tasks(&bench, "12 19:00").contains(&(at("13 07:00"), set_up("tall-002", "red", false)))
    );
}

#[test]
fn trials_lengths_and_assemblies_are_to_be_seen_to_when_all_is_there() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.start("wide-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.finish("wide-001", "11 14:00");
    let now: Vec<Task> = tasks(&bench, "11 15:00")
        .into_iter()
        .filter(|(when, _)| *when == at("11 15:00"))
        .map(|task| task.1)
        .collect();
    let join = Task::Join {
        part: "chord".into(),
        number: 1,
    };
    assert_eq!(
        now,
        [
            Task::Approve {
                part: "cap".into(),
                variants: Vec::new()
            },
            join
        ]
    );
    let mut bench = Bench::all_printed();
    let assemble = |id: &str| Task::Assemble {
        assembly: id.into(),
    };
    assert!(tasks(&bench, "13 08:00").contains(&(at("13 08:00"), assemble("mast"))));
    assert!(!tasks(&bench, "13 08:00").contains(&(at("13 08:00"), assemble("boom"))));
    bench.note(assembly("mast", false), "13 08:00");
    let complete = Task::Complete {
        assembly: "mast".into(),
    };
    assert!(tasks(&bench, "13 08:30").contains(&(at("13 08:30"), complete)));
    bench.note(assembly("mast", true), "13 09:00");
    assert!(tasks(&bench, "13 09:30").contains(&(at("13 09:30"), assemble("boom"))));
}

#[test]
fn a_stage_is_behind_by_what_its_latest_run_is_and_complete_when_it_is() {
    let mut bench = Bench::planned();
    let stage = |bench: &Bench, moment: &str| {
        status(&shop(), bench.log.state(), at(moment))
            .stages
            .remove(0)
    };
    let on_time = stage(&bench, "11 07:00");
    assert_eq!(
        (on_time.planned, on_time.expected),
        (at("13 10:00"), at("13 10:00"))
    );
    assert_eq!(on_time.due, at("20 18:00"));
    // At noon on the 12th tall-001 prints 27 h late, and wide-001, to be set up at 7:50 on the 11th, waits for 28 h 10 min.
    bench.start("tall-001", "12 11:00");
    let late = stage(&bench, "12 12:00");
    assert_eq!(late.expected, at("14 14:10"));
    let mut bench = Bench::all_printed();
    bench.note(assembly("mast", true), "13 08:00");
    bench.note(assembly("boom", true), "13 09:00");
    let done = stage(&bench, "14 08:00");
    assert!(done.complete);
    assert_eq!(done.expected, at("13 09:00"));
}

#[test]
fn a_filament_is_low_when_the_plan_needs_more_than_is_here() {
    let mut bench = Bench::planned();
    let low = |bench: &Bench| status(&shop(), bench.log.state(), at("11 12:00")).low;
    assert_eq!(low(&bench), []);
    bench.note(weighed_spool("red-2", 50.0), "11 08:00");
    bench.start("tall-001", "11 08:00");
    // 300 + 50 g; tall-001, which prints, takes 240, and tall-002 120.
    let short = Low {
        filament: "red".into(),
        needed: 360.0,
        here: 350.0,
        coming: 0.0,
    };
    assert_eq!(low(&bench), [short]);
    bench.note(bought("red-3", "red", 1000.0), "11 09:00");
    assert_eq!(low(&bench), []);
}

#[test]
fn a_spool_that_ends_with_nobody_there_puts_off_what_waits_for_its_run() {
    let mut bench = Bench::planned();
    bench.note(weighed_spool("red-1", 120.0), "11 08:00");
    bench.note(opened("red-1", "tall"), "11 08:10");
    // Half of the 240 g are out after three hours, at 23:00; the bench opens at 7:00, so the run ends at 10:00 and not at 2:00.
    bench.start("tall-001", "11 20:00");
    let status = status(&shop(), bench.log.state(), at("11 21:00"));
    let printing = &status.printing[0];
    assert_eq!(
        (printing.spool_ends, printing.stops),
        (Some(at("11 23:00")), true)
    );
    let next: Vec<_> = status.next.iter().map(|n| (n.at, n.what.clone())).collect();
    assert!(next.contains(&(at("12 10:00"), set_up("tall-002", "red", false))));
    // It was planned until 14:00 on the 11th: 20 h later. The boom, which needs the mast, was to be complete on the 13th at 10:00; at
    // 6:00 on the 14th nobody is there.
    assert_eq!(status.stages[0].expected, at("14 07:00"));
}

#[test]
fn a_machine_that_is_out_of_use_is_told_and_waited_for() {
    let text = SHOP.replace(", minutes_: 0", "").replace(
        "{id: wide, kind: bed, bed: [300, 300], height: 300, materials: [PLA]}",
        "{id: wide, kind: bed, bed: [300, 300], height: 300, materials: [PLA], \
         offline: [{from: 2027-01-12 00:00, to: 2027-01-13 00:00, why: bearings}]}",
    );
    let shop = match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let mut bench = Bench::planned();
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    let status = status(&shop, bench.log.state(), at("12 08:00"));
    let wide = status.idle.iter().find(|idle| idle.machine == "wide");
    assert_eq!(
        wide.and_then(|idle| idle.offline.clone()),
        Some((at("13 00:00"), "bearings".to_owned()))
    );
    // It is there again at midnight, and somebody at 7:00.
    let next: Vec<_> = status.next.iter().map(|n| (n.at, n.what.clone())).collect();
    assert!(next.contains(&(at("13 07:00"), set_up("wide-002", "grey", false))));
}

#[test]
fn a_run_whose_filament_is_not_here_waits_for_an_order_of_today_or_for_what_is_on_its_way() {
    let mut bench = Bench::planned();
    // 90 g are enough for wide-001 alone, with what is purged before it.
    bench.note(weighed_spool("grey-1", 90.0), "11 08:00");
    let waiting = |at, waits| {
        let what = Task::SetUp {
            run: "wide-002".into(),
            machine: "wide".into(),
            filament: "grey".into(),
            change: false,
            spool: None,
            waits,
            trial: Some("cap".into()),
        };
        (at, what)
    };
    // Ordered on the 11th it is out by midnight and there three days later.
    let order = waiting(at("15 07:00"), Some(at("15 00:00")));
    assert!(tasks(&bench, "11 09:00").contains(&order));
    let stages = status(&shop(), bench.log.state(), at("11 09:00")).stages;
    // wide-002 was to be set up at 7:50 on the 12th: 2 days 23 h 10 min later.
    assert_eq!(stages[0].expected, at("16 09:10"));
    let coming = Event::SpoolBought {
        spool: "grey-2".into(),
        filament: "grey".into(),
        grams: 1000.0,
        arrives: Some(at("12 12:00")),
    };
    bench.note(coming, "11 09:00");
    let comes = waiting(at("12 12:00"), Some(at("12 12:00")));
    assert!(tasks(&bench, "11 10:00").contains(&comes));
}

#[test]
fn what_was_lost_and_is_on_no_run_is_told() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "11 08:00");
    let lost = PieceId {
        part: "pin".into(),
        number: 2,
        length: 1,
        of: 1,
    };
    bench.note(finished("tall-002", &[lost]), "11 14:00");
    let now = status(&shop(), bench.log.state(), at("11 15:00"));
    assert_eq!(now.in_no_run, [("pin".to_owned(), 1)].into());
    // Two lengths and two caps by the plan, and the pin.
    assert_eq!(now.to_print, 5);
    // Of a run that is scrapped all pieces are on it still: it can be started again.
    bench.start("tall-001", "11 16:00");
    bench.note(scrapped("tall-001", None), "11 17:00");
    let now = status(&shop(), bench.log.state(), at("11 18:00"));
    assert_eq!(now.in_no_run.len(), 1);
    assert_eq!(now.to_print, 5);
}

#[test]
fn a_run_is_started_from_the_spool_that_the_plan_puts_on() {
    let planned = |grams: &str| {
        let plan = plan().replacen(
            r#""id":"tall-001","#,
            &format!(r#""id":"tall-001","spool":{grams},"#),
            1,
        );
        let mut bench = Bench::empty();
        bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
        bench.start("tall-001", "11 08:00");
        bench.log.state().machines["tall"].spool.clone()
    };
    // red-1 has 300 g and red-2 1000 g; 240 g are needed.
    assert_eq!(planned("null").as_deref(), Some("red-1"));
    assert_eq!(planned("990").as_deref(), Some("red-2"));
    // The plan's is not there any more.
    assert_eq!(planned("700").as_deref(), Some("red-1"));
}

#[test]
fn a_spool_that_is_to_be_changed_before_the_night_is_not_said_to_end_in_it() {
    // Planned to start at 8:00 and to be changed at 10:30: two and a half hours after its start.
    let plan = plan().replacen(
        r#""id":"tall-001","#,
        r#""id":"tall-001","spool_ends":[{"at":"2027-01-11T10:30:00Z","attended":true,"left":20,"next":1000}],"#,
        1,
    );
    let ends = |started: &str, other: f64| {
        let mut bench = Bench::empty();
        bench.note(
            Event::PlanAccepted {
                plan: plan.clone(),
                basis: None,
            },
            "11 07:00",
        );
        bench.note(weighed_spool("red-1", 120.0), "11 08:00");
        bench.note(weighed_spool("red-2", other), "11 08:00");
        bench.note(opened("red-1", "tall"), "11 08:10");
        bench.start("tall-001", started);
        let status = status(&shop(), bench.log.state(), at("11 20:30"));
        let printing = &status.printing[0];
        (printing.spool_ends, printing.stops, printing.change)
    };
    // Begun at 19:00 it would be empty at 22:00, when the bench closes; it is changed at 21:30.
    let planned = Some(at("11 21:30"));
    assert_eq!(ends("11 19:00", 1000.0), (planned, false, planned));
    // Begun at 20:00 the change falls into the night as well. At 21:55, after 1 h 55 min of six hours, 76.7 of 240 g are printed: a
    // spool of 163.3 g or more lasts for the rest if it goes on then.
    let night = Some(at("11 23:00"));
    assert_eq!(ends("11 20:00", 164.0), (night, true, Some(at("11 21:55"))));
    assert_eq!(ends("11 20:00", 163.0), (night, true, None));
}

#[test]
fn a_spool_that_was_weighed_since_the_plan_is_the_one_that_it_means() {
    let plan = plan().replacen(r#""id":"tall-001","#, r#""id":"tall-001","spool":300,"#, 1);
    let mut bench = Bench::empty();
    let accepted = Event::PlanAccepted { plan, basis: None };
    bench.note(accepted.clone(), "11 07:00");
    // 50 g less than was written on it: more than is between otherwise.
    bench.note(weighed_spool("red-1", 250.0), "11 07:30");
    assert!(bench.log.state().spools["red-1"].is_planned(300.0));
    bench.start("tall-001", "11 08:00");
    assert_eq!(
        bench.log.state().machines["tall"].spool.as_deref(),
        Some("red-1")
    );
    // A plan made after that knows of it.
    bench.note(accepted, "11 08:10");
    assert!(!bench.log.state().spools["red-1"].is_planned(300.0));
}

#[test]
fn what_colour_changes_purge_counts_as_needed() {
    // Every change on wide purges 25 g, its first load among them; tall has red in it.
    let text = SHOP
        .replace(", minutes_: 0", "")
        .replace("id: wide,", "id: wide, purge: 25,");
    let scenario = match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let plan = plan().replace(
        r#""id":"tall-002","machine":"tall""#,
        r#""id":"wide-003","machine":"wide""#,
    );
    let mut bench = Bench::empty();
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:00");
    bench.note(weighed_spool("red-1", 100.0), "11 07:10");
    bench.note(weighed_spool("red-2", 100.0), "11 07:10");
    bench.note(weighed_spool("grey-1", 100.0), "11 07:10");
    let log = Log::read(&bench.path(), &scenario)
        .expect("a log")
        .expect("it");
    let low = status(&scenario, log.state(), at("11 07:20")).low;
    let needed: Vec<(&str, f64)> = low
        .iter()
        .map(|low| (low.filament.as_str(), low.needed))
        .collect();
    // On wide the pins in red stand between the two caps in grey. Grey: 2 × 60 and 2 × 25. Red: 240 and 120, and 25.
    assert_eq!(needed, [("grey", 170.0), ("red", 385.0)]);
}

#[test]
fn a_spool_that_was_said_to_be_on_stays_though_the_plan_would_put_on_another() {
    let plan = plan().replacen(r#""id":"tall-001","#, r#""id":"tall-001","spool":300,"#, 1);
    let accepted = Event::PlanAccepted {
        plan: plan.replacen(r#""id":"tall-002","#, r#""id":"tall-002","spool":60,"#, 1),
        basis: None,
    };
    let on = |bench: &Bench| bench.log.state().machines["tall"].spool.clone();
    let mut bench = Bench::empty();
    bench.note(accepted, "11 07:00");
    bench.note(opened("red-2", "tall"), "11 07:50");
    bench.start("tall-001", "11 08:00");
    assert_eq!(on(&bench).as_deref(), Some("red-2"));
    assert_eq!(bench.grams("red-1"), 300.0);
    bench.finish("tall-001", "11 14:00");
    assert_eq!(bench.grams("red-2"), 760.0);
    // It was said of that run. For the next the plan's spool goes on, of 60 g.
    bench.note(weighed_spool("red-1", 60.0), "11 15:00");
    bench
        .log
        .accept(plan_of_spool(60), String::new().into(), 5, at("11 16:00"))
        .expect("a plan");
    bench.start("tall-002", "12 08:00");
    assert_eq!(on(&bench).as_deref(), Some("red-1"));
}

/// The plan, in which a spool of so many grams goes on for `tall-002`.
fn plan_of_spool(grams: u32) -> String {
    let spool = format!(r#""id":"tall-002","spool":{grams},"#);
    plan().replacen(r#""id":"tall-002","#, &spool, 1)
}

#[test]
fn a_plan_that_was_made_while_a_late_run_printed_reckons_with_how_late_it_is() {
    // tall-001 was to end at 14:00 and was started two hours late. The plan made then has it end at 16:00, and the boom complete two hours
    // later than the first: nothing is behind that.
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 10:00");
    let again = |printing: &str| {
        let wide = run(
            "wide-001",
            "grey",
            12,
            60.0,
            &[piece("cap", 1, 1, 1, "boom")],
        );
        format!(
            r#"{{"version":1,"build":"Footbridge","cost":{{"total":1}},"finish":"2027-01-13T12:00:00Z","runs":[{wide}],{printing}
                "assemblies":[{{"id":"mast","complete":"2027-01-13T08:00:00Z","due":"2027-01-20T18:00:00Z"}},
                {{"id":"boom","complete":"2027-01-13T12:00:00Z","due":"2027-01-20T18:00:00Z"}}]}}"#
        )
    };
    let stands = r#""printing":[{"id":"tall-001","end":"2027-01-11T16:00:00Z"}],"#;
    let expected = |plan: String| {
        let mut other = Bench::empty();
        other
            .log
            .import(&bench.log.export(), later())
            .expect("entries");
        other.note(Event::PlanAccepted { plan, basis: None }, "11 10:05");
        let status = status(&shop(), other.log.state(), at("11 11:00"));
        let boom = status.stages.iter().find(|stage| stage.assembly == "boom");
        boom.expect("the boom").expected
    };
    assert_eq!(expected(again(stands)), at("13 12:00"));
    // That it stood there an hour less is an hour's delay.
    let earlier = stands.replace("16:00", "15:00");
    assert_eq!(expected(again(&earlier)), at("13 13:00"));
}

#[test]
fn a_run_that_was_started_in_its_planned_minute_ends_in_its_planned_minute() {
    let mut bench = Bench::planned();
    let moment = at("11 08:00") + chrono::TimeDelta::seconds(40);
    bench
        .log
        .note(started("tall-001"), moment, later())
        .expect("noted");
    let state = bench.log.state();
    let key = state.running("tall-001").expect("it prints");
    assert_eq!(state.expected_end(key), Some(at("11 14:00")));
    // And planning again in its last minute is planning from the beginning of that.
    let now = at("11 13:59") + chrono::TimeDelta::seconds(30);
    let (progress, _) = progress(&shop(), &bench.log, now);
    assert_eq!(progress.now, at("11 13:59"));
    assert_eq!(progress.running[0].end, at("11 14:00"));
    let ended = at("11 14:00") + chrono::TimeDelta::seconds(10);
    bench
        .log
        .note(finished("tall-001", &[]), ended, later())
        .expect("noted");
    let (progress, _) = super::progress(&shop(), &bench.log, ended + chrono::TimeDelta::seconds(5));
    assert_eq!(progress.now, at("11 14:00"));
    assert!(
        progress
            .made
            .iter()
            .all(|made| made.printed <= progress.now)
    );
}

#[test]
fn the_variant_that_was_chosen_is_one_of_the_part() {
    let text = SHOP.replace(", minutes_: 0", "").replace(
        "settings: light, trial: 1}",
        "settings: light, variants: [{name: tight, offset: -0.1}, {name: loose, offset: 0.1}]}",
    );
    let shop = match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut log = Log::open(&folder.path().join("shop.log.sqlite"), &shop).expect("a new log");
    let printed = Bench::all_printed().log.export();
    // Of two variants both are printed first.
    let lines: Vec<&str> = printed
        .lines()
        .filter(|line| !line.contains("approved"))
        .collect();
    let chosen = |variant: &str| Event::Approved {
        part: "cap".to_owned(),
        variant: Some(variant.to_owned()),
    };
    log.import(&lines.join("\n"), later()).expect("entries");
    let refused = |log: &mut Log, event| match log.note(event, at("12 15:00"), later()) {
        Err(Trouble::Refused(refusal)) => refusal.to_string(),
        other => panic!("{other:?}"),
    };
    let why = refused(&mut log, chosen("tigth"));
    assert!(
        why.contains("there is no variant of cap `tigth`; did you mean `tight`?"),
        "{why}"
    );
    log.note(chosen("tight"), at("12 15:00"), later())
        .expect("noted");
    let trial = &log.state().trials["cap"];
    assert_eq!(trial.chosen.as_deref(), Some("tight"));
    let mut plain = Bench::all_printed();
    let why = plain.refused(chosen("tight"), "12 15:00");
    assert!(why.contains("cap has no variants to choose from"), "{why}");
}

#[test]
fn a_plan_that_was_accepted_later_puts_on_its_spool_though_another_was_said_to_be_on() {
    let on = |bench: &Bench| bench.log.state().machines["tall"].spool.clone();
    let with = |spool: &str| {
        let mut bench = Bench::planned();
        bench.note(weighed_spool("red-1", 40.0), "11 07:00");
        bench.note(opened("red-1", "tall"), "11 07:10");
        let plan = plan().replacen(
            r#""id":"tall-001","#,
            &format!(r#""id":"tall-001",{spool}"#),
            1,
        );
        bench.note(Event::PlanAccepted { plan, basis: None }, "11 07:30");
        bench.start("tall-001", "11 08:00");
        bench
    };
    // It knows of red-1, and of its 40 g, and puts on the spool of 1000 g: that gives the 240 g.
    let mut bench = with(r#""spool":1000,"#);
    assert_eq!(on(&bench).as_deref(), Some("red-2"));
    bench.finish("tall-001", "11 14:00");
    assert_eq!((bench.grams("red-1"), bench.grams("red-2")), (40.0, 760.0));
    // Where it puts on none, what is on stays.
    assert_eq!(on(&with("")).as_deref(), Some("red-1"));
}
