//! A mesh cut across one axis into equal lengths.
//!
//! Knows: triangles. Must not know: joints, why it is cut.
//! Promises: the lengths' volumes add up to the whole; each has a flat face where it was cut.

use rustc_hash::FxHashMap;

use super::body::Body;
use super::surface::Surface;
use super::{Mesh, cross, minus};

/// A corner this near a cut is on it, mm.
const ON_PLANE: f64 = 1e-7;

impl Mesh {
    /// Cuts the mesh across `axis` (0, 1, 2) in so many lengths of its box, and measures each, in order.
    ///
    /// `None` where one of them would hold nothing.
    pub fn lengths(&self, axis: usize, lengths: u32) -> Option<Vec<Body>> {
        let [low, high] = self.bounds()?;
        let step = (high[axis] - low[axis]) / f64::from(lengths);
        let plane = |cut: u32| low[axis] + step * f64::from(cut);
        let mut rest = self.clone();
        let mut bodies = Vec::new();
        for length in 1..=lengths {
            let lower = (length > 1).then(|| plane(length - 1));
            let upper = (length < lengths).then(|| plane(length));
            let piece = match upper {
                Some(upper) => {
                    let piece = rest.side(axis, upper, -1.0);
                    rest = rest.side(axis, upper, 1.0);
                    piece
                }
                None => std::mem::take(&mut rest),
            };
            let mut surface = Surface::new(&piece);
            for plane in lower.into_iter().chain(upper) {
                surface.close(axis, plane);
            }
            bodies.push(Body::of(&surface)?);
        }
        Some(bodies)
    }

    /// What is above (`side` 1) or below (−1) a plane across an axis, open where it was cut.
    ///
    /// A face in the plane itself belongs to the body behind it: to the side that it looks away from.
    fn side(&self, axis: usize, plane: f64, side: f64) -> Mesh {
        let beyond: Vec<f64> = self
            .corners
            .iter()
            .map(|corner| {
                let gap = (corner[axis] - plane) * side;
                if gap.abs() <= ON_PLANE { 0.0 } else { gap }
            })
            .collect();
        let mut kept = Kept::default();
        for triangle in &self.triangles {
            let gaps = triangle.map(|at| beyond[at as usize]);
            if gaps.iter().all(|&gap| gap == 0.0) {
                let [a, b, c] = triangle.map(|at| self.corners[at as usize]);
                if cross(minus(b, a), minus(c, a))[axis] * side < 0.0 {
                    kept.polygon(&triangle.map(|at| kept_corner(self, at, axis, plane, &beyond)));
                }
            } else if gaps.iter().all(|&gap| gap >= 0.0) {
                kept.polygon(&triangle.map(|at| kept_corner(self, at, axis, plane, &beyond)));
            } else if gaps.iter().any(|&gap| gap > 0.0) {
                let mut polygon = Vec::with_capacity(4);
                for step in 0..3 {
                    let (from, to) = (triangle[step], triangle[(step + 1) % 3]);
                    let (here, there) = (beyond[from as usize], beyond[to as usize]);
                    if here >= 0.0 {
                        polygon.push(kept_corner(self, from, axis, plane, &beyond));
                    }
                    if here * there < 0.0 {
                        polygon.push(crossing(self, [from, to], axis, plane, &beyond));
                    }
                }
                kept.polygon(&polygon);
            }
        }
        kept.mesh
    }
}

/// A corner and its name: itself, or the edge on which a cut made it.
type Named = ((u32, u32), [f64; 3]);

fn kept_corner(mesh: &Mesh, at: u32, axis: usize, plane: f64, beyond: &[f64]) -> Named {
    let mut corner = mesh.corners[at as usize];
    if beyond[at as usize] == 0.0 {
        corner[axis] = plane;
    }
    ((at, at), corner)
}

/// Where an edge passes the plane: the same point to the last bit from both of its triangles.
fn crossing(mesh: &Mesh, ends: [u32; 2], axis: usize, plane: f64, beyond: &[f64]) -> Named {
    let (one, other) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    let (from, to) = (beyond[one as usize], beyond[other as usize]);
    let share = from / (from - to);
    let (p, q) = (mesh.corners[one as usize], mesh.corners[other as usize]);
    let mut corner = [0, 1, 2].map(|axis| p[axis] + share * (q[axis] - p[axis]));
    corner[axis] = plane;
    ((one, other), corner)
}

/// The triangles that are kept, their corners numbered anew.
#[derive(Default)]
struct Kept {
    mesh: Mesh,
    known: FxHashMap<(u32, u32), u32>,
}

impl Kept {
    fn polygon(&mut self, corners: &[Named]) {
        let numbers: Vec<u32> = corners.iter().map(|&named| self.number(named)).collect();
        for pair in numbers.windows(2).skip(1) {
            self.mesh.triangles.push([numbers[0], pair[0], pair[1]]);
        }
    }

    fn number(&mut self, (name, corner): Named) -> u32 {
        let corners = &mut self.mesh.corners;
        *self.known.entry(name).or_insert_with(|| {
            corners.push(corner);
            (corners.len() - 1) as u32
        })
    }
}
