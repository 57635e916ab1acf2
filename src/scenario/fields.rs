//! The table of fields: notation, limits, default and example of each, in one place.
//!
//! Knows: what may stand in a scenario. Must not know: how it is read, what it means together.
//! Promises: the checks, the messages and the defaults all come from here; every example and every default is
//! within its limits.

use super::entry::{Absent, Row};
use super::kinds::{
    Choice, Colour, Dates, Duration, Extra, Hand, Hours, Id, IdOrNone, Ids, Lie, Line, Materials,
    Minute, Moment, Number, Numbers, Points, Profiles, Range, Share, Sides, TurnStep, Whole, Zone,
};
use super::model::{Axis, Ends, Grip};
use Absent::{Means, Required, Takes};

/// Most machines.
pub const MOST_MACHINES: usize = 1000;
/// Most filaments, settings or joints.
pub const MOST_KINDS: usize = 500;
/// Most parts, each with any number of copies.
pub const MOST_PARTS: usize = 5_000;
/// Most copies of all parts together.
pub const MOST_COPIES: u64 = 100_000;
/// Most assemblies.
pub const MOST_ASSEMBLIES: usize = 2_000;
/// Most earlier builds to compare with.
pub const MOST_EARLIER: usize = 20;
/// Most measurements.
pub const MOST_MEASURED: usize = 2_000;
/// Most variants of one part.
pub const MOST_VARIANTS: usize = 20;
/// Most spans out of use of one machine.
pub const MOST_OUTAGES: usize = 1_000;
/// No date may be further from the build's start.
pub const MOST_YEARS: u32 = 10;

/// Density in g/cm³ by material, where the user gives none.
///
/// Sources: PLA: a resin maker's data sheet of a monofilament grade (4043D), ASTM D792, scribd.com/document/464152061.
/// PETG, ABS: Processes 13(9) 2733 (2025), mdpi.com/2227-9717/13/9/2733. ASA, PA6, PA12: within the ranges of
/// 24kjx.com.cn/news/915. TPU: from memory, typical; grades run from 1.10 to 1.25.
pub const DENSITIES: [(&str, f64); 7] = [
    ("PLA", 1.24),
    ("PETG", 1.27),
    ("ABS", 1.04),
    ("ASA", 1.07),
    ("TPU", 1.21),
    ("PA6", 1.14),
    ("PA12", 1.01),
];

/// Modulus of elasticity in N/mm² of a printed part along its lines, by material, where the user gives none.
///
/// PLA: 2500, within a spread of test reports from 2300 to 3500 (from memory), which is five sevenths of the 3500 of the
/// material itself; PETG and ABS: as much of 2000 and 2100. Those three are of Processes 13(9) 2733 (2025),
/// mdpi.com/2227-9717/13/9/2733.
pub const MODULI: [(&str, f64); 3] = [("PLA", 2500.0), ("PETG", 1430.0), ("ABS", 1500.0)];

/// What rods and tubes are made of: modulus in N/mm² along them, density in g/cm³.
///
/// Steel: EN 1993-1-1:2005, 3.2.6. Aluminium: EN 1999-1-1:2007, 3.2.5 (from memory). Carbon: pultruded tubes along the
/// fibre, a supplier's least flexural modulus, goodwinds.com/technical-material-specifications; woven ones may have half
/// of it. Beech: strength class D40 of EN 338 (from memory), density typical (from memory).
pub const RODS: [(&str, f64, f64); 4] = [
    ("steel", 210_000.0, 7.85),
    ("aluminium", 70_000.0, 2.70),
    ("carbon", 127_000.0, 1.50),
    ("beech", 13_000.0, 0.72),
];

/// A material of [`RODS`], by its position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RodMaterial(pub usize);

/// Bed or belt, as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KindWord {
    /// `bed`.
    Bed,
    /// `belt`.
    Belt,
}

const ALLOWED_OR_FORBIDDEN: Choice<bool> = Choice(&[("allowed", true), ("forbidden", false)]);
const ALLOWED_OR_NEVER: Choice<bool> = Choice(&[("allowed", true), ("never", false)]);
const X_Y_OR_Z: Choice<Axis> = Choice(&[("x", Axis::X), ("y", Axis::Y), ("z", Axis::Z)]);
const TRUE_OR_FALSE: Choice<bool> = Choice(&[("true", true), ("false", false)]);
const BED_OR_BELT: Choice<KindWord> = Choice(&[("bed", KindWord::Bed), ("belt", KindWord::Belt)]);

