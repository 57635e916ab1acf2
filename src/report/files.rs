//! Every file of a plan's folder.
//!
//! Knows: which report goes into which file. Must not know: how a report is written, where the folder is.
//! Promises: names are relative, with `/` between a folder and a file, and differ even where capitals do not count.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::plan::Plan;
use crate::scenario::Scenario;

use super::{Issue, Look, calendar, csv, hardware_csv, html, json, orders_csv, table};

/// Columns of the text.
const WIDTH: u16 = 100;

/// The calendar's name, by which a later plan finds what it changes.
pub(super) const CALENDAR: &str = "queue.ics";

/// All files of a plan, by name.
pub fn files(scenario: &Scenario, plan: &Plan, issue: &Issue) -> Vec<(String, String)> {
    let everything = Look {
        all: true,
        ..Look::plain(WIDTH)
    };
    let mut files = vec![
        ("plan.json".to_owned(), json(scenario, plan)),
        ("queue.csv".to_owned(), csv(scenario, plan)),
        (CALENDAR.to_owned(), calendar(scenario, plan, issue)),
        ("orders.csv".to_owned(), orders_csv(scenario, plan)),
        ("hardware.csv".to_owned(), hardware_csv(scenario, plan)),
        ("plan.txt".to_owned(), table(scenario, plan, &everything)),
        ("report.html".to_owned(), html::report(scenario, plan)),
        (
            "day-sheets.html".to_owned(),
            html::day_sheets(scenario, plan),
        ),
    ];
    // What prints now comes off like the rest, and its pieces are told apart by its map.
    let runs = plan.runs.iter().map(html::Plate::from);
    let standing = plan.standing().iter().map(html::Plate::from);
    let plates: Vec<html::Plate> = runs.chain(standing).collect();
    let drawings: Vec<String> = plates
        .par_iter()
        .map(|plate| html::plate_sheet(scenario, plan, plate))
        .collect();
    let mut names = BTreeSet::new();
    for (at, (run, drawing)) in plates.iter().zip(drawings).enumerate() {
        // Two machines may be called `Tall` and `tall`; not every disk tells them apart.
        let name = if names.insert(run.id.to_lowercase()) {
            format!("plates/{}.svg", run.id)
        } else {
            format!("plates/{}-run-{}.svg", run.id, at + 1)
        };
        files.push((name, drawing));
    }
    files
}
