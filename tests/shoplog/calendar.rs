//! `queue.ics` of plans that follow each other in one folder while the build goes on.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use chrono::{DateTime, FixedOffset, TimeDelta};
use serde_json::Value;

use crate::again::Shop;

/// Four pins, each a run of its own.
const PINS: &str = r#"
build: {name: Pins, start: 2026-01-05 07:00, timezone: Europe/Oslo}
bench: {hours: {mon-sun: ["07:00-22:00"]}, hands: unlimited}
machines: [{id: desk, kind: bed, bed: [100, 100], height: 100, materials: [PLA]}]
filaments: [{id: grey, material: PLA, spools: [1000]}]
parts: [{id: pin, size: [60, 60, 20], quantity: 4, filament: grey, alone: true}]
assemblies:
  - {id: a, parts: {pin: 2}, bench: 20 min, due: 2026-01-06 18:00, late: 50}
  - {id: b, parts: {pin: 2}, bench: 20 min, due: 2026-01-09 18:00, late: 1}
"#;

/// An entry's lines, by property; alarms left out.
type Entry = BTreeMap<String, String>;

/// All entries by their summary; each UID comes once.
fn entries(shop: &Shop) -> BTreeMap<String, Entry> {
    let text = fs::read_to_string(shop.0.path().join("week/queue.ics")).expect("the calendar");
    let whole = text.replace("\r\n ", "");
    let mut all = BTreeMap::new();
    let mut uids = Vec::new();
    let (mut entry, mut open) = (Entry::new(), Vec::new());
    for line in whole.lines() {
        match line.split_once(':').expect("a content line has a colon") {
            ("BEGIN", what) => open.push(what.to_owned()),
            ("END", what) => {
                assert_eq!(open.pop().as_deref(), Some(what));
                if matches!(what, "VEVENT" | "VTODO") {
                    let entry = std::mem::take(&mut entry);
                    uids.push(entry["UID"].clone());
                    all.insert(entry["SUMMARY"].clone(), entry);
                }
            }
            (name, value)
                if matches!(open.last().map(String::as_str), Some("VEVENT" | "VTODO")) =>
            {
                let key = name.split(';').next().expect("a split has a first part");
                entry.insert(key.to_owned(), value.to_owned());
            }
            _ => {}
        }
    }
    assert!(open.is_empty());
    let count = uids.len();
    uids.sort();
    uids.dedup();
    assert_eq!(
        (uids.len(), all.len()),
        (count, count),
        "an entry comes twice"
    );
    all
}

fn plan(shop: &Shop, now: &str) -> Value {
    planned(shop, now, &["--accept"])
}

fn planned(shop: &Shop, now: &str, accept: &[&str]) -> Value {
    let arguments = [
        "plan", "lamp", "--effort", "200", "--format", "json", "--out", "week",
    ];
    let now: &[&str] = if now.is_empty() { &[] } else { &["--now", now] };
    let (plan, _) = shop.run(&[&arguments[..], accept, now].concat());
    serde_json::from_str(&plan).expect("JSON")
}

/// [`PINS`] of which one pin fewer is wanted.
fn fewer() -> String {
    PINS.replace("quantity: 4", "quantity: 3")
        .replace("id: b, parts: {pin: 2}", "id: b, parts: {pin: 1}")
}

/// Whether a plan has a run of this name.
fn has(plan: &Value, name: &str) -> bool {
    let mut runs = plan["runs"].as_array().expect("runs").iter();
    runs.any(|run| run["id"] == name)
}

fn moment(run: &Value, key: &str) -> DateTime<FixedOffset> {
    let text = run[key].as_str().expect("a moment");
    DateTime::parse_from_rfc3339(text).expect("RFC 3339")
}

fn clock(moment: DateTime<FixedOffset>) -> String {
    moment.format("%Y%m%dT%H%M%S").to_string()
}