const ROD_MATERIALS: Choice<RodMaterial> = Choice(&[
    (RODS[0].0, RodMaterial(0)),
    (RODS[1].0, RodMaterial(1)),
    (RODS[2].0, RodMaterial(2)),
    (RODS[3].0, RodMaterial(3)),
]);
const ENDS: Choice<Ends> = Choice(&[
    ("simple", Ends::Simple),
    ("cantilever", Ends::Cantilever),
    ("clamped", Ends::Clamped),
]);
const GRIPS: Choice<Grip> = Choice(&[
    ("good", Grip::Good),
    ("fair", Grip::Fair),
    ("poor", Grip::Poor),
]);
const AN_AXIS: Choice<Axis> = Choice(&[("x", Axis::X), ("y", Axis::Y), ("z", Axis::Z)]);

const fn line() -> Line {
    Line { longest: 120 }
}

const fn number(unit: &'static str, least: f64, most: f64) -> Number {
    Number { unit, least, most }
}

/// A sum of money; wide enough for any currency.
const fn money() -> Number {
    number("", 0.0, 1e9)
}

const fn whole(least: u32, most: u32) -> Whole {
    Whole {
        unit: "",
        least,
        most,
    }
}

const fn share(least: f64, most: f64) -> Share {
    Share { least, most }
}

const fn upto(most: &'static str) -> Duration {
    Duration { most }
}

const fn sides<const N: usize>(least: f64, most: f64, meaning: &'static str) -> Sides<N> {
    Sides {
        each: number("mm", least, most),
        meaning,
        further: None,
    }
}

/// Sides of a bed; its height is a field of its own.
const fn bed(least: f64, most: f64, meaning: &'static str) -> Sides<2> {
    Sides {
        further: Some("height"),
        ..sides(least, most, meaning)
    }
}

macro_rules! table {
    ($($name:ident, $kind:ty: $key:literal, $notation:expr, $absent:expr, $example:literal;)*) => {
        $(
            #[doc = concat!("`", $example, "`")]
            pub const $name: Row<$kind> = Row {
                name: $key,
                kind: $notation,
                absent: $absent,
                example: $example,
            };
        )*

        /// The names of all fields.
        pub const NAMES: &[&str] = &[$($key),*];

        /// Walks the whole table.
        #[cfg(test)]
        fn each(visit: &mut impl Visit) {
            $(visit.row(stringify!($name), &$name);)*
        }
    };
}

