//! Cuts bytes into lines without their comments.
//!
//! Knows: line ends, the two kinds of comment. Must not know: words.
//! Promises: memory is bounded whatever comes; a line is handed on only up to [`LONGEST`] bytes, or refused.

use std::io::{ErrorKind, Read};

use super::Fault;

/// More bytes than this has no line, comments not counted.
pub(super) const LONGEST: usize = 1000;
/// Bytes that are read at once.
const CHUNK: usize = 64 * 1024;

/// A line without its comments.
pub(super) struct Line<'t> {
    /// Counted from 1.
    pub number: u64,
    /// Without comments and line end; no control characters but tabs.
    pub text: &'t [u8],
    /// Whether a `(` is not closed on it.
    pub open: bool,
}

impl Line<'_> {
    /// The error that this line is.
    pub(super) fn fault(
        &self,
        rule: impl Into<String>,
        found: impl Into<String>,
        fix: impl Into<String>,
    ) -> Fault {
        Fault {
            line: self.number,
            text: shown(self.text),
            rule: rule.into(),
            found: found.into(),
            fix: fix.into(),
        }
    }
}

/// Bytes as a message may show them: one line, no control characters, not too long.
pub(super) fn shown(text: &[u8]) -> String {
    const MOST: usize = 100;
    let all = String::from_utf8_lossy(text);
    let mut short: String = all
        .chars()
        .take(MOST)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if all.chars().nth(MOST).is_some() {
        short.push('…');
    }
    short.trim_end().to_owned()
}

/// Where in a line the next byte is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Within {
    Words,
    /// After `;`, to the end of the line.
    Rest,
    /// After `(`, to `)`.
    Brackets,
}

struct Cutter {
    number: u64,
    text: Vec<u8>,
    within: Within,
    /// The last byte was a carriage return: a line feed after it belongs to it.
    returned: bool,
}

impl Cutter {
    fn line(&self) -> Line<'_> {
        Line {
            number: self.number,
            text: &self.text,
            open: self.within == Within::Brackets,
        }
    }

    fn end(&mut self, each: &mut impl FnMut(&Line) -> Result<(), Fault>) -> Result<(), Fault> {
        if !self.text.is_empty() || self.within == Within::Brackets {
            each(&self.line())?;
        }
        self.text.clear();
        self.within = Within::Words;
        self.number = self.number.saturating_add(1);
        Ok(())
    }

    fn take(
        &mut self,
        bytes: &[u8],
        each: &mut impl FnMut(&Line) -> Result<(), Fault>,
    ) -> Result<(), Fault> {
        for &byte in bytes {
            let returned = std::mem::replace(&mut self.returned, byte == b'\r');
            match byte {
                b'\n' if returned => {}
                b'\n' | b'\r' => self.end(each)?,
                0..=8 | 11 | 12 | 14..=31 => {
                    return Err(self.line().fault(
                        "this is no text",
                        format!("a byte of value {byte}"),
                        "give a G-code file as text, not packed or binary",
                    ));
                }
                _ => match self.within {
                    Within::Rest => {}
                    Within::Brackets if byte == b')' => self.within = Within::Words,
                    Within::Brackets => {}
                    Within::Words if byte == b';' => self.within = Within::Rest,
                    Within::Words if byte == b'(' => self.within = Within::Brackets,
                    Within::Words if self.text.len() >= LONGEST => {
                        return Err(self.line().fault(
                            format!("a line has at most {LONGEST} characters besides its comments"),
                            "more",
                            "write each command on a line of its own",
                        ));
                    }
                    Within::Words => self.text.push(byte),
                },
            }
        }
        Ok(())
    }
}

/// Hands on every line that has more than comments; gives the number of lines.
///
/// # Errors
/// The first that reading, cutting or `each` gives.
pub(super) fn each(
    mut bytes: impl Read,
    mut each: impl FnMut(&Line) -> Result<(), Fault>,
) -> Result<u64, Fault> {
    let mut cutter = Cutter {
        number: 1,
        text: Vec::with_capacity(LONGEST),
        within: Within::Words,
        returned: false,
    };
    let mut chunk = vec![0; CHUNK];
    let mut first = true;
    loop {
        match bytes.read(&mut chunk) {
            Ok(0) => break,
            Ok(count) => {
                // `read` gives at most the chunk's length. A byte-order mark is no word.
                let read = &chunk[..count.min(CHUNK)];
                let mark: &[u8] = b"\xef\xbb\xbf";
                let read = if first {
                    read.strip_prefix(mark).unwrap_or(read)
                } else {
                    read
                };
                first = false;
                cutter.take(read, &mut each)?;
            }
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => {
                let fix = "give the path of a G-code file that you may read";
                let rule = format!("the file cannot be read on: {error}");
                return Err(cutter.line().fault(rule, "", fix));
            }
        }
    }
    let last = cutter.number;
    let unfinished = !cutter.text.is_empty() || cutter.within != Within::Words;
    cutter.end(&mut each)?;
    Ok(if unfinished { last } else { last - 1 })
}
