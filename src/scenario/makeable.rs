//! Parts that nothing can make, and measurements that nothing bears out, drawn at the place where they are written, together with what else is wrong.
//!
//! Knows: the scenario as written, whom to ask. Must not know: how parts are fitted.
//! Promises: of a part, a machine or a section with a mistake of its own nothing is said: the answer might be another.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use chrono_tz::Tz;

use super::collector::{At, Collector, Spot};
use super::complaint::Complaint;
use super::kinds::Spares;
use super::model::{Hands, PartIndex, Scenario};
use super::raw::{Got, RawPart, RawScenario};
use super::settle;

/// A part that no machine can make.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unmakeable {
    /// Which.
    pub part: PartIndex,
    /// Its box, in words.
    pub size: String,
    /// Why not, machine by machine, and what would help; a line each.
    pub lines: Vec<String>,
}

/// A measurement that is far from what is estimated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubtful {
    /// Its position among the scenario's measurements.
    pub measurement: usize,
    /// `grams`, or else `minutes`.
    pub is_grams: bool,
    /// What was measured, in words.
    pub measured: String,
    /// What is estimated, in words.
    pub estimated: String,
}

/// What is to be said of a scenario by whoever knows routes and estimates.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Judgement {
    /// Parts that nothing can make.
    pub unmakeable: Vec<Unmakeable>,
    /// Measurements to doubt.
    pub doubtful: Vec<Doubtful>,
}

/// Who can say it.
pub type Judge<'j> = &'j dyn Fn(&Scenario) -> Judgement;

/// Sections on which it depends what can be made.
const DECISIVE: [&str; 6] = [
    "machines",
    "filaments",
    "settings",
    "joints",
    "parts_from",
    "build.scale",
];

/// Fields of a part on which it does not depend.
const HARMLESS: [&str; 6] = ["quantity", "spares", "trial", "finishing", "alone", "ready"];

/// Complaints of the parts of a scenario in which all else is right.
pub fn complaints(
    scenario: &Scenario,
    raw: &RawScenario,
    judge: Judge,
    collector: &mut Collector,
) -> Vec<Complaint> {
    let judgement = judge(scenario);
    for doubtful in &judgement.doubtful {
        doubt(doubtful, raw, collector);
    }
    let told = judgement.unmakeable.into_iter().map(|unmakeable| {
        let part = &raw.parts[unmakeable.part.0]; // settled one by one, in this order
        let (rule, fix) = words(&unmakeable);
        collector.drawn(part.spot, &part.path, rule, &unmakeable.size, fix)
    });
    told.collect()
}

/// Warns of a measurement that is most probably a slip: it would correct every estimate of its machine and setting.
fn doubt(doubtful: &Doubtful, raw: &RawScenario, collector: &mut Collector) {
    let one = &raw.measured[doubtful.measurement]; // settled one by one, in this order
    let (name, at) = match doubtful.is_grams {
        true => ("grams", one.grams.as_ref().map(|at| at.spot)),
        false => ("minutes", one.minutes.as_ref().map(|at| at.spot)),
    };
    collector.warn(
        at.unwrap_or(one.spot),
        &format!("{}.{name}", one.path),
        format!("is more than ten times as much as is estimated, or less than a tenth: {}", doubtful.estimated),
        &doubtful.measured,
        "see whether it is of all `pieces` of the run together, in g and min; it corrects the estimates of its machine and setting",
    );
}

/// Adds, to the errors that a scenario has, those of parts that nothing can make, as far as that can be said.
pub fn complain_besides(mut raw: RawScenario, judge: Judge, collector: &mut Collector) {
    let wrong: Vec<String> = collector.wrong_fields().map(str::to_owned).collect();
    let is_wrong = |path: &str| wrong.iter().any(|field| is_within(field, path));
    // An error about no field, or about the parts as a whole, leaves nothing to go by.
    let hopeless = wrong
        .iter()
        .any(|field| field.is_empty() || field == "parts");
    if hopeless || DECISIVE.into_iter().any(is_wrong) {
        return;
    }
    raw.parts.retain(|part| {
        let harmless = HARMLESS.map(|name| format!("{}.{name}", part.path));
        let of_part = |field: &&String| is_within(field, &part.path);
        wrong
            .iter()
            .filter(of_part)
            .all(|field| harmless.contains(field))
    });
    let Some(spot) = raw.parts.first().map(|part| part.spot) else {
        return;
    };
    leave_only_what_fits(&mut raw, spot);
    // A name is not needed: no message names the build.
    let Some(scenario) = settle::settle("", &raw) else {
        return;
    };
    for unmakeable in judge(&scenario).unmakeable {
        let part = &raw.parts[unmakeable.part.0]; // settled one by one, in this order
        let (rule, fix) = words(&unmakeable);
        collector.error(part.spot, &part.path, rule, &unmakeable.size, fix);
    }
}

/// Whether a field is the one of this path, or one in it.
fn is_within(field: &str, path: &str) -> bool {
    let rest = field.strip_prefix(path);
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

fn words(unmakeable: &Unmakeable) -> (&'static str, String) {
    ("no machine can make it", unmakeable.lines.join("\n"))
}

/// Replaces what has no part in what fits where by something that is right.
fn leave_only_what_fits(raw: &mut RawScenario, spot: Spot) {
    raw.assemblies.clear();
    raw.measured.clear();
    raw.build.earlier.clear();
    raw.build.original = None;
    let any_day = NaiveDate::default().and_time(chrono::NaiveTime::MIN);
    raw.build.start = right(any_day, spot);
    raw.build.zone = right(Tz::UTC, spot);
    raw.build.each_day = right(0.0, spot);
    raw.build.spool_margin = right(0.0, spot);
    raw.build.firm = Got::Absent;
    raw.build.churn = right(0.0, spot);
    raw.build.confidence = right(0.95, spot);
    raw.currency = right(String::new(), spot);
    raw.bench.hours = right(Vec::new(), spot);
    raw.bench.away = right(BTreeSet::new(), spot);
    raw.bench.hands = right(Hands::Unlimited, spot);
    raw.bench.unattended = right(true, spot);
    raw.bench.bench_hour = right(0.0, spot);
    raw.bench.energy_kwh = right(0.0, spot);
    raw.parts.iter_mut().for_each(make_harmless);
}

/// The same for a part.
fn make_harmless(part: &mut RawPart) {
    part.quantity = right(1, part.spot);
    part.spares = right(Spares::Count(0), part.spot);
    part.trial = right(0, part.spot);
    part.finishing = right(0.0, part.spot);
    part.alone = right(false, part.spot);
    part.ready = Got::Absent;
}

fn right<T>(value: T, spot: Spot) -> Got<T> {
    Got::Read(At { value, spot })
}