table! {
    // build
    BUILD_NAME, Line: "name", line(), Means("the file's name"), "name: Quayside crane";
    SCALE, Number: "scale", number("", 0.001, 1000.0), Takes("1"), "scale: 6";
    START, Moment: "start", Moment, Required, "start: 2027-01-11 07:00";
    ZONE, Zone: "timezone", Zone, Takes("UTC"), "timezone: Europe/Oslo";
    EACH_DAY, Number: "each_day", money(), Takes("1"), "each_day: 2";
    SPOOL_MARGIN, Share: "spool_margin", share(0.0, 0.5), Takes("3%"), "spool_margin: 3%";
    FIRM, Duration: "firm", upto("30 d"), Means("until the end of the next bench hours"), "firm: 18 h";
    CHURN, Number: "churn", money(), Takes("1"), "churn: 2";
    CONFIDENCE, Share: "confidence", share(0.5, 0.9999), Takes("95%"), "confidence: 95%";
    ORIGINAL_SIZE, Sides<3>: "size", sides(0.1, 100_000.0, "its length, width and height, before `scale`"), Means("not known"), "size: [440, 215, 500]";
    ORIGINAL_MASS, Number: "mass_g", number("g", 0.001, 1e9), Means("not known"), "mass_g: 780";
    EARLIER_NAME, Line: "name", line(), Required, "name: Lift bridge";
    EARLIER_SCALE, Number: "scale", number("", 0.001, 1000.0), Required, "scale: 5";
    EARLIER_ORIGINAL, Number: "original_g", number("g", 0.001, 1e9), Required, "original_g: 1200";
    EARLIER_PRINTED, Number: "printed_g", number("g", 0.001, 1e9), Required, "printed_g: 38000";
    CURRENCY, Line: "currency", Line { longest: 8 }, Takes("EUR"), "currency: EUR";

    // bench
    HOURS, Hours: "hours", Hours, Takes("{mon-sun: [\"08:00-20:00\"]}"), "hours: {mon-fri: [\"17:30-22:30\"], sat-sun: [\"09:00-22:00\"]}";
    AWAY, Dates: "away", Dates { most: 2000 }, Takes("[]"), "away: [2027-01-23]";
    HANDS, Hand: "hands", Hand { most: 100 }, Takes("1"), "hands: 1";
    BENCH_UNATTENDED, Choice<bool>: "unattended", ALLOWED_OR_FORBIDDEN, Takes("allowed"), "unattended: allowed";
    BENCH_HOUR, Number: "bench_hour", money(), Takes("15"), "bench_hour: 15";
    ENERGY_KWH, Number: "energy_kwh", money(), Takes("0.30"), "energy_kwh: 0.30";

    // machines
    ID, Id: "id", Id, Required, "id: left-arm";
    KIND, Choice<KindWord>: "kind", BED_OR_BELT, Required, "kind: bed";
    BED, Sides<2>: "bed", bed(20.0, 10_000.0, "across and along the bed"), Required, "bed: [300, 300]";
    HEIGHT, Number: "height", number("mm", 10.0, 10_000.0), Required, "height: 400";
    SECTION, Sides<2>: "section", sides(20.0, 10_000.0, "across the belt, above the belt"), Required, "section: [240, 200]";
    LONGEST, Number: "longest", number("mm", 20.0, 100_000.0), Required, "longest: 2400";
    GAP, Number: "gap", number("mm", 0.0, 5_000.0), Takes("20"), "gap: 20";
    BED_MARGIN, Number: "margin", number("mm", 0.0, 1_000.0), Takes("5"), "margin: 5";
    BELT_MARGIN, Number: "margin", number("mm", 0.0, 1_000.0), Takes("2"), "margin: 2";
    SPACING, Number: "spacing", number("mm", 0.0, 1_000.0), Takes("4"), "spacing: 4";
    NOZZLE, Number: "nozzle", number("mm", 0.1, 2.0), Takes("0.4"), "nozzle: 0.6";
    FLOW, Number: "flow", number("mm³/s", 0.1, 500.0), Takes("12"), "flow: 14";
    LAYER_TIME, Duration: "layer_time", upto("10 min"), Takes("3 s"), "layer_time: 4 s";
    MATERIALS, Materials: "materials", Materials, Takes("[PLA]"), "materials: [PLA, PETG]";
    LOADED, IdOrNone: "loaded", IdOrNone, Takes("none"), "loaded: yellow";
    WARM_UP, Duration: "warm_up", upto("12 h"), Takes("6 min"), "warm_up: 8 min";
    TURNAROUND, Duration: "turnaround", upto("12 h"), Takes("10 min"), "turnaround: 10 min";
    SWAP, Duration: "swap", upto("12 h"), Takes("8 min"), "swap: 8 min";
    PURGE, Number: "purge", number("g", 0.0, 5_000.0), Takes("12"), "purge: 12";
    WATTS, Number: "watts", number("W", 0.0, 50_000.0), Takes("120"), "watts: 130";
    HOURLY, Number: "hourly", money(), Takes("0.40"), "hourly: 0.40";
    SCRAP, Share: "scrap", share(0.0, 0.9), Takes("3%"), "scrap: 3%";
    MACHINE_UNATTENDED, Choice<bool>: "unattended", ALLOWED_OR_FORBIDDEN, Means("the bench's word"), "unattended: forbidden";
    ACCELERATION, Number: "acceleration", number("mm/s²", 1.0, 1e6), Takes("1000"), "acceleration: 1000";
    OFFLINE_FROM, Moment: "from", Moment, Required, "from: 2027-01-20 00:00";
    OFFLINE_TO, Moment: "to", Moment, Required, "to: 2027-01-21 00:00";
    OFFLINE_WHY, Line: "why", line(), Means("no reason"), "why: new bearings";

    // filaments
    MATERIAL, Id: "material", Id, Required, "material: PLA";
    COLOUR, Colour: "colour", Colour, Takes("\"#9e9e9e\""), "colour: \"#e8b10a\"";
    DENSITY, Number: "density", number("g/cm³", 0.2, 10.0), Means("the usual density of the material"), "density: 1.24";
    MODULUS, Number: "modulus", number("N/mm²", 1.0, 1_000_000.0), Means("the usual modulus of the material"), "modulus: 2500";
    DIAMETER, Number: "diameter", number("mm", 0.5, 10.0), Takes("1.75"), "diameter: 1.75";
    PRICE_KG, Number: "price_kg", money(), Takes("20"), "price_kg: 21";
    SPOOLS, Numbers: "spools", Numbers { each: number("g", 20.0, 1e9), most: 500 }, Takes("[]"), "spools: [1000, 430]";
    SPOOL, Number: "spool", number("g", 10.0, 50_000.0), Takes("1000"), "spool: 1000";
    LEAD, Duration: "lead", upto("365 d"), Takes("3 d"), "lead: 4 d";

    // settings
    LAYER, Number: "layer", number("mm", 0.02, 2.0), Takes("0.2"), "layer: 0.3";
    LINE, Number: "line", number("mm", 0.05, 5.0), Takes("0.45"), "line: 0.65";
    PERIMETERS, Whole: "perimeters", whole(1, 100), Takes("2"), "perimeters: 2";
    TOP, Whole: "top", whole(0, 1_000), Takes("4"), "top: 3";
    BOTTOM, Whole: "bottom", whole(0, 1_000), Takes("3"), "bottom: 2";
    INFILL, Share: "infill", share(0.0, 1.0), Takes("15%"), "infill: 5%";
    OVERHANG, Whole: "overhang", Whole { unit: "°", least: 0, most: 90 }, Takes("45"), "overhang: 45";
    SUPPORT, Share: "support", share(0.0, 1.0), Takes("15%"), "support: 15%";

    // joints
    ITEM, Line: "item", line(), Required, "item: \"M8 rod\"";
    GRAMS_PER_MM, Number: "g_per_mm", number("g/mm", 0.0, 100.0), Means("by `section` and `material`, else 0"), "g_per_mm: 0.31";
    ROD_SECTION, Profiles: "section", Profiles, Means("it adds no stiffness"), "section: M8";
    ROD_MATERIAL, Choice<RodMaterial>: "material", ROD_MATERIALS, Means("not known"), "material: steel";
    ROD_MODULUS, Number: "modulus", number("N/mm²", 1.0, 1_000_000.0), Means("that of the `material`"), "modulus: 210000";
    PRICE_PER_MM, Number: "price_per_mm", money(), Takes("0"), "price_per_mm: 0.004";
    LENGTH, Number: "length", number("mm", 1.0, 100_000.0), Required, "length: 160";
    SHORTEST, Number: "shortest", number("mm", 1.0, 100_000.0), Takes("100"), "shortest: 120";
    JOINT_BENCH, Duration: "bench", upto("7 d"), Takes("5 min"), "bench: 6 min";
    JOINT_CURE, Duration: "cure", upto("60 d"), Takes("0 min"), "cure: 8 h";
    JOINT_GRAMS, Number: "grams", number("g", 0.0, 100_000.0), Takes("0"), "grams: 4";

    // parts
    QUANTITY, Whole: "quantity", whole(1, 100_000), Takes("1"), "quantity: 8";
    MODEL, Sides<3>: "model", sides(0.0001, 100_000.0, "the three sides of the model's box, before `scale`"), Means("`size` or `mesh`"), "model: [230, 8, 8]";
    SIZE, Sides<3>: "size", sides(0.1, 100_000.0, "the three sides of its box"), Means("`model` or `mesh` × `scale`"), "size: [1380, 48, 48]";
    MESH, Line: "mesh", Line { longest: 1000 }, Means("`size` or `model`"), "mesh: ../demo-data/jib-chord.stl";
    SOLID, Share: "solid", share(0.0001, 1.0), Takes("1"), "solid: 0.8";
    PART_FILAMENT, Id: "filament", Id, Means("the only filament"), "filament: yellow";
    PART_SETTINGS, Id: "settings", Id, Means("the only settings"), "settings: light";
    LIE, Lie: "lie", Lie, Takes("[any]"), "lie: [any]";
    TURN, TurnStep: "turn", TurnStep, Takes("90"), "turn: 45";
    SPLIT_JOINT, Id: "joint", Id, Required, "joint: steel-rod";
    SPLIT_INTO, Range: "into", Range { least: 2, most: 100 }, Required, "into: 2..6";
    PART_BELT, Choice<bool>: "belt", ALLOWED_OR_NEVER, Takes("allowed"), "belt: allowed";
    FINISHING, Duration: "finishing", upto("7 d"), Takes("0 min"), "finishing: 4 min";
    SPARES, Extra: "spares", Extra { most: 100_000 }, Takes("0"), "spares: auto";
    TRIAL, Whole: "trial", whole(0, 100_000), Takes("0"), "trial: 0";
    VARIANT_NAME, Id: "name", Id, Required, "name: tight";
    VARIANT_OFFSET, Number: "offset", number("mm", -5.0, 5.0), Required, "offset: -0.1";
    ALONE, Choice<bool>: "alone", TRUE_OR_FALSE, Takes("false"), "alone: false";
    READY, Moment: "ready", Moment, Means("the build's start"), "ready: 2027-01-13 18:00";
    MEASURED_MINUTES, Minute: "tall", Minute { least: 0.1, most: 100_000.0 }, Means("the estimate"), "tall: 340";
    GCODE, Line: "tall", Line { longest: 500 }, Means("the estimate"), "tall: chord-tall.gcode";
    ONLY, Ids: "only", Ids, Takes("[]"), "only: [tall]";
    SPAN_LENGTH, Number: "mm", number("mm", 1.0, 100_000.0), Means("the part's longest side"), "mm: 1380";
    SPAN_LOAD, Number: "load_g", number("g", 0.0, 1e6), Takes("0"), "load_g: 400";
    SPAN_ENDS, Choice<Ends>: "ends", ENDS, Takes("simple"), "ends: simple";
    SPAN_LIMIT, Number: "sag_limit", number("mm", 0.001, 10_000.0), Means("a 250th of the span"), "sag_limit: 4";
    SPAN_DOWN, Choice<Axis>: "down", AN_AXIS, Means("the way it sags more"), "down: z";
    PART_GRAMS, Number: "grams", number("g", 0.001, 1e6), Means("the estimate"), "grams: 195";

    // measured
    MEASURED_PART, Id: "part", Id, Required, "part: jib-chord";
    MEASURED_MACHINE, Id: "machine", Id, Required, "machine: tall";
    MEASURED_GRAMS, Number: "grams", number("g", 0.001, 1e6), Means("not weighed"), "grams: 195";
    MEASURED_TIME, Minute: "minutes", Minute { least: 0.1, most: 100_000.0 }, Means("not timed"), "minutes: 340";
    MEASURED_PIECES, Whole: "pieces", whole(1, 1_000), Takes("1"), "pieces: 4";
    MEASURED_LENGTHS, Whole: "lengths", whole(1, 100), Takes("1"), "lengths: 3";
    MEASURED_UPRIGHT, Choice<Axis>: "upright", X_Y_OR_Z, Means("the quickest that `lie` allows"), "upright: z";
    MEASURED_DATE, Moment: "date", Moment, Means("no date"), "date: 2027-01-14";
    MEASURED_NOTE, Line: "note", line(), Means("no note"), "note: new nozzle";

    // assemblies
    TAKEN, Whole: "jib-chord", whole(1, 100_000), Means("none of it"), "jib-chord: 8";
    NEEDS, Ids: "needs", Ids, Takes("[]"), "needs: [pivot]";
    WORK, Duration: "bench", upto("60 d"), Takes("0 min"), "bench: 6 h";
    CURE, Duration: "cure", upto("60 d"), Takes("0 min"), "cure: 12 h";
    PLACES, Points: "jib-chord", Points { each: number("mm", -100_000.0, 100_000.0), most: 10_000 }, Means("not known"), "jib-chord: [[0, 0, 40], [0, 0, -40]]";
    LIFT_REACH, Number: "reach_cm", number("cm", 0.0, 300.0), Required, "reach_cm: 50";
    LIFT_FROM, Number: "from_cm", number("cm", 0.0, 300.0), Required, "from_cm: 75";
    LIFT_TO, Number: "to_cm", number("cm", 0.0, 300.0), Required, "to_cm: 120";
    LIFT_TURN, Number: "turn", number("degrees", 0.0, 180.0), Takes("0"), "turn: 30";
    LIFT_GRIP, Choice<Grip>: "grip", GRIPS, Takes("fair"), "grip: fair";
    DUE, Moment: "due", Moment, Means("no date"), "due: 2027-02-06 18:00";
    LATE, Number: "late", money(), Takes("10"), "late: 40";
}

