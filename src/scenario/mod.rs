//! What the user writes: its schema, its reading, its checks. Nothing else parses.
//!
//! Knows: YAML, CSV, the rules a scenario must keep. Must not know: routes, plates, plans.
//! Promises: a [`Scenario`] comes out only when every rule holds; otherwise all complaints come out at once.
//!
//! The flow: `source` loads a text, `tree` (or `table`) makes values of it that know their place, `sections` reads
//! them by the table in `fields` into `raw`, `meshes` measures the bodies that it names, `rules` compare the values with
//! each other, `settle` makes the scenario, and `gcode` measures the programs that it names.

mod change;
mod clock;
mod collector;
mod complaint;
mod entry;
mod farm;
mod fields;
mod finding;
pub mod gcode;
mod kinds;
mod makeable;
mod malformed;
mod measured;
pub mod meshes;
mod model;
mod moment;
mod names;
mod outside;
mod profile;
mod raw;
mod render;
mod reserve;
mod rules;
mod sections;
mod settle;
mod source;
mod stiffness;
mod table;
mod tree;
mod wider;

use std::path::Path;
use std::rc::Rc;

pub use crate::geometry::mesh::{Body, Lying, Slope};
pub use change::Change;
pub use clock::{moment_ahead, moment_by};
pub use complaint::{Complaint, Complaints, Place, Severity};
pub use finding::find;
pub use makeable::{Doubtful, Judge, Judgement, Unmakeable};
pub use measured::*;
pub use meshes::{Cache, MeshShape};
pub use model::*;
pub use names::nearest;
pub use reserve::{Experience, failing};

use collector::{Collector, Spot};
use malformed::Malformed;
use raw::RawPart;
use source::Unreadable;

/// A duration as scenarios write it (`90 s`, `1 h 30 min`); `None` if it is not one. For the command line, which takes the
/// same notation.
pub fn duration(text: &str) -> Option<crate::units::Seconds> {
    kinds::seconds(text)
        .filter(|seconds| seconds.is_finite() && *seconds >= 0.0)
        .map(crate::units::Seconds)
}

/// A scale as `build.scale` takes it; otherwise the limits in words. For the command line, which takes the same.
///
/// # Errors
/// If it is no number within the limits.
pub fn scale(text: &str) -> Result<f64, String> {
    let limit = &fields::SCALE.kind;
    kinds::number(text)
        .filter(|scale| (limit.least..=limit.most).contains(scale))
        .ok_or_else(|| format!("a scale is {}", kinds::Kind::rule(limit)))
}

/// A scenario that was read, and what seemed odd in it.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The scenario; every rule holds.
    pub scenario: Scenario,
    /// What probably was not meant.
    pub warnings: Vec<Complaint>,
    /// Parts that nothing can make, by the judge that was asked; none if none was.
    pub unmakeable: Vec<Complaint>,
    /// Parts whose size is taken as it is, whatever the scale.
    pub taken_as_is: Vec<PartIndex>,
    /// Parts that were measured, but at another scale or with other settings than those asked for.
    pub unmeasured: Vec<PartIndex>,
}

/// Reads a scenario file, the table of parts that it names, and its meshes; nothing is remembered of them.
///
/// # Errors
/// If a file cannot be read or breaks a rule; with every error that it has.
pub fn read(path: &Path) -> Result<Reading, Complaints> {
    read_with(path, &Cache::none())
}

/// As [`read`], with the measures of meshes that `cache` remembers.
///
/// # Errors
/// As [`read`].
pub fn read_with(path: &Path, cache: &Cache) -> Result<Reading, Complaints> {
    read_changed(path, &Change::default(), cache)
}

/// As [`read_with`], at another scale or with other settings than the file says. Measured masses and minutes that hold no
/// longer are left out.
///
/// # Errors
/// As [`read`]; also if there are no such settings, or something breaks a rule only at this scale.
pub fn read_changed(path: &Path, change: &Change, cache: &Cache) -> Result<Reading, Complaints> {
    read_file(path, change, cache, &|_| Judgement::default())
}

