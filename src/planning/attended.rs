//! Queues in which no spool ends with nobody there, as far as another setup, a smaller plate or a later start avoids it.
//!
//! Knows: dated sheets, what spools runs get, bench hours. Must not know: moves, how spools are allotted, reports.
//! Promises: every step leaves fewer ends with nobody there, so it ends; what comes out is left alone when asked again, but
//! for the work's limit; lateness costs no more for it; runs at the heads of sheets that must stay are not touched.
//!
//! The search takes spools to be full when they go on, and does not mind single pieces that no spool lasts for. Here the runs that would stop are taken in the order of time, and of what mends one the cheapest is done:
//! a setup before a belt run that has none, at which a fuller spool goes on; two runs for one, the first no heavier than a
//! spool; a later start, so that somebody is there when the spool ends.

use std::collections::BTreeSet;

use crate::calendar::Minute;
use crate::plan::SpoolNote;
use crate::scenario::{FilamentIndex, MachineIndex};
use crate::search::dating::{LONGEST_PUT_OFF, NO_SETUP};
use crate::search::edit::Edit;
use crate::search::fitter::Fitter;
use crate::search::plate::Load;
use crate::search::shop::Shop;
use crate::search::snapshot::Snapshot;
use crate::search::state::State;
use crate::stock::{self, Provision, Use};
use crate::units::Grams;

use super::finish::Ground;

/// Runs that are provided for, in all tries together: a workshop's queue is mended as far as can be, that of a farm of
/// thousands of runs in a second or so, as far as it goes.
const WORK: usize = 400_000;

/// Sums of lateness that differ by less are equal.
const SAME: f64 = 1e-6;

/// What may keep a run from stopping.
enum Remedy {
    /// It is set up, no earlier than a minute.
    Hold(Minute),
    /// What is on it becomes two runs, one after the other.
    Divide(Vec<Load>, Vec<Load>),
}

/// A queue with fewer ends of spools with nobody there, and the shop with the runs that it holds; `None` if there is none.
pub fn attend(ground: &Ground, queue: &Snapshot) -> Option<(Shop, Snapshot)> {
    if ground.scenario.build.spool_margin <= 0.0 {
        return None;
    }
    let mut mending = Mending {
        ground,
        shop: ground.shop.clone(),
        state: queue.restore(ground.shop, &mut Fitter::default()),
        fitter: Fitter::default(),
        work: WORK,
    };
    let mut known = mending.provided();
    if known.alone == 0 || known.short {
        return None;
    }
    let mut changed = false;
    let mut tried = BTreeSet::new();
    while let Some((machine, run)) = mending.first_stop(&known, &tried) {
        match mending.mend(&known, machine, run) {
            Some(better) => {
                known = better;
                changed = true;
                tried.clear();
            }
            None => {
                tried.insert((machine, run));
            }
        }
        if mending.work == 0 {
            break;
        }
    }
    changed.then(|| (mending.shop, Snapshot::of(&mending.state)))
}

/// A queue that is being mended.
struct Mending<'a> {
    ground: &'a Ground<'a>,
    shop: Shop,
    state: State,
    fitter: Fitter,
    /// Runs that may still be provided for.
    work: usize,
}

/// What spools the runs of a queue get.
struct Provided {
    /// By machine and place on its sheet.
    notes: Vec<Vec<SpoolNote>>,
    /// Ends with nobody there.
    alone: usize,
    /// Whether some run has no spool at all.
    short: bool,
}

