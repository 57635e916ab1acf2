//! YAML as a tree in which every value knows where it stands.
//!
//! Knows: YAML. Must not know: which fields a scenario has.
//! Promises: a tree of bounded depth and size, whatever the text; repeated keys are kept, for the reader to refuse.

use std::borrow::Cow;
use std::collections::HashMap;

use saphyr_parser::{Event, Parser, ScalarStyle, ScanError, Span};
use serde::de::IgnoredAny;

use super::collector::{FileIndex, Spot};
use super::malformed::{Malformed, slip};

/// No scenario nests deeper than six; the rest is an attack on the stack.
const DEEPEST: usize = 32;
/// Values in one file, each use of an anchor counted afresh, so that a small file cannot unfold without end.
const MOST_NODES: usize = 400_000;

/// A value and where it stands.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where; of a list or map that is not in brackets: its first entry.
    pub spot: Spot,
    /// What.
    pub value: Value,
}

/// What stands in a place.
#[derive(Clone, Debug)]
pub enum Value {
    /// A key without a value, or `null`.
    Nothing,
    /// A word, number, date: whatever is not a list or a map.
    Text(String),
    /// Complained of already; whoever reads it keeps silent.
    Refused,
    /// `[a, b]`.
    List(Vec<Node>),
    /// `{a: b}`, in the order written, repeated keys included.
    Map(Vec<(Key, Node)>),
}

/// A key and where it stands.
#[derive(Clone, Debug)]
pub struct Key {
    /// Where.
    pub spot: Spot,
    /// As written, without quotes.
    pub name: String,
}

impl Node {
    /// The value as it may be shown in a message.
    pub fn shown(&self) -> String {
        let mut text = String::new();
        self.show(&mut text);
        text
    }

    fn show(&self, out: &mut String) {
        // Messages cut values short anyway; a long list need not be written out for that.
        if out.len() > 200 {
            return;
        }
        match &self.value {
            Value::Nothing | Value::Refused => out.push_str("nothing"),
            Value::Text(text) => out.push_str(text),
            Value::List(items) => {
                out.push('[');
                for (at, item) in items.iter().take(100).enumerate() {
                    if at > 0 {
                        out.push_str(", ");
                    }
                    item.show(out);
                }
                out.push(']');
            }
            Value::Map(pairs) => {
                out.push('{');
                for (at, (key, value)) in pairs.iter().take(100).enumerate() {
                    if at > 0 {
                        out.push_str(", ");
                    }
                    out.push_str(&key.name);
                    out.push_str(": ");
                    value.show(out);
                }
                out.push('}');
            }
        }
    }

    /// The same value, said to stand at `spot` with everything in it.
    pub fn moved_to(mut self, spot: Spot) -> Self {
        self.spot = spot;
        match &mut self.value {
            Value::Nothing | Value::Refused | Value::Text(_) => {}
            Value::List(items) => {
                for item in items.iter_mut() {
                    *item = std::mem::replace(item, Node::nothing(spot)).moved_to(spot);
                }
            }
            Value::Map(pairs) => {
                for (key, item) in pairs.iter_mut() {
                    key.spot = spot;
                    *item = std::mem::replace(item, Node::nothing(spot)).moved_to(spot);
                }
            }
        }
        self
    }

    fn nothing(spot: Spot) -> Self {
        Self {
            spot,
            value: Value::Nothing,
        }
    }

    fn count(&self) -> usize {
        1 + match &self.value {
            Value::Nothing | Value::Refused | Value::Text(_) => 0,
            Value::List(items) => items.iter().map(Node::count).sum(),
            Value::Map(pairs) => pairs.iter().map(|(_, value)| 1 + value.count()).sum(),
        }
    }
}

