//! Loads a text file that may be anything.
//!
//! Knows: files, UTF-8, the byte-order mark. Must not know: YAML, CSV.
//! Promises: never more than the limit in memory; text without a byte-order mark.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// Largest file that is read, in bytes. Five thousand parts with every field fit, and even text made to be slow
/// is read or refused within about a second.
const LARGEST_FILE: u64 = 2 * 1024 * 1024;

/// Why a file is no text.
pub struct Unreadable {
    /// What is wrong.
    pub rule: String,
    /// What would help.
    pub fix: String,
    /// Where in the file, if it is at one place.
    pub place: Option<Unread>,
}

/// A place in a file that is no text as a whole.
pub struct Unread {
    /// The file, with signs in the place of what cannot be read.
    pub text: String,
    /// Its line and column, from 1.
    pub at: [usize; 2],
}

/// Reads a whole text file; `what` it should be is for the advice: `a scenario file`.
///
/// # Errors
/// If it cannot be opened, is a directory, is larger than [`LARGEST_FILE`], or is not UTF-8 text.
pub fn load(path: &Path, what: &str) -> Result<String, Unreadable> {
    let cannot = |error: std::io::Error| cannot(&error, what);
    let file = File::open(path).map_err(cannot)?;
    let mut bytes = Vec::new();
    file.take(LARGEST_FILE + 1)
        .read_to_end(&mut bytes)
        .map_err(cannot)?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(too_large(what));
    }
    match String::from_utf8(bytes) {
        Ok(text) => check(text, what),
        Err(error) => {
            let right = error.utf8_error().valid_up_to();
            Err(not_text(error.as_bytes(), right))
        }
    }
}

/// What is wrong with bytes of which only the first so many are text.
fn not_text(bytes: &[u8], right: usize) -> Unreadable {
    if bytes[..right].contains(&0) {
        return binary();
    }
    let before = String::from_utf8_lossy(&bytes[..right]);
    let line = before.matches('\n').count() + 1;
    let column = before.lines().last().filter(|_| !before.ends_with('\n'));
    let column = column.map_or(0, |text| text.chars().count()) + 1;
    Unreadable {
        rule: format!(
            "the file is not UTF-8 text: byte 0x{:02x} on line {line}, column {column} cannot be read",
            bytes[right] // the first that is not right
        ),
        fix: "save it as UTF-8 text".to_owned(),
        place: Some(Unread {
            text: String::from_utf8_lossy(bytes).into_owned(),
            at: [line, column],
        }),
    }
}

fn binary() -> Unreadable {
    Unreadable {
        rule: "this is a binary file".to_owned(),
        fix: "give a text file; see that it was not saved as UTF-16".to_owned(),
        place: None,
    }
}

/// Why a file that should be `what` cannot be opened or read.
pub fn cannot(error: &std::io::Error, what: &str) -> Unreadable {
    Unreadable {
        rule: match error.kind() {
            ErrorKind::NotFound => "there is no such file".to_owned(),
            ErrorKind::IsADirectory => "this is a directory, not a file".to_owned(),
            _ => format!("the file cannot be read: {error}"),
        },
        fix: format!("give the path of {what} that you may read"),
        place: None,
    }
}

/// Text that is already there, held to the same rules.
///
/// # Errors
/// If it is larger than [`LARGEST_FILE`], or holds the control characters of a binary file.
pub fn check(text: String, what: &str) -> Result<String, Unreadable> {
    if text.len() as u64 > LARGEST_FILE {
        return Err(too_large(what));
    }
    if text.contains('\0') {
        return Err(binary());
    }
    Ok(match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    })
}

fn too_large(what: &str) -> Unreadable {
    Unreadable {
        rule: format!(
            "the file is larger than {} MiB",
            LARGEST_FILE / (1024 * 1024)
        ),
        fix: format!("give {what}; a build that is truly so large is split into several"),
        place: None,
    }
}
