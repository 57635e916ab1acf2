//! Provides the runs of a plan with filament: which spool, when it ends, what to order by when.
//!
//! Knows: spools, dated runs, bench hours, delivery times. Must not know: plates, prices, how runs were chosen.
//! Promises: every gram that the runs need comes off a spool that is on hand or ordered, and no spool is on two machines at
//! once; no fewer spools are ordered than the missing grams make necessary; a run that needs an ordered spool assumes
//! that it has come; a spool whose end is too small for the margin goes on nowhere; a spool that there is has its name wherever it goes on,
//! and one that is to be ordered has none.
//!
//! What is on the machines at the start is among the spools on hand, but the scenario does not say which; so the first
//! setup on a machine names its spool.

mod levels;
mod on_hand;
mod shelf;

use std::collections::BTreeSet;

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};

use crate::calendar::Calendar;
use crate::plan::{Order, SpoolEnd, SpoolNote};
use crate::scenario::{FilamentIndex, MachineIndex, Scenario};
use crate::units::{Grams, Minutes};

pub use levels::levels;
pub use on_hand::{Held, OnHand, Step};
pub use shelf::Short;
use shelf::{Habit, Lasting, Need, Shelf, Spool};

/// What a run takes from its spools.
#[derive(Clone, Copy, Debug)]
pub struct Use {
    /// The machine.
    pub machine: MachineIndex,
    /// What it prints with.
    pub filament: FilamentIndex,
    /// When its setup begins; `None`: it follows another run without one, and nobody touches the spool.
    pub setup: Option<DateTime<Utc>>,
    /// When printing starts.
    pub start: DateTime<Utc>,
    /// When it ends.
    pub end: DateTime<Utc>,
    /// Plastic in its pieces; taken to flow evenly from start to end.
    pub grams: Grams,
    /// Lost at its setup in a colour change, of the filament that comes in.
    pub purge: Grams,
}

/// How the runs are provided for.
#[derive(Clone, Debug)]
pub struct Provision {
    /// One note for each run, in the order in which they were given.
    pub notes: Vec<SpoolNote>,
    /// One order for each filament of the scenario, in its order.
    pub orders: Vec<Order>,
    /// The first run for which no spool can be there when it begins, as they are all on other machines or not yet come.
    pub short: Option<Short>,
}

/// What is left on a spool at the end of a run is at least so much, or it is not put on for it; a spool end of no more is not
/// put on at all. Common practice, no source.
const LEAST_MARGIN: f64 = 10.0;

/// Less than this is rounding error, g.
const NOTHING: f64 = 1e-6;

/// A spool with no more than this is not put on.
fn least(scenario: &Scenario) -> f64 {
    margin(scenario, 0.0).max(NOTHING)
}

/// Grams that a spool is to hold beyond what is printed from it: `build.spool_margin` of it, and at least [`LEAST_MARGIN`];
/// none at all if that is 0.
pub fn margin(scenario: &Scenario, grams: f64) -> f64 {
    let share = scenario.build.spool_margin;
    if share > 0.0 {
        (grams * share).max(LEAST_MARGIN)
    } else {
        0.0
    }
}

/// Allots spools to runs in the order of their setups, and says what to order.
///
/// A spool stays on its machine until it is empty or the filament is changed, unless it would not cover the next setup's
/// runs with the margin: then the **smallest spool that covers** them goes on. Where none does, in this order: one that ends while
/// somebody is there, with another that covers the rest; a new spool, even if more are then ordered than grams are
/// missing; the largest, which will run out. An ordered spool counts among them from the day on which an order at the build's
/// start could have come, and before that for a run that cannot do without one. Runs for which no spool is large enough get the
/// largest that ends while somebody is there, if one does. With a margin of 0 spools are printed to the
/// last gram, and no spool is ordered only so that none runs out.
///
/// Four ways to go through the queue are tried: whether a spool that is on stays while it covers, or the smallest always goes on; and whether
/// ends are used up first wherever somebody is there when they end; before the build's start also whether orders are counted on that could be
/// sent by now, or from the start on. Where a spool still ends with nobody there, each is tried with one spool and with two of that filament on
/// the shelf, to be ordered if they go on. The one is taken with the fewest ends with nobody there, of those the fewest spools ordered, of those the
/// fewest ends.
///
/// Where a spool ends while somebody is at the bench the next goes on at once; with nobody there
/// ([`SpoolNote::alone`]) the run's dates, which suppose an unbroken run, will slip.
///
/// A spool that would end with nobody there is changed a few minutes before the last bench hours until then are over, with its
/// end left on it, where another spool is there for the rest that lasts, or whose own end somebody attends: the end goes back
/// on the shelf.
///
/// Where filament cannot be ordered before [`OnHand::today`], nothing is counted on that an order of that day does not bring;
/// [`Provision::short`] tells where that leaves a run with nothing.
pub fn provide(
    scenario: &Scenario,
    on_hand: &OnHand,
    calendar: &Calendar,
    uses: &[Use],
) -> Provision {
    let start = scenario.build.start;
    let start = start.with_timezone(&scenario.build.zone).date_naive();
    let earliest = on_hand.today.unwrap_or(start);
    let mut best = provide_from(scenario, on_hand, calendar, uses, earliest);
    // What is planned again before the build's start is to keep its spools, if nothing is better: a first plan counts on orders from
    // the start on only.
    if start > earliest && scenario.build.spool_margin > 0.0 {
        best.outdo(provide_from(scenario, on_hand, calendar, uses, start));
    }
    best
}

