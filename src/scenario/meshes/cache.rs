//! Measures of meshes from earlier runs, by the content of the file.
//!
//! Knows: a folder. Must not know: how a mesh is measured.
//! Promises: whatever is wrong with the folder or its files, the mesh is measured as if there were none; measures that
//! come out are those that went in, and were made by this very version of the measuring code.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::{MeshShape, Split};

/// Where the variable is set, it names the folder; `off` stands for none.
const VARIABLE: &str = "BEAMYARD_CACHE";
/// More files than this are not kept; the oldest half goes.
const MOST_FILES: usize = 1_000;
/// A larger file is none of ours.
const LARGEST: u64 = 64 * 1024 * 1024;

/// All that decides a measure besides the file itself: a change of any of it makes older measures void.
const SOURCES: [&str; 14] = [
    include_str!("../../geometry/mesh/mod.rs"),
    include_str!("../../geometry/mesh/body.rs"),
    include_str!("../../geometry/mesh/cut.rs"),
    include_str!("../../geometry/mesh/findings.rs"),
    include_str!("../../geometry/mesh/lying.rs"),
    include_str!("../../geometry/mesh/shadow.rs"),
    include_str!("../../geometry/mesh/simplify.rs"),
    include_str!("../../geometry/mesh/surface.rs"),
    include_str!("../../geometry/outline.rs"),
    include_str!("../../../Cargo.lock"),
    include_str!("limits.rs"),
    include_str!("measure.rs"),
    include_str!("stl.rs"),
    include_str!("three_mf.rs"),
];

/// Where measures are kept between runs, if anywhere.
#[derive(Clone, Debug, Default)]
pub struct Cache {
    folder: Option<PathBuf>,
}

impl Cache {
    /// No cache: every mesh is measured afresh.
    pub fn none() -> Self {
        Self::default()
    }

    /// A cache in this folder, which need not be there yet.
    pub fn at(folder: &Path) -> Self {
        Self {
            folder: Some(folder.to_owned()),
        }
    }

    /// The user's own: the folder that `BEAMYARD_CACHE` names (`off`: none), or the system's place for such things.
    pub fn of_user() -> Self {
        let folder = match std::env::var_os(VARIABLE) {
            Some(set) if set.is_empty() || set == "off" => None,
            Some(folder) => Some(PathBuf::from(folder)),
            None => directories::ProjectDirs::from("", "", "beamyard")
                .map(|folders| folders.cache_dir().join("meshes")),
        };
        Self { folder }
    }

    pub(super) fn find(&self, key: &str) -> Option<MeshShape> {
        let path = self.folder.as_ref()?.join(key);
        if fs::metadata(&path).ok()?.len() > LARGEST {
            return None;
        }
        let text = fs::read_to_string(&path).ok()?;
        let (sum, measures) = text.split_once('\n')?;
        if sum != blake3::hash(measures.as_bytes()).to_hex().as_str() {
            return None;
        }
        serde_json::from_str(measures).ok()
    }

    /// Keeps measures; if that is not possible, they are not kept.
    pub(super) fn keep(&self, key: &str, shape: &MeshShape) {
        let _ = self.try_keep(key, shape);
    }

    fn try_keep(&self, key: &str, shape: &MeshShape) -> Option<()> {
        let folder = self.folder.as_ref()?;
        fs::create_dir_all(folder).ok()?;
        make_room(folder);
        let measures = serde_json::to_string(shape).ok()?;
        let mut file = tempfile::NamedTempFile::new_in(folder).ok()?;
        let sum = blake3::hash(measures.as_bytes()).to_hex();
        write!(file, "{sum}\n{measures}").ok()?;
        file.persist(folder.join(key)).ok()?;
        Some(())
    }
}

/// The name under which measures are kept.
pub(super) fn key(bytes: &[u8], scale: f64, split: Option<&Split>) -> String {
    let mut hasher = blake3::Hasher::new();
    for source in SOURCES {
        hasher.update(source.as_bytes());
    }
    hasher.update(&scale.to_bits().to_le_bytes());
    hasher.update(format!("{split:?}").as_bytes());
    hasher.update(bytes);
    hasher.finalize().to_hex().to_string()
}

/// Removes the older half of the files where there are too many.
fn make_room(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let dated = entries.flatten().filter_map(|entry| {
        let kind = entry.metadata().ok()?;
        // Whatever else the user keeps there is not ours to remove.
        let name = entry.file_name();
        let ours = name.len() == 64 && name.to_str()?.bytes().all(|byte| byte.is_ascii_hexdigit());
        (kind.is_file() && ours).then_some(())?;
        Some((kind.modified().ok()?, entry.path()))
    });
    let mut files: Vec<_> = dated.collect();
    if files.len() >= MOST_FILES {
        files.sort();
        for (_, path) in &files[..MOST_FILES / 2] {
            let _ = fs::remove_file(path); // if it cannot be removed, it stays
        }
    }
}
