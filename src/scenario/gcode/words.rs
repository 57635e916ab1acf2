//! Cuts a line into words: a letter and a number.
//!
//! Knows: how words are written. Must not know: what they mean.
//! Promises: every number is finite.

use super::Fault;
use super::lines::{Line, shown};

/// A word: a letter in upper case and its number, if it has one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Word {
    pub letter: u8,
    pub number: Option<f64>,
    /// Where it ends in the line.
    pub end: usize,
}

/// The words of a line, one after the other.
pub(super) struct Words<'l, 't> {
    line: &'l Line<'t>,
    at: usize,
}

impl<'l, 't> Words<'l, 't> {
    pub(super) fn new(line: &'l Line<'t>) -> Self {
        let mut words = Self { line, at: 0 };
        words.skip_blanks();
        // A block that may be skipped is not skipped.
        if words.peek() == Some(b'/') {
            words.at += 1;
            words.skip_blanks();
        }
        words
    }

    fn peek(&self) -> Option<u8> {
        self.line.text.get(self.at).copied()
    }

    fn skip_blanks(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\t')) {
            self.at += 1;
        }
    }

    /// What is left of the line, for a command that begins with a whole name, as hosts and machines have them besides the
    /// words; `None`: it does not begin so.
    pub(super) fn name(&self) -> Option<&'l [u8]> {
        let rest = self.line.text.get(self.at..)?;
        let named = |byte: &u8| byte.is_ascii_alphanumeric() || *byte == b'_';
        let length = rest.iter().take_while(|byte| named(byte)).count();
        let name = match rest {
            [b'@', ..] => &rest[..1 + rest[1..].iter().take_while(|byte| named(byte)).count()],
            [first, second, ..]
                if first.is_ascii_alphabetic()
                    && (second.is_ascii_alphabetic() || *second == b'_') =>
            {
                &rest[..length] // counted in `rest`
            }
            _ => return None,
        };
        Some(name)
    }

    /// The next word; `None` at the end, or at a checksum.
    pub(super) fn next(&mut self) -> Result<Option<Word>, Fault> {
        self.skip_blanks();
        let Some(first) = self.peek() else {
            return Ok(None);
        };
        match first {
            b'*' => return Ok(None),
            // Begins and ends a program on tape.
            b'%' => {
                self.at = self.line.text.len();
                return Ok(None);
            }
            _ if first.is_ascii_alphabetic() => {}
            _ => {
                let found = shown(self.line.text.get(self.at..self.at + 12).unwrap_or(
                    &self.line.text[self.at..], // `at` is within the line, or `peek` gave nothing
                ));
                return Err(self.line.fault(
                    "a word is a letter and a number",
                    found,
                    "write for example `G1 X10.5 Y20 E0.4 F1800`",
                ));
            }
        }
        self.at += 1;
        self.skip_blanks();
        let begin = self.at;
        let number = self.number(first, begin)?;
        Ok(Some(Word {
            letter: first.to_ascii_uppercase(),
            number,
            end: self.at,
        }))
    }

    /// The number that begins here: a sign, digits, a decimal point; no exponent, since E is a word of its own.
    fn number(&mut self, letter: u8, begin: usize) -> Result<Option<f64>, Fault> {
        let text = self.line.text;
        let mut at = begin;
        let negative = text.get(at) == Some(&b'-');
        if matches!(text.get(at), Some(b'-' | b'+')) {
            at += 1;
        }
        let (mut whole, mut digits, mut decimals, mut point) = (0_u64, 0_u32, 0_u32, false);
        while let Some(&byte) = text.get(at) {
            match byte {
                b'0'..=b'9' => {
                    // Nineteen digits are kept in a u64; what has more is read another way below.
                    whole = whole.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                    digits += 1;
                    decimals += u32::from(point);
                }
                b'.' if !point => point = true,
                _ => break,
            }
            at += 1;
        }
        if at == begin && !self.line.text.get(at).is_some_and(u8::is_ascii_alphabetic) {
            return Ok(None);
        }
        let written = || shown(text.get(begin - 1..at).unwrap_or_default()); // a letter stands before
        let rest = text.get(at).copied();
        let ends = rest.is_none_or(|byte| {
            byte.is_ascii_alphabetic() || matches!(byte, b' ' | b'\t' | b'*' | b'%')
        });
        if digits == 0 || !ends {
            return Err(self.line.fault(
                "is no number",
                shown(
                    text.get(begin - 1..(at + 1).min(text.len()))
                        .unwrap_or_default(),
                ),
                format!(
                    "write digits with at most one decimal point, such as `{}10.5`",
                    letter as char
                ),
            ));
        }
        self.at = at;
        // Up to 15 digits and 22 decimals both numbers are whole in a double, and so is their quotient as exact as can be.
        let size = if digits <= 15 {
            whole as f64 / POWERS[decimals as usize % POWERS.len()] // `decimals` is at most `digits`
        } else {
            std::str::from_utf8(&text[begin..at])
                .ok()
                .map(|number| number.trim_start_matches(['+', '-']))
                .and_then(|number| number.parse::<f64>().ok())
                .filter(|number| number.is_finite())
                .ok_or_else(|| {
                    self.line.fault(
                        "is larger than any length",
                        written(),
                        "see whether a blank is missing",
                    )
                })?
        };
        Ok(Some(if negative { -size } else { size }))
    }
}

/// Powers of ten that a double holds exactly.
const POWERS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];
