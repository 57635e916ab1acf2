//! The pages of each scenario in a real browser. Skipped, with a word, where no browser is found.

#[allow(dead_code, reason = "a benchmark uses the rest of it")]
mod devtools;

use std::fs;
use std::path::{Path, PathBuf};

use beamyard::plan::{Job, Plan, Task};
use beamyard::planning::{Options, plan};
use beamyard::report;
use beamyard::scenario::{Scenario, read_text};
use beamyard::search::portfolio::Limit;
use devtools::Browser;
use serde_json::Value;
use tempfile::{TempDir, tempdir};

/// Moves of the search; the plans need not be good.
const MOVES: u64 = 300;

const SCENARIOS: [&str; 4] = ["first-week", "tide-clock", "footbridge", "quayside-crane"];

fn scenario(name: &str, change: impl Fn(String) -> String) -> Scenario {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let file = format!("{name}.yaml");
    let text = fs::read_to_string(folder.join(&file)).expect("a scenario");
    match read_text(&file, &change(text), &folder) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    }
}

fn planned(scenario: &Scenario) -> Plan {
    let options = Options {
        limit: Some(Limit::Moves(MOVES)),
        ..Options::default()
    };
    match plan(scenario, &options) {
        Ok(planned) => planned.plan,
        Err(none) => panic!("{none:?}"),
    }
}

/// A plan's folder, and where it is.
fn written(scenario: &Scenario, plan: &Plan) -> (TempDir, PathBuf) {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    report::write_folder(
        &out,
        &report::files(scenario, plan, &report::Issue::first(scenario.build.start)),
    )
    .expect("nothing is in the way");
    (above, out)
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// Minutes since 1970 of an RFC 3339 moment.
fn minutes(moment: &Value) -> f64 {
    let moment: chrono::DateTime<chrono::Utc> =
        moment.as_str().expect("text").parse().expect("a moment");
    moment.timestamp() as f64 / 60.0
}

#[test]
fn every_scenarios_pages_open_at_every_width_without_complaint() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in SCENARIOS {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        for page in ["report.html", "day-sheets.html"] {
            browser.open(&out.join(page));
            for width in [390, 820, 1440] {
                browser.width(width);
                let wide = browser.ask("document.documentElement.scrollWidth");
                assert!(
                    number(&wide) <= f64::from(width),
                    "{name} {page} is {wide} px wide at {width}"
                );
            }
        }
        assert_eq!(browser.complaints, Vec::<String>::new(), "{name}");
        browser.open(&out.join("report.html"));
        bars_are_at_their_time(&mut browser, &out, name);
    }
}

/// Each bar of the chart against plan.json, to the minute, as written and as drawn.
fn bars_are_at_their_time(browser: &mut Browser, out: &Path, name: &str) {
    let text = fs::read_to_string(out.join("plan.json")).expect("it is written");
    let file: Value = serde_json::from_str(&text).expect("JSON");
    let axis = browser
        .ask("(s => [s.dataset.from, s.dataset.to])(document.querySelector('.chart svg.weeks'))");
    let (from, to) = (minutes(&axis[0]), minutes(&axis[1]));
    let bars = browser.ask(
        "(() => { const chart = document.querySelector('.chart svg.weeks').getBoundingClientRect();
            return [...document.querySelectorAll('.chart a.run')].map(run => { const bar = run.querySelector('.bar'), box = bar.getBoundingClientRect();
            return [parseFloat(bar.getAttribute('x')), parseFloat(bar.getAttribute('width')), (box.x - chart.x) / chart.width * 100, run.getAttribute('aria-label')]; }); })()",
    );
    let (bars, runs) = (
        bars.as_array().expect("a list"),
        file["runs"].as_array().expect("a list"),
    );
    assert_eq!(bars.len(), runs.len(), "{name}");
    for (bar, run) in bars.iter().zip(runs) {
        let id = run["id"].as_str().expect("text");
        assert!(
            bar[3].as_str().expect("text").starts_with(id),
            "{name} {id}: {bar}"
        );
        let at = |share: &Value| from + number(share) / 100.0 * (to - from);
        let start = minutes(&run["start"]);
        assert!(
            (at(&bar[0]) - start).abs() < 0.5,
            "{name} {id}: {} {start}",
            at(&bar[0])
        );
        let length = number(&bar[1]) / 100.0 * (to - from);
        assert!(
            (length - number(&run["minutes"])).abs() < 0.5,
            "{name} {id}: {length}"
        );
        // Drawn to the pixel: of some 1300 px, a pixel is a share of 0.08.
        assert!(
            (number(&bar[2]) - number(&bar[0])).abs() < 0.2,
            "{name} {id}: {bar}"
        );
    }
}

