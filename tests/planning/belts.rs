//! A belt goes on by itself only the minute at which the run before has ended; once it stands, somebody starts it.

use std::path::Path;

use beamyard::plan::audit::{Rule, audit};
use beamyard::plan::{Job, Off};
use beamyard::planning::{Options, plan};
use beamyard::scenario::read_text;
use beamyard::search::portfolio::Limit;

/// Of each run on a belt its setup, if it has one, and its start, local time. Every run prints 126 minutes: two hours, and six
/// minutes to warm up.
fn belt(hours: &str, machine: &str, parts: &str) -> Vec<(Option<String>, String)> {
    let text = format!(
        "build: {{start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 100}}\n\
         bench: {{hours: {{mon-sun: [{hours}]}}}}\n\
         machines: [{{id: belt, kind: belt, section: [240, 200], longest: 2400, loaded: moss{machine}}}]\n\
         filaments: [{{id: moss, material: PLA, spools: [5000]}}]\n\
         parts:\n\
         - {{id: rail, quantity: 2, size: [600, 40, 40], alone: true, minutes: {{belt: 120}}}}\n{parts}"
    );
    let reading =
        read_text("belt.yaml", &text, Path::new("")).unwrap_or_else(|all| panic!("{all}"));
    let options = Options {
        limit: Some(Limit::Moves(100)),
        ..Options::default()
    };
    // It comes out only if its audit finds nothing.
    let planned = plan(&reading.scenario, &options).unwrap_or_else(|none| panic!("{none:?}"));
    let zone = reading.scenario.build.zone;
    let shown =
        |at: chrono::DateTime<chrono::Utc>| at.with_timezone(&zone).format("%d %H:%M").to_string();
    let runs = planned.plan.runs.iter();
    runs.map(|run| (run.setup.map(shown), shown(run.start)))
        .collect()
}

fn run(setup: Option<&str>, start: &str) -> (Option<String>, String) {
    (setup.map(str::to_owned), start.to_owned())
}

#[test]
fn a_run_that_waits_for_its_file_is_set_up_anew() {
    // 07:10 + 126 min is 09:16, and the second follows at once, to 11:22. The third is ready two days later, at noon.
    let late = "- {id: late, size: [600, 40, 40], alone: true, minutes: {belt: 120}, ready: 2027-01-13 12:00}\n";
    assert_eq!(
        belt("\"07:00-22:00\"", "", late),
        [
            run(Some("11 07:00"), "11 07:10"),
            run(None, "11 09:16"),
            run(Some("13 11:50"), "13 12:00"),
        ]
    );
}

#[test]
fn a_run_that_an_outage_holds_back_is_set_up_anew() {
    let outage = ", offline: [{from: 2027-01-11 10:00, to: 2027-01-11 11:00}]";
    assert_eq!(
        belt("\"07:00-22:00\"", outage, ""),
        [
            run(Some("11 07:00"), "11 07:10"),
            run(Some("11 11:00"), "11 11:10")
        ]
    );
}

#[test]
fn a_belt_that_must_be_watched_is_set_up_anew_when_somebody_comes() {
    // 09:16 + 126 min is past ten, when the bench closes.
    let watched = ", unattended: forbidden";
    assert_eq!(
        belt("\"07:00-10:00\", \"12:00-18:00\"", watched, ""),
        [
            run(Some("11 07:00"), "11 07:10"),
            run(Some("11 12:00"), "11 12:10")
        ]
    );
}

#[test]
fn a_run_that_waits_for_a_trial_is_set_up_anew() {
    // The trial ends at 21:16, when nobody is there; the rest is set up next morning.
    let text = "- {id: pin, quantity: 2, trial: 1, size: [600, 40, 40], alone: true, minutes: {belt: 480}}\n";
    let runs = belt("\"07:00-08:00\"", "", text);
    for (setup, start) in &runs[1..] {
        let waited = start.ends_with("07:10") || start.ends_with("07:20");
        assert_eq!(setup.is_some(), waited, "{runs:?}");
    }
    assert!(
        runs[1..].iter().any(|(setup, _)| setup.is_some()),
        "{runs:?}"
    );
}

