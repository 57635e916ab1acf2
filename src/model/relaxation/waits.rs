//! What each promise waits for by itself: the machines and the hands that it takes, were nothing else made.
//!
//! Knows: classes, promises, lines above supplies. Must not know: money, other promises.
//! Promises: every plan's completion dates keep these rows; the proof stands above each.

use std::collections::BTreeSet;

use crate::model::linear::{LinearProgram, Sense, Variable};

use super::DAY;
use super::promises::Promise;
use super::supply::Supply;
use super::timing::{Late, Shares, Timing};

/// Lines above a supply that one promise is held to.
const MOST_LINES: usize = 3;

/// Tails by which the work of one promise on one group is told apart.
const MOST_TAILS: usize = 3;

/// More promises on groups than this, and only the shortest tail counts.
const MOST_WITH_TAILS: usize = 300;

/// What an assembly takes of a group or of hands: days, and the least minutes from there to a promise's completion.
struct Share {
    days: Variable,
    tail: i64,
}

/// Writes the rows; `busy` is what all assemblies together take of each group, in minutes.
pub(super) fn write(
    timing: &Timing,
    shares: &[Shares],
    late: &[Late],
    busy: &[Vec<(Variable, f64)>],
    program: &mut LinearProgram,
) {
    let takes = Takes::new(timing, shares, program);
    let groups = timing.shop.groups.len();
    let most_tails = if timing.promises.len() * groups > MOST_WITH_TAILS {
        1
    } else {
        MOST_TAILS
    };
    for (promise, late) in timing.promises.iter().zip(late) {
        let mut wait = Wait {
            timing,
            promise,
            late,
            program,
        };
        let after = timing.build.least_tails(&promise.targets);
        for (group, busy) in busy.iter().enumerate() {
            let parts = takes.of_promise(group, &after);
            wait.for_machines(group, &parts, most_tails);
            if let (true, Some(least)) = (promise.is_end, parts.iter().map(|part| part.tail).min())
            {
                wait.for_everything(group, busy, least);
            }
        }
        if let Some(hands) = timing.hands {
            wait.for_hands(hands, &takes.of_promise(groups, &after));
        }
    }
}

/// By assembly and group, hands last: what it takes.
struct Takes {
    by_assembly: Vec<Vec<Option<Share>>>,
}

impl Takes {
    /// One variable for what an assembly takes of a group keeps the rows of promises short: `takes_bM ≥ Σ_c∈b minutes_cM·X_cM`.
    fn new(timing: &Timing, shares: &[Shares], program: &mut LinearProgram) -> Self {
        let groups = timing.shop.groups.len();
        let empty = || {
            (0..=groups)
                .map(|_| (Vec::new(), i64::MAX))
                .collect::<Vec<(Vec<(Variable, f64)>, i64)>>()
        };
        let mut terms: Vec<_> = timing.build.assemblies.iter().map(|_| empty()).collect();
        for (class, shares) in timing.classes.iter().zip(shares) {
            let pool = &timing.pools[class.pool];
            let joint = pool
                .joints
                .iter()
                .map(|(glue, cure)| glue + cure)
                .min()
                .unwrap_or(0);
            for &(group, share) in shares {
                let Some(rate) = pool.rates[group] else {
                    continue;
                };
                let of = &mut terms[class.assembly];
                of[group].0.push((share, -class.amount * rate.machine));
                of[group].1 = joint.min(of[group].1);
                if rate.hands > 0.0 && timing.hands.is_some() {
                    of[groups].0.push((share, -class.amount * rate.hands));
                }
            }
        }
        let mut sum_up =
            |assembly: &str, group: usize, mut terms: Vec<(Variable, f64)>, tail: i64| {
                let most = terms.iter().map(|(_, factor)| -factor).sum();
                if terms.is_empty() {
                    return None;
                }
                let days = program.variable_known_below(0.0, most);
                terms.push((days, 1.0));
                let name = timing
                    .shop
                    .groups
                    .get(group)
                    .map_or("hands", |group| &group.name);
                program.row(
                    format!("takes[{assembly},{name}]"),
                    terms,
                    Sense::AtLeast,
                    0.0,
                );
                Some(Share { days, tail })
            };
        let by_assembly = timing
            .build
            .assemblies
            .iter()
            .zip(terms)
            .map(|(assembly, by_group)| {
                let by_group = by_group.into_iter().enumerate();
                by_group
                    .map(|(group, (terms, tail))| sum_up(&assembly.id, group, terms, tail))
                    .collect()
            });
        Self {
            by_assembly: by_assembly.collect(),
        }
    }

