//! A rectangle turned in a rectangle.
//!
//! Conditions: W. B. Carver, solution to problem E1225 (L. R. Ford, 1956), Amer. Math. Monthly 64 (1957) 114–116 (from
//! memory); J. E. Wetzel, "Rectangles in Rectangles", Mathematics Magazine 73(3) (2000) 204–211, doi 10.2307/2691523
//! (opening page read, with the 9 × 4 / 8 × 6 example). The lengths follow from them and were computed apart from
//! this program.

use beamyard::geometry::{
    TOLERANCE, fits_at_some_angle, least_angle, longest_at_width, turned_box,
};

#[test]
fn a_rectangle_that_touches_on_all_four_sides_fits_and_a_hundredth_more_does_not() {
    // cos θ = 4/5, sin θ = 3/5: 400·4/5 + 25·3/5 = 335 and 400·3/5 + 25·4/5 = 260.
    assert!(fits_at_some_angle(400.0, 25.0, 335.0, 260.0));
    assert!(!fits_at_some_angle(400.01, 25.0, 335.0, 260.0));
    // cos θ = 12/13, sin θ = 5/13: 260·12/13 + 26·5/13 = 250 and 260·5/13 + 26·12/13 = 124.
    assert!(fits_at_some_angle(260.0, 26.0, 250.0, 124.0));
    assert!(!fits_at_some_angle(260.01, 26.0, 250.0, 124.0));
}

#[test]
fn the_angle_of_a_rectangle_that_touches_on_all_sides_is_the_rational_one() {
    let degrees = least_angle(400.0, 25.0, 335.0, 260.0).expect("fits");
    assert!((degrees.to_radians().cos() - 0.8).abs() < 1e-6);
    let [x, y] = turned_box(400.0, 25.0, degrees);
    assert!(x <= 335.0 + TOLERANCE && y <= 260.0 + TOLERANCE);
    let degrees = least_angle(260.0, 26.0, 250.0, 124.0).expect("fits");
    assert!((degrees.to_radians().cos() - 12.0 / 13.0).abs() < 1e-6);
}

#[test]
fn rectangles_that_pass_easier_conditions_are_refused() {
    // Area, diagonal, perimeter and thickness all pass: Wetzel's example.
    assert!(!fits_at_some_angle(9.0, 4.0, 8.0, 6.0));
    // Wider than the bed: the condition without q ≤ b would say yes to both. The square: a comment of 2017-03-10 in
    // the ARQMath copy of a question on rectangles in rectangles.
    assert!(!fits_at_some_angle(10.0, 10.0, 8.0, 8.0));
    assert!(!fits_at_some_angle(5.0, 4.0, 10.0, 3.0));
}

const BEDS: [(f64, f64); 6] = [
    (300.0, 300.0),
    (290.0, 290.0),
    (250.0, 210.0),
    (240.0, 200.0),
    (220.0, 220.0),
    (400.0, 300.0),
];

/// Longest p by width q, for each of [`BEDS`]; where turning gains nothing, the bed's longer side.
const LONGEST: [(f64, [f64; 6]); 8] = [
    (
        0.0,
        [424.2641, 410.1219, 326.4966, 312.4100, 311.1270, 500.0000],
    ),
    (
        5.0,
        [419.2641, 405.1219, 321.5752, 307.4960, 306.1270, 495.2060],
    ),
    (
        10.0,
        [414.2641, 400.1219, 316.6615, 302.5910, 301.1270, 490.4248],
    ),
    (
        20.0,
        [404.2641, 390.1219, 306.8618, 292.8127, 291.1270, 480.9047],
    ),
    (
        30.0,
        [394.2641, 380.1219, 297.1082, 283.0883, 281.1270, 471.4494],
    ),
    (
        48.0,
        [376.2641, 362.1219, 279.7197, 265.7845, 263.1270, 454.6326],
    ),
    (
        60.0,
        [364.2641, 350.1219, 268.3096, 254.4708, 251.1270, 443.6045],
    ),
    (100.0, [324.2641, 310.1219, 250.0, 240.0, 220.0, 408.5116]),
];

#[test]
fn the_longest_rectangle_of_each_width_is_as_tabled() {
    for (q, row) in LONGEST {
        for ((a, b), expected) in BEDS.into_iter().zip(row) {
            let p = longest_at_width(q, a, b).expect("narrow enough");
            assert!((p - expected).abs() < 1e-4, "{q} in {a} × {b}: {p}");
        }
    }
}

#[test]
fn the_longest_rectangle_lies_at_the_tabled_angle() {
    // Degrees between p and the bed's longer side, for those beds that are not square.
    const DEGREES: [(f64, [Option<f64>; 3]); 7] = [
        (5.0, [Some(39.874), Some(39.635), Some(36.706)]),
        (10.0, [Some(39.708), Some(39.453), Some(36.536)]),
        (20.0, [Some(39.342), Some(39.049), Some(36.175)]),
        (30.0, [Some(38.922), Some(38.583), Some(35.783)]),
        (48.0, [Some(37.989), Some(37.538), Some(34.986)]),
        (60.0, [Some(37.196), Some(36.637), Some(34.378)]),
        (100.0, [None, None, Some(31.750)]),
    ];
    for (q, row) in DEGREES {
        for ((a, b), expected) in [BEDS[2], BEDS[3], BEDS[5]].into_iter().zip(row) {
            let p = longest_at_width(q, a, b).expect("narrow enough");
            let degrees = least_angle(p, q, a, b);
            match expected {
                Some(expected) => {
                    let degrees = degrees.expect("on the diagonal");
                    assert!(
                        (degrees - expected).abs() < 1e-3,
                        "{q} in {a} × {b}: {degrees}°"
                    );
                }
                None => assert_eq!(degrees, None, "{q} in {a} × {b} lies straight"),
            }
        }
    }
    // On a square bed it is 45°.
    let p = longest_at_width(5.0, 300.0, 300.0).expect("narrow enough");
    let degrees = least_angle(p, 5.0, 300.0, 300.0).expect("on the diagonal");
    assert!((degrees - 45.0).abs() < 1e-3);
}

#[test]
fn beams_side_by_side_on_the_diagonal_are_one_wider_rectangle() {
    // Beams 20 wide, 4 apart, on 290 × 290: n of them are 24 n − 4 wide, and on a square p + q ≤ 290·√2.
    for (n, expected) in [
        (1, 390.1219),
        (2, 366.1219),
        (3, 342.1219),
        (4, 318.1219),
        (5, 294.1219),
    ] {
        let width = f64::from(24 * n - 4);
        let longest = longest_at_width(width, 290.0, 290.0).expect("narrow enough");
        assert!((longest - expected).abs() < 1e-4, "{n} beams: {longest}");
    }
    // Six would be 270.1 long on the diagonal: straight they are 290.
    let six = longest_at_width(140.0, 290.0, 290.0).expect("narrow enough");
    assert!((six - 290.0).abs() < 1e-9);
}