#[cfg(test)]
trait Visit {
    fn row<K: super::kinds::Kind>(&mut self, constant: &str, row: &Row<K>);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::collector::{Collector, FileIndex};
    use crate::scenario::entry::read_value;
    use crate::scenario::kinds::Kind;
    use crate::scenario::tree::{self, Value};

    /// Whether a row takes a value as written; with the complaints if not.
    fn takes<K: Kind>(row: &Row<K>, written: &str) -> Result<(), String> {
        let mut collector = Collector::default();
        let file: FileIndex = collector.add_file("row", written.into());
        let node = tree::parse(written, file).map_err(|error| error.rule)?;
        match read_value(&node, row, row.name, &mut collector) {
            Some(_) if !collector.has_errors() => Ok(()),
            Some(_) => Err("complained, and read all the same".to_owned()),
            None => Err(collector.finish().to_string()),
        }
    }

    struct Examples(usize);

    impl Visit for Examples {
        fn row<K: Kind>(&mut self, constant: &str, row: &Row<K>) {
            let mut collector = Collector::default();
            let file = collector.add_file("row", row.example.into());
            let node = tree::parse(row.example, file).unwrap();
            let Value::Map(pairs) = node.value else {
                panic!("{constant}: the example is no `key: value`");
            };
            assert_eq!(pairs.len(), 1, "{constant}");
            assert_eq!(pairs[0].0.name, row.name, "{constant}");
            let read = read_value(&pairs[0].1, row, row.name, &mut collector);
            assert!(read.is_some(), "{constant}: {}", collector.finish());
            self.0 += 1;
        }
    }

