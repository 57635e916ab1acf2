//! From a scenario and what has been done to the scenario of what is left, with what exists as the search counts it.
//!
//! Knows: progress, scenario, routes, the search's numbers. Must not know: moves, plates, bounds.
//! Promises: what is left asks for every copy that is wanted and neither exists nor prints, once; nothing in it lies before now.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};

use crate::calendar::{Calendar, minute_after};
use crate::plan::{Given, Since, Standing};
use crate::progress::Progress;
use crate::routes::PartRoutes;
use crate::scenario::{AssemblyIndex, MachineIndex, Outage, PartIndex, Scenario};
use crate::search::shop::{Begun, OpenCopy};
use crate::units::{Minutes, Money};

use super::names::Names;
use super::on_plate;

/// What is left of a build.
pub struct Rest {
    /// The scenario of what is left: it starts now.
    pub scenario: Scenario,
    /// What exists, as the search counts it.
    pub begun: Begun,
    /// The same, as the plan says it.
    pub since: Since,
    /// By part: numbers of copies that exist, print, or have gone into a complete assembly.
    pub taken: Vec<BTreeSet<u32>>,
    /// What runs have been called.
    pub names: Names,
}

fn later(moment: DateTime<Utc>, by: Minutes) -> DateTime<Utc> {
    let by = TimeDelta::try_minutes(by.0);
    by.and_then(|by| moment.checked_add_signed(by))
        .unwrap_or(DateTime::<Utc>::MAX_UTC)
}

/// A copy that is begun: its pieces, and the form that it is in.
struct Copy {
    part: usize,
    number: u32,
    of: u32,
    assembly: Option<usize>,
    /// By length: when it is printed.
    printed: BTreeMap<u32, DateTime<Utc>>,
    joined: Option<DateTime<Utc>>,
}

impl Copy {
    fn last(&self) -> DateTime<Utc> {
        let last = self.printed.values().max();
        last.copied().unwrap_or(DateTime::<Utc>::MIN_UTC)
    }

    /// Nothing is left to be done before it can be used.
    fn is_whole(&self) -> bool {
        self.of == 1 || self.joined.is_some()
    }

    /// Whether all its lengths exist or print.
    fn is_printed(&self) -> bool {
        self.is_whole() || self.missing().is_empty()
    }

    /// Whether all its lengths were printed by a moment.
    fn is_there(&self, now: DateTime<Utc>) -> bool {
        self.missing().is_empty() && self.last() <= now
    }

    fn missing(&self) -> Vec<u32> {
        let wanted = 1..=self.of;
        wanted
            .filter(|length| !self.printed.contains_key(length))
            .collect()
    }

    fn ease(&self) -> (bool, usize, u32) {
        let missing = if self.is_whole() {
            0
        } else {
            self.missing().len()
        };
        (!self.is_whole(), missing, self.number)
    }
}

/// The whole scenario as it stands now: it starts now, with what is loaded, out of order, on the shelf and measured.
pub fn as_it_stands(scenario: &Scenario, progress: &Progress) -> Scenario {
    let now = minute_after(progress.now);
    let mut whole = scenario.clone();
    whole.build.start = now;
    whole.measured.extend(progress.measured.iter().cloned());
    for (filament, spools) in whole.filaments.iter_mut().zip(&progress.spools) {
        filament.spools = spools.iter().map(|spool| spool.grams).collect();
    }
    for (machine, state) in whole.machines.iter_mut().zip(&progress.machines) {
        machine.loaded = state.loaded;
    }
    for (machine, outage) in down(progress) {
        whole.machines[machine.0].offline.push(outage);
    }
    for run in &progress.running {
        whole.machines[run.machine.0].loaded = run.filament;
    }
    whole
}

/// Machines that are out of order, and until when.
fn down(progress: &Progress) -> Vec<(MachineIndex, Outage)> {
    let now = minute_after(progress.now);
    let machines = progress.machines.iter().enumerate();
    let down = machines.filter_map(|(machine, state)| {
        let to = state.down_until.filter(|&until| until > now)?;
        let why = "out of order".to_owned();
        Some((MachineIndex(machine), Outage { from: now, to, why }))
    });
    down.collect()
}

