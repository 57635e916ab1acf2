//! How large the pages of a plan are, how long they take to write, and how smoothly a browser scrolls through them.
//!
//! `cargo bench --bench report`; the browser's part is left out where there is none.
//!
//! What is to be kept: the crane's report under 1 MB and written in under 0.2 s; that of 40 machines and 3000 runs under 8 MB, with no
//! task of the page over 200 ms once it is loaded.

#[path = "../../tests/browser/devtools.rs"]
#[allow(dead_code, reason = "the tests use the rest of it")]
mod devtools;

use std::fmt::Write;
use std::path::Path;
use std::time::Instant;

use beamyard::plan::Plan;
use beamyard::planning::{Options, plan};
use beamyard::report;
use beamyard::scenario::{Scenario, read, read_text};
use beamyard::search::portfolio::Limit;
use devtools::Browser;

/// Times that each is written; the middle one counts.
const TIMES: usize = 9;

fn main() {
    let crane = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/quayside-crane.yaml");
    let crane = read(&crane)
        .unwrap_or_else(|wrong| panic!("{}", wrong.render(false)))
        .scenario;
    println!(
        "| plan | machines | runs | pieces | report | day sheets | all files | written in | longest task, scrolling | zooming |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for (name, scenario) in [("crane", crane), ("hall", hall(40, 333))] {
        let options = Options {
            limit: Some(Limit::Moves(200)),
            ..Options::default()
        };
        let plan = plan(&scenario, &options)
            .unwrap_or_else(|none| panic!("{none:?}"))
            .plan;
        row(name, &scenario, &plan);
    }
}

fn row(name: &str, scenario: &Scenario, plan: &Plan) {
    let above = tempfile::tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    let mut pages = Vec::new();
    let mut whole = Vec::new();
    for _ in 0..TIMES {
        let begun = Instant::now();
        let report = report::html(scenario, plan);
        pages.push(begun.elapsed().as_secs_f64());
        drop(report);
        let begun = Instant::now();
        let files = report::files(scenario, plan, &report::Issue::first(scenario.build.start));
        report::write_folder(&out, &files).expect("nothing is in the way");
        whole.push(begun.elapsed().as_secs_f64());
    }
    let size =
        |file: &str| std::fs::metadata(out.join(file)).map_or(0.0, |file| file.len() as f64 / 1e6);
    let all: f64 = report::files(scenario, plan, &report::Issue::first(scenario.build.start))
        .iter()
        .map(|(_, text)| text.len() as f64 / 1e6)
        .sum();
    let pieces: usize = plan.runs.iter().map(|run| run.pieces.len()).sum();
    let (scrolled, zoomed) = smooth(&out.join("report.html"));
    println!(
        "| {name} | {} | {} | {pieces} | {:.2} MB | {:.2} MB | {all:.2} MB | {:.0} ms, the folder {:.0} ms | {scrolled} | {zoomed} |",
        scenario.machines.len(),
        plan.runs.len(),
        size("report.html"),
        size("day-sheets.html"),
        median(&mut pages) * 1e3,
        median(&mut whole) * 1e3,
    );
}

fn median(times: &mut [f64]) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// The longest task of the page while it scrolls from head to foot, and while its chart is zoomed; ms.
fn smooth(page: &Path) -> (String, String) {
    let Some(mut browser) = Browser::start() else {
        return ("no browser".to_owned(), "no browser".to_owned());
    };
    browser.width(1440);
    browser.open(page);
    // What the page does when it is opened is over once it has been drawn twice.
    browser.ask("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 1500))))");
    let scrolled = browser.longest_task(|browser| {
        browser.ask(
            "new Promise(done => { let at = 0; const step = () => { at += 700; scrollTo(0, at);
             if (at < document.documentElement.scrollHeight && at < 200000) requestAnimationFrame(step); else done(true); }; step(); })",
        );
    });
    browser.ask("scrollTo(0, 0)");
    let zoomed = browser.longest_task(|browser| {
        for key in ["w", "d", "a"] {
            browser.press(key);
            browser.ask("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))");
        }
    });
    (format!("{scrolled:.0} ms"), format!("{zoomed:.0} ms"))
}

/// A hall of so many machines and kinds of part, 36 copies of each, four on a plate.
fn hall(machines: usize, parts: usize) -> Scenario {
    const COLOURS: [(&str, &str); 6] = [
        ("chalk", "#f4f2ea"),
        ("coal", "#17181a"),
        ("brick", "#a5402d"),
        ("moss", "#5d7a3a"),
        ("sky", "#8fb7d6"),
        ("straw", "#e3c565"),
    ];
    let mut text = String::from(
        "build: {name: Hall, start: 2027-01-11 07:00, timezone: Europe/Oslo}\nbench: {hands: unlimited, hours: {mon-sun: [\"07:00-22:00\"]}}\nmachines:\n",
    );
    // Writing to a String does not fail.
    for m in 0..machines {
        let loaded = COLOURS[m % COLOURS.len()].0;
        let _ = writeln!(
            text,
            "  - {{id: m{:02}, kind: bed, bed: [220, 220], height: 200, loaded: {loaded}}}",
            m + 1
        );
    }
    text.push_str("filaments:\n");
    for (name, colour) in COLOURS {
        let _ = writeln!(
            text,
            "  - {{id: {name}, material: PLA, colour: \"{colour}\", spools: [1000, 1000], spool: 2000}}"
        );
    }
    text.push_str("parts:\n");
    for p in 0..parts {
        let colour = COLOURS[p % COLOURS.len()].0;
        let height = 40 + p % 7 * 10;
        let _ = writeln!(
            text,
            "  - {{id: panel-{p:03}, quantity: 36, size: [101, 101, {height}], solid: 0.3, filament: {colour}, lie: [z], finishing: 1 min}}"
        );
    }
    text.push_str("assemblies:\n");
    for (a, parts) in (0..parts).collect::<Vec<_>>().chunks(12).enumerate() {
        let list: Vec<String> = parts.iter().map(|p| format!("panel-{p:03}: 36")).collect();
        let needs = if a % 5 == 0 {
            String::new()
        } else {
            format!("needs: [bay-{:02}], ", a - 1)
        };
        let due = if a % 4 == 3 {
            format!("due: 2027-{:02}-{:02} 18:00, ", 2 + a / 12, 1 + a % 12 * 2)
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "  - {{id: bay-{a:02}, {needs}{due}bench: 2 h, parts: {{{}}}}}",
            list.join(", ")
        );
    }
    match read_text("hall.yaml", &text, Path::new(".")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}
