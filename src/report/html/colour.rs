//! How filaments are shown: in their true colour, on any ground, and by a mark besides.
//!
//! Knows: colours as red, green and blue. Must not know: runs, plates.
//! Promises: what is written on a filament's colour has a contrast of at least 4.5 : 1, its edge one of at least 3 : 1; two filaments
//! beside each other in the scenario never have the same mark.

use maud::{Markup, PreEscaped, html};

use crate::plan::Plan;
use crate::scenario::{FilamentIndex, Scenario};

/// Relative luminance, 0 to 1, of a colour such as `#e8b10a`; a colour that cannot be read counts as middling.
///
/// Source: Web Content Accessibility Guidelines 2.2, "relative luminance".
fn luminance(colour: &str) -> f64 {
    let channel = |at: usize| -> Option<f64> {
        let value = u8::from_str_radix(colour.get(at..at + 2)?, 16).ok()?;
        let share = f64::from(value) / 255.0;
        Some(if share <= 0.040_45 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        })
    };
    match (channel(1), channel(3), channel(5)) {
        (Some(red), Some(green), Some(blue)) => 0.2126 * red + 0.7152 * green + 0.0722 * blue,
        _ => 0.2,
    }
}

/// Contrast of two luminances, 1 to 21. Source: as [`luminance`], "contrast ratio".
fn contrast(one: f64, other: f64) -> f64 {
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// Black or white, whichever is read better on a colour.
pub(super) fn lettering(colour: &str) -> &'static str {
    let ground = luminance(colour);
    if contrast(ground, 0.0) >= contrast(ground, 1.0) {
        "#000000"
    } else {
        "#ffffff"
    }
}

/// The ink and the paper of `look.css`, by light and by dark.
const GROUNDS: [(&str, &str); 2] = [("#16181b", "#fcfbf7"), ("#f3f0e8", "#14161a")];

/// What parts a colour from whatever lies beside it, as is needed for shapes.
///
/// Source: Web Content Accessibility Guidelines 2.2, 1.4.11, "non-text contrast".
const EDGE: f64 = 3.0;

/// Whether a colour is so near the ink of a ground that an edge of ink would be lost on it; one of paper shows, then.
fn is_inky(colour: &str, ink: &str) -> bool {
    contrast(luminance(colour), luminance(ink)) < EDGE
}

/// Marks along the foot of whatever has a filament's colour, as paths in a tile of 12 × 6: none is a turn or shift of another.
const MARKS: [&str; 8] = [
    "",                        // plain
    "M0 3H7",                  // dashes
    "M2 1V5M5 1V5",            // pairs of bars
    "M0 5.5L6 .5L12 5.5",      // waves
    "M3 2.9v.2M9 2.9v.2",      // dots
    "M0 1.2H12M0 4.8H12",      // two lines
    "M1 1L5 5M5 1L1 5",        // crosses
    "M0 5.5L5 .5M6 5.5L11 .5", // slants
];

/// What a filament that the scenario has no more is drawn in.
const UNKNOWN: &str = "#808080";

/// The colour of a filament.
pub(super) fn colour_of(scenario: &Scenario, filament: Option<FilamentIndex>) -> &str {
    filament.map_or(UNKNOWN, |filament| &scenario.filaments[filament.0].colour)
}

/// The number in a filament's classes; one that the scenario has no more comes after all others.
pub(super) fn shade(scenario: &Scenario, filament: Option<FilamentIndex>) -> usize {
    filament.map_or(scenario.filaments.len(), |filament| filament.0)
}

