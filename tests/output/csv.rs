//! The queue for a spreadsheet.

use beamyard::report::csv;

use crate::demo;

#[test]
fn the_queue_has_one_row_a_run() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let text = csv(&scenario, &plan);
    // A heading and a row for each run, each line ended by CRLF.
    assert_eq!(text.matches("\r\n").count(), plan.runs.len() + 1);
    insta::assert_snapshot!(text.replace("\r\n", "\n"));
}
