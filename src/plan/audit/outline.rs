//! Rectangles turned about their centres: their corners, and how far apart two of them are.
//!
//! Knows: plane geometry in mm and degrees. Must not know: parts, machines, plans.
//! Promises: the distance between two rectangles is exact but for rounding, whatever their angles.

/// A rectangle as it lies: four corners in order around it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outline {
    corners: [[f64; 2]; 4],
    /// Directions of its two pairs of sides, of length 1; each is square to the other pair.
    axes: [[f64; 2]; 2],
}

impl Outline {
    /// A `width × depth` rectangle about `centre`, turned counter-clockwise.
    pub fn turned(centre: [f64; 2], width: f64, depth: f64, degrees: f64) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let corner = |across: f64, along: f64| {
            let (u, v) = (across * width / 2.0, along * depth / 2.0);
            [centre[0] + u * cos - v * sin, centre[1] + u * sin + v * cos]
        };
        Self {
            corners: [
                corner(-1.0, -1.0),
                corner(1.0, -1.0),
                corner(1.0, 1.0),
                corner(-1.0, 1.0),
            ],
            axes: [[cos, sin], [-sin, cos]],
        }
    }

    /// Least and greatest coordinate along one axis of the bed (0: x, 1: y).
    pub fn extent(&self, axis: usize) -> (f64, f64) {
        self.corners
            .iter()
            .map(|corner| corner[axis])
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            })
    }

    /// Distance to another rectangle; below zero if they overlap, by the least shift that would part them.
    pub fn distance(&self, other: &Outline) -> f64 {
        // Two convex outlines are apart exactly if they are apart square to some side of one of them.
        let apart = [self, other]
            .iter()
            .flat_map(|outline| outline.axes)
            .map(|normal| {
                let (low, high) = self.shadow(normal);
                let (other_low, other_high) = other.shadow(normal);
                (other_low - high).max(low - other_high)
            })
            .fold(f64::NEG_INFINITY, f64::max);
        if apart <= 0.0 {
            return apart;
        }
        // Apart, the nearest points of two convex outlines include a corner of one of them.
        self.nearest_corner_of(other)
            .min(other.nearest_corner_of(self))
    }

    /// Least and greatest reach along a direction.
    fn shadow(&self, direction: [f64; 2]) -> (f64, f64) {
        self.corners
            .iter()
            .map(|corner| corner[0] * direction[0] + corner[1] * direction[1])
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            })
    }

    /// Least distance from any corner of `other` to any side of this outline.
    fn nearest_corner_of(&self, other: &Outline) -> f64 {
        let mut nearest = f64::INFINITY;
        for corner in other.corners {
            for side in 0..4 {
                let (from, to) = (self.corners[side], self.corners[(side + 1) % 4]);
                nearest = nearest.min(to_segment(corner, from, to));
            }
        }
        nearest
    }
}

