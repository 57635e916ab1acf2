//! Parallel beams at one angle on a bed that is too short for them.
//!
//! Knows: an area, beams as length × width. Must not know: square packing, which pieces are beams.
//! Promises: every corner lies inside the area to 10⁻⁶ mm, neighbours are the spacing apart; beams that fit
//! at any angle lying flush are found.

use std::f64::consts::FRAC_PI_2;

use super::Area;

/// Corners may stick out by so much, in mm: at an exact fit rounding decides otherwise.
const TOLERANCE: f64 = 1e-6;

/// Steps of the sweep over the quarter turn, and halvings of the step afterwards.
const STEPS: u32 = 30;
const HALVINGS: u32 = 14;

/// Steps of the search for the best place across, in the sweep and afterwards; each leaves two thirds of the span.
const ROUGH_THIRDS: u32 = 4;
const THIRDS: u32 = 16;

/// A bundle whose worst beam is, after the sweep, too long by more than this share of the longest is given up. The search
/// for plates asks of far more bundles that do not fit than of such as do, and the sweep alone is a tenth of the work.
const HOPELESS: f64 = 0.12;

/// Lays beams (length, width) side by side, parallel, `spacing` apart; all lengths in mm.
///
/// Gives the angle between their length and the x axis (0 to 90 degrees, counter-clockwise) and each beam's centre
/// from the area's lower left corner, in the order given. 0 and 90 degrees are taken where they serve. Beams that do
/// not fit lying flush are tried staggered, each as far along as its own place allows, with longer ones in the
/// middle.
///
/// `None` if no angle is found, or if a length is not a number or not positive, or the spacing negative.
pub fn pack_diagonal(
    area: Area,
    spacing: f64,
    beams: &[(f64, f64)],
) -> Option<(f64, Vec<(f64, f64)>)> {
    let positive = |length: f64| length.is_finite() && length > 0.0;
    let sides = [area.width, area.depth];
    let beam_sides = beams.iter().flat_map(|&(length, width)| [length, width]);
    let lengths = sides.into_iter().chain(beam_sides).all(positive);
    if !(lengths && spacing.is_finite() && spacing >= 0.0) {
        return None;
    }
    let bundle = Bundle::new(area, spacing, beams);
    let pose = flush_angle(area, bundle.longest, bundle.across)
        .map(|angle| Pose {
            along: Direction::at(angle),
            shift: 0.0,
        })
        .or_else(|| bundle.roomiest_pose())?;
    Some((pose.along.angle.to_degrees(), bundle.centres(pose)))
}

/// An angle in radians, 0 to 90°, at which a `p × q` rectangle lies in the area, by trigonometry; `None` if there is
/// none.
fn flush_angle(area: Area, p: f64, q: f64) -> Option<f64> {
    touching_angles(area, p, q).into_iter().find(|angle| {
        let (sin, cos) = angle.sin_cos();
        p * cos + q * sin <= area.width + TOLERANCE && p * sin + q * cos <= area.depth + TOLERANCE
    })
}

/// Angles in radians of which one serves if a `p × q` rectangle fits the area at all: 0, 90°, and the middles of the
/// two spans in between that are free of both limits (empty ones come out of order, and their middle does not serve).
///
/// The rectangle turned by t is p·cos t + q·sin t = r·cos(t − f) wide with r = √(p² + q²), f = atan(q/p), which
/// exceeds the width within acos(width/r) of f; and r·sin(t + f) = r·cos(90° − f − t) deep, which exceeds the depth
/// within acos(depth/r) of 90° − f. At the limit of the Carver condition such a span is a single angle, at which both
/// sides touch.
fn touching_angles(area: Area, p: f64, q: f64) -> [f64; 4] {
    let diagonal = p.hypot(q);
    let own = q.atan2(p);
    let too_wide = (area.width / diagonal).min(1.0).acos();
    let too_deep = (area.depth / diagonal).min(1.0).acos();
    let after_depth_before_width = (FRAC_PI_2 - own + too_deep + own - too_wide) / 2.0;
    let after_width_before_depth = (own + too_wide + FRAC_PI_2 - own - too_deep) / 2.0;
    [
        0.0,
        FRAC_PI_2,
        after_depth_before_width.clamp(0.0, FRAC_PI_2),
        after_width_before_depth.clamp(0.0, FRAC_PI_2),
    ]
}

