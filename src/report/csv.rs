//! The dated queue for a spreadsheet: one row a run.
//!
//! Knows: CSV, and what a spreadsheet takes for a formula. Must not know: how the plan was found.
//! Promises: a heading and one row for each run, by machine and then by time; dates as in `plan.json`; no text that a
//! user wrote is read as a formula.

use std::sync::Arc;

use crate::plan::{Plan, Run};
use crate::scenario::Scenario;
use crate::units::Grams;

use super::grid::TIE;
use super::local::Local;
use super::words;

const HEADING: [&str; 20] = [
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
    "spool_next",
    "spool_left",
    "filament_comes",
    "spool_name",
    "spool_next_name",
];

/// Stands for the name of a spool that is to be ordered; no name has brackets.
const TO_ORDER: &str = "(new)";

/// The queue as CSV with CRLF line ends.
///
/// `change` says whether the setup changes the filament; `change_from` is empty then where the machine was empty.
/// `spool` says what happens at worst: `lasts`, `new` (another goes on at the setup), `change` (one ends with somebody
/// there, or is changed before its end), `runs out alone` (with nobody there). `spool_grams` is on the spool that goes on at the setup, empty if none
/// does; `spool_out` are the moments at which one ends, `spool_next` the grams on those that follow,
/// `spool_left` those left on the ones that come off, blanks between. `filament_comes`, where the run waits for it, is when that is. `spool_name` and
/// `spool_next_name` are the names of what `spool_grams` and `spool_next` weigh, [`TO_ORDER`] for what is to be ordered.
pub fn csv(scenario: &Scenario, plan: &Plan) -> String {
    let local = Local(scenario.build.zone);
    let rows = plan.runs.iter().map(|run| row(scenario, plan, local, run));
    written(std::iter::once(HEADING.map(str::to_owned)).chain(rows))
}

/// Rows as CSV with CRLF line ends; each has as many cells as the first.
pub(super) fn written(rows: impl Iterator<Item = impl AsRef<[String]>>) -> String {
    let mut writer = ::csv::WriterBuilder::new()
        .terminator(::csv::Terminator::CRLF)
        .from_writer(Vec::new());
    for record in rows {
        writer
            .write_record(record.as_ref())
            .expect("memory takes every byte, and all rows have as many cells as the heading");
    }
    let bytes = writer
        .into_inner()
        .expect("memory takes every byte of the flush");
    String::from_utf8(bytes)
        .expect("only text was written, and CSV adds commas, quotes and line ends")
}

fn row(scenario: &Scenario, plan: &Plan, local: Local, run: &Run) -> [String; HEADING.len()] {
    let spool = match &run.spool {
        note if note.alone().next().is_some() => "runs out alone",
        note if !note.ends.is_empty() => "change",
        note if note.put_on.is_some() => "new",
        _ => "lasts",
    };
    let grams = |grams: Grams| format!("{:.0}", grams.0);
    let ends = &run.spool.ends;
    let out: Vec<String> = ends.iter().map(|end| local.rfc3339(end.at)).collect();
    let next: Vec<String> = ends.iter().map(|end| grams(end.next)).collect();
    let left: Vec<String> = ends.iter().map(|end| grams(end.left)).collect();
    let named = |name: &Option<Arc<str>>| name.as_deref().unwrap_or(TO_ORDER).to_owned();
    let put_on = run.spool.put_on.map(|_| named(&run.spool.name));
    let next_names: Vec<String> = ends.iter().map(|end| named(&end.next_name)).collect();
    let from = words::changed_from(scenario, run);
    let contents = words::contents(scenario, plan, &run.pieces);
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
        run.spool.put_on.map_or_else(String::new, grams),
        out.join(" "),
        next.join(" "),
        left.join(" "),
        run.waits
            .map_or_else(String::new, |comes| local.rfc3339(comes)),
        guarded(&put_on.unwrap_or_default()),
        guarded(&next_names.join(" ")),
    ]
}

/// A text cell that no spreadsheet takes for a formula: an apostrophe goes before a first character that would make
/// it one, and a spreadsheet shows the rest as text.
///
/// Source of the list: OWASP, "CSV Injection" (`=`, `+`, `-`, `@`, tab, carriage return, and their full-width forms).
pub(super) fn guarded(text: &str) -> String {
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