/// As [`read_with`], asking also which parts nothing can make: they are complained of together with the other errors, and
/// come out as [`Reading::unmakeable`] where there are none.
///
/// # Errors
/// As [`read`].
pub fn read_judged(path: &Path, cache: &Cache, judge: Judge) -> Result<Reading, Complaints> {
    read_file(path, &Change::default(), cache, judge)
}

/// What the file is called where it is missing.
const A_SCENARIO: &str = "a scenario file";

fn read_file(
    path: &Path,
    change: &Change,
    cache: &Cache,
    judge: Judge,
) -> Result<Reading, Complaints> {
    let name = path.display().to_string();
    let base = path.parent().unwrap_or(Path::new(""));
    match source::load(path, A_SCENARIO) {
        Ok(text) => read_checked(&name, text, base, change, cache, judge),
        Err(unreadable) => Err(refused(&name, unreadable)),
    }
}

/// Reads a scenario from a text; `name` is its file's name in messages, `base_dir` the folder that `parts_from`
/// and `mesh` start from.
///
/// # Errors
/// As [`read`].
pub fn read_text(name: &str, text: &str, base_dir: &Path) -> Result<Reading, Complaints> {
    read_text_changed(name, text, base_dir, &Change::default())
}

/// As [`read_text`], with the changes of [`read_changed`].
///
/// # Errors
/// As [`read_changed`].
pub fn read_text_changed(
    name: &str,
    text: &str,
    base_dir: &Path,
    change: &Change,
) -> Result<Reading, Complaints> {
    match source::check(text.to_owned(), A_SCENARIO) {
        Ok(text) => read_checked(name, text, base_dir, change, &Cache::none(), &|_| {
            Judgement::default()
        }),
        Err(unreadable) => Err(refused(name, unreadable)),
    }
}

fn refused(name: &str, unreadable: Unreadable) -> Complaints {
    let mut collector = Collector::default();
    let file = collector.add_file(name, "".into());
    collector.error(Spot::whole(file), "", unreadable.rule, "", unreadable.fix);
    collector.finish()
}

fn read_checked(
    name: &str,
    text: String,
    base: &Path,
    change: &Change,
    cache: &Cache,
    judge: Judge,
) -> Result<Reading, Complaints> {
    let text: Rc<str> = text.into();
    let mut collector = Collector::default();
    let file = collector.add_file(name, Rc::clone(&text));
    let raw = match tree::parse(&text, file) {
        Ok(root) => sections::scenario(&root, &mut collector, |node, collector| {
            table::parts(node, base, collector)
        }),
        Err(malformed) => {
            let Malformed {
                spot,
                field,
                rule,
                found,
                fix,
            } = malformed;
            collector.error(spot, &field, rule, &found, fix);
            None
        }
    };
    if let Some(mut raw) = raw {
        let unmeasured = change::apply(change, &mut raw, Spot::whole(file), &mut collector);
        let without_folder = |part: &&mut RawPart| part.folder.as_os_str().is_empty();
        for part in raw.parts.iter_mut().filter(without_folder) {
            part.folder = base.to_owned();
        }
        meshes::attach(&mut raw, &mut collector, cache);
        rules::check(&raw, &mut collector);
        let mut settled = settle::settle(name, &raw);
        if let Some(scenario) = &mut settled {
            gcode::measure_all(&raw, base, scenario, &mut collector);
            rules::reserve(&raw, scenario, &mut collector);
        }
        match settled {
            Some(scenario) if !collector.has_errors() => {
                let parts = 0..raw.parts.len();
                let taken_as_is = parts.filter(|&at| change::is_taken_as_is(&raw.parts[at]));
                return Ok(Reading {
                    unmakeable: makeable::complaints(&scenario, &raw, judge, &mut collector),
                    scenario,
                    taken_as_is: taken_as_is.map(PartIndex).collect(),
                    unmeasured: unmeasured.into_iter().map(PartIndex).collect(),
                    warnings: collector.finish().warnings().to_vec(),
                });
            }
            _ => makeable::complain_besides(raw, judge, &mut collector),
        }
    }
    if !collector.has_errors() {
        // Whatever is not settled has been complained of; if ever it has not, no scenario may come out.
        let rule = "the scenario could not be read, and no rule says why";
        let fix = "leave out fields until it reads, and report the last one";
        collector.error(Spot::whole(file), "", rule, "", fix);
    }
    Err(collector.finish())
}