/// Reads one YAML document.
///
/// # Errors
/// If the text is not YAML, holds no document or several, or is too deep or too large.
pub fn parse(text: &str, file: FileIndex) -> Result<Node, Malformed> {
    let mut builder = Builder::new(file);
    let mut parser = Parser::new_from_str(text);
    while let Some(step) = parser.next_event() {
        let (event, span) = step.map_err(|error| not_yaml(&error, text, file))?;
        if matches!(event, Event::StreamEnd) {
            break;
        }
        builder.step(event, span)?;
    }
    builder.root.ok_or_else(|| {
        malformed(
            Spot::whole(file),
            "the file says nothing",
            "write at least `build`, `machines`, `filaments` and `parts`",
        )
    })
}

/// Longest text that is read a second time only to explain what is wrong with it.
const LONGEST_EXPLAINED: usize = 64 * 1024;

/// What is wrong with a text that is not YAML. The place is this parser's; the other one's words are better, since
/// they also say where the list or map began that the place is in.
fn not_yaml(error: &ScanError, text: &str, file: FileIndex) -> Malformed {
    if let Some(slip) = slip(text, file, error.marker().line()) {
        return slip;
    }
    let words = if text.len() <= LONGEST_EXPLAINED {
        serde_yaml::from_str::<IgnoredAny>(text)
            .err()
            .map(|error| error.to_string())
    } else {
        None
    };
    let words = words.unwrap_or_else(|| error.info().to_owned());
    let says = |word: &str| words.contains(word) || error.info().contains(word);
    let fix = if says("tabs") {
        "indent with spaces"
    } else if says("quoted scalar") {
        "close the quotation mark"
    } else if says("recursion") {
        "look for brackets that are opened and never closed"
    } else {
        "look for a missing quote, bracket, colon or indent on this line or just above it"
    };
    malformed(
        Spot {
            file,
            line: error.marker().line().max(1),
            column: error.marker().col() + 1,
            length: 1,
        },
        format!("this is not YAML: {words}"),
        fix,
    )
}

struct Frame {
    spot: Spot,
    anchor: usize,
    contents: Contents,
}

enum Contents {
    List(Vec<Node>),
    Map(Vec<(Key, Node)>, Option<Key>),
}

struct Builder {
    file: FileIndex,
    open: Vec<Frame>,
    root: Option<Node>,
    anchors: HashMap<usize, Node>,
    nodes: usize,
}

impl Builder {
    fn new(file: FileIndex) -> Self {
        Self {
            file,
            open: Vec::new(),
            root: None,
            anchors: HashMap::new(),
            nodes: 0,
        }
    }

    fn step(&mut self, event: Event<'_>, span: Span) -> Result<(), Malformed> {
        let spot = self.spot(span);
        match event {
            Event::DocumentStart(_) if self.root.is_some() => Err(malformed(
                spot,
                "a scenario is one YAML document",
                "remove the line `---` and what follows, or put it into a file of its own",
            )),
            Event::Alias(anchor) => match self.anchors.get(&anchor) {
                Some(node) => {
                    self.nodes += node.count();
                    self.within_limits(spot)?;
                    let mut node = node.clone();
                    node.spot = spot;
                    self.place(node, 0)
                }
                None => Err(malformed(
                    spot,
                    "this anchor is not complete here",
                    "write the value out",
                )),
            },
            Event::Scalar(text, style, anchor, tag) => {
                self.refuse_tag(spot, tag.is_some())?;
                self.place(scalar(spot, text, style, span), anchor)
            }
            Event::SequenceStart(anchor, tag) => {
                self.refuse_tag(spot, tag.is_some())?;
                self.begin(spot, anchor, Contents::List(Vec::new()))
            }
            Event::MappingStart(anchor, tag) => {
                self.refuse_tag(spot, tag.is_some())?;
                self.begin(spot, anchor, Contents::Map(Vec::new(), None))
            }
            Event::SequenceEnd | Event::MappingEnd => self.end(span),
            _ => Ok(()),
        }
    }

