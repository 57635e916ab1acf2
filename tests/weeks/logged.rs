//! A build played through its log on the disk: every deed is noted as the bench notes it, and each plan is made from what the log says.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use beamyard::plan::{Plan, Run};
use beamyard::progress::Progress;
use beamyard::report;
use beamyard::scenario::Scenario;
use beamyard::shoplog::{self, Event, Log, Sample};
use chrono::{DateTime, TimeDelta, Utc};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::moment::all_there;
use crate::went::{REAL, as_it_went};
use crate::{BREAK, FAIL, MEASURE, Played, names_stay, nothing_is_lost, plan};

/// Plannings at most: a build of some thirty runs is complete long before.
const MOST: usize = 40;

/// A deed: when, before which others of that moment, and what.
type Deed = (DateTime<Utc>, u8, Does);

enum Does {
    /// As it stands.
    Note(Event),
    /// A run that came to its end, if it was begun; whether it is good.
    End(Box<Run>, bool),
    /// If its trial copies are there.
    Approve(usize),
    /// If all lengths are there.
    Join(usize, u32),
    /// If all that it takes is there.
    Complete(usize),
    /// If what it waits for is approved.
    Start(Box<Run>),
}

/// A run that prints: when it will really have ended, and how.
struct Printing {
    run: Run,
    end: DateTime<Utc>,
    good: bool,
}

/// The shop between two plans.
struct Bench<'a> {
    shop: &'a Scenario,
    file: &'a Path,
    rng: Pcg64Mcg,
    printing: Vec<Printing>,
    down: BTreeMap<usize, DateTime<Utc>>,
    bought: usize,
    played: Played,
}

pub fn play(shop: &Scenario, seed: u64) -> Played {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut bench = Bench {
        shop,
        file: &folder.path().join("build.log.sqlite"),
        rng: Pcg64Mcg::seed_from_u64(seed),
        printing: Vec::new(),
        down: BTreeMap::new(),
        bought: 0,
        played: Played::default(),
    };
    let mut now = shop.build.start;
    while bench.played.plannings < MOST {
        let (progress, known) = bench.stands(now);
        let states = progress.assemblies.iter();
        if states.into_iter().all(|state| state.complete.is_some()) {
            bench.played.complete = true;
            break;
        }
        let Some(current) = plan(shop, &progress) else {
            panic!("no plan from {now}");
        };
        nothing_is_lost(shop, &progress, &current);
        names_stay(&progress, &current);
        let since = current.since.iter();
        bench.played.yielded += since.map(|since| since.yielded.len()).sum::<usize>();
        bench.played.plannings += 1;
        bench.accept(&current, known, now);
        let left = (current.finish.max(now) - now).num_minutes();
        let share = bench.rng.random_range(0.03..0.2);
        // Once all is printed, nobody plans anew in the middle of an assembly.
        let share = match current.runs.is_empty() && bench.printing.is_empty() {
            true => 1.0,
            false => share,
        };
        let next = now + TimeDelta::minutes((left as f64 * share) as i64 + 30);
        bench.work(&current, next);
        now = next;
    }
    bench.played
}

