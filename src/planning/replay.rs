//! The accepted plan again: its runs as loads of what is left to print, and what of it must stay.
//!
//! Knows: the accepted plan, what is left, the shop. Must not know: moves, costs.
//! Promises: no piece is on two runs, none is asked for that exists; what cannot be found is left out.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::calendar::Minute;
use crate::progress::{Previous, PreviousRun};
use crate::routes::PartRoutes;
use crate::search::calm::{Calm, content};
use crate::search::dating::{Dated, NO_SETUP};
use crate::search::holds::Holds;
use crate::search::plate::Load;
use crate::search::shop::{Item, ItemId, Shop, positions};
use crate::search::snapshot::SavedRun;
use crate::search::supply::milligrams;
use crate::units::{Minutes, Money};

use super::rest::Rest;

/// Runs of the accepted plan that are still to be made.
#[derive(Clone)]
pub struct Replay {
    /// By machine, in time: what lies on each, and its dates as they were.
    pub sheets: Vec<Vec<SavedRun>>,
    /// Runs of which nothing was good, by machine: they are to be printed again, and have no dates any more.
    pub again: Vec<(usize, Arc<[Load]>)>,
    /// Copies by item that these runs make.
    pub copies: Vec<u32>,
    /// Whether they make all that is left, each piece once. Some may be gone, or have fewer pieces than were accepted.
    pub covers: bool,
}

/// What the search minds of the accepted plan.
pub fn calm(shop: &Shop, previous: &Previous, churn: Money) -> Calm {
    // What was scrapped stands nowhere any more.
    let runs = previous.runs.iter().filter(|run| !run.scrapped);
    let runs = runs.map(|run| {
        let pieces = run.pieces.iter().map(|placed| {
            let piece = placed.piece;
            (piece.part.0 as u32, piece.of, 1)
        });
        let start = shop.calendar.minute(run.start);
        (content(pieces), run.machine.0, start)
    });
    Calm::new(churn.0, runs)
}

/// Until when runs are firm; `None`: until the end of the next bench window.
pub fn firm_until(shop: &Shop, firm: Option<Minutes>) -> Minute {
    shop.calendar.firm_until(0, firm)
}

/// The accepted plan's runs as loads.
pub fn replay(shop: &Shop, routes: &[PartRoutes], rest: &Rest, previous: &Previous) -> Replay {
    let there: BTreeSet<(usize, u32, u32)> = rest
        .since
        .pieces
        .iter()
        .map(|one| (one.part.0, one.number, one.length))
        .collect();
    let started: BTreeSet<&str> = rest
        .since
        .running
        .iter()
        .map(|run| run.id.as_str())
        .collect();
    let mut finder = Finder {
        shop,
        routes,
        rest,
        room: shop.classes.iter().map(|class| class.copies).collect(),
        leader_of: BTreeMap::new(),
        copies: vec![0; shop.items.len()],
        used: BTreeSet::new(),
    };
    let mut replay = Replay {
        sheets: vec![Vec::new(); shop.machines.len()],
        again: Vec::new(),
        copies: Vec::new(),
        covers: true,
    };
    let mut runs: Vec<&PreviousRun> = previous.runs.iter().collect();
    // Those that stand take their copies first.
    runs.sort_by_key(|run| (run.scrapped, run.start, run.machine.0));
    for run in runs {
        if started.contains(run.id.as_str()) || run.machine.0 >= shop.machines.len() {
            continue;
        }
        let mut loads: Vec<Load> = Vec::new();
        for placed in &run.pieces {
            let piece = placed.piece;
            if there.contains(&(piece.part.0, piece.number, piece.length)) {
                continue;
            }
            let Some(item) = finder.item(placed) else {
                continue; // wanted no more
            };
            match loads.iter_mut().find(|load| load.item == item) {
                Some(load) => load.count += 1,
                None => loads.push(Load { item, count: 1 }),
            }
        }
        if loads.is_empty() {
            continue;
        }
        loads.sort_unstable();
        if run.scrapped {
            replay.again.push((run.machine.0, loads.into()));
            replay.covers = false;
            continue;
        }
        let before = replay.sheets[run.machine.0].last().map(|run| run.date);
        let date = dated(shop, run, &loads, before);
        replay.sheets[run.machine.0].push(SavedRun {
            loads: loads.into(),
            date,
        });
    }
    // Every piece of every copy that is wanted, and none besides.
    let mut made = vec![0; shop.items.len()];
    for load in replay
        .sheets
        .iter()
        .flatten()
        .flat_map(|run| run.loads.iter())
    {
        made[load.item as usize] += load.count;
    }
    let asked = |id: usize| finder.copies[id] * shop.items[id].each;
    let all = (0..made.len()).all(|id| made[id] == asked(id));
    replay.covers &= all && finder.room.iter().all(|&left| left == 0);
    replay.copies = finder.copies;
    replay
}

