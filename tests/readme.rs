//! The guide is true: its scenarios are read, its commands run, its names are those of the program.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Output;

use beamyard::scenario;

const GUIDE: &str = include_str!("../README.md");
const CHECKS: &str = include_str!("../.ci/run");
const FIRST_WEEK: &str = include_str!("../scenarios/first-week.yaml");

/// The two commands that the guide begins with.
const PROMISED: [&str; 2] = [
    "cargo run --release -- plan scenarios/quayside-crane.yaml",
    "cargo test",
];

/// The texts of all fenced blocks with such a first line, in order.
fn blocks(kind: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut lines = GUIDE.lines();
    while let Some(line) = lines.next() {
        if let Some(fence) = line.strip_prefix("```") {
            let text: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
            if fence == kind {
                found.push(text.join("\n"));
            }
        }
    }
    found
}

/// The section under a heading, up to the next one of its rank or higher.
fn section(heading: &str) -> &'static str {
    let rank = heading.chars().take_while(|c| *c == '#').count();
    let begin = GUIDE
        .find(&format!("\n{heading}\n"))
        .unwrap_or_else(|| panic!("the guide has no section `{heading}`"));
    let text = &GUIDE[begin + 1 + heading.len()..];
    let end = (1..=rank)
        .filter_map(|rank| text.find(&format!("\n{} ", "#".repeat(rank))))
        .min();
    &text[..end.unwrap_or(text.len())]
}

fn beamyard(arguments: &[&str], folder: &Path) -> Output {
    let mut command = assert_cmd::Command::cargo_bin("beamyard").expect("the program is built");
    command.env_remove("CLICOLOR_FORCE").env_remove("NO_COLOR");
    command
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("it ran")
}

fn here() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[test]
fn the_two_commands_stand_at_the_top_and_are_what_is_checked() {
    assert_eq!(blocks("sh")[0], PROMISED.join("\n"));
    for command in PROMISED {
        let run = |line: &str| line == command || line.starts_with(&format!("{command} "));
        assert!(CHECKS.lines().any(run), "not checked: {command}");
    }
}

#[test]
fn every_complete_scenario_in_the_guide_is_read_without_a_word_against_it() {
    let complete = blocks("yaml complete");
    assert!(complete.len() >= 2);
    for written in complete {
        match scenario::read_text("README.md", &written, here()) {
            Ok(reading) => assert!(reading.warnings.is_empty(), "{:?}", reading.warnings),
            Err(complaints) => panic!("{complaints}\n{written}"),
        }
    }
}

#[test]
fn the_first_week_is_explained_whole_and_in_order() {
    let lines = |text: &str| -> Vec<String> {
        let written = text.lines().filter(|line| !line.is_empty());
        written.map(str::to_owned).collect()
    };
    let explained = blocks("yaml first-week").join("\n");
    // The file begins with a word on itself.
    let file = &FIRST_WEEK[FIRST_WEEK.find("build:").expect("a build")..];
    assert_eq!(lines(&explained), lines(file));
}

#[test]
fn the_plan_of_the_first_week_is_the_one_that_comes_out() {
    let output = beamyard(&["plan", "scenarios/first-week.yaml"], here());
    let real = text(&output.stdout);
    let shown = blocks("text first-week").join("\n");
    assert!(shown.lines().count() > 30);
    assert_eq!(shown.trim_end(), real.trim_end());
}

#[test]
fn every_command_in_the_guide_runs() {
    // A log is written beside its scenario, so the examples are copied.
    let folder = tempfile::tempdir().expect("a temporary folder");
    for name in ["scenarios", "demo-data"] {
        copy(&here().join(name), &folder.path().join(name));
    }
    let out = folder.path().join("plan");
    let out = out.to_str().expect("a path in UTF-8");
    let mut plans = 0;
    let mut evening = 17;
    let all = blocks("sh").join("\n");
    for line in all.lines().filter(|line| *line != PROMISED[1]) {
        let written = line
            .strip_prefix("cargo run --release -- ")
            .or_else(|| line.strip_prefix("beamyard "))
            .unwrap_or_else(|| panic!("no command of this program: {line}"));
        let mut words = written.split(' ').peekable();
        let mut arguments = Vec::new();
        while let Some(word) = words.next() {
            match word {
                // How long it searches is the reader's affair.
                "--effort" | "--seconds" | "--prove" => drop(words.next()),
                "--out" => {
                    words.next();
                    arguments.extend(["--out", out]);
                }
                _ => arguments.push(word),
            }
        }
        if arguments[0] == "plan" {
            plans += 1;
            arguments.extend(["--effort", "200"]);
        }
        // When it is noted is the reader's affair: an hour after what came before.
        let now = format!("2027-05-0{} {:02}:00", 3 + evening / 24, evening % 24);
        let log = folder.path().join("scenarios/first-week.log.sqlite");
        let by_log = arguments[0] == "plan" && arguments[1].contains("first-week") && log.exists();
        if by_log || ["log", "status"].contains(&arguments[0]) {
            evening += 1;
            arguments.extend(["--now", &now]);
        }
        let output = beamyard(&arguments, folder.path());
        assert!(output.status.success(), "{line}\n{}", text(&output.stderr));
        assert!(!output.stdout.is_empty(), "{line}");
    }
    assert!(plans > 3);
}

