//! Firm runs of the accepted plan: each stays where and when it was accepted, unless that is found here to be impossible.
//!
//! Knows: the accepted plan, the scenario as it is now, the new plan. Must not know: how firm runs were kept.
//! Promises: what speaks against a run as it was accepted is found by the rules that every run keeps; of what the plan says of itself
//! only that no spool is free is believed, and that only where others may leave it none that is enough.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};

use super::Faults;
use super::evidence::{Evidence, begins};
use super::presence::{Minute, Presence, minute};
use super::rule::Rule;
use super::{estimate, plates, runs};
use crate::plan::{Piece, Run, SpoolNote};
use crate::progress::{Placed, PreviousRun, Progress};
use crate::routes::RouteKind;
use crate::scenario::{Hands, Machine, PartIndex, SettingsIndex};
use crate::units::{Grams, Minutes};

/// Grams that rounding may lose where runs are added up, and a spool of so few is not counted on.
const TAKEN: f64 = 0.02;
const LEAST: f64 = 10.0;

/// [`Rule::Firm`].
pub(super) fn check(
    evidence: &Evidence,
    progress: &Progress,
    presence: &Presence,
    faults: &mut Faults,
) {
    let said = evidence.plan.since.as_ref();
    let said = |id: &String| said.is_some_and(|since| since.yielded.contains(id));
    for run in but_moved(evidence, progress, presence) {
        faults.require(said(&run.id), Rule::Firm, || {
            format!(
                "run {} was to start on {} at {} and could, but does not",
                run.id,
                evidence.scenario.machines[run.machine.0].id,
                evidence.shown(run.start)
            )
        });
    }
}

/// Firm runs, as they were accepted, that are otherwise in the plan though nothing is found that speaks against them.
pub(super) fn but_moved(evidence: &Evidence, progress: &Progress, presence: &Presence) -> Vec<Run> {
    let previous = progress.previous.iter();
    let now = minute(evidence.scenario.build.start);
    let until = match evidence.scenario.build.firm {
        Some(firm) => now.saturating_add(firm.value()),
        None => {
            let next = presence.next(now);
            let window = next.and_then(|at| presence.holding(at, at.saturating_add(1)));
            window.map_or(now, |window| window.to)
        }
    };
    let mut firm: Vec<&PreviousRun> = previous.flat_map(|previous| &previous.runs).collect();
    // What was scrapped has no time of its own any more, and is in the way of none that has.
    firm.retain(|run| {
        !run.scrapped && minute(run.start) <= until && run.machine.0 < evidence.queues.len()
    });
    firm.sort_by_key(|run| (run.start, run.machine));
    let mut wanted = Wanted::of(evidence, progress);
    let whole: Vec<bool> = firm.iter().map(|run| wanted.take(run)).collect();
    let found = found(evidence, &firm, &whole);
    let firm = firm.into_iter().zip(found);
    let firm: Vec<Held> = firm
        .map(|(run, found)| Held::of(evidence, presence, run, found))
        .collect();
    let stays = |(at, held): &(usize, &Held)| {
        if !whole[*at] || !held.lies(evidence) {
            return true;
        }
        let may_go = || {
            held.is_held_up(evidence, presence, &firm[..*at])
                || held.lacks_filament(evidence, &firm)
                || held.needs_a_spool(evidence)
                || held.waits_for_trial(evidence)
                || held.lacks_hands(evidence, &firm)
        };
        held.stays(evidence) || may_go()
    };
    let held = firm.iter().enumerate();
    let moved = held.filter(|held| !stays(held));
    moved.map(|(_, held)| held.run.clone()).collect()
}

/// Copies that are still to be printed, and those of them that firm runs have been given.
struct Wanted {
    /// By part, and whether they are of its trial: copies of which nothing exists.
    fresh: BTreeMap<(PartIndex, bool), BTreeSet<u32>>,
    /// Copies of which some lengths exist.
    begun: BTreeSet<(PartIndex, u32)>,
    /// Pieces that exist or print: part, copy, length.
    there: BTreeSet<(PartIndex, u32, u32)>,
    /// By part: its copies up to this number are its trial.
    trial: Vec<u32>,
    /// As `fresh`: copies of the accepted plan.
    taken: BTreeMap<(PartIndex, bool), BTreeSet<u32>>,
}