#[test]
fn what_happened_stays_what_prints_moves_to_when_it_prints_and_what_is_dropped_is_cancelled() {
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    fs::write(&scenario, PINS).expect("a file");
    let first = plan(&shop, "");
    let runs = first["runs"].as_array().expect("runs");
    assert_eq!(runs.len(), 4);
    let name = |at: usize| runs[at]["id"].as_str().expect("a name");
    let prints = |at: usize| format!("{} prints: grey\\, 1 piece", name(at));
    let before = entries(&shop);

    // The first is printed as planned, the second is started seven minutes late; while it prints, one pin fewer is wanted.
    shop.log(
        &["started", name(0)],
        runs[0]["start"].as_str().expect("text"),
    );
    shop.log(
        &["finished", name(0)],
        runs[0]["end"].as_str().expect("text"),
    );
    let late = moment(&runs[1], "start") + TimeDelta::minutes(7);
    shop.log(&["started", name(1)], &late.to_rfc3339());
    fs::write(&scenario, fewer()).expect("a file");
    let now = (late + TimeDelta::minutes(3)).to_rfc3339();
    let second = plan(&shop, &now);
    assert_eq!(second["runs"].as_array().map(Vec::len), Some(1));
    let left = second["runs"][0]["id"].as_str().expect("a name").to_owned();
    let after = entries(&shop);

    // What was done stands as it did, its setup too.
    assert_eq!(after[&prints(0)], before[&prints(0)]);
    assert_eq!(after[&prints(0)]["STATUS"], "CONFIRMED");
    let setups = |entries: &BTreeMap<String, Entry>, at: usize| -> Entry {
        let what = format!("et up {}: ", name(at));
        let mut found = entries
            .iter()
            .filter(|(summary, _)| summary.contains(&what));
        let (_, entry) = found.next().expect("a setup");
        assert!(found.next().is_none());
        entry.clone()
    };
    assert_eq!(setups(&after, 0), setups(&before, 0));
    // That of the second moved with it: it ends when that really started.
    assert_eq!(setups(&after, 1)["DTEND"], clock(late));
    assert_eq!(setups(&after, 1)["UID"], setups(&before, 1)["UID"]);
    // What prints is where it prints, for as long as it was planned to.
    let standing = &after[&prints(1)];
    assert_eq!(
        (standing["STATUS"].as_str(), standing["SEQUENCE"].as_str()),
        ("CONFIRMED", "1")
    );
    assert_eq!(standing["DTSTART"], clock(late));
    assert_eq!(
        standing["DTEND"],
        clock(moment(&runs[1], "end") + TimeDelta::minutes(7))
    );
    assert_eq!(standing["DESCRIPTION"], before[&prints(1)]["DESCRIPTION"]);
    // Of the two that were to come one is left; the other and its setup are cancelled.
    let dropped = [2, 3]
        .into_iter()
        .find(|&at| name(at) != left)
        .expect("one of two");
    for gone in [&after[&prints(dropped)], &setups(&after, dropped)] {
        assert_eq!(
            (gone["STATUS"].as_str(), gone["SEQUENCE"].as_str()),
            ("CANCELLED", "1")
        );
    }
    let cancelled = after
        .values()
        .filter(|entry| entry["STATUS"] == "CANCELLED");
    assert_eq!(cancelled.count(), 2);

    // Planned once more at that minute, nothing has changed, and nothing is revised.
    plan(&shop, &now);
    assert_eq!(entries(&shop), after);
    // When all is printed, everything that was not cancelled before stays.
    let mut end = moment(&runs[1], "end") + TimeDelta::minutes(7);
    shop.log(&["finished", name(1)], &end.to_rfc3339());
    let next = plan(&shop, &end.to_rfc3339());
    let last = &next["runs"][0];
    shop.log(&["started", "desk"], last["start"].as_str().expect("text"));
    end = moment(last, "end");
    shop.log(&["finished", "desk"], &end.to_rfc3339());
    plan(&shop, &end.to_rfc3339());
    let done = entries(&shop);
    for (summary, entry) in &done {
        let dropped = summary.contains(name(dropped));
        assert_eq!(
            entry["STATUS"] == "CANCELLED",
            dropped,
            "{summary}: {entry:?}"
        );
    }
}

