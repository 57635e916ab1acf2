//! Outages that are noted after what came later.

use super::*;

fn until(machine: &str, from: &str, to: &str) -> Bench {
    let mut bench = Bench::planned();
    bench.note(down(machine), from);
    bench.note(up(machine), to);
    bench
}

#[test]
fn no_outage_begins_in_another_or_reaches_into_it() {
    let mut bench = until("wide", "11 09:00", "11 10:00");
    let why = bench.refused(down("wide"), "11 09:30");
    assert_eq!(
        why,
        "wide was down from Mon 11 Jan 2027 09:00 to Mon 11 Jan 2027 10:00, as it is noted; give another moment with `--at`, or undo \
         that it was up"
    );
    // One that was before is noted after it, and ends before it.
    bench.note(down("wide"), "11 08:00");
    let why = bench.refused(up("wide"), "11 09:30");
    assert!(
        why.starts_with(
            "wide went down Mon 11 Jan 2027 08:00, and was down from Mon 11 Jan 2027 09:00 to"
        ),
        "{why}"
    );
    bench.note(up("wide"), "11 08:30");
    // And one that begins as the other ends.
    bench.note(down("wide"), "11 10:00");
}

#[test]
fn a_machine_on_which_a_run_was_started_was_up_by_then() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.note(down("tall"), "11 07:10");
    let why = bench.refused(up("tall"), "11 09:00");
    assert_eq!(
        why,
        "tall-001 was started on tall Mon 11 Jan 2027 08:00, so it was up by then; give a moment with `--at` that is no later than \
         that, or undo the entry that is wrong"
    );
    bench.note(up("tall"), "11 07:50");
    // A jam in the minute of the start.
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.note(scrapped("tall-001", None), "11 08:00");
    bench.note(down("tall"), "11 08:00");
    bench.note(up("tall"), "11 09:00");
}
