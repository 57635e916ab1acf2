//! How far apart two polygons are, wherever they lie.
//!
//! Knows: corners in mm. Must not know: pieces, spacing, plates.
//! Promises: exact but for rounding, for outlines of any shape; an overlap is told from a touch by its depth.

/// The least distance between two simple polygons in mm; where they overlap, less than nothing: minus the depth found.
///
/// The depth is that of the deepest point found, which is no more than the true one, and above zero wherever more than
/// the boundaries meet.
pub fn apart(one: &[[f64; 2]], other: &[[f64; 2]]) -> f64 {
    let mut near = f64::INFINITY;
    for (a, b) in sides(one) {
        for (c, d) in sides(other) {
            // No two points of them are nearer than their boxes are along either axis.
            let gap = |axis: usize| {
                let (low, high) = (a[axis].min(b[axis]), a[axis].max(b[axis]));
                (c[axis].min(d[axis]) - high).max(low - c[axis].max(d[axis]))
            };
            if gap(0).max(gap(1)) < near {
                near = near.min(between(a, b, c, d));
            }
        }
    }
    if near > 0.0 {
        let held = |points: &[[f64; 2]], by| points.first().is_some_and(|&point| inside(point, by));
        return if held(one, other) || held(other, one) {
            -near
        } else {
            near
        };
    }
    -depth(one, other).max(depth(other, one))
}

/// The sides of a polygon, from corner to corner.
fn sides(corners: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    let next = corners.iter().cycle().skip(1);
    corners.iter().zip(next).map(|(&a, &b)| (a, b))
}

/// Whether a point is inside a polygon: a ray from it crosses the outline an odd number of times.
fn inside([x, y]: [f64; 2], corners: &[[f64; 2]]) -> bool {
    let crossed = |&(a, b): &([f64; 2], [f64; 2])| {
        (a[1] > y) != (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]
    };
    sides(corners).filter(crossed).count() % 2 == 1
}

/// Least distance between two segments; 0 where they meet.
fn between(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> f64 {
    if crossing(a, b, c, d).is_some() {
        return 0.0;
    }
    to_segment(a, c, d)
        .min(to_segment(b, c, d))
        .min(to_segment(c, a, b))
        .min(to_segment(d, a, b))
}

/// How far along from `a` to `b` the segment to `d` from `c` is crossed; `None` where it is not, or is parallel.
fn crossing(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> Option<f64> {
    let (along, across) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]]);
    let from = [c[0] - a[0], c[1] - a[1]];
    let turn = along[0] * across[1] - along[1] * across[0];
    let (t, u) = (
        (from[0] * across[1] - from[1] * across[0]) / turn,
        (from[0] * along[1] - from[1] * along[0]) / turn,
    );
    // Of parallel segments both are infinite or no number, which is in no range.
    ((0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)).then_some(t)
}

