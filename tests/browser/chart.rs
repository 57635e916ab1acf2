//! The chart of the weeks: where its bars are, what can be read on them, how one finds one's way through it.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::devtools::Browser;
use crate::hall::hall;
use crate::{minutes, number, planned, scenario, written};

/// Each bar of the chart against plan.json, to the minute, as written and as drawn.
pub fn bars_are_at_their_time(browser: &mut Browser, out: &Path, name: &str) {
    let text = fs::read_to_string(out.join("plan.json")).expect("it is written");
    let file: Value = serde_json::from_str(&text).expect("JSON");
    let axis = browser
        .ask("(s => [s.dataset.from, s.dataset.to])(document.querySelector('.chart svg.weeks'))");
    let (from, to) = (minutes(&axis[0]), minutes(&axis[1]));
    let bars = browser.ask(
        "(() => { const chart = document.querySelector('.chart svg.weeks').getBoundingClientRect();
            return [...document.querySelectorAll('.chart a.run')].map(run => { const bar = run.querySelector('.at'), box = run.querySelector('.rim').getBoundingClientRect();
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
    // The plan is of five days, to Friday 7 May. Due within them; days after them; soon after its parts are printed, and far later, so that
    // its marks lie far apart.
    for (lantern, stand) in [
        ("2027-05-08 16:00", ""),
        ("2027-05-25 16:00", ""),
        ("2027-05-25 16:00", "2027-05-17 18:00"),
        ("2027-05-08 16:00", "2027-05-07 18:00"),
        ("2027-05-05 16:00", "2027-05-05 09:00"),
    ] {
        let scenario = scenario("first-week", |text| {
            let text = text.replace("- id: lantern", &format!("- id: {long}"));
            let text = text.replace("due: 2027-05-08 16:00", &format!("due: {lantern}"));
            let more = format!("cure: 4 h\n    due: {stand}\n    late: 1");
            match stand {
                "" => text,
                _ => text.replacen("cure: 4 h", &more, 1),
            }
        });
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        for width in [390, 500, 700, 820, 1440] {
            browser.width(width);
            browser.open(&out.join("report.html"));
            let room = browser.ask(
                "(() => { const chart = document.querySelector('.chart svg.weeks').getBoundingClientRect();
                    return [...document.querySelectorAll('.chart text.stage')].map(text => { const box = text.getBoundingClientRect();
                    return [box.left - chart.left, chart.right - box.right, text.textContent]; }); })()",
            );
            let room = room.as_array().expect("a list");
            assert_eq!(room.len(), if stand.is_empty() { 1 } else { 2 });
            for one in room {
                for side in [&one[0], &one[1]] {
                    assert!(number(side) >= 0.0, "{width} px, due {lantern}: {one}");
                }
            }
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
    let told = "(() => { const z = document.querySelector('.zoomable'), s = z.querySelector('.chart');
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
fn a_runs_number_is_whole_or_not_there() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // The third begins late on a Sunday: its first runs are at the very end of a week's strip on paper.
    for (name, late) in [
        ("first-week", false),
        ("quayside-crane", false),
        ("first-week", true),
    ] {
        let scenario = scenario(name, |text| match late {
            true => text
                .replace("start: 2027-05-03 08:00", "start: 2027-05-09 08:00")
                .replace("due: 2027-05-08 16:00", "due: 2027-05-29 16:00")
                .replace(
                    "{mon-fri: [\"17:00-21:00\"], sat: [\"10:00-16:00\"]}",
                    "{mon-sun: [\"22:30-23:59\"]}",
                ),
            false => text,
        });
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        browser.open(&out.join("report.html"));
        // In its bar a number ends before the bar does; below it, before the drawing does, beyond which it would be cut off.
        let cut = "[...document.querySelectorAll('ROOT text.n')].map(text => [text, text.getBoundingClientRect()]).filter(([, box]) => box.width > 0)
            .map(([text, box]) => { const inside = getComputedStyle(text).transform === 'none';
                const end = inside ? text.parentElement.querySelector('.rim') : text.closest('.lane') || text.closest('svg.weeks');
                return [text.textContent, end.getBoundingClientRect().right - box.right, !inside]; })";
        let mut below = 0;
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
                    below += u32::from(one[2] == true);
                }
            }
        }
        assert!(below > 0 || late, "{name}: no number stands below its bar");
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
        &browser.ask("Number(document.querySelector('.plan').style.getPropertyValue('--days'))"),
    );
    assert!((day / all - days).abs() < 0.1, "{day} {all} {days}");
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
    let place = browser.ask("(b => [b.x + b.width / 2, b.y + b.height / 2])(document.querySelector('#b2 .rim').getBoundingClientRect())");
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
    let place = browser.ask("(b => [b.x + b.width / 2, b.y + b.height / 2])(document.querySelector('#b2 .rim').getBoundingClientRect())");
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
fn the_date_of_what_is_in_sight_is_in_sight() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("first-week", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    // What stands in the head of the chart, whole and beside the names; and the first moment that is drawn there, as its day.
    let seen = "(() => { const chart = document.querySelector('.chart'), box = chart.getBoundingClientRect(), left = document.querySelector('.corner').getBoundingClientRect().right;
        const words = [...document.querySelectorAll('.dates b')].filter(b => { const w = b.getBoundingClientRect(), cell = b.parentElement.getBoundingClientRect();
            return w.width > 0 && w.left >= left - 1 && w.right <= Math.min(box.right, cell.right) + 1 && w.top >= box.top - 1 && w.bottom <= box.bottom; }).map(b => b.textContent);
        const drawn = document.querySelector('.chart svg.weeks'), all = drawn.getBoundingClientRect();
        const from = Date.parse(drawn.dataset.from), to = Date.parse(drawn.dataset.to);
        return [words, from + (left - all.left) / all.width * (to - from), chart.scrollLeft]; })()";
    for width in [390, 820, 1440] {
        browser.width(width);
        browser.open(&out.join("report.html"));
        browser.press("d");
        // By a fifth of a day at a time; the last fifth of a day has no room for its words.
        for step in 0..20 {
            let day = f64::from(step) * 0.2;
            browser.ask(&format!(
                "(() => {{ const chart = document.querySelector('.chart'); chart.scrollLeft = {day} * document.querySelector('.chart svg.weeks').getBoundingClientRect().width / document.querySelectorAll('.dates .date').length; }})()"
            ));
            let found = browser.ask(seen);
            let millis = number(&found[1]) + 60_000.0;
            let moment = chrono::DateTime::from_timestamp_millis(millis as i64).expect("a moment");
            let local = moment.with_timezone(&scenario.build.zone);
            let date = local.format("%a\u{a0}%-d\u{a0}%b").to_string();
            let words = found[0].as_array().expect("a list");
            assert!(
                words.iter().any(|word| *word == date),
                "{width} px, {local}: {found}"
            );
        }
    }
    // Far down a chart of many machines the head is still there, and the names far to the right.
    browser.ask("document.querySelector('svg.weeks').setAttribute('height', 3000), document.querySelector('.chart').scrollTo(900, 1500)");
    let kept = browser.ask(
        "(() => { const chart = document.querySelector('.chart'), box = chart.getBoundingClientRect(), head = document.querySelector('.head').getBoundingClientRect();
            return [chart.scrollTop, head.top - box.top, document.querySelector('.rows .names').getBoundingClientRect().left - box.left, box.height <= innerHeight]; })()",
    );
    assert_eq!(number(&kept[0]), 1500.0);
    assert!(
        number(&kept[1]).abs() <= 1.0 && number(&kept[2]).abs() <= 1.0,
        "{kept}"
    );
    assert_eq!(kept[3], true);
    assert!(
        number(
            &browser.ask(seen)[0]
                .as_array()
                .map_or(Value::from(0), |words| Value::from(words.len()))
        ) > 0.0
    );
}

