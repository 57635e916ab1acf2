//! What is asked of accepted plans that are followed no longer: names, stages, runs that were started.
//!
//! Knows: accepted plans. Must not know: events, scenarios.
//! Promises: it grows with the names and runs that there were, not with the number of plans.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::accepted::{Accepted, PlannedAssembly, PlannedRun};
use super::state::RunKey;

/// Accepted plans that are followed no longer.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Past {
    /// Names of their runs.
    pub runs: BTreeSet<String>,
    /// Machines in them, each with the highest number of a run on it.
    pub machines: BTreeMap<String, u32>,
    /// Parts in them.
    pub parts: BTreeSet<String>,
    /// Their assemblies, each as the last plan with a date for it has it; where none has one, as any.
    pub assemblies: BTreeMap<String, PlannedAssembly>,
    /// Runs of them that were started.
    #[serde(with = "pairs")]
    pub started: BTreeMap<RunKey, PlannedRun>,
}

impl Past {
    /// Another plan is followed than this one, the runs at these positions of which were started.
    pub(super) fn take_in(&mut self, number: usize, plan: &Accepted, started: &[usize]) {
        for run in &plan.runs {
            self.runs.insert(run.id.clone());
            let last = self.machines.entry(run.machine.clone()).or_default();
            *last = run.number().max(*last);
            for piece in &run.pieces {
                if !self.parts.contains(piece.part()) {
                    self.parts.insert(piece.part().to_owned());
                }
            }
        }
        for assembly in &plan.assemblies {
            let known = self.assemblies.get(&assembly.id);
            if assembly.due.is_some() || known.is_none() {
                self.assemblies
                    .insert(assembly.id.clone(), assembly.clone());
            }
        }
        let runs = started.iter().filter_map(|&at| {
            let run = plan.runs.get(at)?;
            Some(((number, at), run.clone()))
        });
        self.started.extend(runs);
    }
}

/// Maps as lists of pairs, since in JSON only texts are keys.
pub(super) mod pairs {
    use std::collections::BTreeMap;

    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub fn serialize<K: Serialize, V: Serialize, S: Serializer>(
        map: &BTreeMap<K, V>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        to.collect_seq(map)
    }

    pub fn deserialize<'de, K, V, D>(from: D) -> Result<BTreeMap<K, V>, D::Error>
    where
        K: Deserialize<'de> + Ord,
        V: Deserialize<'de>,
        D: Deserializer<'de>,
    {
        let pairs = Vec::<(K, V)>::deserialize(from)?;
        Ok(pairs.into_iter().collect())
    }
}
