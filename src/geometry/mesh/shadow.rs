//! The outer line of a body's shadow on the bed.
//!
//! Knows: faces, edges, a direction. Must not know: what the outline is for.
//! Promises: the outline holds every face, to within a few millionths of a millimetre, and at most the simplification
//! more.
//!
//! Seen from above, let every face run counter-clockwise, whichever side it shows. Then the shadow is all that is
//! enclosed at least once, and the edges of all faces added up bound it: where two faces show the same side their common
//! edge cancels out, so only edges at which the side changes are left, few of all. The union of what they enclose (more
//! than zero times) is the shadow.

use std::collections::BTreeMap;

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::{Precision, Solver};
use i_overlay::float::overlay::{FloatOverlay, OverlayOptions};

use super::simplify;
use super::surface::{NONE, Surface};
use crate::geometry::Outline;

/// How much an outline may take in that the shadow does not, for fewer corners; mm.
pub(super) const SIMPLIFICATION: f64 = 0.05;
/// Specks of less than this share of the shadow come of rounding.
const SPECK: f64 = 1e-9;

/// A line, closed, without its first point again.
pub(super) type Contour = Vec<[f64; 2]>;

/// The outer line of the shadow with `axis` upright, in the bed's axes: (x, y) for z, (x, −z) for y, (y, z) for x, each
/// a turn of the body and no mirror image. A shadow of several regions is given as the hull of all.
pub(super) fn outline(
    surface: &Surface<'_>,
    axis: usize,
    [low, high]: [[f64; 3]; 2],
) -> Option<Outline> {
    let flat = |corner: [f64; 3]| -> [f64; 2] {
        match axis {
            0 => [corner[1], corner[2]],
            1 => [corner[0], -corner[2]],
            _ => [corner[0], corner[1]],
        }
    };
    let bounds = {
        let (one, other) = (flat(low), flat(high));
        [
            [one[0].min(other[0]), one[1].min(other[1])],
            [one[0].max(other[0]), one[1].max(other[1])],
        ]
    };
    let grid = Grid::over(bounds);
    let rims = rims(surface, axis, |corner| grid.snapped(flat(corner)));
    let loops: Vec<Contour> = rims
        .into_iter()
        .map(|rim| rim.into_iter().map(|at| grid.place(at)).collect())
        .collect();
    let line = outer_line(&union(&loops))?;
    Outline::new(simplify::outward(line, bounds, SIMPLIFICATION))
}

/// Whole steps that corners are rounded to, so that edges above each other are one and slivers are none.
struct Grid {
    low: [f64; 2],
    step: f64,
}

/// A corner in whole steps.
type Snapped = [i64; 2];

impl Grid {
    /// Steps of a millionth of a millimetre, wider for a body of more than some hundred metres.
    fn over([low, high]: [[f64; 2]; 2]) -> Self {
        let long = (high[0] - low[0]).max(high[1] - low[1]);
        Self {
            low,
            step: (long / f64::from(1 << 28)).max(1e-6),
        }
    }

    fn snapped(&self, point: [f64; 2]) -> Snapped {
        // Within the bounds, so far from the ends of i64.
        [0, 1].map(|axis| ((point[axis] - self.low[axis]) / self.step).round() as i64)
    }

    fn place(&self, [x, y]: Snapped) -> [f64; 2] {
        [
            self.low[0] + x as f64 * self.step,
            self.low[1] + y as f64 * self.step,
        ]
    }
}

/// A face that rises less than this much of its length counts as upright: it has no shadow.
const UPRIGHT: f64 = 1e-12;

/// Closed chains of corners along which the side that faces show changes.
fn rims(
    surface: &Surface<'_>,
    axis: usize,
    flat: impl Fn([f64; 3]) -> Snapped,
) -> Vec<Vec<Snapped>> {
    let side = |face: u32| -> i32 {
        if face == NONE {
            return 0;
        }
        let rise = surface.faces[face as usize].normal[axis];
        i32::from(rise > UPRIGHT) - i32::from(rise < -UPRIGHT)
    };
    // Each face contributes its own boundary, once or reversed: so at every corner as many edges end as begin, and go on
    // doing so when corners above each other become one.
    let mut times: BTreeMap<(Snapped, Snapped), i32> = BTreeMap::new();
    for edge in &surface.edges {
        let count = side(edge.left) - side(edge.right);
        if count != 0 {
            let (from, to) = (
                flat(surface.corner(edge.from)),
                flat(surface.corner(edge.to)),
            );
            match from.cmp(&to) {
                std::cmp::Ordering::Less => *times.entry((from, to)).or_insert(0) += count,
                std::cmp::Ordering::Greater => *times.entry((to, from)).or_insert(0) -= count,
                std::cmp::Ordering::Equal => {}
            }
        }
    }
    let mut onward: BTreeMap<Snapped, Vec<Snapped>> = BTreeMap::new();
    for ((low, high), count) in times {
        let (from, to) = if count > 0 { (low, high) } else { (high, low) };
        for _ in 0..count.abs() {
            onward.entry(from).or_default().push(to);
        }
    }
    let mut rims = Vec::new();
    while let Some((&start, _)) = onward.first_key_value() {
        let mut rim = Vec::new();
        let mut at = start;
        while let Some(nexts) = onward.get_mut(&at) {
            rim.push(at);
            let next = nexts.pop();
            if nexts.is_empty() {
                onward.remove(&at);
            }
            match next {
                Some(next) => at = next,
                None => break,
            }
            if at == start {
                break;
            }
        }
        rims.push(rim);
    }
    rims
}

/// What these lines enclose at least once: regions, each its outer line first and its holes after.
pub(super) fn union(lines: &[Contour]) -> Vec<Vec<Contour>> {
    // Coarser from round to round, so that it ends: with the default, version 9.1 never did on slivers thinner than the
    // rounding of their corners.
    let solver = Solver::with_precision(Precision::MEDIUM);
    FloatOverlay::<[f64; 2]>::with_subj_custom(lines, OverlayOptions::default(), solver)
        .overlay(OverlayRule::Subject, FillRule::NonZero)
}

/// The outer line of the only region, or the hull of several.
fn outer_line(regions: &[Vec<Contour>]) -> Option<Contour> {
    let outer = || regions.iter().filter_map(|region| region.first());
    let areas: Vec<f64> = outer().map(|line| simplify::area(line)).collect();
    let largest = areas.iter().copied().fold(0.0, f64::max);
    let mut whole = outer()
        .zip(&areas)
        .filter(|(_, area)| **area > SPECK * largest)
        .map(|(line, _)| line);
    let first = whole.next()?;
    Some(match whole.next() {
        None => first.clone(),
        Some(_) => hull(outer().flatten().copied().collect()),
    })
}

/// The convex hull, counter-clockwise.
///
/// Source: A. M. Andrew, "Another efficient algorithm for convex hulls in two dimensions", Information Processing
/// Letters 9 (1979) 216–219 (from memory): two chains over the points in order of x.
fn hull(mut points: Vec<[f64; 2]>) -> Contour {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    let chain = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Contour = Vec::new();
        for point in points {
            while let [.., a, b] = chain[..]
                && simplify::turn(a, b, point) <= 0.0
            {
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut lower = chain(&mut points.iter().copied());
    lower.extend(chain(&mut points.iter().rev().copied()));
    lower
}
