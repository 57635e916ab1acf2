//! Rules about the outlines of parts.
//!
//! Knows: corners, the part's sides. Must not know: beds, turns.
//! Promises: an outline that passes is a closed line that neither crosses nor touches itself, and is as wide and as deep
//! as its part.

use super::Facts;
use crate::geometry::Outline;
use crate::scenario::collector::Collector;
use crate::scenario::settle::size;

/// Millimetres, at print scale, by which an outline may differ from the sides that are written beside it.
const ROUNDED: f64 = 0.05;

/// An outline encloses an area, and no two of its sides meet but where they follow each other.
pub(super) fn outlines_are_closed_lines(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        let Some(outline) = part.outline.as_ref() else {
            continue;
        };
        let Some(trouble) = trouble(&outline.value) else {
            continue;
        };
        collector.error(
            outline.spot,
            &format!("{}.outline", part.path),
            "must be a closed line that neither crosses nor touches itself",
            &trouble,
            "list the corners in order around the part, each once",
        );
    }
}

/// What is wrong with a closed line, in words; its corners counted from 1.
fn trouble(corners: &[[f64; 2]]) -> Option<String> {
    let count = corners.len();
    let at = |corner: usize| corners[corner % count];
    let side = |from: usize| format!("{} to {}", from + 1, (from + 1) % count + 1);
    for from in 0..count {
        let (a, b, c) = (at(from), at(from + 1), at(from + 2));
        if a == b {
            return Some(format!(
                "corners {} are the same",
                side(from).replace("to", "and")
            ));
        }
        let back = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1]);
        if turn(a, b, c) == 0.0 && back < 0.0 {
            return Some(format!(
                "it goes back on itself at corner {}",
                (from + 1) % count + 1
            ));
        }
    }
    for from in 0..count {
        for other in from + 2..count {
            let neighbours = from == 0 && other == count - 1;
            if !neighbours && meet([at(from), at(from + 1)], [at(other), at(other + 1)]) {
                return Some(format!("side {} meets side {}", side(from), side(other)));
            }
        }
    }
    let none = Outline::new(corners.to_vec()).is_none();
    none.then(|| "it encloses no area".to_owned())
}

/// Twice the area of a triangle, above 0 if it runs counter-clockwise.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
}

/// Whether two segments have a point in common.
fn meet([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> bool {
    let apart = (0..2).any(|axis| {
        a[axis].max(b[axis]) < c[axis].min(d[axis]) || c[axis].max(d[axis]) < a[axis].min(b[axis])
    });
    let differ = |one: f64, other: f64| one.min(other) <= 0.0 && one.max(other) >= 0.0;
    !apart && differ(turn(a, b, c), turn(a, b, d)) && differ(turn(c, d, a), turn(c, d, b))
}

/// An outline is as wide and as deep as the first two sides of its part say.
pub(super) fn outlines_are_as_large_as_their_parts(facts: &Facts<'_>, collector: &mut Collector) {
    let Some(scale) = facts.raw.build.scale.as_ref() else {
        return;
    };
    for part in &facts.raw.parts {
        let (Some(outline), Some([x, y, _])) = (part.outline.as_ref(), size(part, scale.value))
        else {
            continue;
        };
        let (field, written) = match part.size.as_ref() {
            Some(_) => ("size", 1.0),
            None => ("model", scale.value),
        };
        let [wide, deep] = [0, 1].map(|axis| {
            let along = outline.value.iter().map(|corner| corner[axis]);
            let ends = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            });
            ends.1 - ends.0
        });
        let same = |side: f64, outline: f64| (side - outline * written).abs() <= ROUNDED;
        if !(same(x, wide) && same(y, deep)) {
            let shown = |mm: f64| (mm * 1000.0).round() / 1000.0;
            collector.error(
                outline.spot,
                &format!("{}.outline", part.path),
                format!(
                    "must be as wide and as deep as the first two sides of `{field}`, {} × {} mm",
                    shown(x / written),
                    shown(y / written)
                ),
                &format!("{} × {} mm", shown(wide), shown(deep)),
                format!(
                    "write `{field}: [{}, {}, …]`, or correct the corners: both are in mm{}",
                    shown(wide),
                    shown(deep),
                    if written == 1.0 {
                        " at print scale"
                    } else {
                        " before `scale`"
                    }
                ),
            );
        }
    }
}

/// A part with an outline is not split: what its lengths look like from above is not known.
pub(super) fn outlines_are_not_split(facts: &Facts<'_>, collector: &mut Collector) {
    for part in &facts.raw.parts {
        if let (Some(outline), Some(split)) = (part.outline.as_ref(), &part.split) {
            collector.error(
                split
                    .joint
                    .as_ref()
                    .map_or(outline.spot, |joint| joint.spot),
                &format!("{}.split", part.path),
                "must be never for a part with an `outline`",
                "",
                "leave `split` out, or `outline`: then its box counts",
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(corners: &[[i32; 2]]) -> Option<String> {
        let corners: Vec<[f64; 2]> = corners.iter().map(|c| c.map(f64::from)).collect();
        trouble(&corners)
    }

    #[test]
    fn a_line_that_meets_itself_is_found_with_the_sides_that_meet() {
        assert_eq!(
            found(&[[0, 0], [30, 0], [30, 10], [10, 10], [10, 30], [0, 30]]),
            None
        );
        // A bow tie; a corner on another side; a spike; a corner twice; a line there and back.
        let bow = found(&[[0, 0], [10, 10], [10, 0], [0, 10]]);
        assert_eq!(bow.as_deref(), Some("side 1 to 2 meets side 3 to 4"));
        let touch = found(&[[0, 0], [10, 0], [10, 10], [5, 0], [0, 10]]);
        assert_eq!(touch.as_deref(), Some("side 1 to 2 meets side 3 to 4"));
        let spike = found(&[[0, 0], [10, 0], [20, 0], [10, 0], [10, 10]]);
        assert_eq!(spike.as_deref(), Some("it goes back on itself at corner 3"));
        let twice = found(&[[0, 0], [10, 0], [10, 0], [0, 10]]);
        assert_eq!(twice.as_deref(), Some("corners 2 and 3 are the same"));
        assert!(found(&[[0, 0], [10, 0], [20, 0]]).is_some());
    }
}
