//! The plan as text at the widths of an old and a new terminal.

use beamyard::plan::{Change, Plan, Run, Since, SpoolNote};
use beamyard::report::{Look, table};
use beamyard::scenario::{MachineIndex, Scenario};
use beamyard::units::{Grams, Minutes, Money};
use chrono::{DateTime, Utc};
use unicode_width::UnicodeWidthStr;

use crate::demo;

/// The widest line, in columns of a terminal.
pub fn widest(text: &str) -> usize {
    text.lines().map(UnicodeWidthStr::width).max().unwrap_or(0)
}

#[test]
fn the_plan_at_80_columns() {
    let scenario = demo::scenario();
    let text = table(&scenario, &demo::plan(&scenario), &Look::plain(80));
    insta::assert_snapshot!(text);
}

#[test]
fn the_plan_at_120_columns() {
    let scenario = demo::scenario();
    let text = table(&scenario, &demo::plan(&scenario), &Look::plain(120));
    insta::assert_snapshot!(text);
}

#[test]
fn no_line_is_wider_than_asked() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    for width in [60, 72, 80, 99, 100, 120, 200] {
        for all in [false, true] {
            let look = Look {
                all,
                ..Look::plain(width)
            };
            let text = table(&scenario, &plan, &look);
            assert!(widest(&text) <= usize::from(width), "{width}:\n{text}");
        }
    }
}

#[test]
fn seven_days_are_shown_and_all_of_them_only_when_asked() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    // The first setup is on 11 January, so the seven days end with the 17th; belt-004 follows on the 18th and tall-003 is
    // set up on the 19th.
    let week = table(&scenario, &plan, &Look::plain(120));
    assert!(week.contains("belt-003") && !week.contains("belt-004") && !week.contains("tall-003"));
    assert!(week.contains("2 more runs"));
    let all = table(
        &scenario,
        &plan,
        &Look {
            all: true,
            ..Look::plain(120)
        },
    );
    assert!(all.contains("belt-004") && all.contains("tall-003"));
    assert!(!all.contains("more runs"));
}

#[test]
fn a_run_whose_spool_ends_with_nobody_there_is_named() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let text = table(&scenario, &plan, &Look::plain(80));
    let section = text.split("Marked").nth(1).expect("there is a marked run");
    assert!(section.contains("tall-002"));
    for run in &mut plan.runs {
        run.spool = SpoolNote::default();
    }
    assert!(!table(&scenario, &plan, &Look::plain(80)).contains("Marked"));
}

#[test]
fn a_larger_spool_is_advised_only_where_none_that_is_sold_or_there_would_do() {
    let mut scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let at = plan.runs.iter().position(Run::stops);
    let run = &plan.runs[at.expect("a run that stops")];
    let own = run.grams.0 * (1.0 + scenario.build.spool_margin);
    let id = run.id.clone();
    let filament = &mut scenario.filaments[run.filament.0];
    filament.spools.clear();
    let mut advice = |spool: f64| {
        scenario.filaments[run.filament.0].spool = Grams(spool);
        told(&scenario, &plan)
    };
    let too_small = advice(own * 0.9);
    assert!(too_small.contains("Or buy larger spools, with at least: "));
    assert!(!too_small.contains("full spool on"), "{too_small}");
    let enough = advice(own * 50.0);
    assert!(!enough.contains("larger spools"));
    assert!(
        enough.contains(&format!("Or put a full spool on at the setup: {id} (")),
        "{enough}"
    );
}

#[test]
fn a_piece_that_no_spool_lasts_for_is_to_be_split_and_no_spool_that_nobody_sells_is_advised() {
    // One piece of 12 kg, with spools of 1 kg on the shelf.
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let at = plan.runs.iter().position(Run::stops).expect("a run stops");
    plan.runs[at].grams = Grams(12_000.0);
    plan.runs[at].pieces.truncate(1);
    let text = told(&scenario, &plan);
    let (id, part) = (
        &plan.runs[at].id,
        &scenario.parts[plan.runs[at].pieces[0].part.0],
    );
    let way = if part.split.is_some() {
        "split into more lengths"
    } else {
        "split"
    };
    let advice = format!(
        "No spool of those you have or buy lasts for a piece of {} ({id}): let it be {way}.",
        part.id
    );
    assert!(text.contains(&advice), "{text}");
    assert!(
        !text.contains("spools, with at least") && !text.contains("full spool on"),
        "{text}"
    );
}

