//! What the user writes: its schema, its reading, its checks. Nothing else parses.
//!
//! Knows: YAML, CSV, the rules a scenario must keep. Must not know: routes, plates, plans.
//! Promises: a [`Scenario`] comes out only when every rule holds; otherwise all complaints come out at once.
//!
//! The flow: `source` loads a text, `tree` (or `table`) makes values of it that know their place, `sections` reads
//! them by the table in `fields` into `raw`, `meshes` measures what it names, `rules` compare the values with each other, `settle` makes the scenario.

mod collector;
mod complaint;
mod entry;
mod fields;
mod kinds;
pub mod meshes;
mod model;
mod moment;
mod names;
mod raw;
mod render;
mod rules;
mod sections;
mod settle;
mod source;
mod table;
mod tree;

use std::path::Path;
use std::rc::Rc;

pub use crate::geometry::mesh::{Body, Lying, Slope};
pub use complaint::{Complaint, Complaints, Place, Severity};
pub use meshes::{Cache, MeshShape};
pub use model::*;

use collector::{Collector, Spot};
use source::Unreadable;

/// A duration as scenarios write it (`90 s`, `1 h 30 min`); `None` if it is not one. For the command line, which takes the
/// same notation.
pub fn duration(text: &str) -> Option<crate::units::Seconds> {
    kinds::seconds(text)
        .filter(|seconds| seconds.is_finite() && *seconds >= 0.0)
        .map(crate::units::Seconds)
}

/// A scenario that was read, and what seemed odd in it.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The scenario; every rule holds.
    pub scenario: Scenario,
    /// What probably was not meant.
    pub warnings: Vec<Complaint>,
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
    let name = path.display().to_string();
    match source::load(path) {
        Ok(text) => read_checked(&name, text, path.parent().unwrap_or(Path::new("")), cache),
        Err(unreadable) => Err(refused(&name, unreadable)),
    }
}

/// Reads a scenario from a text; `name` is its file's name in messages, `base_dir` the folder that `parts_from`
/// and `mesh` start from.
///
/// # Errors
/// As [`read`].
pub fn read_text(name: &str, text: &str, base_dir: &Path) -> Result<Reading, Complaints> {
    match source::check(text.to_owned()) {
        Ok(text) => read_checked(name, text, base_dir, &Cache::none()),
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
    cache: &Cache,
) -> Result<Reading, Complaints> {
    let text: Rc<str> = text.into();
    let mut collector = Collector::default();
    let file = collector.add_file(name, Rc::clone(&text));
    let scenario = match tree::parse(&text, file) {
        Ok(root) => sections::scenario(&root, &mut collector, |node, collector| {
            table::parts(node, base, collector)
        })
        .and_then(|mut raw| {
            for part in raw
                .parts
                .iter_mut()
                .filter(|part| part.folder.as_os_str().is_empty())
            {
                part.folder = base.to_owned();
            }
            meshes::attach(&mut raw, &mut collector, cache);
            rules::check(&raw, &mut collector);
            settle::settle(name, &raw)
        }),
        Err(malformed) => {
            collector.error(malformed.spot, "", malformed.rule, "", malformed.fix);
            None
        }
    };
    match scenario {
        Some(scenario) if !collector.has_errors() => Ok(Reading {
            scenario,
            warnings: collector.finish().warnings().to_vec(),
        }),
        _ => {
            if !collector.has_errors() {
                // Whatever is not settled has been complained of; if ever it has not, no scenario may come out.
                let rule = "the scenario could not be read, and no rule says why";
                let fix = "leave out fields until it reads, and report the last one";
                collector.error(Spot::whole(file), "", rule, "", fix);
            }
            Err(collector.finish())
        }
    }
}