#[test]
fn a_stages_words_stay_within_the_chart_on_a_narrow_screen() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let long = "lantern-on-the-wall-by-the-old-harbour-stairs";
    let scenario = scenario("first-week", |text| {
        text.replace("- id: lantern", &format!("- id: {long}"))
    });
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    for width in [390, 500, 700] {
        browser.width(width);
        browser.open(&out.join("report.html"));
        let room = browser.ask(
            "(() => { const chart = document.querySelector('.chart svg.weeks').getBoundingClientRect();
                return [...document.querySelectorAll('.chart text.stage')].map(text => { const box = text.getBoundingClientRect();
                return [box.left - chart.left, chart.right - box.right]; }); })()",
        );
        let room = room.as_array().expect("a list");
        assert_eq!(room.len(), 1);
        for side in room[0].as_array().expect("two sides") {
            assert!(number(side) >= 0.0, "{width} px: {side}");
        }
    }
}

#[test]
fn a_chart_wider_than_its_window_says_that_it_scrolls_and_words_stand_over_lines() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("tide-clock", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    // Shown, and faded at its edge: on a narrow screen only; nothing to fade at the end.
    let told = "(() => { const z = document.querySelector('.zoomable'), s = z.querySelector('.scroll');
        return [s.scrollWidth > s.clientWidth + 2, getComputedStyle(z.querySelector('.further')).display !== 'none',
            getComputedStyle(s).maskImage !== 'none']; })()";
    for width in [390, 1440] {
        browser.width(width);
        browser.open(&out.join("report.html"));
        let wide = width == 390;
        let found = browser.ask(told);
        assert_eq!(found, serde_json::json!([wide, wide, wide]), "{width} px");
    }
    // What comes later in the drawing lies above: no line after any words.
    let over = browser.ask(
        "(() => { const all = [...document.querySelectorAll('.zoomable line.due, .zoomable text.stage')];
            const words = all.findIndex(e => e.tagName === 'text');
            return [all.length > 2, all.slice(words).every(e => e.tagName === 'text')]; })()",
    );
    assert_eq!(over, serde_json::json!([true, true]));
}

#[test]
fn no_word_of_the_navigation_or_of_the_filament_drawings_is_cut_off_or_meets_another() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in ["tide-clock", "quayside-crane"] {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        browser.open(&out.join("report.html"));
        // The last is a sheet of paper: 186 mm of 96 px an inch.
        for (width, media) in [(390, ""), (820, ""), (1440, ""), (703, "print")] {
            let media = serde_json::json!({"media": media});
            browser.call("Emulation.setEmulatedMedia", media);
            browser.width(width);
            let cut = browser.ask(
                "[...document.querySelectorAll('.contents a')].map(a => a.getBoundingClientRect())
                    .filter(box => box.left < 0 || box.right > innerWidth).length",
            );
            assert_eq!(cut, 0, "{name} at {width} px: links out of sight");
            let met = browser.ask(
                "[...document.querySelectorAll('.level')].flatMap(level => { const all = level.getBoundingClientRect();
                    const words = [...level.querySelectorAll('text')].filter(text => !text.classList.contains('end'))
                        .map(text => [text.textContent, text.getBoundingClientRect()]).filter(([, box]) => box.width > 0);
                    const cut = words.filter(([, box]) => box.left < all.left || box.right > all.right + 1).map(([text]) => text + ' is cut');
                    const met = words.flatMap(([one, a], at) => words.slice(at + 1)
                        .filter(([, b]) => a.left < b.right && b.left < a.right && a.top + 2 < b.bottom && b.top + 2 < a.bottom)
                        .map(([other]) => one + ' meets ' + other));
                    return [...cut, ...met, ...(words.length > 1 ? [] : ['no words'])]; })",
            );
            assert_eq!(met, serde_json::json!([]), "{name} at {width} px");
        }
    }
}