/// The best of all ways, where orders of a day and later are counted on.
fn provide_from(
    scenario: &Scenario,
    on_hand: &OnHand,
    calendar: &Calendar,
    uses: &[Use],
    counted_from: NaiveDate,
) -> Provision {
    let provide_by = |(keep, ends_first), offered: &[FilamentIndex]| {
        let habit = Habit {
            keep,
            ends_first,
            counted_from,
            offered,
        };
        provide_by(scenario, on_hand, calendar, uses, habit)
    };
    let mut best = provide_by(WAYS[0], &[]);
    if scenario.build.spool_margin <= 0.0 {
        return best;
    }
    for way in &WAYS[1..] {
        best.outdo(provide_by(*way, &[]));
    }
    let mut offered = Vec::new();
    for filament in best.stopped(uses) {
        let mut kept = offered.len();
        for _ in 0..OFFERS {
            offered.push(filament);
            let pays = WAYS.map(|way| best.outdo(provide_by(way, &offered)));
            if pays.contains(&true) {
                kept = offered.len();
            }
        }
        offered.truncate(kept);
    }
    best
}

/// Spools of one filament that are offered on the shelf: the first may be one that is missing anyway.
const OFFERS: usize = 2;

/// Ways to go through the queue: whether a spool stays while it covers, and whether ends are used up first.
const WAYS: [(bool, bool); 4] = [(true, false), (false, false), (true, true), (false, true)];

impl Provision {
    /// What speaks against it: a run without a spool, ends with nobody there, spools ordered, ends.
    fn trouble(&self) -> (bool, usize, u64, usize) {
        let alone = self.notes.iter().map(|note| note.alone().count()).sum();
        let ordered = self
            .orders
            .iter()
            .map(|order| u64::from(order.spools))
            .sum();
        let ends = self.notes.iter().map(|note| note.ends.len()).sum();
        (self.short.is_some(), alone, ordered, ends)
    }

    /// Whether another is better, which then takes its place.
    fn outdo(&mut self, other: Self) -> bool {
        let better = other.trouble() < self.trouble();
        if better {
            *self = other;
        }
        better
    }

    /// Filaments of which a spool ends with nobody there.
    fn stopped(&self, uses: &[Use]) -> BTreeSet<FilamentIndex> {
        let runs = self.notes.iter().zip(uses);
        runs.filter(|(note, _)| note.alone().next().is_some())
            .map(|(_, run)| run.filament)
            .collect()
    }
}

fn provide_by(
    scenario: &Scenario,
    on_hand: &OnHand,
    calendar: &Calendar,
    uses: &[Use],
    habit: Habit,
) -> Provision {
    let needed: Vec<Grams> = (0..scenario.filaments.len())
        .map(|filament| {
            uses.iter()
                .filter(|run| run.filament.0 == filament)
                .map(|run| run.grams + run.purge)
                .sum()
        })
        .collect();
    let mut shelf = Shelf::new(scenario, on_hand, &needed, habit);
    let mut notes = vec![SpoolNote::default(); uses.len()];
    for chain in chains(uses) {
        allot(&chain, uses, calendar, &mut shelf, &mut notes);
    }
    let orders = scenario
        .filaments
        .iter()
        .enumerate()
        .map(|(index, filament)| {
            let ordered = shelf.ordered(FilamentIndex(index));
            Order {
                filament: FilamentIndex(index),
                grams: needed[index],
                range: None,
                on_hand: filament.spools.iter().copied().sum(),
                spools: ordered.spools,
                order_by: ordered
                    .first_needed
                    .map(|moment| order_by(scenario, filament.lead, moment)),
            }
        })
        .collect();
    Provision {
        notes,
        orders,
        short: shelf.short,
    }
}