/// The entry with this in its summary; it is the only one.
fn only<'a>(entries: &'a BTreeMap<String, Entry>, what: &str) -> &'a Entry {
    let mut found = entries.iter().filter(|(summary, _)| summary.contains(what));
    let (_, entry) = found.next().unwrap_or_else(|| panic!("no {what}"));
    assert!(found.next().is_none(), "{what} comes twice");
    entry
}

fn number(entry: &Entry) -> u32 {
    entry["SEQUENCE"].parse().expect("a number")
}

/// The first of four pins, started four minutes late and given up six minutes after that, with no calendar written in between; then
/// planned again. Also when it was started and given up, what was planned and the calendar before that.
struct Scrapped {
    shop: Shop,
    name: String,
    start: DateTime<FixedOffset>,
    end: DateTime<FixedOffset>,
    before: BTreeMap<String, Entry>,
    second: Value,
}

impl Scrapped {
    /// `wanted`: the scenario by which it is planned again.
    fn new(wanted: &str) -> Self {
        let shop = Shop::new();
        let scenario = shop.0.path().join("lamp.yaml");
        fs::write(&scenario, PINS).expect("a file");
        let first = plan(&shop, "");
        let run = &first["runs"][0];
        let name = run["id"].as_str().expect("a name").to_owned();
        let before = entries(&shop);
        let start = moment(run, "start") + TimeDelta::minutes(4);
        let end = start + TimeDelta::minutes(6);
        shop.log(&["started", &name], &start.to_rfc3339());
        shop.log(&["scrapped", &name, "--why", "warped"], &end.to_rfc3339());
        fs::write(&scenario, wanted).expect("a file");
        let second = plan(&shop, &(end + TimeDelta::minutes(2)).to_rfc3339());
        Self {
            shop,
            name,
            start,
            end,
            before,
            second,
        }
    }

    /// The one entry that says that it was scrapped: it stands, from its start to its end.
    fn told(&self) -> Entry {
        let after = entries(&self.shop);
        let what = format!("{} was scrapped: grey\\, 1 piece", self.name);
        let scrapped = only(&after, &what);
        assert_eq!(scrapped["DTSTART"], clock(self.start));
        assert_eq!(scrapped["DTEND"], clock(self.end));
        assert_eq!(scrapped["STATUS"], "CONFIRMED");
        scrapped.clone()
    }

    /// The entry of its name before that.
    fn planned(&self) -> &Entry {
        &self.before[&format!("{} prints: grey\\, 1 piece", self.name)]
    }

    /// What is to come next is printed, and planned again.
    fn next_is_printed(&self) {
        let next = &self.second["runs"][0];
        let text = |key: &str| next[key].as_str().expect("text");
        self.shop.log(&["started", "desk"], text("start"));
        self.shop.log(&["finished", "desk"], text("end"));
        plan(&self.shop, text("end"));
    }
}

#[test]
fn a_run_that_was_scrapped_and_is_not_to_be_printed_again_says_so_under_its_name() {
    let of = Scrapped::new(&fewer());
    assert!(!has(&of.second, &of.name));
    let scrapped = of.told();
    assert_eq!(scrapped["UID"], of.planned()["UID"]);
    assert_eq!(number(&scrapped), number(of.planned()) + 1);
    // Planned once more, nothing is revised; and later it stays.
    let after = entries(&of.shop);
    plan(&of.shop, &(of.end + TimeDelta::minutes(2)).to_rfc3339());
    assert_eq!(entries(&of.shop), after);
    of.next_is_printed();
    assert_eq!(of.told(), scrapped);
}