#[test]
fn plates_are_to_scale_and_their_numbers_stand_in_the_table() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in ["footbridge", "quayside-crane"] {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        browser.width(1440);
        browser.open(&out.join("report.html"));
        // Of each plate: its drawing's sides in mm, its px by mm across and up; the middles of its outlines; its numbers; the first column.
        let plates = browser.ask(
            "[...document.querySelectorAll('figure.plate')].map(figure => { const svg = figure.querySelector(':scope > svg'), view = svg.viewBox.baseVal, box = svg.getBoundingClientRect();
                const path = figure.querySelector('path.bar'), one = path.cloneNode(); path.after(one);
                const middles = path.getAttribute('d').split('Z').filter(Boolean).map(d => { one.setAttribute('d', d + 'Z'); const b = one.getBBox(); return [b.x + b.width / 2, b.y + b.height / 2]; });
                one.remove();
                return { belt: figure.classList.contains('belt'), sides: [view.width, view.height], scale: [box.width / view.width, box.height / view.height], middles,
                    numbers: [...svg.querySelectorAll('text')].map(text => Number(text.textContent)), rows: [...figure.querySelectorAll('tbody td:first-child')].map(cell => cell.textContent) }; })",
        );
        let plates = plates.as_array().expect("a list");
        assert_eq!(plates.len(), plan.runs.len(), "{name}");
        for (plate, run) in plates.iter().zip(&plan.runs) {
            let id = &run.id;
            let scale = [&plate["scale"][0], &plate["scale"][1]].map(number);
            assert!(
                (scale[0] / scale[1] - 1.0).abs() < 0.01,
                "{name} {id}: {scale:?}"
            );
            let middles = plate["middles"].as_array().expect("a list");
            assert_eq!(middles.len(), run.pieces.len(), "{name} {id}");
            for (middle, piece) in middles.iter().zip(&run.pieces) {
                // An outline that is no box has its middle elsewhere than its box; a turned one's box is symmetrical about it.
                if piece.outline.is_some() {
                    continue;
                }
                let (x, y) = (piece.x.0, piece.y.0);
                let place = if plate["belt"] == true {
                    [y, x]
                } else {
                    [x, number(&plate["sides"][1]) - y]
                };
                for (drawn, is) in [&middle[0], &middle[1]].map(number).into_iter().zip(place) {
                    assert!((drawn - is).abs() < 0.11, "{name} {id}: {drawn} {is}");
                }
            }
            // 1 to so many, each once on the drawing and in the table.
            let all: Vec<usize> = (1..=run.pieces.len()).collect();
            assert_eq!(plate["numbers"], serde_json::json!(all), "{name} {id}");
            let rows = plate["rows"].as_array().expect("a list");
            let rows = rows.iter().flat_map(|row| {
                let row = row.as_str().expect("text");
                let (first, last) = row.split_once('–').unwrap_or((row, row));
                let number = |text: &str| text.parse::<usize>().expect("a number");
                number(first)..=number(last)
            });
            assert_eq!(rows.collect::<Vec<_>>(), all, "{name} {id}");
        }
    }
}

#[test]
fn a_runs_number_is_whole_or_not_there() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in ["first-week", "quayside-crane"] {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        browser.open(&out.join("report.html"));
        let cut = "[...document.querySelectorAll('ROOT text.n')].map(text => [text, text.getBoundingClientRect()]).filter(([, box]) => box.width > 0)
            .map(([text, box]) => [text.textContent, text.closest('svg').previousElementSibling.getBoundingClientRect().right - box.right])";
        for width in [390, 820, 1200, 1440] {
            browser.width(width);
            for zoom in ["a", "w", "d"] {
                browser.press(zoom);
                let room = browser.ask(&cut.replace("ROOT", ".chart"));
                let room = room.as_array().expect("a list");
                assert!(
                    zoom != "d" || !room.is_empty(),
                    "{name} at {width} px, {zoom}"
                );
                for one in room {
                    assert!(
                        number(&one[1]) >= -0.5,
                        "{name} at {width} px, {zoom}: {one}"
                    );
                }
            }
        }
        browser.call(
            "Emulation.setEmulatedMedia",
            serde_json::json!({"media": "print"}),
        );
        browser.width(703);
        let room = browser.ask(&cut.replace("ROOT", ".strip"));
        let room = room.as_array().expect("a list");
        // The runs of the first week are short.
        assert!(name == "first-week" || !room.is_empty(), "{name} on paper");
        for one in room {
            assert!(number(&one[1]) >= -0.5, "{name} on paper: {one}");
        }
        browser.call(
            "Emulation.setEmulatedMedia",
            serde_json::json!({"media": ""}),
        );
    }
}

