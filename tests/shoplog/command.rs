//! `beamyard log`: short forms, answers, statuses.

use std::fs;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

use crate::bench::LAMP;

/// A folder with `lamp.yaml` whose plan was accepted.
struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("lamp.yaml"), LAMP).expect("a file");
        Self(folder)
    }

    fn planned() -> Self {
        let bench = Self::new();
        let output = bench.run("plan lamp --effort 200 --accept");
        assert!(output.status.success(), "{}", text(&output.stderr));
        assert!(text(&output.stderr).contains("accepted: noted in lamp.log.sqlite"));
        bench
    }

    fn run(&self, arguments: &str) -> Output {
        let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
        command.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
        command
            .args(arguments.split(' '))
            .current_dir(self.0.path())
            .output()
            .expect("it ran")
    }

    /// What is said of what was noted.
    fn noted(&self, arguments: &str) -> String {
        let output = self.run(&format!("log lamp {arguments}"));
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        text(&output.stdout)
    }

    /// What is said of what is refused, with status 1 and nothing noted.
    fn refused(&self, arguments: &str) -> String {
        let before = self.run("log lamp export").stdout;
        let output = self.run(&format!("log lamp {arguments}"));
        assert_eq!(output.status.code(), Some(1), "{}", text(&output.stdout));
        assert_eq!(text(&output.stdout), "");
        assert_eq!(self.run("log lamp export").stdout, before);
        text(&output.stderr)
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[test]
fn a_machine_stands_for_the_run_on_it() {
    let bench = Bench::planned();
    let said = bench.noted("started desk --at 2026-01-05T07:30:00+01:00");
    assert!(
        said.starts_with("Noted as 2: desk-001 started, Mon 5 Jan 07:30.\nIt should end "),
        "{said}"
    );
    let said = bench.noted("finished desk --at 2026-01-06T07:30:00+01:00");
    assert!(
        said.starts_with(
            "Noted as 3: desk-001 finished, Tue 6 Jan 07:30.\nNext on desk: desk-002, "
        ),
        "{said}"
    );
    let said = bench.noted("started desk --at 2026-01-06T08:00:00+01:00");
    assert!(said.contains("desk-002 started"), "{said}");
    let said = bench.noted("undo");
    assert!(said.contains("entry 4 undone"), "{said}");
    let said = bench.noted("undo");
    assert!(said.contains("entry 3 undone"), "{said}");
    let said = bench.refused("undo 9");
    assert_eq!(
        said,
        "not noted: there is no entry 9; `log SCENARIO show` lists all entries\n"
    );
}

#[test]
fn what_cannot_be_is_refused_with_what_would_be_right() {
    let bench = Bench::planned();
    let said = bench.refused("finished desk");
    assert!(
        said.contains(
            "nothing is printing on desk; the next there is desk-001: note `started desk` first"
        ),
        "{said}"
    );
    let said = bench.refused("started dest");
    assert!(said.contains("there is no run or machine `dest`"), "{said}");
    let said = bench.refused("started desk --at 26:00");
    assert!(
        said.contains("`26:00` is no moment; write `18:40`"),
        "{said}"
    );
    let said = bench.refused("started desk --at 2099-01-01T10:00:00Z");
    assert!(said.contains("has not come yet"), "{said}");
    bench.noted("started desk --at 2026-01-05T07:30:00+01:00");
    let said = bench.refused("finished desk --scrapped bolt");
    assert!(
        said.contains("0 of `bolt` are on desk-001, not 1; on it are"),
        "{said}"
    );
    let said = bench.refused("finished desk --scrapped foot=many");
    assert!(said.contains("`foot=many` names no pieces"), "{said}");
    let said = bench.refused("joined foot");
    assert!(
        said.contains("`foot` names no copy; write `chord:2`"),
        "{said}"
    );
    let said = bench.refused("timed foot soon");
    assert!(said.contains("`soon` is no time"), "{said}");
}

#[test]
fn the_answer_for_programs_is_the_entry_and_goes_into_another_log() {
    let bench = Bench::planned();
    let line = bench.noted("spool bought white --json");
    let entry: serde_json::Value = serde_json::from_str(&line).expect("JSON");
    assert_eq!(entry["event"]["spool-bought"]["spool"], "white-2");
    assert_eq!(entry["event"]["spool-bought"]["grams"], 1000.0);

    let exported = bench.noted("export");
    assert_eq!(exported.lines().count(), 2);
    let other = Bench::new();
    fs::write(other.0.path().join("in.jsonl"), &exported).expect("a file");
    assert_eq!(
        other.noted("import in.jsonl"),
        "2 taken in, 0 were there already.\n"
    );
    assert_eq!(
        other.noted("import in.jsonl --json"),
        "{\"added\":0,\"known\":2}\n"
    );
    assert_eq!(other.noted("export"), exported);
}

#[test]
fn lines_of_another_program_are_taken_in_whole_or_not_at_all() {
    let bench = Bench::planned();
    let good = r#"{"at":"2026-01-05T06:30:00Z","event":{"started":{"run":"desk-001"}}}"#;
    let bad = r#"{"at":"2026-01-05T06:00:00Z","event":{"finished":{"run":"desk-001"}}}"#;
    let put = |text: String| fs::write(bench.0.path().join("in.jsonl"), text).expect("a file");
    put(format!("{good}\n\n{bad}\n"));
    let said = bench.refused("import in.jsonl");
    assert!(
        said.starts_with("in.jsonl: line 3: desk-001 was started"),
        "{said}"
    );
    assert!(said.ends_with("nothing was taken in\n"), "{said}");
    put(format!("{good}\n{{\"at\":\"soon\"}}\n"));
    let said = bench.refused("import in.jsonl");
    assert!(said.starts_with("in.jsonl: line 2: "), "{said}");
    let unknown = good.replace("\"run\":", "\"runs\":");
    put(format!("{unknown}\n"));
    let said = bench.refused("import in.jsonl");
    assert!(
        said.contains(
            "line 1: `event.started.runs`: there is no field `runs`; did you mean `run`?"
        ),
        "{said}"
    );
    put(format!("{good}\n"));
    assert_eq!(
        bench.noted("import in.jsonl"),
        "1 taken in, 0 were there already.\n"
    );
    // Without an id of its own a line has the one that it says, so it is known again.
    assert_eq!(
        bench.noted("import in.jsonl"),
        "0 taken in, 1 were there already.\n"
    );
    let said = bench.refused("import missing.jsonl");
    assert!(said.starts_with("missing.jsonl: cannot be read"), "{said}");
}

#[test]
fn what_was_noted_can_be_read() {
    let bench = Bench::planned();
    bench.noted("note the door was open --at 2026-01-05T07:00:00+01:00");
    bench.noted("down desk --why fan --at 2026-01-05T07:10:00+01:00");
    bench.noted("undo");
    let shown = bench.noted("show --last 3");
    let lines: Vec<&str> = shown.lines().collect();
    assert_eq!(lines.len(), 4, "{shown}");
    assert!(
        lines[1].contains("Mon 5 Jan 07:00") && lines[1].ends_with("note: the door was open"),
        "{shown}"
    );
    assert!(lines[2].ends_with("desk down (fan) (undone)"), "{shown}");
    assert!(lines[3].ends_with("entry 3 undone"), "{shown}");
}

#[test]
fn without_a_log_there_is_nothing_to_show_and_none_is_made() {
    let bench = Bench::new();
    let output = bench.run("log lamp show");
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("lamp.log.sqlite: there is no log yet"));
    assert!(!bench.0.path().join("lamp.log.sqlite").exists());
}