/// Beams side by side, by the bands that they take up across the bundle's middle line.
struct Bundle {
    area: Area,
    /// Length of the longest.
    longest: f64,
    /// All widths and the spacings between them.
    across: f64,
    /// Whether all beams are alike.
    symmetric: bool,
    /// In the caller's order.
    bands: Vec<Band>,
}

/// The direction of a bundle's beams.
#[derive(Clone, Copy, Debug)]
struct Direction {
    /// Radians, 0 to 90°.
    angle: f64,
    sin: f64,
    cos: f64,
}

impl Direction {
    fn at(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self { angle, sin, cos }
    }
}

/// How a bundle lies: its direction, and how far its middle line passes left of the area's middle.
#[derive(Clone, Copy, Debug)]
struct Pose {
    along: Direction,
    shift: f64,
}

/// One beam's place across the bundle: from `low` to `high`, measured from the middle line to the left of the beams'
/// direction.
#[derive(Clone, Copy, Debug, Default)]
struct Band {
    length: f64,
    low: f64,
    high: f64,
}

impl Band {
    fn shifted(self, shift: f64) -> Self {
        Self {
            low: self.low + shift,
            high: self.high + shift,
            ..self
        }
    }
}

impl Bundle {
    fn new(area: Area, spacing: f64, beams: &[(f64, f64)]) -> Self {
        let widths: f64 = beams.iter().map(|beam| beam.1).sum();
        let across = widths + spacing * beams.len().saturating_sub(1) as f64;
        let mut bands = vec![Band::default(); beams.len()];
        let mut low = -across / 2.0;
        for i in longest_in_the_middle(beams) {
            let (length, width) = beams[i];
            bands[i] = Band {
                length,
                low,
                high: low + width,
            };
            low += width + spacing;
        }
        Self {
            area,
            longest: beams.iter().map(|beam| beam.0).fold(0.0, f64::max),
            across,
            symmetric: beams.windows(2).all(|pair| pair[0] == pair[1]),
            bands,
        }
    }

    /// By how much the beam with the least room to spare along its band could be longer; negative if it does not fit.
    fn room(&self, pose: Pose) -> f64 {
        let room = |band: &Band| {
            let (from, to) = free_along(self.area, pose.along, band.shifted(pose.shift));
            to - from - band.length
        };
        self.bands.iter().map(room).fold(f64::INFINITY, f64::min)
    }

    /// The pose with the most room, if it is enough: a sweep over the angles, then smaller and smaller steps from the
    /// best.
    fn roomiest_pose(&self) -> Option<Pose> {
        let mut step = FRAC_PI_2 / f64::from(STEPS);
        let mut most = f64::NEG_INFINITY;
        let mut best = Pose {
            along: Direction::at(0.0),
            shift: 0.0,
        };
        let mut consider = |angle: f64, thirds: u32, best: &mut Pose| {
            let pose = self.roomiest_shift(Direction::at(angle), thirds);
            let room = self.room(pose);
            if room > most {
                most = room;
                *best = pose;
            }
            most
        };
        for i in 1..STEPS {
            consider(f64::from(i) * step, ROUGH_THIRDS, &mut best);
        }
        let rough = best.along.angle;
        if consider(rough, THIRDS, &mut best) < -HOPELESS * self.longest {
            return None;
        }
        for _ in 0..HALVINGS {
            step /= 2.0;
            let middle = best.along.angle;
            consider(middle - step, THIRDS, &mut best);
            consider(middle + step, THIRDS, &mut best);
        }
        (most >= 0.0).then_some(best)
    }

    /// At one angle, the best place across. The area is convex, so the free length of each band is a concave function
    /// of the shift, and so is the least of them: the better of two thirds tells where the best one is not.
    fn roomiest_shift(&self, along: Direction, thirds: u32) -> Pose {
        // A bundle that is its own mirror image lies best in the middle, by the same concavity.
        let mut from = if self.symmetric {
            0.0
        } else {
            -self.across / 2.0
        };
        let mut to = -from;
        for _ in 0..thirds {
            if from == to {
                break;
            }
            let third = (to - from) / 3.0;
            let room = |shift| self.room(Pose { along, shift });
            if room(from + third) < room(to - third) {
                from += third;
            } else {
                to -= third;
            }
        }
        Pose {
            along,
            shift: f64::midpoint(from, to),
        }
    }

