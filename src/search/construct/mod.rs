//! First queues: machine after machine is given the best next run, the earliest free first.
//!
//! Knows: the shop, plates, dating. Must not know: moves, temperatures.
//! Promises: every piece is on a sheet; `None` only where the calendar's horizon is too near.

mod todo;

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use crate::calendar::Minute;
use crate::estimate::run_minutes;
use crate::search::fitter::Fitter;
use crate::search::plate::{Fit, Load};
use crate::search::shop::{ItemId, Shop};
use crate::search::snapshot::SavedRun;
use crate::search::state::State;
use crate::units::Seconds;

use todo::{Begun, Todo};

/// What a constructive rule holds dear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Its name in tables.
    pub name: &'static str,
    /// Ranks of urgency that a colour change is worth avoiding.
    pub stay: f64,
    /// How much dearer than on the best machine a piece may be made, as a factor.
    pub dearer: f64,
    /// Whether a plate by day ends while somebody is there, and one by night lasts until somebody comes.
    pub by_calendar: bool,
    /// Longest run in minutes where the calendar does not decide.
    pub longest: Minute,
}

/// The rules that are tried, each for a different shop.
pub const RULES: [Rule; 5] = [
    Rule {
        name: "urgent first",
        stay: 0.0,
        dearer: 4.0,
        by_calendar: true,
        longest: 720,
    },
    Rule {
        name: "urgent, colours kept",
        stay: 2.0,
        dearer: 2.0,
        by_calendar: true,
        longest: 720,
    },
    Rule {
        name: "colours kept",
        stay: 8.0,
        dearer: 2.0,
        by_calendar: true,
        longest: 900,
    },
    Rule {
        name: "cheapest machine",
        stay: 3.0,
        dearer: 1.15,
        by_calendar: true,
        longest: 900,
    },
    Rule {
        name: "full plates",
        stay: 3.0,
        dearer: 2.0,
        by_calendar: false,
        longest: 1440,
    },
];

/// Lengths of bench hours for which the forms of parts are chosen: any; where something must be watched also such hours that half
/// of all presence lies in hours as long or longer. What asks for the longest that there are would wait for a few days of the week.
pub fn hours(shop: &Shop) -> Vec<Minute> {
    let mut hours = vec![Minute::MAX];
    if shop.machines.iter().any(|machine| !machine.unattended) {
        let windows = shop.calendar.windows().iter();
        let mut lengths: Vec<Minute> = windows.map(|window| window.length()).collect();
        lengths.sort_unstable();
        let all: i64 = lengths.iter().map(|&length| i64::from(length)).sum();
        let mut sum = 0;
        let usual = lengths.into_iter().find(|&length| {
            sum += i64::from(length);
            2 * sum >= all
        });
        hours.extend(usual);
    }
    hours
}

/// A queue by a rule. Forms whose pieces end within bench hours of `hours` are preferred on machines that must be watched.
pub fn construct(shop: &Shop, fitter: &mut Fitter, rule: &Rule, hours: Minute) -> Option<State> {
    let mut state = State::empty(shop);
    choose_forms(shop, &mut state, hours);
    let todo = Todo::new(shop, &state);
    complete(shop, state, todo, fitter, rule)
}

/// A queue that begins with these runs, each of which fits, and goes on by the first rule; `copies` are those that they make.
pub fn extend(
    shop: &Shop,
    fitter: &mut Fitter,
    sheets: &[Vec<SavedRun>],
    copies: &[u32],
) -> Option<State> {
    let mut state = with_copies(shop, copies);
    let todo = lay(shop, &mut state, fitter, sheets, |_| true)?;
    complete(shop, state, todo, fitter, &RULES[0])
}

/// Runs for what no run of some sheets makes.
pub struct Missing {
    /// Where, and what is on each, in order.
    pub runs: Vec<(usize, Arc<[Load]>)>,
    /// Copies by item that all runs make then.
    pub copies: Vec<u32>,
}