/// The plan at 80 columns with its line breaks taken out.
fn told(scenario: &Scenario, plan: &Plan) -> String {
    let text = table(scenario, plan, &Look::plain(80));
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_headline_says_how_many_runs_stop_beyond_its_dates() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let stops = "Spools 1 run stops when its spool ends; dates do not include it";
    assert!(told(&scenario, &plan).contains(stops));
    for run in &mut plan.runs {
        run.spool = SpoolNote::default();
    }
    assert!(!told(&scenario, &plan).contains("Spools"));
}

#[test]
fn a_run_without_a_setup_names_the_setup_before_it_and_all_its_ends() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let third = plan.runs.iter_mut().find(|run| run.id == "belt-003");
    let mut spool = demo::ending("2027-01-18 02:00", false, 500.0);
    spool
        .ends
        .extend(demo::ending("2027-01-18 12:00", false, 1000.0).ends);
    third.expect("the demo has it").spool = spool;
    let text = told(&scenario, &plan);
    let row =
        "ends Mon 18 Jan 02:00 and Mon 18 Jan 12:00 with nobody there; no setup since belt-001";
    assert!(text.contains(row), "{text}");
    // In the queue: what follows each.
    assert!(
        text.contains("! out Mon 02:00, then an ordered one of 500 g, ! out Mon 12:00, then a new one of 1000 g"),
        "{text}"
    );
}

#[test]
fn a_spool_put_on_at_a_setup_is_named_even_where_it_ends_during_the_run() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    plan.runs[1].spool.put_on = Some(Grams(570.0));
    plan.runs[1].spool.name = Some("yellow-2".into());
    plan.runs[1].spool.from = Some(demo::BELT);
    let text = told(&scenario, &plan);
    let row = "yellow, spool yellow-2 (570 g) from belt, ! out Tue 04:15, then yellow-1 (1000 g)";
    assert!(text.contains(row), "{text}");
}

#[test]
fn a_long_name_of_a_spool_is_told_whole_and_keeps_within_the_screen() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let name = "the-red-one-from-the-second-drawer-that-anna-opened-in-april";
    assert_eq!(name.len(), 60);
    for run in &mut plan.runs {
        run.spool = demo::put_on_named(name, 570.0);
        run.spool.from = Some(demo::BELT);
        run.spool.ends = demo::ending("2027-01-18 02:00", true, 1000.0).ends;
        run.spool.ends[0].next_name = Some(name.into());
    }
    assert!(widest(&table(&scenario, &plan, &Look::plain(60))) <= 60);
    for width in [80, 120] {
        let text = table(&scenario, &plan, &Look::plain(width));
        assert!(widest(&text) <= usize::from(width), "{text}");
        // The column is narrower than the name: it goes on in the next line.
        let whole: String = text.split_whitespace().collect();
        assert!(
            whole.contains(&format!("spool{name}(570g)frombelt")),
            "{text}"
        );
        assert!(whole.contains(&format!("{name}(1000g)")), "{text}");
    }
}

#[test]
fn trial_copies_are_marked_and_told_when_to_approve_them() {
    let scenario = demo::scenario();
    let text = told(&scenario, &demo::plan(&scenario));
    assert!(text.contains("3× cap (trial)"), "{text}");
    let row = "3× cap from Mon 11 Jan 17:30, printed on tall-001; the rest is set up after that";
    assert!(text.contains(row), "{text}");
}

#[test]
fn a_run_that_prints_with_nobody_there_is_marked_and_counted_whichever_day_it_ends() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    // Of nine runs only tall-003 lies in bench hours; tall-001 ends on its own day.
    assert!(told(&scenario, &plan).contains("8 unattended"));
    assert!(told(&scenario, &plan).contains("tall-001 07:00 07:10 16:32 alone"));
    plan.runs.retain(|run| run.id == "tall-003");
    assert!(!told(&scenario, &plan).contains("unattended"));
}

#[test]
fn a_machine_without_runs_is_named() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    assert!(!told(&scenario, &plan).contains("not used"));
    plan.runs.retain(|run| run.machine == demo::TALL);
    assert!(told(&scenario, &plan).contains("not used: wide, belt"));
}

#[test]
fn an_early_stage_says_by_how_much_and_its_float_besides() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let due = scenario.assemblies[demo::TOWER.0].due.expect("a stage");
    plan.assemblies[demo::TOWER.0].complete = due - chrono::Duration::days(3);
    plan.assemblies[demo::TOWER.0].float = Minutes::ZERO;
    assert!(told(&scenario, &plan).contains("early by 3 days, no float"));
}

