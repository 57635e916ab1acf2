//! What the bench needs besides the queue, broken.

use std::collections::BTreeSet;
use std::path::Path;

use beamyard::plan::audit::{Rule, audit_since};
use beamyard::plan::{Job, Off, Plan, Since, Task};
use beamyard::planning::{self, Options};
use beamyard::progress::Progress;
use beamyard::scenario::read_text;
use beamyard::search::portfolio::Limit;
use beamyard::units::Grams;
use chrono::TimeDelta;

use crate::moment::later;
use crate::tide_clock::{at, plan, shop};

/// The first task that is one of these.
fn task(plan: &mut Plan, wanted: impl Fn(&Job) -> bool) -> &mut Task {
    let days = plan.sheets.days.iter_mut();
    let mut tasks = days.flat_map(|day| &mut day.tasks);
    tasks.find(|task| wanted(&task.what)).expect("such a task")
}

planted! {
    an_hour_of_the_bench_that_is_not_shown: HoursShown => |_, plan| {
        plan.sheets.hours.remove(1);
    }
    bench_hours_that_open_too_early: HoursShown => |_, plan| {
        plan.sheets.hours[0].from -= chrono::TimeDelta::minutes(1);
    }
    a_setup_that_is_on_no_sheet: DaySheets => |_, plan| {
        // The second clears the first run, which is then taken off by itself.
        let setup = task(plan, |job| matches!(job, Job::SetUp { run: 1, .. }));
        setup.what = Job::TakeOff(vec![Off::Run(0)]);
    }
    gluing_on_a_sheet_twice: DaySheets => |_, plan| {
        let day = plan.sheets.days.iter_mut().find(|day| day.tasks.iter().any(|task| matches!(task.what, Job::Glue(_))));
        let tasks = &mut day.expect("a day with gluing").tasks;
        let glue = tasks.iter().position(|task| matches!(task.what, Job::Glue(_))).expect("gluing");
        tasks.insert(glue, tasks[glue].clone());
    }
    work_that_begins_at_another_time_than_planned: DaySheets => |_, plan| {
        task(plan, |job| matches!(job, Job::Assemble(0))).to += chrono::TimeDelta::minutes(1);
    }
    a_day_with_its_work_in_disorder: DaySheets => |_, plan| {
        let day = plan.sheets.days.iter_mut().max_by_key(|day| day.tasks.len()).expect("a day");
        day.tasks.reverse();
    }
    an_order_that_is_forgotten: DaySheets => |_, plan| {
        plan.sheets.days.retain(|day| !day.tasks.iter().any(|task| matches!(task.what, Job::Order(_))));
    }
    a_run_that_is_never_taken_off: TakenOff => |_, plan| {
        task(plan, |job| matches!(job, Job::SetUp { run: 1, .. })).what = Job::SetUp { run: 1, clears: Vec::new() };
    }
    a_run_taken_off_before_it_has_ended: TakenOff => |_, plan| {
        // The first run of tall ends at 09:00; the setup of wide begins at 08:10.
        task(plan, |job| matches!(job, Job::SetUp { run: 1, .. })).what = Job::SetUp { run: 1, clears: Vec::new() };
        task(plan, |job| matches!(job, Job::SetUp { run: 4, .. })).what = Job::SetUp { run: 4, clears: vec![Off::Run(0)] };
    }
    a_run_taken_off_that_there_is_not: TakenOff => |_, plan| {
        task(plan, |job| matches!(job, Job::SetUp { run: 0, .. })).what = Job::SetUp { run: 0, clears: vec![Off::Run(99)] };
    }
    a_level_that_forgets_a_purge: Levels => |_, plan| {
        for (_, grams) in &mut plan.sheets.levels[1].points[2..] {
            *grams += Grams(12.0);
        }
    }
    a_level_that_stops_before_the_last_run: Levels => |_, plan| {
        plan.sheets.levels[0].points.pop();
    }
    a_filament_without_a_level: Levels => |_, plan| {
        plan.sheets.levels.remove(0);
    }
    an_assembly_that_weighs_nothing: Masses => |_, plan| {
        plan.sheets.masses[0].own = Grams::ZERO;
    }
    an_assembly_that_forgets_what_it_needs: Masses => |_, plan| {
        plan.sheets.masses[1].whole = plan.sheets.masses[1].own;
    }
}

#[test]
fn the_work_of_the_good_plan_is_listed_in_its_order() {
    let plan = plan();
    let days: Vec<(String, Vec<(String, Job)>)> = plan
        .sheets
        .days
        .iter()
        .map(|day| {
            let clock = |task: &Task| {
                task.from
                    .with_timezone(&shop().build.zone)
                    .format("%H:%M")
                    .to_string()
            };
            let tasks = day
                .tasks
                .iter()
                .map(|task| (clock(task), task.what.clone()));
            (day.date.to_string(), tasks.collect())
        })
        .collect();
    let set_up = |clock: &str, run, clears: &[usize]| {
        (
            clock.to_owned(),
            Job::SetUp {
                run,
                clears: clears.iter().map(|&at| Off::Run(at)).collect(),
            },
        )
    };
    let job = |clock: &str, job| (clock.to_owned(), job);
    // Runs 0 to 3 are tall's, 4 is wide's, 5 and 6 are the belt's. The order is out by the 7th. The bench is open until 20:00, so
    // what no setup clears comes off when it ends.
    let expected = [
        ("2027-01-07".to_owned(), vec![job("00:00", Job::Order(0))]),
        (
            "2027-01-11".to_owned(),
            vec![
                set_up("08:00", 0, &[]),
                set_up("08:10", 4, &[]),
                set_up("08:20", 5, &[]),
                job("09:00", Job::Approve(0)),
                set_up("09:00", 1, &[0]),
                job("12:00", Job::SpoolEnd(1, 0)),
                job("13:40", Job::TakeOff(vec![Off::Run(5)])),
                job("13:40", Job::Follows(6)),
                job("15:15", Job::TakeOff(vec![Off::Run(4)])),
                job("15:15", Job::Glue(1)),
                set_up("16:05", 2, &[1]),
                job("16:15", Job::Glue(0)),
                set_up("18:25", 3, &[2]),
                job("18:45", Job::TakeOff(vec![Off::Run(6)])),
                job("19:59", Job::TakeOff(vec![Off::Run(3)])),
            ],
        ),
    ];
    let found: Vec<_> = days.iter().take(2).cloned().collect();
    assert_eq!(found, expected);
}