/// Runs for all that these do not make, by the first rule, as if they came next behind those that are `firm`; `copies` are those that the
/// given ones make.
pub fn missing(
    shop: &Shop,
    fitter: &mut Fitter,
    sheets: &[Vec<SavedRun>],
    copies: &[u32],
    firm: impl Fn(&SavedRun) -> bool,
) -> Option<Missing> {
    let mut state = with_copies(shop, copies);
    let todo = lay(shop, &mut state, fitter, sheets, firm)?;
    let heads: Vec<usize> = state.sheets.iter().map(Vec::len).collect();
    let copies = state.copies.clone();
    let state = complete(shop, state, todo, fitter, &RULES[0])?;
    let mut runs = Vec::new();
    for (machine, (sheet, head)) in state.sheets.iter().zip(heads).enumerate() {
        let plates = sheet.iter().skip(head);
        let loads = plates.map(|&plate| state.plates.get(plate).loads.clone());
        runs.extend(loads.map(|loads| (machine, loads)));
    }
    Some(Missing { runs, copies })
}

/// An empty queue of so many copies in each form, and of the rest in the form that costs least.
fn with_copies(shop: &Shop, copies: &[u32]) -> State {
    let mut state = State::empty(shop);
    choose_forms(shop, &mut state, Minute::MAX);
    for class in &shop.classes {
        let known: u32 = class
            .items
            .iter()
            .map(|&leader| copies[leader as usize])
            .sum();
        let rest = class.copies.saturating_sub(known);
        for &leader in &class.items {
            let best = state.copies[leader as usize] > 0;
            for item in shop.team(leader) {
                let more = if best { rest } else { 0 };
                state.copies[item as usize] = copies[item as usize] + more;
            }
        }
    }
    state
}

/// Takes these runs off what is to be done, as far as they fit and are wanted, and puts on their sheets those that are asked for; what is
/// left to be done. `None` if they cannot be dated.
fn lay(
    shop: &Shop,
    state: &mut State,
    fitter: &mut Fitter,
    sheets: &[Vec<SavedRun>],
    asked: impl Fn(&SavedRun) -> bool,
) -> Option<Todo> {
    let mut todo = Todo::new(shop, state);
    let numbered = sheets.iter().enumerate();
    let mut runs: Vec<(usize, &SavedRun)> = numbered
        .flat_map(|(machine, sheet)| sheet.iter().map(move |run| (machine, run)))
        .collect();
    runs.sort_by_key(|(machine, run)| (run.date.start, *machine));
    for (machine, run) in runs {
        let known = run.loads.iter();
        if known
            .into_iter()
            .any(|load| todo.left[load.item as usize] < load.count)
        {
            continue;
        }
        let Some(plate) = state.plates.make(shop, &run.loads) else {
            continue;
        };
        let fits = matches!(
            state.plates.fit(shop, fitter, plate, machine),
            Fit::Yes { .. }
        );
        if !fits || !asked(run) {
            state.plates.release(plate);
        }
        if !fits {
            continue;
        }
        if asked(run) && !state.append(shop, machine, plate) {
            return None;
        }
        todo.take(shop, &run.loads);
    }
    Some(todo)
}

