//! Takes a map apart, key by key, by the rows of the table of fields.
//!
//! Knows: how a field is taken, defaulted, missed, repeated or unknown. Must not know: which fields there are.
//! Promises: no key is overlooked: whatever was not taken by the end is complained of.

use std::collections::HashMap;

use super::collector::{At, Collector, Spot};
use super::fields;
use super::kinds::{Ask, Kind};
use super::malformed::NO_BLANK;
use super::names::nearest;
use super::outside::forgotten_colon;
use super::raw::Got;
use super::tree::{self, Key, Node, Value};

/// What holds when a field is not written.
#[derive(Clone, Copy, Debug)]
pub enum Absent {
    /// As if this were written.
    Takes(&'static str),
    /// It must be written.
    Required,
    /// Something that cannot be written as a value of the field.
    Means(&'static str),
}

/// One field: how it is written, within which limits, and what holds without it.
pub struct Row<K> {
    /// The key.
    pub name: &'static str,
    /// The notation and its limits.
    pub kind: K,
    /// What holds when it is not written.
    pub absent: Absent,
    /// The field, rightly written.
    pub example: &'static str,
}

/// A map being taken apart.
pub struct Entry<'n> {
    /// Its path with ids.
    pub path: String,
    /// Where it stands.
    pub spot: Spot,
    pairs: Vec<&'n (Key, Node)>,
    asked: Vec<&'static str>,
    forbidden: Vec<&'static str>,
    /// Whether a complaint has been made that makes every missing field moot.
    unreadable: bool,
}

impl<'n> Entry<'n> {
    /// Opens a map; `None` after a complaint that it is none.
    pub fn open(
        node: &'n Node,
        path: impl Into<String>,
        example: &str,
        collector: &mut Collector,
    ) -> Option<Self> {
        let path = path.into();
        let pairs = open_map(node, &path, example, collector)?;
        Some(Self {
            path,
            spot: node.spot,
            pairs,
            asked: Vec::new(),
            forbidden: Vec::new(),
            unreadable: false,
        })
    }

    /// A map without keys, standing where a section was left out.
    pub fn absent(path: &str, spot: Spot) -> Self {
        Self {
            path: path.to_owned(),
            spot,
            pairs: Vec::new(),
            asked: Vec::new(),
            forbidden: Vec::new(),
            unreadable: false,
        }
    }

    /// A stand-in for something that is no map, after the complaint of it: nothing in it is missed.
    pub fn unreadable(path: &str, spot: Spot) -> Self {
        Self {
            unreadable: true,
            ..Self::absent(path, spot)
        }
    }

    /// The path of one of its fields.
    pub fn field(&self, name: &str) -> String {
        if self.path.is_empty() {
            name.to_owned()
        } else {
            format!("{}.{name}", self.path)
        }
    }

    /// The value of a key, if it is written.
    pub fn take(&mut self, name: &'static str) -> Option<&'n Node> {
        if !self.asked.contains(&name) {
            self.asked.push(name);
        }
        let found = self.pairs.iter().find(|(key, _)| key.name == name);
        found.map(|(_, node)| node)
    }

    /// Whether a key is written.
    pub fn has(&self, name: &str) -> bool {
        self.pairs.iter().any(|(key, _)| key.name == name)
    }

    /// A field's value or default.
    pub fn read<K: Kind>(&mut self, row: &Row<K>, collector: &mut Collector) -> Got<K::Out> {
        let field = self.field(row.name);
        if let Some(node) = self.take(row.name) {
            return got(read_value(node, row, &field, collector));
        }
        match row.absent {
            Absent::Takes(text) => {
                // Every default reads: a test walks the table.
                let node = tree::parse(text, self.spot.file).ok();
                got(node
                    .and_then(|node| read_value(&node.moved_to(self.spot), row, &field, collector)))
            }
            Absent::Required if self.unreadable => Got::Refused,
            Absent::Required => {
                collector.error(
                    self.spot,
                    &field,
                    format!("is missing; it must be {}", row.kind.rule()),
                    "",
                    format!("write for example `{}`", row.example),
                );
                Got::Refused
            }
            Absent::Means(_) => Got::Absent,
        }
    }

    /// Complains of a key that would be right elsewhere.
    pub fn forbid(&mut self, name: &'static str, rule: &str, fix: &str, collector: &mut Collector) {
        // Not among `asked`: it is no advice for a misspelt key.
        self.forbidden.push(name);
        if let Some((key, node)) = self.pairs.iter().find(|(key, _)| key.name == name) {
            collector.error(key.spot, &self.field(name), rule, &node.shown(), fix);
        }
    }

    /// The keys that nobody asked for.
    fn unknown(&self) -> impl Iterator<Item = &'n Key> {
        let unknown = |key: &&Key| {
            let name = key.name.as_str();
            !self.asked.contains(&name) && !self.forbidden.contains(&name)
        };
        self.pairs.iter().map(|(key, _)| key).filter(unknown)
    }

