//! The faces of a mesh and which of them meet at which edge.
//!
//! Knows: triangles that share corners. Must not know: what is measured on them.
//! Promises: each edge of each face is in exactly one [`Edge`]; an edge without a face on its other side is open.

use super::{Mesh, cross, dot, length, minus};

/// No face is on this side of an edge.
pub(super) const NONE: u32 = u32::MAX;

/// A flat piece of surface: a triangle, or the whole of a cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Face {
    /// Outward, of length 1; zero where the face has no area.
    pub normal: [f64; 3],
    /// mm².
    pub area: f64,
    /// Centre of its area.
    pub centre: [f64; 3],
}

/// Where two faces meet. `left` runs along it as written, `right` the other way.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub from: u32,
    pub to: u32,
    pub left: u32,
    pub right: u32,
}

/// Faces and edges of a mesh.
pub(super) struct Surface<'m> {
    pub mesh: &'m Mesh,
    pub faces: Vec<Face>,
    pub edges: Vec<Edge>,
    /// Triangles at edges where more than two meet, or whose neighbour has the same corners: perhaps written twice.
    pub suspects: Vec<u32>,
    /// Edges with one triangle only.
    pub open: usize,
    /// Edges at which some triangle runs the wrong way round.
    pub disagreeing: usize,
}

impl<'m> Surface<'m> {
    pub fn new(mesh: &'m Mesh) -> Self {
        let faces = mesh.triangles().map(face).collect();
        let mut surface = Self {
            mesh,
            faces,
            edges: Vec::with_capacity(mesh.triangles.len() * 3 / 2 + 1),
            suspects: Vec::new(),
            open: 0,
            disagreeing: 0,
        };
        surface.pair();
        surface.suspects.sort_unstable();
        surface.suspects.dedup();
        surface
    }

    /// Finds the two sides of each edge: half edges are listed under the lesser of their corners, by counting.
    fn pair(&mut self) {
        let triangles = &self.mesh.triangles;
        let halves = |triangle: &[u32; 3]| {
            let [a, b, c] = *triangle;
            [(a, b), (b, c), (c, a)]
        };
        let mut starts = vec![0_u32; self.mesh.corners.len() + 1];
        for (from, to) in triangles.iter().flat_map(halves) {
            starts[from.min(to) as usize + 1] += 1;
        }
        for at in 1..starts.len() {
            starts[at] += starts[at - 1];
        }
        let mut free = starts.clone();
        // (greater corner, triangle × 2 + whether it runs downward)
        let mut listed = vec![(0_u32, 0_u32); triangles.len() * 3];
        for (at, triangle) in triangles.iter().enumerate() {
            for (from, to) in halves(triangle) {
                let place = &mut free[from.min(to) as usize];
                listed[*place as usize] = (from.max(to), at as u32 * 2 + u32::from(from > to));
                *place += 1;
            }
        }
        for least in 0..self.mesh.corners.len() {
            let bucket = &mut listed[starts[least] as usize..starts[least + 1] as usize];
            bucket.sort_unstable();
            for group in bucket.chunk_by(|one, other| one.0 == other.0) {
                self.pair_group(least as u32, group);
            }
        }
    }

    fn pair_group(&mut self, least: u32, group: &[(u32, u32)]) {
        let greatest = group[0].0; // no group is empty
        let along = |down: u32| {
            let side = move |&&(_, half): &&(u32, u32)| half % 2 == down;
            group.iter().filter(side).map(|&(_, half)| half / 2)
        };
        let (mut up, mut down) = (along(0), along(1));
        let matched = up.clone().count() == down.clone().count();
        if !matched {
            if group.len() == 1 {
                self.open += 1;
            } else {
                self.disagreeing += 1;
            }
        }
        if group.len() > 2 || !matched && group.len() > 1 {
            self.suspects
                .extend(group.iter().map(|&(_, half)| half / 2));
        }
        loop {
            let edge = match (up.next(), down.next()) {
                (None, None) => break,
                (Some(left), right) => Edge {
                    from: least,
                    to: greatest,
                    left,
                    right: right.unwrap_or(NONE),
                },
                (None, Some(left)) => Edge {
                    from: greatest,
                    to: least,
                    left,
                    right: NONE,
                },
            };
            if edge.right != NONE && self.third(edge.left, edge) == self.third(edge.right, edge) {
                self.suspects.extend([edge.left, edge.right]);
            }
            self.edges.push(edge);
        }
    }