#[test]
fn two_first_notes_at_once_are_noted_once_each() {
    for _ in 0..20 {
        let bench = Bench::new();
        let notes = ["one", "two"].map(|text| {
            Command::new(env!("CARGO_BIN_EXE_beamyard"))
                .args(["log", "lamp", "note", text])
                .current_dir(bench.0.path())
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .expect("it runs")
        });
        for note in notes {
            let output = note.wait_with_output().expect("it ended");
            assert!(output.status.success(), "{}", text(&output.stderr));
        }
        let exported = bench.noted("export");
        assert_eq!(exported.lines().count(), 2, "{exported}");
        assert!(exported.contains("\"one\"") && exported.contains("\"two\""));
    }
}

#[test]
fn a_name_that_may_mean_several_scenarios_is_refused() {
    let bench = Bench::new();
    fs::write(bench.0.path().join("lamp-post.yaml"), LAMP).expect("a file");
    let output = bench.run("log la note hello");
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(
        text(&output.stderr),
        "`la` may mean lamp-post.yaml or lamp.yaml; write which\n"
    );
    // The exact name is taken before a part of one.
    assert!(bench.run("log lamp note hello").status.success());
    assert!(bench.run("log post note hello").status.success());
}

#[test]
fn planning_without_accepting_notes_nothing() {
    let bench = Bench::new();
    assert!(bench.run("plan lamp --effort 200").status.success());
    assert!(!bench.0.path().join("lamp.log.sqlite").exists());
    assert!(
        bench
            .run("plan lamp --effort 200 --accept")
            .status
            .success()
    );
    assert!(bench.run("plan lamp --effort 200").status.success());
    assert_eq!(
        text(&bench.run("log lamp export").stdout).lines().count(),
        1
    );
}

