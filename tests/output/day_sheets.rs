//! The crane's day sheets, read back line by line against plan.json.

use std::collections::BTreeMap;
use std::path::Path;

use beamyard::planning::{Options, plan};
use beamyard::report::{day_sheets, json};
use beamyard::scenario::{read, read_text};
use beamyard::search::portfolio::Limit;
use chrono::{DateTime, FixedOffset};
use serde_json::Value;

/// The crane's plan as JSON, and its day sheets. The plan need not be good.
fn crane() -> (Value, String) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/quayside-crane.yaml");
    let scenario = read(&file).expect("an example is right").scenario;
    let options = Options {
        limit: Some(Limit::Moves(300)),
        ..Options::default()
    };
    let plan = plan(&scenario, &options).expect("there is a plan").plan;
    let file = serde_json::from_str(&json(&scenario, &plan)).expect("JSON");
    (file, day_sheets(&scenario, &plan))
}

/// A line of a day sheet: its date, its clock, its words without markup.
#[derive(Clone, Debug)]
struct Line {
    date: String,
    clock: String,
    words: String,
}

fn lines(page: &str) -> Vec<Line> {
    let mut lines = Vec::new();
    for sheet in page.split("<section class=\"sheet").skip(1) {
        let sheet = sheet.split_once("</section>").expect("its end").0;
        let date = sheet.split_once("aria-labelledby=\"d").expect("its date").1;
        for line in sheet.split("<span class=\"at\">").skip(1) {
            let (clock, rest) = line.split_once("</span>").expect("its end");
            lines.push(Line {
                date: date[..10].to_owned(),
                clock: clock.to_owned(),
                words: bare(rest.split_once("</li>").expect("its end").0),
            });
        }
    }
    lines
}

/// A text without its tags, a break being a space.
fn bare(markup: &str) -> String {
    let pieces = markup.replace("<br>", " ");
    let pieces = pieces.split('<').enumerate().map(|(at, piece)| match at {
        0 => piece,
        _ => piece.split_once('>').map_or("", |(_, text)| text),
    });
    pieces.collect::<String>().replace('\u{a0}', " ")
}

fn moment(value: &Value) -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339(value.as_str().expect("text")).expect("a moment")
}

