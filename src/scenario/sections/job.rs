//! The build, the bench and the assemblies as written.
//!
//! Knows: their fields. Must not know: machines, parts.
//! Promises: a section that is left out reads as one without fields.

use super::super::collector::{At, Collector};
use super::super::entry::{Entry, open_list, open_map, read_value};
use super::super::fields;
use super::super::raw::{
    RawAssembly, RawBench, RawBuild, RawEarlier, RawHandling, RawMeasurement, RawOriginal, RawPlace,
};
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
        spool_margin: entry.read(&fields::SPOOL_MARGIN, c),
        firm: entry.read(&fields::FIRM, c),
        churn: entry.read(&fields::CHURN, c),
        confidence: entry.read(&fields::CONFIDENCE, c),
        original: original(&mut entry, c),
        earlier: earlier(&mut entry, c),
    };
    entry.close(c);
    build
}

fn original(entry: &mut Entry<'_>, c: &mut Collector) -> Option<RawOriginal> {
    let path = entry.field("original");
    let node = entry.take("original")?;
    let example = "original: {size: [440, 215, 500], mass_g: 780}";
    let mut entry = Entry::open(node, path, example, c)?;
    let original = RawOriginal {
        size: entry.read(&fields::ORIGINAL_SIZE, c),
        mass: entry.read(&fields::ORIGINAL_MASS, c),
    };
    entry.close(c);
    Some(original)
}

fn earlier(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<RawEarlier> {
    let path = entry.field("earlier");
    let Some(node) = entry.take("earlier") else {
        return Vec::new();
    };
    let example = "earlier: [{name: Lift bridge, scale: 5, original_g: 1200, printed_g: 38000}]";
    open_list(node, &path, fields::MOST_EARLIER, example, c)
        .iter()
        .enumerate()
        .filter_map(|(at, node)| {
            let path = format!("{path}[#{}]", at + 1);
            let mut entry = Entry::open(node, path.as_str(), example, c)?;
            let earlier = RawEarlier {
                path,
                name: entry.read(&fields::EARLIER_NAME, c),
                scale: entry.read(&fields::EARLIER_SCALE, c),
                original: entry.read(&fields::EARLIER_ORIGINAL, c),
                printed: entry.read(&fields::EARLIER_PRINTED, c),
            };
            entry.close(c);
            Some(earlier)
        })
        .collect()
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
        places: places(&mut entry, c),
        lift: lift(&mut entry, c),
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

/// Parts and needed assemblies with the points at which they are.
fn places(entry: &mut Entry<'_>, c: &mut Collector) -> Vec<RawPlace> {
    let path = entry.field("places");
    let Some(node) = entry.take("places") else {
        return Vec::new();
    };
    let example = "places: {jib-chord: [[0, 0, 40], [0, 0, -40]], pivot: [0, 0, 0]}";
    let Some(pairs) = open_map(node, &path, example, c) else {
        return Vec::new();
    };
    pairs
        .iter()
        .filter_map(|(key, node)| {
            let path = format!("{path}.{}", key.name);
            let id = key_id(key, &path, c);
            let points = read_value(node, &fields::PLACES, &path, c);
            Some((id.as_ref()?.clone(), points?))
        })
        .collect()
}

fn lift(entry: &mut Entry<'_>, c: &mut Collector) -> Option<RawHandling> {
    let path = entry.field("lift");
    let node = entry.take("lift")?;
    let example = "lift: {reach_cm: 50, from_cm: 75, to_cm: 120}";
    let mut entry = Entry::open(node, path, example, c)?;
    let lift = RawHandling {
        reach: entry.read(&fields::LIFT_REACH, c),
        from: entry.read(&fields::LIFT_FROM, c),
        to: entry.read(&fields::LIFT_TO, c),
        turn: entry.read(&fields::LIFT_TURN, c),
        grip: entry.read(&fields::LIFT_GRIP, c),
    };
    entry.close(c);
    Some(lift)
}