impl Wanted {
    fn of(evidence: &Evidence, progress: &Progress) -> Self {
        let made = progress.made.iter().map(|made| made.piece);
        let printing = progress.running.iter().flat_map(|run| &run.pieces);
        let there = made.chain(printing.map(|placed| placed.piece));
        let mut wanted = Self {
            fresh: BTreeMap::new(),
            begun: BTreeSet::new(),
            there: there.map(|p| (p.part, p.number, p.length)).collect(),
            trial: evidence.given.trial.clone(),
            taken: BTreeMap::new(),
        };
        for &(part, number) in evidence.copies.keys() {
            if evidence.given_of((part, number)).is_empty() {
                let kind = wanted.kind(part, number);
                wanted.fresh.entry(kind).or_default().insert(number);
            } else {
                wanted.begun.insert((part, number));
            }
        }
        wanted
    }

    fn kind(&self, part: PartIndex, number: u32) -> (PartIndex, bool) {
        let trial = self.trial.get(part.0).copied().unwrap_or(0);
        (part, number <= trial)
    }

    /// Whether all pieces of a run are still to be printed, besides those of the runs that asked before; then it has them.
    fn take(&mut self, run: &PreviousRun) -> bool {
        let mut taken = self.taken.clone();
        for Placed { piece, .. } in &run.pieces {
            let (part, number) = (piece.part, piece.number);
            if self.there.contains(&(part, number, piece.length)) {
                return false;
            }
            if self.begun.contains(&(part, number)) {
                continue;
            }
            let kind = self.kind(part, number);
            let copies = taken.entry(kind).or_default();
            copies.insert(number);
            if copies.len() > self.fresh.get(&kind).map_or(0, BTreeSet::len) {
                return false;
            }
        }
        self.taken = taken;
        true
    }
}

/// Which run of the plan each firm run is: one on its machine with the same pieces, that starts when it was to if there is one, else the
/// first that is none of the others. Of a run some of whose pieces are wanted no more, one with some of those that are.
fn found(evidence: &Evidence, firm: &[&PreviousRun], whole: &[bool]) -> Vec<Option<usize>> {
    let plan = &evidence.plan.runs;
    let mut found = vec![None; firm.len()];
    let mut free: BTreeSet<usize> = (0..plan.len()).collect();
    let contents: Vec<_> = plan.iter().map(|run| content(&run.pieces)).collect();
    for round in 0..3 {
        for (at, run) in firm.iter().enumerate() {
            if found[at].is_some() || whole[at] == (round == 2) {
                continue;
            }
            let pieces = run.pieces.iter().map(|placed| placed.piece);
            let mut what: Vec<_> = pieces.map(|piece| (piece.part, piece.of)).collect();
            what.sort_unstable();
            let is = |other: usize| match round {
                0 => contents[other] == what && minute(plan[other].start) == minute(run.start),
                1 => contents[other] == what,
                _ => contents[other].iter().all(|kind| what.contains(kind)),
            };
            let queue = evidence.queues[run.machine.0].iter().copied();
            found[at] = queue
                .filter(|other| free.contains(other))
                .find(|&other| is(other));
            if let Some(other) = found[at] {
                free.remove(&other);
            }
        }
    }
    found
}

/// A firm run.
struct Held {
    /// As it would be in the plan: where and when it was accepted, with what it takes now.
    run: Run,
    /// Copies, as they were numbered when it was accepted.
    numbers: Vec<(PartIndex, u32)>,
    /// What it takes of its filament, a colour change included.
    grams: f64,
    /// The run of the plan that it is.
    found: Option<usize>,
}

