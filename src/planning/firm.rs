//! Runs of the accepted plan that are firm: the queue in which they stand as accepted, and what the search must leave alone of it.
//!
//! Knows: the accepted plan's runs as loads, the shop. Must not know: moves, costs, words.
//! Promises: a run is let go only where it cannot begin while it is firm: its filament comes later, or its machine or its trial
//! holds it up until after that. What is let go comes after what is firm.

use crate::calendar::Minute;
use crate::search::construct::{extend, missing};
use crate::search::dating::{Dated, NO_SETUP};
use crate::search::fitter::Fitter;
use crate::search::holds::Holds;
use crate::search::plate::{Load, PlateId};
use crate::search::shop::{ItemId, Shop};
use crate::search::snapshot::{SavedRun, Snapshot};
use crate::search::state::State;

use super::replay::{Replay, holds};

/// The queue that a search goes on from: firm runs as accepted at the heads of their sheets, and all else behind them. `None` if that
/// cannot be dated; then nothing is held.
///
/// What may not be changed of it is left in [`Shop::calm`].
pub fn hold(shop: &mut Shop, mut again: Replay, until: Minute) -> Option<Snapshot> {
    lost_first(shop, &mut again, until);
    let mut sheets = again.sheets;
    loop {
        shop.calm.firm.clear();
        shop.calm.latest.clear();
        shop.holds = Holds::default();
        let state = extend(shop, &mut Fitter::default(), &sheets, &again.copies);
        let placed = state.map(|state| (heads(&state, &sheets, until), state));
        let dated = placed.and_then(|(heads, mut state)| {
            let runs: Vec<Vec<&SavedRun>> = (sheets.iter().zip(&heads))
                .map(|(sheet, head)| head.iter().map(|&run| &sheet[run]).collect())
                .collect();
            let starts = |head: &Vec<&SavedRun>| head.iter().map(|run| run.date.start).collect();
            shop.calm.firm = runs.iter().map(starts).collect();
            shop.holds = holds(shop, &runs);
            state.redate(shop).is_finite().then_some((heads, state))
        });
        let Some((heads, mut state)) = dated else {
            shop.calm.firm.clear();
            shop.holds = Holds::default();
            // What waits for a trial may stand before it on its sheet: of one that is to be printed again nothing is on any.
            let lost = |trial| is_lost(shop, &sheets, &again.copies, trial);
            let kept: Vec<Vec<SavedRun>> = (sheets.iter())
                .map(|sheet| {
                    let kept = sheet.iter().filter(|run| !waits_for(shop, run, lost));
                    kept.cloned().collect()
                })
                .collect();
            let dropped = kept != sheets;
            sheets = kept;
            if !dropped
                && !let_go(&mut sheets, until, |_, _, run| {
                    waits_for(shop, run, |_| true)
                })
            {
                return None;
            }
            continue;
        };
        let waits = state.waits(shop);
        // The first on each machine: those behind it may be late only because of it.
        let late: Vec<Option<usize>> = (0..heads.len())
            .map(|machine| {
                let dates = state.dates(machine).iter().zip(&waits[machine]);
                let is_late = |(date, waits): (&Dated, &Option<Minute>)| {
                    waits.is_some() || date.start > until
                };
                let first = dates.take(heads[machine].len()).position(is_late)?;
                heads[machine].get(first).copied()
            })
            .collect();
        // What waits for a trial goes with it, so as not to stand before it.
        let runs = late.iter().zip(&sheets);
        let runs: Vec<SavedRun> = runs
            .filter_map(|(late, sheet)| late.map(|run| sheet[run].clone()))
            .collect();
        let tried = |trial| runs.iter().any(|run| tries(shop, run, trial));
        if let_go(&mut sheets, until, |machine, run, saved| {
            late[machine] == Some(run) || waits_for(shop, saved, tried)
        }) {
            continue;
        }
        shop.calm.latest = (0..heads.len())
            .map(|machine| {
                let dates = state.dates(machine).iter();
                dates
                    .take(heads[machine].len())
                    .map(|date| date.start)
                    .collect()
            })
            .collect();
        return Some(Snapshot::of(&state));
    }
}

/// Puts runs that were scrapped, and runs for what no run of the accepted plan makes, behind those that are firm, before all others: so a
/// trial comes before what waits for it, and nothing that is urgent waits for all that is planned. Where another place is better the
/// search finds it.
fn lost_first(shop: &Shop, again: &mut Replay, until: Minute) {
    let behind = until.saturating_add(1);
    let date = Dated {
        setup: Minute::MIN,
        start: behind,
        end: behind,
        window: NO_SETUP,
        chain: 0,
        put_off: false,
    };
    for (machine, loads) in again.again.drain(..) {
        again.sheets[machine].push(SavedRun { loads, date });
    }
    let firm = |run: &SavedRun| run.date.start <= until;
    let missing = missing(
        shop,
        &mut Fitter::default(),
        &again.sheets,
        &again.copies,
        firm,
    );
    if let Some(missing) = missing {
        for (machine, loads) in missing.runs {
            again.sheets[machine].push(SavedRun { loads, date });
        }
        again.copies = missing.copies;
    }
    for sheet in &mut again.sheets {
        sheet.sort_by_key(|run| (run.date.start, run.date.setup));
    }
}