#[test]
fn a_spool_more_than_is_missing_is_explained() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    // Black: 900 - 800 = 100 g are missing, one spool of 1000 g.
    let explained = |plan: &Plan| {
        told(&scenario, plan).contains("1 spool more than the 100 g that are missing")
    };
    assert!(!explained(&plan));
    plan.orders[demo::BLACK.0].spools = 2;
    assert!(explained(&plan));
    // Of 900 g that are needed 900 are there.
    plan.orders[demo::BLACK.0].on_hand = Grams(900.0);
    let text = told(&scenario, &plan);
    assert!(
        text.contains("2 spools although no grams are missing"),
        "{text}"
    );
}

#[test]
fn parts_that_a_bed_takes_square_are_no_long_parts_wherever_they_are_made() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    // The caps and feet are 4 + 7 copies; with the six lacings, said to fit square too, 17.
    let lacing = plan
        .routes
        .iter_mut()
        .find(|used| used.part == demo::LACING);
    lacing.expect("it is made").long = false;
    let text = told(&scenario, &plan);
    let line = "3 other parts (17 copies) in one piece that a bed takes; of them 6 at an angle all the same.";
    assert!(text.contains(line), "{text}");
    assert!(!text.contains("fits only at an angle"), "{text}");
}

#[test]
fn colour_changes_no_word() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let plain = table(&scenario, &plan, &Look::plain(80));
    let coloured = table(
        &scenario,
        &plan,
        &Look {
            colour: true,
            ..Look::plain(80)
        },
    );
    assert!(!plain.contains('\x1b'));
    assert!(coloured.contains('\x1b'));
    let words = |text: &str| -> Vec<String> {
        without_colour(text)
            .split_whitespace()
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(words(&plain), words(&coloured));
}

/// A text without its escape sequences `ESC [ … m`.
fn without_colour(text: &str) -> String {
    let mut parts = text.split('\x1b');
    let mut plain = parts.next().unwrap_or("").to_owned();
    for part in parts {
        plain.push_str(part.split_once('m').map_or("", |(_, rest)| rest));
    }
    plain
}

#[test]
fn what_changes_since_the_accepted_plan_has_a_row_with_its_name_unbroken() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let (from, to) = (demo::at("2027-01-12 17:40"), demo::at("2027-01-13 07:20"));
    type Place = Option<(MachineIndex, DateTime<Utc>)>;
    let change = |run: &str, from: Place, to: Place| Change {
        run: run.into(),
        was: from.map(|_| "tall-001".to_owned()),
        from,
        to,
        why: "its pieces were lost or are new".into(),
        money: Money(0.55),
    };
    plan.since = Some(Since {
        now: demo::at("2027-01-11 20:00"),
        pieces: Vec::new(),
        running: Vec::new(),
        ended: Vec::new(),
        down: Vec::new(),
        complete: Vec::new(),
        churn: Money(1.0),
        kept: Some(Money(900.0)),
        yielded: Vec::new(),
        changes: vec![
            change("tall-002", Some((demo::TALL, from)), Some((demo::TALL, to))),
            change("wide-012", Some((demo::TALL, from)), Some((demo::WIDE, to))),
            change("belt-003", None, Some((demo::BELT, to))),
        ],
    });
    let text = table(&scenario, &plan, &Look::plain(80));
    // What keeping the accepted order would cost stands beside what the plan costs, unless that is the same.
    let title = |text: &str| {
        let mut lines = text.lines().filter(|line| line.contains("Changes"));
        lines.next().expect("there are changes").to_owned()
    };
    assert!(
        title(&text).contains("so, 900.00 as it was"),
        "{}",
        title(&text)
    );
    let mut same = plan.clone();
    if let Some(since) = &mut same.since {
        since.kept = Some(same.cost.total());
    }
    let same = title(&table(&scenario, &same, &Look::plain(80)));
    assert!(same.contains("nothing better was found"), "{same}");
    let section = text.split("── Changes").nth(1).expect("there are changes");
    let rows: Vec<Vec<&str>> = section
        .lines()
        .map(|line| {
            line.split("  ")
                .filter(|cell| !cell.is_empty())
                .map(str::trim)
                .collect()
        })
        .collect();
    for row in [
        [
            "tall-002",
            "tall-001",
            "Tue 12 Jan 17:40",
            "Wed 13 Jan 07:20",
            "0.55",
        ],
        ["belt-003", "—", "—", "Wed 13 Jan 07:20", "0.55"],
        [
            "wide-012",
            "tall-001",
            "Tue 12 Jan 17:40",
            "Wed 13 Jan 07:20",
            "0.55",
        ],
    ] {
        assert!(
            rows.iter().any(|cells| cells.starts_with(&row)),
            "{row:?}\n{section}"
        );
    }
    assert!(widest(&text) <= 80);
}
