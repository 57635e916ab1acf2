//! Parts from a table file (CSV): one part a row, the same field names as in YAML.
//!
//! Knows: CSV, and that a cell with brackets is YAML. Must not know: what the fields mean.
//! Promises: an empty cell is a field left out; complaints name the table's own line and column.

use std::path::Path;
use std::rc::Rc;

use super::collector::{Collector, FileIndex, Spot};
use super::entry::{meant, unknown_key_fix};
use super::fields::MOST_PARTS;
use super::raw::RawPart;
use super::sections::{PART_KEYS, item_path, part};
use super::source;
use super::tree::{self, Key, Node, Value};

/// The parts of a table file.
#[derive(Default)]
pub struct Table {
    /// Those that could be read.
    pub parts: Vec<RawPart>,
    /// Whether the file could be read to its end, so that there are no further ones.
    pub complete: bool,
}

/// Reads the parts of the file that `parts_from` names, relative to the scenario's folder.
pub fn parts(node: &Node, base: &Path, collector: &mut Collector) -> Table {
    let field = "parts_from";
    let Value::Text(name) = &node.value else {
        collector.error(
            node.spot,
            field,
            "must be the path of a CSV file",
            &node.shown(),
            "write for example `parts_from: parts.csv`",
        );
        return Table::default();
    };
    let path = base.join(name.trim());
    match source::load(
        &path,
        "a table of parts (a CSV file, from the scenario's folder)",
    ) {
        Err(unreadable) => {
            let (mut spot, mut found) = (node.spot, name.as_str());
            if let Some(place) = unreadable.place {
                let [line, column] = place.at;
                spot = Spot {
                    file: collector.add_file(&path.display().to_string(), place.text.into()),
                    line,
                    column,
                    length: 1,
                };
                found = "";
            }
            collector.error(spot, field, unreadable.rule, found, unreadable.fix);
            Table::default()
        }
        Ok(text) => {
            let text: Rc<str> = text.into();
            let file = collector.add_file(&path.display().to_string(), Rc::clone(&text));
            let before = collector.count();
            let mut table = rows(&text, file, collector);
            // A path is found from the file that names it, in the table as in the scenario.
            let folder = path.parent().unwrap_or(base);
            for part in &mut table.parts {
                part.folder = folder.to_owned();
            }
            if table.parts.is_empty() && collector.count() == before {
                let fix = "write a row of field names such as `id,quantity,size`, and a row for each part";
                collector.error(Spot::whole(file), field, "the table has no parts", "", fix);
            }
            table
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

fn rows(text: &str, file: FileIndex, collector: &mut Collector) -> Table {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut walker = Walker::new(text, file);
    let mut columns: Option<Vec<Column>> = None;
    let mut table = Table::default();
    let mut complete = true;
    for (at, record) in reader.records().enumerate() {
        let record = match record {
            Ok(record) if at <= MOST_PARTS => record,
            Ok(_) => {
                let rule = format!("a table has at most {MOST_PARTS} parts");
                let fix = "split the build into several scenarios";
                collector.error(walker.spot(), "parts_from", rule, "more", fix);
                return table;
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
                return table;
            }
        };
        let start = record.position().map_or(0, |place| place.byte() as usize);
        let (spots, closed) = walker.cells(start);
        if !closed {
            let spot = spots.last().copied().unwrap_or(walker.spot());
            let rule = "a quotation mark is opened and never closed";
            let fix = "close it; inside a quoted cell write two for one";
            collector.error(spot, "parts_from", rule, "", fix);
            return table;
        }
        match &columns {
            None => match header(&record, &spots, collector) {
                Some(header) => columns = Some(header),
                None => return table,
            },
            Some(columns) => {
                let before = collector.count();
                table
                    .parts
                    .extend(row(&record, at, columns, &spots, collector));
                // A quotation mark that is not closed may have taken other rows in.
                complete &= collector.count() == before || !record.iter().any(is_of_several_lines);
            }
        }
    }
    table.complete = complete;
    table
}

/// Whether a cell has a line break in it.
fn is_of_several_lines(cell: &str) -> bool {
    cell.trim().contains(['\n', '\r'])
}

fn header(
    record: &csv::StringRecord,
    spots: &[Spot],
    collector: &mut Collector,
) -> Option<Vec<Column>> {
    let names: Vec<&str> = record.iter().map(str::trim).collect();
    if let ([name], Some(spot)) = (&names[..], spots.first())
        && name.contains([';', '|', '\t'])
    {
        collector.error(
            *spot,
            "parts_from",
            "cells are separated by commas",
            name,
            "use commas: save the table as CSV with commas",
        );
        return None;
    }
    let is_meant = |name: &&str| PART_KEYS.contains(name) || meant(name, &PART_KEYS).is_some();
    if let Some(spot) = spots.first()
        && !names.iter().any(is_meant)
    {
        collector.error(
            *spot,
            "parts_from",
            "the first row must name the columns, and none of these is a field of a part",
            &names.join(","),
            "write a row of field names above it, such as `id,quantity,size`",
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
    let mut pairs = Vec::new();
    let mut shift: Option<Shift<'_>> = None;
    for (position, (cell, spot)) in record.iter().map(str::trim).zip(spots).enumerate() {
        if cell.is_empty() {
            continue;
        }
        match columns.get(position) {
            Some(Column::Refused) => {}
            Some(Column::Nameless) | None => {
                let rule = "this cell is in a column without a name";
                shift = shift.or(Some(Shift {
                    rule,
                    cell,
                    spot: *spot,
                }));
            }
            Some(Column::Field(name)) => match value(cell, *spot) {
                Some(node) => pairs.push((key(name, *spot), node)),
                None => {
                    let rule = match is_of_several_lines(cell) {
                        true => "a quotation mark is opened and not closed on its line",
                        false => "brackets are opened and not closed in this cell",
                    };
                    shift = shift.or(Some(Shift {
                        rule,
                        cell,
                        spot: *spot,
                    }));
                }
            },
        }
    }
    if pairs.is_empty() && shift.is_none() {
        return None;
    }
    let mut node = Node {
        spot: *spots.first()?,
        value: Value::Map(pairs),
    };
    let path = item_path("parts", at - 1, &node); // the first row is the header
    if let Some(shift) = shift {
        let fix = "put a cell that has commas in quotes, `\"[1380, 48, 48]\"`, or name the column";
        collector.error(shift.spot, &path, shift.rule, shift.cell, fix);
        node = all_but_name_refused(node);
    }
    part(&node, &path, collector)
}

/// The first sign that a row's cells are not under their names, most often because of commas without quotes.
struct Shift<'r> {
    rule: &'static str,
    cell: &'r str,
    spot: Spot,
}

fn key(name: &str, spot: Spot) -> Key {
    Key {
        spot,
        name: name.to_owned(),
    }
}

/// Of a row that has shifted only the name is worth reading; for the rest one complaint is enough.
fn all_but_name_refused(node: Node) -> Node {
    let spot = node.spot;
    let mut kept = match node.value {
        Value::Map(pairs) => pairs,
        _ => Vec::new(),
    };
    kept.retain(|(key, _)| key.name == "id");
    for name in PART_KEYS {
        if kept.iter().all(|(key, _)| key.name != name) {
            let value = Value::Refused;
            kept.push((key(name, spot), Node { spot, value }));
        }
    }
    let value = Value::Map(kept);
    Node { spot, value }
}

/// A cell's value: YAML if it begins with a bracket, else a word; `None` if the brackets make no sense.
fn value(cell: &str, spot: Spot) -> Option<Node> {
    if cell.starts_with(['[', '{']) {
        let node = tree::parse(cell, spot.file).ok()?;
        return Some(node.moved_to(spot));
    }
    let value = Value::Text(cell.to_owned());
    Some(Node { spot, value })
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
        if next == '\n' || next == '\r' && self.peek() != Some('\n') {
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
