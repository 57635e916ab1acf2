//! Gathers complaints while a scenario is read, so that all of them come out at once.
//!
//! Knows: the text of every file that was read. Must not know: what the text means.
//! Promises: complaints come out in the order of the files; a hopeless file does not fill the memory.

use std::collections::HashSet;
use std::rc::Rc;

use super::complaint::{Complaint, Complaints, Place, Severity};

/// More errors than this help nobody; the rest are only counted.
const MOST_LISTED: usize = 500;
/// A longer line is not shown beside its complaint.
const LONGEST_LINE: usize = 400;
/// A longer value, path or sentence is cut short in a message.
const LONGEST_FOUND: usize = 60;
const LONGEST_FIELD: usize = 200;
const LONGEST_TEXT: usize = 1000;
/// Nor does advice have more lines than this.
const MOST_LINES: usize = 100;

/// One of the files that a scenario is read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileIndex(usize);

/// A stretch of one line of a file; small, so that every value that is read can carry its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spot {
    /// The file.
    pub file: FileIndex,
    /// Counted from 1; 0 for the file as a whole.
    pub line: usize,
    /// In characters, counted from 1.
    pub column: usize,
    /// In characters.
    pub length: usize,
}

impl Spot {
    /// The file as a whole.
    pub fn whole(file: FileIndex) -> Self {
        Self {
            file,
            line: 0,
            column: 0,
            length: 0,
        }
    }
}

/// A value and where it was written (for a default: where it was left out).
#[derive(Clone, Debug)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where.
    pub spot: Spot,
}

struct Source {
    name: String,
    text: Rc<str>,
    /// The byte at which each line begins.
    lines: Vec<usize>,
}

impl Source {
    fn place(&self, spot: Spot) -> Option<Place> {
        if spot.line == 0 {
            return None;
        }
        let start = self.lines.get(spot.line - 1).copied();
        let end = self.lines.get(spot.line).copied();
        let line = start
            .and_then(|start| self.text.get(start..end.unwrap_or(self.text.len())))
            .unwrap_or("")
            .trim_end_matches(['\n', '\r']);
        if line.len() > LONGEST_LINE {
            return Some(Place {
                line: spot.line,
                column: spot.column,
                text: None,
                mark: 0..0,
            });
        }
        // Control characters could drive a terminal; a tab only moves along.
        let line: String = line
            .chars()
            .map(|c| if c.is_control() && c != '\t' { ' ' } else { c })
            .collect();
        let byte = |character: usize| {
            line.char_indices()
                .nth(character)
                .map_or(line.len(), |(byte, _)| byte)
        };
        let first = byte(spot.column.saturating_sub(1));
        let mut last = byte(spot.column.saturating_sub(1) + spot.length.max(1));
        let shown = line[first..last].trim_end().len();
        if shown > 0 {
            last = first + shown;
        }
        Some(Place {
            line: spot.line,
            column: spot.column,
            text: Some(line),
            mark: first..last,
        })
    }
}

/// The complaints so far, and the files that they are about.
#[derive(Default)]
pub struct Collector {
    sources: Vec<Source>,
    errors: Vec<(FileIndex, Complaint)>,
    warnings: Vec<(FileIndex, Complaint)>,
    said: HashSet<(Spot, String)>,
    unlisted: usize,
    corrected: HashSet<String>,
    misnamed: HashSet<String>,
}

impl Collector {
    /// Takes in a file's text, from which complaints will quote.
    pub fn add_file(&mut self, name: &str, text: Rc<str>) -> FileIndex {
        let mut lines = vec![0];
        let bytes = text.as_bytes();
        // A line ends with a line feed, a carriage return, or both together.
        lines.extend((0..bytes.len()).filter_map(|at| match bytes[at] {
            b'\n' => Some(at + 1),
            b'\r' if bytes.get(at + 1) != Some(&b'\n') => Some(at + 1),
            _ => None,
        }));
        self.sources.push(Source {
            name: name.to_owned(),
            text,
            lines,
        });
        FileIndex(self.sources.len() - 1)
    }

    /// Notes an error; the same words at the same place count once.
    pub fn error(
        &mut self,
        spot: Spot,
        field: &str,
        rule: impl Into<String>,
        found: &str,
        fix: impl Into<String>,
    ) {
        if self.is_full() {
            self.unlisted += 1;
            return;
        }
        let complaint = self.complaint(Severity::Error, spot, field, rule, found, fix);
        if self.said.insert((spot, complaint.title())) {
            self.errors.push((spot.file, complaint));
        }
    }

