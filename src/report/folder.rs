//! Writes a plan's files into one folder, whole or not at all.
//!
//! Knows: files. Must not know: what stands in them.
//! Promises: after an error the folder is as it was; a folder is replaced only if an earlier plan wrote everything in
//! it; it never holds old files beside new ones.

use std::collections::BTreeSet;
use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rayon::prelude::*;
use tempfile::TempDir;

use super::files::CALENDAR;

/// The file that says which files of a folder are ours: one name a line.
pub const MARKER: &str = ".beamyard";

/// Why a folder was not written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// Its path names no folder.
    #[error("{0}: this names no folder; write for example `--out plan`")]
    NoName(PathBuf),
    /// What is there was not written by an earlier plan.
    #[error("{path}: {what} was not written by beamyard; name another folder, or move it away")]
    Foreign {
        /// The folder.
        path: PathBuf,
        /// What stands in the way.
        what: String,
    },
    /// The file system refused.
    #[error("{path}: cannot be written: {source}")]
    Io {
        /// The folder.
        path: PathBuf,
        /// What the file system says.
        source: io::Error,
    },
}

/// Where a folder is to be, and whether it replaces one of ours.
struct Place {
    target: PathBuf,
    parent: PathBuf,
    replaces: bool,
}

impl Place {
    fn find(path: &Path) -> Result<Self, FolderError> {
        // A link to a folder is followed, so that the link stays and what it points at is replaced.
        let target = if path.exists() {
            path.canonicalize().map_err(|error| failed(path, error))?
        } else {
            path.to_owned()
        };
        let (Some(parent), Some(_)) = (target.parent(), target.file_name()) else {
            return Err(FolderError::NoName(path.to_owned()));
        };
        let parent = if parent.as_os_str().is_empty() {
            PathBuf::from(".")
        } else {
            parent.to_owned()
        };
        let replaces = target.symlink_metadata().is_ok();
        if replaces {
            ours(path, &target)?;
        }
        Ok(Self {
            target,
            parent,
            replaces,
        })
    }

    /// A temporary folder beside the target, so that a rename moves things there without copying; dropped with all it holds.
    fn beside(&self) -> io::Result<Beside> {
        tidy(&self.parent);
        let folder = tempfile::Builder::new()
            .prefix(TEMPORARY)
            .tempdir_in(&self.parent)
            // Which temporary name was refused means nothing to whoever named the folder.
            .map_err(|error| io::Error::from(error.kind()))?;
        let lock = hold(folder.path()).ok();
        Ok(Beside {
            _lock: lock,
            folder,
        })
    }
}

/// A temporary folder of this process. Its file closes before it goes: there are systems on which an open file cannot.
struct Beside {
    _lock: Option<fs::File>,
    folder: TempDir,
}

impl Beside {
    fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Leaves it where it is, for good.
    fn keep(self) -> PathBuf {
        // Without the file it is nobody's, and is never tidied up.
        let _ = fs::remove_file(self.path().join(HELD));
        self.folder.keep()
    }
}

/// What temporary folders are called, before letters drawn at random.
const TEMPORARY: &str = ".beamyard-";

/// The file in a temporary folder that its writer holds locked for as long as it lives, what it is called before that, and what it says.
const HELD: &str = "writer";
const NOT_YET_HELD: &str = "writer.new";
const HOLDS: &str = "beamyard writes here as long as this file is locked\n";

/// So long ago, whoever made a file has got further than that, or never will.
const LONG_AGO: Duration = Duration::from_secs(3600);

/// Locks a temporary folder. The file has its name only once it is locked, so that nobody finds it as if its writer were gone.
fn hold(folder: &Path) -> io::Result<fs::File> {
    let new = folder.join(NOT_YET_HELD);
    put(&new, HOLDS)?;
    let file = fs::OpenOptions::new().read(true).write(true).open(&new)?;
    file.try_lock()?;
    fs::rename(&new, folder.join(HELD))?;
    Ok(file)
}

/// Deletes what writers left beside the target that were killed. A folder goes only if its file can be locked, so that nobody is writing
/// there, and if it holds nothing but that file and `new`: the new files, or, once the two have changed places, the earlier ones, which are
/// to go then. Earlier ones in `old` were to go back, and are kept. Where its writer came no further than to make the file, it
/// goes an hour after that. What cannot be looked at or deleted stays: it is in nobody's way.
fn tidy(parent: &Path) {
    let Ok(entries) = fs::read_dir(parent) else {
        return;
    };
    for entry in entries.flatten() {
        let named = entry.file_name().to_string_lossy().starts_with(TEMPORARY);
        if named && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            let folder = entry.path();
            if is_abandoned(&folder) == Some(true) {
                let _ = fs::remove_dir_all(folder);
            }
        }
    }
}

/// Whether the writer of a temporary folder is gone; `None`: nobody can tell.
fn is_abandoned(folder: &Path) -> Option<bool> {
    let entries = fs::read_dir(folder).ok()?;
    let names: io::Result<BTreeSet<OsString>> =
        entries.map(|entry| Ok(entry?.file_name())).collect();
    let names = names.ok()?;
    let only = |known: &[&str]| names.iter().all(|name| known.iter().any(|one| name == one));
    if names.contains(OsStr::new(HELD)) {
        return Some(only(&[HELD, "new"]) && is_free(&folder.join(HELD), |text| text == HOLDS)?);
    }
    // Its writer may be about to lock it, which takes it no hour.
    let idle = fs::metadata(folder).ok()?.modified().ok()?.elapsed().ok()?;
    let begun = |text: &str| HOLDS.starts_with(text);
    Some(
        idle >= LONG_AGO
            && only(&[NOT_YET_HELD])
            && (names.is_empty() || is_free(&folder.join(NOT_YET_HELD), begun)?),
    )
}