/// The last local date on which an order, placed at any hour of that day, comes `lead` later and no later than `needed`.
fn order_by(scenario: &Scenario, lead: Minutes, needed: DateTime<Utc>) -> NaiveDate {
    let sent = needed
        .checked_sub_signed(TimeDelta::minutes(lead.value()))
        .unwrap_or(DateTime::<Utc>::MIN_UTC);
    // See `calendar::delivered`. The order must be out by the moment `sent`; only the day before is over by then.
    let day = sent.with_timezone(&scenario.build.zone).date_naive();
    day.checked_sub_days(Days::new(1)).unwrap_or(day)
}

/// Runs of one machine after one setup: nobody touches the spool between them.
type Chain = Vec<usize>;

/// All chains, by the moment of their setup.
fn chains(uses: &[Use]) -> Vec<Chain> {
    let mut order: Chain = (0..uses.len()).collect();
    order.sort_by_key(|&run| (uses[run].machine, uses[run].start));
    let mut chains: Vec<Chain> = order
        .chunk_by(|&before, &after| {
            let (before, after) = (&uses[before], &uses[after]);
            before.machine == after.machine
                && before.filament == after.filament
                && after.setup.is_none()
        })
        .map(<[usize]>::to_vec)
        .collect();
    chains.sort_by_key(|chain| (begins(&uses[chain[0]]), uses[chain[0]].machine)); // no chunk is empty
    chains
}

fn begins(run: &Use) -> DateTime<Utc> {
    run.setup.unwrap_or(run.start)
}

/// Takes the spools of one chain from the shelf and writes the notes of its runs.
fn allot(
    chain: &[usize],
    uses: &[Use],
    calendar: &Calendar,
    shelf: &mut Shelf,
    notes: &mut [SpoolNote],
) {
    let first = &uses[chain[0]]; // no chain is empty
    let whole = |run: &Use| (run.purge + run.grams).0;
    let mut to_come: f64 = chain.iter().map(|&run| whole(&uses[run])).sum();
    let need = |run: &Use, to_come: f64, taken: f64| Need {
        machine: run.machine,
        filament: run.filament,
        begins: begins(run),
        setup: run.setup.is_some(),
        purge: (run.purge.0 - taken).max(0.0),
        run: whole(run) - taken,
        chain: to_come - taken,
    };
    let lasting = |left: f64| lasting_of(chain, uses, calendar, 0.0, left);
    let (mut spool, fresh) = shelf.set_up(&need(first, to_come, 0.0), &lasting);
    let mut put_on = fresh.then_some(Grams(spool.left));
    let mut name = put_on.and_then(|_| shelf.name(first.filament, &spool));
    let mut from = spool.fetched;

    let mut before = 0.0;
    for &run in chain {
        let used = &uses[run];
        // Somebody is there at the setup and puts the next spool on at once.
        draw(&mut spool, used.purge.0, |purged| {
            let lasting = |left| lasting_of(chain, uses, calendar, before + purged, left);
            shelf.choose(&need(used, to_come, purged), &lasting)
        });
        let mut ends = Vec::new();
        let mut printed = 0.0;
        while !spool.lasts_for(used.grams.0 - printed) {
            if let Some((change, by)) = early(calendar, used, printed, spool.left) {
                let taken = used.purge.0 + by;
                let lasting = |left| lasting_of(chain, uses, calendar, before + taken, left);
                let as_it_was = shelf.clone();
                let end = spool.without(by - printed);
                shelf.put_back(used.filament, end, change);
                let rest = need(used, to_come, taken);
                let next = shelf.choose(&rest, &lasting);
                // The end that comes off cannot go on again in this run. So the next has to last for all of it, or one that follows it.
                let further = |grams| shelf.may_order_more(&rest) || shelf.has(&rest, grams);
                let then = early(calendar, used, by, next.left).filter(|(then, _)| *then > change);
                let holds = next.lasts_for(rest.chain)
                    || lasting(next.left).attended && further(rest.chain - next.left)
                    || then.is_some_and(|(_, then)| further(rest.chain - (then - by)));
                if holds && shelf.short == as_it_was.short {
                    ends.push(SpoolEnd {
                        at: change,
                        attended: true,
                        left: Grams(end.left),
                        next: Grams(next.left),
                        next_name: shelf.name(used.filament, &next),
                        next_from: still_on(next.fetched, uses, begins(first), change),
                    });
                    (spool, printed) = (next, by);
                    continue;
                }
                *shelf = as_it_was;
            }
            printed += spool.left;
            // The next spool is to be at hand when the run begins, not only when the first one ends. So the order is there
            // before the grams on hand are used up: of the runs that start until then, one takes an ordered spool.
            let taken = used.purge.0 + printed;
            let lasting = |left| lasting_of(chain, uses, calendar, before + taken, left);
            spool = shelf.choose(&need(used, to_come, taken), &lasting);
            let at = run_out(used, printed);
            ends.push(SpoolEnd {
                at,
                attended: attended(calendar, at),
                left: Grams::ZERO,
                next: Grams(spool.left),
                next_name: shelf.name(used.filament, &spool),
                next_from: still_on(spool.fetched, uses, begins(first), at),
            });
        }
        spool = spool.without(used.grams.0 - printed);
        before += whole(used);
        to_come -= whole(used);
        notes[run] = SpoolNote {
            put_on: put_on.take(),
            name: name.take(),
            from: from.take(),
            ends,
        };
    }
    let last = chain.last().map_or(first, |&run| &uses[run]);
    shelf.leave(first.machine, first.filament, spool, last.end);
}

