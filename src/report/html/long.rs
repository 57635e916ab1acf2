//! How the long parts are made: where each is cut, how it is joined, with which hardware, and why.
//!
//! Knows: the routes that a plan uses. Must not know: other routes, dates.
//! Promises: every part that is split, on a belt or at an angle for its length, or that another kind of machine would make for less,
//! is drawn to one scale with its cuts in mm.

use maud::{Markup, html};

use super::Page;
use super::axis::{per_cent, short};
use super::code::quoted;
use crate::plan::RouteUse;
use crate::report::words;
use crate::routes::RouteKind;
use crate::scenario::Joint;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let mut long: Vec<&RouteUse> = page
        .plan
        .routes
        .iter()
        .filter(|used| used.is_told())
        .collect();
    // Those with most cuts first: they are the most work.
    long.sort_by_key(|used| (std::cmp::Reverse(used.pieces), used.part));
    let longest = long
        .iter()
        .map(|used| length(page, used))
        .fold(0.0, f64::max);
    let others = page
        .plan
        .routes
        .iter()
        .filter(|used| !used.is_told())
        .count();
    (!page.plan.routes.is_empty()).then(|| html! {
        @if long.is_empty() { p.lead { "No part is too long for a bed." } }
        @else { p.lead { "All at one scale. Figures are millimetres from the left end." } }
        ul.beams { @for used in &long { (beam(page, used, longest)) } }
        @if !cuts(page).is_empty() {
            h3 { "Hardware to cut" }
            ul.plain { @for (count, joint, item, length) in cuts(page) { li { b { (count) "×" } " " (item) ", " b { (length) " mm" } " (" (joint) ")" } } }
        }
        @if others > 0 { p.soft { (words::count(others, "other way", "other ways")) " of making a part need no word: in one piece that a bed takes." } }
    })
}

fn length(page: &Page, used: &RouteUse) -> f64 {
    let sides = page.scenario.parts[used.part.0].size;
    sides.iter().map(|side| side.0).fold(0.0, f64::max)
}

fn joint<'a>(page: &Page<'a>, used: &RouteUse) -> Option<&'a Joint> {
    used.joint.map(|joint| &page.scenario.joints[joint.0])
}

fn beam(page: &Page, used: &RouteUse, longest: f64) -> Markup {
    let part = &page.scenario.parts[used.part.0];
    let whole = length(page, used);
    let [x, y, z] = part.size.map(|side| short(tenth(side.0)));
    let machine = &page.scenario.machines[used.machine.0].id;
    let cuts = used.cuts(page.scenario);
    html! {
        li {
            p { b { (used.quantity) "× " (part.id) } ", " (x) " × " (y) " × " (z) " mm: "
                @match used.route {
                    RouteKind::Split => { "in " b { (used.pieces) " lengths of " (short(tenth(whole / f64::from(used.pieces)))) " mm" } " on " (machine) },
                    RouteKind::Belt => { "in one piece on " b { (machine) } },
                    RouteKind::Diagonal => { "in one piece on the diagonal of " b { (machine) } },
                    RouteKind::Whole | RouteKind::Turned => { "in one piece on " b { (machine) } },
                }
                @if let Some(joint) = joint(page, used) {
                    ", joined by " b { (joint.id) }
                    @if let Some(cut) = &joint.hardware { " (" (used.joints()) "× " (cut.item) ", " (short(cut.length.0)) " mm)" }
                }
            }
            svg.beam height="44" role="img" aria-label={ (part.id) ": cut at " (words_of(&cuts.iter().map(|cut| cut.0).collect::<Vec<_>>())) } {
                rect.{ "bar f" (part.filament.0) } x="0" y="4" height="18" width=(per_cent(whole / longest * 100.0)) {}
                @for cut in &cuts {
                    @let x = per_cent(cut.0 / longest * 100.0);
                    line.cut-under x1=(x) x2=(x) y1="0" y2="28" {}
                    line.cut x1=(x) x2=(x) y1="0" y2="28" {}
                    svg.mark x=(x) { text y="41" text-anchor="middle" { (short(tenth(cut.0))) } }
                }
                svg.mark x=(per_cent(whole / longest * 100.0)) { text y="41" text-anchor="end" { (short(tenth(whole))) } }
            }
            p.soft { (quoted(&used.why)) }
        }
    }
}

fn words_of(cuts: &[f64]) -> String {
    if cuts.is_empty() {
        return "nowhere".to_owned();
    }
    let cuts: Vec<String> = cuts.iter().map(|cut| short(tenth(*cut))).collect();
    cuts.join(", ") + " mm"
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// What is to be cut, by joint: how many, the joint, the item, its length in mm.
fn cuts<'a>(page: &Page<'a>) -> Vec<(u32, &'a str, &'a str, String)> {
    let joints = page.scenario.joints.iter().enumerate();
    joints
        .filter_map(|(index, joint)| {
            let hardware = joint.hardware.as_ref()?;
            let used = page.plan.routes.iter();
            let used = used.filter(|used| used.joint.is_some_and(|joint| joint.0 == index));
            let count: u32 = used.map(RouteUse::joints).sum();
            let length = short(tenth(hardware.length.0));
            (count > 0).then_some((count, joint.id.as_str(), hardware.item.as_str(), length))
        })
        .collect()
}
