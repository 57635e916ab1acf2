//! What is wrong with a mesh, and how much of its volume that puts in doubt.
//!
//! Knows: faces and edges. Must not know: which doubt is too much for whom, files.
//! Promises: counts only; a sound mesh has none and no doubt. Bodies that overlap each other are not found.

use std::collections::BTreeMap;

use super::surface::{NONE, Surface};
use super::{Mesh, cross, dot, minus};

/// The counts of a mesh's faults.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Findings {
    /// Triangles, those without area left out.
    pub triangles: usize,
    /// Triangles whose corners are not three; they have no effect.
    pub degenerate: usize,
    /// Edges with one triangle only: the surface has a gap there.
    pub open_edges: usize,
    /// Edges at which triangles run against each other: some are turned the wrong way.
    pub disagreeing_edges: usize,
    /// Triangles that are there more than once, the first not counted.
    pub duplicate_faces: usize,
    /// Enclosed volume in mm³, below zero for a mesh that is inside out.
    pub volume: f64,
    /// By what share of the volume the faults above can change it, so far as can be told.
    pub doubt: f64,
    /// Enclosed volume as a share of the mesh's box; more than 1 where bodies overlap.
    pub filled: f64,
}

impl Mesh {
    /// Looks for open edges, faces turned the wrong way, faces written twice, and what they do to the volume.
    ///
    /// The doubt: every gap is closed by a cone of triangles to its own middle, and the volume of these patches is set
    /// against the whole; copies of a face add their own. A hairline gap so counts for nothing, a missing end for much.
    pub fn findings(&self) -> Findings {
        let mut findings = Findings {
            triangles: self.triangles.len(),
            degenerate: self.degenerate,
            ..Findings::default()
        };
        let Some([low, high]) = self.bounds() else {
            return findings;
        };
        let surface = Surface::new(self);
        let middle = [0, 1, 2].map(|axis| (low[axis] + high[axis]) / 2.0);
        findings.open_edges = surface.open;
        findings.disagreeing_edges = surface.disagreeing;
        findings.volume = surface.volume(middle).0;
        let room: f64 = (0..3).map(|axis| high[axis] - low[axis]).product();
        if room > 0.0 {
            findings.filled = findings.volume.abs() / room;
        }
        let (count, copied) = duplicates(&surface, middle);
        findings.duplicate_faces = count;
        let uncertain = patches(&surface, middle) + copied;
        if uncertain > 0.0 {
            findings.doubt = uncertain / findings.volume.abs().max(f64::MIN_POSITIVE);
        }
        findings
    }
}

/// How many triangles repeat another, and the volume that the repetitions that face the same way claim.
fn duplicates(surface: &Surface<'_>, middle: [f64; 3]) -> (usize, f64) {
    let mut seen: BTreeMap<[u32; 3], [u32; 2]> = BTreeMap::new();
    let (mut count, mut volume) = (0, 0.0);
    for &at in &surface.suspects {
        let corners = surface.mesh.triangles[at as usize];
        let least = (0..3).min_by_key(|&one| corners[one]).unwrap_or(0); // of three there is a least
        let [a, b, c] = [0, 1, 2].map(|step| corners[(least + step) % 3]);
        // The same three corners, and which way round.
        let (key, way) = ([a, b.min(c), b.max(c)], usize::from(b > c));
        let ways = seen.entry(key).or_default();
        if ways[0] + ways[1] > 0 {
            count += 1;
        }
        if ways[way] > 0 {
            let face = &surface.faces[at as usize];
            volume += (face.area * dot(face.normal, minus(face.centre, middle)) / 3.0).abs();
        }
        ways[way] += 1;
    }
    (count, volume)
}

/// The volume between the gaps' patches and the middle, gap by gap.
fn patches(surface: &Surface<'_>, middle: [f64; 3]) -> f64 {
    let mut group: BTreeMap<u32, u32> = BTreeMap::new();
    fn root(group: &mut BTreeMap<u32, u32>, mut at: u32) -> u32 {
        while let Some(&up) = group.get(&at).filter(|&&up| up != at) {
            let next = group.get(&up).copied().unwrap_or(up);
            group.insert(at, next);
            at = next;
        }
        group.entry(at).or_insert(at);
        at
    }
    let open: Vec<_> = surface.edges.iter().filter(|e| e.right == NONE).collect();
    for edge in &open {
        let (one, other) = (root(&mut group, edge.from), root(&mut group, edge.to));
        group.insert(one, other);
    }
    /// The edges of a gap, each from end to end, and the sum of their middles.
    type Gap = (Vec<[[f64; 3]; 2]>, [f64; 3]);
    let mut gaps: BTreeMap<u32, Gap> = BTreeMap::new();
    for edge in open {
        let ends = [edge.to, edge.from].map(|at| minus(surface.corner(at), middle));
        let (edges, sum) = gaps.entry(root(&mut group, edge.from)).or_default();
        edges.push(ends);
        for axis in 0..3 {
            sum[axis] += (ends[0][axis] + ends[1][axis]) / 2.0;
        }
    }
    gaps.values()
        .map(|(edges, sum)| {
            let tip = sum.map(|value| value / edges.len() as f64);
            let cone = |[p, q]: &[[f64; 3]; 2]| dot(tip, cross(*p, *q)) / 6.0;
            edges.iter().map(cone).sum::<f64>().abs()
        })
        .sum()
}
