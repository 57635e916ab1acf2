//! A part as written, from either kind of file.
//!
//! Knows: the fields of a part. Must not know: which file it is from, machines, assemblies.
//! Promises: one reader for both files, so that both mean the same.

use std::path::PathBuf;

use super::super::collector::{At, Collector};
use super::super::entry::{Entry, open_map, read_value};
use super::super::fields;
use super::super::raw::{RawPart, RawSplit};
use super::super::tree::{Node, Value};
use super::key_id;

/// All keys of a part, in the order of the reader.
pub const PART_KEYS: [&str; 19] = [
    "id",
    "quantity",
    "model",
    "size",
    "mesh",
    "solid",
    "filament",
    "settings",
    "lie",
    "split",
    "belt",
    "finishing",
    "spares",
    "trial",
    "alone",
    "ready",
    "minutes",
    "only",
    "grams",
];

/// One part.
pub fn part(node: &Node, path: &str, c: &mut Collector) -> Option<RawPart> {
    let mut entry = Entry::open(node, path, "- {id: jib-chord, size: [1380, 48, 48]}", c)?;
    let part = RawPart {
        path: path.to_owned(),
        spot: entry.spot,
        id: entry.read(&fields::ID, c),
        quantity: entry.read(&fields::QUANTITY, c),
        model: entry.read(&fields::MODEL, c),
        size: entry.read(&fields::SIZE, c),
        mesh: entry.read(&fields::MESH, c),
        shape: None,
        folder: PathBuf::new(),
        solid: entry.read(&fields::SOLID, c),
        filament: entry.read(&fields::PART_FILAMENT, c),
        settings: entry.read(&fields::PART_SETTINGS, c),
        lie: entry.read(&fields::LIE, c),
        split: split(&mut entry, c),
        belt: entry.read(&fields::PART_BELT, c),
        finishing: entry.read(&fields::FINISHING, c),
        spares: entry.read(&fields::SPARES, c),
        trial: entry.read(&fields::TRIAL, c),
        alone: entry.read(&fields::ALONE, c),
        ready: entry.read(&fields::READY, c),
        minutes: minutes(&mut entry, c),
        only: entry.read(&fields::ONLY, c),
        grams: entry.read(&fields::PART_GRAMS, c),
    };
    if entry.has("mesh") {
        refuse_mesh_with_box(&entry, &part, c);
    } else {
        refuse_size_and_model(&part, c);
    }
    entry.close(c);
    Some(part)
}

/// A mesh says itself how large and how full the part is.
fn refuse_mesh_with_box(entry: &Entry<'_>, part: &RawPart, c: &mut Collector) {
    // Of a table row that has shifted, that has been said.
    let Some(mesh) = part.mesh.as_ref() else {
        return;
    };
    for field in ["model", "size", "solid"] {
        if entry.has(field) {
            c.error(
                mesh.spot,
                &part.path,
                format!("has both `mesh` and `{field}`"),
                "",
                format!("leave out `{field}`: the mesh gives it, and `scale` multiplies the mesh"),
            );
        }
    }
}

/// A part has either `size` or `model`.
fn refuse_size_and_model(part: &RawPart, c: &mut Collector) {
    let (model, size) = (!part.model.is_absent(), !part.size.is_absent());
    // In a table row that could not be told apart both are complained of already.
    let neither_read = part.model.as_ref().is_none() && part.size.as_ref().is_none();
    if model && size && !neither_read {
        c.error(
            part.spot,
            &part.path,
            "has both `model` and `size`",
            "",
            "keep `model`, which `scale` multiplies, or `size`, which is taken as it is",
        );
    } else if !model && !size {
        c.error(
            part.spot,
            &part.path,
            "has no size",
            "",
            "write `size: [1380, 48, 48]`, or `model: [230, 8, 8]` to be multiplied by `scale`, or `mesh: jib-chord.stl`",
        );
    }
}

fn split(entry: &mut Entry<'_>, c: &mut Collector) -> Option<RawSplit> {
    let path = entry.field("split");
    let node = entry.take("split")?;
    if matches!(&node.value, Value::Text(text) if text.trim() == "never") {
        return None;
    }
    let example = "split: {joint: steel-rod, into: 2..6}` or `split: never";
    let mut entry = Entry::open(node, path, example, c)?;
    let split = RawSplit {
        joint: entry.read(&fields::SPLIT_JOINT, c),
        into: entry.read(&fields::SPLIT_INTO, c),
    };
    entry.close(c);
    Some(split)
}

fn minutes(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<(At<String>, f64)> {
    let path = entry.field("minutes");
    let Some(node) = entry.take("minutes") else {
        return Vec::new();
    };
    let Some(pairs) = open_map(node, &path, "minutes: {tall: 340}", c) else {
        return Vec::new();
    };
    pairs
        .iter()
        .filter_map(|(key, node)| {
            let path = format!("{path}.{}", key.name);
            let id = key_id(key, &path, c);
            let minutes = read_value(node, &fields::MEASURED_MINUTES, &path, c);
            Some((id.as_ref()?.clone(), minutes?.value))
        })
        .collect()
}
