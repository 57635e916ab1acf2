//! Millimetres as whole numbers, and the regions in which the middle of one piece may not be for another.
//!
//! Knows: polygons, spacing; the only file that names the polygon libraries. Must not know: beds, orders, rules.
//! Promises: whole numbers only, so the same on every computer; a region never leaves out what is too near by more than
//! [`SLACK`].
//!
//! Where piece B may not be beside A is the sum of A and of B turned by half a turn, widened by the spacing: its
//! corners are the places where B touches what it must keep off. Source: the no-fit polygon; J. A. Bennell, J. F.
//! Oliveira, "The geometry of nesting problems: a tutorial", European Journal of Operational Research 184 (2008)
//! 397–415 (from memory).

use std::f64::consts::{PI, TAU};

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;
use i_triangle::int::minkowski::{IntMinkowskiOperand, IntMinkowskiSolver};

/// Steps of a millimetre: some 10⁻⁹ mm. The widest bed is 10 m, and a region is within three of them: 2⁴⁵ steps of the
/// 2⁶¹ that the library takes.
const STEPS: f64 = (1u64 << 30) as f64;

/// Millimetres by which pieces are let nearer than the spacing, so that what fits exactly has room; far less than the
/// tolerance with which a nest is examined.
pub(super) const SLACK: f64 = 1e-7;

/// Directions in which the spacing is exact whatever the outline, besides square to each of its sides.
const DIRECTIONS: usize = 16;

/// A place on the grid.
pub(super) type Point = IntPoint<i64>;
/// Closed lines on the grid: what is inside counter-clockwise ones and outside clockwise ones.
pub(super) type Lines = Vec<Vec<Point>>;

/// The nearest place on the grid.
pub(super) fn point([x, y]: [f64; 2]) -> Point {
    Point::new((x * STEPS).round() as i64, (y * STEPS).round() as i64)
}

/// A place in mm.
pub(super) fn mm(point: Point) -> [f64; 2] {
    [point.x as f64 / STEPS, point.y as f64 / STEPS]
}

/// A place turned counter-clockwise about the origin by so many right angles.
pub(super) fn quartered<T: Copy + std::ops::Neg<Output = T>>(
    [x, y]: [T; 2],
    quarters: u8,
) -> [T; 2] {
    match quarters % 4 {
        0 => [x, y],
        1 => [-y, x],
        2 => [-x, -y],
        _ => [y, -x],
    }
}

/// A polygon made ready for sums: as it is, and widened by the spacing.
pub(super) struct Ready {
    plain: IntMinkowskiOperand<i64>,
    wide: IntMinkowskiOperand<i64>,
}

/// The library's workspace.
#[derive(Default)]
pub(super) struct Sums(IntMinkowskiSolver<i64>);

impl Sums {
    /// Makes a polygon ready; `None` if nothing of it is left on the grid.
    pub fn ready(&mut self, corners: &[[f64; 2]], spacing: f64) -> Option<Ready> {
        let line: Vec<Point> = corners.iter().copied().map(point).collect();
        let plain = self.0.prepare(&line, FillRule::NonZero)?;
        let radius = spacing - SLACK;
        let wide = if radius > SLACK {
            let disc = disc(corners, radius);
            let disc = self.0.prepare(&disc, FillRule::NonZero)?;
            let sum = self.0.sum(&plain, &disc).ok()?;
            self.0.prepare(&sum, FillRule::NonZero)?
        } else {
            self.0.prepare(&line, FillRule::NonZero)?
        };
        Some(Ready { plain, wide })
    }

    /// Where the middle of `other` may not be while that of `one` is at the origin.
    pub fn forbidden(&mut self, one: &Ready, other: &Ready) -> Lines {
        let shapes = self.0.difference(&one.wide, &other.plain);
        // Coordinates beyond the range are impossible for what fits a bed: see STEPS.
        shapes.unwrap_or_default().into_iter().flatten().collect()
    }
}

