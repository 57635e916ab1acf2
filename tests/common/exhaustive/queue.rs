//! Every queue of one division of the copies: run after run, of all that could be set up next.

use std::collections::HashMap;
use std::ops::Range;

use beamyard::scenario::{Hands, Scenario};

use super::Cheapest;
use super::bench_work::{self, Job};
use super::clock::{Clock, Minute};
use super::making::{self, Lying};
use super::packing;
use super::wanted::{Division, Wanted};

/// Pieces that are alike: of the same copies, in the same number of lengths.
struct Kind {
    /// Position in [`Wanted::copies`].
    copies: usize,
    lengths: u32,
    count: u32,
    /// For each machine, how a piece can lie on it.
    ways: Vec<Vec<Lying>>,
    /// No piece takes less money than this for plastic and its own seconds.
    least: f64,
}

/// One machine's queue so far.
#[derive(Clone)]
struct Sheet {
    free: Minute,
    loaded: Option<usize>,
    begun: bool,
}

/// A queue so far.
#[derive(Clone)]
struct Queue {
    /// Pieces not yet on it, by kind.
    left: Vec<u32>,
    sheets: Vec<Sheet>,
    setups: Vec<Range<Minute>>,
    /// Kind, end, how many.
    printed: Vec<(usize, Minute, u32)>,
    money: f64,
    /// Machine of the last run.
    last: usize,
    /// Each run in words.
    runs: Vec<String>,
}

/// Minutes and money of the ways to run a plate.
type Runs = Vec<(Minute, f64)>;

/// A search through all queues.
pub struct Walk<'a> {
    shop: &'a Scenario,
    clock: &'a Clock,
    wanted: &'a Wanted,
    kinds: Vec<Kind>,
    hands: Option<usize>,
    /// Bench minutes of each task, finishing included.
    work: Vec<Minute>,
    /// Money that every queue of this division costs.
    base: f64,
    /// Minutes and money of runs: those ways to lie that are not worse in both.
    runs: HashMap<(usize, Vec<u32>), Runs>,
    best: Cheapest,
}

impl<'a> Walk<'a> {
    /// `best` is what has been found already.
    pub fn new(
        shop: &'a Scenario,
        clock: &'a Clock,
        wanted: &'a Wanted,
        division: &Division,
        best: Cheapest,
    ) -> Self {
        let mut kinds = Vec::new();
        let mut finishing = vec![0.0; wanted.tasks.len()];
        let (mut glue, mut hardware) = (0, 0.0);
        for (copies, share) in division.iter().enumerate() {
            let part = &shop.parts[wanted.copies[copies].part];
            for &(count, lengths) in share.iter().filter(|(count, _)| *count > 0) {
                let taker = wanted.copies[copies].taker;
                finishing[taker] += part.finishing.0 * f64::from(count * lengths);
                if let Some(split) = part.split.as_ref().filter(|_| lengths > 1) {
                    let joint = &shop.joints[split.joint.0];
                    glue += glue_minutes(shop, part, lengths) * Minute::from(count);
                    let each = joint
                        .hardware
                        .as_ref()
                        .map_or(0.0, |h| h.price_per_mm.0 * h.length.0);
                    hardware += each * f64::from((lengths - 1) * count);
                }
                let ways: Vec<Vec<Lying>> = (0..shop.machines.len())
                    .map(|machine| making::ways(shop, part, lengths, machine))
                    .collect();
                kinds.push(Kind {
                    copies,
                    lengths,
                    count: count * lengths,
                    least: least(shop, &ways),
                    ways,
                });
            }
        }
        let work: Vec<Minute> = wanted
            .tasks
            .iter()
            .zip(&finishing)
            .map(|(task, &seconds)| {
                let own = task.assembly.map_or(0, |at| shop.assemblies[at].bench.0);
                own + (seconds / 60.0 - 1e-9).ceil() as Minute
            })
            .collect();
        let bench = work.iter().sum::<Minute>() + glue;
        Self {
            base: hardware + bench as f64 / 60.0 * shop.bench.bench_hour.0,
            hands: match shop.bench.hands {
                Hands::Count(count) => Some(count as usize),
                Hands::Unlimited => None,
            },
            runs: HashMap::new(),
            shop,
            clock,
            wanted,
            kinds,
            work,
            best,
        }
    }

    /// Cost of the cheapest queue, if it is cheaper than what had been found.
    pub fn cheapest(mut self) -> Cheapest {
        let queue = Queue {
            left: self.kinds.iter().map(|kind| kind.count).collect(),
            sheets: self
                .shop
                .machines
                .iter()
                .map(|machine| Sheet {
                    free: 0,
                    loaded: machine.loaded.map(|filament| filament.0),
                    begun: false,
                })
                .collect(),
            setups: Vec::new(),
            printed: Vec::new(),
            money: self.base,
            last: 0,
            runs: Vec::new(),
        };
        self.go_on(&queue);
        self.best
    }