/// Local date and clock.
fn place(moment: &DateTime<FixedOffset>) -> (String, String) {
    (
        moment.format("%Y-%m-%d").to_string(),
        moment.format("%H:%M").to_string(),
    )
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn text(value: &Value) -> &str {
    value.as_str().expect("text")
}

#[test]
fn the_lines_of_the_day_sheets_are_in_the_order_of_time_and_at_the_minutes_of_the_plan() {
    let (file, page) = crane();
    let lines = lines(&page);
    // Days in order, in each of them orders first, then by the clock: both as they sort as text.
    let order: Vec<(&str, &str)> = lines
        .iter()
        .map(|line| {
            let clock = if line.clock == "today" {
                ""
            } else {
                &line.clock
            };
            (line.date.as_str(), clock)
        })
        .collect();
    assert!(order.is_sorted(), "{order:?}");

    // What the plan has happen when, and how the line about it goes.
    let mut expected: Vec<(DateTime<FixedOffset>, String)> = Vec::new();
    for run in list(&file["runs"]) {
        let id = text(&run["id"]);
        match &run["setup"] {
            Value::Null => expected.push((moment(&run["start"]), format!("{id} starts by itself"))),
            setup => expected.push((moment(setup), format!("Set up {id} "))),
        }
        for end in list(&run["spool_ends"]) {
            let what = if end["attended"] == true {
                format!("Change the spool on {}: ", text(&run["machine"]))
            } else {
                format!("! The spool ends on {} ", text(&run["machine"]))
            };
            expected.push((moment(&end["at"]), what));
        }
    }
    for assembly in list(&file["assemblies"]) {
        let id = text(&assembly["id"]);
        expected.push((
            moment(&assembly["start"]),
            format!("Deburr and assemble {id} until"),
        ));
        expected.push((moment(&assembly["complete"]), format!("{id} is complete")));
    }
    let events = expected.len();
    assert!(events > list(&file["runs"]).len() + list(&file["assemblies"]).len());
    let mut found = 0;
    for (at, words) in &expected {
        let (date, clock) = place(at);
        let here = |line: &&Line| {
            line.date == date && line.clock == clock && line.words.contains(words.as_str())
        };
        assert_eq!(
            lines.iter().filter(here).count(),
            1,
            "{date} {clock}: {words}"
        );
        found += 1;
    }
    assert_eq!(found, events);
    // The same order as in the plan: whoever reads the sheets from the first to the last goes through its setups by their moments.
    expected.retain(|(_, words)| words.starts_with("Set up "));
    expected.sort_by_key(|(at, _)| *at);
    let setups = lines.iter().filter_map(|line| {
        let (_, run) = line.words.split_once("Set up ")?;
        Some((
            line.date.as_str(),
            line.clock.as_str(),
            run.split(' ').next().unwrap_or(run),
        ))
    });
    let setups: Vec<_> = setups.collect();
    assert_eq!(setups.len(), expected.len());
    for ((date, clock, _), (at, _)) in setups.iter().zip(&expected) {
        assert_eq!(((*date).to_owned(), (*clock).to_owned()), place(at));
    }
    // Orders on their last day.
    for order in list(&file["orders"]) {
        if let Some(by) = order["order_by"].as_str() {
            let words = format!(" {} (", text(&order["filament"]));
            let here = |line: &&Line| {
                line.date == by && line.clock == "today" && line.words.contains(&words)
            };
            assert_eq!(lines.iter().filter(here).count(), 1, "{by}: {words}");
        }
    }
}

#[test]
fn every_piece_that_comes_off_a_plate_is_named_once_with_the_tray_of_its_assembly() {
    let (file, page) = crane();
    // By run: when it comes off, and the tray of each number.
    let mut off: BTreeMap<String, (String, Vec<(usize, String)>)> = BTreeMap::new();
    for line in lines(&page) {
        let what = line
            .words
            .strip_prefix("Clear ")
            .or_else(|| line.words.strip_prefix("Take off "));
        let Some(what) = what else { continue };
        let what = what
            .split(" Set up ")
            .next()
            .expect("the first always is there");
        for run in what.split("); ") {
            let (id, rest) = run.split_once(" (piece").expect("its pieces");
            let rest = rest.trim_start_matches('s').trim();
            let rest = rest.split_once(')').map_or(rest, |(rest, _)| rest);
            let mut trays = Vec::new();
            for tray in rest.split("; ") {
                let (numbers, tray) = tray.split_once(" → tray ").expect("a tray");
                for range in numbers.split(", ") {
                    let (first, last) = range.split_once('–').unwrap_or((range, range));
                    let number = |text: &str| text.parse::<usize>().expect("a number");
                    trays.extend(
                        (number(first)..=number(last)).map(|number| (number, tray.to_owned())),
                    );
                }
            }
            trays.sort();
            let at = format!("{}T{}", line.date, line.clock);
            assert!(
                off.insert(id.to_owned(), (at, trays)).is_none(),
                "{id} comes off twice"
            );
        }
    }
    let runs = list(&file["runs"]);
    assert_eq!(off.len(), runs.len());
    for run in runs {
        let id = text(&run["id"]);
        let (at, trays) = &off[id];
        // No earlier than it has ended; both by the same clock, without a change of it in these weeks.
        assert!(at.as_str() >= &text(&run["end"])[..16], "{id}: {at}");
        let expected = list(&run["pieces"]).iter().zip(1..).map(|(piece, number)| {
            (
                number,
                piece["assembly"].as_str().unwrap_or("spares").to_owned(),
            )
        });
        assert_eq!(trays, &expected.collect::<Vec<_>>(), "{id}");
    }
}

#[test]
fn what_is_complete_at_a_minute_stands_before_the_work_that_begins_then() {
    // Each is begun the minute at which the one that it needs is complete; they are written against the order of names and file.
    let text = r#"
build: {name: Order, start: 2027-01-11 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["07:00-22:00"]}, hands: 1}
machines: [{id: desk, kind: bed, bed: [100, 100], height: 100, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts: [{id: pin, size: [20, 20, 4], quantity: 2, filament: grey, lie: [z]}]
assemblies:
  - {id: a-last, parts: {pin: 1}, needs: [b-middle], bench: 1 h}
  - {id: b-middle, parts: {pin: 1}, needs: [c-first], bench: 1 h}
  - {id: c-first, bench: 1 h}
"#;
    let reading = read_text("order.yaml", text, Path::new("."));
    let scenario = reading.unwrap_or_else(|wrong| panic!("{wrong}")).scenario;
    let options = Options {
        limit: Some(Limit::Moves(100)),
        ..Options::default()
    };
    let plan = plan(&scenario, &options).expect("there is a plan").plan;
    let lines = lines(&day_sheets(&scenario, &plan));
    let at = |words: &str| {
        let found = lines.iter().position(|line| line.words.starts_with(words));
        found.unwrap_or_else(|| panic!("no {words}: {lines:#?}"))
    };
    for (done, begins) in [("c-first", "b-middle"), ("b-middle", "a-last")] {
        let complete = at(&format!("{done} is complete"));
        let begun = at(&format!("Deburr and assemble {begins}"));
        assert_eq!(lines[complete].clock, lines[begun].clock);
        assert!(complete < begun, "{lines:#?}");
    }
}
