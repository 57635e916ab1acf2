//! A rectangle turned inside a rectangle.
//!
//! Knows: lengths and angles. Must not know: what the rectangles are.
//! Promises: the closed form, the angle and the longest side all agree on what fits.

/// A rectangle that is too large by no more than this fits all the same, in mm.
///
/// Limits that are exact on paper come out of floating point a few 10⁻¹³ mm off: 400 × 25 in 335 × 260 touches on all
/// four sides. A nanometre forgives that and no difference that anybody could measure.
pub const TOLERANCE: f64 = 1e-6;

/// Whether a `p × q` rectangle lies, at some angle, in an `a × b` one; mm, sides in any order, to within [`TOLERANCE`].
///
/// For one rectangle alone; margins come off `a` and `b` first.
/// Source: W. B. Carver, solution to problem E1225, Amer. Math. Monthly 64 (1957) 114–116; the same condition in another
/// form: J. E. Wetzel, "Rectangles in Rectangles", Mathematics Magazine 73 (2000) 204–211.
pub fn fits_at_some_angle(p: f64, q: f64, a: f64, b: f64) -> bool {
    fits_with(p, q, a, b, TOLERANCE)
}

fn fits_with(p: f64, q: f64, a: f64, b: f64, tolerance: f64) -> bool {
    let (p, q) = (p.max(q), p.min(q));
    let (a, b) = (a.max(b), a.min(b));
    // In no direction is a p × q rectangle narrower than q; without this line the condition below, which assumes it,
    // would let a 10 × 10 square into an 8 × 8 one.
    if q > b + tolerance {
        return false;
    }
    if p <= a + tolerance {
        return true;
    }
    // p > a, so the root is real. At the angle at which p·cos + q·sin = a, the other extent p·sin + q·cos is this.
    let square = p * p + q * q;
    let other = (2.0 * p * q * a + (p * p - q * q) * (square - a * a).sqrt()) / square;
    other <= b + tolerance
}

/// The box around a `p × q` rectangle turned by `degrees`: along x, along y.
pub fn turned_box(p: f64, q: f64, degrees: f64) -> [f64; 2] {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (sin, cos) = (sin.abs(), cos.abs());
    [p * cos + q * sin, p * sin + q * cos]
}

/// The least angle in degrees, strictly between 0 and 90, at which a rectangle that is `p` along x and `q` along y
/// before turning lies in one that is `a` along x and `b` along y; mm.
///
/// `None` where it lies in it at no angle, and where it needs none because it fits at 0° or 90°.
pub fn least_angle(p: f64, q: f64, a: f64, b: f64) -> Option<f64> {
    let fits_square = |p: f64, q: f64| p <= a + TOLERANCE && q <= b + TOLERANCE;
    if fits_square(p, q) || fits_square(q, p) || !fits_at_some_angle(p, q, a, b) {
        return None;
    }
    // With the diagonal r at the angle d to p, the box around the turned rectangle is r·cos(t − d) by
    // r·cos(t − (90° − d)): each is too long within ± acos(limit / r) of its own peak. Neither range holds both
    // 0° and 90° (then nothing would fit), and since 0° and 90° are refused each range holds one of them. What is left
    // is the one stretch between the range that holds 0° and the range that holds 90°.
    let diagonal = p.hypot(q);
    let peak = q.atan2(p);
    let too_long = |peak: f64, limit: f64| -> Option<(f64, f64)> {
        let reach = ((diagonal - limit) * (diagonal + limit)).sqrt();
        (diagonal > limit).then(|| (peak, reach.atan2(limit)))
    };
    let ranges = [
        too_long(peak, a),
        too_long(std::f64::consts::FRAC_PI_2 - peak, b),
    ];
    let mut least: f64 = 0.0;
    let mut greatest = std::f64::consts::FRAC_PI_2;
    for (peak, half) in ranges.into_iter().flatten() {
        if peak - half < 0.0 {
            least = least.max(peak + half);
        } else {
            greatest = greatest.min(peak - half);
        }
    }
    // Where it touches on all sides, the two meet but for rounding; then either is right to within the tolerance.
    let angle = if least <= greatest {
        least
    } else {
        0.5 * (least + greatest)
    };
    let degrees = angle.to_degrees();
    debug_assert!({
        let [x, y] = turned_box(p, q, degrees);
        0.0 < degrees && degrees < 90.0 && x <= a + 2.0 * TOLERANCE && y <= b + 2.0 * TOLERANCE
    });
    Some(degrees)
}

