//! What a mesh file may be at most. The limits of a scenario's fields stand in `fields`.
//!
//! Knows: sizes. Must not know: formats.
//! Promises: within these limits no file takes more than about half a gigabyte of memory while it is read.

use super::Unusable;

/// Largest file, bytes: a binary STL of [`MOST_TRIANGLES`].
pub const LARGEST_FILE: u64 = 84 + 50 * MOST_TRIANGLES as u64;
/// Most triangles of a mesh.
pub const MOST_TRIANGLES: usize = 2_000_000;
/// Largest model in a 3MF file once unpacked, bytes: some 700 000 triangles.
pub const LARGEST_MODEL: u64 = 64 * 1024 * 1024;
/// Largest list of relationships in a 3MF file, bytes.
pub const LARGEST_RELATIONSHIPS: u64 = 1024 * 1024;
/// Most entries of a 3MF file's archive.
pub const MOST_ENTRIES: usize = 2_000;
/// Most copies of objects that components and build items of a 3MF file make, and solids of an ASCII STL file.
pub const MOST_BODIES: usize = 10_000;
/// Components within components.
pub const DEEPEST: usize = 32;
/// Greatest distance of a corner from the origin in any direction, mm; a kilometre.
pub const FARTHEST: f64 = 1e6;

pub fn too_large() -> Unusable {
    Unusable::new(
        format!("the file is larger than {} MB", LARGEST_FILE / 1_000_000),
        "export the mesh with fewer triangles: a coarser tolerance is fine enough for printing",
    )
}

pub fn too_many() -> Unusable {
    Unusable::new(
        format!("the mesh has more than {MOST_TRIANGLES} triangles"),
        "export the mesh with fewer triangles: a coarser tolerance is fine enough for printing",
    )
}

/// Whether all coordinates are numbers within the limits.
pub fn is_near(triangle: &[[f64; 3]; 3]) -> bool {
    triangle
        .iter()
        .flatten()
        .all(|value| value.abs() <= FARTHEST) // false for what is no number
}

pub fn too_far(number: usize) -> Unusable {
    Unusable::new(
        format!("triangle {number} has a coordinate that is no number, or beyond a kilometre"),
        "export the mesh again, in millimetres",
    )
}
