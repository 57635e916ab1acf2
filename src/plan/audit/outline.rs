//! Pieces seen from above, turned about their centres: their corners, and how far apart two of them are.
//!
//! Knows: plane geometry in mm and degrees. Must not know: parts, machines, plans.
//! Promises: the distance between two outlines is exact but for rounding, whatever their shapes and angles.

/// A piece as it lies: convex parts that together are its outline.
#[derive(Clone, Debug)]
pub(super) struct Outline {
    parts: Vec<Convex>,
}

/// A convex polygon: its corners in order, and directions square to its sides, of length 1.
#[derive(Clone, Debug)]
struct Convex {
    corners: Vec<[f64; 2]>,
    normals: Vec<[f64; 2]>,
    low: [f64; 2],
    high: [f64; 2],
}

impl Convex {
    fn new(corners: Vec<[f64; 2]>) -> Self {
        let count = corners.len();
        let normals = (0..count).filter_map(|at| {
            let (from, to) = (corners[at], corners[(at + 1) % count]);
            let (x, y) = (to[0] - from[0], to[1] - from[1]);
            let long = x.hypot(y);
            (long > 0.0).then(|| [y / long, -x / long])
        });
        let end = |axis: usize, pick: fn(f64, f64) -> f64, start: f64| {
            corners.iter().map(|corner| corner[axis]).fold(start, pick)
        };
        Self {
            normals: normals.collect(),
            low: [0, 1].map(|axis| end(axis, f64::min, f64::INFINITY)),
            high: [0, 1].map(|axis| end(axis, f64::max, f64::NEG_INFINITY)),
            corners,
        }
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

    /// Distance to another; below zero if they overlap, by the least shift that would part them.
    fn distance(&self, other: &Convex) -> f64 {
        // Two convex outlines are apart exactly if they are apart square to some side of one of them.
        let apart = [self, other]
            .iter()
            .flat_map(|outline| &outline.normals)
            .map(|&normal| {
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

    /// Least distance from any corner of `other` to any side of this one.
    fn nearest_corner_of(&self, other: &Convex) -> f64 {
        let mut nearest = f64::INFINITY;
        let count = self.corners.len();
        for &corner in &other.corners {
            for side in 0..count {
                let (from, to) = (self.corners[side], self.corners[(side + 1) % count]);
                nearest = nearest.min(to_segment(corner, from, to));
            }
        }
        nearest
    }

    /// No more than the distance to another: that of the boxes around them.
    fn off(&self, other: &Convex) -> f64 {
        let [x, y] = [0, 1].map(|axis| {
            (other.low[axis] - self.high[axis])
                .max(self.low[axis] - other.high[axis])
                .max(0.0)
        });
        x.hypot(y)
    }
}

impl Outline {
    /// A `width × depth` rectangle about `centre`, turned counter-clockwise.
    pub fn turned(centre: [f64; 2], width: f64, depth: f64, degrees: f64) -> Self {
        let (x, y) = (width / 2.0, depth / 2.0);
        let corners = [[-x, -y], [x, -y], [x, y], [-x, y]];
        let mut part = Convex::new(placed(&corners, centre, degrees));
        // By the angle, which a rectangle without area has too.
        let (sin, cos) = degrees.to_radians().sin_cos();
        part.normals = vec![[cos, sin], [-sin, cos]];
        Self { parts: vec![part] }
    }

    /// The outline through these corners, given about `centre` and turned about it counter-clockwise.
    pub fn shaped(centre: [f64; 2], corners: &[[f64; 2]], degrees: f64) -> Self {
        let triangles = triangles(&placed(corners, centre, degrees));
        Self {
            parts: triangles.into_iter().map(Convex::new).collect(),
        }
    }

    /// Least and greatest coordinate along one axis of the bed (0: x, 1: y).
    pub fn extent(&self, axis: usize) -> (f64, f64) {
        let ends = self
            .parts
            .iter()
            .map(|part| (part.low[axis], part.high[axis]));
        ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), end| {
            (low.min(end.0), high.max(end.1))
        })
    }

    /// Distance to another outline; below zero if they overlap.
    ///
    /// The least distance of any two of their convex parts, which are the outlines.
    pub fn distance(&self, other: &Outline) -> f64 {
        let mut nearest = f64::INFINITY;
        for one in &self.parts {
            for another in &other.parts {
                // What is further off than the nearest so far need not be measured.
                if one.off(another) <= nearest.max(0.0) {
                    nearest = nearest.min(one.distance(another));
                }
            }
        }
        nearest
    }
}

/// Corners turned counter-clockwise about the origin, then moved.
fn placed(corners: &[[f64; 2]], [x, y]: [f64; 2], degrees: f64) -> Vec<[f64; 2]> {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let place = |&[u, v]: &[f64; 2]| [x + u * cos - v * sin, y + u * sin + v * cos];
    corners.iter().map(place).collect()
}

/// Cuts a simple polygon, counter-clockwise, into triangles, an ear at a time; what has no area is left out. Where no ear
/// is found, which rounding could bring about, what is left is taken to be as large as the box around it.
fn triangles(corners: &[[f64; 2]]) -> Vec<Vec<[f64; 2]>> {
    let mut left = corners.to_vec();
    let mut found = Vec::new();
    while left.len() >= 3 {
        let count = left.len();
        let ear = (0..count).find(|&at| {
            let triangle = [
                left[(at + count - 1) % count],
                left[at],
                left[(at + 1) % count],
            ];
            let others = left.iter().filter(|corner| !triangle.contains(corner));
            area(triangle) >= 0.0 && others.into_iter().all(|&corner| !holds(triangle, corner))
        });
        let Some(at) = ear else {
            let end = |axis: usize, pick: fn(f64, f64) -> f64, start: f64| {
                left.iter().map(|corner| corner[axis]).fold(start, pick)
            };
            let [low_x, low_y] = [0, 1].map(|axis| end(axis, f64::min, f64::INFINITY));
            let [high_x, high_y] = [0, 1].map(|axis| end(axis, f64::max, f64::NEG_INFINITY));
            let around = [
                [low_x, low_y],
                [high_x, low_y],
                [high_x, high_y],
                [low_x, high_y],
            ];
            found.push(around.to_vec());
            break;
        };
        let triangle = [
            left[(at + count - 1) % count],
            left[at],
            left[(at + 1) % count],
        ];
        if area(triangle) > 0.0 {
            found.push(triangle.to_vec());
        }
        left.remove(at);
    }
    found
}

/// Twice the area of a triangle, above zero if it runs counter-clockwise.
fn area([a, b, c]: [[f64; 2]; 3]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Whether a point is in a counter-clockwise triangle or on its line; none is in one without area.
fn holds([a, b, c]: [[f64; 2]; 3], point: [f64; 2]) -> bool {
    area([a, b, c]) > 0.0
        && area([a, b, point]) >= 0.0
        && area([b, c, point]) >= 0.0
        && area([c, a, point]) >= 0.0
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

    /// An L of 30 × 30 with arms of 10, about the middle of its box.
    const BRACKET: [[f64; 2]; 6] = [
        [-15.0, -15.0],
        [15.0, -15.0],
        [15.0, -5.0],
        [-5.0, -5.0],
        [-5.0, 15.0],
        [-15.0, 15.0],
    ];

    #[test]
    fn what_lies_in_a_notch_is_measured_from_both_arms() {
        // The notch is x and y from -5 to 15. A square of 8 about (4, 4) begins at 0, 5 mm from either arm; about
        // (2, 4) it is 3 mm from the upright one; about (-2, 4) it stands in it.
        let bracket = Outline::shaped([0.0, 0.0], &BRACKET, 0.0);
        let square = |x: f64, y: f64| Outline::turned([x, y], 8.0, 8.0, 0.0);
        close(bracket.distance(&square(4.0, 4.0)), 5.0);
        close(square(2.0, 4.0).distance(&bracket), 3.0);
        assert!(bracket.distance(&square(-2.0, 4.0)) < -0.9);
        // A second one about (14, 10), turned by half a turn: its arms are x -1 to 29, y 15 to 25, and x 19 to 29, y -5 to
        // 25: 4 mm beside the first one's, which end at x = -5 (up to y = 15) and x = 15 (up to y = -5).
        let other = Outline::shaped([14.0, 10.0], &BRACKET, 180.0);
        close(bracket.distance(&other), 4.0);
    }

    #[test]
    fn what_is_inside_an_outline_overlaps_it_wherever_the_lines_are() {
        let small = Outline::turned([-10.0, -10.0], 2.0, 2.0, 30.0);
        let bracket = Outline::shaped([0.0, 0.0], &BRACKET, 0.0);
        assert!(bracket.distance(&small) < -1.0 && small.distance(&bracket) < -1.0);
        assert!(bracket.distance(&bracket.clone()) < -1.0);
    }

    #[test]
    fn an_outline_in_triangles_has_its_area() {
        // A star of ten corners, a comb, and a corner that lies on a straight side.
        let star: Vec<[f64; 2]> = (0..10)
            .map(|at| {
                let reach = if at % 2 == 0 { 50.0 } else { 17.0 };
                let (sin, cos) = (f64::from(at) * 36.0).to_radians().sin_cos();
                [reach * cos, reach * sin]
            })
            .collect();
        let comb: Vec<[f64; 2]> = [
            [0, 0],
            [35, 0],
            [70, 0],
            [70, 50],
            [60, 50],
            [60, 10],
            [40, 10],
            [40, 50],
            [30, 50],
            [30, 10],
            [10, 10],
            [10, 50],
            [0, 50],
        ]
        .map(|corner: [i32; 2]| corner.map(f64::from))
        .to_vec();
        for corners in [star, comb, BRACKET.to_vec()] {
            let whole: f64 = (0..corners.len())
                .map(|at| {
                    let (a, b) = (corners[at], corners[(at + 1) % corners.len()]);
                    a[0] * b[1] - a[1] * b[0]
                })
                .sum();
            let cut: f64 = triangles(&corners)
                .iter()
                .map(|triangle| area([triangle[0], triangle[1], triangle[2]]))
                .sum();
            close(cut, whole);
        }
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
                    let (a, b) = (
                        outline.parts[0].corners[side],
                        outline.parts[0].corners[(side + 1) % 4],
                    );
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