#[test]
fn what_goes_on_on_another_sheet_of_paper_has_its_heading_there() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // A browser repeats what heads a table and is not to be broken.
    let scenario = scenario("tide-clock", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    browser.open(&out.join("day-sheets.html"));
    let media = serde_json::json!({"media": "print"});
    browser.call("Emulation.setEmulatedMedia", media);
    for heads in [".sheet header", ".kit header", ".kit thead"] {
        let shown = format!(
            "[...document.querySelectorAll('{heads}')].map(one => getComputedStyle(one).display + ' ' + getComputedStyle(one).breakInside)"
        );
        let shown = browser.ask(&shown);
        let shown = shown.as_array().expect("a list");
        assert!(!shown.is_empty(), "{heads}");
        assert!(
            shown.iter().all(|one| one == "table-header-group avoid"),
            "{heads}: {shown:?}"
        );
    }
}

#[test]
fn keys_and_the_mouse_find_their_way_through_the_chart() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("first-week", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    browser.width(1440);
    browser.open(&out.join("report.html"));
    let wide = |browser: &mut Browser| {
        number(&browser.ask("document.querySelector('svg.weeks').getBoundingClientRect().width"))
    };
    let all = wide(&mut browser);
    browser.press("d");
    let day = wide(&mut browser);
    // A day fills the width: all days are as many times as wide.
    let days = number(
        &browser
            .ask("Number(document.querySelector('svg.weeks').style.getPropertyValue('--days'))"),
    );
    assert!((day / all - days).abs() < 0.1, "{day} {all} {days}");
    // Letters of eleven pixels drown in an outline.
    assert_eq!(
        browser.ask("getComputedStyle(document.querySelector('svg.weeks text.hour')).stroke"),
        "none"
    );
    browser.press("a");
    assert_eq!(wide(&mut browser), all);

    // One stop for the tab key; arrows go on from there.
    assert_eq!(
        browser.ask("document.querySelectorAll('a.run[tabindex=\"0\"]').length"),
        1
    );
    browser.ask("document.querySelector('a.run[tabindex=\"0\"]').focus()");
    let told = |browser: &mut Browser| {
        browser
            .ask("document.getElementById('detail').textContent")
            .as_str()
            .expect("text")
            .to_owned()
    };
    assert!(told(&mut browser).contains(&plan.runs[0].id));
    browser.press("ArrowRight");
    assert!(told(&mut browser).contains(&plan.runs[1].id));
    assert_eq!(browser.ask("document.activeElement.id"), "b1");
    browser.press("ArrowLeft");
    assert_eq!(browser.ask("document.activeElement.id"), "b0");

    // The mouse over the third run.
    let place = browser.ask("(b => [b.x + b.width / 2, b.y + b.height / 2])(document.querySelector('#b2 .bar').getBoundingClientRect())");
    browser.point(number(&place[0]), number(&place[1]));
    let third = told(&mut browser);
    assert!(third.contains(&plan.runs[2].id), "{third}");
    // What is told of the next stays in sight where the window is lower than the chart.
    browser
        .ask("document.querySelector('svg.weeks').setAttribute('height', 3000), scrollTo(0, 700)");
    browser.press("ArrowRight");
    let seen = browser.ask(
        "(box => [box.top, innerHeight - box.bottom])(document.getElementById('detail').getBoundingClientRect())",
    );
    for side in seen.as_array().expect("two sides") {
        assert!(number(side) >= -1.0, "{seen}");
    }
    assert_eq!(browser.complaints, Vec::<String>::new());
}

#[test]
fn a_first_tap_tells_what_is_in_a_run_and_a_second_goes_to_its_row() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("first-week", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    browser.width(390);
    let touch = serde_json::json!({"enabled": true});
    browser.call("Emulation.setTouchEmulationEnabled", touch);
    browser.open(&out.join("report.html"));
    browser.ask("document.querySelector('.chart').scrollIntoView()");
    let place = browser.ask("(b => [b.x + b.width / 2, b.y + b.height / 2])(document.querySelector('#b2 .bar').getBoundingClientRect())");
    let tap = |browser: &mut Browser| {
        let point = serde_json::json!([{"x": place[0], "y": place[1]}]);
        for (kind, points) in [("touchStart", point), ("touchEnd", serde_json::json!([]))] {
            let event = serde_json::json!({"type": kind, "touchPoints": points});
            browser.call("Input.dispatchTouchEvent", event);
        }
        browser.ask("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(location.hash))))")
    };
    assert_eq!(tap(&mut browser), "");
    let told = browser.ask("document.getElementById('detail').textContent");
    let told = told.as_str().expect("text");
    assert!(told.contains(&plan.runs[2].id), "{told}");
    assert_eq!(tap(&mut browser), "#q2");
}