#[test]
fn runs_beside_each_other_do_not_merge_whatever_their_colour() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // All of coal by day, all of chalk by night: each the ink of its page.
    for (scheme, colour) in [
        ("light", "#17181a"),
        ("dark", "#f4f2ea"),
        ("light", "#fcfbf7"),
        ("dark", "#14161a"),
    ] {
        let scenario = scenario("first-week", |text| {
            text.replace("#f4f2ea", colour).replace("#b0302a", colour)
        });
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        let features =
            serde_json::json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        browser.call("Emulation.setEmulatedMedia", features);
        browser.width(1440);
        browser.open(&out.join("report.html"));
        // The rim behind every bar differs from it, and is seen on all sides of it.
        let bars = browser.ask(
            "[...document.querySelectorAll('.chart .at')].map(run => { const [rim, bar] = ['.rim', '.bar'].map(one => run.querySelector(one)), r = rim.getBoundingClientRect(), b = bar.getBoundingClientRect();
                return [getComputedStyle(bar).fill, getComputedStyle(rim).fill, r.width, b.left - r.left, r.right - b.right, b.top - r.top, r.bottom - b.bottom]; })",
        );
        let bars = bars.as_array().expect("a list");
        assert_eq!(bars.len(), plan.runs.len());
        for bar in bars {
            let (fill, rim) = (light(&bar[0]), light(&bar[1]));
            assert!((fill - rim).abs() > 100.0, "{scheme} {colour}: {bar}");
            let sides = 1.25_f64.min(0.12 * number(&bar[2]));
            for (side, least) in [(3, sides), (4, sides), (5, 1.25), (6, 1.25)] {
                assert!((number(&bar[side]) - least).abs() < 0.02, "{bar}");
            }
        }
    }
}