    /// Tries every run that could be set up next.
    fn go_on(&mut self, queue: &Queue) {
        if self.least(queue) >= self.best.cost {
            return;
        }
        if queue.left.iter().all(|&left| left == 0) {
            let cost = queue.money + self.end_cost(queue).unwrap_or(f64::INFINITY);
            if cost < self.best.cost {
                self.best = Cheapest {
                    cost,
                    runs: queue.runs.clone(),
                };
            }
            return;
        }
        // With hands to spare for everything and nothing to approve, machines do not wait for each other: then one
        // machine's whole sheet may be written before the next one's.
        let free = self.hands.is_none() && self.wanted.copies.iter().all(|copies| !copies.waits);
        let from = if free { queue.last } else { 0 };
        for plate in self.plates(queue) {
            for machine in from..self.shop.machines.len() {
                for (minutes, money) in self.ways(machine, &plate) {
                    if let Some(next) = self.with_run(queue, machine, &plate, minutes, money) {
                        self.go_on(&next);
                    }
                }
            }
        }
    }

    /// Every plate that the rules allow, from the pieces left; the fullest first.
    fn plates(&self, queue: &Queue) -> Vec<Vec<u32>> {
        let mut plates: Vec<Vec<u32>> = vec![Vec::new()];
        for &left in &queue.left {
            plates = plates
                .iter()
                .flat_map(|head| {
                    (0..=left).map(|count| {
                        let mut longer = head.clone();
                        longer.push(count);
                        longer
                    })
                })
                .collect();
        }
        plates.retain(|plate| self.is_allowed(queue, plate));
        plates.sort_by_key(|plate| std::cmp::Reverse(plate.iter().sum::<u32>()));
        plates
    }

    fn is_allowed(&self, queue: &Queue, plate: &[u32]) -> bool {
        let on: Vec<usize> = (0..plate.len()).filter(|&kind| plate[kind] > 0).collect();
        let Some(&first) = on.first() else {
            return false;
        };
        let part = |kind: usize| {
            let copies = &self.wanted.copies[self.kinds[kind].copies];
            &self.shop.parts[copies.part]
        };
        let pieces: u32 = plate.iter().sum();
        on.iter().all(|&kind| {
            part(kind).filament == part(first).filament
                && part(kind).settings == part(first).settings
                && (!part(kind).alone || pieces == 1)
                && !(self.waits(kind) && self.trial_is_left(queue, kind))
        })
    }

    fn waits(&self, kind: usize) -> bool {
        self.wanted.copies[self.kinds[kind].copies].waits
    }

