//! From the tree of a file to the scenario as written, section by section.
//!
//! Knows: which fields each section has. Must not know: the rules between fields.
//! Promises: every key is either read or complained of.

mod farm;
mod job;
mod parts;

pub use parts::{PART_KEYS, part};

use super::collector::{At, Collector, Spot};
use super::entry::{Entry, open_list, open_map};
use super::fields;
use super::kinds::{Ask, Id, Kind};
use super::raw::{Got, RawScenario};
use super::table::Table;
use super::tree::{Key, Node, Value};

/// Reads a whole tree; `further_parts` reads the parts that a table file brings.
pub fn scenario(
    root: &Node,
    collector: &mut Collector,
    further_parts: impl FnOnce(&Node, &mut Collector) -> Table,
) -> Option<RawScenario> {
    let mut entry = Entry::open(root, "", "build: {start: 2027-01-11 07:00}", collector)?;
    let build = job::build(&mut entry, collector);
    let currency = entry.read(&fields::CURRENCY, collector);
    let bench = job::bench(&mut entry, collector);
    let machines = listed(
        &mut entry,
        "machines",
        (Needed::AtLeastOne, fields::MOST_MACHINES),
        "machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]",
        collector,
        farm::machine,
    );
    let filaments = listed(
        &mut entry,
        "filaments",
        (Needed::AtLeastOne, fields::MOST_KINDS),
        "filaments: [{id: yellow, material: PLA}]",
        collector,
        farm::filament,
    );
    let settings = farm::all_settings(&mut entry, collector);
    let joints = keyed(
        &mut entry,
        "joints",
        "joints: {glue: {shortest: 120}}",
        collector,
        farm::joint,
    );
    let needed = if entry.has("parts_from") {
        Needed::Not
    } else {
        Needed::AtLeastOne
    };
    let mut parts = listed(
        &mut entry,
        "parts",
        (needed, fields::MOST_PARTS),
        "parts: [{id: jib-chord, size: [1380, 48, 48]}]",
        collector,
        parts::part,
    );
    let mut parts_complete = true;
    if let Some(node) = entry.take("parts_from") {
        let table = further_parts(node, collector);
        parts.extend(table.parts);
        parts_complete = table.complete;
    }
    let assemblies = listed(
        &mut entry,
        "assemblies",
        (Needed::Not, fields::MOST_ASSEMBLIES),
        "assemblies: [{id: jib, parts: {jib-chord: 8}}]",
        collector,
        job::assembly,
    );
    let measured = listed(
        &mut entry,
        "measured",
        (Needed::Not, fields::MOST_MEASURED),
        "measured: [{part: jib-chord, machine: tall, grams: 195, minutes: 340}]",
        collector,
        job::measurement,
    );
    entry.close(collector);
    Some(RawScenario {
        build,
        currency,
        bench,
        machines,
        filaments,
        settings,
        joints,
        parts_complete: parts_complete && !parts.is_empty(),
        parts,
        assemblies,
        measured,
    })
}

/// Whether a section may be left out.
#[derive(Clone, Copy)]
enum Needed {
    /// No build does without.
    AtLeastOne,
    /// It may be left out.
    Not,
}

/// The items of a list section, each with its path.
fn listed<T>(
    entry: &mut Entry<'_>,
    name: &'static str,
    (needed, most): (Needed, usize),
    example: &str,
    collector: &mut Collector,
    mut read: impl FnMut(&Node, &str, &mut Collector) -> Option<T>,
) -> Vec<T> {
    let path = entry.field(name);
    let spot = entry.spot;
    let node = entry.take(name);
    let items = node.map_or(&[][..], |node| {
        open_list(node, &path, most, example, collector)
    });
    // Of a section that is no list, that has been said already.
    let empty =
        node.is_none_or(|node| matches!(&node.value, Value::List(items) if items.is_empty()));
    if let Needed::AtLeastOne = needed
        && empty
    {
        let spot = node.map_or(spot, |node| node.spot);
        let fix = format!("write for example `{example}`");
        collector.error(spot, &path, "needs at least one entry", "", fix);
    }
    items
        .iter()
        .enumerate()
        .filter_map(|(at, node)| read(node, &item_path(&path, at, node), collector))
        .collect()
}

/// `machines[belt]`, or `machines[#2]` for the second if it has no name.
pub fn item_path(path: &str, at: usize, node: &Node) -> String {
    if let Value::Map(pairs) = &node.value
        && let Some((_, id)) = pairs.iter().find(|(key, _)| key.name == "id")
        && let Value::Text(id) = &id.value
    {
        return format!("{path}[{}]", super::collector::shortened(id.trim()));
    }
    format!("{path}[#{}]", at + 1)
}

/// The items of a section whose keys are names.
fn keyed<T>(
    entry: &mut Entry<'_>,
    name: &'static str,
    example: &str,
    collector: &mut Collector,
    mut read: impl FnMut(&Node, &str, Got<String>, &mut Collector) -> Option<T>,
) -> Vec<T> {
    let path = entry.field(name);
    let Some(node) = entry.take(name) else {
        return Vec::new();
    };
    let Some(pairs) = open_map(node, &path, example, collector) else {
        return Vec::new();
    };
    if pairs.len() > fields::MOST_KINDS {
        collector.error(
            node.spot,
            &path,
            format!("must have at most {} entries", fields::MOST_KINDS),
            &pairs.len().to_string(),
            "leave out what no part uses",
        );
        return Vec::new();
    }
    pairs
        .iter()
        .filter_map(|(key, node)| {
            let path = format!("{path}.{}", super::collector::shortened(&key.name));
            let id = key_id(key, &path, collector);
            read(node, &path, id, collector)
        })
        .collect()
}

/// A key as a name.
fn key_id(key: &Key, path: &str, collector: &mut Collector) -> Got<String> {
    let node = Node {
        spot: key.spot,
        value: Value::Text(key.name.clone()),
    };
    let mut ask = Ask {
        collector,
        field: path,
        example: "light",
    };
    match Id.read(&node, &mut ask) {
        Some(value) => Got::Read(At {
            value,
            spot: key.spot,
        }),
        None => Got::Refused,
    }
}

/// A section of fields, or its defaults if it is left out.
fn section<'n>(
    entry: &mut Entry<'n>,
    name: &'static str,
    example: &str,
    collector: &mut Collector,
) -> Entry<'n> {
    let path = entry.field(name);
    let spot: Spot = entry.spot;
    match entry.take(name) {
        Some(node) => Entry::open(node, path.clone(), example, collector)
            .unwrap_or_else(|| Entry::unreadable(&path, node.spot)),
        None => Entry::absent(&path, spot),
    }
}
