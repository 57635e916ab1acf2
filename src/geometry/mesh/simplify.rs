//! Fewer corners for an outline, never at the price of what it holds.
//!
//! Knows: closed lines. Must not know: meshes.
//! Promises: the new line encloses the old one, adds nowhere more than the tolerance, and keeps within the old one's box.

use super::shadow::{Contour, union};

/// The line counter-clockwise through fewer corners: it encloses the old one, and every point that it adds is within
/// `tolerance` of it.
///
/// Two steps that only add: a hollow corner is skipped, which adds the triangle to its neighbours; an edge between two
/// convex corners is left out, its neighbours prolonged until they meet. What an edge has already been moved is kept
/// with it, so that steps upon steps add no more than they may.
pub(super) fn outward(line: Contour, [low, high]: [[f64; 2]; 2], tolerance: f64) -> Contour {
    let mut corners: Vec<Node> = line.iter().map(|&at| Node { at, moved: 0.0 }).collect();
    for share in [0.02, 1.0] {
        let allowed = tolerance * share;
        loop {
            let before = corners.len();
            skip_hollow(&mut corners, allowed);
            drop_edges(&mut corners, allowed, [low, high]);
            if corners.len() == before || corners.len() <= 4 {
                break;
            }
        }
    }
    let simple: Contour = corners.iter().map(|node| node.at).collect();
    // Across a slit narrower than the tolerance two sides can come to overlap, and close off what is behind it. Then the
    // line stays as it was.
    let grown = area(&simple) - area(&line);
    match union(std::slice::from_ref(&simple)).as_slice() {
        [region] if region.len() == 1 && grown >= -1e-9 * area(&line) => {
            let kept = area(&region[0]);
            if (kept - area(&simple)).abs() <= 1e-9 * kept {
                simple
            } else {
                line
            }
        }
        _ => line,
    }
}

/// A corner, and how far the edge from it to the next has been moved outward already.
#[derive(Clone, Copy)]
struct Node {
    at: [f64; 2],
    moved: f64,
}

fn skip_hollow(corners: &mut Vec<Node>, allowed: f64) {
    let mut kept: Vec<Node> = Vec::with_capacity(corners.len());
    let count = corners.len();
    for at in 0..count {
        let here = corners[at];
        let left = count - at; // this one and those to come
        let Some(&before) = kept.last() else {
            kept.push(here);
            continue;
        };
        let after = if at + 1 < count {
            corners[at + 1]
        } else {
            kept[0]
        };
        let height = distance(here.at, before.at, after.at);
        let moved = before.moved.max(here.moved) + height;
        if kept.len() + left > 4 && turn(before.at, here.at, after.at) <= 0.0 && moved <= allowed {
            // Not empty: `before` is its last.
            if let Some(last) = kept.last_mut() {
                last.moved = moved;
            }
        } else {
            kept.push(here);
        }
    }
    *corners = kept;
}

fn drop_edges(corners: &mut Vec<Node>, allowed: f64, [low, high]: [[f64; 2]; 2]) {
    let mut at = 0;
    while at < corners.len() && corners.len() > 4 {
        let count = corners.len();
        let [a, b, c, d] = [0, 1, 2, 3].map(|step| corners[(at + step) % count]);
        let meets = (turn(a.at, b.at, c.at) > 0.0 && turn(b.at, c.at, d.at) > 0.0)
            .then(|| meeting(a.at, b.at, c.at, d.at))
            .flatten()
            .filter(|tip| (0..2).all(|axis| (low[axis]..=high[axis]).contains(&tip[axis])));
        let added = meets.map(|tip| b.moved + reach(tip, b.at, c.at));
        if let (Some(tip), Some(added)) = (meets, added)
            && added <= allowed
        {
            corners[at].moved = a.moved.max(added);
            corners[(at + 1) % count] = Node {
                at: tip,
                moved: c.moved.max(added),
            };
            corners.remove((at + 2) % count);
            // Removed before `at`, the same corner stands one place earlier.
            if (at + 2) % count < at {
                at -= 1;
            }
        }
        at += 1;
    }
}

/// Where the line from a through b, prolonged, meets the one from d through c.
fn meeting(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> Option<[f64; 2]> {
    let (along, back) = (from(a, b), from(d, c));
    let denominator = along[0] * back[1] - along[1] * back[0];
    let gap = from(b, c);
    let t = (gap[0] * back[1] - gap[1] * back[0]) / denominator;
    let s = (gap[0] * along[1] - gap[1] * along[0]) / denominator;
    // Both prolonged forward, else they meet on the other side of the world.
    (t > 0.0 && s > 0.0 && t.is_finite() && s.is_finite())
        .then(|| [b[0] + t * along[0], b[1] + t * along[1]])
}

fn from(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [b[0] - a[0], b[1] - a[1]]
}

/// Above 0 where the way from a over b to c turns left.
pub(super) fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    let (one, other) = (from(a, b), from(a, c));
    one[0] * other[1] - one[1] * other[0]
}

/// Distance of a point from the line through two others, or from the first where they are one.
fn distance(point: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let base = from(a, b);
    let long = base[0].hypot(base[1]);
    if long > 0.0 {
        turn(a, b, point).abs() / long
    } else {
        let gap = from(a, point);
        gap[0].hypot(gap[1])
    }
}

/// Distance of a point from the stretch between two others.
fn reach(point: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let beside = |end: [f64; 2], other: [f64; 2]| {
        let (gap, along) = (from(end, point), from(end, other));
        let before = gap[0] * along[0] + gap[1] * along[1] < 0.0;
        before.then(|| gap[0].hypot(gap[1]))
    };
    beside(a, b)
        .or_else(|| beside(b, a))
        .unwrap_or_else(|| distance(point, a, b))
}

/// Area that a line encloses, above 0 if counter-clockwise.
pub(super) fn area(line: &[[f64; 2]]) -> f64 {
    let Some(&origin) = line.first() else {
        return 0.0;
    };
    line.windows(2)
        .map(|pair| turn(origin, pair[0], pair[1]) / 2.0)
        .sum()
}
