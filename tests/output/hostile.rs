//! Names that a careless report would trip over.

use beamyard::report::{Look, check, csv, json, table};
use beamyard::scenario::Scenario;

use crate::demo;
use crate::table::widest;

const NAMES: [&str; 7] = [
    "<script>alert(1)</script>",
    "=1+1",
    "@sum(A1:A9)",
    "起重機臂架起重機臂架起重機臂架起重機臂架",
    "a-name-of-sixty-characters-that-goes-on-and-on-without-a-bla",
    "two\nlines\x1b[31m, \"quotes\" and, commas",
    "👩‍🔧 ünïcödé \u{202e}backwards",
];

/// The demo with one name everywhere that a user may write one.
fn renamed(name: &str) -> Scenario {
    let mut scenario = demo::scenario();
    scenario.build.name = name.into();
    scenario.currency = name.into();
    for machine in &mut scenario.machines {
        machine.id = name.into();
    }
    for filament in &mut scenario.filaments {
        filament.id = name.into();
    }
    for joint in &mut scenario.joints {
        joint.id = name.into();
    }
    for part in &mut scenario.parts {
        part.id = name.into();
    }
    for assembly in &mut scenario.assemblies {
        assembly.id = name.into();
    }
    scenario
}

#[test]
fn no_name_widens_the_table_or_moves_the_cursor() {
    for name in NAMES {
        let scenario = renamed(name);
        let mut plan = demo::plan(&scenario);
        plan.cautions.push(name.into());
        for used in &mut plan.routes {
            used.why = name.into();
        }
        for note in plan.runs.iter_mut().map(|run| &mut run.spool) {
            note.name = note.put_on.map(|_| name.into());
            for end in &mut note.ends {
                end.next_name = Some(name.into());
            }
        }
        for width in [60, 80, 120] {
            let look = Look {
                all: true,
                ..Look::plain(width)
            };
            let texts = [
                table(&scenario, &plan, &look),
                check(
                    &scenario,
                    &demo::routes(&scenario),
                    &crate::check::limits(&scenario),
                    &look,
                ),
            ];
            for text in texts {
                assert!(widest(&text) <= usize::from(width), "{width}:\n{text}");
                assert!(!text.contains(['\x1b', '\u{202e}']), "{text}");
            }
        }
    }
}

#[test]
fn no_name_is_a_formula_in_the_spreadsheet_or_adds_a_row() {
    for name in NAMES {
        let scenario = renamed(name);
        let plan = demo::plan(&scenario);
        let text = csv(&scenario, &plan);
        let mut reader = ::csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<_> = reader
            .records()
            .collect::<Result<_, _>>()
            .expect("what is written as CSV reads as CSV");
        assert_eq!(rows.len(), plan.runs.len());
        for row in &rows {
            for cell in row {
                assert!(
                    !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                    "{cell}"
                );
            }
        }
        // The name is still there to read, behind the guard.
        assert!(rows[0][1].ends_with(name), "{:?}", &rows[0][1]);
    }
}

#[test]
fn every_name_comes_back_from_json() {
    for name in NAMES {
        let scenario = renamed(name);
        let text = json(&scenario, &demo::plan(&scenario));
        let plan: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!(plan["build"], name);
        assert_eq!(plan["runs"][0]["pieces"][0]["part"], name);
    }
}
