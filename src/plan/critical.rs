//! What the end of the build waits for: the critical path, from a run through assemblies to the last one.
//!
//! Knows: a finished plan's dates. Must not know: how they were found, what they cost.
//! Promises: each link waited for the one before it and for nothing later; a plan without assemblies has none.

use chrono::{DateTime, Utc};

use crate::scenario::{AssemblyIndex, Scenario};

use super::{AssemblyDates, Gluing, Run};

/// The chain of waits that ends with the build.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CriticalPath {
    /// The run whose pieces the first assembly of the chain waited for, by position; `None` where it waited for none.
    pub run: Option<usize>,
    /// Whether these pieces had to be joined and cure first.
    pub joined: bool,
    /// Assemblies, each needing the one before; the last ends the build.
    pub assemblies: Vec<AssemblyIndex>,
}

/// The critical path of dated runs, gluing and assemblies (in the scenario's order); `None` without an assembly.
///
/// Of several things waited for to the same minute, a needed assembly counts before pieces, and the first of each.
pub fn critical_path(
    scenario: &Scenario,
    runs: &[Run],
    gluings: &[Gluing],
    dates: &[AssemblyDates],
) -> Option<CriticalPath> {
    let complete = |a: &AssemblyIndex| dates.get(a.0).map(|d| d.complete);
    let mut at = dates
        .iter()
        .map(|d| (d.complete, std::cmp::Reverse(d.assembly.0)))
        .max()
        .map(|(_, first)| AssemblyIndex(first.0))?;
    let mut assemblies = vec![at];
    loop {
        let needs = &scenario.assemblies.get(at.0)?.needs;
        let need = needs
            .iter()
            .filter_map(|a| complete(a).map(|when| (when, std::cmp::Reverse(a.0))))
            .max();
        let printed = last_run(runs, at);
        let glued = gluings
            .iter()
            .filter(|gluing| gluing.assembly == Some(at))
            .map(|gluing| (gluing.ready, gluing.printed))
            .max();
        let pieces: Option<DateTime<Utc>> =
            printed.map(|(end, _)| glued.map_or(end, |(ready, _)| end.max(ready)));
        match need {
            // Validation refuses rings, so this ends.
            Some((when, first)) if pieces.is_none_or(|pieces| when >= pieces) => {
                at = AssemblyIndex(first.0);
                assemblies.push(at);
            }
            _ => {
                assemblies.reverse();
                let joined = glued.filter(|glued| Some(glued.0) == pieces);
                let run = match joined {
                    Some((_, end)) => runs.iter().position(|run| {
                        run.end == end && run.pieces.iter().any(|p| p.assembly == Some(at))
                    }),
                    None => printed.map(|(_, run)| run),
                };
                return Some(CriticalPath {
                    run,
                    joined: joined.is_some(),
                    assemblies,
                });
            }
        }
    }
}

/// The run that ends last of those with pieces of an assembly, and its end.
fn last_run(runs: &[Run], assembly: AssemblyIndex) -> Option<(DateTime<Utc>, usize)> {
    runs.iter()
        .enumerate()
        .filter(|(_, run)| run.pieces.iter().any(|p| p.assembly == Some(assembly)))
        .map(|(at, run)| (run.end, std::cmp::Reverse(at)))
        .max()
        .map(|(end, at)| (end, at.0))
}