impl Held {
    fn of(
        evidence: &Evidence,
        presence: &Presence,
        accepted: &PreviousRun,
        found: Option<usize>,
    ) -> Self {
        let scenario = evidence.scenario;
        let index = accepted.machine.0;
        let machine = &scenario.machines[index];
        let start = minute(accepted.start);
        let pieces = accepted.pieces.iter();
        let pieces: Vec<Piece> = pieces
            .map(|placed| piece(evidence, placed, machine))
            .collect();
        let queue = evidence.queues[index].iter();
        let mut runs = queue.map(|&at| (at, &evidence.plan.runs[at]));
        let before = runs.rfind(|(at, run)| minute(run.start) < start && Some(*at) != found);
        let before = before.map(|(_, run)| run);
        let changes =
            before.map_or(machine.loaded, |run| Some(run.filament)) != Some(accepted.filament);
        let free = before.map(|run| minute(run.end));
        let free = free.max(evidence.given.busy.get(&index).copied());
        let stands = before.is_none() && evidence.given.stopping.contains(&index);
        let follows = machine.is_belt() && !changes && !stands && free == Some(start);
        let mut need = machine.turnaround.value();
        need += if changes { machine.swap.value() } else { 0 };
        let part = pieces.first().map(|piece| piece.part.0);
        let settings = part.map_or(SettingsIndex(0), |part| scenario.parts[part].settings);
        let mut run = Run {
            id: accepted.id.clone(),
            machine: accepted.machine,
            filament: accepted.filament,
            settings,
            swap_from: None,
            setup: (!follows).then(|| moved(accepted.start, -need)),
            start: accepted.start,
            end: accepted.start,
            minutes: Minutes::ZERO,
            alone: false,
            grams: Grams::ZERO,
            pieces,
            spool: SpoolNote::default(),
            waits: None,
            put_off: false,
        };
        let takes = estimate::of_run(scenario, &evidence.factors, &run);
        (run.minutes, run.grams) = (takes.minutes, takes.grams);
        run.end = moved(run.start, takes.minutes.value());
        run.alone = presence.holding(start, minute(run.end)).is_none();
        let purge = if changes { machine.purge.value() } else { 0.0 };
        let numbered = accepted.pieces.iter().map(|placed| placed.piece);
        Self {
            grams: takes.grams.value() + purge,
            numbers: numbered.map(|piece| (piece.part, piece.number)).collect(),
            found,
            run,
        }
    }

    /// Whether it may lie on its machine as it was accepted.
    fn lies(&self, evidence: &Evidence) -> bool {
        let mut faults = Faults::default();
        plates::check_run(evidence, &self.run, &mut faults);
        faults.0.is_empty()
    }

    fn stays(&self, evidence: &Evidence) -> bool {
        let start = minute(self.run.start);
        let found = self.found.map(|at| &evidence.plan.runs[at]);
        found.is_some_and(|run| minute(run.start) == start)
    }

    /// Whether now, what prints, an outage, the bench hours or its parts' files are in its way, or a firm run that was accepted
    /// before it on its machine, and is late or takes longer.
    fn is_held_up(&self, evidence: &Evidence, presence: &Presence, earlier: &[Held]) -> bool {
        let run = &self.run;
        let machine = &evidence.scenario.machines[run.machine.0];
        let busy = evidence.given.busy.get(&run.machine.0).copied();
        let mut faults = Faults::default();
        runs::check_time(evidence, presence, machine, run, busy, &mut faults);
        let mut earlier = earlier
            .iter()
            .filter(|held| held.run.machine == run.machine);
        !faults.0.is_empty()
            || begins(run) < evidence.scenario.build.start
            || earlier.any(|held| {
                let found = held.found.map(|at| &evidence.plan.runs[at]);
                found.is_some_and(|found| found.end > begins(run))
            })
    }

    /// Whether all firm runs together take more of its filament than there is when it was to begin; or it is said to wait, and the spools
    /// that others leave it are not surely enough.
    fn lacks_filament(&self, evidence: &Evidence, firm: &[Held]) -> bool {
        let (run, given) = (&self.run, &evidence.given);
        let filament = run.filament;
        let at = minute(begins(run));
        let ordered = given.ordered_there(evidence.scenario, filament.0);
        if ordered.is_none_or(|ordered| ordered <= at) {
            return false;
        }
        let there = given.spools[filament.0].iter();
        let there = there.filter(|spool| spool.grams > LEAST && spool.from.is_none_or(|f| f <= at));
        let sum: f64 = there.clone().map(|spool| spool.grams).sum();
        let alike = firm.iter().filter(|held| held.run.filament == filament);
        let taken: f64 = alike.map(|held| held.grams).sum();
        let waits = self.found.and_then(|at| evidence.plan.runs[at].waits);
        taken + TAKEN > sum
            || (waits.is_some_and(|comes| minute(comes) > at)
                && self.may_find_none(evidence, there.map(|spool| (spool.grams, spool.on))))
    }

