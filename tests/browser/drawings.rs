//! The other drawings of the report: plate maps, filament, the build graph.

use std::fs;

use serde_json::Value;

use crate::devtools::Browser;
use crate::{SCENARIOS, minutes, number, planned, scenario, written};

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
            "[...document.querySelectorAll('figure.plate')].map(figure => { const svg = figure.querySelector('svg.map'), view = svg.viewBox.baseVal, box = svg.getBoundingClientRect();
                const path = figure.querySelector('path.bar'), one = path.cloneNode(); path.after(one);
                const middles = path.getAttribute('d').split('Z').filter(Boolean).map(d => { one.setAttribute('d', d + 'Z'); const b = one.getBBox(); return [b.x + b.width / 2, b.y + b.height / 2]; });
                one.remove();
                return { belt: !svg.querySelector('use'), sides: [view.width, view.height], scale: [box.width / view.width, box.height / view.height], middles,
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
fn the_numbers_of_pieces_can_be_read_on_a_screen_and_on_paper() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in SCENARIOS {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        browser.open(&out.join("report.html"));
        let pieces: usize = plan.runs.iter().map(|run| run.pieces.len()).sum();
        // At least 10 px on a screen; on paper, 186 mm of 96 px an inch wide, 7 points of 72 an inch: 9.33 px.
        for (width, media, least) in [
            (390, "", 10.0),
            (820, "", 10.0),
            (1440, "", 10.0),
            (703, "print", 28.0 / 3.0),
        ] {
            let media = serde_json::json!({"media": media});
            browser.call("Emulation.setEmulatedMedia", media);
            browser.width(width);
            let sizes = browser.ask(
                "[...document.querySelectorAll('svg.map text')].map(text => { const m = text.getScreenCTM();
                    return parseFloat(getComputedStyle(text).fontSize) * Math.hypot(m.a, m.b); })",
            );
            let sizes = sizes.as_array().expect("a list");
            assert_eq!(sizes.len(), pieces, "{name}");
            let smallest = sizes.iter().map(number).fold(f64::INFINITY, f64::min);
            assert!(smallest >= least, "{name} at {width} px: {smallest} px");
            // Each is in sight (its line is higher than its figures by some pixels): in its drawing, which is no wider than its window, or scrolls in it.
            let cut = browser.ask(
                "[...document.querySelectorAll('svg.map')].flatMap(map => { const all = map.getBoundingClientRect(), room = map.parentElement;
                    const held = getComputedStyle(room).overflowX === 'auto' || all.right <= room.getBoundingClientRect().right + 1;
                    return [...map.querySelectorAll('text')].map(text => text.getBoundingClientRect())
                        .filter(box => !held || box.left < all.left - 4 || box.right > all.right + 4).map(() => map.getAttribute('aria-label')); })",
            );
            assert_eq!(cut, serde_json::json!([]), "{name} at {width} px");
        }
        // None covers its piece: in the demonstrations there is always a place inside or beside.
        assert_eq!(
            browser.ask("document.querySelectorAll('svg.map text.over').length"),
            0,
            "{name}"
        );
    }
}

#[test]
fn a_number_beside_its_piece_stands_on_no_piece_and_its_line_ends_at_its_own() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // Pins of 3 mm, too small for figures of 7 points at any scale that is used.
    let scenario = scenario("first-week", |text| {
        text.replace("assemblies:\n", "  - {id: pin, quantity: 12, size: [3, 3, 20], filament: white, settings: plain, lie: [z]}\n\nassemblies:\n")
            .replace("cap: 1}", "cap: 1, pin: 12}")
    });
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    browser.width(1440);
    browser.open(&out.join("report.html"));
    // Of each such number: at how many of 49 places in the box of its figures there is a piece; how far its line begins from its own
    // piece's outline, in mm.
    let found = browser.ask(
        "[...document.querySelectorAll('svg.map')].filter(map => map.querySelector('text.out')).flatMap(map => {
            const svg = map.closest('svg'), path = map.querySelector('path.bar'), outlines = path.getAttribute('d').split('Z').filter(Boolean);
            const lines = map.querySelector('.leader').getAttribute('d').split('M').filter(Boolean).map(line => line.split(/[ L]/).map(Number));
            const at = (x, y) => Object.assign(svg.createSVGPoint(), {x, y});
            return [...map.querySelectorAll('text.out')].map((text, n) => {
                const size = parseFloat(getComputedStyle(text).fontSize), wide = text.getComputedTextLength(), left = Number(text.getAttribute('x')) - wide / 2, foot = Number(text.getAttribute('y'));
                let covered = 0;
                for (let i = 0; i < 7; i++) for (let j = 0; j < 7; j++) if (path.isPointInFill(at(left + wide * i / 6, foot - size * .73 * j / 6))) covered++;
                const own = path.cloneNode(); own.setAttribute('d', outlines[Number(text.textContent) - 1] + 'Z'); path.after(own);
                let gap = Infinity;
                for (let s = 0, all = own.getTotalLength(); s < all; s += .05) { const p = own.getPointAtLength(s); gap = Math.min(gap, Math.hypot(p.x - lines[n][0], p.y - lines[n][1])); }
                own.remove();
                return [text.textContent, covered, gap]; }); })",
    );
    let found = found.as_array().expect("a list");
    assert!(!found.is_empty());
    for one in found {
        assert_eq!(one[1], 0, "{one}");
        assert!(number(&one[2]) < 0.1, "{one}");
    }
}

