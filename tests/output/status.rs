//! How a busy shop stands, as text; that it keeps to a screen.

use std::collections::BTreeMap;
use std::path::Path;

use beamyard::report::{Look, status};
use beamyard::shoplog::{
    AssemblyTally, GluingTally, Idle, Low, MachineTally, Next, OrderTally, PartTally, Printing,
    SpoolTally, Stage, Stand, Status, Tally, Task, TrialTally,
};
use chrono::{DateTime, Utc};

use crate::demo;
use crate::table::widest;

/// `12 08:00` is that day of January 2027 by the clock of the demo's zone.
fn at(moment: &str) -> DateTime<Utc> {
    let written = format!("2027-01-{}:00+01:00", moment.replace(' ', "T"));
    written.parse().expect("RFC 3339")
}

fn printing(machine: &str, run: &str, until: &str) -> Printing {
    Printing {
        machine: machine.to_owned(),
        run: run.to_owned(),
        pieces: vec![("boom-chord".to_owned(), 2), ("foot".to_owned(), 1)],
        started: at("12 07:40"),
        until: at(until),
        spool_ends: None,
        stops: false,
        change: None,
        next_spool: None,
    }
}

fn idle(machine: &str) -> Idle {
    Idle {
        machine: machine.to_owned(),
        down: None,
        down_until: None,
        offline: None,
    }
}

fn stage(assembly: &str, due: &str, planned: &str, expected: &str, complete: bool) -> Stage {
    Stage {
        assembly: assembly.to_owned(),
        due: at(due),
        planned: at(planned),
        expected: at(expected),
        complete,
    }
}

fn low(filament: &str, here: f64, coming: f64) -> Low {
    Low {
        filament: filament.to_owned(),
        needed: 1800.0,
        here,
        coming,
    }
}

/// All that there is.
fn tally() -> Tally {
    let machine = |id: &str, loaded: Option<&str>, spool: Option<&str>| MachineTally {
        machine: id.to_owned(),
        loaded: loaded.map(str::to_owned),
        spool: spool.map(str::to_owned),
        runs: 12,
        failed: 1.5,
        share: Some(0.066),
    };
    let spool = |id: &str, grams: f64, on: Option<&str>, arrives: Option<&str>| SpoolTally {
        spool: id.to_owned(),
        filament: id.split('-').next().expect("a first part").to_owned(),
        grams,
        machine: on.map(str::to_owned),
        arrives: arrives.map(at),
    };
    let part = |id: &str, needed, printed, pieces, joined, lost| PartTally {
        part: id.to_owned(),
        needed,
        printed,
        pieces,
        joined,
        lost,
        trial: None,
    };
    let trial = |approved: Option<&str>, variant: Option<&str>, rejected| {
        Some(TrialTally {
            approved: approved.map(at),
            variants: Vec::new(),
            variant: variant.map(str::to_owned),
            rejected,
        })
    };
    let assembly = |id: &str, stand, started: Option<&str>, complete: Option<&str>| AssemblyTally {
        assembly: id.to_owned(),
        stand,
        started: started.map(at),
        complete: complete.map(at),
        expected: Some(at("16 12:00")),
        due: None,
    };
    Tally {
        machines: vec![
            machine("belt", None, None),
            machine("tall", Some("black"), Some("black-2")),
            machine("wide", Some("yellow"), None),
        ],
        spools: vec![
            spool("black-1", 0.0, None, None),
            spool("black-2", 412.6, Some("tall"), None),
            spool("grey-1", 1000.0, None, Some("14 10:00")),
            spool("yellow-2", 120.0, None, None),
            spool("yellow-10", 1000.0, None, None),
        ],
        parts: vec![
            part("boom-chord", 8, 3, 7, 2, 1),
            part("foot", 4, 0, 0, 0, 0),
            PartTally {
                trial: trial(Some("12 07:30"), Some("tight"), 1),
                ..part("cap", 12, 2, 2, 0, 1)
            },
            PartTally {
                trial: trial(None, None, 0),
                ..part("lacing", 6, 1, 1, 0, 0)
            },
        ],
        assemblies: vec![
            assembly("jib", Stand::Complete, Some("11 18:00"), Some("11 19:30")),
            assembly("tower", Stand::AtWork, Some("12 07:10"), None),
            AssemblyTally {
                due: Some(at("20 18:00")),
                ..assembly("crane", Stand::Open, None, None)
            },
        ],
        orders: vec![OrderTally {
            filament: "grey".to_owned(),
            spools: 2,
            order_by: Some("2027-01-13".parse().expect("a date")),
        }],
        gluings: vec![GluingTally {
            part: "boom-chord".to_owned(),
            number: 3,
            planned: Some(at("13 17:40")),
        }],
    }
}

