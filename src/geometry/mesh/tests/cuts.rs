//! Lengths of a cut mesh: each closed, all together the whole.

use proptest::prelude::*;

use super::{L, block, circle, close, inward, mesh, prism, tube};

#[test]
fn a_box_falls_into_equal_boxes() {
    let whole = mesh(&block([5.0, 0.0, 0.0], [35.0, 20.0, 10.0]));
    let lengths = whole.lengths(0, 3).unwrap();
    assert_eq!(lengths.len(), 3);
    for body in &lengths {
        close(body.volume, 2000.0, 1e-12);
        // 2 × (10 × 20 + 10 × 10 + 20 × 10): the cuts are faces.
        close(body.area, 1000.0, 1e-12);
        close(body.lying[0].level(true), 200.0, 1e-12);
        assert_eq!(body.lying[0].outline.size(), [20.0, 10.0]);
        // And edges: four of 10 mm along the cut box's x.
        let upright = body.lying[0]
            .corners
            .iter()
            .find(|c| (c.one, c.other) == (0, 0));
        close(upright.unwrap().length, 40.0, 1e-12);
    }
    assert_eq!(lengths[1].low[0], 15.0);
}

#[test]
fn each_length_of_an_l_has_its_own_box_volume_and_outline() {
    // Across x in three: 10 × 30 first, then twice 10 × 10, all 10 high.
    let lengths = mesh(&prism(&L, 10.0)).lengths(0, 3).unwrap();
    let volumes: Vec<f64> = lengths.iter().map(|body| body.volume).collect();
    close(volumes[0], 3000.0, 1e-12);
    close(volumes[1], 1000.0, 1e-12);
    close(volumes[2], 1000.0, 1e-12);
    assert_eq!(lengths[0].size(), [10.0, 30.0, 10.0]);
    assert_eq!(lengths[1].size(), [10.0, 10.0, 10.0]);
    close(lengths[0].lying[2].outline.area(), 300.0, 1e-9);
}

#[test]
fn a_cut_through_faces_gives_each_to_the_body_behind_it() {
    // The inner corner of the L lies in the first cut: the face there belongs to the upright arm, and no flake of it to
    // the other side.
    let lengths = mesh(&prism(&L, 10.0)).lengths(0, 3).unwrap();
    // The arm's box of 10 × 30 × 10: 2 × (300 + 100 + 300); the cut of 10 × 10 and the face of 20 × 10 make up one side.
    close(lengths[0].area, 1400.0, 1e-12);
    close(lengths[1].area, 600.0, 1e-12);
}

#[test]
fn a_void_stays_a_void_where_it_is_cut() {
    // 40³ with a void of 30³, cut in the middle: two halves of 18 500 mm³; the cut is a frame of 40² − 30².
    let mut all = block([-20.0; 3], [20.0; 3]);
    all.extend(inward(block([-15.0; 3], [15.0; 3])));
    let halves = mesh(&all).lengths(2, 2).unwrap();
    for half in &halves {
        close(half.volume, 18_500.0, 1e-12);
        close(half.lying[2].level(true), 1600.0, 1e-12);
        close(half.area, 15_000.0 / 2.0 + 700.0, 1e-12);
    }
}

#[test]
fn a_length_without_anything_in_it_is_refused() {
    let mut far = block([0.0; 3], [10.0; 3]);
    far.extend(block([90.0, 0.0, 0.0], [100.0, 10.0, 10.0]));
    assert!(mesh(&far).lengths(0, 3).is_none());
    assert!(mesh(&far).lengths(0, 2).is_some());
}

proptest! {
    #[test]
    fn lengths_add_up_to_the_whole(
        lengths in 2..9u32, axis in 0..3usize, corners in 3..20u32, turn in 0.0..90f64, tilt in 0.0..90f64,
    ) {
        let (sin, cos) = turn.to_radians().sin_cos();
        let (rise, run) = tilt.to_radians().sin_cos();
        let body: Vec<_> = tube(20.0, 12.0, corners, 70.0)
            .into_iter()
            .map(|t| t.map(|[x, y, z]| {
                let (x, y) = (x * cos - y * sin, x * sin + y * cos);
                [x * run - z * rise, y, x * rise + z * run]
            }))
            .collect();
        let mesh = mesh(&body);
        let whole = mesh.body().unwrap();
        if let Some(lengths) = mesh.lengths(axis, lengths) {
            let sum: f64 = lengths.iter().map(|body| body.volume).sum();
            prop_assert!((sum - whole.volume).abs() < 1e-9 * whole.volume, "{sum} of {}", whole.volume);
            for axis in 0..3 {
                let moment: f64 = lengths.iter().map(|b| b.volume * b.centre[axis]).sum();
                prop_assert!((moment - whole.volume * whole.centre[axis]).abs() < 1e-6 * whole.volume);
            }
            for body in &lengths {
                for lying in &body.lying {
                    let (up, down) = (lying.level(true), lying.level(false));
                    // Slivers along a cut, too thin for a normal, are left out: as much as the audit forgives.
                    prop_assert!((up - down).abs() < 1e-5 * up + 1e-3, "closed: {up}, {down}");
                }
            }
        }
    }

    #[test]
    fn a_cut_anywhere_has_the_area_of_the_cross_section(share in 2..40u32) {
        // A cone: at the height z its section is a 24-gon of radius 30·(1 − z/90).
        let base = circle(30.0, 24);
        let mut cone = Vec::new();
        for (p, q) in base.iter().zip(base.iter().cycle().skip(1)) {
            cone.push([[p[0], p[1], 0.0], [q[0], q[1], 0.0], [0.0, 0.0, 90.0]]);
            cone.push([[0.0; 3], [q[0], q[1], 0.0], [p[0], p[1], 0.0]]);
        }
        let lengths = mesh(&cone).lengths(2, share).unwrap();
        let radius = 30.0 * (1.0 - 1.0 / f64::from(share));
        let section = 12.0 * radius * radius * (std::f64::consts::TAU / 24.0).sin();
        let found = lengths[1].lying[2].resting;
        prop_assert!((found - section).abs() < 1e-6, "{found}, not {section}");
    }
}
