//! What several rules look at, worked out once: each machine's runs in time, what each run takes, the copies.
//!
//! Knows: the scenario, a plan whose references hold. Must not know: any rule.
//! Promises: nothing here trusts a figure of the plan that can be worked out from others.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::calibration::Factors;
use super::estimate::{self, Estimate};
use super::given::Facts;
use super::presence::{Minute, Span, minute};
use crate::plan::{Given, Piece, Plan, Run, Work};
use crate::progress::Progress;
use crate::scenario::{AssemblyIndex, FilamentIndex, PartIndex, Scenario};

/// The scenario, the plan, and what follows from the two.
pub(super) struct Evidence<'a> {
    pub scenario: &'a Scenario,
    pub plan: &'a Plan,
    /// For each machine, positions of its runs in the plan, in time.
    pub queues: Vec<Vec<usize>>,
    /// What was measured makes of the estimates.
    pub factors: Factors,
    /// For each run of the plan, what it takes.
    pub estimates: Vec<Estimate>,
    /// For each run of the plan, what comes off before it, if its filament is not the one loaded (`Some(None)`: empty).
    pub changes: Vec<Option<Option<FilamentIndex>>>,
    /// The pieces of every copy of every part, as far as the plan prints them.
    pub copies: BTreeMap<(PartIndex, u32), Vec<Printed<'a>>>,
    /// What there is already.
    pub given: Facts,
}

/// One piece and when it is there.
#[derive(Clone, Copy)]
pub(super) struct Printed<'a> {
    pub piece: &'a Piece,
    /// Position of its run in the plan.
    pub run: usize,
    /// End of its run.
    pub end: DateTime<Utc>,
}

impl<'a> Evidence<'a> {
    /// Everything that can be worked out; the plan's references must hold.
    pub fn gather(scenario: &'a Scenario, progress: &Progress, plan: &'a Plan) -> Self {
        let mut queues = vec![Vec::new(); scenario.machines.len()];
        let mut copies: BTreeMap<_, Vec<Printed>> = BTreeMap::new();
        for (at, run) in plan.runs.iter().enumerate() {
            queues[run.machine.0].push(at);
            for piece in &run.pieces {
                copies
                    .entry((piece.part, piece.number))
                    .or_default()
                    .push(Printed {
                        piece,
                        run: at,
                        end: run.end,
                    });
            }
        }
        let mut changes = vec![None; plan.runs.len()];
        for (machine, queue) in scenario.machines.iter().zip(&mut queues) {
            queue.sort_by_key(|&at| (begins(&plan.runs[at]), plan.runs[at].end));
            let mut loaded = machine.loaded;
            for &at in queue.iter() {
                let filament = plan.runs[at].filament;
                if loaded != Some(filament) {
                    changes[at] = Some(loaded);
                    loaded = Some(filament);
                }
            }
        }
        let factors = Factors::new(scenario);
        Self {
            scenario,
            plan,
            queues,
            estimates: plan
                .runs
                .iter()
                .map(|run| estimate::of_run(scenario, &factors, run))
                .collect(),
            changes,
            factors,
            copies,
            given: Facts::gather(scenario, progress, plan),
        }
    }

    /// Everything that is done at the bench besides setups, with the name of the job.
    pub fn jobs(&self) -> impl Iterator<Item = (String, &'a [Work])> + '_ {
        let plan = self.plan;
        let gluings = plan.gluings.iter().map(|gluing| {
            let name = format!("gluing {}", self.copy_name(gluing.part, gluing.number));
            (name, gluing.work.as_slice())
        });
        let assemblies = plan.assemblies.iter().map(|dates| {
            let name = format!("assembling {}", self.assembly_name(dates.assembly));
            (name, dates.work.as_slice())
        });
        let spares = plan.spare_work.iter().map(|spare| {
            let name = format!("finishing spares of {}", self.part_name(spare.part));
            (name, spare.work.as_slice())
        });
        gluings.chain(assemblies).chain(spares)
    }

    /// Pieces of a copy that exist or print.
    pub fn given_of(&self, copy: (PartIndex, u32)) -> &[Given] {
        self.given.pieces.get(&copy).map_or(&[], Vec::as_slice)
    }

    /// The latest moment of any run or bench work.
    pub fn last_moment(&self) -> Minute {
        let standing = self.plan.standing().iter().map(|run| minute(run.end));
        let runs = self.plan.runs.iter().map(|run| minute(run.end));
        let work = self
            .jobs()
            .flat_map(|(_, work)| work.iter().map(|stretch| minute(stretch.to)));
        runs.chain(standing)
            .chain(work)
            .max()
            .unwrap_or_else(|| minute(self.scenario.build.start))
    }

    /// A moment as the bench reads it.
    pub fn shown(&self, moment: DateTime<Utc>) -> String {
        moment
            .with_timezone(&self.scenario.build.zone)
            .format("%Y-%m-%d %H:%M:%S%:z")
            .to_string()
    }

    /// A minute as the bench reads it.
    pub fn shown_minute(&self, minute: Minute) -> String {
        DateTime::from_timestamp(minute.saturating_mul(60), 0)
            .map_or_else(|| format!("minute {minute}"), |at| self.shown(at))
    }

    pub fn part_name(&self, part: PartIndex) -> &'a str {
        &self.scenario.parts[part.0].id
    }

    pub fn assembly_name(&self, assembly: AssemblyIndex) -> &'a str {
        &self.scenario.assemblies[assembly.0].id
    }

    pub fn filament_name(&self, filament: FilamentIndex) -> &'a str {
        &self.scenario.filaments[filament.0].id
    }

    /// A copy by its part and number.
    pub fn copy_name(&self, part: PartIndex, number: u32) -> String {
        format!("{} {number}", self.part_name(part))
    }

    /// A piece by its part, number and length.
    pub fn piece_name(&self, piece: &Piece) -> String {
        let copy = self.copy_name(piece.part, piece.number);
        if piece.of == 1 {
            copy
        } else {
            format!("{copy} (length {} of {})", piece.length, piece.of)
        }
    }
}

/// When a machine is first needed for a run: at its setup, or at its start if it has none.
pub(super) fn begins(run: &Run) -> DateTime<Utc> {
    run.setup.unwrap_or(run.start)
}

/// A stretch of bench work in minutes.
pub(super) fn span(work: &Work) -> Span {
    Span {
        from: minute(work.from),
        to: minute(work.to),
    }
}

/// Minutes of all stretches of a job.
pub(super) fn total(work: &[Work]) -> i64 {
    work.iter().map(|stretch| span(stretch).minutes()).sum()
}