#[test]
fn a_run_that_was_scrapped_and_is_to_be_printed_again_stands_beside_what_is_to_come() {
    let of = Scrapped::new(PINS);
    assert!(has(&of.second, &of.name));
    let scrapped = of.told();
    assert_ne!(scrapped["UID"], of.planned()["UID"]);
    let after = entries(&of.shop);
    let to_come = only(&after, &format!("{} prints", of.name));
    assert_eq!(to_come["UID"], of.planned()["UID"]);
    assert_eq!(number(to_come), number(of.planned()) + 1);
    plan(&of.shop, &(of.end + TimeDelta::minutes(2)).to_rfc3339());
    assert_eq!(entries(&of.shop), after);
    of.next_is_printed();
    assert_eq!(of.told(), scrapped);
}

#[test]
fn a_run_that_was_scrapped_stands_once_also_where_it_was_to_be_printed_again_and_is_not_any_more() {
    // Before and after the moment at which it was to be printed again.
    for late in [false, true] {
        let of = Scrapped::new(PINS);
        let scrapped = of.told();
        let mut runs = of.second["runs"].as_array().expect("runs").iter();
        let again = runs
            .find(|run| run["id"] == *of.name)
            .expect("it is planned");
        let mut now = of.end + TimeDelta::minutes(3);
        if late {
            now = now.max(moment(again, "start") + TimeDelta::minutes(1));
        }
        fs::write(of.shop.0.path().join("lamp.yaml"), fewer()).expect("a file");
        let third = plan(&of.shop, &now.to_rfc3339());
        assert!(!has(&third, &of.name));
        // Its entry is the one that it had; what was to come of it is cancelled.
        assert_eq!(of.told(), scrapped);
        let after = entries(&of.shop);
        for what in [
            format!("{} prints", of.name),
            format!("et up {}: ", of.name),
        ] {
            assert_eq!(only(&after, &what)["STATUS"], "CANCELLED", "{what}");
        }
    }
}

/// Entries that are not cancelled with this in their summary.
fn standing<'a>(entries: &'a BTreeMap<String, Entry>, what: &str) -> Vec<&'a Entry> {
    let found = entries
        .iter()
        .filter(|(summary, entry)| summary.contains(what) && entry["STATUS"] == "CONFIRMED");
    found.map(|(_, entry)| entry).collect()
}

#[test]
fn a_run_that_is_started_again_prints_and_what_was_scrapped_stands_beside_it() {
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    fs::write(&scenario, PINS).expect("a file");
    let first = plan(&shop, "");
    let run = &first["runs"][0];
    let name = run["id"].as_str().expect("a name");
    let start = moment(run, "start");
    let later = |minutes: i64| start + TimeDelta::minutes(minutes);
    shop.log(&["started", name], &start.to_rfc3339());
    shop.log(
        &["scrapped", name, "--why", "warped"],
        &later(6).to_rfc3339(),
    );
    // One pin fewer is thought of, and that plan is not accepted: it has no such run.
    fs::write(&scenario, fewer()).expect("a file");
    let second = planned(&shop, &later(8).to_rfc3339(), &[]);
    assert!(!has(&second, name));
    let (prints, scrapped) = (format!("{name} prints: "), format!("{name} was scrapped: "));
    assert_eq!(standing(&entries(&shop), &scrapped).len(), 1);

    // It is printed again after all.
    fs::write(&scenario, PINS).expect("a file");
    shop.log(&["started", name], &later(20).to_rfc3339());
    plan(&shop, &later(25).to_rfc3339());
    let beside = |shop: &Shop| {
        let entries = entries(shop);
        let begins = |what: &str| -> Vec<String> {
            let found = standing(&entries, what).into_iter();
            found.map(|entry| entry["DTSTART"].clone()).collect()
        };
        (begins(&prints), begins(&scrapped))
    };
    let told = (vec![clock(later(20))], vec![clock(start)]);
    assert_eq!(beside(&shop), told);
    // So it is when that has ended well.
    let end = moment(run, "end") + TimeDelta::minutes(20);
    shop.log(&["finished", name], &end.to_rfc3339());
    plan(&shop, &end.to_rfc3339());
    assert_eq!(beside(&shop), told);
}