#[test]
fn an_assembly_weighs_its_pieces_and_joints_and_what_it_needs() {
    // Worked out with the runs: a length of a pillar has 150 g, so a pillar 300 and one joint, 160 mm of rod at 0.31 and 4 g
    // of glue: 353.6. The stand takes two and two brackets of 30 g: 767.2. The clock's own: one bracket, one dial of
    // 52.97 g, two rails of 200 g: 482.97.
    let masses = plan().sheets.masses;
    for (found, paper) in [
        (masses[0].own, 767.2),
        (masses[0].whole, 767.2),
        (masses[1].own, 482.97),
        (masses[1].whole, 1250.17),
    ] {
        assert!((found.0 - paper).abs() < 0.01, "{found:?} {paper}");
    }
}

#[test]
fn the_level_falls_by_what_is_printed() {
    let plan = plan();
    let level = &plan.sheets.levels[1];
    // Blue: 1000 g; 12 g of purge at 08:35, 200 g until 13:40, 200 g until 18:45, 12 g at 18:40, 52.97 g until 19:59.
    let last = level.points.last().expect("points");
    assert_eq!(last.0, at("11 19:59"));
    assert!(
        (last.1.0 - (1000.0 - 24.0 - 452.97)).abs() < 0.01,
        "{last:?}"
    );
}

/// Three pins, each a run of its own.
const PINS: &str = r#"
build: {start: 2026-01-05 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["07:00-22:00"]}}
machines: [{id: desk, kind: bed, bed: [100, 100], height: 100, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts: [{id: pin, size: [60, 60, 20], quantity: 3, filament: grey, alone: true}]
assemblies: [{id: board, parts: {pin: 3}, bench: 20 min}]
"#;

#[test]
fn what_prints_when_the_rest_is_planned_comes_off_once_and_is_what_was_noted() {
    let reading = read_text("pins.yaml", PINS, Path::new(""));
    let pins = reading.unwrap_or_else(|all| panic!("{all}")).scenario;
    let options = Options {
        limit: Some(Limit::Moves(100)),
        ..Options::default()
    };
    let first = planning::plan(&pins, &options).expect("there is a plan");
    let now = first.plan.runs[0].start + TimeDelta::minutes(3);
    let then = later(&pins, &first.plan, &Progress::none(&pins), now, |_| true);
    let rest = planning::again(&pins, &then, &options).expect("there is a plan of the rest");
    let broken = |breaking: &dyn Fn(&mut Plan)| -> BTreeSet<Rule> {
        let mut plan = rest.plan.clone();
        breaking(&mut plan);
        let faults = audit_since(&pins, &then, &plan);
        faults.iter().map(|fault| fault.rule).collect()
    };
    let clears = |plan: &mut Plan, after: &[Off]| {
        let is =
            |job: &Job| matches!(job, Job::SetUp { clears, .. } if clears == &[Off::Standing(0)]);
        let setup = &mut task(plan, is).what;
        if let Job::SetUp { clears, .. } = setup {
            *clears = after.to_vec();
        }
    };
    assert_eq!(broken(&|_| {}), BTreeSet::new());
    let taken_off = BTreeSet::from([Rule::TakenOff]);
    assert_eq!(broken(&|plan| clears(plan, &[])), taken_off);
    let twice = [Off::Standing(0), Off::Standing(0)];
    assert_eq!(broken(&|plan| clears(plan, &twice)), taken_off);
    let another = [Off::Standing(0), Off::Standing(1)];
    assert_eq!(broken(&|plan| clears(plan, &another)), taken_off);
    // Before it has ended.
    let early = |plan: &mut Plan| {
        clears(plan, &[]);
        plan.sheets.days[0].tasks.insert(
            0,
            Task {
                from: now,
                to: now,
                what: Job::TakeOff(vec![Off::Standing(0)]),
            },
        );
    };
    assert_eq!(broken(&early), taken_off);
    fn since(plan: &mut Plan) -> &mut Since {
        plan.since.as_mut().expect("it goes on from something")
    }
    let given = BTreeSet::from([Rule::Given]);
    let fewer = |plan: &mut Plan| since(plan).running[0].pieces.clear();
    assert_eq!(broken(&fewer), given);
    let spare = |plan: &mut Plan| since(plan).running[0].pieces[0].assembly = None;
    assert_eq!(broken(&spare), given);
}