/// What is left of a build after what has been done. `scenario` is the whole one [`as_it_stands`], `routes` are its own.
///
/// Pieces go to the assembly that they were printed for as long as that takes them; what is over serves others before more is
/// printed, and is a spare after that. Lengths of which the scenario no longer makes copies are worth nothing.
pub fn rest(scenario: &Scenario, progress: &Progress, routes: &[PartRoutes]) -> Rest {
    let now = minute_after(progress.now);
    let mut left = scenario.clone();
    let mut since = Since {
        now,
        pieces: Vec::new(),
        running: Vec::new(),
        ended: progress.ended.clone(),
        down: down(progress),
        complete: Vec::new(),
        churn: Money::ZERO,
        accepted: progress.previous.is_some(),
        differences: (progress.previous.iter())
            .flat_map(|previous| previous.differences.iter().cloned())
            .collect(),
        kept: None,
        yielded: Vec::new(),
        changes: Vec::new(),
        shifted: 0,
    };
    for run in &progress.running {
        let end = minute_after(run.end).max(now);
        if end > now {
            left.machines[run.machine.0].offline.push(Outage {
                from: now,
                to: end,
                why: format!("run {}", run.id),
            });
        }
        since.running.push(Standing {
            id: run.id.clone(),
            machine: run.machine,
            filament: run.filament,
            start: run.start,
            end,
            overdue: Some(minute_after(run.end)).filter(|&end| end < now),
            stops: run.stops,
            pieces: Vec::new(), // when it is known what each piece is for
        });
    }
    for (a, state) in progress.assemblies.iter().enumerate() {
        if let Some(done) = state.complete {
            let assembly = &mut left.assemblies[a];
            let complete = later(minute_after(done), assembly.cure);
            since.complete.push((AssemblyIndex(a), complete));
            assembly.parts.clear();
            assembly.needs.clear();
            (assembly.bench, assembly.cure) = (Minutes::ZERO, Minutes::ZERO);
            assembly.due = None;
        }
    }
    let calendar = Calendar::new(&left);
    let minute = |at: DateTime<Utc>| calendar.minute_from(at).max(0);
    let mut begun = Begun {
        assemblies: vec![(0, 0.0); scenario.assemblies.len()],
        trial_numbers: vec![0; scenario.parts.len()],
        trials: vec![None; scenario.parts.len()],
        printing: vec![None; scenario.machines.len()],
        ..Begun::default()
    };
    // Where it stops, somebody puts a spool on for it alone: what comes next is set up.
    for run in since.running.iter().filter(|run| run.stops.is_none()) {
        begun.printing[run.machine.0] = Some(minute(run.end));
    }
    for &(assembly, complete) in &since.complete {
        begun.assemblies[assembly.0].0 = minute(complete);
    }
    let done = |a: usize| since.complete.iter().any(|(done, _)| done.0 == a);
    let mut taken = vec![BTreeSet::new(); scenario.parts.len()];
    let mut by_part: BTreeMap<usize, Vec<Copy>> = BTreeMap::new();
    for copy in copies(progress, now) {
        if copy.part < taken.len() {
            by_part.entry(copy.part).or_default().push(copy);
        }
    }
    let mut pieces = Vec::new();
    for p in 0..scenario.parts.len() {
        let part = &scenario.parts[p];
        let form_of = |copy: &Copy| routes[p].forms.iter().position(|f| f.lengths == copy.of);
        let mut copies = by_part.remove(&p).unwrap_or_default();
        copies.sort_by_key(Copy::ease);
        let serves = |copy: &Copy| copy.is_whole() || form_of(copy).is_some();
        copies.retain(|copy| serves(copy) || copy.is_there(now));
        taken[p].extend(copies.iter().map(|copy| copy.number));
        let trial = &progress.trials.get(p).copied().unwrap_or_default();
        let asked = if trial.approved.is_some() {
            0
        } else {
            part.trial
        };
        begun.trial_numbers[p] = asked;
        let trials = copies.iter().filter(|copy| copy.number <= asked);
        begun.trials[p] = trials.clone().map(|copy| minute(copy.last())).max();
        let tried = trials.count() as u32;
        let built_in: Vec<(usize, u32)> = takes(scenario, p).filter(|&(a, _)| done(a)).collect();
        build_in(&mut copies, &built_in, now);
        copies.retain(serves);
        let takes: u32 = takes(scenario, p).map(|(_, n)| n).sum();
        let mut spares = part.copies().saturating_sub(takes);
        let mut wanted: BTreeMap<usize, u32> = BTreeMap::new();
        for (a, n) in self::takes(scenario, p).filter(|&(a, _)| !done(a)) {
            *wanted.entry(a).or_default() += n;
        }
        // First to what they were printed for, then to whatever takes them; and what is whole before what something is missing of, so that
        // a spare stands in for a copy of which a length was lost.
        let (there, begun_only): (Vec<Copy>, Vec<Copy>) =
            copies.into_iter().partition(Copy::is_printed);
        let mut given = Vec::new();
        for copies in [there, begun_only] {
            let mut over = Vec::new();
            for copy in copies {
                let own = copy.assembly.and_then(|a| wanted.get_mut(&a));
                match own.filter(|n| **n > 0) {
                    Some(n) => {
                        *n -= 1;
                        given.push(copy);
                    }
                    None => over.push(copy),
                }
            }
            for mut copy in over {
                let taker = wanted.iter_mut().find(|(_, n)| **n > 0);
                copy.assembly = taker.map(|(&a, n)| {
                    *n -= 1;
                    a
                });
                if copy.assembly.is_none() {
                    spares = spares.saturating_sub(1);
                }
                given.push(copy);
            }
        }
        for (a, assembly) in left.assemblies.iter_mut().enumerate() {
            // A part may stand in an assembly's list only once.
            let n = wanted.get(&a).copied().unwrap_or(0);
            assembly.parts.retain(|(part, _)| part.0 != p || n > 0);
            for entry in assembly.parts.iter_mut().filter(|(part, _)| part.0 == p) {
                entry.1 = n;
            }
        }
        let copies = wanted.values().sum::<u32>() + spares;
        left.parts[p].quantity = copies;
        left.parts[p].spares = 0;
        left.parts[p].trial = asked.saturating_sub(tried).min(copies);
        for copy in given {
            let form = form_of(&copy);
            // Also of a form that is made no more.
            let split = part.split.as_ref();
            let cure = split.map_or(Minutes::ZERO, |split| scenario.joints[split.joint.0].cure);
            let joined = copy.joined.map(|at| later(minute_after(at), cure));
            for (&length, &printed) in &copy.printed {
                pieces.push(Given {
                    part: PartIndex(p),
                    number: copy.number,
                    length,
                    of: copy.of,
                    assembly: copy.assembly.map(AssemblyIndex),
                    printed,
                    joined,
                });
            }
            let missing = copy.missing();
            let is_whole = copy.is_whole();
            if let Some(a) = copy.assembly
                && (is_whole || missing.is_empty())
            {
                begun.assemblies[a].1 += part.finishing.0 * copy.printed.len() as f64;
                if is_whole {
                    let there = minute(copy.last().max(joined.unwrap_or(copy.last())));
                    begun.assemblies[a].0 = there.max(begun.assemblies[a].0);
                }
            }
            if let (false, Some(form)) = (is_whole, form) {
                let open = OpenCopy {
                    part: p,
                    number: copy.number,
                    form,
                    assembly: copy.assembly,
                    printed: minute(copy.last()),
                    missing,
                };
                if open.missing.is_empty() {
                    begun.joins.push(open);
                } else {
                    begun.open.push(open);
                }
            }
        }
    }
    for (a, state) in progress.assemblies.iter().enumerate() {
        if let Some(started) = state.started.filter(|_| state.complete.is_none()) {
            let worked = worked(scenario, minute_after(started), now);
            let bench = &mut left.assemblies[a].bench;
            let own = worked.min(bench.0);
            *bench = Minutes(bench.0 - own);
            let finishing = &mut begun.assemblies[a].1;
            let whole = (*finishing / 60.0) as i64;
            *finishing -= ((worked - own).min(whole) * 60) as f64;
        }
    }
    since.pieces = pieces;
    for (standing, run) in since.running.iter_mut().zip(&progress.running) {
        standing.pieces = on_plate::pieces(scenario, routes, run, standing.end, &since.pieces);
    }
    Rest {
        scenario: left,
        begun,
        since,
        taken,
        names: Names::given(scenario, progress),
    }
}