    #[test]
    fn every_example_is_right() {
        let mut examples = Examples(0);
        each(&mut examples);
        assert!(examples.0 > 80, "the walk visits the whole table");
    }

    struct Defaults;

    impl Visit for Defaults {
        fn row<K: Kind>(&mut self, constant: &str, row: &Row<K>) {
            match row.absent {
                Takes(default) => assert_eq!(takes(row, default), Ok(()), "{constant}"),
                Means(meaning) => assert!(!meaning.is_empty(), "{constant}"),
                Required => {}
            }
        }
    }

    #[test]
    fn every_default_is_within_its_limits() {
        each(&mut Defaults);
    }

    struct Outside;

    impl Visit for Outside {
        fn row<K: Kind>(&mut self, constant: &str, row: &Row<K>) {
            let outside = row.kind.outside();
            assert!(!outside.is_empty(), "{constant} has no limit");
            for written in outside {
                assert!(takes(row, &written).is_err(), "{constant} takes {written}");
            }
            assert!(
                !row.kind.rule().is_empty(),
                "{constant} does not say its limit"
            );
        }
    }

    #[test]
    fn every_field_refuses_what_is_just_outside_its_limits() {
        each(&mut Outside);
    }

    struct Silence;

    impl Visit for Silence {
        fn row<K: Kind>(&mut self, constant: &str, row: &Row<K>) {
            let complaint = takes(row, "~").unwrap_err();
            assert!(complaint.contains(row.example), "{constant}: {complaint}");
        }
    }

