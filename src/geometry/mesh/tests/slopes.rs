//! Walls, slopes, what rests on the bed and what hangs over it.

use super::super::{Lying, slope_class};
use super::{L, block, close, mesh, prism, tube};

#[test]
fn a_box_has_walls_a_lid_and_a_floor_on_the_bed_for_each_axis() {
    let body = mesh(&block([0.0; 3], [30.0, 20.0, 10.0])).body().unwrap();
    // Upright x: walls 2 × (20 + 10) × 30, level 20 × 10; and so on.
    for (lying, walls, level) in [
        (&body.lying[0], 1800.0, 200.0),
        (&body.lying[1], 1600.0, 300.0),
        (&body.lying[2], 1000.0, 600.0),
    ] {
        close(lying.walls, walls, 1e-12);
        close(lying.level(true), level, 1e-12);
        close(lying.level(false), level, 1e-12);
        close(lying.resting, level, 1e-12);
        assert_eq!(lying.overhang(45.0), (0.0, 0.0));
    }
    // Convex right angles, tan 45° = 1: four upright edges of 10 mm, 100 mm around lid and floor.
    let corners = &body.lying[2].corners;
    let sum = |one: u8, other: u8| -> f64 {
        let found = corners.iter().filter(|c| (c.one, c.other) == (one, other));
        found.map(|corner| corner.length).sum()
    };
    close(sum(0, 0), 40.0, 1e-12);
    close(sum(0, slope_class(true, 0)), 100.0, 1e-12);
    close(sum(0, slope_class(false, 0)), 100.0, 1e-12);
}

#[test]
fn a_hollow_edge_counts_against_the_convex_ones() {
    // Five convex upright edges of 10 mm and a hollow one of θ/2 = π/4 per mm.
    let body = mesh(&prism(&L, 10.0)).body().unwrap();
    let corners = &body.lying[2].corners;
    let upright = corners.iter().find(|c| (c.one, c.other) == (0, 0)).unwrap();
    close(
        upright.length,
        50.0 - 10.0 * std::f64::consts::FRAC_PI_4,
        1e-12,
    );
}

/// A bar of 10 × 10 across, 30 long in x, on a foot of 10 × 10 × 20: an L that stands on its short end.
fn gallows() -> Lying {
    let base = [
        [10.0, 20.0],
        [30.0, 20.0],
        [30.0, 30.0],
        [0.0, 30.0],
        [0.0, 0.0],
        [10.0, 0.0],
    ];
    // Drawn in x and y, so y stands upright.
    let body = mesh(&prism(&base, 10.0)).body().unwrap();
    body.lying[1].clone()
}

#[test]
fn what_hangs_over_the_bed_is_told_from_what_lies_on_it() {
    // Under the arm: 20 × 10 mm², 20 mm above the bed.
    let lying = gallows();
    close(lying.resting, 100.0, 1e-12);
    let (area, under) = lying.overhang(45.0);
    close(area, 200.0, 1e-12);
    close(under, 4000.0, 1e-12);
}

#[test]
fn turned_over_the_same_body_rests_on_its_back_and_nothing_hangs() {
    let over = gallows().turned_over();
    close(over.resting, 300.0, 1e-12);
    assert_eq!(over.overhang(45.0), (0.0, 0.0));
    assert_eq!(over.turned_over().up, gallows().up);
    assert_eq!(over.turned_over().outline, gallows().outline);
}

#[test]
fn a_face_drawn_at_45_degrees_is_steep_enough_and_one_at_44_is_not() {
    // A trapezoid that widens upward, drawn in x and y: 20 mm high; at 45° it leans out by 20, at 44° (from level) by more.
    let leaning = |out: f64| {
        let base = [[0.0, 0.0], [10.0, 0.0], [10.0 + out, 20.0], [-out, 20.0]];
        mesh(&prism(&base, 5.0)).body().unwrap().lying[1]
            .overhang(45.0)
            .0
    };
    assert_eq!(leaning(20.0), 0.0);
    close(
        leaning(20.0 / 44_f64.to_radians().tan()),
        2.0 * 5.0 * 20.0 / 44_f64.to_radians().tan(),
        1e-9,
    );
}

#[test]
fn a_lying_tube_hangs_over_on_its_lower_outside_and_its_upper_inside() {
    // A fine tube, its axis lying: the outside flatter than 45° below is 2·R·sin 45° wide, the inside above 2·r·sin 45°.
    let lying = mesh(&tube(20.0, 15.0, 720, 50.0)).body().unwrap().lying[0].clone();
    let (area, _) = lying.overhang(45.0);
    close(
        area,
        50.0 * 2.0 * (20.0 + 15.0) * 45_f64.to_radians().sin(),
        0.02,
    );
}

#[test]
fn as_much_looks_up_as_looks_down() {
    for lying in &mesh(&tube(20.0, 15.0, 31, 50.0)).body().unwrap().lying {
        close(lying.level(true), lying.level(false), 1e-12);
    }
}
