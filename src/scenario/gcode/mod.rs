//! Reads a machine program (G-code) and adds up what its moves come to.
//!
//! Knows: the words of ISO 6983, and those that printing has added to them (common practice, no source). Must not know:
//! parts, plans; how long a move takes (`toolpath` does).
//! Promises: the file is never in memory as a whole; comments are never read; what cannot be read is an error that names
//! the line, what was found and what would be right.
//!
//! The flow: `lines` cuts the bytes into lines without comments, `words` a line into its words, `program` obeys them.

mod lines;
mod program;
#[cfg(test)]
mod tests;
mod toolpaths;
mod words;

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

use super::complaint::{Complaint, Place, Severity};
use super::source;
use crate::toolpath::{Figures, Kinematics};
use crate::units::Seconds;

pub use program::Program;
pub(super) use toolpaths::measure_all;

/// What a program comes to, and what of it was left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The figures of its moves.
    pub figures: Figures,
    /// Lines read.
    pub lines: u64,
    /// How often the program waits for heat (M109, M190): time that no file says, so it is not counted.
    pub heatings: u64,
    /// Commands that were not obeyed because nothing is known of them that moves anything, each once, and how often.
    pub not_counted: Vec<(String, u64)>,
}

impl Measured {
    /// Time of all moves and waits.
    pub fn time(&self) -> Seconds {
        self.figures.time
    }
}

/// What is wrong with a program.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("line {line}: {rule} (found {found}); {fix}")]
pub struct Fault {
    /// Counted from 1.
    pub line: u64,
    /// The line without its comments, as far as it was read.
    pub text: String,
    /// The rule that is broken.
    pub rule: String,
    /// What was found.
    pub found: String,
    /// What would be right.
    pub fix: String,
}

/// Measures a program that comes as bytes.
///
/// # Errors
/// At the first line that cannot be read or obeyed, or if no line moves anything.
pub fn measure_bytes(bytes: impl Read, kinematics: Kinematics) -> Result<Measured, Fault> {
    let mut program = Program::new(kinematics);
    let lines = lines::each(bytes, |line| program.line(line))?;
    program.finish(lines)
}

/// Measures the program in a file.
///
/// # Errors
/// If it cannot be opened, and as [`measure_bytes`].
pub fn measure(path: &Path, kinematics: Kinematics) -> Result<Measured, Box<Complaint>> {
    let file = path.display().to_string();
    let opened = open(path).map_err(|error| source::cannot(&error, "a G-code file"));
    match opened {
        Err(unreadable) => Err(Box::new(Complaint {
            severity: Severity::Error,
            file,
            place: None,
            field: String::new(),
            rule: unreadable.rule,
            found: String::new(),
            fix: unreadable.fix,
        })),
        Ok(opened) => {
            measure_bytes(opened, kinematics).map_err(|fault| Box::new(complaint(file, fault)))
        }
    }
}

fn open(path: &Path) -> std::io::Result<File> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(ErrorKind::IsADirectory.into());
    }
    Ok(file)
}

fn complaint(file: String, fault: Fault) -> Complaint {
    let mark = match fault.text.find(fault.found.as_str()) {
        Some(at) if !fault.found.is_empty() => at..at + fault.found.len(),
        _ => 0..fault.text.len(),
    };
    let column = fault.text[..mark.start].chars().count() + 1; // a found text begins at a character
    Complaint {
        severity: Severity::Error,
        file,
        place: Some(Place {
            line: usize::try_from(fault.line).unwrap_or(usize::MAX),
            column,
            text: Some(fault.text),
            mark,
        }),
        field: String::new(),
        rule: fault.rule,
        found: fault.found,
        fix: fault.fix,
    }
}