/// Minutes for which an assembly that was started has been worked on: all bench hours since then are taken to go to it, as nothing else is
/// noted.
fn worked(scenario: &Scenario, started: DateTime<Utc>, now: DateTime<Utc>) -> i64 {
    let mut earlier = scenario.clone();
    earlier.build.start = started;
    let calendar = Calendar::new(&earlier);
    let until = calendar.minute(now);
    let windows = calendar.windows().iter();
    let windows = windows.take_while(|window| window.open < until);
    windows
        .map(|window| i64::from(window.close.min(until) - window.open))
        .sum()
}

/// Takes out what has gone into complete assemblies, each with how many copies it takes: first those that were printed for it, then
/// spares, then others, of what is printed whole. Labels alone would not do: a spare may have stood in for a copy that was lost.
fn build_in(copies: &mut Vec<Copy>, takers: &[(usize, u32)], now: DateTime<Utc>) {
    let mut open = Vec::new();
    for &(assembly, takes) in takers {
        let mut left = takes;
        copies.retain(|copy| {
            let goes = left > 0 && copy.assembly == Some(assembly) && copy.is_there(now);
            left -= u32::from(goes);
            !goes
        });
        open.push(left);
    }
    let mut left: u32 = open.iter().sum();
    for spare in [true, false] {
        copies.retain(|copy| {
            let goes = left > 0 && copy.assembly.is_none() == spare && copy.is_there(now);
            left -= u32::from(goes);
            !goes
        });
    }
}

