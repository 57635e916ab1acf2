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
    let named = |path: &PathBuf| stem(path).is_some_and(|stem| stem.contains(name));
    let found: Vec<PathBuf> = scenarios_in(FOLDERS.map(Path::new)).filter(named).collect();
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
    let Some(meant) = stem(written) else {
        return Ok(written.to_owned());
    };
    let parent = written.parent().filter(|p| !p.as_os_str().is_empty());
    let folders = parent.into_iter().chain(FOLDERS.map(Path::new));
    let known: Vec<(String, PathBuf)> = scenarios_in(folders)
        .filter_map(|path| Some((stem(&path)?, path)))
        .collect();
    let near = nearest(&meant, known.iter().map(|(name, _)| name.as_str()));
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

/// Scenario files in these folders, in the order of their names.
fn scenarios_in<'a>(folders: impl IntoIterator<Item = &'a Path>) -> impl Iterator<Item = PathBuf> {
    let entries = folders
        .into_iter()
        .filter_map(|folder| std::fs::read_dir(folder).ok());
    let paths = entries
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()));
    let scenarios = paths.filter(|path| {
        path.extension()
            .is_some_and(|end| end == "yaml" || end == "yml")
    });
    let here = |path: PathBuf| path.strip_prefix(".").map_or(path.clone(), Path::to_owned);
    let mut found: Vec<PathBuf> = scenarios.map(here).collect();
    found.sort();
    found.into_iter()
}

fn stem(path: &Path) -> Option<String> {
    Some(path.file_stem()?.to_string_lossy().into_owned())
}

fn is_bare(name: &str) -> bool {
    !name.is_empty() && !name.contains(['/', '\\', '.'])
}
