//! Triangle meshes: what a part measures, whether its mesh can be believed, its shadow, and its lengths.
//!
//! Knows: triangles in mm. Must not know: files, units of files, parts, machines, settings.
//! Promises: measures come from the faces as they are; nothing is mended but a mesh that is inside out as a whole.
//!
//! The flow: `Builder` joins equal corners, `surface` finds neighbours, `findings` says what is wrong, `body` measures
//! (with `lying` for each axis upright and `shadow` for the outline), `cut` divides into lengths.

mod body;
mod cut;
mod findings;
mod lying;
mod shadow;
mod simplify;
mod surface;
#[cfg(test)]
pub(crate) mod tests;

use rustc_hash::FxHashMap;

pub use body::Body;
pub use findings::Findings;
pub use lying::{CLASSES, Corner, Lying, Slope, class, slope_class};

/// A closed or nearly closed surface of triangles, in mm; corners counter-clockwise seen from outside.
#[derive(Clone, Debug, Default)]
pub struct Mesh {
    corners: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    degenerate: usize,
}

impl Mesh {
    /// Its triangles, each by its three corners in mm.
    pub fn triangles(&self) -> impl ExactSizeIterator<Item = [[f64; 3]; 3]> + '_ {
        let corner = |at: u32| self.corners[at as usize]; // a builder's triangle has a builder's corners
        self.triangles.iter().map(move |all| all.map(corner))
    }

    /// Least and greatest coordinates, mm; a mesh without triangles has none.
    pub fn bounds(&self) -> Option<[[f64; 3]; 2]> {
        let mut corners = self.triangles.iter().flatten();
        let first = self.corners[*corners.next()? as usize];
        Some(corners.fold([first, first], |[low, high], &at| {
            let corner = self.corners[at as usize];
            [
                [0, 1, 2].map(|axis| low[axis].min(corner[axis])),
                [0, 1, 2].map(|axis| high[axis].max(corner[axis])),
            ]
        }))
    }

    /// Makes it so many times as large; the factor is above 0.
    pub fn enlarge(&mut self, by: f64) {
        for corner in &mut self.corners {
            *corner = corner.map(|value| value * by);
        }
    }

    /// Turns every triangle round, so that what was outside is inside.
    pub fn turn_inside_out(&mut self) {
        for triangle in &mut self.triangles {
            triangle.swap(1, 2);
        }
    }
}

/// Makes a mesh of loose triangles: corners at the very same place become one.
#[derive(Debug, Default)]
pub struct Builder {
    mesh: Mesh,
    known: FxHashMap<[u64; 3], u32>,
}

impl Builder {
    /// With room for so many triangles.
    pub fn with_capacity(triangles: usize) -> Self {
        let mut builder = Self::default();
        builder.mesh.triangles.reserve(triangles);
        // A closed mesh has about half as many corners as triangles.
        builder.mesh.corners.reserve(triangles / 2);
        builder.known.reserve(triangles / 2);
        builder
    }

    /// Takes a triangle in; its coordinates are finite and in mm. One whose corners are not three is only counted.
    pub fn push(&mut self, triangle: [[f64; 3]; 3]) {
        debug_assert!(triangle.iter().flatten().all(|value| value.is_finite()));
        let [a, b, c] = triangle.map(|corner| self.corner(corner));
        if a == b || b == c || c == a {
            self.mesh.degenerate += 1;
        } else {
            self.mesh.triangles.push([a, b, c]);
        }
    }

    fn corner(&mut self, corner: [f64; 3]) -> u32 {
        let corner = corner.map(|value| value + 0.0); // minus zero is zero
        let mesh = &mut self.mesh;
        *self
            .known
            .entry(corner.map(f64::to_bits))
            .or_insert_with(|| {
                mesh.corners.push(corner);
                // Readers stop long before 2³² corners.
                (mesh.corners.len() - 1) as u32
            })
    }

    /// The mesh.
    pub fn finish(self) -> Mesh {
        self.mesh
    }
}

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn length(a: [f64; 3]) -> f64 {
    dot(a, a).sqrt()
}
