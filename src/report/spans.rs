//! What parts that span sag at once: bare, and with each rod or tube there is.
//!
//! Knows: spans as they were reckoned. Must not know: how.
//! Promises: a rod that makes a beam sag more is said to; every figure stands under a word on what it leaves out.

use crate::scenario::{Ends, Scenario};
use crate::strength::{Span, Verdict};
use crate::units::Millimetres;

use super::Look;
use super::grid::{Fit, Grid, TIE, Text, Tone, heading, paragraph};
use super::money::Hundredths;
use super::words;

/// All of it: each span with every rod and tube. Nothing without spans.
pub fn spans(scenario: &Scenario, spans: &[Span], look: &Look) -> String {
    drawn(scenario, spans, look, true)
}

/// Each span in a line. Nothing without spans.
pub(super) fn spans_in_short(scenario: &Scenario, spans: &[Span], look: &Look) -> String {
    drawn(scenario, spans, look, false)
}

fn drawn(scenario: &Scenario, spans: &[Span], look: &Look, whole: bool) -> String {
    if spans.is_empty() {
        return String::new();
    }
    let mut grid = Grid::new([
        Fit::Upto(18),
        Fit::Number(10),
        Fit::Number(7),
        Fit::Number(9),
        Fit::Number(9),
    ]);
    grid.head(["Part", "Span", "Load", "Sag", "At most", ""]);
    for span in spans {
        let (tone, said) = verdict(scenario, span);
        let part = &scenario.parts[span.part.0];
        grid.row([
            part.id.as_str().into(),
            whole_mm(span.length).into(),
            words::mass(span.load).into(),
            sag(span.sag).into(),
            sag(span.limit).into(),
            Text::from(said).tone(tone),
        ]);
        for (at, with) in span.reinforced.iter().enumerate().filter(|_| whole) {
            let joint = &scenario.joints[with.joint.0].id;
            let said = rod(scenario, span, at);
            let tail = if with.fits {
                format!("with {joint}, {said}")
            } else {
                format!("{joint}: {said}")
            };
            let sag = if with.fits {
                sag(with.sag)
            } else {
                "—".to_owned()
            };
            grid.row([
                "".into(),
                "".into(),
                "".into(),
                sag.into(),
                "".into(),
                tail.into(),
            ]);
        }
    }
    heading(look, "Spans") + &grid.render(look, 0) + &paragraph(look, 0, CAUTION)
}

/// What every figure of a span leaves out.
pub(super) const CAUTION: &str = "Sag at once, of one straight beam at its best: plastic creeps and sags further under a lasting \
    load, PLA at room temperature too, and a glued joint is weaker than the beam. A guide for choosing a rod, no proof that anything \
    holds; a rod or tube counts over the full length, bonded, in the middle of the section.";

/// `11 g, 0.71 EUR: the lightest that is enough`: what is to be said of one rod or tube in a span.
pub(super) fn rod(scenario: &Scenario, span: &Span, at: usize) -> String {
    let with = &span.reinforced[at]; // the caller goes through them
    if !with.fits {
        return "no room for it inside".to_owned();
    }
    let more = match (with.sag > span.sag, with.sag > span.limit) {
        (true, _) => ": sags more, it weighs more than it stiffens",
        (false, true) => ": not enough",
        (false, false) if span.lightest == Some(at) => ": the lightest that is enough",
        (false, false) => "",
    };
    let price = Hundredths::nearest(with.price);
    let currency = &scenario.currency;
    format!("{}, {price}{TIE}{currency}{more}", words::mass(with.mass))
}

/// Whether a part is enough as it is printed, or with what; and how loud that is to be said.
pub(super) fn verdict(scenario: &Scenario, span: &Span) -> (Tone, String) {
    let held = match span.ends {
        Ends::Simple => "",
        Ends::Cantilever => "free end: ",
        Ends::Clamped => "held at both ends: ",
    };
    let named = |at: usize| {
        let joint = span.reinforced[at].joint; // a verdict names one of them
        scenario.joints[joint.0].id.as_str()
    };
    let (tone, what) = match (span.verdict, span.lightest) {
        (Verdict::Bare, Some(at)) if span.may_be_split => (
            Tone::Plain,
            format!("enough as printed; where split, {}", named(at)),
        ),
        (Verdict::Bare, _) => (Tone::Plain, "enough as printed".to_owned()),
        (Verdict::With(at), _) => (Tone::Strong, format!("too much; {} is enough", named(at))),
        (Verdict::Nothing, _) if span.reinforced.is_empty() => (Tone::Mark, "too much".to_owned()),
        (Verdict::Nothing, _) => (Tone::Mark, "too much, with any rod or tube".to_owned()),
    };
    (tone, format!("{held}{what}"))
}

pub(super) fn whole_mm(length: Millimetres) -> String {
    format!("{:.0}{TIE}mm", length.0)
}

/// Three figures are more than a beam of plastic is good for.
pub(super) fn sag(length: Millimetres) -> String {
    let places = if length.0 < 1.0 { 2 } else { 1 };
    format!("{:.places$}{TIE}mm", length.0)
}
