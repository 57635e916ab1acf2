//! Flat parts of any outline, as meshes.

use std::sync::Arc;

use beamyard::scenario::meshes::{MeshShape, measure};

/// A binary STL file of what stands upright over a polygon, from z = 0 up.
pub fn stl(corners: &[[f64; 2]], height: f64) -> Vec<u8> {
    let at = |[x, y]: [f64; 2], z: f64| [x, y, z];
    let mut triangles = Vec::new();
    for [a, b, c] in ears(corners) {
        triangles.push([at(a, height), at(b, height), at(c, height)]);
        triangles.push([at(a, 0.0), at(c, 0.0), at(b, 0.0)]);
    }
    for (&p, &q) in corners.iter().zip(corners.iter().cycle().skip(1)) {
        triangles.push([at(p, 0.0), at(q, 0.0), at(q, height)]);
        triangles.push([at(p, 0.0), at(q, height), at(p, height)]);
    }
    let mut bytes = vec![0; 80];
    bytes.extend((triangles.len() as u32).to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]);
        for value in triangle.iter().flatten() {
            bytes.extend((*value as f32).to_le_bytes());
        }
        bytes.extend([0; 2]);
    }
    bytes
}

/// The same, measured.
pub fn measured(corners: &[[f64; 2]], height: f64) -> Arc<MeshShape> {
    Arc::new(measure(stl(corners, height), 1.0, None).expect("a closed body"))
}

/// A simple polygon, counter-clockwise, in triangles that meet at its own corners.
fn ears(corners: &[[f64; 2]]) -> Vec<[[f64; 2]; 3]> {
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let mut left = corners.to_vec();
    let mut found = Vec::new();
    while left.len() > 2 {
        let count = left.len();
        let corner = |at: usize| left[at % count];
        let ear = (0..count).find(|&at| {
            let [a, b, c] = [at, at + 1, at + 2].map(corner);
            let others = left.iter().filter(|p| ![a, b, c].contains(p));
            turn(a, b, c) > 0.0
                && others
                    .into_iter()
                    .all(|&p| turn(a, b, p) < 0.0 || turn(b, c, p) < 0.0 || turn(c, a, p) < 0.0)
        });
        let at = ear.expect("a simple polygon has an ear");
        found.push([at, at + 1, at + 2].map(corner));
        left.remove((at + 1) % count);
    }
    found
}
