//! Meshes from files: STL and 3MF in, measures out.
//!
//! Knows: files, their limits, which faults put a mesh's volume in doubt. Must not know: how a mesh is measured, what
//! plans need of it.
//! Promises: a file that is no mesh, or hostile, is refused before it takes memory; nothing is mended without a word.

mod cache;
mod limits;
mod measure;
mod stl;
mod three_mf;

use std::collections::HashMap;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use cache::Cache;
pub use measure::{MeshShape, Split, measure, read_bytes};

use super::collector::{At, Collector};
use super::raw::{Got, RawScenario};
use super::settle::{self, AllNames};
use crate::geometry::TOLERANCE;

/// Why a file gives no mesh that can be trusted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unusable {
    /// What is wrong.
    pub rule: String,
    /// What would help.
    pub fix: String,
}

impl Unusable {
    fn new(rule: impl Into<String>, fix: impl Into<String>) -> Self {
        Self {
            rule: rule.into(),
            fix: fix.into(),
        }
    }
}

/// Reads a mesh file and measures it; what is odd besides comes as warnings.
///
/// # Errors
/// If the file cannot be read, is no mesh, breaks a limit, or encloses no volume that can be trusted.
pub fn read_file(
    path: &Path,
    scale: f64,
    split: Option<&Split>,
    cache: &Cache,
) -> Result<(MeshShape, Vec<Unusable>), Unusable> {
    let bytes = load(path)?;
    let key = cache::key(&bytes, scale, split);
    let mut shape = match cache.find(&key) {
        Some(shape) => shape,
        None => {
            let shape = measure(bytes, scale, split)?;
            cache.keep(&key, &shape);
            shape
        }
    };
    shape.file = path.display().to_string();
    let warnings = measure::oddities(&shape.findings);
    Ok((shape, warnings))
}

fn load(path: &Path) -> Result<Vec<u8>, Unusable> {
    let cannot = |error: std::io::Error| {
        let rule = match error.kind() {
            ErrorKind::NotFound => "there is no such file".to_owned(),
            _ => format!("the file cannot be read: {error}"),
        };
        Unusable::new(
            rule,
            "give the path of an STL or 3MF file, from the folder of the file that names it",
        )
    };
    // Only a plain file has an end for certain; a pipe could keep the reader waiting.
    let kind = std::fs::metadata(path).map_err(cannot)?;
    if !kind.is_file() {
        let fix = "give the path of an STL or 3MF file";
        return Err(Unusable::new("this is not a file", fix));
    }
    if kind.len() > limits::LARGEST_FILE {
        return Err(limits::too_large());
    }
    let mut bytes = Vec::with_capacity(kind.len() as usize);
    File::open(path)
        .and_then(|file| file.take(limits::LARGEST_FILE + 1).read_to_end(&mut bytes))
        .map_err(cannot)?;
    if bytes.len() as u64 > limits::LARGEST_FILE {
        return Err(limits::too_large());
    }
    Ok(bytes)
}

/// Reads and measures the mesh of every part that has one. Parts with the same mesh and split share its measures.
pub(super) fn attach(raw: &mut RawScenario, collector: &mut Collector, cache: &Cache) {
    let Some(scale) = raw.build.scale.value() else {
        return;
    };
    let mut known: HashMap<(PathBuf, String), Result<Outcome, Unusable>> = HashMap::new();
    let splits: Vec<Option<Split>> = {
        let names = AllNames::new(raw);
        let parts = raw.parts.iter();
        parts.map(|part| split_of(raw, &names, part)).collect()
    };
    for (part, split) in raw.parts.iter_mut().zip(splits) {
        let Some(At { value: name, spot }) = part.mesh.as_ref() else {
            continue;
        };
        let path = part.folder.join(name.trim());
        let key = (path, format!("{split:?}"));
        let outcome = known.entry(key).or_insert_with_key(|(path, _)| {
            let read = read_file(path, scale, split.as_ref(), cache);
            read.map(|(shape, warnings)| (Arc::new(shape), warnings))
        });
        let field = format!("{}.mesh", part.path);
        match outcome {
            Ok((shape, warnings)) => {
                for warning in warnings.iter() {
                    collector.warn(*spot, &field, &warning.rule, name, &warning.fix);
                }
                part.shape = Some(Arc::clone(shape));
            }
            Err(wrong) => {
                collector.error(*spot, &field, &wrong.rule, name, &wrong.fix);
                part.mesh = Got::Refused;
            }
        }
    }
}

type Outcome = (Arc<MeshShape>, Vec<Unusable>);

/// The lengths that a part may be cut into, and the shortest that its joint and its line allow.
fn split_of(raw: &RawScenario, names: &AllNames, part: &super::raw::RawPart) -> Option<Split> {
    let split = part.split.as_ref()?;
    let joint = names.joints.find(&split.joint.as_ref()?.value)?;
    let settings = settle::named_or_only(&part.settings, &names.settings)?;
    // Positions of names are those of the sections.
    let shortest = raw.joints[joint].shortest.value()?;
    let line = raw.settings[settings].line.value()?;
    Some(Split {
        into: split.into.as_ref()?.value.clone(),
        shortest: shortest.max(line) - TOLERANCE,
    })
}
