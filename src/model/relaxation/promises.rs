//! What is charged by the day: stages with a due date, and the end of the build.
//!
//! Knows: assemblies, their earliest and latest dates. Must not know: machines, pieces.
//! Promises: only what costs something when it is late is a promise.

use crate::calendar::{Calendar, Minute};
use crate::scenario::Scenario;

use super::dates::Build;

/// Completion of some assemblies, charged from a date on.
pub(super) struct Promise {
    /// For people.
    pub(super) name: String,
    /// Whether it is the end of the build and not a stage.
    pub(super) is_end: bool,
    /// All of these are complete.
    pub(super) targets: Vec<usize>,
    /// They and all that they need.
    pub(super) closure: Vec<usize>,
    /// From here on days are charged.
    pub(super) due: Minute,
    /// Money per day.
    pub(super) per_day: f64,
    /// No plan is complete sooner.
    pub(super) earliest: Minute,
}

impl Promise {
    /// The first date that can be late: days before it are charged in every plan or in none.
    pub(super) fn from(&self) -> Minute {
        self.due.max(self.earliest)
    }
}

/// Every stage that costs when late, and the end of the build if days cost.
pub(super) fn promises(
    scenario: &Scenario,
    calendar: &Calendar,
    build: &Build,
    earliest: &[Option<Minute>],
) -> Vec<Promise> {
    let promise =
        |name: String, is_end: bool, targets: Vec<usize>, due: Minute, per_day: f64| Promise {
            closure: build.closure(&targets),
            // Where the calendar ends before, there is no plan, and any date holds for all of them.
            earliest: targets
                .iter()
                .filter_map(|&target| earliest[target])
                .max()
                .unwrap_or(0),
            name,
            is_end,
            targets,
            due,
            per_day,
        };
    let mut promises = Vec::new();
    for (a, assembly) in scenario.assemblies.iter().enumerate() {
        let late = assembly.late.value();
        if let (Some(due), true) = (assembly.due, late > 0.0) {
            promises.push(promise(
                assembly.id.clone(),
                false,
                vec![a],
                calendar.minute_from(due),
                late,
            ));
        }
    }
    let each_day = scenario.build.each_day.value();
    if each_day > 0.0 && !scenario.assemblies.is_empty() {
        promises.push(promise(
            "end".into(),
            true,
            (0..scenario.assemblies.len()).collect(),
            0,
            each_day,
        ));
    }
    promises
}