#[test]
fn a_run_that_waits_for_a_trial_does_not_follow_it_in_the_minute_of_its_end() {
    // Somebody is there when the trial ends, at 9:16 at the earliest, and looks at it; the rest is set up after that.
    let text = "- {id: pin, quantity: 3, trial: 1, size: [600, 40, 40], alone: true, minutes: {belt: 120}}\n";
    let runs = belt("\"07:00-22:00\"", "", text);
    let set_up = runs.iter().filter(|(setup, _)| setup.is_some()).count();
    // Five runs in ten and a half hours: the trial first, the two rails meanwhile, and then the others may all follow.
    assert_eq!(runs.len(), 5);
    assert_eq!(set_up, 1, "{runs:?}");
    let alone = "build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 100}\n\
         bench: {hours: {mon-sun: [\"07:00-22:00\"]}}\n\
         machines: [{id: belt, kind: belt, section: [240, 200], longest: 2400, loaded: moss}]\n\
         filaments: [{id: moss, material: PLA, spools: [5000]}]\n\
         parts: [{id: pin, quantity: 2, trial: 1, size: [600, 40, 40], alone: true, minutes: {belt: 120}}]\n";
    let reading =
        read_text("belt.yaml", alone, Path::new("")).unwrap_or_else(|all| panic!("{all}"));
    let options = Options {
        limit: Some(Limit::Moves(100)),
        ..Options::default()
    };
    let mut planned = plan(&reading.scenario, &options).unwrap_or_else(|none| panic!("{none:?}"));
    let runs = &mut planned.plan.runs;
    assert_eq!(runs[1].setup, Some(runs[0].end));
    // The audit knows it by itself.
    let lasts = runs[1].end - runs[1].start;
    runs[1].setup = None;
    runs[1].start = runs[0].end;
    runs[1].end = runs[1].start + lasts;
    let faults = audit(&reading.scenario, &planned.plan);
    assert!(faults.iter().any(|fault| fault.rule == Rule::Trial));
}

#[test]
fn what_a_belt_has_ejected_is_taken_off_as_soon_as_somebody_is_there() {
    let text = "build: {start: 2027-01-11 07:00, timezone: Europe/Oslo, each_day: 100}\n\
         bench: {hours: {mon-sun: [\"07:00-08:00\"]}}\n\
         machines: [{id: belt, kind: belt, section: [240, 200], longest: 2400, loaded: moss}]\n\
         filaments: [{id: moss, material: PLA, spools: [5000]}]\n\
         parts:\n\
         - {id: rail, quantity: 2, size: [600, 40, 40], alone: true, minutes: {belt: 120}}\n\
         - {id: late, size: [600, 40, 40], alone: true, minutes: {belt: 120}, ready: 2027-01-13 12:00}\n\
         assemblies: [{id: track, parts: {rail: 2, late: 1}}]\n";
    let reading = read_text("belt.yaml", text, Path::new("")).unwrap_or_else(|all| panic!("{all}"));
    let options = Options {
        limit: Some(Limit::Moves(100)),
        ..Options::default()
    };
    let planned = plan(&reading.scenario, &options).unwrap_or_else(|none| panic!("{none:?}"));
    let days = planned.plan.sheets.days.iter();
    let taken = days.flat_map(|day| &day.tasks).filter_map(|task| {
        let at = task.from.with_timezone(&reading.scenario.build.zone);
        match &task.what {
            Job::TakeOff(runs) => Some((at.format("%d %H:%M").to_string(), runs.clone())),
            _ => None,
        }
    });
    // The rails end on the 11th at 9:16 and 11:22. Next morning somebody is there; the belt is set up only on the 14th.
    assert_eq!(
        taken.collect::<Vec<_>>(),
        [
            ("12 07:00".to_owned(), vec![Off::Run(0), Off::Run(1)]),
            ("15 07:00".to_owned(), vec![Off::Run(2)])
        ]
    );
}