impl Mending<'_> {
    fn provided(&mut self) -> Provided {
        let uses = uses(&self.shop, self.ground, &self.state);
        self.work = self.work.saturating_sub(uses.len().max(1));
        let Provision { notes, short, .. } = stock::provide(
            self.ground.scenario,
            self.ground.on_hand,
            &self.shop.calendar,
            &uses,
        );
        let alone = notes.iter().map(|note| note.alone().count()).sum();
        let mut all = notes.into_iter();
        let sheets = self.state.sheets.iter();
        Provided {
            notes: sheets
                .map(|sheet| all.by_ref().take(sheet.len()).collect())
                .collect(),
            alone,
            short: short.is_some(),
        }
    }

    /// The first run that stops, as far as it may be touched and was not tried in vain.
    fn first_stop(
        &self,
        known: &Provided,
        tried: &BTreeSet<(usize, usize)>,
    ) -> Option<(usize, usize)> {
        let runs = known.notes.iter().enumerate().flat_map(|(machine, notes)| {
            let firm = self.shop.calm.firm(machine);
            let stops = notes.iter().enumerate().skip(firm);
            stops
                .filter(|(_, note)| note.alone().next().is_some())
                .map(move |(run, _)| (machine, run))
        });
        runs.filter(|stop| !tried.contains(stop))
            .min_by_key(|&(machine, run)| (self.state.dates(machine)[run].start, machine))
    }

    /// Does what keeps a run from stopping at the least cost; what spools there are then, or `None` if nothing does.
    fn mend(&mut self, known: &Provided, machine: usize, run: usize) -> Option<Provided> {
        let mut best: Option<(f64, Remedy)> = None;
        let late = self.state.late();
        for remedy in self.remedies(known, machine, run) {
            let holds = self.shop.holds.clone();
            let mut edit = Edit::default();
            if let Some(cost) = self.propose(&remedy, machine, run, &mut edit) {
                // Rather somebody comes at night than a stage is late.
                let in_time = cost.is_finite() && self.state.late() <= late + SAME;
                let then = self.provided();
                let mends = in_time && then.alone < known.alone && !then.short;
                if mends && best.as_ref().is_none_or(|(least, _)| cost < *least) {
                    best = Some((cost, remedy));
                }
                self.shop.holds = holds;
                self.state.take_back(&self.shop, &mut edit);
            } else {
                self.shop.holds = holds;
                for plate in edit.fresh.drain(..) {
                    self.state.plates.release(plate);
                }
            }
        }
        let (_, remedy) = best?;
        let mut edit = Edit::default();
        // It was possible a moment ago, in the same queue.
        self.propose(&remedy, machine, run, &mut edit)?;
        self.state.keep(&mut edit);
        Some(self.provided())
    }

    fn remedies(&self, known: &Provided, machine: usize, run: usize) -> Vec<Remedy> {
        let mut remedies = Vec::new();
        let date = self.state.dates(machine)[run];
        if date.window == NO_SETUP {
            remedies.push(Remedy::Hold(0));
        }
        let note = &known.notes[machine][run];
        remedies.extend(self.divisions(note, machine, run));
        remedies.extend(self.later(note, machine, run).map(Remedy::Hold));
        remedies
    }

    /// Two runs of a plate, the first with what a spool covers: a new one, the largest that is there, what the present one
    /// printed before it ended.
    fn divisions(&self, note: &SpoolNote, machine: usize, run: usize) -> Vec<Remedy> {
        let scenario = self.ground.scenario;
        let plate = self.state.sheets[machine][run];
        let filament = self.state.plates.hot(plate).filament as usize;
        let date = self.state.dates(machine)[run];
        let grams = self.state.plates.milligrams(plate, machine) as f64 / 1000.0;
        let first_end = note.alone().next().map_or(0.0, |end| {
            let elapsed = self.shop.calendar.minute(end.at) - date.start;
            grams * f64::from(elapsed) / f64::from((date.end - date.start).max(1))
        });
        let held = self.ground.on_hand.spools[filament].iter();
        let largest = held.map(|held| held.grams.0).fold(0.0, f64::max);
        let covers = |spool: f64| {
            let purged = scenario.machines[machine].purge.0;
            spool - purged - stock::margin(scenario, spool)
        };
        let mut most = vec![
            covers(scenario.filaments[filament].spool.0),
            covers(largest),
            first_end,
        ];
        most.sort_by(f64::total_cmp);
        most.dedup();
        let loads = self.state.plates.get(plate).loads.to_vec();
        let backward: Vec<Load> = loads.iter().rev().copied().collect();
        let mut divisions: Vec<(Vec<Load>, Vec<Load>)> = Vec::new();
        for most in most {
            for loads in [&loads, &backward] {
                let (first, rest) = self.divided(loads, machine, most);
                if !first.is_empty() && !rest.is_empty() && !divisions.iter().any(|d| d.0 == first)
                {
                    divisions.push((first, rest));
                }
            }
        }
        divisions
            .into_iter()
            .map(|(first, rest)| Remedy::Divide(first, rest))
            .collect()
    }

    /// Pieces up to so many grams, in the order of the loads, and the others.
    fn divided(&self, loads: &[Load], machine: usize, most: f64) -> (Vec<Load>, Vec<Load>) {
        let (mut first, mut rest) = (Vec::new(), Vec::new());
        let mut left = most;
        for load in loads {
            let ways = self.shop.ways(load.item, machine).iter();
            let each = ways.map(|way| way.grams).fold(0.0, f64::max);
            let fit = (left / each.max(1e-9)).clamp(0.0, f64::from(load.count)) as u32;
            left -= f64::from(fit) * each;
            for (list, count) in [(&mut first, fit), (&mut rest, load.count - fit)] {
                if count > 0 {
                    list.push(Load {
                        item: load.item,
                        count,
                    });
                }
            }
        }
        (first, rest)
    }

    /// The first minute from which on a run may be set up so that all its spools' ends fall into bench hours.
    fn later(&self, note: &SpoolNote, machine: usize, run: usize) -> Option<Minute> {
        let calendar = &self.shop.calendar;
        let m = &self.shop.machines[machine];
        let date = self.state.dates(machine)[run];
        let plate = self.state.sheets[machine][run];
        let changes = self.state.plates.hot(plate).filament
            != match run.checked_sub(1) {
                Some(before) => {
                    self.state
                        .plates
                        .hot(self.state.sheets[machine][before])
                        .filament
                }
                None => m.loaded,
            };
        let need = m.turnaround + if changes { m.swap } else { 0 };
        let ends: Vec<Minute> = note
            .ends
            .iter()
            .map(|end| calendar.minute(end.at) - date.start)
            .collect();
        let attended = |minute: Minute| calendar.next_presence(minute) == Some(minute);
        let from = date.setup + 1;
        (from..from + LONGEST_PUT_OFF).find(|&setup| {
            let window = calendar.windows().get(calendar.window_at_or_after(setup));
            let inside = window.is_some_and(|w| w.open <= setup && setup + need <= w.close);
            inside && ends.iter().all(|end| attended(setup + need + end))
        })
    }

    /// Puts a remedy into the queue as a proposal, and its cost; `None` if it cannot be laid out: then nothing is proposed.
    fn propose(
        &mut self,
        remedy: &Remedy,
        machine: usize,
        run: usize,
        edit: &mut Edit,
    ) -> Option<f64> {
        let old = self.state.sheets[machine][run];
        let loads = self.state.plates.get(old).loads.clone();
        let belt = self.shop.machines[machine].belt;
        // A plate of its own, so that the run is dated again.
        let parts: Vec<&[Load]> = match remedy {
            Remedy::Hold(_) => vec![&loads],
            Remedy::Divide(first, rest) => vec![first, rest],
        };
        let mut plates = Vec::new();
        for loads in parts {
            plates.push(
                self.state
                    .make(&self.shop, &mut self.fitter, edit, loads, machine)?,
            );
        }
        match remedy {
            Remedy::Hold(until) => self.shop.holds.hold(machine, run, *until),
            Remedy::Divide(..) => {
                self.shop.holds.make_room(machine, run + 1);
                if belt {
                    self.shop.holds.hold(machine, run + 1, 0);
                }
            }
        }
        edit.gone.push(old);
        edit.sheet(&self.state, machine).splice(run..=run, plates);
        Some(self.state.propose(&self.shop, edit))
    }
}

/// What runs take of their filament, machine by machine in the order of their sheets.
fn uses(shop: &Shop, ground: &Ground, state: &State) -> Vec<Use> {
    let mut uses = Vec::new();
    for machine in 0..state.sheets.len() {
        let mut loaded = shop.machines[machine].loaded;
        for (&plate, date) in state.sheets[machine].iter().zip(state.dates(machine)) {
            let filament = state.plates.hot(plate).filament;
            let at = |minute| shop.calendar.moment(minute);
            uses.push(Use {
                machine: MachineIndex(machine),
                filament: FilamentIndex(filament as usize),
                setup: (date.window != NO_SETUP).then(|| at(date.setup)),
                start: at(date.start),
                end: at(date.end),
                grams: Grams(state.plates.milligrams(plate, machine) as f64 / 1000.0),
                purge: if filament == loaded {
                    Grams::ZERO
                } else {
                    ground.scenario.machines[machine].purge
                },
            });
            loaded = filament;
        }
    }
    uses
}
