//! What comes out of the printer.

use beamyard::plan::{Job, Task};
use serde_json::json;

use crate::devtools::Browser;
use crate::{SCENARIOS, number, planned, scenario, written};

/// The foot of what is printed on a sheet, and how high a heading with one line below it is at least: 13 mm and 10 mm in points.
const FOOT: f64 = 13.0 / 25.4 * 72.0;
const HEADING: f64 = 10.0 / 25.4 * 72.0;
/// A sheet's width and height within its margins, 186 by 271 mm of 96 px an inch.
const WIDTH: u32 = 703;
const HEIGHT: f64 = 1024.0;

/// A printed page: its sheets, and on which and how high above its edge each heading and each target of a link begins.
struct Printed {
    sheets: usize,
    /// In their order: words, sheet, points.
    headings: Vec<(String, usize, f64)>,
    targets: Vec<(String, usize)>,
}

impl Printed {
    /// Reads a PDF as this browser writes it: objects in plain text, headings in its outline, targets in its list of names.
    fn read(pdf: &[u8]) -> Self {
        assert!(pdf.starts_with(b"%PDF"));
        let text: String = pdf.iter().map(|&byte| char::from(byte)).collect();
        // A4 is 210 × 297 mm: 595.3 × 841.9 points.
        assert!(
            text.contains("/MediaBox [0 0 594.95996 841.91998]")
                || text.contains("/MediaBox [0 0 595"),
            "not A4"
        );
        let sheets = sheets(&text);
        let place = |dest: &str| {
            let (sheet, rest) = dest.split_once(" 0 R /XYZ ").expect("a place");
            let sheet = sheets
                .iter()
                .position(|one| *one == sheet)
                .expect("a sheet");
            let height = rest.split(' ').nth(1).expect("a height");
            (sheet, height.parse::<f64>().expect("a number"))
        };
        // What else has a title is the file.
        let headings = text.split("<</Title ").skip(1).filter_map(|entry| {
            let (title, rest) = entry.split_once("\n/")?;
            let rest = rest.strip_prefix("Dest [")?;
            let (sheet, height) = place(rest.split_once(']').expect("its end").0);
            Some((words(title), sheet, height))
        });
        let list = text.split_once("/Dests ").map_or("", |(_, after)| after);
        let list = list.split_once(" 0 R").map_or("", |(object, _)| object);
        let list = text
            .split_once(&format!("\n{list} 0 obj"))
            .map_or("", |(_, after)| after);
        let list = list.split_once("endobj").map_or("", |(list, _)| list);
        let targets = list.split('/').filter_map(|target| {
            let (name, dest) = target.split_once(" [")?;
            let sheet = dest.split_once(" 0 R")?.0;
            Some((
                name.to_owned(),
                sheets.iter().position(|one| *one == sheet)?,
            ))
        });
        Self {
            sheets: sheets.len(),
            headings: headings.collect(),
            targets: targets.collect(),
        }
    }

    fn sheet_of(&self, heading: &str) -> usize {
        let found = self.headings.iter().find(|(words, ..)| words == heading);
        found.unwrap_or_else(|| panic!("no {heading}")).1
    }
}

/// The numbers of the objects that are sheets, in their order: the leaves of a tree.
fn sheets(text: &str) -> Vec<&str> {
    let object = |number: &str| {
        let (_, after) = text
            .split_once(&format!("\n{number} 0 obj\n"))
            .expect("an object");
        after.split_once("endobj").expect("its end").0
    };
    let (_, root) = text.split_once("/Type /Catalog\n/Pages ").expect("a root");
    let mut open = vec![root.split_once(" 0 R").expect("a number").0];
    let mut sheets = Vec::new();
    while let Some(number) = open.pop() {
        let kids = object(number).split_once("/Kids [");
        match kids.filter(|(before, _)| before.contains("/Type /Pages")) {
            Some((_, kids)) => {
                let (kids, _) = kids.split_once(']').expect("their end");
                let kids = kids.split(" 0 R").map(str::trim);
                let kids: Vec<&str> = kids.filter(|kid| !kid.is_empty()).collect();
                open.extend(kids.iter().rev());
            }
            None => sheets.push(number),
        }
    }
    sheets
}

/// A title of an outline: in letters, or in pairs of hexadecimal bytes.
fn words(title: &str) -> String {
    match title.strip_prefix("<FEFF") {
        Some(coded) => {
            let units = coded.trim_end_matches('>').as_bytes().chunks(4);
            let units = units.map(|unit| {
                let unit = std::str::from_utf8(unit).expect("letters");
                u16::from_str_radix(unit, 16).expect("hexadecimal")
            });
            String::from_utf16_lossy(&units.collect::<Vec<_>>()).replace('\u{a0}', " ")
        }
        None => title.trim_matches(['(', ')']).to_owned(),
    }
}

/// As a sheet of paper is laid out, on the screen.
fn as_paper(browser: &mut Browser) {
    browser.call("Emulation.setEmulatedMedia", json!({"media": "print"}));
    browser.width(WIDTH);
}