#[test]
fn the_build_graph_says_what_the_plan_says() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in ["tide-clock", "footbridge", "quayside-crane"] {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        let text = fs::read_to_string(out.join("plan.json")).expect("it is written");
        let file: Value = serde_json::from_str(&text).expect("JSON");
        browser.open(&out.join("report.html"));
        let words = |value: &Value| value.as_str().expect("text").replace('\u{a0}', " ");

        // Every need is an edge, and nothing else is.
        let edges = browser.ask("[...document.querySelectorAll('.graph .edge')].map(edge => [edge.dataset.from, edge.dataset.to, edge.classList.contains('critical')])");
        let edges = edges.as_array().expect("a list");
        let mut drawn: Vec<(String, String)> = edges
            .iter()
            .map(|edge| (words(&edge[0]), words(&edge[1])))
            .collect();
        let mut needed: Vec<(String, String)> = Vec::new();
        for assembly in &scenario.assemblies {
            let needs = assembly
                .needs
                .iter()
                .map(|need| &scenario.assemblies[need.0].id);
            needed.extend(needs.map(|need| (need.clone(), assembly.id.clone())));
        }
        drawn.sort();
        needed.sort();
        assert_eq!(drawn, needed, "{name}");

        // Of each node its date and its float.
        let nodes = browser.ask(
            "[...document.querySelectorAll('.graph [data-assembly]')].map(node => [node.dataset.assembly, node.querySelector('.complete').textContent,
                node.querySelector('.float').textContent, node.querySelector('.node').classList.contains('critical')])",
        );
        let nodes = nodes.as_array().expect("a list");
        let assemblies = file["assemblies"].as_array().expect("a list");
        assert_eq!(nodes.len(), assemblies.len(), "{name}");
        for (node, assembly) in nodes.iter().zip(assemblies) {
            let id = words(&assembly["id"]);
            assert_eq!(words(&node[0]), id);
            let complete =
                chrono::DateTime::parse_from_rfc3339(assembly["complete"].as_str().expect("text"))
                    .expect("a moment");
            assert_eq!(
                words(&node[1]),
                complete.format("%a %-d %b %H:%M").to_string(),
                "{name} {id}"
            );
            let late = number(&assembly["late_days"]) * 24.0;
            let (word, hours) = if late > 0.0 {
                ("late by ", late)
            } else {
                ("float ", number(&assembly["float_hours"]))
            };
            let shown = words(&node[2]);
            if hours == 0.0 {
                assert_eq!(shown, "no float", "{name} {id}");
                continue;
            }
            let (amount, unit) = shown
                .strip_prefix(word)
                .and_then(|rest| rest.split_once(' '))
                .unwrap_or_else(|| panic!("{name} {id}: {shown}"));
            let amount: f64 = amount.parse().expect("a number");
            let by = match unit {
                "min" => 1.0 / 60.0,
                "h" => 1.0,
                "day" | "days" => 24.0,
                _ => panic!("{shown}"),
            };
            // As exact as a tenth of what it is given in.
            assert!(
                (amount * by - hours).abs() <= 0.051 * by,
                "{name} {id}: {shown}, {hours} h"
            );
        }

        // The critical path in words is the plan's; a link by a need is drawn thick, and what is on it has thick lines.
        let links = file["critical_path"].as_array().expect("a list");
        let mut told = String::new();
        for (at, link) in links.iter().enumerate() {
            if at > 0 {
                let hands = links[at - 1]["hands"] == true;
                told.push_str(if hands {
                    ", then, when hands are free, "
                } else {
                    ", then "
                });
            }
            told.push_str(&match link["what"].as_str().expect("text") {
                "joining" => format!("joining {} {}", words(&link["id"]), link["number"]),
                "setup" => format!("the setup of {}", words(&link["id"])),
                _ => words(&link["id"]),
            });
        }
        let path = words(&browser.ask("document.getElementById('critical').textContent"));
        assert_eq!(path, told, "{name}");
        let until = |link: &Value| minutes(&link["until"]);
        assert!(
            links
                .windows(2)
                .all(|pair| until(&pair[0]) <= until(&pair[1])),
            "{name}: {path}"
        );
        let assembly = |id: &str| assemblies.iter().find(|one| one["id"] == id);
        let on_path: Vec<&str> = links
            .iter()
            .filter(|link| link["what"] == "assembly")
            .map(|link| link["id"].as_str().expect("text"))
            .collect();
        for pair in links.windows(2) {
            let (from, to) = (words(&pair[0]["id"]), words(&pair[1]["id"]));
            let both = pair.iter().all(|link| link["what"] == "assembly");
            if !both || pair[0]["hands"] == true {
                continue;
            }
            assert!(
                needed.contains(&(from.clone(), to.clone())),
                "{name}: {path}"
            );
            let edge = edges
                .iter()
                .find(|edge| words(&edge[0]) == from && words(&edge[1]) == to);
            assert_eq!(
                edge.map(|edge| &edge[2]),
                Some(&Value::Bool(true)),
                "{name}: {path}"
            );
        }
        let last = assembly(on_path[on_path.len() - 1]).expect("it was found");
        assert_eq!(last["complete"], file["finish"], "{name}: {path}");
        let thick: Vec<String> = nodes
            .iter()
            .filter(|node| node[3] == true)
            .map(|node| words(&node[0]))
            .collect();
        let mut expected: Vec<&str> = on_path.clone();
        expected.sort_by_key(|id| nodes.iter().position(|node| node[0] == *id));
        assert_eq!(thick, expected, "{name}");
    }
}