/// Distance from a point to a segment.
fn to_segment(point: [f64; 2], from: [f64; 2], to: [f64; 2]) -> f64 {
    let (x, y) = (to[0] - from[0], to[1] - from[1]);
    let square = x * x + y * y;
    let share = if square > 0.0 {
        (((point[0] - from[0]) * x + (point[1] - from[1]) * y) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let off = [
        point[0] - from[0] - share * x,
        point[1] - from[1] - share * y,
    ];
    // Lengths of beds and pieces are far from where squares leave the range of doubles, which is all that `hypot` is slower for.
    (off[0] * off[0] + off[1] * off[1]).sqrt()
}

/// How deep in `other` the deepest point looked at of `one` is; 0 if none is inside. Looked at are the corners, the
/// middles between crossings of a side, and a point well inside, without which two like polygons in one place would
/// only touch.
fn depth(one: &[[f64; 2]], other: &[[f64; 2]]) -> f64 {
    let mut deepest = 0.0_f64;
    let mut look = |point: [f64; 2]| {
        if inside(point, other) {
            let off = sides(other).map(|(a, b)| to_segment(point, a, b));
            deepest = deepest.max(off.fold(f64::INFINITY, f64::min));
        }
    };
    for (a, b) in sides(one) {
        let mut cuts: Vec<f64> = sides(other)
            .filter_map(|(c, d)| crossing(a, b, c, d))
            .collect();
        cuts.extend([0.0, 1.0]);
        cuts.sort_by(f64::total_cmp);
        let at = |share: f64| [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
        look(a);
        for pair in cuts.windows(2) {
            look(at((pair[0] + pair[1]) / 2.0));
        }
    }
    look(well_inside(one));
    deepest
}

/// A point inside a polygon: in the middle of its widest stretch, halfway between the two heights of corners that are
/// furthest from each other.
fn well_inside(corners: &[[f64; 2]]) -> [f64; 2] {
    let mut heights: Vec<f64> = corners.iter().map(|corner| corner[1]).collect();
    heights.sort_by(f64::total_cmp);
    let widest = heights
        .windows(2)
        .max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
    let y = widest.map_or(0.0, |pair| (pair[0] + pair[1]) / 2.0);
    let mut cuts: Vec<f64> = sides(corners)
        .filter(|(a, b)| (a[1] > y) != (b[1] > y))
        .map(|(a, b)| (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0])
        .collect();
    cuts.sort_by(f64::total_cmp);
    let x = cuts
        .chunks_exact(2)
        .max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))
        .map_or(0.0, |pair| (pair[0] + pair[1]) / 2.0);
    [x, y]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Outline;

    fn at(outline: &Outline, x: f64, y: f64) -> Vec<[f64; 2]> {
        let corners = outline.corners().iter();
        corners
            .map(|corner| [corner[0] + x, corner[1] + y])
            .collect()
    }

    #[test]
    fn turned_outlines_are_as_far_apart_as_another_library_says() {
        // Computed with an independent geometry library (Shapely 2.2 on GEOS).
        let beam = Outline::rectangle(300.0, 20.0).unwrap().turned(45.0);
        let off = 24.0 / 2f64.sqrt();
        let found = apart(
            &at(&beam, 150.0, 150.0),
            &at(&beam, 150.0 - off, 150.0 + off),
        );
        assert!((found - 4.0).abs() < 1e-9, "{found}");
        let square = Outline::rectangle(40.0, 40.0).unwrap();
        for (x, y, wanted) in [(60.0, 0.0, 11.715_729), (45.0, 45.0, 15.355_339)] {
            let found = apart(&at(&square, 0.0, 0.0), &at(&square.turned(45.0), x, y));
            assert!((found - wanted).abs() < 1e-6, "{found}");
        }
    }

    #[test]
    fn an_overlap_is_told_from_a_touch() {
        let square = Outline::rectangle(40.0, 40.0).unwrap();
        let bar = Outline::rectangle(100.0, 10.0).unwrap();
        let middle = at(&square, 0.0, 0.0);
        assert_eq!(apart(&middle, &at(&square, 40.0, 0.0)), 0.0);
        // Two in one place, a bar right through, a smaller one inside: by no corner alone are all of them found.
        assert!(apart(&middle, &middle) < -19.0);
        assert!(apart(&middle, &at(&bar, 0.0, 0.0)) < -4.0);
        let small = Outline::rectangle(4.0, 4.0).unwrap();
        assert!(apart(&middle, &at(&small, 3.0, 3.0)) < -10.0);
        assert!(apart(&at(&small, 3.0, 3.0), &middle) < -10.0);
    }

    #[test]
    fn what_lies_in_a_notch_is_apart_from_both_arms() {
        // An L of 30 × 30 with arms of 10, about (0, 0): its notch is x and y from -5 to 15. A square of 8 with its
        // centre at (4, 4) begins at 0: 5 mm from either arm.
        let corners = [[0, 0], [30, 0], [30, 10], [10, 10], [10, 30], [0, 30]];
        let bracket = Outline::new(corners.map(|c| c.map(f64::from)).to_vec()).unwrap();
        let small = Outline::rectangle(8.0, 8.0).unwrap();
        let found = apart(bracket.corners(), &at(&small, 4.0, 4.0));
        assert!((found - 5.0).abs() < 1e-9, "{found}");
    }
}