    /// What a promise takes of a group, where `after` says by assembly how long after its pieces the promise is complete at least.
    fn of_promise(&self, group: usize, after: &[Option<i64>]) -> Vec<Share> {
        let parts = self
            .by_assembly
            .iter()
            .zip(after)
            .filter_map(|(by_group, after)| {
                let part = by_group[group].as_ref()?;
                Some(Share {
                    days: part.days,
                    tail: part.tail.saturating_add((*after)?),
                })
            });
        parts.collect()
    }
}

struct Wait<'a> {
    timing: &'a Timing<'a>,
    promise: &'a Promise,
    late: &'a Late,
    program: &'a mut LinearProgram,
}

impl Wait<'_> {
    /// `slope·T ≥ Σ_b takes_bM − (slope·(due − tail) + offset)` over the assemblies b whose own tail is not shorter, for each line above
    /// the supply of M and some of the tails.
    ///
    /// Proof: what these b take of M is printed at least `tail` before the completion C ≤ due + T; so it fits what M can do by
    /// C − tail, and that is at most slope·(C − tail) + offset.
    fn for_machines(&mut self, group: usize, parts: &[Share], most_tails: usize) {
        let timing = self.timing;
        let group = &timing.shop.groups[group];
        let tails: Vec<i64> = parts
            .iter()
            .map(|part| part.tail)
            .collect::<BTreeSet<i64>>()
            .into_iter()
            .collect();
        for tail in spread(&tails, most_tails) {
            let terms: Vec<(Variable, f64)> = parts
                .iter()
                .filter(|part| part.tail >= tail)
                .map(|part| (part.days, -1.0))
                .collect();
            self.rows(
                &format!("{},{tail}", group.name),
                &terms,
                &group.supply,
                tail,
                0,
            );
        }
    }

    /// The same for the end of the build, where all that M does for assemblies counts with whole runs, layers and changes of filament:
    /// `slope·T ≥ Σ busy_M − (slope·(due − tail) + offset)`, `tail` the shortest of all.
    ///
    /// Proof: as above; every run that holds a piece for an assembly ends at least `tail` before the end, and parts of which copies
    /// are left over do not count.
    fn for_everything(&mut self, group: usize, busy: &[(Variable, f64)], tail: i64) {
        let group = &self.timing.shop.groups[group];
        let terms: Vec<(Variable, f64)> = busy
            .iter()
            .map(|&(work, minutes)| (work, -minutes / DAY))
            .collect();
        self.rows(
            &format!("{},all", group.name),
            &terms,
            &group.supply,
            tail,
            0,
        );
    }

    /// The same for hands: setups of what is printed, gluing and bench work of all that the promise needs.
    fn for_hands(&mut self, supply: &Supply, parts: &[Share]) {
        let closure = self.promise.closure.iter();
        let bench = closure.map(|&a| self.timing.build.hands[a]).sum();
        let terms: Vec<(Variable, f64)> = parts.iter().map(|part| (part.days, -1.0)).collect();
        self.rows("hands", &terms, supply, 0, bench);
    }

    fn rows(
        &mut self,
        name: &str,
        taken: &[(Variable, f64)],
        supply: &Supply,
        tail: i64,
        fixed: i64,
    ) {
        if taken.is_empty() && fixed == 0 {
            return;
        }
        for line in supply.lines(f64::from(self.timing.until), MOST_LINES) {
            let mut terms = taken.to_vec();
            terms.push((self.late.days, line.slope));
            let by_due = line.slope * (f64::from(self.promise.due) - tail as f64) + line.offset;
            let name = format!("waits[{},{name}]", self.promise.name);
            self.program
                .row(name, terms, Sense::AtLeast, (fixed as f64 - by_due) / DAY);
        }
    }
}

/// At most so many of sorted values, the first among them, evenly by position.
fn spread(values: &[i64], most: usize) -> impl Iterator<Item = i64> {
    let step = values.len().div_ceil(most.max(1)).max(1);
    values.iter().copied().step_by(step)
}
