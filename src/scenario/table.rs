//! Parts from a table file (CSV): one part a row, the same field names as in YAML.
//!
//! Knows: CSV, and that a cell with brackets is YAML. Must not know: what the fields mean.
//! Promises: an empty cell is a field left out; complaints name the table's own line and column.

use std::path::Path;
use std::rc::Rc;

use super::collector::{Collector, FileIndex, Spot};
use super::entry::unknown_key_fix;
use super::fields::MOST_PARTS;
use super::raw::RawPart;
use super::sections::{PART_KEYS, item_path, part};
use super::source;
use super::tree::{self, Key, Node, Value};

/// Reads the parts of the file that `parts_from` names, relative to the scenario's folder.
pub fn parts(node: &Node, base: &Path, collector: &mut Collector) -> Vec<RawPart> {
    let field = "parts_from";
    let Value::Text(name) = &node.value else {
        collector.error(
            node.spot,
            field,
            "must be the path of a CSV file",
            &node.shown(),
            "write for example `parts_from: parts.csv`",
        );
        return Vec::new();
    };
    match source::load(&base.join(name)) {
        Err(unreadable) => {
            collector.error(node.spot, field, unreadable.rule, name, unreadable.fix);
            Vec::new()
        }
        Ok(text) => {
            let text: Rc<str> = text.into();
            let file = collector.add_file(name, Rc::clone(&text));
            rows(&text, file, collector)
        }
    }
}

/// What a column of the table holds.
enum Column {
    /// A field of a part.
    Field(&'static str),
    /// A column without a name, as spreadsheets leave behind; its cells must be empty.
    Nameless,
    /// Complained of already.
    Refused,
}

fn rows(text: &str, file: FileIndex, collector: &mut Collector) -> Vec<RawPart> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut walker = Walker::new(text, file);
    let mut columns: Option<Vec<Column>> = None;
    let mut parts = Vec::new();
    for (at, record) in reader.records().enumerate() {
        let record = match record {
            Ok(record) if at <= MOST_PARTS => record,
            Ok(_) => {
                let rule = format!("a table has at most {MOST_PARTS} parts");
                let fix = "split the build into several scenarios";
                collector.error(walker.spot(), "parts_from", rule, "more", fix);
                break;
            }
            // The text is UTF-8 and rows may differ in length, so there should be nothing left to fail.
            Err(error) => {
                let rule = format!("the table cannot be read: {error}");
                collector.error(
                    walker.spot(),
                    "parts_from",
                    rule,
                    "",
                    "save it as CSV with commas",
                );
                break;
            }
        };
        let start = record.position().map_or(0, |place| place.byte() as usize);
        let (spots, closed) = walker.cells(start);
        if !closed {
            let spot = spots.last().copied().unwrap_or(walker.spot());
            let rule = "a quotation mark is opened and never closed";
            let fix = "close it; inside a quoted cell write two for one";
            collector.error(spot, "parts_from", rule, "", fix);
            break;
        }
        match &columns {
            None => match header(&record, &spots, collector) {
                Some(header) => columns = Some(header),
                None => return Vec::new(),
            },
            Some(columns) => parts.extend(row(&record, at, columns, &spots, collector)),
        }
    }
    if columns.is_none() && !collector.has_errors() {
        collector.error(
            Spot::whole(file),
            "parts_from",
            "the table is empty",
            "",
            "begin with a row of field names such as `id,quantity,size`",
        );
    }
    parts
}

fn header(
    record: &csv::StringRecord,
    spots: &[Spot],
    collector: &mut Collector,
) -> Option<Vec<Column>> {
    let names: Vec<&str> = record.iter().map(str::trim).collect();
    if let ([name], Some(spot)) = (&names[..], spots.first())
        && name.contains([';', '\t'])
    {
        collector.error(
            *spot,
            "parts_from",
            "cells are separated by commas",
            name,
            "save the table as CSV with commas",
        );
        return None;
    }
    let mut columns = Vec::new();
    for (at, (name, spot)) in names.iter().zip(spots).enumerate() {
        let known = PART_KEYS.iter().find(|key| *key == name);
        columns.push(match known {
            None if name.is_empty() => Column::Nameless,
            None => {
                let fix = unknown_key_fix(name, &PART_KEYS, collector);
                let rule = "there is no such field of a part";
                collector.error(*spot, "parts_from", rule, name, fix);
                Column::Refused
            }
            Some(_) if names[..at].contains(name) => {
                let rule = "two columns have the same name";
                collector.error(*spot, "parts_from", rule, name, "keep one of the two");
                Column::Refused
            }
            Some(key) => Column::Field(key),
        });
    }
    Some(columns)
}