/// A folder with all that is in it.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir(to).expect("a new folder");
    for entry in std::fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        let to = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            copy(&path, &to);
        } else {
            std::fs::copy(&path, &to).expect("a file");
        }
    }
}

/// Options of `log` and of what it notes; each is in the guide.
#[test]
fn every_word_of_the_log_is_in_the_guide() {
    let told = section("## At the bench");
    let mut words = 0;
    let mut left = vec![vec!["log", "x"]];
    while let Some(command) = left.pop() {
        let help = text(&beamyard(&[&command[..], &["--help"]].concat(), here()).stdout);
        let shown = help.split("Commands:").nth(1).map(|rest| {
            let lines = rest.lines().skip(1).take_while(|line| !line.is_empty());
            let named = lines.filter_map(|line| line.strip_prefix("  ")?.split(' ').next());
            named
                .filter(|name| !name.is_empty() && *name != "help")
                .map(str::to_owned)
                .collect()
        });
        let names: Vec<String> = shown.unwrap_or_default();
        for name in names {
            words += 1;
            let written = [&command[2..], &[name.as_str()]].concat().join(" ");
            assert!(told.contains(&format!("`{written}")), "{written}");
            let name: &'static str = name.leak();
            left.push([&command[..], &[name]].concat());
        }
        for option in options(&help) {
            words += 1;
            let general = ["--at", "--now", "--json", "--help"].contains(&option);
            assert!(general || told.contains(option), "{command:?} {option}");
        }
    }
    assert!(words > 40, "{words}");
}

#[test]
fn every_key_of_the_status_is_in_the_guide() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    copy(&here().join("scenarios"), &folder.path().join("scenarios"));
    let run = |line: &str| {
        let output = beamyard(&line.split(' ').collect::<Vec<_>>(), folder.path());
        assert!(output.status.success(), "{line}\n{}", text(&output.stderr));
        text(&output.stdout)
    };
    run("plan first-week --effort 200 --accept");
    run("log first-week started printer --now 2027-05-03T18:00:00Z");
    let line = run("log first-week down printer --now 2027-05-03T18:00:00Z --json");
    let status = run("status first-week --now 2027-05-03T18:00:00Z --json");
    let told = section("## At the bench");
    let mut keys = BTreeSet::new();
    let mut left: Vec<serde_json::Value> = vec![
        serde_json::from_str(&status).expect("JSON"),
        serde_json::from_str(&line).expect("JSON"),
    ];
    while let Some(value) = left.pop() {
        match value {
            serde_json::Value::Object(map) => {
                for (key, value) in map {
                    keys.insert(key);
                    left.push(value);
                }
            }
            serde_json::Value::Array(list) => left.extend(list),
            _ => {}
        }
    }
    assert!(keys.len() > 25);
    for key in keys {
        let quoted = [format!("`{key}`"), format!("\"{key}\""), format!("`{key} ")];
        assert!(quoted.iter().any(|key| told.contains(key)), "{key}");
    }
}

/// Words of a text that begin with two hyphens.
fn options(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_ascii_alphanumeric() && c != '-')
        .filter(|word| word.starts_with("--") && word.len() > 3)
        .collect()
}

/// The options in the guide's table of these commands.
fn options_in_the_guide(of: &str) -> BTreeSet<String> {
    let head = format!("| option of {of} |");
    let mut lines = section("## Commands").lines();
    let found = lines.by_ref().any(|line| line.starts_with(&head));
    assert!(found, "the guide has no table of the options of {of}");
    let rows = lines.take_while(|line| line.starts_with('|'));
    let options = rows.filter_map(|line| {
        let (option, _) = line.strip_prefix("| `--")?.split_once(['`', ' '])?;
        Some(format!("--{option}"))
    });
    options.collect()
}