#[test]
fn what_looks_like_a_script_stays_text() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // Names of parts take no such signs in a scenario; whatever takes plans from elsewhere may be less strict.
    let nasty = "<script>alert(1)</script><img src=x onerror=alert(2)>";
    let scenario = scenario("first-week", |text| {
        text.replace("name: Harbour lantern", &format!("name: '{nasty}'"))
            .replace("    loaded: white", &format!("    offline: [{{from: 2027-05-05, to: 2027-05-06, why: '{nasty}'}}]\n    loaded: white"))
    });
    let mut scenario = scenario;
    let plan = planned(&scenario);
    for part in &mut scenario.parts {
        part.id = nasty.into();
    }
    let (_above, out) = written(&scenario, &plan);
    browser.width(1440);
    for page in ["report.html", "day-sheets.html"] {
        browser.open(&out.join(page));
        assert_eq!(
            browser
                .ask("document.title")
                .as_str()
                .map(|title| title.starts_with(nasty)),
            Some(true)
        );
        assert_eq!(browser.ask("document.querySelectorAll('img').length"), 0);
        let shown =
            browser.ask("document.body.textContent.includes('<script>alert(1)</script><img')");
        assert_eq!(shown, true, "{page}");
    }
    assert_eq!(browser.complaints, Vec::<String>::new());
}

#[test]
fn the_pages_print_on_whole_sheets() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("first-week", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    let pages = |pdf: &[u8]| {
        assert!(pdf.starts_with(b"%PDF"));
        let text = String::from_utf8_lossy(pdf);
        // A4 is 210 × 297 mm: 595.3 × 841.9 points.
        assert!(
            text.contains("/MediaBox [0 0 594.95996 841.91998]")
                || text.contains("/MediaBox [0 0 595"),
            "not A4"
        );
        text.matches("/Type /Page\n").count()
    };
    // Days on which only something starts or is complete by itself have no sheet of their own.
    let by_itself = |task: &Task| {
        matches!(
            task.what,
            Job::Follows(_) | Job::Complete(_) | Job::Order(_)
        )
    };
    let days = plan.sheets.days.iter();
    let days = days.filter(|day| !day.tasks.iter().all(by_itself)).count();
    for (page, least) in [("report.html", 2), ("day-sheets.html", days)] {
        browser.width(1440);
        browser.open(&out.join(page));
        let printed = pages(&browser.pdf());
        assert!(printed >= least, "{page}: {printed} sheets");
        // On a sheet's width, 186 mm of 96 px an inch, nothing is cut off at the side.
        browser.call(
            "Emulation.setEmulatedMedia",
            serde_json::json!({"media": "print"}),
        );
        browser.width(703);
        let wide = browser.ask("document.documentElement.scrollWidth");
        assert!(number(&wide) <= 703.0, "{page}: {wide}");
        browser.call(
            "Emulation.setEmulatedMedia",
            serde_json::json!({"media": ""}),
        );
    }
}

#[test]
fn no_serious_finding_of_the_accessibility_check() {
    let Ok(path) = std::env::var("AXE_CORE") else {
        eprintln!("skipped: name axe-core's axe.min.js in AXE_CORE");
        return;
    };
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let axe = fs::read_to_string(path).expect("axe-core can be read");
    for name in ["first-week", "footbridge", "quayside-crane"] {
        let scenario = scenario(name, |text| text);
        let (_above, out) = written(&scenario, &planned(&scenario));
        for (page, scheme, width) in [
            ("report.html", "light", 1440),
            ("report.html", "dark", 390),
            ("day-sheets.html", "light", 390),
            ("day-sheets.html", "dark", 1440),
        ] {
            let features = serde_json::json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
            browser.call("Emulation.setEmulatedMedia", features);
            browser.width(width);
            browser.open(&out.join(page));
            // All of it laid out at once: what is laid out only when it comes near moves while the check looks for what is behind it.
            browser.ask("document.head.insertAdjacentHTML('beforeend', '<style>* { content-visibility: visible !important }</style>')");
            browser.ask(&format!("{axe}; true"));
            let found = browser.ask(
                "axe.run(document, {resultTypes: ['violations']}).then(result => result.violations
                    .filter(one => one.impact === 'serious' || one.impact === 'critical')
                    .map(one => one.id + ': ' + one.nodes.slice(0, 3).map(node => node.target.join(' ') + ' (' + node.any.map(check => check.message).join('; ') + ')').join(' | ')))",
            );
            assert_eq!(
                found.as_array().map(Vec::len),
                Some(0),
                "{name} {page} {scheme}: {found:#}"
            );
        }
    }
}