/// Puts all that is still to be done at the ends of a queue's sheets.
fn complete(
    shop: &Shop,
    mut state: State,
    mut todo: Todo,
    fitter: &mut Fitter,
    rule: &Rule,
) -> Option<State> {
    let mut heap: BinaryHeap<Reverse<(Minute, usize)>> = (0..shop.machines.len())
        .map(|machine| {
            let end = state.dates(machine).last().map_or(0, |d| d.end);
            Reverse((end, machine))
        })
        .collect();
    let last = |machine: usize| state.sheets[machine].last();
    let mut loaded: Vec<u32> = (0..shop.machines.len())
        .map(|machine| match last(machine) {
            Some(&plate) => state.plates.get(plate).filament,
            None => shop.machines[machine].loaded,
        })
        .collect();
    let mut relaxed = false;
    let mut stuck = false;
    // Machines with nothing to do but what waits for a trial come back when it is on a sheet.
    let mut idle: Vec<usize> = Vec::new();
    while todo.pieces > 0 {
        let Some(Reverse((_, machine))) = heap.pop() else {
            if stuck {
                // Every machine has refused every piece: validation promised a way for each, so there is no time.
                return None;
            }
            // What is left is dear everywhere or waits for a trial: any machine that can may take it.
            relaxed = true;
            stuck = true;
            idle.clear();
            heap.extend((0..shop.machines.len()).map(|machine| {
                let end = state.dates(machine).last().map_or(0, |d| d.end);
                Reverse((end, machine))
            }));
            continue;
        };
        let begun = Begun {
            machine,
            loaded: loaded[machine],
            free: state.dates(machine).last().map_or(0, |d| d.end),
            relaxed,
            most: Minute::MAX,
        };
        let trials = todo.open_trials();
        let Some(plate) = todo.next_plate(shop, &mut state, fitter, rule, &begun) else {
            idle.push(machine);
            continue;
        };
        if !state.append(shop, machine, plate) {
            return None;
        }
        stuck = false;
        if todo.open_trials() < trials {
            heap.extend(idle.drain(..).map(|machine| {
                let end = state.dates(machine).last().map_or(0, |d| d.end);
                Reverse((end, machine))
            }));
        }
        loaded[machine] = state.plates.get(plate).filament;
        let end = state.dates(machine).last().map_or(0, |d| d.end);
        heap.push(Reverse((end, machine)));
    }
    let cost = state.refresh(shop);
    cost.is_finite().then_some(state)
}

/// Each class in the form that costs least by itself: printing, hardware, gluing, finishing. Forms whose pieces some
/// machine ends in bench hours even after a change of filament come before those that need the right one loaded.
fn choose_forms(shop: &Shop, state: &mut State, hours: Minute) {
    for class in &shop.classes {
        let price = |id: &ItemId| {
            let item = &shop.items[*id as usize];
            let team = shop.team(*id).map(|id| &shop.items[id as usize]);
            let pieces: f64 = team.map(|item| f64::from(item.each) * item.cheapest).sum();
            pieces
                + item.hardware
                + (f64::from(item.glue) + f64::from(item.lengths) * class.finishing / 60.0)
                    * shop.bench_minute
        };
        let hard = |id: &ItemId| !shop.team(*id).all(|id| ends_after_change(shop, id, hours));
        let best = class.items.iter().min_by(|a, b| {
            let by_price = || price(a).total_cmp(&price(b));
            hard(a).cmp(&hard(b)).then_with(by_price)
        });
        for item in &class.items {
            let copies = if Some(item) == best { class.copies } else { 0 };
            for item in shop.team(*item) {
                state.copies[item as usize] = copies;
            }
        }
    }
}

/// Whether a piece alone can be ended in bench hours, of such a length where it must be watched, on some machine, whatever that printed
/// before.
fn ends_after_change(shop: &Shop, item: ItemId, hours: Minute) -> bool {
    let filament = shop.items[item as usize].filament;
    (0..shop.machines.len()).any(|machine| {
        let m = &shop.machines[machine];
        let (longest, setup) = if m.loaded == filament {
            (m.longest, m.turnaround)
        } else {
            (m.longest_after_change, m.turnaround + m.swap)
        };
        let longest = match m.unattended {
            true => longest,
            false => longest.map(|most| most.min(hours - setup)),
        };
        shop.ways(item, machine).iter().any(|way| {
            let (warm_up, layers) = (Seconds(m.warm_up), Seconds(way.layer_seconds));
            let alone = run_minutes(warm_up, Seconds(way.seconds), layers);
            longest.is_some_and(|most| alone.0 <= i64::from(most))
        })
    })
}