/// Every kind of thing that a status can say.
fn busy() -> Status {
    let next = |moment: &str, what| Next {
        at: at(moment),
        what,
    };
    let set_up = |run: &str, change, waits: Option<&str>, trial: Option<&str>| Task::SetUp {
        run: run.to_owned(),
        machine: run.split('-').next().expect("a first part").to_owned(),
        filament: "grey".to_owned(),
        change,
        spool: change.then(|| "grey-2".to_owned()),
        waits: waits.map(at),
        trial: trial.map(str::to_owned),
    };
    let part = |part: &str| part.to_owned();
    Status {
        now: at("12 08:00"),
        planned: true,
        printing: vec![
            Printing {
                spool_ends: Some(at("12 23:10")),
                stops: true,
                change: Some(at("12 22:25")),
                next_spool: Some("yellow-3".to_owned()),
                ..printing("tall", "tall-004", "13 03:20")
            },
            printing("wide", "wide-002", "12 07:50"),
        ],
        idle: vec![
            Idle {
                down: Some((at("11 21:00"), "fan".to_owned())),
                down_until: Some(at("13 12:00")),
                ..idle("belt")
            },
            Idle {
                offline: Some((at("12 12:00"), "moved".to_owned())),
                ..idle("desk")
            },
            idle("spare"),
        ],
        next: vec![
            next(
                "12 08:00",
                Task::Approve {
                    part: part("lacing"),
                    variants: Vec::new(),
                },
            ),
            next(
                "12 08:00",
                Task::Join {
                    part: part("boom-chord"),
                    number: 3,
                },
            ),
            next(
                "12 08:00",
                Task::Complete {
                    assembly: part("tower"),
                },
            ),
            next("12 17:30", set_up("wide-003", true, None, Some("lacing"))),
            next(
                "14 17:30",
                set_up("tall-005", false, Some("14 10:00"), None),
            ),
        ],
        stages: vec![
            stage("jib", "13 18:00", "12 10:00", "11 19:30", true),
            stage("tower", "14 18:00", "13 10:00", "15 09:00", false),
            stage("crane", "20 18:00", "16 12:00", "16 12:00", false),
        ],
        low: vec![low("black", 412.6, 0.0), low("grey", 900.0, 1000.0)],
        printed: 14,
        lost: 3,
        to_print: 22,
        in_no_run: BTreeMap::from([("cap".to_owned(), 1)]),
        tally: tally(),
    }
}

fn told(shown: &Status, differences: &[String], look: &Look) -> String {
    status(&demo::scenario(), shown, differences, look)
}

fn all(width: u16) -> Look {
    Look {
        all: true,
        ..Look::plain(width)
    }
}

#[test]
fn a_busy_shop_at_80_columns() {
    let differences = ["part foot: 4 copies, 2 in the plan".to_owned()];
    insta::assert_snapshot!(told(&busy(), &differences, &Look::plain(80)));
}

#[test]
fn all_that_there_is_at_80_columns() {
    let text = told(&busy(), &[], &all(80));
    let (_, text) = text
        .split_once("\n── In the machines")
        .expect("it follows what is to be done");
    insta::assert_snapshot!(text.split_once('\n').expect("a line").1);
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for width in [60, 80, 200] {
        let text = told(&busy(), &[], &all(width));
        assert!(widest(&text) <= usize::from(width), "{width}:\n{text}");
    }
}

#[test]
fn of_many_machines_stages_and_filaments_those_that_need_somebody_are_shown_and_the_rest_is_counted()
 {
    // 40 machines, the last of which is down; 12 stages, the last two of them late; 9 filaments, the last short.
    let mut many = busy();
    let name = |kind: &str, n: usize| format!("{kind}-{n:02}");
    many.printing = (0..30)
        .map(|n| printing(&name("machine", n), &name("run", n), "12 20:00"))
        .collect();
    many.idle = (30..40).map(|n| idle(&name("machine", n))).collect();
    many.idle[9].down = Some((at("12 07:00"), String::new()));
    many.stages = (0..12)
        .map(|n| {
            let expected = if n < 10 { "16 12:00" } else { "21 12:00" };
            stage(&name("stage", n), "20 18:00", "16 12:00", expected, n < 2)
        })
        .collect();
    many.low = (0..9)
        .map(|n| {
            low(
                &name("filament", n),
                if n < 8 { 1700.0 } else { 0.0 },
                500.0,
            )
        })
        .collect();
    let text = told(&many, &[], &Look::plain(80));
    let lines: Vec<&str> = text.lines().collect();
    // Six, five and four: 34, 7 and 5 are left.
    for more in [34, 7, 5] {
        let line = format!("… and {more} more; --all shows them.");
        assert_eq!(
            lines.iter().filter(|&&one| one == line).count(),
            1,
            "{text}"
        );
    }
    let shown = |name: &str| lines.iter().any(|line| line.starts_with(name));
    for (there, hidden) in [
        (&["machine-00", "machine-39"][..], "machine-05"),
        (&["stage-02", "stage-10", "stage-11"], "stage-00"),
        (&["filament-00", "filament-08"], "filament-03"),
    ] {
        assert!(there.iter().all(|name| shown(name)), "{there:?}\n{text}");
        assert!(!shown(hidden), "{hidden}\n{text}");
    }
    // Who asks for everything gets it.
    let text = told(&many, &[], &all(80));
    for (kind, count) in [("machine", 40), ("stage", 12), ("filament", 9)] {
        let all = (0..count).map(|n| name(kind, n));
        for name in all {
            assert!(text.lines().any(|line| line.starts_with(&name)), "{name}");
        }
    }
}

