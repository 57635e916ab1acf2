//! Ctrl-C during a search: the best plan so far is kept.

#![cfg(target_os = "linux")]

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use tempfile::tempdir;

/// Whether a process has a handler for the interrupt: signal 2, so the second bit of what it catches (proc(5)).
fn listens(process: u32) -> bool {
    let status = fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:"));
    let caught = caught.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
    caught.is_some_and(|mask| mask & 2 != 0)
}

#[test]
fn a_search_that_is_stopped_gives_the_best_plan_so_far_and_says_so() {
    let folder = tempdir().expect("a temporary folder");
    let out = folder.path().join("plan");
    let program = assert_cmd::cargo::cargo_bin("beamyard");
    // Ten minutes; whoever waits for their end waits in vain.
    let process = Command::new(program)
        .args([
            "plan",
            "scenarios/quayside-crane.yaml",
            "--seconds",
            "600",
            "--out",
        ])
        .arg(&out)
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let begun = Instant::now();
    while !listens(process.id()) {
        assert!(
            begun.elapsed() < Duration::from_secs(120),
            "it never listens"
        );
        std::thread::sleep(Duration::from_millis(20));
    }
    let told = Command::new("kill")
        .args(["-INT", &process.id().to_string()])
        .status();
    assert!(told.is_ok_and(|status| status.success()));
    let output = process.wait_with_output().expect("it ends");
    let (shown, notes) = (
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr),
    );
    assert_eq!(output.status.code(), Some(0), "{notes}");
    assert!(
        notes.contains("stopped; this is the best plan so far"),
        "{notes}"
    );
    assert!(
        shown.contains("\nStopped   the search was stopped before its end"),
        "{shown}"
    );
    let plan = fs::read_to_string(out.join("plan.json")).expect("it is written");
    assert!(plan.contains("\"stopped\": true"));
    assert!(out.join("report.html").is_file());
}