#[test]
fn starts_at_one_moment_have_an_entry_each() {
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    fs::write(&scenario, PINS).expect("a file");
    let first = plan(&shop, "");
    let run = &first["runs"][0];
    let name = run["id"].as_str().expect("a name");
    let start = moment(run, "start").to_rfc3339();
    for _ in 0..2 {
        shop.log(&["started", name], &start);
        shop.log(&["scrapped", name, "--why", "warped"], &start);
    }
    shop.log(&["started", name], &start);
    let end = moment(run, "end").to_rfc3339();
    shop.log(&["finished", name], &end);
    plan(&shop, &end);
    let text = fs::read_to_string(shop.0.path().join("week/queue.ics")).expect("the calendar");
    let text = text.replace("\r\n ", "");
    let with = |begins: &str| text.lines().filter(|line| line.starts_with(begins)).count();
    assert_eq!(with(&format!("SUMMARY:{name} was scrapped: ")), 2);
    assert_eq!(with(&format!("SUMMARY:{name} prints: ")), 1);
    let mut uids: Vec<&str> = text
        .lines()
        .filter(|line| line.starts_with("UID:"))
        .collect();
    let all = uids.len();
    uids.sort_unstable();
    uids.dedup();
    assert_eq!(uids.len(), all);
}

#[test]
fn a_run_that_was_scrapped_by_mistake_is_not_called_so_once_that_is_undone() {
    // Whether what was taken for lost is to be printed again under its name, or not at all.
    for again in [true, false] {
        let shop = Shop::new();
        let scenario = shop.0.path().join("lamp.yaml");
        fs::write(&scenario, PINS).expect("a file");
        let first = plan(&shop, "");
        let run = &first["runs"][0];
        let name = run["id"].as_str().expect("a name");
        let start = moment(run, "start");
        let later = |minutes: i64| (start + TimeDelta::minutes(minutes)).to_rfc3339();
        shop.log(&["started", name], &start.to_rfc3339());
        shop.log(&["scrapped", name], &later(6));
        if !again {
            fs::write(&scenario, fewer()).expect("a file");
        }
        let second = planned(&shop, &later(8), &[]);
        assert_eq!(has(&second, name), again);
        let scrapped = format!("{name} was scrapped: ");
        assert_eq!(standing(&entries(&shop), &scrapped).len(), 1);

        // The third entry, after the plan and the start.
        shop.log(&["undo", "3"], &later(9));
        plan(&shop, &later(10));
        let after = entries(&shop);
        assert!(standing(&after, &scrapped).is_empty(), "{after:#?}");
        let prints = standing(&after, &format!("{name} prints: "));
        assert_eq!(prints.len(), 1, "{after:#?}");
        assert_eq!(prints[0]["DTSTART"], clock(start));
        assert_eq!(prints[0]["DTEND"], clock(moment(run, "end")));
    }
}

#[test]
fn the_setup_of_a_run_that_was_started_late_moves_with_it() {
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    fs::write(&scenario, PINS).expect("a file");
    let first = plan(&shop, "");
    let run = &first["runs"][0];
    let name = run["id"].as_str().expect("a name");
    let what = format!("et up {name}: ");
    let before = only(&entries(&shop), &what).clone();
    assert_eq!(before["DTEND"], clock(moment(run, "start")));

    let late = TimeDelta::minutes(25);
    let start = moment(run, "start") + late;
    shop.log(&["started", name], &start.to_rfc3339());
    let now = (start + TimeDelta::minutes(3)).to_rfc3339();
    plan(&shop, &now);
    let prints = entries(&shop);
    let setup = only(&prints, &what);
    assert_eq!(setup["UID"], before["UID"]);
    assert_eq!(number(setup), number(&before) + 1);
    assert_eq!(setup["DTSTART"], clock(moment(run, "setup") + late));
    assert_eq!(setup["DTEND"], clock(start));
    let says = |moment: DateTime<FixedOffset>| moment.format("%a %-d %b %H:%M").to_string();
    let times = format!(
        "Starts {}\\, ends {}.",
        says(start),
        says(moment(run, "end") + late)
    );
    assert!(setup["DESCRIPTION"].starts_with(&times), "{setup:?}");
    // The rest of what it says stays.
    let rest = |entry: &Entry| {
        entry["DESCRIPTION"]
            .split_once("\\n")
            .map(|it| it.1.to_owned())
    };
    assert_eq!(rest(setup), rest(&before));
    assert!(rest(setup).is_some());

    // When it has ended, a minute early, it still stands where it was.
    let end = moment(run, "end") + late - TimeDelta::minutes(1);
    shop.log(&["finished", name], &end.to_rfc3339());
    plan(&shop, &end.to_rfc3339());
    let done = entries(&shop);
    assert_eq!(only(&done, &what)["DTSTART"], setup["DTSTART"]);
    let printed = only(&done, &format!("{name} prints"));
    assert_eq!(
        (&printed["DTSTART"], &printed["DTEND"]),
        (&clock(start), &clock(end))
    );
}