/// A polygon around the disc of this radius, touching it square to each side of the outline and in every sixteenth
/// direction. So along a side the spacing is exact, and nowhere is it exceeded by more than two per cent.
fn disc(corners: &[[f64; 2]], radius: f64) -> Vec<Point> {
    let next = corners.iter().cycle().skip(1);
    let square = corners
        .iter()
        .zip(next)
        .map(|(a, b)| (a[0] - b[0]).atan2(b[1] - a[1]).rem_euclid(TAU));
    let even = (0..DIRECTIONS).map(|at| at as f64 * TAU / DIRECTIONS as f64);
    let mut directions: Vec<f64> = square.chain(even).collect();
    directions.sort_by(f64::total_cmp);
    directions.dedup_by(|next, kept| *next - *kept < 1e-9);
    let count = directions.len();
    (0..count)
        .map(|at| {
            let from = directions[at];
            let half = (directions[(at + 1) % count] - from).rem_euclid(TAU) / 2.0;
            debug_assert!(half < PI / 2.0, "every sixteenth direction is there");
            let (sin, cos) = (from + half).sin_cos();
            let reach = radius / half.cos();
            point([reach * cos, reach * sin])
        })
        .collect()
}

/// What is left of a region outside of others.
pub(super) struct Cut(Overlay<i64>);

impl Default for Cut {
    fn default() -> Self {
        Self(Overlay::new(64))
    }
}

impl Cut {
    /// The region without the inside of `taken`: lines, first turned by so many right angles, then moved.
    pub fn without<'a>(
        &mut self,
        region: &Lines,
        taken: impl Iterator<Item = (&'a Lines, u8, Point)>,
    ) -> Lines {
        self.0.clear();
        for line in region {
            self.0.add_contour(line, ShapeType::Subject);
        }
        for (lines, quarters, at) in taken {
            for line in lines {
                let points = line.iter().map(|p| {
                    let [x, y] = quartered([p.x, p.y], quarters);
                    Point::new(x + at.x, y + at.y)
                });
                self.0.add_path_iter(points, ShapeType::Clip);
            }
        }
        let left = self.0.overlay(OverlayRule::Difference, FillRule::NonZero);
        left.into_iter().flatten().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x: f64, y: f64) -> [[f64; 2]; 4] {
        let (x, y) = (x / 2.0, y / 2.0);
        [[-x, -y], [x, -y], [x, y], [-x, y]]
    }

    #[test]
    fn two_rectangles_keep_their_half_sides_and_the_spacing() {
        // 40 × 20 and 10 × 6, 4 mm apart: the middles are 20 + 5 + 4 = 29 apart along x, or 10 + 3 + 4 = 17 along y.
        let mut sums = Sums::default();
        let one = sums.ready(&rectangle(40.0, 20.0), 4.0).unwrap();
        let other = sums.ready(&rectangle(10.0, 6.0), 4.0).unwrap();
        let lines = sums.forbidden(&one, &other);
        let corners: Vec<[f64; 2]> = lines.iter().flatten().map(|&p| mm(p)).collect();
        let most = |axis: usize| corners.iter().map(|c| c[axis]).fold(0.0, f64::max);
        assert!(
            (most(0) - 29.0).abs() < 1e-6 && (most(1) - 17.0).abs() < 1e-6,
            "{corners:?}"
        );
    }

    #[test]
    fn what_is_left_has_a_hole_where_something_is_taken() {
        let mut cut = Cut::default();
        let region = vec![rectangle(100.0, 100.0).map(point).to_vec()];
        let taken = vec![rectangle(10.0, 10.0).map(point).to_vec()];
        let at = point([20.0, 0.0]);
        let left = cut.without(&region, std::iter::once((&taken, 1, at)));
        assert_eq!(left.len(), 2);
        let all = vec![rectangle(120.0, 120.0).map(point).to_vec()];
        assert!(cut.without(&left, std::iter::once((&all, 0, at))).len() == 1);
    }
}