    /// Trial pieces of the same part.
    fn trial_of(&self, kind: usize) -> impl Iterator<Item = usize> + '_ {
        let part = self.wanted.copies[self.kinds[kind].copies].part;
        (0..self.kinds.len()).filter(move |&other| {
            let copies = &self.wanted.copies[self.kinds[other].copies];
            copies.trial && copies.part == part
        })
    }

    fn trial_is_left(&self, queue: &Queue, kind: usize) -> bool {
        self.trial_of(kind).any(|trial| queue.left[trial] > 0)
    }

    /// Minutes and money of a plate on a machine, for each way to lay it that is not worse in both.
    fn ways(&mut self, machine: usize, plate: &[u32]) -> Vec<(Minute, f64)> {
        let key = (machine, plate.to_vec());
        if let Some(known) = self.runs.get(&key) {
            return known.clone();
        }
        let m = &self.shop.machines[machine];
        let [across, along, _] = making::room(m);
        let mut layouts: Vec<Vec<Lying>> = vec![Vec::new()];
        for (kind, &count) in plate.iter().enumerate() {
            for _ in 0..count {
                layouts = layouts
                    .iter()
                    .flat_map(|head| {
                        self.kinds[kind].ways[machine].iter().map(|&way| {
                            let mut longer = head.clone();
                            longer.push(way);
                            longer
                        })
                    })
                    .collect();
            }
        }
        let mut found: Vec<(Minute, f64)> = Vec::new();
        for layout in layouts {
            let (minutes, money) = making::run(self.shop, machine, &layout);
            let beaten = found.iter().any(|run| run.0 <= minutes && run.1 <= money);
            if !beaten && packing::packs([across, along], m.spacing.0, &layout) {
                found.retain(|run| run.0 < minutes || run.1 < money);
                found.push((minutes, money));
            }
        }
        self.runs.insert(key, found.clone());
        found
    }

    /// The queue with one more run, set up as early as what is on it already allows.
    fn with_run(
        &self,
        queue: &Queue,
        machine: usize,
        plate: &[u32],
        minutes: Minute,
        money: f64,
    ) -> Option<Queue> {
        let m = &self.shop.machines[machine];
        let sheet = &queue.sheets[machine];
        let (mut filament, mut ready, mut approved) = (0, 0, 0);
        for kind in (0..plate.len()).filter(|&kind| plate[kind] > 0) {
            let part = &self.shop.parts[self.wanted.copies[self.kinds[kind].copies].part];
            filament = part.filament.0;
            ready = ready.max(part.ready.map_or(0, |at| self.clock.minute(at)));
            if self.waits(kind) {
                let trial: Vec<usize> = self.trial_of(kind).collect();
                let ends = queue.printed.iter().filter(|p| trial.contains(&p.0));
                let end = ends.map(|p| p.1).max()?;
                approved = approved.max(self.clock.next(end)?);
            }
        }
        let changes = sheet.loaded != Some(filament);
        // A belt goes on without anybody only at once: the minute at which the run before has ended.
        // Nor in the very minute at which a trial that it waits for is approved.
        let looked_at = approved == 0 || sheet.free > approved;
        let at_once = sheet.free >= ready && looked_at && {
            let (start, end) = (sheet.free, sheet.free + minutes);
            let watched = self.clock.until(start) >= end && self.clock.until(start) > start;
            (m.unattended || watched)
                && m.offline.iter().all(|outage| {
                    self.clock.minute(outage.to) <= start || end <= self.clock.minute(outage.from)
                })
        };
        let follows = m.is_belt() && sheet.begun && !changes && at_once;
        let setup = match (follows, changes) {
            (true, _) => 0,
            (false, true) => m.turnaround.0 + m.swap.0,
            (false, false) => m.turnaround.0,
        };
        let fits = |at: Minute| {
            let (start, end) = (at + setup, at + setup + minutes);
            let watched = if m.unattended { setup } else { setup + minutes };
            let there = self.clock.until(at);
            let attended = there > at && there >= at + watched;
            start >= ready
                && (attended || follows && m.unattended)
                && m.offline.iter().all(|outage| {
                    self.clock.minute(outage.to) <= at || end <= self.clock.minute(outage.from)
                })
                && (at..start).all(|minute| {
                    let busy = queue.setups.iter().filter(|s| s.contains(&minute)).count();
                    self.hands.is_none_or(|hands| busy < hands)
                })
        };
        let from = sheet.free.max(approved).max(ready - setup);
        let at = (from..self.clock.end()).find(|&at| fits(at))?;
        let (start, end) = (at + setup, at + setup + minutes);
        let mut next = queue.clone();
        next.sheets[machine] = Sheet {
            free: end,
            loaded: Some(filament),
            begun: true,
        };
        if start > at {
            next.setups.push(at..start);
        }
        next.money += money + setup as f64 / 60.0 * self.shop.bench.bench_hour.0;
        if changes {
            next.money += m.purge.0 / 1000.0 * self.shop.filaments[filament].price_kg.0;
        }
        for (kind, &count) in plate.iter().enumerate().filter(|(_, count)| **count > 0) {
            next.left[kind] -= count;
            next.printed.push((kind, end, count));
        }
        next.last = machine;
        let on = plate
            .iter()
            .zip(&self.kinds)
            .filter(|(count, _)| **count > 0);
        let pieces = on.map(|(count, kind)| {
            let copies = &self.wanted.copies[kind.copies];
            let part = &self.shop.parts[copies.part].id;
            format!(
                "{count} × {part} in {} for task {}",
                kind.lengths, copies.taker
            )
        });
        let pieces: Vec<String> = pieces.collect();
        next.runs.push(format!(
            "{} at {at}, {start} to {end}: {}",
            m.id,
            pieces.join(", ")
        ));
        Some(next)
    }

    /// No queue that begins like this one costs less.
    fn least(&self, queue: &Queue) -> f64 {
        let rest: f64 = self
            .kinds
            .iter()
            .zip(&queue.left)
            .map(|(kind, &left)| kind.least * f64::from(left))
            .sum();
        let mut complete = vec![None; self.wanted.tasks.len()];
        for task in 0..complete.len() {
            self.earliest(queue, task, &mut complete);
        }
        let complete: Vec<Minute> = complete.into_iter().flatten().collect();
        queue.money + rest + self.date_cost(&complete)
    }

    /// When a task is complete at the earliest, all hands being free for it.
    fn earliest(&self, queue: &Queue, task: usize, known: &mut [Option<Minute>]) -> Minute {
        if let Some(at) = known[task] {
            return at;
        }
        let mut from = 0;
        for &(kind, end, _) in &queue.printed {
            if self.wanted.copies[self.kinds[kind].copies].taker == task {
                from = from.max(end);
            }
        }
        for &need in &self.wanted.tasks[task].needs {
            from = from.max(self.earliest(queue, need, known));
        }
        let cure = self.wanted.tasks[task]
            .assembly
            .map_or(0, |at| self.shop.assemblies[at].cure.0);
        let at = from + self.work[task] + cure;
        known[task] = Some(at);
        at
    }

    /// Money of lateness and of the days until the last assembly is complete.
    fn date_cost(&self, complete: &[Minute]) -> f64 {
        let (mut cost, mut finish) = (0.0, 0);
        for (task, &complete) in self.wanted.tasks.iter().zip(complete) {
            let Some(assembly) = task.assembly.map(|at| &self.shop.assemblies[at]) else {
                continue;
            };
            finish = finish.max(complete);
            if let Some(due) = assembly.due {
                let late = (complete - self.clock.minute(due)).max(0);
                cost += late as f64 / 1440.0 * assembly.late.0;
            }
        }
        cost + finish as f64 / 1440.0 * self.shop.build.each_day.0
    }

    /// The same for a whole queue, its bench work dated; `None` if it does not end.
    fn end_cost(&self, queue: &Queue) -> Option<f64> {
        let mut jobs: Vec<Job> = Vec::new();
        let mut glued: Vec<Vec<usize>> = vec![Vec::new(); self.wanted.tasks.len()];
        let mut whole: Vec<Minute> = vec![0; self.wanted.tasks.len()];
        let first_glue = self.wanted.tasks.len();
        let mut glue: Vec<Job> = Vec::new();
        for (at, kind) in self.kinds.iter().enumerate() {
            let copies = &self.wanted.copies[kind.copies];
            let mut ends: Vec<Minute> = Vec::new();
            for &(_, end, count) in queue.printed.iter().filter(|p| p.0 == at) {
                ends.extend((0..count).map(|_| end));
            }
            ends.sort_unstable();
            if kind.lengths == 1 {
                let last = ends.last().copied().unwrap_or(0);
                whole[copies.taker] = whole[copies.taker].max(last);
                continue;
            }
            // Lengths are alike: the first to be there make the first copy.
            let part = &self.shop.parts[copies.part];
            let split = part.split.as_ref().expect("it is made in lengths");
            for lengths in ends.chunks(kind.lengths as usize) {
                glued[copies.taker].push(first_glue + glue.len());
                glue.push(Job {
                    urgency: (2 * self.wanted.tasks[copies.taker].rank, glue.len()),
                    from: lengths.last().copied().unwrap_or(0),
                    after: Vec::new(),
                    work: glue_minutes(self.shop, part, kind.lengths),
                    cure: self.shop.joints[split.joint.0].cure.0,
                });
            }
        }
        for (at, task) in self.wanted.tasks.iter().enumerate() {
            let assembly = task.assembly.map(|at| &self.shop.assemblies[at]);
            jobs.push(Job {
                urgency: (2 * task.rank + 1, 0),
                from: whole[at],
                after: task.needs.iter().chain(&glued[at]).copied().collect(),
                work: self.work[at],
                cure: assembly.map_or(0, |assembly| assembly.cure.0),
            });
        }
        jobs.extend(glue);
        let cured = bench_work::done(self.clock, self.hands, &queue.setups, &jobs)?;
        Some(self.date_cost(&cured[..first_glue]))
    }
}

/// Bench minutes to join one copy.
fn glue_minutes(shop: &Scenario, part: &beamyard::scenario::Part, lengths: u32) -> Minute {
    let bench = part
        .split
        .as_ref()
        .map_or(0.0, |split| shop.joints[split.joint.0].bench.0);
    (bench * f64::from(lengths - 1) / 60.0 - 1e-9).ceil() as Minute
}

/// The least money that a piece takes by itself: plastic, and machine and power for its own seconds.
fn least(shop: &Scenario, ways: &[Vec<Lying>]) -> f64 {
    let mut least = f64::INFINITY;
    for (machine, ways) in shop.machines.iter().zip(ways) {
        let hour = machine.hourly.0 + machine.watts.0 / 1000.0 * shop.bench.energy_kwh.0;
        for way in ways {
            least = least.min(way.plastic + way.seconds / 3600.0 * hour);
        }
    }
    least
}
