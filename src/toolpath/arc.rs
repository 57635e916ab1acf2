//! Arcs and helices: length, directions at their ends, how far they reach.
//!
//! Knows: plane geometry. Must not know: speeds, filament, files.
//! Promises: an arc that comes out has a finite radius above zero and a sweep above zero, at most one turn.

use std::f64::consts::TAU;

/// Both ends may differ in their distance from the centre by this much, mm, or by this share of it: coordinates are
/// written with few decimals.
const MISS: f64 = 0.05;
const MISS_SHARE: f64 = 0.01;
/// Ends so near each other are the same: a full turn.
const SAME: f64 = 1e-6;

/// An arc in a plane, and what the third axis does meanwhile.
#[derive(Clone, Copy, Debug)]
pub struct Arc {
    /// The plane's two axes (the turn from the first to the second is counter-clockwise) and the third.
    axes: [usize; 3],
    from: [f64; 3],
    to: [f64; 3],
    centre: [f64; 2],
    radius: f64,
    /// Radians, positive counter-clockwise.
    sweep: f64,
}

/// Why two ends and a centre or radius make no arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoArc {
    /// The centre is one of the ends.
    NoRadius,
    /// The ends have these distances from the centre.
    Lopsided(f64, f64),
    /// The ends are so far apart, more than two radii.
    TooFar(f64),
    /// Both ends are the same, so that a radius alone does not say which circle is meant.
    AnyCircle,
}

impl Arc {
    /// An arc about a centre that is so far from `from`, along the first two of `axes`; a full turn where both ends are
    /// the same in the plane.
    ///
    /// # Errors
    /// If the centre is not equally far from both ends.
    pub fn about(
        axes: [usize; 3],
        from: [f64; 3],
        to: [f64; 3],
        offset: [f64; 2],
        clockwise: bool,
    ) -> Result<Self, NoArc> {
        let [a, b, _] = axes;
        let centre = [from[a] + offset[0], from[b] + offset[1]];
        let begin = [-offset[0], -offset[1]];
        let end = [to[a] - centre[0], to[b] - centre[1]];
        let (first, last) = (begin[0].hypot(begin[1]), end[0].hypot(end[1]));
        if first <= SAME {
            return Err(NoArc::NoRadius);
        }
        if (first - last).abs() > MISS.max(MISS_SHARE * first) {
            return Err(NoArc::Lopsided(first, last));
        }
        let turn = if (to[a] - from[a]).hypot(to[b] - from[b]) <= SAME {
            TAU
        } else {
            let cross = begin[0] * end[1] - begin[1] * end[0];
            let dot = begin[0] * end[0] + begin[1] * end[1];
            let angle = cross.atan2(dot);
            let ahead = if clockwise { -angle } else { angle };
            if ahead > 0.0 { ahead } else { ahead + TAU }
        };
        Ok(Self {
            axes,
            from,
            to,
            centre,
            radius: 0.5 * (first + last),
            sweep: if clockwise { -turn } else { turn },
        })
    }

    /// An arc of a radius; a negative one takes the longer way round.
    ///
    /// # Errors
    /// If the ends are the same, or more than two radii apart.
    pub fn of_radius(
        axes: [usize; 3],
        from: [f64; 3],
        to: [f64; 3],
        radius: f64,
        clockwise: bool,
    ) -> Result<Self, NoArc> {
        let [a, b, _] = axes;
        let chord = [to[a] - from[a], to[b] - from[b]];
        let length = chord[0].hypot(chord[1]);
        if radius == 0.0 {
            return Err(NoArc::NoRadius);
        }
        if length <= SAME {
            return Err(NoArc::AnyCircle);
        }
        let size = radius.abs();
        if length > 2.0 * size + MISS.max(MISS_SHARE * size) {
            return Err(NoArc::TooFar(length));
        }
        // The centre lies on the chord's perpendicular: left of it (counter-clockwise, the shorter way) or right of it.
        let height = (size * size - 0.25 * length * length).max(0.0).sqrt();
        let left = clockwise == (radius < 0.0);
        let side = if left { height } else { -height } / length;
        let offset = [
            0.5 * chord[0] - chord[1] * side,
            0.5 * chord[1] + chord[0] * side,
        ];
        Self::about(axes, from, to, offset, clockwise)
    }

    /// mm; the mean of both ends.
    pub fn radius(&self) -> f64 {
        self.radius
    }

    fn rise(&self) -> f64 {
        let third = self.axes[2];
        self.to[third] - self.from[third]
    }

    /// Length of the path, mm; of a helix, along the thread.
    pub fn length(&self) -> f64 {
        (self.radius * self.sweep).hypot(self.rise())
    }

    /// Directions at the beginning and at the end, of length 1.
    pub fn directions(&self) -> ([f64; 3], [f64; 3]) {
        let [a, b, third] = self.axes;
        let begin = (self.from[b] - self.centre[1]).atan2(self.from[a] - self.centre[0]);
        let length = self.length();
        let along = self.radius * self.sweep / length;
        let at = |angle: f64| {
            let mut direction = [0.0; 3];
            direction[a] = -angle.sin() * along;
            direction[b] = angle.cos() * along;
            direction[third] = self.rise() / length;
            direction
        };
        (at(begin), at(begin + self.sweep))
    }