    /// Whether one of these is written under a name that there is not; to be asked when all has been taken.
    pub fn has_misnamed(&self, names: &[&str]) -> bool {
        self.unknown()
            .filter_map(|key| meant(&key.name, &self.asked))
            .any(|meant| names.contains(&meant))
    }

    /// Complains of every key that nobody asked for.
    pub fn close(self, collector: &mut Collector) {
        for key in self.unknown() {
            if !collector.is_full()
                && let Some(meant) = meant(&key.name, &self.asked)
            {
                collector.correct(&self.field(meant), &self.field(&key.name));
            }
            let fix = unknown_key_fix(&key.name, &self.asked, collector);
            let rule = "there is no such field";
            collector.error(key.spot, &self.field(&key.name), rule, &key.name, fix);
        }
    }
}

fn got<T>(read: Option<At<T>>) -> Got<T> {
    read.map_or(Got::Refused, Got::Read)
}

/// Names that a field has elsewhere, each with ours; only those that no slip of the pen leads to.
const OTHER_NAMES: [(&str, &str); 34] = [
    ("amount", "quantity"),
    ("box", "size"),
    ("colours", "colour"),
    ("copies", "quantity"),
    ("count", "quantity"),
    ("date", "due"),
    ("deadline", "due"),
    ("depends", "needs"),
    ("depends_on", "needs"),
    ("dimensions", "size"),
    ("diameter_nozzle", "nozzle"),
    ("file", "mesh"),
    ("hex", "colour"),
    ("label", "id"),
    ("layer_height", "layer"),
    ("line_width", "line"),
    ("mass", "grams"),
    ("name", "id"),
    ("no", "quantity"),
    ("number", "quantity"),
    ("pieces", "quantity"),
    ("power", "watts"),
    ("qty", "quantity"),
    ("requires", "needs"),
    ("rotate", "turn"),
    ("shell", "perimeters"),
    ("stl", "mesh"),
    ("tz", "timezone"),
    ("type", "kind"),
    ("walls", "perimeters"),
    ("weight", "grams"),
    ("weight_g", "grams"),
    ("width", "line"),
    ("zone", "timezone"),
];

/// The known key that a wrong one stands for: another word for it, it with or without a unit, or it misspelt.
pub fn meant(name: &str, known: &[&'static str]) -> Option<&'static str> {
    let lower = name.trim().to_lowercase().replace([' ', '-'], "_");
    let find = |wanted: &str| known.iter().copied().find(|known| *known == wanted);
    let other = OTHER_NAMES.iter().find(|(other, _)| *other == lower);
    let with_unit = || {
        let mut longer = known.iter().copied().filter(|known| {
            let rest = known.strip_prefix(lower.as_str());
            rest.is_some_and(|rest| rest.starts_with('_'))
        });
        // Where there are several, none of them is more likely.
        longer.next().filter(|_| longer.next().is_none())
    };
    let without_unit = || find(lower.rsplit_once('_')?.0);
    find(&lower)
        .or_else(|| other.and_then(|(_, ours)| find(ours)))
        .or_else(with_unit)
        .or_else(|| nearest(name, known.iter().copied()))
        .or_else(without_unit)
}

/// What to write instead of an unknown key.
pub fn unknown_key_fix(name: &str, known: &[&'static str], collector: &Collector) -> String {
    if name == "<<" {
        return "write the fields out; maps are not merged".to_owned();
    }
    if !name.is_empty() && name.chars().all(|c| c.is_ascii_digit()) {
        return "a decimal point is a point, not a comma".to_owned();
    }
    if let Some((word, value)) = forgotten_colon(name)
        && let Some(known) = known.iter().find(|known| **known == word)
    {
        return format!("write `{known}: {value}`: a colon is missing");
    }
    match Some(name)
        .filter(|_| !collector.is_full())
        .and_then(|name| meant(name, known))
    {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => format!("take one of {}", known.join(", ")),
    }
}

/// Reads a value by its row; `None` after a complaint.
pub fn read_value<K: Kind>(
    node: &Node,
    row: &Row<K>,
    field: &str,
    collector: &mut Collector,
) -> Option<At<K::Out>> {
    if matches!(node.value, Value::Refused) {
        return None;
    }
    let mut ask = Ask {
        collector,
        field,
        example: row.example,
    };
    if matches!(node.value, Value::Nothing) {
        let without = match row.absent {
            Absent::Takes(text) => format!(", or leave it out for `{text}`"),
            Absent::Means(meaning) => format!(", or leave it out for {meaning}"),
            Absent::Required => String::new(),
        };
        return ask.refuse_with(
            node,
            format!("has no value; it must be {}", row.kind.rule()),
            format!(
                "write for example `{}`{without} (`#` after a space begins a comment)",
                row.example
            ),
        );
    }
    let value = row.kind.read(node, &mut ask)?;
    Some(At {
        value,
        spot: node.spot,
    })
}

/// The pairs of a map, each key once; `None` after a complaint that it is no map.
pub fn open_map<'n>(
    node: &'n Node,
    path: &str,
    example: &str,
    collector: &mut Collector,
) -> Option<Vec<&'n (Key, Node)>> {
    if matches!(node.value, Value::Refused) {
        return None;
    }
    let Value::Map(pairs) = &node.value else {
        let field = match &node.value {
            Value::Text(text) => forgotten_colon(text),
            _ => None,
        };
        let fix = match field.filter(|(name, _)| fields::NAMES.contains(name)) {
            Some((name, value)) => format!("write `{name}: {value}`: a colon is missing"),
            None => format!("write for example `{example}`"),
        };
        let rule = "must be fields with values, `key: value`";
        collector.error(node.spot, path, rule, &node.shown(), fix);
        return None;
    };
    Some(without_repeated(pairs, path, collector))
}

/// The first of each key, after complaints of those that are written again.
pub fn without_repeated<'n>(
    pairs: &'n [(Key, Node)],
    path: &str,
    collector: &mut Collector,
) -> Vec<&'n (Key, Node)> {
    let mut first: HashMap<&str, usize> = HashMap::new();
    let mut kept = Vec::new();
    for pair in pairs {
        let key = &pair.0;
        if let Some(line) = first.get(key.name.as_str()) {
            let field = if path.is_empty() {
                key.name.clone()
            } else {
                format!("{path}.{}", key.name)
            };
            collector.error(
                key.spot,
                &field,
                format!("is written twice, first on line {line}"),
                &key.name,
                "keep one of the two",
            );
        } else {
            first.insert(&key.name, key.spot.line);
            kept.push(pair);
        }
    }
    kept
}

/// The entries of a list; none after a complaint that it is no list, or too long.
pub fn open_list<'n>(
    node: &'n Node,
    path: &str,
    most: usize,
    example: &str,
    collector: &mut Collector,
) -> &'n [Node] {
    if matches!(node.value, Value::Refused) {
        return &[];
    }
    let fix = format!("write for example `{example}`");
    if let Value::Map(pairs) = &node.value
        && let Some((key, _)) = pairs.first()
        && let Some(entry) = key.name.strip_prefix('-')
    {
        let fix = format!("write `- {entry}: …`");
        collector.error(key.spot, path, NO_BLANK, &key.name, fix);
        return &[];
    }
    let Value::List(items) = &node.value else {
        let rule = "must be a list, one entry after each `-`";
        collector.error(node.spot, path, rule, &node.shown(), fix);
        return &[];
    };
    if items.len() > most {
        collector.error(
            node.spot,
            path,
            format!("must have at most {most} entries"),
            &items.len().to_string(),
            "split the build into several scenarios",
        );
        return &[];
    }
    items
}
