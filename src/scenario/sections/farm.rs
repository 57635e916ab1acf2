//! Machines, filaments, settings and joints as written.
//!
//! Knows: their fields. Must not know: parts, assemblies, dates in a zone.
//! Promises: a field of the other kind of machine is refused with that reason.

use super::super::collector::{At, Collector};
use super::super::entry::{Entry, open_list};
use super::super::fields::{self, KindWord};
use super::super::raw::{
    Got, RawFilament, RawHardware, RawJoint, RawMachine, RawOutage, RawSettings, RawShape,
};
use super::super::tree::{Node, Value};
use super::keyed;

/// The name of the settings that are built in.
const BUILT_IN: &str = "standard";

pub(super) fn machine(node: &Node, path: &str, c: &mut Collector) -> Option<RawMachine> {
    let example = "- {id: tall, kind: bed, bed: [300, 300], height: 400}";
    let mut entry = Entry::open(node, path, example, c)?;
    let id = entry.read(&fields::ID, c);
    let kind = entry.read(&fields::KIND, c).value();
    let (shape, margin) = shape(&mut entry, kind, c);
    let machine = RawMachine {
        path: path.to_owned(),
        id,
        shape,
        margin,
        spacing: entry.read(&fields::SPACING, c),
        nozzle: entry.read(&fields::NOZZLE, c),
        flow: entry.read(&fields::FLOW, c),
        layer_time: entry.read(&fields::LAYER_TIME, c),
        materials: entry.read(&fields::MATERIALS, c),
        loaded: entry.read(&fields::LOADED, c),
        warm_up: entry.read(&fields::WARM_UP, c),
        turnaround: entry.read(&fields::TURNAROUND, c),
        swap: entry.read(&fields::SWAP, c),
        purge: entry.read(&fields::PURGE, c),
        watts: entry.read(&fields::WATTS, c),
        hourly: entry.read(&fields::HOURLY, c),
        acceleration: entry.read(&fields::ACCELERATION, c),
        scrap: entry.read(&fields::SCRAP, c),
        offline: offline(&mut entry, c),
        unattended: entry.read(&fields::MACHINE_UNATTENDED, c),
    };
    entry.close(c);
    Some(machine)
}

/// What belongs to the kind of machine. Without a kind both kinds' fields are let pass.
fn shape(
    entry: &mut Entry<'_>,
    kind: Option<KindWord>,
    c: &mut Collector,
) -> (Option<RawShape>, Got<f64>) {
    match kind {
        Some(KindWord::Bed) => {
            let shape = RawShape::Bed {
                bed: entry.read(&fields::BED, c),
                height: entry.read(&fields::HEIGHT, c),
            };
            let rule = "belongs to a belt machine, and this is a bed machine";
            let fix = "leave it out, or write `kind: belt`";
            for name in ["section", "longest", "gap"] {
                entry.forbid(name, rule, fix, c);
            }
            (Some(shape), entry.read(&fields::BED_MARGIN, c))
        }
        Some(KindWord::Belt) => {
            let shape = RawShape::Belt {
                section: entry.read(&fields::SECTION, c),
                longest: entry.read(&fields::LONGEST, c),
                gap: entry.read(&fields::GAP, c),
            };
            let rule = "belongs to a bed machine, and this is a belt machine";
            for (name, fix) in [
                (
                    "bed",
                    "write `section: [240, 200]` (across the belt, above the belt) and `longest: 2400`",
                ),
                (
                    "height",
                    "leave it out; the second number of `section` is the height above the belt",
                ),
            ] {
                entry.forbid(name, rule, fix, c);
            }
            (Some(shape), entry.read(&fields::BELT_MARGIN, c))
        }
        None => {
            for name in ["bed", "height", "section", "longest", "gap"] {
                entry.take(name);
            }
            (None, entry.read(&fields::BED_MARGIN, c))
        }
    }
}