    /// Least and greatest coordinates on it.
    pub fn reach(&self) -> [[f64; 3]; 2] {
        let mut low = [0, 1, 2].map(|axis| self.from[axis].min(self.to[axis]));
        let mut high = [0, 1, 2].map(|axis| self.from[axis].max(self.to[axis]));
        let [a, b, _] = self.axes;
        let begin = (self.from[b] - self.centre[1]).atan2(self.from[a] - self.centre[0]);
        for quarter in 0..4 {
            let angle = f64::from(quarter) * TAU / 4.0;
            let ahead = if self.sweep > 0.0 {
                angle - begin
            } else {
                begin - angle
            };
            if ahead.rem_euclid(TAU) <= self.sweep.abs() {
                let (axis, centre) = if quarter % 2 == 0 {
                    (a, self.centre[0])
                } else {
                    (b, self.centre[1])
                };
                if quarter < 2 {
                    high[axis] = high[axis].max(centre + self.radius);
                } else {
                    low[axis] = low[axis].min(centre - self.radius);
                }
            }
        }
        [low, high]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    const XY: [usize; 3] = [0, 1, 2];

    fn near(one: f64, other: f64) {
        assert!((one - other).abs() < 1e-9, "{one} {other}");
    }

    #[test]
    fn a_quarter_circle_is_half_pi_radii_long_and_the_other_way_round_three_times_that() {
        // From (10, 0) about the origin to (0, 10): counter-clockwise a quarter, clockwise three.
        let (from, to) = ([10.0, 0.0, 0.0], [0.0, 10.0, 0.0]);
        let quarter = Arc::about(XY, from, to, [-10.0, 0.0], false).unwrap();
        near(quarter.length(), PI * 10.0 / 2.0);
        let rest = Arc::about(XY, from, to, [-10.0, 0.0], true).unwrap();
        near(rest.length(), 3.0 * PI * 10.0 / 2.0);
        // It sets out along +y and arrives along −x; the long one sets out along −y.
        let (out, arrival) = quarter.directions();
        near(out[1], 1.0);
        near(arrival[0], -1.0);
        near(rest.directions().0[1], -1.0);
    }

    #[test]
    fn a_radius_gives_the_same_arcs_the_longer_one_where_it_is_negative() {
        let (from, to) = ([10.0, 0.0, 0.0], [0.0, 10.0, 0.0]);
        near(
            Arc::of_radius(XY, from, to, 10.0, false).unwrap().length(),
            PI * 5.0,
        );
        near(
            Arc::of_radius(XY, from, to, -10.0, false).unwrap().length(),
            PI * 15.0,
        );
        near(
            Arc::of_radius(XY, from, to, 10.0, true).unwrap().length(),
            PI * 5.0,
        );
        // The counter-clockwise one bulges away from the origin, the short clockwise one toward it.
        let reach = |clockwise| {
            Arc::of_radius(XY, from, to, 10.0, clockwise)
                .unwrap()
                .reach()
        };
        near(reach(false)[1][0], 10.0);
        near(reach(true)[0][0], 0.0);
    }

    #[test]
    fn both_ends_the_same_is_a_full_turn_and_its_box_the_whole_circle() {
        let point = [5.0, 0.0, 1.0];
        let circle = Arc::about(XY, point, point, [-5.0, 0.0], true).unwrap();
        near(circle.length(), 2.0 * PI * 5.0);
        let [low, high] = circle.reach();
        for axis in [0, 1] {
            near(low[axis], -5.0);
            near(high[axis], 5.0);
        }
    }

    #[test]
    fn a_helix_is_as_long_as_its_unrolled_triangle() {
        // A turn of radius 3/2π·… : 2π·r = 3 and a rise of 4 make 5.
        let r = 3.0 / TAU;
        let helix = Arc::about(XY, [r, 0.0, 0.0], [r, 0.0, 4.0], [-r, 0.0], false).unwrap();
        near(helix.length(), 5.0);
    }

    #[test]
    fn the_other_planes_turn_from_their_first_axis_to_their_second() {
        // ZX: from +z to +x is counter-clockwise.
        let arc = Arc::about(
            [2, 0, 1],
            [0.0, 0.0, 2.0],
            [2.0, 0.0, 0.0],
            [-2.0, 0.0],
            false,
        );
        near(arc.unwrap().length(), PI);
    }

    #[test]
    fn what_is_no_arc_is_refused_with_the_reason() {
        let (from, to) = ([0.0; 3], [10.0, 0.0, 0.0]);
        assert_eq!(
            Arc::about(XY, from, to, [0.0, 0.0], true).unwrap_err(),
            NoArc::NoRadius
        );
        assert_eq!(
            Arc::about(XY, from, to, [4.0, 0.0], true).unwrap_err(),
            NoArc::Lopsided(4.0, 6.0)
        );
        assert_eq!(
            Arc::of_radius(XY, from, to, 4.0, true).unwrap_err(),
            NoArc::TooFar(10.0)
        );
        assert_eq!(
            Arc::of_radius(XY, from, from, 4.0, true).unwrap_err(),
            NoArc::AnyCircle
        );
    }
}