/// The style rules and patterns of all filaments: class `f3` fills with the fourth one's colour, `t3` with what is read on it, and
/// `url(#m3)` is its mark.
pub(super) fn definitions(scenario: &Scenario, plan: &Plan) -> Markup {
    let mut rules = String::new();
    let colours = scenario
        .filaments
        .iter()
        .map(|filament| filament.colour.as_str());
    let mut colours: Vec<&str> = colours.collect();
    if plan.standing().iter().any(|run| run.filament.is_none()) {
        colours.push(UNKNOWN);
    }
    for (at, &fill) in colours.iter().enumerate() {
        let text = lettering(fill);
        rules.push_str(&format!(
            ".f{at}{{fill:{fill};background:{fill}}}text.t{at},.t{at} text{{fill:{text}!important;color:{text}}}"
        ));
        // Around a swatch; in the chart the edge lies behind the bar.
        for (media, (ink, _)) in [
            "print,(prefers-color-scheme:light)",
            "screen and (prefers-color-scheme:dark)",
        ]
        .iter()
        .zip(GROUNDS)
        {
            if is_inky(fill, ink) {
                rules.push_str(&format!("@media {media}{{.bar.f{at}{{stroke:var(--paper);stroke-width:2.5;paint-order:stroke}}.k{at}{{fill:var(--paper)}}}}"));
            }
        }
    }
    html! {
        // Colours are `#` and six digits, which validation holds them to; nothing in the rules needs escaping.
        style { (PreEscaped(rules)) }
        svg.defs width="0" height="0" aria-hidden="true" focusable="false" {
            defs {
                pattern #offline width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    path .hatch d="M0 0V8";
                }
                @for (at, colour) in colours.iter().enumerate() {
                    pattern id={ "m" (at) } width="12" height="6" patternUnits="userSpaceOnUse" {
                        path d=(MARKS[at % MARKS.len()]) fill="none" stroke=(lettering(colour)) stroke-width="1.6" stroke-linecap="round";
                    }
                }
            }
        }
    }
}

/// A filament's swatch: its colour, outlined, with its mark.
pub(super) fn swatch(at: usize) -> Markup {
    html! {
        svg.swatch width="30" height="18" aria-hidden="true" focusable="false" {
            rect .{ "bar f" (at) } x="1" y="1" width="28" height="16" {}
            rect x="2" y="12" width="26" height="5" fill={ "url(#m" (at) ")" } {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn luminance_and_contrast_are_those_of_the_guidelines() {
        // WCAG 2.2: white 1, black 0, so 21 : 1. #777777 on white is 4.48 : 1, #767676 is 4.54 : 1 (the darkest grey that fails
        // and the lightest that passes, widely published).
        assert!((contrast(luminance("#ffffff"), luminance("#000000")) - 21.0).abs() < 1e-9);
        assert!((contrast(luminance("#777777"), 1.0) - 4.48).abs() < 0.005);
        assert!((contrast(luminance("#767676"), 1.0) - 4.54).abs() < 0.005);
    }

    #[test]
    fn what_is_written_on_any_colour_can_be_read() {
        for step in 0..=0xfff {
            let [red, green, blue] = [step >> 8, (step >> 4) & 15, step & 15].map(|half| half * 17);
            let colour = format!("#{red:02x}{green:02x}{blue:02x}");
            let ratio = contrast(luminance(&colour), luminance(lettering(&colour)));
            assert!(ratio >= 4.5, "{colour}: {ratio}");
        }
    }

    #[test]
    fn every_colour_has_an_edge_that_shows_by_light_and_by_dark() {
        let style = include_str!("look.css");
        for (ink, paper) in GROUNDS {
            assert!(
                style.contains(&format!("--paper: {paper}; --ink: {ink};")),
                "{ink} {paper}"
            );
            for step in 0..=0xfff {
                let [red, green, blue] =
                    [step >> 8, (step >> 4) & 15, step & 15].map(|half| half * 17);
                let colour = format!("#{red:02x}{green:02x}{blue:02x}");
                let edge = if is_inky(&colour, ink) { paper } else { ink };
                let ratio = contrast(luminance(&colour), luminance(edge));
                assert!(ratio >= EDGE, "{colour} {edge}: {ratio}");
            }
        }
        // Coal by day and chalk by night have an edge of paper, each of them by the other light one of ink.
        assert_eq!(
            GROUNDS.map(|(ink, _)| is_inky("#17181a", ink)),
            [true, false]
        );
        assert_eq!(
            GROUNDS.map(|(ink, _)| is_inky("#f4f2ea", ink)),
            [false, true]
        );
    }

    #[test]
    fn marks_are_told_apart() {
        let mut marks = MARKS.to_vec();
        marks.sort_unstable();
        marks.dedup();
        assert_eq!(marks.len(), MARKS.len());
    }
}
