//! The build, the bench and the assemblies as written.
//!
//! Knows: their fields. Must not know: machines, parts.
//! Promises: a section that is left out reads as one without fields.

use super::super::collector::{At, Collector};
use super::super::entry::{Entry, open_map, read_value};
use super::super::fields;
use super::super::raw::{RawAssembly, RawBench, RawBuild, RawMeasurement};
use super::super::tree::Node;
use super::{key_id, section};

pub(super) fn build(entry: &mut Entry<'_>, c: &mut Collector) -> RawBuild {
    let mut entry = section(entry, "build", "build: {start: 2027-01-11 07:00}", c);
    let build = RawBuild {
        name: entry.read(&fields::BUILD_NAME, c),
        scale: entry.read(&fields::SCALE, c),
        start: entry.read(&fields::START, c),
        zone: entry.read(&fields::ZONE, c),
        each_day: entry.read(&fields::EACH_DAY, c),
    };
    entry.close(c);
    build
}

pub(super) fn bench(entry: &mut Entry<'_>, c: &mut Collector) -> RawBench {
    let mut entry = section(
        entry,
        "bench",
        "bench: {hours: {mon-sun: [\"08:00-20:00\"]}}",
        c,
    );
    let bench = RawBench {
        hours: entry.read(&fields::HOURS, c),
        away: entry.read(&fields::AWAY, c),
        hands: entry.read(&fields::HANDS, c),
        unattended: entry.read(&fields::BENCH_UNATTENDED, c),
        bench_hour: entry.read(&fields::BENCH_HOUR, c),
        energy_kwh: entry.read(&fields::ENERGY_KWH, c),
    };
    entry.close(c);
    bench
}

pub(super) fn assembly(node: &Node, path: &str, c: &mut Collector) -> Option<RawAssembly> {
    let mut entry = Entry::open(node, path, "- {id: jib, parts: {jib-chord: 8}}", c)?;
    let assembly = RawAssembly {
        path: path.to_owned(),
        spot: entry.spot,
        id: entry.read(&fields::ID, c),
        parts: taken(&mut entry, c),
        needs: entry.read(&fields::NEEDS, c),
        bench: entry.read(&fields::WORK, c),
        cure: entry.read(&fields::CURE, c),
        due: entry.read(&fields::DUE, c),
        late_written: entry.has(fields::LATE.name),
        late: entry.read(&fields::LATE, c),
    };
    entry.close(c);
    Some(assembly)
}

pub(super) fn measurement(node: &Node, path: &str, c: &mut Collector) -> Option<RawMeasurement> {
    let example = "- {part: jib-chord, machine: tall, grams: 195, minutes: 340}";
    let mut entry = Entry::open(node, path, example, c)?;
    let measurement = RawMeasurement {
        path: path.to_owned(),
        spot: entry.spot,
        part: entry.read(&fields::MEASURED_PART, c),
        machine: entry.read(&fields::MEASURED_MACHINE, c),
        pieces: entry.read(&fields::MEASURED_PIECES, c),
        lengths: entry.read(&fields::MEASURED_LENGTHS, c),
        upright: entry.read(&fields::MEASURED_UPRIGHT, c),
        grams: entry.read(&fields::MEASURED_GRAMS, c),
        minutes: entry.read(&fields::MEASURED_TIME, c),
    };
    // For people: held to its limits, and of no use to a plan.
    entry.read(&fields::MEASURED_DATE, c);
    entry.read(&fields::MEASURED_NOTE, c);
    entry.close(c);
    Some(measurement)
}

/// Parts with their counts.
fn taken(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<(At<String>, u32)> {
    let path = entry.field("parts");
    let Some(node) = entry.take("parts") else {
        return Vec::new();
    };
    let Some(pairs) = open_map(node, &path, "parts: {jib-chord: 8, lacing: 36}", c) else {
        return Vec::new();
    };
    pairs
        .iter()
        .filter_map(|(key, node)| {
            let path = format!("{path}.{}", key.name);
            let id = key_id(key, &path, c);
            let count = read_value(node, &fields::TAKEN, &path, c);
            Some((id.as_ref()?.clone(), count?.value))
        })
        .collect()
}