impl Bench<'_> {
    /// What the log says, read anew from the disk, and how many entries it has.
    fn stands(&self, now: DateTime<Utc>) -> (Progress, usize) {
        let log = Log::read(self.file, self.shop).unwrap_or_else(|trouble| panic!("{trouble}"));
        match log {
            Some(log) => (
                shoplog::progress(self.shop, &log, now).0,
                log.entries().len(),
            ),
            None => (Progress::none(self.shop), 0),
        }
    }

    fn open(&self) -> Log {
        Log::open(self.file, self.shop).unwrap_or_else(|trouble| panic!("{trouble}"))
    }

    /// Follows a plan from here on, and buys what it asks for.
    fn accept(&mut self, plan: &Plan, known: usize, now: DateTime<Utc>) {
        let mut log = self.open();
        let text = report::json(self.shop, plan);
        log.accept(text, shoplog::basis(self.shop), known, now)
            .unwrap_or_else(|trouble| panic!("{trouble}"));
        for order in &plan.orders {
            let filament = &self.shop.filaments[order.filament.0];
            for _ in 0..order.spools {
                self.bought += 1;
                let bought = Event::SpoolBought {
                    spool: format!("bought-{}", self.bought),
                    filament: filament.id.clone(),
                    grams: filament.spool.0,
                    arrives: Some(now + TimeDelta::minutes(filament.lead.0)),
                };
                note(&mut log, bought, now, now);
            }
        }
    }

    /// Notes all that happens until a moment, in the order of time.
    fn work(&mut self, plan: &Plan, next: DateTime<Utc>) {
        let mut deeds = self.deeds(plan, next);
        deeds.sort_by_key(|deed| (deed.0, deed.1));
        let mut log = self.open();
        // Machines on which a run waits in vain for its trial.
        let mut held: BTreeSet<usize> = BTreeSet::new();
        let mut begun: BTreeSet<String> = BTreeSet::new();
        begun.extend(self.printing.iter().map(|one| one.run.id.clone()));
        for (at, _, does) in deeds {
            let there = |log: &Log| shoplog::progress(self.shop, log, at).0;
            match does {
                Does::Note(event) => note(&mut log, event, at, next),
                Does::End(run, good) if begun.contains(&run.id) => {
                    self.played.runs += 1;
                    self.played.failures += usize::from(!good);
                    self.printing.retain(|one| one.run.id != run.id);
                    let ended = ended(&run.id, good);
                    note(&mut log, ended, at, next);
                    if good {
                        self.measure(&mut log, &run, at, next);
                    }
                }
                Does::Approve(part) => {
                    let there = there(&log);
                    let asked = self.shop.parts[part].trial;
                    let made = there.made.iter().map(|made| made.piece);
                    let copies: BTreeSet<u32> = made
                        .filter(|piece| piece.part.0 == part && piece.number <= asked)
                        .map(|piece| piece.number)
                        .collect();
                    if copies.len() as u32 == asked && there.trials[part].approved.is_none() {
                        let part = self.shop.parts[part].id.clone();
                        let variant = None;
                        note(&mut log, Event::Approved { part, variant }, at, next);
                    }
                }
                Does::Join(part, number) => {
                    let there = there(&log);
                    let of_copy = there
                        .made
                        .iter()
                        .filter(|made| (made.piece.part.0, made.piece.number) == (part, number));
                    let lengths: Vec<_> = of_copy.collect();
                    let whole = lengths.first().is_some_and(|one| {
                        one.joined.is_none() && one.piece.of as usize == lengths.len()
                    });
                    if whole {
                        let part = self.shop.parts[part].id.clone();
                        note(&mut log, Event::Joined { part, number }, at, next);
                    }
                }
                Does::Complete(assembly) => {
                    let there = there(&log);
                    let index = beamyard::scenario::AssemblyIndex(assembly);
                    let open = there.assemblies[assembly].complete.is_none();
                    if open && all_there(self.shop, &there, index) {
                        let assembly = self.shop.assemblies[assembly].id.clone();
                        note(&mut log, Event::AssemblyComplete { assembly }, at, next);
                    }
                }
                Does::Start(run) => {
                    let there = there(&log);
                    let mut pieces = run.pieces.iter();
                    let waits = pieces.any(|piece| {
                        let trial = self.shop.parts[piece.part.0].trial;
                        let approved = there.trials[piece.part.0].approved;
                        piece.number > trial && trial > 0 && approved.is_none()
                    });
                    if waits {
                        held.insert(run.machine.0);
                    }
                    if !held.contains(&run.machine.0) {
                        begun.insert(run.id.clone());
                        let run = run.id.clone();
                        note(&mut log, Event::Started { run, spool: None }, at, next);
                    }
                }
                Does::End(..) => {}
            }
        }
        // What was started and has not ended prints on.
        let going = still_printing(&begun, self.printing.drain(..).collect(), next);
        self.printing = going;
        for machine in 0..self.shop.machines.len() {
            let busy = self.printing.iter().any(|one| one.run.machine.0 == machine);
            let breaks = self.rng.random_range(0.0..1.0) < BREAK;
            if breaks && !busy && !self.down.contains_key(&machine) {
                let until = next + TimeDelta::minutes(self.rng.random_range(30..3000));
                self.down.insert(machine, until);
                let down = Event::Down {
                    machine: self.shop.machines[machine].id.clone(),
                    why: String::new(),
                    until: Some(until),
                };
                note(&mut log, down, next, next);
            }
        }
    }

    /// What would happen until a moment, as it really goes.
    fn deeds(&mut self, plan: &Plan, next: DateTime<Utc>) -> Vec<Deed> {
        let busy = self.printing.iter().map(|one| (one.run.machine.0, one.end));
        let went = as_it_went(self.shop, plan, &busy.collect(), &mut self.rng);
        for run in went.runs.iter().filter(|run| run.start <= next) {
            let good = self.rng.random_range(0.0..1.0) >= FAIL;
            self.printing.push(Printing {
                run: run.clone(),
                end: run.end,
                good,
            });
        }
        let mut deeds: Vec<Deed> = Vec::new();
        let starts = went.runs.iter().filter(|run| run.start <= next);
        deeds.extend(starts.map(|run| (run.start, 6, Does::Start(Box::new(run.clone())))));
        for one in self.printing.iter().filter(|one| one.end <= next) {
            let run = Box::new(one.run.clone());
            deeds.push((one.end, 1, Does::End(run, one.good)));
        }
        for trial in &went.trials {
            deeds.push((trial.approved, 3, Does::Approve(trial.part.0)));
        }
        for gluing in &went.gluings {
            let done = gluing.work.last().map_or(gluing.printed, |work| work.to);
            deeds.push((done, 4, Does::Join(gluing.part.0, gluing.number)));
        }
        for dates in &went.assemblies {
            let done = dates.work.last().map_or(dates.start, |work| work.to);
            deeds.push((done, 5, Does::Complete(dates.assembly.0)));
        }
        self.down.retain(|&machine, &mut until| {
            let up = until <= next;
            if up {
                let machine = self.shop.machines[machine].id.clone();
                deeds.push((until, 0, Does::Note(Event::Up { machine })));
            }
            !up
        });
        deeds.retain(|deed| deed.0 <= next);
        deeds
    }

    /// Now and then somebody weighs and times what was on a run.
    fn measure(&mut self, log: &mut Log, run: &Run, at: DateTime<Utc>, next: DateTime<Utc>) {
        let piece = &run.pieces[0];
        let mut pieces = run.pieces.iter();
        let alike = pieces.all(|other| (other.part, other.of) == (piece.part, piece.of));
        if !alike || self.rng.random_range(0.0..1.0) >= MEASURE {
            return;
        }
        self.played.measured += 1;
        let machine = &self.shop.machines[run.machine.0];
        let sample = Sample {
            part: self.shop.parts[piece.part.0].id.clone(),
            machine: machine.id.clone(),
            pieces: run.pieces.len() as u32,
            of: piece.of,
        };
        let weighed = Event::Weighed {
            estimated: None,
            sample: sample.clone(),
            grams: run.grams.0 * self.rng.random_range(REAL[0]..REAL[1]),
        };
        note(log, weighed, at, next);
        let minutes = (run.end - run.start).num_minutes() as f64 - machine.warm_up.0 / 60.0;
        let minutes = minutes.max(1.0);
        note(
            log,
            Event::Timed {
                estimated: None,
                sample,
                minutes,
            },
            at,
            next,
        );
    }
}

/// Those of the runs that were begun and have not come to their end.
fn still_printing(
    begun: &BTreeSet<String>,
    runs: Vec<Printing>,
    next: DateTime<Utc>,
) -> Vec<Printing> {
    let going = runs.into_iter();
    going
        .filter(|one| begun.contains(&one.run.id) && one.end > next)
        .collect()
}

fn ended(run: &str, good: bool) -> Event {
    let run = run.to_owned();
    if good {
        Event::Finished {
            run,
            scrapped: Vec::new(),
            why: String::new(),
            sure: false,
        }
    } else {
        Event::Scrapped {
            run,
            why: "warped".to_owned(),
            grams: None,
        }
    }
}

/// What really happened is never refused.
fn note(log: &mut Log, event: Event, at: DateTime<Utc>, now: DateTime<Utc>) {
    let what = format!("{event:?}");
    log.note(event, at, now)
        .unwrap_or_else(|trouble| panic!("{at}: {what}: {trouble}"));
}