    fn spot(&self, span: Span) -> Spot {
        let same_line = span.end.line() == span.start.line();
        Spot {
            file: self.file,
            line: span.start.line().max(1),
            column: span.start.col() + 1,
            length: if same_line {
                span.end.col().saturating_sub(span.start.col()).max(1)
            } else {
                1
            },
        }
    }

    fn refuse_tag(&self, spot: Spot, tagged: bool) -> Result<(), Malformed> {
        if tagged {
            return Err(malformed(
                spot,
                "tags (words that begin with `!`) are not read",
                "leave the tag out, or put the value in quotes",
            ));
        }
        Ok(())
    }

    fn begin(&mut self, spot: Spot, anchor: usize, contents: Contents) -> Result<(), Malformed> {
        if self.open.len() >= DEEPEST {
            return Err(malformed(
                spot,
                format!("lists and maps are nested more than {DEEPEST} deep"),
                "look for brackets that are opened and never closed",
            ));
        }
        self.open.push(Frame {
            spot,
            anchor,
            contents,
        });
        Ok(())
    }

    fn end(&mut self, span: Span) -> Result<(), Malformed> {
        let Some(frame) = self.open.pop() else {
            return Ok(());
        };
        let mut spot = frame.spot;
        // A closing bracket on the same line: the brackets and all between them are meant. Without
        // brackets the end is where the next thing begins, and only the first entry is meant.
        if span.end.line() == spot.line && span.end.col() > span.start.col() {
            spot.length = (span.end.col() + 1).saturating_sub(spot.column).max(1);
        } else if let Contents::Map(pairs, _) = &frame.contents {
            spot = pairs.first().map_or(spot, |(key, _)| key.spot);
        }
        let value = match frame.contents {
            Contents::List(items) => Value::List(items),
            Contents::Map(pairs, _) => Value::Map(pairs),
        };
        self.place(Node { spot, value }, frame.anchor)
    }

    fn within_limits(&self, spot: Spot) -> Result<(), Malformed> {
        if self.nodes > MOST_NODES {
            return Err(malformed(
                spot,
                format!("a scenario has at most {MOST_NODES} values, repeated anchors included"),
                "split the build into several scenarios",
            ));
        }
        Ok(())
    }

    fn place(&mut self, node: Node, anchor: usize) -> Result<(), Malformed> {
        self.nodes += 1;
        self.within_limits(node.spot)?;
        if anchor != 0 {
            self.nodes += node.count();
            self.within_limits(node.spot)?;
            self.anchors.insert(anchor, node.clone());
        }
        match self.open.last_mut() {
            None => self.root = Some(node),
            Some(Frame {
                contents: Contents::List(items),
                ..
            }) => items.push(node),
            Some(Frame {
                contents: Contents::Map(pairs, waiting),
                ..
            }) => match (waiting.take(), node) {
                (Some(key), node) => pairs.push((key, node)),
                (
                    None,
                    Node {
                        spot,
                        value: Value::Text(name),
                    },
                ) => *waiting = Some(Key { spot, name }),
                (None, node) => {
                    return Err(malformed(
                        node.spot,
                        "a key is a word",
                        "write `key: value`; put a key with commas or brackets in quotes",
                    ));
                }
            },
        }
        Ok(())
    }
}

fn scalar(spot: Spot, text: Cow<'_, str>, style: ScalarStyle, span: Span) -> Node {
    let plain = style == ScalarStyle::Plain;
    let value = if plain && matches!(&*text, "" | "~" | "null" | "Null" | "NULL") {
        Value::Nothing
    } else {
        Value::Text(text.into_owned())
    };
    let mut spot = spot;
    if let Value::Text(text) = &value
        && plain
        && span.start.line() == span.end.line()
    {
        spot.length = text.chars().count().max(1);
    }
    Node { spot, value }
}

fn malformed(spot: Spot, rule: impl Into<Box<str>>, fix: impl Into<Box<str>>) -> Malformed {
    Malformed {
        spot,
        field: "".into(),
        rule: rule.into(),
        found: "".into(),
        fix: fix.into(),
    }
}