/// The machine that a spool is on at a moment which was set aside there when a chain began: set up meanwhile, it has another on.
fn still_on(
    machine: Option<MachineIndex>,
    uses: &[Use],
    since: DateTime<Utc>,
    at: DateTime<Utc>,
) -> Option<MachineIndex> {
    let set_up = |on: MachineIndex| {
        let mut setups = uses.iter().filter(|run| run.machine == on);
        setups.any(|run| run.setup.is_some_and(|setup| since <= setup && setup <= at))
    };
    machine.filter(|&on| !set_up(on))
}

/// How long a spool with so many grams lasts that goes on when `off` grams of a chain, purged and printed from its setup on, are used.
fn lasting_of(chain: &[usize], uses: &[Use], calendar: &Calendar, off: f64, left: f64) -> Lasting {
    let used_up = |grams: f64| {
        let mut left = grams;
        for &run in chain {
            let used = &uses[run];
            left -= used.purge.0;
            if left < 0.0 {
                return Some((begins(used), true)); // purged at the setup
            }
            if left < used.grams.0 {
                let at = run_out(used, left);
                return Some((at, attended(calendar, at)));
            }
            left -= used.grams.0;
        }
        None
    };
    let Some((end, attended)) = used_up(off + left) else {
        return Lasting {
            time: TimeDelta::MAX,
            rest: TimeDelta::zero(),
            attended: true,
        };
    };
    let from = used_up(off).map_or(end, |(from, _)| from);
    let last = chain.last().map_or(end, |&run| uses[run].end);
    Lasting {
        time: end - from,
        rest: last - end,
        attended,
    }
}

/// Takes `grams` off a spool; `next` gives the one that follows when it is empty, told how much came off before.
fn draw(spool: &mut Spool, grams: f64, mut next: impl FnMut(f64) -> Spool) {
    let mut taken = 0.0;
    while !spool.lasts_for(grams - taken) {
        taken += spool.left;
        *spool = next(taken);
    }
    *spool = spool.without(grams - taken);
}

/// So many minutes before the bench hours end a spool is changed early, so that it is done in them. Common practice, no source.
const EARLY: i32 = 5;

/// If a spool with so many grams left, of which a run prints from `printed` of its grams on, ends with nobody there: the last
/// minute before that at which somebody can change it, later than what is printed then, and the grams printed until that minute.
fn early(calendar: &Calendar, run: &Use, printed: f64, left: f64) -> Option<(DateTime<Utc>, f64)> {
    let at = run_out(run, printed + left);
    if attended(calendar, at) {
        return None;
    }
    let at = calendar.minute(at);
    let windows = calendar.windows();
    let before = windows.partition_point(|window| window.open < at);
    let window = windows.get(before.checked_sub(1)?)?;
    let change = calendar.moment((window.close - EARLY).max(window.open));
    let minutes = (run.end - run.start).num_minutes() as f64;
    let by = run.grams.0 * (change - run.start).num_minutes() as f64 / minutes;
    (by > printed + NOTHING && by < printed + left).then_some((change, by))
}

/// The whole minute in which a run's filament ends, when `printed` of its grams are out.
fn run_out(run: &Use, printed: f64) -> DateTime<Utc> {
    let minutes = (run.end - run.start).num_minutes() as f64;
    let elapsed = (minutes * printed / run.grams.0).floor() as i64;
    run.start
        .checked_add_signed(TimeDelta::minutes(elapsed))
        .unwrap_or(run.end)
}

/// Whether somebody is at the bench.
fn attended(calendar: &Calendar, moment: DateTime<Utc>) -> bool {
    let minute = calendar.minute(moment);
    calendar.next_presence(minute) == Some(minute)
}
