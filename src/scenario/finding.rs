//! A scenario by its bare name.
//!
//! Knows: where scenarios usually lie. Must not know: what is in them.
//! Promises: a path that exists is taken as it is; a name is taken only where it can mean but one file.

use std::path::{Path, PathBuf};

use super::names::nearest;

/// Folders that a bare name is looked for in.
const FOLDERS: [&str; 2] = [".", "scenarios"];

/// The file that `crane` means: the only scenario here or in `scenarios/` whose name has it.
///
/// # Errors
/// If it may mean several: which.
pub fn find(written: &Path) -> Result<PathBuf, String> {
    let name = match written.to_str() {
        Some(name) if !written.exists() && is_bare(name) => name,
        _ if written.exists() => return Ok(written.to_owned()),
        _ => return missing(written),
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
        [] => missing(written),
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

/// A file that is not there: with the scenario that was most probably meant, if one there has a name like it. Else what is missing is
/// complained of when it is read.
fn missing(written: &Path) -> Result<PathBuf, String> {
    let stem = written.file_stem().map(|stem| stem.to_string_lossy());
    let Some(stem) = stem else {
        return Ok(written.to_owned());
    };
    let parent = written.parent().filter(|p| !p.as_os_str().is_empty());
    let own = parent.map(|parent| parent.to_string_lossy().into_owned());
    let folders = own.iter().map(String::as_str).chain(FOLDERS);
    let mut known: Vec<(String, PathBuf)> = folders
        .filter_map(|folder| std::fs::read_dir(folder).ok())
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            path.extension()
                .is_some_and(|end| end == "yaml" || end == "yml")
        })
        .filter_map(|path| {
            let name = path.file_stem()?.to_string_lossy().into_owned();
            let path = path.strip_prefix(".").map_or(path.clone(), Path::to_owned);
            Some((name, path))
        })
        .collect();
    known.sort();
    let near = nearest(&stem, known.iter().map(|(name, _)| name.as_str()));
    let path = near.and_then(|near| known.iter().find(|(name, _)| name == near));
    match path {
        Some((_, path)) => Err(format!(
            "there is no file `{}`; did you mean `{}`?",
            written.display(),
            path.display()
        )),
        None => Ok(written.to_owned()),
    }
}

fn is_bare(name: &str) -> bool {
    !name.is_empty() && !name.contains(['/', '\\', '.'])
}
