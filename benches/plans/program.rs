//! The program itself on a scenario file, as a user runs it.
//!
//! Knows: the built program and its arguments. Must not know: the library.
//! Promises: a time is from start to end of the process, reading and writing included; one that fails has no figures.

use std::fs::File;
use std::io::{self, Read, Seek};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use crate::memory;
use crate::table::{decimals, median, megabytes, percent, table};

/// The built program.
const PROGRAM: &str = env!("CARGO_BIN_EXE_beamyard");
/// Between two looks at a process. Its peak only grows, so that what is missed is what came up since the last look.
const LOOK: Duration = Duration::from_millis(1);

/// What a process did.
struct Ended {
    seconds: f64,
    peak: Option<u64>,
    output: Vec<u8>,
}

/// Measures `check`, the first plan and the usual plan, once for each seed, and writes the section.
pub fn section(scenario: &str, with: &[String], seeds: &[u64]) -> String {
    let mut whole = vec!["plan", scenario, "--format", "json"];
    whole.extend(with.iter().map(String::as_str));
    let name = ["plan"].into_iter().chain(with.iter().map(String::as_str));
    let name = name.collect::<Vec<_>>().join(" ");
    let commands: [(&str, &[&str]); 3] = [
        ("check", &["check", scenario]),
        // So few moves that the first plan stays as it was constructed.
        (
            "first plan",
            &["plan", scenario, "--format", "json", "--effort", "1"],
        ),
        (&name, &whole),
    ];
    let rows: Vec<[String; 6]> = commands
        .iter()
        .map(|(name, arguments)| {
            let ended: Vec<Ended> = seeds
                .iter()
                .filter_map(|seed| {
                    let mut arguments: Vec<String> =
                        arguments.iter().map(|&a| a.to_owned()).collect();
                    if arguments[0] == "plan" {
                        arguments.extend(["--seed".to_owned(), seed.to_string()]);
                    }
                    match run(&arguments) {
                        Ok(ended) => {
                            eprintln!("beamyard {}: {:.2} s", arguments.join(" "), ended.seconds);
                            Some(ended)
                        }
                        Err(reason) => {
                            eprintln!("beamyard {}: {reason}", arguments.join(" "));
                            None
                        }
                    }
                })
                .collect();
            let figure = |pointer| median(ended.iter().filter_map(|e| figure(&e.output, pointer)));
            [
                (*name).to_owned(),
                decimals(median(ended.iter().map(|e| e.seconds)), 3),
                megabytes(median(
                    ended.iter().filter_map(|e| e.peak).map(|k| k as f64),
                )),
                decimals(figure("/cost/total"), 2),
                percent(figure("/gap")),
                format!("{} of {}", ended.len(), seeds.len()),
            ]
        })
        .collect();
    format!(
        "## The program on {scenario}\n\n\
         Medians over seeds; time and peak memory of the whole process. The first plan is `plan --effort 1`: constructed \
         and audited, not searched.\n\n{}\n\n",
        table(["command", "s", "MB", "cost", "gap", "done"], &rows).trim_end()
    )
}

/// A number in a plan for other programs; `None` if the output is no such plan.
fn figure(output: &[u8], pointer: &str) -> Option<f64> {
    let plan: serde_json::Value = serde_json::from_slice(output).ok()?;
    plan.pointer(pointer)?.as_f64()
}

/// Runs the program from the project's folder to its end.
fn run(arguments: &[String]) -> Result<Ended, String> {
    let told = |error: io::Error| error.to_string();
    // A file, since a pipe that nobody empties would hold the process up.
    let mut output: File = tempfile::tempfile().map_err(told)?;
    let begun = Instant::now();
    let mut process = Command::new(PROGRAM)
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdout(output.try_clone().map_err(told)?)
        .stderr(Stdio::null())
        .spawn()
        .map_err(told)?;
    let mut peak = None;
    let status = loop {
        if let Some(status) = process.try_wait().map_err(told)? {
            break status;
        }
        peak = memory::peak_of(process.id()).or(peak);
        thread::sleep(LOOK);
    };
    let seconds = begun.elapsed().as_secs_f64();
    if !status.success() {
        return Err(status.to_string());
    }
    let mut bytes = Vec::new();
    output.rewind().map_err(told)?;
    output.read_to_end(&mut bytes).map_err(told)?;
    Ok(Ended {
        seconds,
        peak,
        output: bytes,
    })
}