#[test]
fn the_shortest_bar_shows_its_colour_and_its_number_meets_no_other() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("quayside-crane", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    for width in [390, 820, 1440] {
        browser.width(width);
        browser.open(&out.join("report.html"));
        // Of each bar: its width, the width of its colour, whether its setup lies below it, and what is drawn around it.
        let bars = browser.ask(
            "[...document.querySelectorAll('.chart a.run')].map(run => { const [rim, bar] = ['.rim', '.bar'].map(one => run.querySelector(one).getBoundingClientRect());
                const setup = run.querySelector('.notch'); return [rim.width, bar.width, !setup || setup.compareDocumentPosition(run.querySelector('.bar')) === 4, getComputedStyle(run.querySelector('.bar')).stroke]; })",
        );
        let bars = bars.as_array().expect("a list");
        assert!(bars.iter().any(|bar| number(&bar[0]) < 4.0), "{width} px");
        for bar in bars {
            let kept = number(&bar[1]) / number(&bar[0]);
            assert!(kept > 0.75, "{width} px: {bar}");
            let (true, "none") = (bar[2] == true, bar[3].as_str().unwrap_or("")) else {
                panic!("{width} px: {bar}");
            };
        }
        // Of each machine, the numbers that are shown, in the order of their runs: the first run has its own, and none meets another.
        let lanes = browser.ask(
            "[...document.querySelectorAll('.lane')].map(lane => [...lane.querySelectorAll('a.run')].map(run => { const text = run.querySelector('.n'), box = text && text.getBoundingClientRect();
                return box && box.width > 0 ? [box.left, box.right, box.top, box.bottom] : null; }))",
        );
        for lane in lanes.as_array().expect("a list") {
            let runs = lane.as_array().expect("a list");
            assert!(runs.first().is_none_or(|first| !first.is_null()), "{lane}");
            let shown = runs.iter().filter(|run| !run.is_null());
            let boxes: Vec<[f64; 4]> = shown
                .map(|run| [0, 1, 2, 3].map(|side| number(&run[side])))
                .collect();
            assert!(runs.len() <= 4 * boxes.len(), "{width} px: {lane}");
            for (at, one) in boxes.iter().enumerate() {
                for other in &boxes[at + 1..] {
                    let beside = one[0] >= other[1] || other[0] >= one[1];
                    let above = one[2] >= other[3] || other[2] >= one[3];
                    assert!(beside || above, "{width} px: {one:?} {other:?}");
                }
            }
        }
    }
}

#[test]
fn a_chart_of_many_runs_is_laid_out_a_few_lanes_at_a_time_until_all_of_it_is_there() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = hall(12, 140);
    let plan = planned(&scenario);
    assert!(plan.runs.len() > 1200);
    let (_above, out) = written(&scenario, &plan);
    browser.width(1440);
    browser.open(&out.join("report.html"));
    let waits = "document.querySelectorAll('.lane.waits').length";
    for key in ["w", "d", "a"] {
        // One task does not do it all.
        let waiting = browser.ask(&format!(
            "document.dispatchEvent(new KeyboardEvent('keydown', {{key: '{key}'}})), {waits}"
        ));
        assert!(number(&waiting) > 0.0, "{key}");
        browser.ask(&format!(
            "new Promise(done => {{ const step = () => {waits} ? requestAnimationFrame(step) : done(true); step(); }})"
        ));
        // Then every lane is as wide as what lies behind it.
        let widths = browser.ask("[...document.querySelectorAll('.drawing, .lane > svg')].map(one => one.getBoundingClientRect().width)");
        let widths = widths.as_array().expect("a list");
        assert_eq!(widths.len(), 13);
        assert!(widths.iter().all(|width| *width == widths[0]), "{widths:?}");
    }
    assert_eq!(browser.complaints, Vec::<String>::new());
}

/// How light a colour such as `rgb(1, 2, 3)` is, 0 to 255.
fn light(colour: &Value) -> f64 {
    let text = colour.as_str().expect("text");
    let channels: Vec<f64> = text
        .split(|letter: char| !letter.is_ascii_digit())
        .filter_map(|number| number.parse().ok())
        .collect();
    channels.iter().sum::<f64>() / channels.len() as f64
}