#[test]
fn the_guide_has_every_option_of_every_command_and_no_other() {
    for (of, commands) in [
        ("`plan`", &["plan"][..]),
        ("`forecast`", &["forecast"]),
        ("`measure`", &["measure"]),
        ("`log` and `status`", &["log", "status"]),
    ] {
        let mut known = BTreeSet::new();
        for command in commands {
            let help = text(&beamyard(&[command, "--help"], here()).stdout);
            known.extend(options(&help).into_iter().map(str::to_owned));
        }
        known.remove("--help");
        assert_eq!(options_in_the_guide(of), known, "{of}");
    }
    let help = text(&beamyard(&["check", "--help"], here()).stdout);
    assert_eq!(options(&help), ["--help"]);
}

#[test]
fn every_key_of_plan_json_is_in_the_guide() {
    let told = section("## plan.json");
    let arguments = ["plan", "scenarios/quayside-crane.yaml", "--effort", "200"];
    let output = beamyard(&[&arguments[..], &["--format", "json"]].concat(), here());
    let plan: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let mut keys = 0;
    let mut left = vec![&plan];
    while let Some(value) = left.pop() {
        match value {
            serde_json::Value::Object(map) => {
                for (key, value) in map {
                    keys += 1;
                    assert!(told.contains(&format!("`{key}`")), "{key}");
                    left.push(value);
                }
            }
            serde_json::Value::Array(list) => left.extend(list),
            _ => {}
        }
    }
    assert!(keys > 50);
}

#[test]
fn every_key_of_a_forecast_is_in_the_guide() {
    let told = section("## Forecasts for other programs");
    let crane = "scenarios/quayside-crane.yaml";
    let arguments = ["forecast", crane, "--scale", "6,7", "--format", "json"];
    let forecasts: serde_json::Value =
        serde_json::from_slice(&beamyard(&arguments, here()).stdout).expect("JSON");
    let mut keys = BTreeSet::new();
    let mut left = vec![&forecasts];
    while let Some(value) = left.pop() {
        match value {
            serde_json::Value::Object(map) => {
                keys.extend(map.keys());
                // The keys of `cost` are those of `plan.json`.
                left.extend(
                    map.iter()
                        .filter(|(key, _)| *key != "cost")
                        .map(|pair| pair.1),
                );
            }
            serde_json::Value::Array(list) => left.extend(list),
            _ => {}
        }
    }
    assert!(keys.len() > 30);
    for key in keys {
        assert!(told.contains(&format!("`{key}`")), "{key}");
    }
}

#[test]
fn what_the_guide_shows_of_a_forecast_is_what_comes_out() {
    let crane = "scenarios/quayside-crane.yaml";
    let output = beamyard(&["forecast", crane, "--scale", "4,5,6"], here());
    let real = text(&output.stdout);
    let shown = blocks("text forecast");
    assert_eq!(shown.len(), 1);
    for line in shown[0].lines() {
        assert!(real.lines().any(|printed| printed == line), "{line}");
    }
}

#[test]
fn what_the_guide_shows_of_spans_is_what_comes_out() {
    let output = beamyard(&["check", "scenarios/quayside-crane.yaml"], here());
    let real = text(&output.stdout);
    assert!(real.contains(&blocks("text spans").concat()), "{real}");
}

/// Headings of sections, up to the first comma, and the words that begin the lines of the headline.
fn frame(output: &str) -> Vec<&str> {
    const HEADLINE: [&str; 6] = ["Complete", "Stages", "Queue", "Filament", "Cost", "Bound"];
    output
        .lines()
        .take_while(|line| !line.starts_with("── "))
        .filter_map(|line| {
            let (label, _) = line.split_once("  ")?;
            HEADLINE.contains(&label).then_some(label)
        })
        .chain(
            output
                .lines()
                .filter_map(|line| line.strip_prefix("── "))
                .map(|line| line.split([',', '─']).next().unwrap_or(line).trim())
                // Whether a spool runs out is the plan's affair.
                .filter(|heading| !heading.starts_with("Marked")),
        )
        .collect()
}

#[test]
fn what_the_guide_shows_of_a_plan_and_a_check_has_the_sections_of_the_real_ones() {
    let shown = blocks("text");
    // Few moves leave the same sections as many.
    let crane = "scenarios/quayside-crane.yaml";
    let plan = beamyard(&["plan", crane, "--effort", "20000"], here());
    assert_eq!(frame(&shown[0]), frame(&text(&plan.stdout)));
    let check = beamyard(&["check", crane], here());
    assert_eq!(frame(&shown[1]), frame(&text(&check.stdout)));
    // What `check` shows does not depend on a search: each line is as it is printed.
    let real = text(&check.stdout);
    for line in shown[1].lines().filter(|line| *line != "…") {
        assert!(real.lines().any(|printed| printed == line), "{line}");
    }
}
