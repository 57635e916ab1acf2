//! Why a text is no YAML, in the words of somebody who looks for the slip: what was opened, left out or cut off.
//! What goes wrong outside of brackets is in `outside`.
//!
//! Knows: brackets, commas, quotes and comments of YAML. Must not know: which fields a scenario has.
//! Promises: asked only of texts that are no YAML; where no slip is found it says nothing.

use super::collector::{FileIndex, Spot};
use super::outside::Fields;

/// Why a text is no tree.
#[derive(Clone, Debug)]
pub struct Malformed {
    /// Where reading stopped, or where the slip is.
    pub spot: Spot,
    /// The field that it is in, as far as that can be said.
    pub field: Box<str>,
    /// What is wrong.
    pub rule: Box<str>,
    /// What stands there.
    pub found: Box<str>,
    /// What would be right.
    pub fix: Box<str>,
}

/// What is nested deeper is no slip, but made to be hard to read.
const DEEPEST: usize = 64;

/// The first slip of a text that does not read; `last_line` is where the reader gave up.
pub fn slip(text: &str, file: FileIndex, last_line: usize) -> Option<Malformed> {
    let mut scan = Scan::new(file);
    let lines: Vec<Vec<char>> = text.lines().map(|line| line.chars().collect()).collect();
    for (at, line) in lines.iter().enumerate().take(last_line + 1) {
        if let Some(slip) = scan.line(at + 1, line) {
            return Some(slip);
        }
        if scan.levels.len() >= DEEPEST {
            return None;
        }
    }
    // Only an unclosed bracket lets the reader go on to the end of the text.
    (last_line >= lines.len())
        .then(|| scan.unclosed())
        .flatten()
}

/// A list or map in brackets that is open.
struct Level {
    open: char,
    line: usize,
    column: usize,
    /// The entry's key, once its colon has been read.
    key: Option<String>,
    /// The words since the last comma, bracket or colon, and where they begin.
    words: String,
    words_at: (usize, usize),
    /// Whether a value in quotes or brackets has just ended.
    ended: bool,
    /// A comment in it that holds its closing bracket.
    cut: Option<(usize, usize, String)>,
    /// What its `id` says.
    id: Option<String>,
}

impl Level {
    fn new(open: char, line: usize, column: usize) -> Self {
        Self {
            open,
            line,
            column,
            key: None,
            words: String::new(),
            words_at: (line, column),
            ended: false,
            cut: None,
            id: None,
        }
    }

    fn close(&self) -> char {
        match self.open {
            '{' => '}',
            _ => ']',
        }
    }

    fn next_entry(&mut self) {
        if self.key.as_deref() == Some("id") {
            self.id = Some(self.words.trim().to_owned());
        }
        self.key = None;
        self.words.clear();
        self.ended = false;
    }

    /// They never begin with a blank.
    fn has_words(&self) -> bool {
        !self.words.is_empty()
    }

    /// Where the last of the words begins, and the word.
    fn last_word(&self) -> ((usize, usize), String) {
        let words = self.words.trim_end();
        let last = words.rsplit(char::is_whitespace).next().unwrap_or(words);
        let before = words.chars().count() - last.chars().count(); // `last` is a part of `words`
        let (line, column) = self.words_at;
        ((line, column + before), last.to_owned())
    }
}

/// Goes through a text line by line.
struct Scan {
    file: FileIndex,
    levels: Vec<Level>,
    /// The indent of the line on which the outermost bracket was opened.
    indent: usize,
    /// Keys outside of brackets, each with its indent.
    keys: Vec<(usize, String)>,
    /// The same, as far as their colons and indents may be wrong.
    fields: Fields,
    quote: Option<char>,
    quoted: String,
    /// The indent of the key of a text block that is being passed over.
    block: Option<usize>,
}

impl Scan {
    fn new(file: FileIndex) -> Self {
        Self {
            file,
            levels: Vec::new(),
            indent: 0,
            keys: Vec::new(),
            fields: Fields::default(),
            quote: None,
            quoted: String::new(),
            block: None,
        }
    }