#[test]
fn what_a_refusal_names_does_not_drive_the_terminal() {
    let bench = Bench::planned();
    let said = bench.refused("started \u{1b}[31mdesk\u{7}\u{202e}-9");
    assert!(
        said.contains("there is no run `\u{fffd}[31mdesk\u{fffd}\u{fffd}-9`"),
        "{said}"
    );
    let line = r#"{"at":"2026-01-05T06:30:00Z","event":{"\u001b]0;x\u0007":{}}}"#;
    fs::write(bench.0.path().join("in.jsonl"), line).expect("a file");
    let said = bench.refused("import in.jsonl");
    assert!(said.contains("there is no event"), "{said}");
    assert!(!said.contains(['\u{1b}', '\u{7}']), "{said}");
}

#[test]
fn a_number_in_another_notation_is_told_how_to_be_written() {
    let bench = Bench::planned();
    for (written, right) in [
        ("weighed foot 27,5", "write it with a decimal point, `27.5`"),
        (
            "spool weighed white-1 27.5g",
            "write the number of grams alone, `27.5`",
        ),
        (
            "spool bought white much",
            "write a number of grams, such as `27.5`",
        ),
        (
            "weighed foot 27.5 --pieces two",
            "write a whole number, 1 or more, such as `3`",
        ),
        ("undo last", "write a whole number, 1 or more, such as `3`"),
    ] {
        let output = bench.run(&format!("log lamp {written}"));
        assert_eq!(output.status.code(), Some(2));
        let said = text(&output.stderr);
        assert!(said.contains(right), "{said}");
    }
}

#[test]
fn a_status_of_before_tells_what_it_leaves_out() {
    let bench = Bench::planned();
    bench.noted("started desk --at 2026-01-05T07:30:00+01:00");
    let output = bench.run("status lamp --now 2026-01-05T07:15:00+01:00");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stderr);
    assert!(
        said.contains("how it stood then: 2 of 2 entries are of later and left out"),
        "{said}"
    );
    assert!(text(&output.stdout).contains("No plan has been accepted"));
}

#[test]
fn a_run_that_starts_while_its_machine_is_out_of_use_is_noted_with_a_warning() {
    let bench = Bench::new();
    let offline =
        "materials: [PLA], offline: [{from: 2026-01-05 07:00, to: 2026-01-06 12:00, why: belt}]}";
    let lamp = LAMP.replace("materials: [PLA]}", offline);
    assert_ne!(lamp, LAMP);
    fs::write(bench.0.path().join("lamp.yaml"), lamp).expect("a file");
    let output = bench.run("plan lamp --effort 200 --accept");
    assert!(output.status.success(), "{}", text(&output.stderr));
    let said = bench.noted("started desk --at 2026-01-05T07:30:00+01:00");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("! By the scenario desk is out of use until Tue 6 Jan 12:00 (belt): if it is in use again"),
        "{said}"
    );
}

#[test]
fn an_empty_file_that_is_taken_in_makes_no_log() {
    let bench = Bench::new();
    fs::write(bench.0.path().join("in.jsonl"), "\n").expect("a file");
    assert_eq!(
        bench.noted("import in.jsonl"),
        "0 taken in, 0 were there already.\n"
    );
    assert!(!bench.0.path().join("lamp.log.sqlite").exists());
}

#[test]
fn a_folder_is_not_written_of_a_plan_that_cannot_be_accepted() {
    let bench = Bench::planned();
    // Another program is writing to the log and does not come to an end.
    let other = rusqlite::Connection::open(bench.0.path().join("lamp.log.sqlite"));
    let other = other.expect("the log");
    other
        .execute_batch("BEGIN IMMEDIATE")
        .expect("nobody else writes");
    let output =
        bench.run("plan lamp --effort 200 --out paper --accept --now 2026-01-05T07:00:00Z");
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("another program is writing to the log"));
    assert!(!bench.0.path().join("paper").exists());
}