#[test]
fn each_mark_of_a_spools_end_has_one_meaning() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("quayside-crane", |text| text);
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    browser.open(&out.join("report.html"));
    // In the chart and in the drawings of filament together; the legends have one of each.
    let count = |browser: &mut Browser, place: &str, mark: &str| {
        number(&browser.ask(&format!(
            "document.querySelectorAll('{place} {mark}').length"
        ))) as usize
    };
    let ends = || plan.runs.iter().flat_map(|run| &run.spool.ends);
    let alone = ends().filter(|end| !end.attended).count();
    assert!(ends().count() > alone);
    assert_eq!(count(&mut browser, ".level .over", "path.warn"), alone);
    assert_eq!(
        count(&mut browser, ".level .over", "path.spool"),
        ends().count() - alone
    );
    assert_eq!(
        count(&mut browser, ".chart", "path.warn"),
        plan.runs.iter().flat_map(|run| run.spool.alone()).count()
    );
    assert_eq!(count(&mut browser, "#weeks .lead", "path.warn"), 1);
    for mark in ["path.warn", "path.spool"] {
        assert_eq!(count(&mut browser, "#filament > .lead", mark), 1, "{mark}");
    }
}

#[test]
fn the_heading_of_a_plates_drawing_ends_within_the_bed_whatever_names_there_are() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let scenario = scenario("first-week", |text| {
        text.replace(
            "- id: printer",
            "- id: WMWM-machine-by-the-window-of-the-old-harbour-office",
        )
        .replace(
            "white",
            "WMWM-white-of-the-lantern-on-the-wall-by-the-old-stairs",
        )
    });
    let plan = planned(&scenario);
    let (_above, out) = written(&scenario, &plan);
    let drawings = fs::read_dir(out.join("plates")).expect("it is written");
    let drawings: Vec<_> = drawings
        .map(|entry| entry.expect("it can be read").path())
        .collect();
    assert_eq!(drawings.len(), plan.runs.len());
    for drawing in drawings {
        browser.open(&drawing);
        // Its sides in mm, on paper and inside; and where each heading ends.
        let found = browser.ask(
            "(() => { const svg = document.documentElement, view = svg.viewBox.baseVal;
                return [svg.getAttribute('width'), svg.getAttribute('height'), view.width, view.height,
                    [...svg.querySelectorAll(':scope > text')].map(text => { const box = text.getBBox(); return [box.x, box.x + box.width, box.y, box.y + box.height]; })]; })()",
        );
        assert_eq!(found[0], format!("{}mm", number(&found[2])), "{drawing:?}");
        assert_eq!(found[1], format!("{}mm", number(&found[3])), "{drawing:?}");
        // 250 by 210 mm of bed, and the heading above it.
        assert_eq!(number(&found[2]), 250.0);
        assert!(number(&found[3]) > 210.0);
        let headings = found[4].as_array().expect("a list");
        assert_eq!(headings.len(), 2, "{drawing:?}");
        for heading in headings {
            let [left, right, top, foot] = [0, 1, 2, 3].map(|at| number(&heading[at]));
            assert!(
                left >= 0.0 && right <= 250.0,
                "{drawing:?}: {left} to {right}"
            );
            assert!(
                top >= 210.0 - number(&found[3]) && foot <= 0.0,
                "{drawing:?}: {top} to {foot}"
            );
        }
    }
}
