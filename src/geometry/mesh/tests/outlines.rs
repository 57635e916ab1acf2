//! Shadows: what they enclose, what they may add, and the boxes that they must keep.

use proptest::prelude::*;

use super::super::shadow::SIMPLIFICATION;
use super::{L, block, circle, close, inward, mesh, moved, prism, tube};
use crate::geometry::Outline;

/// Whether a point is inside, by the number of edges to its right (even–odd); slow and obvious.
fn inside(outline: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let next = outline.iter().cycle().skip(1);
    let crossings = outline.iter().zip(next).filter(|(a, b)| {
        (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    });
    crossings.count() % 2 == 1
}

/// Distance of a point from a closed line.
fn off(outline: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    outline
        .iter()
        .zip(next)
        .map(|(a, b)| {
            let (along, gap) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
            let long = along[0] * along[0] + along[1] * along[1];
            let share = ((gap[0] * along[0] + gap[1] * along[1]) / long).clamp(0.0, 1.0);
            (gap[0] - share * along[0]).hypot(gap[1] - share * along[1])
        })
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn a_box_has_its_rectangles_and_nothing_more() {
    let body = mesh(&block([5.0, 5.0, 5.0], [35.0, 25.0, 15.0]))
        .body()
        .unwrap();
    for (lying, size) in body
        .lying
        .iter()
        .zip([[20.0, 10.0], [30.0, 10.0], [30.0, 20.0]])
    {
        assert_eq!(lying.outline.corners().len(), 4);
        assert_eq!(lying.outline.size(), size);
    }
}

#[test]
fn an_l_keeps_its_notch() {
    let outline = &mesh(&prism(&L, 10.0)).body().unwrap().lying[2].outline;
    close(outline.area(), 500.0, 1e-9);
    assert_eq!(outline.corners().len(), 6);
}

#[test]
fn with_y_upright_the_body_is_turned_and_not_mirrored() {
    // Drawn in z and x so that y is the height: in the bed's (x, −z) the notch of the L at high x and high z is at high x
    // and low y.
    let standing: Vec<_> = prism(&L, 10.0)
        .into_iter()
        .map(|triangle| triangle.map(|[x, y, z]| [x, z, y]))
        .collect();
    let outline = &mesh(&inward(standing)).body().unwrap().lying[1].outline;
    assert!(inside(outline.corners(), [-10.0, -10.0]));
    assert!(inside(outline.corners(), [10.0, 10.0]));
    assert!(!inside(outline.corners(), [10.0, -10.0]));
    assert!(inside(outline.corners(), [-10.0, 10.0]));
}

#[test]
fn a_ring_is_given_by_its_outer_line() {
    let outline = &mesh(&tube(20.0, 15.0, 12, 50.0)).body().unwrap().lying[2].outline;
    // Twelve triangles: 12 × ½ × 20² × sin 30° = 1200, and no hole.
    close(outline.area(), 1200.0, 1e-7);
}

#[test]
fn two_regions_are_given_by_the_hull_of_both() {
    let mut pair = block([0.0; 3], [10.0; 3]);
    pair.extend(block([20.0, 10.0, 0.0], [30.0, 20.0, 10.0]));
    let outline = &mesh(&pair).body().unwrap().lying[2].outline;
    // The box of 30 × 20 without two corner triangles of 20 × 10 / 2.
    close(outline.area(), 600.0 - 200.0, 1e-9);
}

#[test]
fn a_shelf_under_an_arm_is_hidden_and_an_open_mesh_has_a_shadow_too() {
    let mut stack = block([0.0; 3], [30.0, 30.0, 10.0]);
    stack.extend(block([5.0, 5.0, 20.0], [10.0, 40.0, 30.0]));
    stack.pop(); // a missing triangle opens it
    let outline = &mesh(&stack).body().unwrap().lying[2].outline;
    close(outline.area(), 900.0 + 5.0 * 10.0, 1e-9);
}

#[test]
fn a_fine_circle_has_few_corners_and_keeps_its_box() {
    // An edge prolonged by h = 0.05 mm on r = 50 spans 2·acos(r / (r + h)) = 5.1°: some 70 corners of 2000.
    let outline = &mesh(&prism(&circle(50.0, 2000), 5.0)).body().unwrap().lying[2].outline;
    assert!(outline.corners().len() < 140, "{}", outline.corners().len());
    assert!(
        outline
            .size()
            .iter()
            .all(|&side| (side - 100.0).abs() < 1e-5)
    );
    for corner in outline.corners() {
        let reach = corner[0].hypot(corner[1]);
        assert!(
            reach > 49.9999 && reach < 50.0 + SIMPLIFICATION + 1e-5,
            "{reach}"
        );
    }
}

#[test]
fn a_slit_narrower_than_the_simplification_stays_open() {
    // A frame of 40 × 40 with a yard of 20 × 20 that is open through a slit of 0.02 mm.
    let slit = [
        [20.01, 40.0],
        [20.01, 30.0],
        [30.0, 30.0],
        [30.0, 10.0],
        [10.0, 10.0],
        [10.0, 30.0],
        [19.99, 30.0],
        [19.99, 40.0],
        [0.0, 40.0],
        [0.0, 0.0],
        [40.0, 0.0],
        [40.0, 40.0],
    ];
    let line =
        super::super::simplify::outward(slit.to_vec(), [[0.0; 2], [40.0; 2]], SIMPLIFICATION);
    assert!(super::super::simplify::area(&line) < 1200.0 + 1.0);
}

proptest! {
    #[test]
    fn an_outline_holds_its_shadow_and_at_most_the_simplification_more(
        radii in prop::collection::vec(2.0..30f64, 8..60),
        wobble in prop::collection::vec(-0.1..0.1f64, 60),
        tilt in -0.5..0.5f64,
    ) {
        // A star of any radii, small steps among them, that leans as it rises.
        let count = radii.len();
        let star: Vec<[f64; 2]> = circle(1.0, count as u32)
            .iter()
            .enumerate()
            .map(|(at, [x, y])| {
                let radius = if at % 3 == 0 { radii[at] } else { radii[at / 3 * 3] + wobble[at] };
                [x * radius, y * radius]
            })
            .collect();
        // The fan needs the centre as its first corner, so the prism is built as a cone of quads around it.
        let mut triangles = Vec::new();
        for (p, q) in star.iter().zip(star.iter().cycle().skip(1)) {
            let low = |c: &[f64; 2]| [c[0], c[1], 0.0];
            let high = |c: &[f64; 2]| [c[0] + 10.0 * tilt, c[1], 10.0];
            triangles.push([[0.0; 3], low(q), low(p)]);
            triangles.push([[10.0 * tilt, 0.0, 10.0], high(p), high(q)]);
            triangles.push([low(p), low(q), high(q)]);
            triangles.push([low(p), high(q), high(p)]);
        }
        let mesh = mesh(&triangles);
        let [low, high] = mesh.bounds().unwrap();
        let body = mesh.body().unwrap();
        let outline = body.lying[2].outline.corners();
        let centre = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
        // Every corner of every face is inside, or on the line.
        for corner in triangles.iter().flatten() {
            let point = [corner[0] - centre[0], corner[1] - centre[1]];
            prop_assert!(inside(outline, point) || off(outline, point) < 5e-6);
        }
        // Every corner of the outline is within the tolerance of some face (faces are sampled on their edges).
        for corner in outline {
            let near = triangles
                .iter()
                .map(|t| off(&t.map(|c| [c[0] - centre[0], c[1] - centre[1]]), *corner))
                .fold(f64::INFINITY, f64::min);
            prop_assert!(near <= SIMPLIFICATION + 5e-6, "{near}");
        }
    }

    #[test]
    fn a_turned_body_has_the_outline_of_the_same_area(degrees in 0.0..360f64) {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let turned: Vec<_> = moved(prism(&L, 10.0), [-11.0, -11.0, 0.0])
            .into_iter()
            .map(|t| t.map(|[x, y, z]| [x * cos - y * sin, x * sin + y * cos, z]))
            .collect();
        let outline: &Outline = &mesh(&turned).body().unwrap().lying[2].outline;
        // 120 mm of edge, rounded to a millionth of a millimetre.
        prop_assert!((outline.area() - 500.0).abs() < 2e-4);
    }
}