    /// Notes something odd that does not stop the reading.
    pub fn warn(
        &mut self,
        spot: Spot,
        field: &str,
        rule: impl Into<String>,
        found: &str,
        fix: impl Into<String>,
    ) {
        if self.warnings.len() >= MOST_LISTED {
            return;
        }
        let complaint = self.complaint(Severity::Warning, spot, field, rule, found, fix);
        self.warnings.push((spot.file, complaint));
    }

    /// Where something stands, told to somebody who looks at `from`.
    pub fn line_of(&self, spot: Spot, from: Spot) -> String {
        if spot.file == from.file {
            format!("on line {}", spot.line)
        } else {
            format!("in {}, line {}", self.sources[spot.file.0].name, spot.line)
        }
    }

    /// Notes that a field is written under a wrong name, which is complained of: what is said of its absence is moot.
    pub fn correct(&mut self, field: &str, written: &str) {
        self.corrected.insert(clean(field, LONGEST_FIELD));
        self.misnamed.insert(clean(written, LONGEST_FIELD));
    }

    /// Whether a field is written, under a wrong name.
    pub fn is_corrected(&self, field: &str) -> bool {
        self.corrected.contains(field)
    }

    /// Whether further errors are only counted, so that costly advice need not be worked out.
    pub fn is_full(&self) -> bool {
        self.errors.len() >= MOST_LISTED
    }

    /// How many errors there are so far.
    pub fn count(&self) -> usize {
        self.errors.len() + self.unlisted
    }

    /// Whether anything stops the reading.
    pub fn has_errors(&self) -> bool {
        !self.errors.is_empty()
    }

    /// The paths of the fields that errors are about.
    pub fn wrong_fields(&self) -> impl Iterator<Item = &str> {
        self.errors.iter().map(|(_, error)| error.field.as_str())
    }

    /// An error, drawn but not noted.
    pub fn drawn(
        &self,
        spot: Spot,
        field: &str,
        rule: &str,
        found: &str,
        fix: String,
    ) -> Complaint {
        self.complaint(Severity::Error, spot, field, rule, found, fix)
    }

    /// Errors and warnings, each in the order of the files.
    pub fn finish(mut self) -> Complaints {
        let corrected = std::mem::take(&mut self.corrected);
        let misnamed = std::mem::take(&mut self.misnamed);
        // Of the field itself, or of what would be in it: nothing else than its absence can have been found.
        let is_moot = |field: &str| {
            let ends = field.match_indices(['.', '[']).map(|(at, _)| at);
            let mut paths = ends.chain([field.len()]).map(|end| &field[..end]);
            // A wrong name may look like something in the right one: `flow.` or `flow[`.
            !corrected.is_empty()
                && !misnamed.contains(field)
                && paths.any(|path| corrected.contains(path))
        };
        self.errors.retain(|(_, error)| !is_moot(&error.field));
        self.warnings.retain(|(_, odd)| !is_moot(&odd.field));
        Complaints {
            errors: in_order(self.errors),
            warnings: in_order(self.warnings),
            unlisted: self.unlisted,
        }
    }

    fn complaint(
        &self,
        severity: Severity,
        spot: Spot,
        field: &str,
        rule: impl Into<String>,
        found: &str,
        fix: impl Into<String>,
    ) -> Complaint {
        let source = &self.sources[spot.file.0]; // a FileIndex is only ever made by `add_file`
        Complaint {
            severity,
            file: source.name.clone(),
            place: source.place(spot),
            field: clean(field, LONGEST_FIELD),
            rule: clean(&rule.into(), LONGEST_TEXT),
            found: shortened(found),
            fix: cleaned_lines(&fix.into()),
        }
    }
}

fn in_order(mut complaints: Vec<(FileIndex, Complaint)>) -> Vec<Complaint> {
    complaints.sort_by_key(|(file, complaint)| (*file, complaint.position()));
    complaints
        .into_iter()
        .map(|(_, complaint)| complaint)
        .collect()
}

/// A value as a message shows it.
pub fn shortened(text: &str) -> String {
    clean(text, LONGEST_FOUND)
}

/// Several lines, each cleaned.
fn cleaned_lines(text: &str) -> String {
    let lines: Vec<String> = text
        .lines()
        .take(MOST_LINES)
        .map(|line| clean(line, LONGEST_TEXT))
        .collect();
    lines.join("\n")
}

/// One line, without control characters (which could drive a terminal), cut after so many characters.
fn clean(text: &str, longest: usize) -> String {
    let mut short: String = text
        .chars()
        .take(longest)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(longest).is_some() {
        short.push('…');
    }
    short
}