fn as_screen(browser: &mut Browser) {
    browser.call("Emulation.setEmulatedMedia", json!({"media": ""}));
    browser.width(1440);
}

/// How high elements are on paper, px.
fn heights(browser: &mut Browser, selector: &str) -> Vec<f64> {
    as_paper(browser);
    let heights = browser.ask(&format!(
        "[...document.querySelectorAll('{selector}')].map(one => one.getBoundingClientRect().height)"
    ));
    as_screen(browser);
    heights
        .as_array()
        .expect("a list")
        .iter()
        .map(number)
        .collect()
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
    let media = json!({"media": "print"});
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
fn the_pages_print_on_whole_sheets() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in SCENARIOS {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
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
            as_screen(&mut browser);
            browser.open(&out.join(page));
            let printed = Printed::read(&browser.pdf());
            assert!(
                printed.sheets >= least,
                "{name} {page}: {} sheets",
                printed.sheets
            );
            // No heading is alone at the foot of a sheet.
            assert!(
                printed.headings.len() > 5,
                "{name} {page}: {}",
                printed.headings.len()
            );
            for (words, sheet, height) in &printed.headings {
                assert!(
                    *height >= FOOT + HEADING,
                    "{name} {page}: {words} on sheet {}, {height} points up",
                    sheet + 1
                );
            }
            if page == "report.html" {
                // Nor with no more than its introduction: what it is about begins on the same sheet.
                for (heading, first) in [("Queue by day", "q"), ("Plates", "p")] {
                    let number = |target: &&(String, usize)| {
                        target
                            .0
                            .strip_prefix(first)
                            .is_some_and(|rest| rest.parse::<usize>().is_ok())
                    };
                    let sheet = printed
                        .targets
                        .iter()
                        .filter(number)
                        .map(|(_, sheet)| *sheet)
                        .min();
                    assert_eq!(sheet, Some(printed.sheet_of(heading)), "{name}: {heading}");
                }
            }
            // Nothing is cut off at the side.
            as_paper(&mut browser);
            let wide = browser.ask("document.documentElement.scrollWidth");
            assert!(number(&wide) <= f64::from(WIDTH), "{name} {page}: {wide}");
        }
    }
}

#[test]
fn a_day_that_fits_on_one_sheet_is_not_spread_over_two() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in SCENARIOS {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        as_screen(&mut browser);
        browser.open(&out.join("day-sheets.html"));
        let printed = Printed::read(&browser.pdf());
        let heights = heights(&mut browser, ".sheet");
        // The title of the page comes first, which is not printed; the days, then the trays.
        let headings: Vec<_> = printed
            .headings
            .iter()
            .filter(|(words, ..)| !words.ends_with("day sheets"))
            .collect();
        assert_eq!(heights.len(), plan.sheets.days.len());
        assert!(headings.len() > heights.len(), "{name}: {headings:?}");
        let mut fitting = 0;
        for (pair, height) in headings.windows(2).zip(&heights) {
            let [(day, from, _), (_, to, _)] = [pair[0], pair[1]];
            // A line may turn out a pixel higher than on the screen.
            if *height < HEIGHT - 24.0 {
                fitting += 1;
                assert!(
                    to - from <= 1,
                    "{name}: {day} goes on from sheet {} to before {}",
                    from + 1,
                    to + 1
                );
            }
        }
        assert!(
            fitting * 10 >= heights.len() * 9,
            "{name}: {fitting} of {}",
            heights.len()
        );
    }
}

#[test]
fn times_and_numbers_of_the_kitting_lists_are_not_broken() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // Names that leave no room for anything else.
    let long = "bracket-for-the-lantern-on-the-wall-by-the-old-stairs";
    let scenario = scenario("first-week", |text| {
        text.replace("- id: bracket", &format!("- id: {long}"))
            .replace("bracket: 2", &format!("{long}: 2"))
            .replace(
                "- id: printer",
                "- id: the-printer-by-the-window-of-the-old-harbour-office",
            )
    });
    let (_above, out) = written(&scenario, &planned(&scenario));
    browser.open(&out.join("day-sheets.html"));
    for (width, media) in [(390, ""), (820, ""), (1440, ""), (WIDTH, "print")] {
        browser.call("Emulation.setEmulatedMedia", json!({"media": media}));
        browser.width(width);
        // A line is less than twice as high as its letters.
        let broken = browser.ask(
            "[...document.querySelectorAll('.kit td.when')].map(cell => { const range = document.createRange(); range.selectNodeContents(cell);
                return [cell.textContent, range.getBoundingClientRect().height / parseFloat(getComputedStyle(cell).fontSize)]; }).filter(([, lines]) => lines > 2)",
        );
        assert_eq!(broken, json!([]), "{width} px {media}");
        let cells = browser.ask("document.querySelectorAll('.kit td.when').length");
        assert!(number(&cells) > 10.0);
        let wide = browser.ask("document.documentElement.scrollWidth");
        assert!(
            number(&wide) <= f64::from(width),
            "{width} px {media}: {wide}"
        );
    }
}
