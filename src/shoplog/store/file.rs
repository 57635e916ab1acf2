//! The file of a log as the folder has it, and what stands beside it.
//!
//! Knows: files, names of files. Must not know: what is in a log.
//! Promises: a new file appears whole or not at all; entries that wait beside a log that is gone get into no other.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use tempfile::NamedTempFile;

use super::{cannot_be_read, cannot_be_written};
use crate::shoplog::{Trouble, WITH_ITS_FILES};

/// `BYLG`: says in the file's header that it is a log of this program.
pub(super) const APPLICATION: i32 = 0x4259_4C47;

/// Where the header of an SQLite file has the application's number, four bytes, the highest first.
/// Source: sqlite.org/fileformat2.html, 1.3, "Application ID".
const APPLICATION_AT: usize = 68;

/// What an SQLite file begins with. Source: the same, 1.3.1.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// What a log is called until it is whole, and some letters more.
const UNFINISHED: &str = ".beamyard-log-";

/// What nobody has written for so long nobody is writing: a log is made in some milliseconds.
const ABANDONED: Duration = Duration::from_secs(3600);

/// Whether there is a log at a path. Never asked while this process has the log open: when the file is closed here, the system lets go of
/// the locks that the process has on it. Source: sqlite.org/howtocorrupt.html, 2.2.
///
/// # Errors
/// If what is there is something else; or if nothing is, and entries wait that SQLite would take for those of whatever comes there.
pub(super) fn is_there(path: &Path) -> Result<bool, Trouble> {
    if is_log(path)? {
        return Ok(true);
    }
    let waits = !nothing_pending(path);
    // Whoever has made a log in between may have noted in it by now.
    if is_log(path)? {
        return Ok(true);
    }
    if !waits {
        return Ok(false);
    }
    let waiting = pending(path);
    Err(Trouble::NotOurs {
        path: path.to_owned(),
        what: format!(
            "entries of a log that stood here wait in {}",
            waiting.display()
        ),
        fix: "put the log back beside that file, or move that file to where the log is".to_owned(),
    })
}

fn is_log(path: &Path) -> Result<bool, Trouble> {
    let mut file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(false),
        Err(error) => return Err(cannot_be_read(path, &error)),
    };
    let mut header = [0; APPLICATION_AT + 4];
    let ours = match file.read_exact(&mut header) {
        Ok(()) => {
            header.starts_with(MAGIC) && header[APPLICATION_AT..] == APPLICATION.to_be_bytes()
        }
        Err(error) if error.kind() == ErrorKind::UnexpectedEof => false,
        Err(error) => return Err(cannot_be_read(path, &error)),
    };
    if ours {
        return Ok(true);
    }
    Err(Trouble::NotOurs {
        path: path.to_owned(),
        what: "it is no log of this program".to_owned(),
        fix: format!(
            "move it away, {WITH_ITS_FILES}; then put a copy of the log in its place, if you have one"
        ),
    })
}

/// Where SQLite has entries that are not in the file yet.
fn pending(path: &Path) -> PathBuf {
    let mut beside = path.as_os_str().to_owned();
    beside.push("-wal");
    beside.into()
}

/// Whether the file holds all entries, none waiting beside it.
pub(super) fn nothing_pending(path: &Path) -> bool {
    std::fs::metadata(pending(path)).map_or(true, |pending| pending.len() == 0)
}

/// The path as SQLite takes it for a file that nobody can change.
pub(super) fn unchanging(path: &Path) -> String {
    let path = path.display().to_string();
    let path = path
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    format!("file:{path}?immutable=1")
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Whether a log could be made at a path where there is none.
pub(super) fn may_be_made(path: &Path) -> Result<(), Trouble> {
    let made = tempfile::tempfile_in(folder_of(path));
    made.map(|_| ())
        .map_err(|error| cannot_be_written(path, &error.kind().to_string()))
}

/// Makes a log, which `fill` writes, under another name until it is whole.
pub(super) fn make(
    path: &Path,
    fill: impl FnOnce(&Path) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    let folder = folder_of(path);
    tidy_up(folder);
    let failed = |error: &std::io::Error| cannot_be_written(path, &error.to_string());
    let file = unfinished(folder).map_err(|error| failed(&std::io::Error::from(error.kind())))?;
    fill(file.path())?;
    file.as_file().sync_all().map_err(|error| failed(&error))?;
    match file.persist_noclobber(path) {
        Ok(_) => {}
        // Another program was faster; its log is as good.
        Err(error) if error.error.kind() == ErrorKind::AlreadyExists => {}
        Err(error) => return Err(failed(&error.error)),
    }
    // The name is on the disk, too. Where a folder cannot be opened as a file, the system sees to that itself.
    if let Ok(folder) = File::open(folder) {
        folder.sync_all().map_err(|error| failed(&error))?;
    }
    Ok(())
}

fn unfinished(folder: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(UNFINISHED);
    // As any other file that the user makes: temporary ones are nobody else's, a log may be a family's.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// Deletes what programs that were killed while they made a log have left. Where that fails it stays: nothing rests on it.
fn tidy_up(folder: &Path) {
    let Ok(files) = std::fs::read_dir(folder) else {
        return;
    };
    let abandoned = files.flatten().filter(|file| {
        let name = file.file_name();
        let unfinished = name
            .to_str()
            .is_some_and(|name| name.starts_with(UNFINISHED));
        let written = || file.metadata().and_then(|about| about.modified()).ok();
        let age = || SystemTime::now().duration_since(written()?).ok();
        unfinished && age().is_some_and(|age| age > ABANDONED)
    });
    for file in abandoned {
        let _ = std::fs::remove_file(file.path());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_killed_program_left_is_tidied_up_after_an_hour() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let leave = |name: &str, age: Duration| {
            let path = folder.path().join(name);
            let file = File::create(&path).expect("a file");
            file.set_modified(SystemTime::now() - age)
                .expect("our own file");
            path
        };
        let old = leave(".beamyard-log-abcdef", ABANDONED * 2);
        let beside = leave(".beamyard-log-abcdef-journal", ABANDONED * 2);
        let others = [
            leave(".beamyard-log-ghijkl", ABANDONED / 2),
            leave("beamyard-log-abcdef", ABANDONED * 2),
        ];
        make(&folder.path().join("new.log.sqlite"), |_| Ok(())).expect("room");
        assert!(!old.exists() && !beside.exists());
        assert!(others.iter().all(|other| other.exists()));
    }
}
