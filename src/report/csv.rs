//! The dated queue for a spreadsheet: one row a run.
//!
//! Knows: CSV, and what a spreadsheet takes for a formula. Must not know: how the plan was found.
//! Promises: a heading and one row for each run, by machine and then by time; dates as in `plan.json`; no text that a
//! user wrote is read as a formula.

use crate::plan::{Plan, Run, SpoolNote};
use crate::scenario::Scenario;

use super::grid::TIE;
use super::local::Local;
use super::words;

const HEADING: [&str; 15] = [
    "run",
    "machine",
    "filament",
    "change",
    "change_from",
    "setup",
    "start",
    "end",
    "minutes",
    "grams",
    "pieces",
    "contents",
    "spool",
    "spool_grams",
    "spool_out",
];

/// The queue as CSV with CRLF line ends.
///
/// `change` says whether the setup changes the filament; `change_from` is empty then where the machine was empty.
/// `spool` says how the filament is provided: `lasts`, `new` (a spool of `spool_grams` goes on at the setup), `change`
/// (it runs out at `spool_out` with somebody there), `runs out alone` (with nobody there).
pub fn csv(scenario: &Scenario, plan: &Plan) -> String {
    let mut writer = ::csv::WriterBuilder::new()
        .terminator(::csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let local = Local(scenario.build.zone);
    let rows = plan.runs.iter().map(|run| row(scenario, local, run));
    for record in std::iter::once(HEADING.map(str::to_owned)).chain(rows) {
        writer
            .write_record(&record)
            .expect("memory takes every byte, and all rows have as many cells as the heading");
    }
    let bytes = writer
        .into_inner()
        .expect("memory takes every byte of the flush");
    String::from_utf8(bytes)
        .expect("only text was written, and CSV adds commas, quotes and line ends")
}

fn row(scenario: &Scenario, local: Local, run: &Run) -> [String; HEADING.len()] {
    let (spool, spool_grams, spool_out) = match run.spool {
        SpoolNote::Lasts => ("lasts", String::new(), String::new()),
        SpoolNote::NewAtSetup(grams) => ("new", format!("{:.0}", grams.0), String::new()),
        SpoolNote::ChangeAt(moment) => ("change", String::new(), local.rfc3339(moment)),
        SpoolNote::RunsOutAlone(moment) => ("runs out alone", String::new(), local.rfc3339(moment)),
    };
    let from = words::changed_from(scenario, run);
    let contents = words::contents(scenario, &run.pieces);
    [
        guarded(&run.id),
        guarded(&scenario.machines[run.machine.0].id),
        guarded(&scenario.filaments[run.filament.0].id),
        if from.is_some() { "yes" } else { "no" }.to_owned(),
        guarded(from.unwrap_or("")),
        run.setup
            .map_or_else(String::new, |moment| local.rfc3339(moment)),
        local.rfc3339(run.start),
        local.rfc3339(run.end),
        run.minutes.value().to_string(),
        format!("{:.1}", run.grams.0),
        run.pieces.len().to_string(),
        guarded(&contents.join(", ").replace(TIE, " ")),
        spool.to_owned(),
        spool_grams,
        spool_out,
    ]
}

/// A text cell that no spreadsheet takes for a formula: an apostrophe goes before a first character that would make
/// it one, and a spreadsheet shows the rest as text.
///
/// Source of the list: OWASP, "CSV Injection" (`=`, `+`, `-`, `@`, tab, carriage return, and their full-width forms).
fn guarded(text: &str) -> String {
    const FORMULA: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
    if text.starts_with(FORMULA) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_that_begins_like_a_formula_is_guarded_and_other_text_is_not() {
        for formula in ["=1+1", "+1", "-1", "@sum", "\t=1", "\r=1", "＝1"] {
            assert_eq!(guarded(formula), format!("'{formula}"));
        }
        for plain in ["jib-chord", "a=1", "", "8× cap"] {
            assert_eq!(guarded(plain), plain);
        }
    }
}
