//! How large the pages of a plan are, how long they take to write, and how smoothly a browser scrolls through them.
//!
//! `cargo bench --bench report`; the browser's part is left out where there is none.
//!
//! What is to be kept: the crane's report under 1 MB and written in under 0.2 s; that of 40 machines and 3000 runs under 8 MB, with no
//! task of the page over 200 ms once it is loaded.

#[path = "../../tests/browser/devtools.rs"]
#[allow(dead_code, reason = "the tests use the rest of it")]
mod devtools;
#[path = "../../tests/common/hall.rs"]
mod hall;

use std::path::Path;
use std::time::Instant;

use beamyard::plan::Plan;
use beamyard::planning::{Options, plan};
use beamyard::report;
use beamyard::scenario::{Scenario, read};
use beamyard::search::portfolio::Limit;
use devtools::Browser;
use hall::hall;

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