/// Distance from a point to the segment between two others.
fn to_segment(point: [f64; 2], from: [f64; 2], to: [f64; 2]) -> f64 {
    let (x, y) = (to[0] - from[0], to[1] - from[1]);
    let square = x * x + y * y;
    let share = if square > 0.0 {
        (((point[0] - from[0]) * x + (point[1] - from[1]) * y) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (point[0] - from[0] - share * x).hypot(point[1] - from[1] - share * y)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 1e-5, "{found}, not {wanted}");
    }

    // The values of the next three tests were computed with an independent geometry library (Shapely 2.2 on GEOS).

    #[test]
    fn a_beam_turned_by_45_degrees_is_measured_across_the_beam_not_by_its_box() {
        // 300×20 turned 45° has a box of (300 + 20)/√2 = 226.27417 a side; a neighbour 24 mm away across the beam
        // is 24 − 20 = 4 mm off, although the boxes overlap.
        let beam = Outline::turned([150.0, 150.0], 300.0, 20.0, 45.0);
        let (low, high) = beam.extent(0);
        close(high - low, 226.27417);
        let across = 24.0 / 2.0_f64.sqrt();
        let next = Outline::turned([150.0 - across, 150.0 + across], 300.0, 20.0, 45.0);
        close(beam.distance(&next), 4.0);
    }

    #[test]
    fn a_square_on_its_corner_reaches_half_its_diagonal() {
        // Centres 60 apart: 60 − 20 − 20√2 = 11.715729.
        let square = Outline::turned([0.0, 0.0], 40.0, 40.0, 0.0);
        let turned = Outline::turned([60.0, 0.0], 40.0, 40.0, 45.0);
        close(square.distance(&turned), 11.715729);
        close(turned.distance(&square), 11.715729);
    }

    #[test]
    fn squares_may_be_apart_though_their_boxes_overlap() {
        // Along the line of centres: 45√2 between them, less 20√2 to a corner and 20 to a side: 15.355339.
        let square = Outline::turned([0.0, 0.0], 40.0, 40.0, 0.0);
        let turned = Outline::turned([45.0, 45.0], 40.0, 40.0, 45.0);
        close(square.distance(&turned), 15.355339);
    }

    #[test]
    fn overlap_is_below_zero_and_touching_is_zero() {
        let square = Outline::turned([0.0, 0.0], 10.0, 10.0, 0.0);
        // Sides at 5 and 10 − 5 = 5 touch; 8 − 5 = 3 overlaps by 2; one inside the other still overlaps.
        close(
            square.distance(&Outline::turned([10.0, 0.0], 10.0, 10.0, 0.0)),
            0.0,
        );
        close(
            square.distance(&Outline::turned([8.0, 0.0], 10.0, 10.0, 90.0)),
            -2.0,
        );
        assert!(square.distance(&Outline::turned([0.0, 0.0], 2.0, 2.0, 30.0)) < 0.0);
        // A cross: no corner of either lies inside the other.
        let bar = |degrees| Outline::turned([0.0, 0.0], 100.0, 4.0, degrees);
        assert!(bar(0.0).distance(&bar(90.0)) < 0.0);
    }

    #[test]
    fn rectangles_without_area_still_have_a_distance() {
        let point = Outline::turned([0.0, 0.0], 0.0, 0.0, 0.0);
        close(
            point.distance(&Outline::turned([10.0, 0.0], 0.0, 0.0, 0.0)),
            10.0,
        );
    }

    /// Distance the slowest way: points 1/200 of a side apart all round both outlines.
    fn by_sampling(one: &Outline, other: &Outline) -> f64 {
        let rim = |outline: &Outline| -> Vec<[f64; 2]> {
            (0..4)
                .flat_map(|side| {
                    let (a, b) = (outline.corners[side], outline.corners[(side + 1) % 4]);
                    (0..200).map(move |step| {
                        let share = f64::from(step) / 200.0;
                        [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
                    })
                })
                .collect()
        };
        let others = rim(other);
        rim(one)
            .iter()
            .flat_map(|p| others.iter().map(move |q| (p[0] - q[0]).hypot(p[1] - q[1])))
            .fold(f64::INFINITY, f64::min)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn distance_agrees_with_sampled_rims(
            w in 5.0..80f64, d in 5.0..80f64, turn in -180.0..180f64,
            w2 in 5.0..80f64, d2 in 5.0..80f64, turn2 in -180.0..180f64,
            x in 0.0..150f64, y in 0.0..150f64,
        ) {
            let one = Outline::turned([0.0, 0.0], w, d, turn);
            let other = Outline::turned([x, y], w2, d2, turn2);
            let found = one.distance(&other);
            prop_assume!(found > 0.5);
            let sampled = by_sampling(&one, &other);
            // Samples lie on the rims, so they are never nearer; two of them miss the nearest points by at most
            // half a step of 80/200 mm each.
            prop_assert!(found <= sampled + 1e-9 && sampled <= found + 0.4 + 1e-9, "{found} {sampled}");
        }
    }
}