/// Whether a file is ours by what it says, and nobody holds it.
fn is_free(held: &Path, ours: impl Fn(&str) -> bool) -> Option<bool> {
    held.symlink_metadata().ok().filter(|file| file.is_file())?;
    let said = fs::read_to_string(held).ok()?;
    let file = fs::OpenOptions::new().read(true).write(true).open(held);
    Some(ours(&said) && file.ok()?.try_lock().is_ok())
}

/// Whether [`write_folder`] would find nothing in its way, as far as can be told before.
///
/// # Errors
/// As [`write_folder`].
pub fn may_write_folder(path: &Path) -> Result<(), FolderError> {
    let place = Place::find(path)?;
    place.beside().map_err(|error| failed(path, error))?;
    Ok(())
}

/// The calendar of the plan that an earlier call of [`write_folder`] left in this folder; `None` where there is none that can be read.
pub fn earlier(path: &Path) -> Option<String> {
    path.join(MARKER).is_file().then_some(())?;
    fs::read_to_string(path.join(CALENDAR)).ok()
}

/// Writes `files` (name, with `/` before the name of one in a folder of its own, and content) as the folder `path`, in place of one that an earlier call wrote.
///
/// # Errors
/// If the path names no folder, something there was not written by an earlier call, or the file system refuses.
pub fn write_folder(
    path: &Path,
    files: &[(impl AsRef<str> + Sync, String)],
) -> Result<(), FolderError> {
    let place = Place::find(path)?;
    let beside = place.beside().map_err(|error| failed(path, error))?;
    let new = beside.path().join("new");
    fill(&new, files).map_err(|error| failed(path, error))?;
    if place.replaces && exchanged(&new, &place.target) {
        return Ok(());
    }
    let old = beside.path().join("old");
    if place.replaces {
        fs::rename(&place.target, &old).map_err(|error| failed(path, error))?;
    }
    let Err(error) = fs::rename(&new, &place.target) else {
        return Ok(());
    };
    // The old folder goes back; if even that fails it must not be dropped with the temporary folder.
    if place.replaces && fs::rename(&old, &place.target).is_err() {
        let kept = beside.keep();
        let told = format!("{error}; the earlier files are in {}", kept.display());
        return Err(failed(path, io::Error::new(error.kind(), told)));
    }
    Err(failed(path, error))
}

/// Lets two folders change places in one step, so that there is no moment without one of them, whenever the power fails; `false` where
/// the file system cannot.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchanged(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

/// No system call for it is known: two steps have to do.
#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchanged(_one: &Path, _other: &Path) -> bool {
    false
}

fn failed(path: &Path, source: io::Error) -> FolderError {
    let source = match source.kind() {
        // The library's own words name no folder.
        io::ErrorKind::NotFound => {
            let told = "the folder that it is to stand in is not there, or takes no files";
            io::Error::new(source.kind(), told)
        }
        _ => source,
    };
    FolderError::Io {
        path: path.to_owned(),
        source,
    }
}

/// Whether everything in an existing folder was written by an earlier call.
fn ours(path: &Path, target: &Path) -> Result<(), FolderError> {
    let foreign = |what: String| FolderError::Foreign {
        path: path.to_owned(),
        what,
    };
    if !target.is_dir() {
        return Err(foreign("a file that is there already".to_owned()));
    }
    let Ok(marker) = fs::read_to_string(target.join(MARKER)) else {
        return Err(foreign("a folder that is there already".to_owned()));
    };
    let known: BTreeSet<&str> = marker.lines().chain([MARKER]).collect();
    let folders: BTreeSet<&str> = known
        .iter()
        .filter_map(|name| name.rsplit_once('/'))
        .map(|(folder, _)| folder)
        .collect();
    let mut to_look_at = vec![String::new()];
    while let Some(inside) = to_look_at.pop() {
        let entries = fs::read_dir(target.join(&inside)).map_err(|error| failed(path, error))?;
        for entry in entries {
            let entry = entry.map_err(|error| failed(path, error))?;
            let name = format!("{inside}{}", entry.file_name().display());
            // A link is nothing that we wrote, whatever it points at.
            let kind = entry.file_type().map_err(|error| failed(path, error))?;
            if kind.is_dir() && folders.contains(name.as_str()) {
                to_look_at.push(format!("{name}/"));
            } else if !(kind.is_file() && known.contains(name.as_str())) {
                return Err(foreign(format!("`{name}` in it")));
            }
        }
    }
    Ok(())
}

/// A new folder with these files and the marker, on the disk before it returns.
fn fill(folder: &Path, files: &[(impl AsRef<str> + Sync, String)]) -> io::Result<()> {
    fs::create_dir(folder)?;
    let names: String = files
        .iter()
        .map(|(name, _)| format!("{}\n", name.as_ref()))
        .collect();
    let inside: BTreeSet<&str> = files
        .iter()
        .filter_map(|(name, _)| name.as_ref().rsplit_once('/'))
        .map(|(folder, _)| folder)
        .collect();
    for inside in inside {
        fs::create_dir(folder.join(inside))?;
    }
    // A plan has a drawing for each run; the disk takes many of them in one go faster than one after the other.
    files
        .par_iter()
        .try_for_each(|(name, content)| put(&folder.join(name.as_ref()), content))?;
    put(&folder.join(MARKER), &names)
}

/// One new file, on the disk before it returns.
fn put(path: &Path, content: &str) -> io::Result<()> {
    let mut file = fs::File::create_new(path)?;
    file.write_all(content.as_bytes())?;
    file.sync_all()
}
