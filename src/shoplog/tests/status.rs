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
    assert_eq!(now, [Task::Approve { part: "cap".into() }, join]);
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
    // 300 + 50 g, of which tall-001 takes 240: 110 are left for the 120 of tall-002.
    let short = Low {
        filament: "red".into(),
        needed: 120.0,
        here: 110.0,
        coming: 0.0,
    };
    assert_eq!(low(&bench), [short]);
    bench.note(bought("red-3", "red", 1000.0), "11 09:00");
    assert_eq!(low(&bench), []);
}