fn offline(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<RawOutage> {
    let path = entry.field("offline");
    let Some(node) = entry.take("offline") else {
        return Vec::new();
    };
    let example = "offline: [{from: 2027-01-20 00:00, to: 2027-01-21 00:00, why: new bearings}]";
    open_list(node, &path, fields::MOST_OUTAGES, example, c)
        .iter()
        .enumerate()
        .filter_map(|(at, node)| {
            let path = format!("{path}[#{}]", at + 1);
            let mut entry = Entry::open(node, path.as_str(), example, c)?;
            let outage = RawOutage {
                path,
                from: entry.read(&fields::OFFLINE_FROM, c),
                to: entry.read(&fields::OFFLINE_TO, c),
                why: entry.read(&fields::OFFLINE_WHY, c),
            };
            entry.close(c);
            Some(outage)
        })
        .collect()
}

pub(super) fn filament(node: &Node, path: &str, c: &mut Collector) -> Option<RawFilament> {
    let mut entry = Entry::open(node, path, "- {id: yellow, material: PLA}", c)?;
    let filament = RawFilament {
        path: path.to_owned(),
        spot: entry.spot,
        id: entry.read(&fields::ID, c),
        material: entry
            .read(&fields::MATERIAL, c)
            .map(|material| material.to_uppercase()),
        colour: entry.read(&fields::COLOUR, c),
        density: entry.read(&fields::DENSITY, c),
        modulus: entry.read(&fields::MODULUS, c),
        diameter: entry.read(&fields::DIAMETER, c),
        price_kg: entry.read(&fields::PRICE_KG, c),
        spools: entry.read(&fields::SPOOLS, c),
        spool: entry.read(&fields::SPOOL, c),
        lead: entry.read(&fields::LEAD, c),
    };
    entry.close(c);
    Some(filament)
}

/// `settings`, or the one that is built in.
pub(super) fn all_settings(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<RawSettings> {
    let spot = entry.spot;
    let none = match entry.take("settings") {
        None => true,
        Some(node) => matches!(&node.value, Value::Map(pairs) if pairs.is_empty()),
    };
    if none {
        let path = format!("settings.{BUILT_IN}");
        let value = BUILT_IN.to_owned();
        let id = Got::Read(At { value, spot });
        return vec![settings(&mut Entry::absent(&path, spot), id, c)];
    }
    keyed(
        entry,
        "settings",
        "settings: {light: {layer: 0.3, line: 0.65}}",
        c,
        |node, path, id, c| {
            let mut entry = Entry::open(node, path, "light: {layer: 0.3, line: 0.65}", c)?;
            let settings = settings(&mut entry, id, c);
            entry.close(c);
            Some(settings)
        },
    )
}

fn settings(entry: &mut Entry<'_>, id: Got<String>, c: &mut Collector) -> RawSettings {
    RawSettings {
        path: entry.path.clone(),
        id,
        layer: entry.read(&fields::LAYER, c),
        line: entry.read(&fields::LINE, c),
        perimeters: entry.read(&fields::PERIMETERS, c),
        top: entry.read(&fields::TOP, c),
        bottom: entry.read(&fields::BOTTOM, c),
        infill: entry.read(&fields::INFILL, c),
        overhang: entry.read(&fields::OVERHANG, c),
        support: entry.read(&fields::SUPPORT, c),
    }
}

pub(super) fn joint(
    node: &Node,
    path: &str,
    id: Got<String>,
    c: &mut Collector,
) -> Option<RawJoint> {
    let mut entry = Entry::open(node, path, "glue: {shortest: 120}", c)?;
    let joint = RawJoint {
        id,
        hardware: hardware(&mut entry, c),
        shortest: entry.read(&fields::SHORTEST, c),
        bench: entry.read(&fields::JOINT_BENCH, c),
        cure: entry.read(&fields::JOINT_CURE, c),
        grams: entry.read(&fields::JOINT_GRAMS, c),
    };
    entry.close(c);
    Some(joint)
}

fn hardware(entry: &mut Entry<'_>, c: &mut Collector) -> Option<RawHardware> {
    let path = entry.field("hardware");
    let node = entry.take("hardware")?;
    let example = "hardware: {item: \"M8 rod\", g_per_mm: 0.31, length: 160}";
    let mut entry = Entry::open(node, path, example, c)?;
    let hardware = RawHardware {
        path: entry.path.clone(),
        spot: entry.spot,
        item: entry.read(&fields::ITEM, c),
        grams_per_mm: entry.read(&fields::GRAMS_PER_MM, c),
        price_per_mm: entry.read(&fields::PRICE_PER_MM, c),
        length: entry.read(&fields::LENGTH, c),
        section: entry.read(&fields::ROD_SECTION, c),
        material: entry.read(&fields::ROD_MATERIAL, c),
        modulus: entry.read(&fields::ROD_MODULUS, c),
    };
    entry.close(c);
    Some(hardware)
}
