//! Where and how figures were measured.
//!
//! Knows: git, the processor, the date. Must not know: the figures.
//! Promises: what cannot be found out is called unknown.

use std::process::Command;
use std::{env, fs, thread};

/// The lines that stand above every table.
pub fn describe() -> String {
    let cores = thread::available_parallelism().map_or("unknown".to_owned(), |n| n.to_string());
    let arguments: Vec<String> = env::args().skip(1).filter(|a| a != "--bench").collect();
    let command = ["cargo bench --bench plans --", &arguments.join(" ")].join(" ");
    format!(
        "- commit: {}\n- machine: {}, {cores} cores\n- load before: {}\n- command: `{}`\n- date: {}\n",
        commit().unwrap_or_else(unknown),
        processor().unwrap_or_else(unknown),
        load().unwrap_or_else(unknown),
        command.trim_end_matches([' ', '-']),
        chrono::Utc::now().format("%Y-%m-%d %H:%M UTC"),
    )
}

fn unknown() -> String {
    "unknown".to_owned()
}

/// The commit, marked where the files differ from it.
fn commit() -> Option<String> {
    let hash = git(&["rev-parse", "--short", "HEAD"])?;
    let changed = git(&["status", "--porcelain", "--untracked-files=no"])?;
    Some(if changed.is_empty() {
        hash
    } else {
        hash + ", with changes"
    })
}

fn git(arguments: &[&str]) -> Option<String> {
    let output = Command::new("git")
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    output.status.success().then(|| text.trim().to_owned())
}

/// The processor's name, where `/proc` tells it.
fn processor() -> Option<String> {
    let told = fs::read_to_string("/proc/cpuinfo").ok()?;
    let line = told.lines().find(|line| line.starts_with("model name"))?;
    Some(line.split_once(':')?.1.trim().to_owned())
}

/// Processes that wanted to run in the last minute, on average: above zero, others disturb the figures.
fn load() -> Option<String> {
    let told = fs::read_to_string("/proc/loadavg").ok()?;
    told.split_whitespace().next().map(str::to_owned)
}
