//! What is wrong with a scenario, said so that the user can mend it.
//!
//! Knows: where in a file something stands. Must not know: YAML, CSV, the rules of a scenario.
//! Promises: every complaint names file, field, rule and fix; the one-line form needs no terminal.

use std::fmt;
use std::ops::Range;

/// Whether a complaint stops the reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// No scenario comes out.
    Error,
    /// The scenario stands, but probably says something that was not meant.
    Warning,
}

/// A place in a file, with the line that it is on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Counted from 1.
    pub line: usize,
    /// In characters, counted from 1.
    pub column: usize,
    /// The whole source line without its end; `None` if it is too long to be shown.
    pub text: Option<String>,
    /// The bytes of `text` that are meant; empty only on an empty line.
    pub mark: Range<usize>,
}

/// One thing that is wrong, or at least odd.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct Complaint {
    /// Whether it stops the reading.
    pub severity: Severity,
    /// The file as the user named it.
    pub file: String,
    /// Where in the file; `None` if the file as a whole is meant.
    pub place: Option<Place>,
    /// The field's path with ids, as in `machines[belt].section`; empty if the file as a whole is meant.
    pub field: String,
    /// The rule that is broken.
    pub rule: String,
    /// What was found instead; empty if nothing was.
    pub found: String,
    /// What to write, in the user's notation.
    pub fix: String,
}

impl Complaint {
    /// Field and rule in one phrase.
    pub(super) fn title(&self) -> String {
        if self.field.is_empty() {
            self.rule.clone()
        } else {
            format!("{}: {}", self.field, self.rule)
        }
    }

    /// Where it stands, for putting complaints in the order of the file.
    pub(super) fn position(&self) -> (usize, usize) {
        self.place
            .as_ref()
            .map_or((0, 0), |place| (place.line, place.column))
    }
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(place) = &self.place {
            write!(f, ":{}:{}", place.line, place.column)?;
        }
        write!(f, ": {}", self.title())?;
        if !self.found.is_empty() {
            write!(f, " (found {})", self.found)?;
        }
        write!(f, "; {}", self.fix)
    }
}

/// Everything that is wrong with a scenario, in the order of its files. Never empty.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct Complaints {
    pub(super) errors: Vec<Complaint>,
    pub(super) warnings: Vec<Complaint>,
    pub(super) unlisted: usize,
}

impl Complaints {
    /// What keeps the scenario from being read.
    pub fn errors(&self) -> &[Complaint] {
        &self.errors
    }

    /// What was odd besides.
    pub fn warnings(&self) -> &[Complaint] {
        &self.warnings
    }

    /// How many further errors a hopeless file has, past those that are listed.
    pub fn unlisted(&self) -> usize {
        self.unlisted
    }
}

impl fmt::Display for Complaints {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, complaint) in self.errors.iter().enumerate() {
            if at > 0 {
                writeln!(f)?;
            }
            write!(f, "{complaint}")?;
        }
        if self.unlisted > 0 {
            write!(f, "\nand {} more", self.unlisted)?;
        }
        Ok(())
    }
}
