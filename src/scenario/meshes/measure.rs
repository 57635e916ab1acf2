//! From the bytes of a mesh file to measures at print scale.
//!
//! Knows: which fault is an error and which a warning. Must not know: where the bytes come from.
//! Promises: the same bytes, scale and split give the same measures to the last bit.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use super::{Unusable, stl, three_mf};
use crate::geometry::mesh::{Body, Findings, Mesh};

/// A mesh's faults may change its volume by this share at most.
const DOUBT: f64 = 0.01;
/// A body may exceed its box by rounding only.
const OVERFULL: f64 = 1.0 + 1e-6;
/// A body that fills less than this of its box is nothing but rounding.
const NOTHING: f64 = 1e-9;

/// What is measured of a mesh, at print scale.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeshShape {
    /// The file, as it was found.
    pub file: String,
    /// What is wrong with it; nothing that puts its volume in doubt.
    pub findings: Findings,
    /// In one piece.
    pub whole: Body,
    /// Cut across its longest side (the first of equal ones): by number of lengths, each length from low to high. Numbers
    /// at which some length would be empty are missing.
    pub lengths: BTreeMap<u32, Vec<Body>>,
}

impl MeshShape {
    /// One of so many lengths, counted from 1; the whole if it is not cut.
    pub fn body(&self, lengths: u32, length: u32) -> Option<&Body> {
        if lengths <= 1 {
            return (length <= 1).then_some(&self.whole);
        }
        let bodies = self.lengths.get(&lengths)?;
        bodies.get((length as usize).checked_sub(1)?)
    }
}

/// In how many lengths a mesh may be wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct Split {
    /// Numbers of lengths.
    pub into: RangeInclusive<u32>,
    /// No length is wanted that is shorter, mm.
    pub shortest: f64,
}

/// The triangles in a file's bytes, in mm, as they are.
///
/// # Errors
/// If they are no mesh, or break a limit.
pub fn read_bytes(bytes: Vec<u8>) -> Result<Mesh, Unusable> {
    if three_mf::is_archive(&bytes) {
        three_mf::read(&bytes)
    } else {
        stl::read(bytes)
    }
}

/// Reads and measures a mesh, enlarged by `scale`.
///
/// A mesh that is inside out as a whole is turned; anything else is left as it is.
///
/// # Errors
/// As [`read_bytes`], and if it encloses no volume that can be trusted.
pub fn measure(bytes: Vec<u8>, scale: f64, split: Option<&Split>) -> Result<MeshShape, Unusable> {
    let mut mesh = read_bytes(bytes)?;
    mesh.enlarge(scale);
    let findings = mesh.findings();
    refuse_doubtful(&findings)?;
    if findings.volume < 0.0 {
        mesh.turn_inside_out();
    }
    let nothing = || Unusable::new("the mesh encloses nothing", "export a closed body");
    let whole = mesh.body().ok_or_else(nothing)?;
    let mut lengths = BTreeMap::new();
    if let Some(split) = split {
        let size = whole.size();
        let longest = size.into_iter().fold(0.0, f64::max);
        let axis = size.iter().position(|&side| side == longest).unwrap_or(0);
        let wanted = split.into.clone();
        for number in wanted.take_while(|&n| longest / f64::from(n) >= split.shortest) {
            if let Some(bodies) = mesh.lengths(axis, number) {
                lengths.insert(number, bodies);
            }
        }
    }
    Ok(MeshShape {
        file: String::new(),
        findings,
        whole,
        lengths,
    })
}

fn refuse_doubtful(findings: &Findings) -> Result<(), Unusable> {
    if findings.triangles == 0 {
        let fix = "export the body itself, not an empty drawing";
        return Err(Unusable::new("the mesh has no triangles", fix));
    }
    let faults = faults(findings);
    if findings.filled.is_nan() || findings.filled <= NOTHING {
        let mut rule = "the mesh encloses no volume".to_owned();
        if !faults.is_empty() {
            rule = format!("{rule}: it has {faults}");
        }
        return Err(Unusable::new(rule, "export a closed body, not a surface"));
    }
    if findings.doubt.is_nan() || findings.doubt > DOUBT {
        return Err(Unusable::new(
            format!(
                "the mesh has {faults}, which put {:.0} % of its volume in doubt; at most {:.0} % will do",
                (100.0 * findings.doubt).min(1000.0).ceil(),
                100.0 * DOUBT
            ),
            "repair it where it was drawn, and export it again",
        ));
    }
    if findings.filled > OVERFULL {
        return Err(Unusable::new(
            format!(
                "the mesh encloses {:.2} times its own box, so bodies in it overlap",
                findings.filled
            ),
            "unite them where they were drawn, and export it again",
        ));
    }
    Ok(())
}

/// What is odd about a mesh that can be used all the same.
pub(super) fn oddities(findings: &Findings) -> Vec<Unusable> {
    let mut odd = Vec::new();
    if findings.volume < 0.0 {
        odd.push(Unusable::new(
            "the mesh is inside out; all its faces were turned",
            "turn its normals outward where it was drawn, to be rid of this line",
        ));
    }
    let faults = faults(findings);
    if !faults.is_empty() {
        odd.push(Unusable::new(
            format!(
                "the mesh has {faults}; it is taken as it is, since they change its volume by {:.2} % at most",
                100.0 * findings.doubt
            ),
            "repair it where it was drawn, to be rid of this line",
        ));
    }
    odd
}

/// The counts in words; empty if there is nothing to count.
fn faults(findings: &Findings) -> String {
    let counted = |count: usize, one: &str, many: &str| {
        let noun = if count == 1 { one } else { many };
        (count > 0).then(|| format!("{count} {noun}"))
    };
    let all = [
        counted(findings.open_edges, "open edge", "open edges"),
        counted(
            findings.disagreeing_edges,
            "edge whose faces are turned against each other",
            "edges whose faces are turned against each other",
        ),
        counted(
            findings.duplicate_faces,
            "face that is there twice",
            "faces that are there twice",
        ),
    ];
    let all: Vec<String> = all.into_iter().flatten().collect();
    match all.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => String::new(),
    }
}