#[test]
fn a_plan_that_begins_anew_without_a_log_leaves_nothing_of_the_plan_before() {
    // The start is put off by a week before anything was done.
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    let arguments = ["plan", "lamp", "--effort", "200", "--out", "week"];
    fs::write(&scenario, PINS).expect("a file");
    shop.run(&arguments);
    let before = entries(&shop);
    let later = PINS
        .replace("start: 2026-01-05", "start: 2026-01-12")
        .replace("due: 2026-01-0", "due: 2026-01-2")
        .replace("quantity: 4", "quantity: 3");
    let later = later.replace("id: b, parts: {pin: 2}", "id: b, parts: {pin: 1}");
    fs::write(&scenario, later).expect("a file");
    shop.run(&arguments);
    let after = entries(&shop);
    assert!(
        before
            .values()
            .any(|entry| entry["DTSTART"].starts_with("20260105"))
    );
    let live = after
        .values()
        .filter(|entry| entry["STATUS"] == "CONFIRMED" && !entry["SUMMARY"].contains(" is due"));
    for entry in live {
        assert!(entry["DTSTART"].as_str() >= "20260112", "{entry:?}");
    }
}

/// What the calendar's definition of the build's zone says that the clocks showed at a local time: the offset of the last rule that began
/// before it.
fn offset(shop: &Shop, local: &str) -> Option<String> {
    let text = fs::read_to_string(shop.0.path().join("week/queue.ics")).expect("the calendar");
    let (_, zone) = text
        .split_once("BEGIN:VTIMEZONE\r\nTZID:Europe/Oslo\r\n")
        .expect("a definition");
    let (zone, _) = zone.split_once("END:VTIMEZONE").expect("its end");
    let mut holds = None;
    let mut began = false;
    for line in zone.lines() {
        match line.split_once(':') {
            Some(("DTSTART", onset)) => began = onset <= local,
            Some(("TZOFFSETTO", offset)) if began => holds = Some(offset.to_owned()),
            _ => {}
        }
    }
    holds
}

#[test]
fn a_run_that_was_printed_before_the_clocks_went_back_stays_at_its_hour() {
    // Friday 29 October 2027 is summer time, Tuesday 2 November is not: the clocks go back on the 31st.
    let shop = Shop::new();
    let scenario = shop.0.path().join("lamp.yaml");
    let autumn = PINS
        .replace("start: 2026-01-05", "start: 2027-10-29")
        .replace("due: 2026-01-0", "due: 2027-11-1");
    fs::write(&scenario, autumn).expect("a file");
    let first = plan(&shop, "");
    let run = &first["runs"][0];
    let (start, end) = (moment(run, "start"), moment(run, "end"));
    assert_eq!(start.offset().local_minus_utc(), 7200);
    shop.log(&["started", "desk"], &start.to_rfc3339());
    shop.log(&["finished", "desk"], &end.to_rfc3339());
    plan(&shop, "2027-11-02 08:00");
    let name = run["id"].as_str().expect("a name");
    let printed = only(&entries(&shop), &format!("{name} prints")).clone();
    assert_eq!(printed["DTSTART"], clock(start));
    assert!(printed["DTSTART"].starts_with("20271029T0"), "{printed:?}");
    assert_eq!(offset(&shop, &printed["DTSTART"]).as_deref(), Some("+0200"));
    assert_eq!(offset(&shop, "20271102T080000").as_deref(), Some("+0100"));
}