#[test]
fn weighing_pieces_says_that_it_corrects_the_estimate_and_not_the_spool() {
    let bench = Bench::planned();
    bench.noted("started desk --at 2026-01-05T07:30:00+01:00");
    bench.noted("finished desk --at 2026-01-06T07:30:00+01:00");
    let on = |text: String| text.lines().last().unwrap_or_default().to_owned();
    let entry: serde_json::Value = serde_json::from_str(&on(bench.noted("export"))).expect("JSON");
    assert_eq!(entry["event"]["finished"]["run"], "desk-001");
    let plan = bench.noted("export");
    let plan: serde_json::Value =
        serde_json::from_str(plan.lines().next().unwrap_or_default()).expect("JSON");
    let plan = plan["event"]["plan-accepted"]["plan"]
        .as_str()
        .expect("a plan");
    let plan: serde_json::Value = serde_json::from_str(plan).expect("JSON");
    let part = plan["runs"][0]["pieces"][0]["part"]
        .as_str()
        .expect("a part");
    let grams = plan["runs"][0]["grams"].as_f64().expect("grams");
    let pieces = plan["runs"][0]["pieces"].as_array().expect("pieces").len();
    let said = bench.noted(&format!(
        "weighed {part} {:.1} --pieces {pieces} --at 2026-01-06T07:40:00+01:00",
        grams
    ));
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains(&format!("It corrects the estimate of {part} when you plan again. What is left on the spool stays")),
        "{said}"
    );
}

#[test]
fn what_is_odd_about_what_is_noted_is_said_and_what_to_note_about_it() {
    let bench = Bench::planned();
    bench.noted("spool bought white --arrives 23:59");
    let opened = bench.noted("spool opened white-2 desk");
    assert!(opened.contains("! white-2 was to arrive"), "{opened}");
    // It is here now, and said but once.
    assert!(
        !bench
            .noted("spool opened white-2 desk")
            .contains("was to arrive")
    );
    let started = bench.noted("started desk");
    assert!(started.contains("It prints from white-2"), "{started}");
    bench.noted("spool weighed white-2 2");
    let down = bench.noted("down desk --why fan");
    for said in [
        "prints on it as far as is noted",
        "`scrapped desk`",
        "`finished desk --good",
    ] {
        let flat = down.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(said), "{down}");
    }
    let finished = bench.noted("finished desk --sure");
    let flat = finished.split_whitespace().collect::<Vec<_>>().join(" ");
    // All of it, since nothing had flowed when the spool was weighed.
    let plan: serde_json::Value = {
        let exported = bench.noted("export");
        let first = exported.lines().next().expect("an entry");
        let entry: serde_json::Value = serde_json::from_str(first).expect("JSON");
        let plan = entry["event"]["plan-accepted"]["plan"].as_str();
        serde_json::from_str(plan.expect("a plan")).expect("JSON")
    };
    let took = plan["runs"][0]["grams"].as_f64().expect("grams").round();
    let said =
        format!("! white-2 had 2 g left by the log, and desk-001 took {took} g from then on: note");
    assert!(flat.contains(&said), "{flat}");
    assert!(
        flat.contains("note `spool weighed white-2 GRAMS`"),
        "{flat}"
    );
}

#[test]
fn every_command_takes_the_short_name_of_a_scenario() {
    let bench = Bench::planned();
    for command in [
        "check lamp",
        "forecast lamp",
        "status lamp",
        "log lamp show",
        "plan lamp --effort 200",
    ] {
        let output = bench.run(command);
        assert!(
            output.status.success(),
            "{command}: {}",
            text(&output.stderr)
        );
    }
}

#[test]
fn plan_log_and_status_call_a_spool_by_the_same_name() {
    let bench = Bench::new();
    // Two spools that nobody can tell apart by what is on them; the second covers as well as the first, and is the smaller.
    let two = LAMP.replace("spools: [1000]", "spools: [900.2, 900]");
    fs::write(bench.0.path().join("lamp.yaml"), two).expect("a file");
    let output = bench.run("plan lamp --effort 200 --accept");
    let plan = text(&output.stdout);
    assert!(plan.contains("spool white-2 (900 g)"), "{plan}");
    let status = text(&bench.run("status lamp").stdout);
    assert!(status.contains(", spool white-2"), "{status}");
    let flat = |said: String| said.split_whitespace().collect::<Vec<_>>().join(" ");
    let started = "started desk --at 2026-01-05T07:10:00+01:00";
    let said = flat(bench.noted(started));
    assert!(said.contains("It prints from white-2, which has"));
    assert!(!said.contains("The plan puts"), "{said}");
    bench.noted("undo");
    let said = flat(bench.noted(&format!("{started} --spool white-1")));
    let right =
        "The plan puts white-2 (900 g) on: if that one is on, note `spool opened white-2 desk`.";
    assert!(said.contains(right), "{said}");
}
