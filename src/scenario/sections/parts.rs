//! A part as written, from either kind of file.
//!
//! Knows: the fields of a part. Must not know: which file it is from, machines, assemblies.
//! Promises: one reader for both files, so that both mean the same.

use std::path::PathBuf;

use super::super::collector::{At, Collector};
use super::super::entry::{Entry, Row, open_list, open_map, read_value};
use super::super::fields;
use super::super::kinds::Kind;
use super::super::raw::{Got, RawPart, RawSpan, RawSplit, RawVariant};
use super::super::tree::{Node, Value};
use super::key_id;

/// All keys of a part, in the order of the reader.
pub const PART_KEYS: [&str; 23] = [
    "id",
    "quantity",
    "model",
    "size",
    "mesh",
    "solid",
    "filament",
    "settings",
    "lie",
    "turn",
    "split",
    "belt",
    "finishing",
    "spares",
    "trial",
    "variants",
    "alone",
    "ready",
    "minutes",
    "span",
    "gcode",
    "only",
    "grams",
];

/// One part.
pub fn part(node: &Node, path: &str, c: &mut Collector) -> Option<RawPart> {
    let mut entry = Entry::open(node, path, "- {id: jib-chord, size: [1380, 48, 48]}", c)?;
    let mut part = RawPart {
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
        turn: entry.read(&fields::TURN, c),
        split: split(&mut entry, c),
        belt: entry.read(&fields::PART_BELT, c),
        finishing: entry.read(&fields::FINISHING, c),
        spares: entry.read(&fields::SPARES, c),
        trial: entry.read(&fields::TRIAL, c),
        variants: variants(&mut entry, c),
        alone: entry.read(&fields::ALONE, c),
        ready: entry.read(&fields::READY, c),
        minutes: minutes(&mut entry, c),
        span: span(&mut entry, c),
        gcode: gcode(&mut entry, c),
        only: entry.read(&fields::ONLY, c),
        grams: entry.read(&fields::PART_GRAMS, c),
    };
    if entry.has("mesh") {
        refuse_mesh_with_box(&entry, &mut part, c);
    } else {
        refuse_size_and_model(&entry, &part, c);
    }
    entry.close(c);
    Some(part)
}

/// A mesh says itself how large and how full the part is.
fn refuse_mesh_with_box(entry: &Entry<'_>, part: &mut RawPart, c: &mut Collector) {
    // Of a table row that has shifted, that has been said.
    let Some(spot) = part.mesh.as_ref().map(|mesh| mesh.spot) else {
        return;
    };
    for field in ["model", "size", "solid"] {
        if entry.has(field) {
            c.error(
                spot,
                &part.path,
                format!("has both `mesh` and `{field}`"),
                "",
                format!("leave out `{field}`: the mesh gives it, and `scale` multiplies the mesh"),
            );
            part.mesh = Got::Refused;
        }
    }
}

/// A part has either `size` or `model`.
fn refuse_size_and_model(entry: &Entry<'_>, part: &RawPart, c: &mut Collector) {
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
    } else if !model && !size && !entry.has_misnamed(&["model", "size", "mesh"]) {
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
    let refused = |text: &str| matches!(text, "no" | "No" | "NO" | "false" | "none" | "off");
    if let Value::Text(text) = &node.value
        && refused(text.trim())
    {
        let rule = "must be fields with values, `key: value`, or never";
        c.error(node.spot, &path, rule, text, "write `split: never`");
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

fn span(entry: &mut Entry<'_>, c: &mut Collector) -> Option<RawSpan> {
    let path = entry.field("span");
    let node = entry.take("span")?;
    let mut entry = Entry::open(node, path, "span: {load_g: 400}", c)?;
    let span = RawSpan {
        length: entry.read(&fields::SPAN_LENGTH, c),
        load: entry.read(&fields::SPAN_LOAD, c),
        ends: entry.read(&fields::SPAN_ENDS, c),
        limit: entry.read(&fields::SPAN_LIMIT, c),
        down: entry.read(&fields::SPAN_DOWN, c),
    };
    entry.close(c);
    Some(span)
}

fn variants(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<RawVariant> {
    let path = entry.field("variants");
    let Some(node) = entry.take("variants") else {
        return Vec::new();
    };
    let example = "variants: [{name: tight, offset: -0.1}, {name: loose, offset: 0.1}]";
    open_list(node, &path, fields::MOST_VARIANTS, example, c)
        .iter()
        .enumerate()
        .filter_map(|(at, node)| {
            let path = format!("{path}[#{}]", at + 1);
            let mut entry = Entry::open(node, path.as_str(), example, c)?;
            let variant = RawVariant {
                path,
                spot: entry.spot,
                name: entry.read(&fields::VARIANT_NAME, c),
                offset: entry.read(&fields::VARIANT_OFFSET, c),
            };
            entry.close(c);
            Some(variant)
        })
        .collect()
}

fn minutes(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<(At<String>, f64)> {
    let example = "minutes: {tall: 340}";
    let found = by_machine(entry, "minutes", example, &fields::MEASURED_MINUTES, c);
    let minutes = found.into_iter();
    minutes.map(|(id, at)| (id, at.value)).collect()
}

fn gcode(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<(At<String>, At<String>)> {
    let example = "gcode: {tall: chord-tall.gcode}";
    by_machine(entry, "gcode", example, &fields::GCODE, c)
}

/// One value for each machine named.
fn by_machine<K: Kind>(
    entry: &mut Entry<'_>,
    name: &'static str,
    example: &str,
    row: &Row<K>,
    c: &mut Collector,
) -> Vec<(At<String>, At<K::Out>)> {
    let path = entry.field(name);
    let Some(node) = entry.take(name) else {
        return Vec::new();
    };
    let Some(pairs) = open_map(node, &path, example, c) else {
        return Vec::new();
    };
    pairs
        .iter()
        .filter_map(|(key, node)| {
            let path = format!("{path}.{}", key.name);
            let id = key_id(key, &path, c);
            let value = read_value(node, row, &path, c);
            Some((id.as_ref()?.clone(), value?))
        })
        .collect()
}