/// A page's text: a line for each of its lines, cells parted by bars.
fn words(page: &str) -> String {
    let page = page.replace("</td>", "|").replace('\u{a0}', " ");
    let page = page.replace("</tr>", "\n").replace("</p>", "\n");
    let page = page.replace("</h2>", "\n").replace("<br>", "\n");
    let pieces = page.split('<').map(|piece| match piece.split_once('>') {
        Some((_, text)) => text,
        None => piece,
    });
    pieces.collect()
}

/// The lines of the list of an assembly's tray, its head first.
fn tray(sheets: &str, assembly: &str) -> Vec<String> {
    let head = format!("Tray {assembly}\n");
    let (_, list) = sheets.split_once(&head).expect("the tray's list");
    let list = list.split("\nTray ").next().unwrap_or(list);
    list.lines().map(str::to_owned).collect()
}

#[test]
fn what_prints_now_and_what_is_there_is_on_the_sheets_of_what_is_left() {
    let shop = Shop::new();
    let week = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/first-week.yaml");
    fs::copy(week, shop.0.path().join("first-week.yaml")).expect("a file");
    let plan = |now: &str, accept: &[&str]| {
        let arguments = [
            "plan",
            "first-week.yaml",
            "--effort",
            "5000",
            "--out",
            "week",
            "--now",
            now,
        ];
        shop.run(&[&arguments[..], accept].concat());
    };
    let written = |file: &str| {
        let path = shop.0.path().join("week").join(file);
        fs::read_to_string(path).expect("it is written")
    };
    plan("2027-05-03 08:00", &["--accept"]);
    let map = written("plates/printer-001.svg");
    let log = |what: &str, now: &str| {
        shop.run(&["log", "first-week.yaml", what, "printer", "--now", now]);
    };
    log("started", "2027-05-03 17:08");
    plan("2027-05-03 17:20", &[]);

    // The two frames end at 18:03, when the next run is set up.
    let sheets = words(&written("day-sheets.html"));
    let clear = "18:03Clear printer-001 (pieces 1–2 → tray lamp)\nSet up printer-002 ";
    assert!(sheets.contains(clear), "{sheets}");
    // A lamp takes four frames, four panes and a cap: nine.
    let lamp = tray(&sheets, "lamp");
    assert_eq!(lamp[0], "9 pieces", "{lamp:#?}");
    let frames = "|frame|2|printer-001, prints now|1–2|Mon 3 May 18:03|".to_owned();
    assert!(lamp.contains(&frames), "{lamp:#?}");
    // Its map is the one that it was started with; the report has it too.
    assert_eq!(written("plates/printer-001.svg"), map);
    let report = words(&written("report.html"));
    assert!(report.contains("printer-001 white, prints until Mon 3 May 18:03"));
    let setups = entries(&shop);
    assert!(setups.contains_key("Clear printer-001. Set up printer-002: white"));

    // When they are there, the lamp's tray still has nine.
    log("finished", "2027-05-03 18:03");
    plan("2027-05-03 18:04", &[]);
    let sheets = words(&written("day-sheets.html"));
    assert!(!sheets.contains("printer-001"), "{sheets}");
    let lamp = tray(&sheets, "lamp");
    assert_eq!(lamp[0], "9 pieces", "{lamp:#?}");
    let frames = "|frame|2|printed already||Mon 3 May 18:03|".to_owned();
    assert!(lamp.contains(&frames), "{lamp:#?}");
}
