//! Bodies that can be worked out by hand, and what the mesh says of them.

mod cuts;
mod faults;
mod outlines;
mod slopes;

use super::{Builder, Mesh};

/// A mesh of loose triangles.
pub(crate) fn mesh(triangles: &[[[f64; 3]; 3]]) -> Mesh {
    let mut builder = Builder::default();
    for triangle in triangles {
        builder.push(*triangle);
    }
    builder.finish()
}

/// A prism over a simple polygon that is star-shaped from its first corner, counter-clockwise, from z = 0 up.
pub(crate) fn prism(base: &[[f64; 2]], height: f64) -> Vec<[[f64; 3]; 3]> {
    let at = |corner: [f64; 2], z: f64| [corner[0], corner[1], z];
    let mut triangles = Vec::new();
    for pair in base.windows(2).skip(1) {
        triangles.push([
            at(base[0], height),
            at(pair[0], height),
            at(pair[1], height),
        ]);
        triangles.push([at(base[0], 0.0), at(pair[1], 0.0), at(pair[0], 0.0)]);
    }
    for (&p, &q) in base.iter().zip(base.iter().cycle().skip(1)) {
        triangles.push([at(p, 0.0), at(q, 0.0), at(q, height)]);
        triangles.push([at(p, 0.0), at(q, height), at(p, height)]);
    }
    triangles
}

/// A box between two corners.
pub(crate) fn block(low: [f64; 3], high: [f64; 3]) -> Vec<[[f64; 3]; 3]> {
    let base = [
        [low[0], low[1]],
        [high[0], low[1]],
        [high[0], high[1]],
        [low[0], high[1]],
    ];
    moved(prism(&base, high[2] - low[2]), [0.0, 0.0, low[2]])
}

/// All triangles moved.
pub(crate) fn moved(triangles: Vec<[[f64; 3]; 3]>, by: [f64; 3]) -> Vec<[[f64; 3]; 3]> {
    let corner = |corner: [f64; 3]| [0, 1, 2].map(|axis| corner[axis] + by[axis]);
    triangles.into_iter().map(|t| t.map(corner)).collect()
}

/// All triangles with their outside in.
pub(crate) fn inward(triangles: Vec<[[f64; 3]; 3]>) -> Vec<[[f64; 3]; 3]> {
    triangles.into_iter().map(|[a, b, c]| [a, c, b]).collect()
}

/// The L of 30 × 30 with arms of 10, to be seen from its inner corner (10, 10), which comes first.
pub(crate) const L: [[f64; 2]; 6] = [
    [10.0, 10.0],
    [10.0, 30.0],
    [0.0, 30.0],
    [0.0, 0.0],
    [30.0, 0.0],
    [30.0, 10.0],
];

/// A regular polygon of so many corners.
pub(crate) fn circle(radius: f64, corners: u32) -> Vec<[f64; 2]> {
    (0..corners)
        .map(|at| {
            let angle = std::f64::consts::TAU * f64::from(at) / f64::from(corners);
            [radius * angle.cos(), radius * angle.sin()]
        })
        .collect()
}

/// A tube along z: the rings of two regular polygons, from z = 0 up.
pub(crate) fn tube(outer: f64, inner: f64, corners: u32, height: f64) -> Vec<[[f64; 3]; 3]> {
    let (outside, inside) = (circle(outer, corners), circle(inner, corners));
    let at = |corner: [f64; 2], z: f64| [corner[0], corner[1], z];
    let mut triangles = Vec::new();
    let mut quad = |a, b, c, d| triangles.extend([[a, b, c], [a, c, d]]);
    for one in 0..corners as usize {
        let two = (one + 1) % corners as usize;
        let (p, q, r, s) = (outside[one], outside[two], inside[two], inside[one]);
        quad(at(p, 0.0), at(q, 0.0), at(q, height), at(p, height));
        quad(at(r, 0.0), at(s, 0.0), at(s, height), at(r, height));
        quad(at(p, height), at(q, height), at(r, height), at(s, height));
        quad(at(q, 0.0), at(p, 0.0), at(s, 0.0), at(r, 0.0));
    }
    triangles
}

pub(crate) fn close(found: f64, wanted: f64, within: f64) {
    let off = (found - wanted).abs();
    assert!(
        off <= within * wanted.abs().max(1.0),
        "{found}, not {wanted}"
    );
}

#[test]
fn an_l_prism_measures_what_its_rectangles_do() {
    // 30 × 10 + 10 × 20 = 500 mm²; 10 high: 5000 mm³. Around: 120 mm × 10 + 2 × 500 = 2200 mm².
    // Centre: (300 × (15, 5) + 200 × (5, 20)) / 500 = (11, 11).
    let body = mesh(&prism(&L, 10.0)).body().unwrap();
    close(body.volume, 5000.0, 1e-12);
    close(body.area, 2200.0, 1e-12);
    for (found, wanted) in body.centre.into_iter().zip([11.0, 11.0, 5.0]) {
        close(found, wanted, 1e-12);
    }
    assert_eq!(body.size(), [30.0, 30.0, 10.0]);
}

#[test]
fn a_void_takes_volume_away_and_adds_area() {
    // 40³ − 30³ = 37 000 mm³; 6 × (40² + 30²) = 15 000 mm².
    let mut all = block([-20.0; 3], [20.0; 3]);
    all.extend(inward(block([-15.0; 3], [15.0; 3])));
    let body = mesh(&all).body().unwrap();
    close(body.volume, 37_000.0, 1e-12);
    close(body.area, 15_000.0, 1e-12);
}

#[test]
fn a_body_six_times_as_large_has_lengths_areas_and_volumes_to_their_powers() {
    let body = mesh(&prism(&L, 10.0)).body().unwrap();
    let large = moved(prism(&L.map(|c| c.map(|v| v * 6.0)), 60.0), [0.0; 3]);
    let large = mesh(&large).body().unwrap();
    let scaled = body.scaled(6.0);
    close(scaled.volume, large.volume, 1e-12);
    close(scaled.area, large.area, 1e-12);
    assert_eq!(scaled.size(), large.size());
    for (one, other) in scaled.lying.iter().zip(&large.lying) {
        close(one.walls, other.walls, 1e-12);
        close(one.level(true), other.level(true), 1e-12);
        close(one.outline.area(), other.outline.area(), 1e-9);
        for (one, other) in one.corners.iter().zip(&other.corners) {
            close(one.length, other.length, 1e-12);
        }
        for (one, other) in one.up.iter().zip(&other.up) {
            close(one.under, other.under, 1e-12);
        }
    }
}