    fn line(&mut self, number: usize, line: &[char]) -> Option<Malformed> {
        let indent = line.iter().take_while(|c| **c == ' ').count();
        let rest = &line[indent..]; // so many blanks are at its beginning
        if self.quote.is_none() {
            let &begins = rest.first().filter(|c| **c != '#')?;
            if self.levels.is_empty() {
                if self.block.is_some_and(|block| indent > block) {
                    return None;
                }
                self.block = None;
                if let Some(slip) = self.dash(number, indent, rest) {
                    return Some(slip);
                }
                if let Some(slip) = self.fields.line(number, line) {
                    let place = (slip.line, slip.column, slip.length);
                    let mut told = self.malformed(place, slip.rule, &slip.found, slip.fix);
                    told.field = slip.field.into();
                    return Some(told);
                }
                self.indent = indent;
            } else if !matches!(begins, ']' | '}') && (indent <= self.indent || is_entry(rest)) {
                // What follows is written as if all brackets were closed.
                return self.unclosed();
            }
        }
        let mut at = indent;
        // Whether a value may begin here, outside of brackets.
        let mut fresh = true;
        let mut start = indent;
        while let Some(&c) = line.get(at) {
            let before = at.checked_sub(1).and_then(|before| line.get(before));
            let blank_before = before.is_none_or(|c| c.is_whitespace());
            let next = line.get(at + 1).copied();
            if let Some(quote) = self.quote {
                let escape = c == '\\' && quote == '"';
                let doubled = c == quote && quote == '\'' && next == Some('\'');
                if escape || doubled {
                    at += 1;
                } else if c == quote {
                    self.quote = None;
                    if let Some(level) = self.levels.last_mut() {
                        level.ended = true;
                    }
                } else {
                    self.quoted.push(c);
                }
                at += 1;
                continue;
            }
            if c == '#' && blank_before {
                let comment: String = line.iter().skip(at).collect();
                if let Some(level) = self.levels.last_mut()
                    && level.cut.is_none()
                    && comment.contains(level.close())
                {
                    level.cut = Some((number, at + 1, comment));
                }
                break;
            }
            if self.levels.is_empty() {
                match c {
                    '-' if fresh && next.is_none_or(char::is_whitespace) => start = at + 1,
                    ':' if next.is_none_or(char::is_whitespace) => {
                        let key: String = line.iter().take(at).skip(start).collect();
                        self.key(start, key.trim());
                        fresh = true;
                    }
                    '{' | '[' if fresh => {
                        self.levels.push(Level::new(c, number, at + 1));
                    }
                    '"' | '\'' if fresh => {
                        self.quote = Some(c);
                        self.quoted.clear();
                        fresh = false;
                    }
                    '|' | '>' if fresh => {
                        self.block = Some(indent);
                        break;
                    }
                    _ if c.is_whitespace() => {}
                    _ => {
                        let mut between = line.iter().take(at).skip(start);
                        if fresh && between.all(|c| c.is_whitespace()) {
                            start = at;
                        }
                        fresh = false;
                    }
                }
                at += 1;
                continue;
            }
            if let Some(slip) = self.in_brackets(c, next, number, at + 1) {
                return Some(slip);
            }
            at += 1;
        }
        if let Some(level) = self.levels.last_mut()
            && level.has_words()
        {
            level.words.push(' ');
        }
        None
    }

    /// A key outside of brackets.
    fn key(&mut self, indent: usize, key: &str) {
        self.keys.retain(|(other, _)| *other < indent);
        self.keys.push((indent, key.trim_matches('"').to_owned()));
    }

    /// A list's dash without a blank after it.
    fn dash(&self, line: usize, indent: usize, rest: &[char]) -> Option<Malformed> {
        let text: String = rest.iter().collect();
        let entry = without_blank(&text)?;
        Some(self.malformed(
            (line, indent + 1, 1),
            NO_BLANK,
            first_words(&text),
            format!("write `- {}`", first_words(entry)),
        ))
    }

    fn in_brackets(
        &mut self,
        c: char,
        next: Option<char>,
        line: usize,
        column: usize,
    ) -> Option<Malformed> {
        let level = self.levels.last_mut()?;
        match c {
            ',' => level.next_entry(),
            ']' | '}' if c == level.close() => {
                level.next_entry();
                self.levels.pop();
                if let Some(level) = self.levels.last_mut() {
                    level.ended = true;
                }
            }
            ']' | '}' => return self.unclosed(),
            ':' if level.ended && level.key.is_none() => {
                level.key = Some(std::mem::take(&mut self.quoted));
                level.ended = false;
            }
            ':' if next.is_none_or(|c| c.is_whitespace() || "[]{},".contains(c)) => {
                let ((line, column), word) = level.last_word();
                if level.key.is_some() {
                    // A colon after a colon: between the value and the next key something is missing.
                    let several = level.words.trim() != word;
                    return several.then(|| self.no_comma(line, column, &word));
                }
                level.key = Some(level.words.trim().to_owned());
                level.words.clear();
            }
            _ if c.is_whitespace() => {
                if level.has_words() {
                    level.words.push(c);
                }
            }
            '{' | '[' | '"' | '\'' if !level.has_words() => {
                if level.ended {
                    return Some(self.no_comma(line, column, &c.to_string()));
                }
                if matches!(c, '{' | '[') {
                    if self.levels.len() < DEEPEST {
                        self.levels.push(Level::new(c, line, column));
                    }
                } else {
                    self.quote = Some(c);
                    self.quoted.clear();
                }
            }
            '{' | '[' if level.open == '{' && level.key.is_none() => {
                let words = level.words.trim().to_owned();
                let fix = format!("write `{words}: {c}…`");
                let rule = "a colon is missing between a field and its value";
                return Some(self.malformed((line, column, 1), rule, &words, fix));
            }
            '{' | '[' => return Some(self.no_comma(line, column, &c.to_string())),
            _ => {
                if level.ended {
                    // The next word, as far as it can be told, follows in the text.
                    return Some(self.no_comma(line, column, &c.to_string()));
                }
                if !level.has_words() {
                    level.words_at = (line, column);
                }
                level.words.push(c);
            }
        }
        None
    }