    /// Whether of these spools, each with its grams and the machine that it is on, none may be left for it: other machines that print with its
    /// filament while it was to print have one each, the largest if it comes to the worst, and of what is left not even the largest is
    /// enough for all that the plan prints of it.
    fn may_find_none(
        &self,
        evidence: &Evidence,
        spools: impl Iterator<Item = (f64, Option<usize>)>,
    ) -> bool {
        let run = &self.run;
        let machine = run.machine.0;
        let printed = evidence.plan.runs.iter().zip(&evidence.estimates);
        let alike = printed.filter(|(other, _)| other.filament == run.filament);
        let all: f64 = alike.clone().map(|(_, takes)| takes.grams.value()).sum();
        let beside = alike.filter(|(other, _)| {
            other.machine.0 != machine && begins(other) < run.end && begins(run) < other.end
        });
        let beside: BTreeSet<usize> = beside.map(|(other, _)| other.machine.0).collect();
        let mut left: Vec<f64> = spools
            .filter(|(_, on)| on.is_none_or(|on| on == machine || beside.contains(&on)))
            .map(|(grams, _)| grams)
            .collect();
        left.sort_by(|a, b| b.total_cmp(a));
        let most = left.get(beside.len()).copied().unwrap_or(0.0);
        all > most - LEAST
    }

    /// Whether it would follow another without a setup, and the spool that went on at the last one does not cover it as well.
    fn needs_a_spool(&self, evidence: &Evidence) -> bool {
        let (scenario, run) = (evidence.scenario, &self.run);
        if run.setup.is_some() {
            return false;
        }
        let queue = evidence.queues[run.machine.0].iter();
        let mut left = 1.0 / (1.0 + scenario.build.spool_margin);
        let spool = scenario.filaments[run.filament.0].spool.value();
        left = left * spool - self.grams;
        for &at in queue
            .rev()
            .filter(|&&at| evidence.plan.runs[at].start < run.start)
        {
            left -= evidence.estimates[at].grams.value();
            if evidence.plan.runs[at].setup.is_some() {
                break;
            }
        }
        left < 0.0
    }

    /// Whether copies are on it that wait for a trial which is approved only later.
    fn waits_for_trial(&self, evidence: &Evidence) -> bool {
        let mut waiting = self.numbers.iter().filter(|(part, number)| {
            let trial = evidence.given.trial[part.0];
            trial > 0 && *number > trial
        });
        waiting.any(|(part, _)| {
            let trial = evidence
                .plan
                .trials
                .iter()
                .find(|trial| trial.part == *part);
            trial.is_some_and(|trial| match self.run.setup {
                Some(setup) => trial.approved > setup,
                None => trial.approved >= self.run.start,
            })
        })
    }

    /// Whether setups of other firm runs, which are late themselves, take the hands when it was to be set up.
    fn lacks_hands(&self, evidence: &Evidence, firm: &[Held]) -> bool {
        let Hands::Count(hands) = evidence.scenario.bench.hands else {
            return false;
        };
        let Some(setup) = self.run.setup else {
            return false;
        };
        let others: BTreeSet<usize> = firm.iter().filter_map(|held| held.found).collect();
        let others = others.into_iter().filter(|&at| Some(at) != self.found);
        let overlaps = others.filter(|&at| {
            let other = &evidence.plan.runs[at];
            let from = other.setup.unwrap_or(other.start);
            from < self.run.start && setup < other.start
        });
        overlaps.count() >= hands as usize
    }
}

/// Pieces by part and by the lengths of their copy.
fn content(pieces: &[Piece]) -> Vec<(PartIndex, u32)> {
    let mut content: Vec<_> = pieces.iter().map(|piece| (piece.part, piece.of)).collect();
    content.sort_unstable();
    content
}

fn moved(at: DateTime<Utc>, minutes: Minute) -> DateTime<Utc> {
    let by = TimeDelta::try_minutes(minutes);
    by.and_then(|by| at.checked_add_signed(by)).unwrap_or(at)
}

/// A piece of the accepted plan as one of a plan, with the name of its route that is right for it.
fn piece(evidence: &Evidence, placed: &Placed, machine: &Machine) -> Piece {
    let name = placed.piece;
    let part = &evidence.scenario.parts[name.part.0];
    let body = part.mesh().and_then(|mesh| mesh.body(name.of, name.length));
    let outline = body.map(|body| {
        let lying = &body.lying[placed.upright as usize].outline;
        Arc::new(if placed.over {
            lying.mirrored()
        } else {
            lying.clone()
        })
    });
    let mut piece = Piece {
        part: name.part,
        number: name.number,
        length: name.length,
        of: name.of,
        assembly: placed.assembly,
        route: RouteKind::Whole,
        x: placed.at[0],
        y: placed.at[1],
        turn: placed.turn,
        size: placed.size,
        upright: placed.upright,
        over: placed.over,
        outline,
    };
    piece.route = plates::route(&piece, machine);
    piece
}
