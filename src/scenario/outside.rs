//! Slips in fields outside of brackets: a colon left out, or the blank after it, a field set in too far or not far enough.
//!
//! Knows: how YAML sets fields in. Must not know: which fields a scenario has, brackets, quotes.
//! Promises: only what no YAML has is called a slip; the line of the slip is named, not the one at which a reader stops.

/// A slip, and where it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slip {
    /// The line.
    pub line: usize,
    /// In characters, counted from 1.
    pub column: usize,
    /// In characters.
    pub length: usize,
    /// The path of the field.
    pub field: String,
    /// What is wrong.
    pub rule: String,
    /// What stands there.
    pub found: String,
    /// What would be right.
    pub fix: String,
}

/// A field that is open: what is set in further is in it.
struct Key {
    /// Blanks before it, a list's dash counted as one.
    column: usize,
    name: String,
    /// Whether its value stands behind it, so that nothing can be in it.
    valued: bool,
}

/// A line that is text, or a field without its colon: the next one tells.
struct Alone {
    line: usize,
    column: usize,
    text: String,
}

/// The fields read so far, outside of brackets, quotes and text blocks.
#[derive(Default)]
pub struct Fields {
    keys: Vec<Key>,
    alone: Option<Alone>,
}

impl Fields {
    /// The next line that is no comment.
    pub fn line(&mut self, number: usize, line: &[char]) -> Option<Slip> {
        let mut column = blanks(line);
        let mut rest = &line[column..]; // so many blanks are at its beginning
        let mut dashes = 0;
        while let Some((after, true)) = rest.split_first().map(|(c, after)| (after, *c == '-'))
            && after.first().is_none_or(|c| c.is_whitespace())
        {
            let skipped = 1 + blanks(after);
            (column, rest) = (column + skipped, &rest[skipped.min(rest.len())..]);
            dashes += 1;
        }
        let alone = self.alone.take();
        let begins = *rest.first()?;
        if !(begins.is_alphabetic() || begins == '_') {
            return None;
        }
        let text: String = rest.iter().collect();
        let Some((name, value)) = field(&text) else {
            return self.without_colon(number, column, dashes, text, alone);
        };
        if let Some(alone) = alone.filter(|alone| alone.column == column && dashes == 0) {
            return Some(self.no_colon(&alone));
        }
        if dashes == 0
            && let Some(slip) = self.set_in(number, column, name)
        {
            return Some(slip);
        }
        self.keys.retain(|key| key.column < column);
        let nothing = value.is_empty() || value.starts_with(['#', '&', '!', '|', '>']);
        self.keys.push(Key {
            column,
            name: name.to_owned(),
            valued: !nothing,
        });
        None
    }

    fn without_colon(
        &mut self,
        line: usize,
        column: usize,
        dashes: usize,
        text: String,
        alone: Option<Alone>,
    ) -> Option<Slip> {
        let new = Alone { line, column, text };
        let beside = self.keys.iter().any(|key| key.column == column);
        if beside && dashes == 0 {
            return Some(self.no_colon(&new));
        }
        let last = self.keys.last();
        let begins_one = dashes > 0 || last.is_some_and(|key| key.column < column && !key.valued);
        // Of text over several lines the first counts.
        self.alone = alone.or_else(|| begins_one.then_some(new));
        None
    }

    fn no_colon(&self, at: &Alone) -> Slip {
        let text = at.text.split(" #").next().unwrap_or(&at.text).trim_end();
        let end = text.find(|c: char| !(c.is_alphanumeric() || "_-".contains(c)));
        let (name, value) = text.split_at(end.unwrap_or(text.len())); // `find` gives the beginning of a letter
        let (rule, value) = match value.strip_prefix(':') {
            Some(value) => ("a blank is missing after the colon of a field", value),
            None if value.trim().is_empty() => {
                ("a colon is missing after the name of a field", value)
            }
            None => ("a colon is missing between a field and its value", value),
        };
        let value = shortened(value.trim());
        let fix = match value.as_str() {
            "" => format!("write `{name}:`"),
            value => format!("write `{name}: {value}`"),
        };
        self.slip(
            (at.line, at.column, text.chars().count()),
            name,
            rule,
            text,
            fix,
        )
    }

    /// A field with its colon that stands where none can.
    fn set_in(&self, line: usize, column: usize, name: &str) -> Option<Slip> {
        let place = (line, column, name.chars().count());
        let last = self.keys.last()?;
        if last.column < column && last.valued {
            let rule = format!(
                "this field is set in further than `{}`, which has its value already",
                last.name
            );
            let fix = format!(
                "let it begin below `{}`: {}",
                last.name,
                before(last.column)
            );
            let mut slip = self.slip(place, name, &rule, name, fix);
            slip.field = self.path(last.column, name);
            return Some(slip);
        }
        let beside = self.keys.iter().any(|key| key.column == column);
        let within = self.keys.first()?.column < column;
        let deeper = self.keys.iter().find(|key| key.column > column)?;
        (!beside && within).then(|| {
            let rule = format!(
                "this field is set in less far than `{}` and further than what that is in",
                deeper.name
            );
            let fix = format!(
                "let it begin below `{}`: {}",
                deeper.name,
                before(deeper.column)
            );
            self.slip(place, name, &rule, name, fix)
        })
    }

    fn slip(
        &self,
        (line, column, length): (usize, usize, usize),
        name: &str,
        rule: &str,
        found: &str,
        fix: String,
    ) -> Slip {
        Slip {
            line,
            column: column + 1,
            length,
            field: self.path(column, name),
            rule: rule.to_owned(),
            found: found.to_owned(),
            fix,
        }
    }

    fn path(&self, column: usize, name: &str) -> String {
        let outer = self.keys.iter().filter(|key| key.column < column);
        let names = outer.map(|key| key.name.as_str()).chain([name]);
        names.collect::<Vec<_>>().join(".")
    }
}

fn before(column: usize) -> String {
    match column {
        0 => "with no blank before it".to_owned(),
        1 => "with one blank before it".to_owned(),
        blanks => format!("with {blanks} blanks before it"),
    }
}

fn blanks(line: &[char]) -> usize {
    line.iter().take_while(|c| **c == ' ').count()
}

/// A field's name and what stands behind its colon, before any bracket, quote or comment.
fn field(text: &str) -> Option<(&str, &str)> {
    let mut before = ' ';
    for (at, c) in text.char_indices() {
        let (name, rest) = text.split_at(at); // where a letter begins
        match c {
            ':' if rest[1..].chars().next().is_none_or(char::is_whitespace) => {
                return Some((name.trim_end(), rest[1..].trim())); // a colon is one byte
            }
            '"' | '\'' | '[' | '{' => return None,
            '#' if before.is_whitespace() => return None,
            _ => before = c,
        }
    }
    None
}

/// A value as a fix shows it: in brackets only its beginning.
fn shortened(value: &str) -> String {
    const LONGEST: usize = 30;
    match value.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", value.get(..end).unwrap_or(value).trim_end()),
        None => value.to_owned(),
    }
}

/// `hands 1` as a field and its value: text in which a colon, or the blank after it, may have been forgotten.
pub fn forgotten_colon(text: &str) -> Option<(&str, &str)> {
    let end = text.find(|c: char| !(c.is_ascii_lowercase() || c == '_'))?;
    let (name, rest) = text.split_at(end); // where a letter begins
    let value = rest.strip_prefix(':').unwrap_or(rest).trim();
    let apart = rest.starts_with(':') || rest.starts_with(char::is_whitespace);
    (apart && !name.is_empty() && !value.is_empty()).then_some((name, value))
}
