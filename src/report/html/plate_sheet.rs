//! One run's plate as a drawing of its own in real millimetres, to print 1 : 1 and lay on the bed.
//!
//! Knows: a run, its machine. Must not know: the pages, when the run is.
//! Promises: the bed is drawn as large as it is, with its left front corner at the drawing's; the heading ends within the bed's width,
//! whatever names there are.

use maud::{Markup, html};

use super::axis::short;
use super::bed::{Bed, path};
use super::colour::{colour_of, lettering};
use super::labels::{Letters, labels};
use super::plate::Plate;
use super::plates::{leaders, numbers_of};
use crate::plan::Plan;
use crate::report::words;
use crate::scenario::Scenario;

/// Room above the bed's back edge for what it is, mm.
const HEAD: f64 = 14.0;

/// The size of its letters: on one line; on two, and no smaller than that; mm.
const LARGE: f64 = 6.0;
const SMALL: f64 = 5.0;
const LEAST: f64 = 3.0;

/// Numbers on pieces: 10 points on paper at least.
const LETTERS: Letters = Letters {
    least: 3.5,
    most: 18.0,
};

pub(in crate::report) fn sheet(scenario: &Scenario, plan: &Plan, run: &Plate) -> String {
    let bed = Bed::of(&scenario.machines[run.machine.0], run.pieces);
    let shapes = bed.outlines(run.pieces);
    let labels = labels(&shapes, &bed, LETTERS);
    let filament = words::filament(scenario, run.filament);
    let colour = colour_of(scenario, run.filament);
    let entries = words::contents(scenario, plan, run.pieces).join(", ");
    let size = format!("{} × {} mm", short(bed.width), short(bed.height));
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" width={ (short(bed.width)) "mm" } height={ (short(bed.height + HEAD)) "mm" }
            viewBox={ "0 " (short(-HEAD)) " " (short(bed.width)) " " (short(bed.height + HEAD)) } font-family="Verdana, DejaVu Sans, sans-serif" {
            title { (run.id) " (" (filament) "): " (entries) }
            (heading(run.id, filament, &size, bed.width))
            g fill="none" stroke="#000000" stroke-width="0.3" { (bed.frame()) }
            path d=(path(&shapes)) fill=(colour) stroke="#000000" stroke-width="0.5" {}
            (leaders(&labels))
            g fill=(lettering(colour)) text-anchor="middle" font-weight="700" { (numbers_of(&labels, None)) }
        }
    };
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n",
        drawing.into_string()
    )
}

/// What it is, in one line if the bed is wide enough; else the run above, its filament and the bed below.
fn heading(run: &str, filament: &str, bed: &str, room: f64) -> Markup {
    let all = format!("{run}  {filament}  {bed}");
    if width(&all) * LARGE <= room {
        return html! { text x="0" y="-4" font-size=(short(LARGE)) fill="#000000" { (all) } };
    }
    // Of a narrow bed the letters are smaller, so that its size stands whole.
    let size = (room / width(bed)).clamp(LEAST, SMALL);
    let left = room / size - width(bed) - width("  ");
    let below = match shortened(filament, left) {
        name if name.chars().count() > 1 => format!("{name}  {bed}"),
        _ => bed.to_owned(),
    };
    html! {
        text x="0" y="-8.5" font-size=(short(size)) fill="#000000" { (shortened_run(run, room / size)) }
        text x="0" y="-2.5" font-size=(short(size)) fill="#000000" { (below) }
    }
}

/// A text that is no wider than said, in sizes of its letters; what had to go is three dots.
fn shortened(text: &str, room: f64) -> String {
    if width(text) <= room {
        return text.to_owned();
    }
    let mut left = room - letter('…');
    let whole = text.chars().take_while(|&next| {
        left -= letter(next);
        left >= 0.0
    });
    whole.chain(['…']).collect()
}

/// The same of a run's name, of which the number stays: it tells the plate from others of its machine.
fn shortened_run(run: &str, room: f64) -> String {
    match run.rsplit_once('-').filter(|_| width(run) > room) {
        Some((machine, number)) => {
            let number = format!("-{number}");
            shortened(machine, room - width(&number)) + &number
        }
        None => shortened(run, room),
    }
}

/// How wide a text is at most, in sizes of its letters.
fn width(text: &str) -> f64 {
    text.chars().map(letter).sum()
}

/// How wide a letter is at most in Verdana and DejaVu Sans; those of other scripts are as wide as they are high.
fn letter(letter: char) -> f64 {
    match letter {
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '…' => 1.08,
        'A'..='Z' | '#' | '+' | '=' | '~' | '<' | '>' | '_' | '&' | '×' => 0.85,
        ' '..='~' => 0.66,
        _ => 1.05,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_is_one_line_where_there_is_room_and_else_two() {
        // 27 letters of at most 0.85 and 6 mm: 138 mm at most.
        let one = heading("tall-001", "yellow", "300 × 300 mm", 300.0).into_string();
        assert!(
            one.contains(">tall-001  yellow  300 × 300 mm<") && one.contains("font-size=\"6\"")
        );
        let two = heading("tall-001", "yellow", "100 × 100 mm", 100.0).into_string();
        assert!(
            two.contains(">tall-001<") && two.contains(">yellow  100 × 100 mm<"),
            "{two}"
        );
    }

    #[test]
    fn what_is_too_wide_has_dots_within_the_bed_and_a_run_keeps_its_number() {
        let long = "the-machine-by-the-window-of-the-old-harbour-office-001";
        for room in [60.0, 120.0, 220.0] {
            let found = heading(long, &long.to_uppercase(), "120 × 120 mm", room).into_string();
            assert!(found.contains("120 × 120 mm</text>"), "{found}");
            // The run of 55 letters is 36.3 sizes wide: of 5 mm it has room on 220 mm, the filament in capitals never has.
            assert!(found.contains("-001</text>"), "{found}");
            assert_eq!(found.contains("…-001</text>"), room < 200.0, "{found}");
            assert!(!found.contains(&long.to_uppercase()), "{found}");
        }
        // 5 letters of 0.66 and the dots are 4.38; one more letter would be 5.04.
        assert_eq!(shortened("abcdefghijk", 5.0), "abcde…");
        assert_eq!(shortened("abcdefghijk", 7.3), "abcdefghijk");
    }
}