/// By machine: which of the runs to be held its sheet begins with. A run that could not be laid again is passed over.
fn heads(state: &State, sheets: &[Vec<SavedRun>], until: Minute) -> Vec<Vec<usize>> {
    let machines = sheets.iter().enumerate().map(|(machine, sheet)| {
        let mut placed = state.sheets[machine].iter().peekable();
        let firm = sheet.iter().enumerate();
        let firm = firm.take_while(|(_, run)| run.date.start <= until);
        firm.filter_map(|(at, run)| {
            let stands = |plate: &&PlateId| state.plates.get(**plate).loads == run.loads;
            placed.next_if(stands).map(|_| at)
        })
        .collect()
    });
    machines.collect()
}

/// Lets firm runs go, so that they come after those that stay; whether there were any.
fn let_go(
    sheets: &mut [Vec<SavedRun>],
    until: Minute,
    goes: impl Fn(usize, usize, &SavedRun) -> bool,
) -> bool {
    let mut any = false;
    for (machine, sheet) in sheets.iter_mut().enumerate() {
        for (at, run) in sheet.iter_mut().enumerate() {
            if run.date.start <= until && goes(machine, at, run) {
                run.date.start = until.saturating_add(1);
                any = true;
            }
        }
        // In the order in which they were accepted: a trial comes before what waits for it.
        sheet.sort_by_key(|run| (run.date.start, run.date.setup));
    }
    any
}

/// Whether a run waits for such a trial.
fn waits_for(shop: &Shop, run: &SavedRun, such: impl Fn(u32) -> bool) -> bool {
    run.loads.iter().any(|load| {
        let class = shop.class_of(load.item);
        !class.is_trial && class.trial.is_some_and(&such)
    })
}

/// Whether some of a trial is on a run.
fn tries(shop: &Shop, run: &SavedRun, trial: u32) -> bool {
    run.loads.iter().any(|load| {
        let class = shop.class_of(load.item);
        class.is_trial && class.trial == Some(trial)
    })
}

/// Whether some piece of a trial is on no run of the accepted plan.
fn is_lost(shop: &Shop, sheets: &[Vec<SavedRun>], copies: &[u32], trial: u32) -> bool {
    let loads = || sheets.iter().flatten().flat_map(|run| run.loads.iter());
    let pieces = |item| {
        loads()
            .filter(|load| load.item == item)
            .map(|load| load.count)
            .sum::<u32>()
    };
    let mut classes = shop.classes.iter();
    classes.any(|class| {
        let known: u32 = class.items.iter().map(|&item| copies[item as usize]).sum();
        let mut items = class.items.iter().flat_map(|&leader| shop.team(leader));
        class.is_trial
            && class.trial == Some(trial)
            && (known < class.copies
                || items.any(|item| {
                    pieces(item) < copies[item as usize] * shop.items[item as usize].each
                }))
    })
}

/// A queue with firm runs of the accepted plan again where that had them, by machine; what they print is on no other run then. `None` where
/// it is on none in the same form, or only on runs that stand as they were accepted.
pub fn put_back(
    accepted: &Replay,
    queue: &Snapshot,
    back: &[(usize, SavedRun)],
    until: Minute,
) -> Option<Replay> {
    let mut sheets: Vec<Vec<SavedRun>> = queue.sheets.iter().map(|s| s.to_vec()).collect();
    let stands = |machine: usize, run: &SavedRun| {
        let mut there = accepted.sheets[machine].iter();
        there.any(|then| then.loads == run.loads && then.date.start == run.date.start)
    };
    for (_, run) in back {
        // A run with just these pieces gives up its place; else they come off the last runs that have such.
        let alike = sheets.iter().enumerate().find_map(|(machine, sheet)| {
            let at = (sheet.iter()).rposition(|r| r.loads == run.loads && !stands(machine, r))?;
            Some((machine, at))
        });
        if let Some((machine, at)) = alike {
            sheets[machine].remove(at);
            continue;
        }
        for load in run.loads.iter() {
            let mut left = load.count;
            for (machine, sheet) in sheets.iter_mut().enumerate() {
                for other in sheet.iter_mut().rev() {
                    if left > 0 && !stands(machine, other) {
                        left -= take_off(other, load.item, left);
                    }
                }
                sheet.retain(|run| !run.loads.is_empty());
            }
            if left > 0 {
                return None;
            }
        }
    }
    for (machine, run) in back {
        // What has taken its place meanwhile comes after what is firm.
        for other in &mut sheets[*machine] {
            let date = &mut other.date;
            let overlap = date.setup < run.date.end && run.date.setup < date.end;
            if overlap && !stands(*machine, other) {
                other.date.start = until.saturating_add(1);
            }
        }
        sheets[*machine].push(run.clone());
    }
    Some(Replay {
        sheets,
        again: Vec::new(),
        copies: queue.copies.clone(),
        covers: false,
    })
}

/// Takes so many of an item off a run at most; how many were taken.
fn take_off(run: &mut SavedRun, item: ItemId, most: u32) -> u32 {
    let mut taken = 0;
    let loads = run.loads.iter().map(|load| {
        let off = if load.item == item {
            load.count.min(most - taken)
        } else {
            0
        };
        taken += off;
        Load {
            count: load.count - off,
            ..*load
        }
    });
    let loads: Vec<Load> = loads.filter(|load| load.count > 0).collect();
    if taken > 0 {
        run.loads = loads.into();
    }
    taken
}
