//! Volumes, areas and centres of bodies against values from elsewhere.
//!
//! Volume: Σ a·(b×c)/6 over triangles, centre and area likewise: C. Zhang, T. Chen, "Efficient feature extraction for 2D/3D
//! objects in mesh representation", ICIP 2001, vol. 3, 935–938. Boxes, prisms and regular polyhedra: school geometry. Spheres and tori:
//! 4/3·πr³, 4πr², 2π²Rr², 4π²Rr. Faceted torus: N·sin(2π/N)·R·½·M·r²·sin(2π/M) (our own). Subdivided spheres: worked out
//! apart from this program, in Python with trimesh.

use beamyard::geometry::mesh::{Body, Builder, Mesh};

type Triangle = [[f64; 3]; 3];

fn mesh(triangles: &[Triangle]) -> Mesh {
    let mut builder = Builder::default();
    triangles
        .iter()
        .for_each(|triangle| builder.push(*triangle));
    builder.finish()
}

fn body(triangles: &[Triangle]) -> Body {
    let mesh = mesh(triangles);
    let found = mesh.findings();
    assert_eq!(
        (
            found.open_edges,
            found.disagreeing_edges,
            found.duplicate_faces
        ),
        (0, 0, 0)
    );
    mesh.body().expect("it encloses something")
}

/// Faces by their corners, counter-clockwise from outside.
fn faces(corners: &[[f64; 3]], faces: &[[usize; 3]]) -> Vec<Triangle> {
    faces
        .iter()
        .map(|face| face.map(|at| corners[at]))
        .collect()
}

fn block(low: [f64; 3], high: [f64; 3]) -> Vec<Triangle> {
    let corners: Vec<[f64; 3]> = (0..8)
        .map(|at| {
            [0, 1, 2].map(|axis| {
                if at >> axis & 1 == 1 {
                    high[axis]
                } else {
                    low[axis]
                }
            })
        })
        .collect();
    let sides = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let halves = sides.map(|[a, b, c, d]| [[a, b, c], [a, c, d]]);
    faces(&corners, halves.as_flattened())
}

fn inward(triangles: Vec<Triangle>) -> Vec<Triangle> {
    triangles.into_iter().map(|[a, b, c]| [a, c, b]).collect()
}

fn is(body: &Body, volume: f64, area: f64, centre: [f64; 3], within: f64) {
    let close = |found: f64, wanted: f64| (found - wanted).abs() <= within * wanted.abs().max(1.0);
    assert!(
        close(body.volume, volume),
        "volume {}, not {volume}",
        body.volume
    );
    assert!(close(body.area, area), "area {}, not {area}", body.area);
    for (found, wanted) in body.centre.into_iter().zip(centre) {
        assert!(
            close(found, wanted),
            "centre {:?}, not {centre:?}",
            body.centre
        );
    }
}

#[test]
fn boxes_wherever_they_are() {
    is(
        &body(&block([0.0; 3], [30.0, 20.0, 10.0])),
        6000.0,
        2200.0,
        [15.0, 10.0, 5.0],
        1e-12,
    );
    let far = block([1000.0, -2000.0, 500.0], [1030.0, -1980.0, 510.0]);
    is(&body(&far), 6000.0, 2200.0, [1015.0, -1990.0, 505.0], 1e-9);
    let large = body(&block([0.0; 3], [30.0, 20.0, 10.0])).scaled(6.0);
    is(&large, 1_296_000.0, 79_200.0, [90.0, 60.0, 30.0], 1e-12);
}

#[test]
fn an_l_prism() {
    let mut l = block([0.0; 3], [30.0, 10.0, 10.0]);
    l.extend(block([0.0, 10.0, 0.0], [10.0, 30.0, 10.0]));
    // Where the two touch, 10 × 10, both have a face: the measures of the two together, less these.
    let mesh = mesh(&l);
    let two = mesh.body().unwrap();
    is(&two, 5000.0, 2200.0 + 200.0, [11.0, 11.0, 5.0], 1e-12);
}

#[test]
fn a_tetrahedron_an_octahedron_and_an_icosahedron() {
    let corners = [
        [1.0, 1.0, 1.0],
        [1.0, -1.0, -1.0],
        [-1.0, 1.0, -1.0],
        [-1.0, -1.0, 1.0],
    ];
    let four = faces(&corners, &[[0, 1, 2], [0, 2, 3], [0, 3, 1], [1, 3, 2]]);
    is(&body(&four), 8.0 / 3.0, 13.856_406, [0.0; 3], 1e-6);
    let corners = [
        [1.0, 0.0, 0.0],
        [0.0, 1.0, 0.0],
        [-1.0, 0.0, 0.0],
        [0.0, -1.0, 0.0],
        [0.0, 0.0, 1.0],
        [0.0, 0.0, -1.0],
    ];
    let mut eight = Vec::new();
    for at in 0..4 {
        eight.push([at, (at + 1) % 4, 4]);
        eight.push([(at + 1) % 4, at, 5]);
    }
    is(
        &body(&faces(&corners, &eight)),
        4.0 / 3.0,
        6.928_203,
        [0.0; 3],
        1e-6,
    );
    is(&body(&icosahedron()), 2.536_151, 9.574_541, [0.0; 3], 1e-6);
}