/// The longest `p` such that a `p × q` rectangle lies, at some angle, in an `a × b` one; mm.
///
/// `None` if not even a line of length `q` lies in it. Without any tolerance; right to a billionth of the diagonal.
pub fn longest_at_width(q: f64, a: f64, b: f64) -> Option<f64> {
    if a <= 0.0 || b <= 0.0 || !fits_with(0.0, q, a, b, 0.0) {
        return None;
    }
    // Whatever is shorter fits too, so halving finds the limit; the equation for p itself is of fourth degree.
    let (mut fits, mut fails) = (0.0, 2.0 * a.hypot(b));
    for _ in 0..64 {
        let middle = 0.5 * (fits + fails);
        if fits_with(middle, q, a, b, 0.0) {
            fits = middle;
        } else {
            fails = middle;
        }
    }
    Some(fits)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Angles swept per quarter turn.
    const STEPS: u32 = 2000;

    /// By how much `p × q` overruns `a × b` at the best of many angles, by trigonometry only; negative: room to spare.
    fn least_overrun(p: f64, q: f64, a: f64, b: f64) -> f64 {
        (0..=STEPS)
            .map(|step| {
                let [x, y] = turned_box(p, q, 90.0 * f64::from(step) / f64::from(STEPS));
                (x - a).max(y - b)
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// The largest rectangle of a given shape at a given angle in `a × b`: trigonometry only, no formula.
    fn largest_at_angle(a: f64, b: f64, degrees: f64, share: f64) -> (f64, f64) {
        let [x, y] = turned_box(1.0, share, degrees);
        let p = (a / x).min(b / y);
        (p, p * share)
    }

    proptest! {
        #[test]
        fn a_rectangle_drawn_on_a_turned_bed_fits(
            a in 100.0..400f64, b in 100.0..400f64, degrees in 0.0..90f64, share in 0.01..1f64,
        ) {
            let (p, q) = largest_at_angle(a, b, degrees, share);
            prop_assert!(fits_at_some_angle(p, q, a, b));
            prop_assert!(fits_at_some_angle(q, p, b, a), "the order of sides does not matter");
        }

        #[test]
        fn a_rectangle_that_no_angle_of_a_sweep_lets_in_is_refused(
            a in 100.0..400f64, b in 100.0..400f64, share in 0.01..1f64, more in 0.9..1.4f64,
        ) {
            // Sizes around the largest at any angle, so that the answer is in doubt.
            let (p, q) = (0..=90)
                .map(|degrees| largest_at_angle(a, b, f64::from(degrees), share))
                .max_by(|one, other| one.0.total_cmp(&other.0))
                .expect("91 angles");
            let (p, q) = (p * more, q * more);
            let overrun = least_overrun(p, q, a, b);
            // Half a step from an angle that was swept, the box has grown by at most diagonal × half a step.
            let doubt = p.hypot(q) * (45.0 / f64::from(STEPS)).to_radians();
            if overrun <= 0.0 {
                prop_assert!(fits_at_some_angle(p, q, a, b));
            } else if overrun > doubt + TOLERANCE {
                prop_assert!(!fits_at_some_angle(p, q, a, b));
            }
        }

        #[test]
        fn the_least_angle_is_one_at_which_it_fits_and_below_which_it_does_not(
            a in 100.0..400f64, b in 100.0..400f64, p in 5.0..500f64, q in 5.0..500f64,
        ) {
            let square = (p <= a && q <= b) || (q <= a && p <= b);
            match least_angle(p, q, a, b) {
                Some(degrees) => {
                    prop_assert!(!square && fits_at_some_angle(p, q, a, b));
                    let [x, y] = turned_box(p, q, degrees);
                    prop_assert!(x <= a + TOLERANCE && y <= b + TOLERANCE, "{degrees}° is outside");
                    let [x, y] = turned_box(p, q, degrees - 0.01);
                    prop_assert!(x > a || y > b, "0.01° less would do");
                }
                None => prop_assert!(square || !fits_at_some_angle(p, q, a, b)),
            }
        }

        #[test]
        fn the_longest_at_a_width_fits_and_a_hair_more_does_not(
            a in 100.0..400f64, b in 100.0..400f64, q in 0.0..600f64,
        ) {
            match longest_at_width(q, a, b) {
                Some(p) => {
                    prop_assert!(fits_at_some_angle(p, q, a, b));
                    prop_assert!(!fits_at_some_angle(p + 1e-4, q, a, b));
                }
                None => prop_assert!(q > a.hypot(b)),
            }
        }
    }

    #[test]
    fn a_bed_without_room_takes_nothing() {
        // What margins wider than the bed leave over.
        for (a, b) in [(0.0, 100.0), (-10.0, 100.0), (-10.0, -10.0)] {
            assert!(!fits_at_some_angle(20.0, 10.0, a, b));
            assert_eq!(least_angle(20.0, 10.0, a, b), None);
            assert_eq!(longest_at_width(10.0, a, b), None);
        }
    }

    #[test]
    fn the_angle_depends_on_which_side_lies_along_x() {
        // 300 × 10 in 200 × 280. Drawn along x it is too long for 200 until cos t × 300 + sin t × 10 = 200, at 50.1°.
        // Drawn along y it is too long for 280 until cos t × 300 + sin t × 10 = 280, at 23.0°.
        let (p, q) = (300.0, 10.0);
        let along_x = least_angle(p, q, 200.0, 280.0).expect("fits");
        let along_y = least_angle(q, p, 200.0, 280.0).expect("fits");
        assert!((along_x - 50.1).abs() < 0.1 && (along_y - 23.0).abs() < 0.1);
        assert!((turned_box(p, q, along_x)[0] - 200.0).abs() < 1e-9);
        assert!((turned_box(q, p, along_y)[1] - 280.0).abs() < 1e-9);
    }

    #[test]
    fn a_turned_box_is_the_sum_of_both_sides_shadows() {
        // 300 × 20 at 45°: (300 + 20) / √2 = 226.27417 both ways. At 90° the sides change places.
        let [x, y] = turned_box(300.0, 20.0, 45.0);
        assert!((x - 226.27417).abs() < 1e-5 && (y - 226.27417).abs() < 1e-5);
        let [x, y] = turned_box(300.0, 20.0, 90.0);
        assert!((x - 20.0).abs() < 1e-9 && (y - 300.0).abs() < 1e-9);
    }
}
