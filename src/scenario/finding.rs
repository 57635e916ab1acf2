//! A scenario by its bare name.
//!
//! Knows: where scenarios usually lie. Must not know: what is in them.
//! Promises: a path that exists is taken as it is; a name is taken only where it can mean but one file.

use std::path::{Path, PathBuf};

/// Folders that a bare name is looked for in.
const FOLDERS: [&str; 2] = [".", "scenarios"];

/// The file that `crane` means: the only scenario here or in `scenarios/` whose name has it.
///
/// # Errors
/// If it may mean several: which.
pub fn find(written: &Path) -> Result<PathBuf, String> {
    let name = match written.to_str() {
        Some(name) if !written.exists() && is_bare(name) => name,
        // What is missing is complained of when it is read.
        _ => return Ok(written.to_owned()),
    };
    let mut found: Vec<PathBuf> = FOLDERS
        .iter()
        .filter_map(|folder| std::fs::read_dir(folder).ok())
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            path.extension()
                .is_some_and(|end| end == "yaml" || end == "yml")
        })
        .filter(|path| {
            path.file_stem()
                .is_some_and(|stem| stem.to_string_lossy().contains(name))
        })
        .map(|path| path.strip_prefix(".").map_or(path.clone(), Path::to_owned))
        .collect();
    found.sort();
    if let Some(exact) = found
        .iter()
        .find(|path| path.file_stem().is_some_and(|stem| stem == name))
    {
        return Ok(exact.clone());
    }
    match found.as_slice() {
        [] => Ok(written.to_owned()),
        [only] => Ok(only.clone()),
        several => {
            let several: Vec<String> = several
                .iter()
                .map(|path| path.display().to_string())
                .collect();
            Err(format!(
                "`{name}` may mean {}; write which",
                several.join(" or ")
            ))
        }
    }
}

fn is_bare(name: &str) -> bool {
    !name.is_empty() && !name.contains(['/', '\\', '.'])
}