#[test]
fn voids_subtract_volume_and_add_area() {
    for (shift, centre) in [(0.0, 0.0), (2.0, -1.459_459)] {
        let mut hollow = block([-20.0; 3], [20.0; 3]);
        hollow.extend(inward(block(
            [-15.0 + shift, -15.0, -15.0],
            [15.0 + shift, 15.0, 15.0],
        )));
        is(&body(&hollow), 37_000.0, 15_000.0, [centre, 0.0, 0.0], 1e-6);
    }
}

/// An icosahedron with its corners on the unit sphere.
fn icosahedron() -> Vec<Triangle> {
    let golden = f64::midpoint(1.0, 5_f64.sqrt());
    let length = golden.hypot(1.0);
    let mut corners = Vec::new();
    for (a, b) in [
        (1.0, golden),
        (-1.0, golden),
        (1.0, -golden),
        (-1.0, -golden),
    ] {
        for shift in 0..3 {
            let mut corner = [0.0, a / length, b / length];
            corner.rotate_right(shift);
            corners.push(corner);
        }
    }
    // Twenty faces: every three corners that are next to each other.
    let edge = 2.0 / length;
    let near = |a: [f64; 3], b: [f64; 3]| {
        let gap: f64 = a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum();
        (gap.sqrt() - edge).abs() < 1e-9
    };
    let mut all = Vec::new();
    for a in 0..12 {
        for b in a + 1..12 {
            for c in b + 1..12 {
                let [p, q, r] = [corners[a], corners[b], corners[c]];
                if near(p, q) && near(q, r) && near(r, p) {
                    let turn = p[0] * (q[1] * r[2] - q[2] * r[1])
                        + p[1] * (q[2] * r[0] - q[0] * r[2])
                        + p[2] * (q[0] * r[1] - q[1] * r[0]);
                    all.push(if turn > 0.0 { [p, q, r] } else { [p, r, q] });
                }
            }
        }
    }
    assert_eq!(all.len(), 20);
    all
}

/// A sphere: an icosahedron whose faces are cut in four so many times.
fn sphere(radius: f64, times: u32) -> Vec<Triangle> {
    let middle = |a: [f64; 3], b: [f64; 3]| {
        let sum = [0, 1, 2].map(|axis| a[axis] + b[axis]);
        let length = sum.iter().map(|v| v * v).sum::<f64>().sqrt();
        sum.map(|value| value / length)
    };
    let mut all = icosahedron();
    for _ in 0..times {
        all = all
            .into_iter()
            .flat_map(|[a, b, c]| {
                let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
                [[a, ab, ca], [b, bc, ab], [c, ca, bc], [ab, bc, ca]]
            })
            .collect();
    }
    all.into_iter()
        .map(|t| t.map(|c| c.map(|v| v * radius)))
        .collect()
}

#[test]
fn spheres_come_near_their_closed_form_from_within() {
    let coarse = body(&sphere(50.0, 3));
    is(&coarse, 519_092.602, 31_266.232, [0.0; 3], 1e-7);
    let fine = body(&sphere(50.0, 5));
    is(&fine, 523_315.619, 31_406.534, [0.0; 3], 1e-7);
    assert!(fine.volume < 523_598.775_6 && fine.area < 31_415.926_5);
    // Its shadow: a circle of 50, and no more than the simplification beyond it.
    for lying in &fine.lying {
        let area = lying.outline.area();
        assert!(
            area > 0.999 * std::f64::consts::PI * 2500.0
                && area < std::f64::consts::PI * 50.05 * 50.05
        );
    }
}

#[test]
fn tori_have_their_own_closed_form() {
    for (n, m, volume, area) in [
        (24, 12, 74_539.884_99, 15_500.534_14),
        (48, 24, 77_835.258_85, 15_718.228_75),
        (96, 48, 78_675.346_19, 15_773.055_47),
    ] {
        let at = |i: u32, j: u32| {
            let turn =
                |at: u32, of: u32| std::f64::consts::TAU * f64::from(at % of) / f64::from(of);
            let (u, v) = (turn(i, n), turn(j, m));
            let reach = 40.0 + 10.0 * v.cos();
            [reach * u.cos(), reach * u.sin(), 10.0 * v.sin()]
        };
        let mut all = Vec::new();
        for i in 0..n {
            for j in 0..m {
                let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
                all.extend([[a, b, c], [a, c, d]]);
            }
        }
        is(&body(&all), volume, area, [0.0; 3], 1e-9);
    }
}