/// What one run of the program says.
#[test]
fn of_many_changes_and_lost_parts_the_first_are_shown_and_the_rest_is_counted() {
    let mut shown = busy();
    let parts = (1..=40).map(|number| (format!("bracket-{number:02}"), 1));
    shown.in_no_run = parts.collect();
    let differences: Vec<String> = (1..=40)
        .map(|number| format!("part hook-{number:02} is new: 2 to print"))
        .collect();
    let before = told(&busy(), &[], &Look::plain(80)).lines().count();
    let screen = told(&shown, &differences, &Look::plain(80));
    // A blank line and a heading, three changes, how many more, what to do; and up to three lines of what is in no run.
    assert!(screen.lines().count() <= before + 10, "{screen}");
    assert!(
        screen.contains("hook-03") && !screen.contains("hook-04"),
        "{screen}"
    );
    assert!(
        screen.contains("… and 37 more; --all shows them."),
        "{screen}"
    );
    let flat = screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("bracket-08 and 32 more. Plan again"),
        "{flat}"
    );
    let whole = told(&shown, &differences, &all(80));
    assert!(whole.contains("hook-40") && whole.contains("bracket-40"));
}

fn beamyard(arguments: &str, folder: &Path) -> String {
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    let arguments = arguments.split(' ');
    let output = command.args(arguments).current_dir(folder).output();
    let output = output.expect("it ran");
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

#[test]
fn how_the_crane_stands_is_on_one_screen() {
    let above = tempfile::tempdir().expect("a temporary folder");
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    for name in ["scenarios", "demo-data", "demo-data/meshes"] {
        let to = above.path().join(name);
        std::fs::create_dir(&to).expect("a folder");
        for entry in std::fs::read_dir(here.join(name)).expect("a folder") {
            let from = entry.expect("an entry").path();
            if from.is_file() {
                let name = from.file_name().expect("a file has a name");
                std::fs::copy(&from, to.join(name)).expect("a file");
            }
        }
    }
    let folder = above.path().join("scenarios");
    let plan = beamyard(
        "plan quayside-crane --effort 200 --accept --format json",
        &folder,
    );
    let plan: serde_json::Value = serde_json::from_str(&plan).expect("JSON");
    // The first run of each machine is started as planned.
    let runs = plan["runs"].as_array().expect("runs");
    let mut last = "";
    let mut now = "";
    let mut count = 0;
    for run in runs {
        let text = |key: &str| run[key].as_str().expect("text");
        if text("machine") != last {
            last = text("machine");
            let start = text("start");
            let entry = format!("log quayside-crane started {} --now {start}", text("id"));
            beamyard(&entry, &folder);
            let moment = |text: &str| DateTime::parse_from_rfc3339(text).ok();
            if moment(start) > moment(now) {
                now = start;
            }
            count += 1;
        }
    }
    assert!(count >= 4, "{count}");
    let text = beamyard(&format!("status quayside-crane --now {now}"), &folder);
    assert!(widest(&text) <= 80, "{text}");
    // It was 46 lines once.
    let lines = text.lines().count();
    assert!(lines <= 36, "{lines}\n{text}");
    // Every part and every assembly is there for who asks.
    let whole = beamyard(&format!("status quayside-crane --all --now {now}"), &folder);
    let json = beamyard(
        &format!("status quayside-crane --json --now {now}"),
        &folder,
    );
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    for (list, key) in [
        ("parts", "part"),
        ("assemblies", "assembly"),
        ("spools", "spool"),
    ] {
        let rows = json[list].as_array().expect("a list");
        assert!(rows.len() > 4, "{list}");
        for row in rows {
            let name = row[key].as_str().expect("a name");
            assert!(
                whole.lines().any(|line| line.starts_with(name)),
                "{name}\n{whole}"
            );
        }
    }
}