/// Of the runs at the heads of sheets those of belts that have a setup for their spool alone stay set up, no earlier than they were.
pub fn holds(shop: &Shop, heads: &[Vec<&SavedRun>]) -> Holds {
    let mut holds = Holds::default();
    let filament =
        |run: &SavedRun| (run.loads.first()).map(|load| shop.items[load.item as usize].filament);
    for (machine, sheet) in heads.iter().enumerate() {
        if !shop.machines[machine].belt {
            continue;
        }
        let mut loaded = Some(shop.machines[machine].loaded);
        for (run, saved) in sheet.iter().enumerate() {
            if saved.date.window != NO_SETUP && filament(saved) == loaded {
                holds.hold(machine, run, saved.date.setup);
            }
            loaded = filament(saved);
        }
    }
    holds
}

/// The dates that a run of the accepted plan had.
fn dated(shop: &Shop, run: &PreviousRun, loads: &[Load], before: Option<Dated>) -> Dated {
    let at = |moment| shop.calendar.minute(moment);
    let machine = run.machine.0;
    let since = match (run.setup, before) {
        (None, Some(before)) => before.chain,
        _ => 0,
    };
    let takes = loads.iter().map(|load| {
        let way = shop.ways(load.item, machine).first();
        i64::from(load.count) * milligrams(way.map_or(0.0, |way| way.grams))
    });
    Dated {
        chain: if shop.machines[machine].belt {
            since + takes.sum::<i64>()
        } else {
            0
        },
        setup: at(run.setup.unwrap_or(run.start)),
        start: at(run.start),
        end: at(run.end),
        window: match run.setup {
            Some(setup) => shop.calendar.window_at_or_after(at(setup)) as u32,
            None => NO_SETUP,
        },
        put_off: false,
    }
}

/// Finds what pieces of the accepted plan are among what is left.
struct Finder<'a> {
    shop: &'a Shop,
    routes: &'a [PartRoutes],
    rest: &'a Rest,
    /// By class: copies not yet found.
    room: Vec<u32>,
    /// By copy: its class's leading item.
    leader_of: BTreeMap<(usize, u32), ItemId>,
    copies: Vec<u32>,
    used: BTreeSet<(usize, u32, u32)>,
}

impl Finder<'_> {
    fn item(&mut self, placed: &crate::progress::Placed) -> Option<ItemId> {
        let piece = placed.piece;
        let key = (piece.part.0, piece.number);
        let leader = match self.leader_of.get(&key) {
            Some(&leader) => leader,
            None => {
                let leader = self.class(placed)?;
                self.leader_of.insert(key, leader);
                let class = self.shop.items[leader as usize].class as usize;
                self.room[class] -= 1;
                for item in self.shop.team(leader) {
                    self.copies[item as usize] += 1;
                }
                leader
            }
        };
        if !self.used.insert((key.0, key.1, piece.length)) {
            return None;
        }
        let class = self.shop.class_of(leader);
        self.shop.team(leader).find(|&id| {
            let Item { form, kind, .. } = self.shop.items[id as usize];
            let form = &self.routes[piece.part.0].forms[form as usize];
            positions(class, &form.kinds[kind as usize].positions).contains(&piece.length)
        })
    }

    /// The leading item of the class that a copy belongs to: its own assembly's, if that still takes copies, or another's.
    fn class(&self, placed: &crate::progress::Placed) -> Option<ItemId> {
        let piece = placed.piece;
        let tried = piece.number <= self.rest.begun.trial_numbers[piece.part.0];
        let fits = |&c: &usize| {
            let class = &self.shop.classes[c];
            let own = match &class.open {
                Some(open) => open.number == piece.number,
                None => true,
            };
            let trial = class.trial.is_none() || class.is_trial == tried;
            class.part as usize == piece.part.0 && self.room[c] > 0 && own && trial
        };
        let leader = |c: usize| {
            let leaders = self.shop.classes[c].items.iter().copied();
            let mut alike = leaders.filter(|&id| self.shop.items[id as usize].lengths == piece.of);
            alike.next()
        };
        let own = |&c: &usize| {
            let class = &self.shop.classes[c];
            let assembly = self.shop.nodes[class.node as usize].assembly;
            (
                class.open.is_some(),
                assembly == placed.assembly.map(|a| a.0 as u32),
            )
        };
        let best = (0..self.shop.classes.len())
            .filter(fits)
            .filter(|&c| leader(c).is_some())
            .max_by_key(|c| (own(c), std::cmp::Reverse(*c)))?;
        leader(best)
    }
}