    fn no_comma(&self, line: usize, column: usize, word: &str) -> Malformed {
        let kind = match self.levels.last() {
            Some(level) if level.open == '[' => "entries of a list",
            _ => "fields in braces",
        };
        let before = match word.chars().count() {
            1 => "here".to_owned(),
            _ => format!("before `{word}`"),
        };
        self.malformed(
            (line, column, word.chars().count()),
            format!("a comma is missing: {kind} are set apart by commas"),
            "",
            format!("write a comma {before}"),
        )
    }

    /// The innermost bracket that is still open.
    fn unclosed(&self) -> Option<Malformed> {
        // Within quotes all brackets are words.
        let level = self.levels.last().filter(|_| self.quote.is_none())?;
        let (open, close) = (level.open, level.close());
        if let Some((line, column, comment)) = &level.cut {
            let hex: String = comment
                .chars()
                .skip(1)
                .take_while(char::is_ascii_hexdigit)
                .collect();
            let place = (*line, *column, hex.chars().count() + 1);
            let rule = format!(
                "`#` after a blank begins a comment, so the rest of the line is not read and `{open}` is not closed"
            );
            let key = level.key.as_deref().unwrap_or("colour");
            return Some(if matches!(hex.len(), 3 | 6 | 8) {
                let fix = format!("put the colour in quotes: `{key}: \"#{hex}\"`");
                self.malformed(place, rule, &format!("#{hex}"), fix)
            } else {
                let fix = format!("put a value with `#` in quotes, or write `{close}` before it");
                self.malformed((*line, *column, 1), rule, first_words(comment), fix)
            });
        }
        let what = if open == '{' { "brace" } else { "bracket" };
        let rule = format!("this {what} is opened and never closed");
        let fix = format!("write `{close}` where it ends");
        let place = (level.line, level.column, 1);
        let mut told = self.malformed(place, rule, &open.to_string(), fix);
        // Which of its own entries is the last cannot be told.
        let mut field = self.field(self.levels.len() - 1); // there is a level, or it had returned
        if let Some(id) = &level.id {
            field.push_str(&format!("[{id}]"));
        }
        told.field = field.into();
        Some(told)
    }

    fn malformed(
        &self,
        (line, column, length): (usize, usize, usize),
        rule: impl Into<Box<str>>,
        found: &str,
        fix: impl Into<Box<str>>,
    ) -> Malformed {
        let spot = Spot {
            file: self.file,
            line,
            column,
            length: length.max(1),
        };
        Malformed {
            spot,
            field: self.field(self.levels.len()).into(),
            rule: rule.into(),
            found: found.into(),
            fix: fix.into(),
        }
    }

    /// The path of what is being read, down to so many brackets.
    fn field(&self, levels: usize) -> String {
        let keys: Vec<&str> = self.keys.iter().map(|(_, key)| key.as_str()).collect();
        let mut field = keys.join(".");
        for level in self.levels.iter().take(levels) {
            if let Some(id) = &level.id {
                field.push_str(&format!("[{id}]"));
            }
            if let Some(key) = &level.key {
                if !field.is_empty() {
                    field.push('.');
                }
                field.push_str(key);
            }
        }
        field
    }
}

/// What is said of a dash without a blank.
pub const NO_BLANK: &str = "a blank is missing after the dash of a list";

/// What follows the dash of a text that is a list's entry but for the blank.
pub fn without_blank(text: &str) -> Option<&str> {
    let entry = text.strip_prefix('-')?;
    let begins = entry.starts_with(|c: char| c.is_alphabetic() || "{[\"'".contains(c));
    (begins && (entry.contains(':') || entry.starts_with(['{', '[']))).then_some(entry)
}

/// Whether a line begins as the entry of a list does.
fn is_entry(rest: &[char]) -> bool {
    rest.first() == Some(&'-') && rest.get(1).is_none_or(|c| c.is_whitespace())
}

/// As much of a line as a message shows.
fn first_words(text: &str) -> &str {
    let end = text.char_indices().nth(30).map_or(text.len(), |(at, _)| at);
    text.get(..end).unwrap_or(text).trim_end()
}