    /// Each beam as near to the middle of the area as its band lets it.
    fn centres(&self, pose: Pose) -> Vec<(f64, f64)> {
        let Direction { sin, cos, .. } = pose.along;
        let centre = |band: &Band| {
            let band = band.shifted(pose.shift);
            let (from, to) = free_along(self.area, pose.along, band);
            let (least, most) = (from + band.length / 2.0, to - band.length / 2.0);
            // At an exact fit the two may come out in the wrong order by rounding.
            let along = if least < most {
                0f64.clamp(least, most)
            } else {
                f64::midpoint(least, most)
            };
            let across = f64::midpoint(band.low, band.high);
            let x = self.area.width / 2.0 + along * cos - across * sin;
            let y = self.area.depth / 2.0 + along * sin + across * cos;
            (x, y)
        };
        self.bands.iter().map(centre).collect()
    }
}

/// The beams' positions in the list from one side of the bundle to the other.
fn longest_in_the_middle(beams: &[(f64, f64)]) -> Vec<usize> {
    let mut by_length: Vec<usize> = (0..beams.len()).collect();
    by_length.sort_by(|&a, &b| {
        let longer = beams[b].0.total_cmp(&beams[a].0);
        longer.then(beams[b].1.total_cmp(&beams[a].1))
    });
    let mut across: Vec<usize> = by_length.iter().skip(1).step_by(2).rev().copied().collect();
    across.extend(by_length.iter().step_by(2));
    across
}