    #[test]
    fn every_field_without_a_value_is_refused_with_its_example() {
        each(&mut Silence);
    }

    /// The guide's tables of fields.
    const GUIDE: &str = include_str!("../../README.md");

    /// The guide's short words for rules that many fields share.
    const SHORT: [(&str, &str); 3] = [
        (
            "a date, year-month-day, with or without a time of day, in the years 2000 to 2100",
            "moment",
        ),
        ("a duration, 0 min to ", "duration, at most "),
        ("0 to 1000000000", "money"),
    ];

    struct Guide;

    impl Visit for Guide {
        fn row<K: Kind>(&mut self, constant: &str, row: &Row<K>) {
            let mut rule = row.kind.rule().replace(", in s, min, h or d", "");
            for (long, short) in SHORT {
                if rule.starts_with(long) {
                    rule = rule.replacen(long, short, 1);
                }
            }
            let absent = match row.absent {
                Takes(default) => format!("`{default}`"),
                Means(meaning) => meaning.to_owned(),
                Required => "**required**".to_owned(),
            };
            let begin = format!("| `{}` | {rule} | {absent} | ", row.name);
            let said = |line: &str| {
                line.strip_prefix(&begin)
                    .map(|rest| rest.len() > "x |".len())
            };
            assert!(
                GUIDE.lines().filter_map(said).any(|said| said),
                "{constant}: the guide has no line `{begin}… |`"
            );
        }
    }

    #[test]
    fn every_field_stands_in_the_guide_with_its_limits_and_its_default() {
        each(&mut Guide);
        let most = format!(
            "{MOST_MACHINES} machines; {MOST_KINDS} filaments, settings or joints; {MOST_PARTS} parts with {MOST_COPIES} \
             copies together; {MOST_ASSEMBLIES} assemblies; {MOST_MEASURED} measurements; {MOST_OUTAGES} spans out of use of one machine; dates within \
             {MOST_YEARS} years"
        );
        assert!(GUIDE.contains(&most), "the guide does not say: {most}");
    }
}
