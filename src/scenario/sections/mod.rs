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
use super::raw::{Got, RawPart, RawScenario};
use super::tree::{Key, Node, Value};

/// Reads a whole tree; `further_parts` reads the parts that a table file brings.
pub fn scenario(
    root: &Node,
    collector: &mut Collector,
    further_parts: impl FnOnce(&Node, &mut Collector) -> Vec<RawPart>,
) -> Option<RawScenario> {
    let mut entry = Entry::open(root, "", "build: {start: 2027-01-11 07:00}", collector)?;
    let build = job::build(&mut entry, collector);
    let currency = entry.read(&fields::CURRENCY, collector);
    let bench = job::bench(&mut entry, collector);
    let machines = listed(
        &mut entry,
        "machines",
        fields::MOST_MACHINES,
        "machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]",
        collector,
        farm::machine,
    );
    let filaments = listed(
        &mut entry,
        "filaments",
        fields::MOST_KINDS,
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
    let mut parts = listed(
        &mut entry,
        "parts",
        fields::MOST_PARTS,
        "parts: [{id: jib-chord, size: [1380, 48, 48]}]",
        collector,
        parts::part,
    );
    if let Some(node) = entry.take("parts_from") {
        parts.extend(further_parts(node, collector));
    }
    let assemblies = listed(
        &mut entry,
        "assemblies",
        fields::MOST_ASSEMBLIES,
        "assemblies: [{id: jib, parts: {jib-chord: 8}}]",
        collector,
        job::assembly,
    );
    entry.close(collector);
    Some(RawScenario {
        spot: root.spot,
        build,
        currency,
        bench,
        machines,
        filaments,
        settings,
        joints,
        parts,
        assemblies,
    })
}

/// The items of a list section, each with its path.
fn listed<T>(
    entry: &mut Entry<'_>,
    name: &'static str,
    most: usize,
    example: &str,
    collector: &mut Collector,
    mut read: impl FnMut(&Node, &str, &mut Collector) -> Option<T>,
) -> Vec<T> {
    let path = entry.field(name);
    let Some(node) = entry.take(name) else {
        return Vec::new();
    };
    open_list(node, &path, most, example, collector)
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
    Id.read(&node, &mut ask).map(|value| At {
        value,
        spot: key.spot,
    })
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