/// From where to where along its direction (0: the area's middle) a band is inside the area with both its edges;
/// `from > to`: nowhere.
///
/// A point (u along, v across) of the turned frame lies at u·cos − v·sin from the middle in x, u·sin + v·cos in y.
fn free_along(area: Area, along: Direction, band: Band) -> (f64, f64) {
    let Direction { sin, cos, .. } = along;
    let mut from = f64::NEG_INFINITY;
    let mut to = f64::INFINITY;
    for v in [band.low, band.high] {
        for (slope, offset, half) in [
            (cos, -v * sin, area.width / 2.0),
            (sin, v * cos, area.depth / 2.0),
        ] {
            // |u·slope + offset| ≤ half, and slope ≥ 0 in a quarter turn (cos 90° is some 10⁻¹⁷ in doubles).
            if slope > 1e-12 {
                from = from.max((-half - offset) / slope);
                to = to.min((half - offset) / slope);
            } else if offset.abs() > half + TOLERANCE {
                return (f64::INFINITY, f64::NEG_INFINITY);
            }
        }
    }
    (from, to)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(width: f64, depth: f64) -> Area {
        Area { width, depth }
    }

    /// A packing whose corners and distances are checked by trigonometry.
    fn packed(area: Area, spacing: f64, beams: &[(f64, f64)]) -> Option<f64> {
        let (degrees, centres) = pack_diagonal(area, spacing, beams)?;
        assert!((0.0..=90.0).contains(&degrees));
        assert_eq!(centres.len(), beams.len());
        let (sin, cos) = degrees.to_radians().sin_cos();
        let mut bands: Vec<(f64, f64)> = vec![];
        for (&(length, width), (x, y)) in beams.iter().zip(centres) {
            for (u, v) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
                let (u, v) = (u * length / 2.0, v * width / 2.0);
                let corner_x = x + u * cos - v * sin;
                let corner_y = y + u * sin + v * cos;
                assert!((-1e-6..=area.width + 1e-6).contains(&corner_x));
                assert!((-1e-6..=area.depth + 1e-6).contains(&corner_y));
            }
            let across = y * cos - x * sin;
            for (low, high) in &bands {
                let apart = (low - across - width / 2.0).max(across - width / 2.0 - high);
                assert!(apart >= spacing - 1e-9);
            }
            bands.push((across - width / 2.0, across + width / 2.0));
        }
        Some(degrees)
    }

    #[test]
    fn the_longest_beams_on_a_diagonal_fit_and_longer_ones_do_not() {
        // n beams of width 20, 4 apart, are one rectangle 24n − 4 wide; on a square bed p + q ≤ a·√2:
        // 290·√2 = 410.1219, less 20, 44, 68, 92, 116.
        // Source of the condition: W. B. Carver, Amer. Math. Monthly 64 (1957) 114–116; J. E. Wetzel, "Rectangles in
        // Rectangles", Mathematics Magazine 73 (2000) 204–211 (from memory); the numbers follow from it.
        let bed = area(290.0, 290.0);
        for (beams, longest) in [
            (1, 390.1219),
            (2, 366.1219),
            (3, 342.1219),
            (4, 318.1219),
            (5, 294.1219),
        ] {
            let across = 24.0 * f64::from(beams) - 4.0;
            let bundle = vec![(longest - 1e-4, 20.0); beams as usize];
            let degrees = packed(bed, 4.0, &bundle).unwrap();
            assert!((degrees - 45.0).abs() < 0.01);
            assert_eq!(flush_angle(bed, longest + 1e-3, across), None);
        }
        assert_eq!(packed(bed, 4.0, &[(390.123, 20.0)]), None);
        // Six gain nothing: 410.1219 − 140 = 270.1219 < 290.
        assert_eq!(packed(bed, 4.0, &[(290.0, 20.0); 6]), Some(0.0));
        assert_eq!(flush_angle(bed, 290.5, 140.0), None);
    }

    #[test]
    fn fits_on_the_limit_are_found_at_their_angle() {
        // 400×25 in 335×260 touches both sides at cos t = 4/5: 400·0.8 + 25·0.6 = 335, 400·0.6 + 25·0.8 = 260.
        // 260×26 in 250×124 at cos t = 12/13: 240 + 10 = 250, 100 + 24 = 124.
        for (width, depth, p, q, cos) in [
            (335.0, 260.0, 400.0, 25.0, 4.0 / 5.0),
            (250.0, 124.0, 260.0, 26.0, 12.0 / 13.0),
        ] {
            let degrees = packed(area(width, depth), 0.0, &[(p, q)]).unwrap();
            assert!((degrees - f64::acos(cos).to_degrees()).abs() < 1e-3);
            // The same on a bed that stands: the angle's complement.
            let degrees = packed(area(depth, width), 0.0, &[(p, q)]).unwrap();
            assert!((90.0 - degrees - f64::acos(cos).to_degrees()).abs() < 1e-3);
            // And a bundle that is wider than it is long.
            let degrees = packed(area(width, depth), 0.0, &[(q, p)]).unwrap();
            assert!((90.0 - degrees - f64::acos(cos).to_degrees()).abs() < 1e-3);
            assert_eq!(packed(area(width, depth), 0.0, &[(p + 0.01, q)]), None);
        }
    }

    #[test]
    fn what_passes_easier_conditions_only_is_refused() {
        // 9×4 in 8×6 passes area, diagonal, perimeter and thickness; 5×4 in 10×3 and 10×10 in 8×8 are too thick.
        // Source: J. E. Wetzel, as above (the first).
        assert_eq!(packed(area(8.0, 6.0), 0.0, &[(9.0, 4.0)]), None);
        assert_eq!(packed(area(10.0, 3.0), 0.0, &[(5.0, 4.0)]), None);
        assert_eq!(packed(area(8.0, 8.0), 0.0, &[(10.0, 10.0)]), None);
    }

    #[test]
    fn a_beam_that_fits_along_a_side_lies_along_it() {
        assert_eq!(packed(area(290.0, 200.0), 4.0, &[(290.0, 20.0)]), Some(0.0));
        assert_eq!(
            packed(area(200.0, 290.0), 4.0, &[(290.0, 20.0)]),
            Some(90.0)
        );
        assert_eq!(packed(area(200.0, 290.0), 4.0, &[]), Some(0.0));
    }

    #[test]
    fn shorter_beams_lie_beside_a_long_one() {
        // On 300×300 the diagonal is 424.264. Flush with a 390 beam, 68 mm across, would need p ≤ 356.26; but in the
        // middle 390 < 424.26 − 20, and 350 < 424.26 − 68 on either side.
        let bed = area(300.0, 300.0);
        assert!(packed(bed, 4.0, &[(350.0, 20.0), (350.0, 20.0), (390.0, 20.0)]).is_some());
        // A short one on one side only: the long one keeps to the diagonal.
        assert!(packed(bed, 4.0, &[(100.0, 20.0), (400.0, 20.0)]).is_some());
        // Longer than 404.26 has no room even alone.
        assert_eq!(packed(bed, 4.0, &[(100.0, 20.0), (404.3, 20.0)]), None);
    }

    #[test]
    fn lengths_that_are_no_lengths_are_refused() {
        for bad in [f64::NAN, f64::INFINITY, 0.0, -1.0] {
            assert_eq!(
                pack_diagonal(area(290.0, 290.0), 4.0, &[(100.0, bad)]),
                None
            );
            assert_eq!(pack_diagonal(area(290.0, bad), 4.0, &[(100.0, 20.0)]), None);
        }
        assert_eq!(
            pack_diagonal(area(290.0, 290.0), -1.0, &[(100.0, 20.0)]),
            None
        );
        assert_eq!(
            pack_diagonal(area(290.0, 290.0), f64::NAN, &[(100.0, 20.0)]),
            None
        );
    }
}