    /// The corner of a triangle that is not on its edge.
    fn third(&self, triangle: u32, edge: Edge) -> u32 {
        let corners = self.mesh.triangles[triangle as usize];
        // The sum without the two others, which wraps back to the third.
        corners
            .iter()
            .fold(0_u32, |sum, &at| sum.wrapping_add(at))
            .wrapping_sub(edge.from)
            .wrapping_sub(edge.to)
    }

    pub fn corner(&self, at: u32) -> [f64; 3] {
        self.mesh.corners[at as usize] // an edge's corners are the mesh's
    }

    /// Closes what a cut across `axis` at `plane` left open with one flat face, and gives its number if there is any.
    ///
    /// Its area and centre follow from its edges alone (Green's theorem: the surveyor's formula and its moments).
    pub fn close(&mut self, axis: usize, plane: f64) -> Option<u32> {
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let is_cut = |surface: &Self, edge: &Edge| {
            edge.right == NONE
                && [edge.from, edge.to]
                    .iter()
                    .all(|&at| surface.corner(at)[axis] == plane)
        };
        let origin = self
            .edges
            .iter()
            .find(|edge| is_cut(self, edge))
            .map(|edge| self.corner(edge.from))?;
        let (mut twice, mut moment) = (0.0, [0.0; 2]);
        for edge in self.edges.iter().filter(|edge| is_cut(self, edge)) {
            // The new face runs along the edge the other way.
            let [p, q] = [edge.to, edge.from].map(|at| minus(self.corner(at), origin));
            let turn = p[u] * q[v] - p[v] * q[u];
            twice += turn;
            moment[0] += (p[u] + q[u]) * turn;
            moment[1] += (p[v] + q[v]) * turn;
        }
        let mut centre = origin;
        if twice != 0.0 {
            centre[u] += moment[0] / (3.0 * twice);
            centre[v] += moment[1] / (3.0 * twice);
        }
        let mut normal = [0.0; 3];
        normal[axis] = if twice == 0.0 { 0.0 } else { twice.signum() };
        let number = self.faces.len() as u32;
        self.faces.push(Face {
            normal,
            area: twice.abs() / 2.0,
            centre,
        });
        for at in 0..self.edges.len() {
            if is_cut(self, &self.edges[at]) {
                self.edges[at].right = number;
            }
        }
        Some(number)
    }

    /// Enclosed volume in mm³ and its centre: the sum of the cones from `around` to every face.
    ///
    /// Source: C. Zhang, T. Chen, "Efficient feature extraction for 2D/3D objects in mesh representation", ICIP 2001,
    /// vol. 3, 935–938; a flat face of any form has its cone's centre three quarters of the way to its own.
    pub fn volume(&self, around: [f64; 3]) -> (f64, [f64; 3]) {
        let (mut sixfold, mut moment) = (0.0, [0.0; 3]);
        for face in &self.faces {
            let reach = minus(face.centre, around);
            let cone = 2.0 * face.area * dot(face.normal, reach);
            sixfold += cone;
            for axis in 0..3 {
                moment[axis] += cone * reach[axis];
            }
        }
        let share = if sixfold == 0.0 { 0.0 } else { 0.75 / sixfold };
        let centre = [0, 1, 2].map(|axis| around[axis] + share * moment[axis]);
        (sixfold / 6.0, centre)
    }
}

fn face([a, b, c]: [[f64; 3]; 3]) -> Face {
    let span = cross(minus(b, a), minus(c, a));
    let twice = length(span);
    Face {
        normal: if twice > 0.0 {
            span.map(|value| value / twice)
        } else {
            [0.0; 3]
        },
        area: twice / 2.0,
        centre: [0, 1, 2].map(|axis| a[axis] + ((b[axis] - a[axis]) + (c[axis] - a[axis])) / 3.0),
    }
}