fn row(
    record: &csv::StringRecord,
    at: usize,
    columns: &[Column],
    spots: &[Spot],
    collector: &mut Collector,
) -> Option<RawPart> {
    let first = *spots.first()?;
    let mut pairs = Vec::new();
    for (position, (cell, spot)) in record.iter().zip(spots).enumerate() {
        let cell = cell.trim();
        if cell.is_empty() {
            continue;
        }
        match columns.get(position) {
            Some(Column::Field(name)) => {
                let key = Key {
                    spot: *spot,
                    name: (*name).to_owned(),
                };
                pairs.push((key, value(cell, *spot, name, collector)?));
            }
            Some(Column::Refused) => {}
            Some(Column::Nameless) | None => {
                collector.error(
                    *spot,
                    &format!("parts[#{at}]"),
                    "there is no column name above this cell",
                    cell,
                    "put a cell that has commas in quotes: `\"[1380, 48, 48]\"`",
                );
                return None;
            }
        }
    }
    if pairs.is_empty() {
        return None;
    }
    let node = Node {
        spot: first,
        value: Value::Map(pairs),
    };
    part(&node, &item_path("parts", at - 1, &node), collector)
}

/// A cell's value: YAML if it begins with a bracket, else a word.
fn value(cell: &str, spot: Spot, name: &str, collector: &mut Collector) -> Option<Node> {
    if !cell.starts_with(['[', '{']) {
        return Some(Node {
            spot,
            value: Value::Text(cell.to_owned()),
        });
    }
    match tree::parse(cell, spot.file) {
        Ok(node) => Some(node.moved_to(spot)),
        Err(malformed) => {
            let field = format!("parts.{name}");
            collector.error(spot, &field, malformed.rule, cell, malformed.fix);
            None
        }
    }
}

/// Goes through the text beside the CSV reader, which tells where a record begins but not where its cells do.
struct Walker<'t> {
    text: &'t str,
    file: FileIndex,
    byte: usize,
    line: usize,
    column: usize,
}

impl<'t> Walker<'t> {
    fn new(text: &'t str, file: FileIndex) -> Self {
        Self {
            text,
            file,
            byte: 0,
            line: 1,
            column: 1,
        }
    }

    fn spot(&self) -> Spot {
        Spot {
            file: self.file,
            line: self.line,
            column: self.column,
            length: 1,
        }
    }

    fn peek(&self) -> Option<char> {
        self.text.get(self.byte..)?.chars().next()
    }

    fn step(&mut self) -> Option<char> {
        let next = self.peek()?;
        self.byte += next.len_utf8();
        if next == '\n' {
            self.line += 1;
            self.column = 1;
        } else {
            self.column += 1;
        }
        Some(next)
    }

    /// Where the cells of the record that begins at or after `start` stand, and whether its quotes are closed.
    fn cells(&mut self, start: usize) -> (Vec<Spot>, bool) {
        while self.byte < start && self.step().is_some() {}
        // The reader counts the end of the line before, and empty lines, to the record.
        while matches!(self.peek(), Some('\r' | '\n')) {
            self.step();
        }
        let mut spots = Vec::new();
        loop {
            let mut spot = self.spot();
            let mut closed = true;
            if self.peek() == Some('"') {
                self.step();
                closed = false;
                while let Some(next) = self.step() {
                    if next == '"' && self.peek() == Some('"') {
                        self.step();
                    } else if next == '"' {
                        closed = true;
                        break;
                    }
                }
            }
            while !matches!(self.peek(), None | Some(',' | '\r' | '\n')) {
                self.step();
            }
            if self.line == spot.line {
                spot.length = (self.column - spot.column).max(1);
            }
            spots.push(spot);
            if !closed {
                return (spots, false);
            }
            match self.peek() {
                Some(',') => self.step(),
                _ => return (spots, true),
            };
        }
    }
}