/// What each assembly takes of a part.
fn takes(scenario: &Scenario, part: usize) -> impl Iterator<Item = (usize, u32)> {
    let assemblies = scenario.assemblies.iter().enumerate();
    assemblies.flat_map(move |(a, assembly)| {
        let of_part = assembly.parts.iter().filter(move |(p, _)| p.0 == part);
        of_part.map(move |&(_, n)| (a, n))
    })
}

/// Copies of which some piece exists or prints. Where pieces of one copy disagree in how many lengths it has, the fewest count.
fn copies(progress: &Progress, now: DateTime<Utc>) -> Vec<Copy> {
    let made = progress.made.iter().map(|made| {
        let joined = made.joined;
        (
            made.piece,
            made.assembly,
            minute_after(made.printed),
            joined,
        )
    });
    let running = progress.running.iter().flat_map(|run| {
        let end = minute_after(run.end).max(now);
        let pieces = run.pieces.iter();
        pieces.map(move |placed| (placed.piece, placed.assembly, end, None))
    });
    let mut copies: BTreeMap<(usize, u32), Copy> = BTreeMap::new();
    for (piece, assembly, printed, joined) in made.chain(running) {
        let key = (piece.part.0, piece.number);
        let new = || Copy {
            part: piece.part.0,
            number: piece.number,
            of: piece.of,
            assembly: assembly.map(|a| a.0),
            printed: BTreeMap::new(),
            joined: None,
        };
        let copy = copies.entry(key).or_insert_with(new);
        if piece.of < copy.of {
            *copy = new();
        }
        if piece.of == copy.of {
            let known = copy.printed.entry(piece.length).or_insert(printed);
            *known = printed.min(*known);
            copy.joined = copy.joined.or(joined);
        }
    }
    copies.into_values().collect()
}
