//! Spares last: of copies that are alike, those that an assembly waits for are printed before those that nothing waits for.
//!
//! Knows: sheets, who takes which pieces, their exact cost. Must not know: chance, other queues, how copies are numbered.
//! Promises: never dearer; afterwards no spare is printed earlier than a needed piece that it could stand for, unless
//! changing the two would cost money (which only hands that are short can bring about).

use crate::calendar::Minute;

use super::edit::Edit;
use super::fitter::Fitter;
use super::plate::{Fit, Load, PlateId};
use super::shop::{Class, Item, ItemId, Shop};
use super::snapshot::Snapshot;
use super::state::State;

/// Costs closer than this are equal; sums of thousands of terms differ by less.
const SAME: f64 = 1e-9;

/// The same queue with its spares last.
pub fn spares_last(shop: &Shop, queue: &Snapshot) -> Snapshot {
    let pairs = pairs(shop);
    if pairs.is_empty() {
        return queue.clone();
    }
    let mut fitter = Fitter::default();
    let mut state = queue.restore(shop, &mut fitter);
    let mut changed = false;
    for (spare, needed) in pairs {
        while exchange(shop, &mut state, &mut fitter, spare, needed) {
            changed = true;
        }
    }
    if changed {
        Snapshot::of(&state)
    } else {
        queue.clone()
    }
}

/// The same queue with its spares last also where that would cost money by the rules of the bench: an assembly whose pieces are
/// there sooner would take hands from other work. It does not: its work begins no earlier than it did, which the shop that comes
/// out says. `None` where that changes nothing.
///
/// Whoever has the first good copies in hand builds them in, and reprints what is lost as the spare.
pub fn spares_last_of_all(shop: &Shop, queue: &Snapshot) -> Option<(Snapshot, Shop)> {
    let mut fitter = Fitter::default();
    let mut state = queue.restore(shop, &mut fitter);
    let before = state.cost();
    let (_, _, work) = state.bench_work(shop);
    let mut held = shop.clone();
    let mut pairs = pairs(shop);
    pairs.retain(|&(spare, needed)| {
        let node = shop.class_of(needed).node as usize;
        // What takes no hands is never held up by what they do; and what is glued has dates of its own.
        let whole = shop.items[needed as usize].lengths == 1 && shop.least_node_minutes(node) > 0;
        let changes = whole && would_change(&state, spare, needed);
        if changes {
            held.nodes[node].there = work.could_start[node];
        }
        changes
    });
    if pairs.is_empty() {
        return None;
    }
    state = queue.restore(&held, &mut fitter);
    let mut changed = false;
    for (spare, needed) in pairs {
        while exchange(&held, &mut state, &mut fitter, spare, needed) {
            changed = true;
        }
    }
    let same = state.redate(&held) <= before + SAME;
    (changed && same).then(|| (Snapshot::of(&state), held))
}

/// Whether a spare is printed before the last of the needed pieces that it could stand for.
fn would_change(state: &State, spare: ItemId, needed: ItemId) -> bool {
    let first = holders(state, spare).map(|(end, _)| end).min();
    let last = holders(state, needed).map(|(end, _)| end).max();
    first.zip(last).is_some_and(|(first, last)| first < last)
}

/// Whether nothing waits for the copies of a class.
fn is_spare(shop: &Shop, class: &Class) -> bool {
    let node = shop.nodes.get(class.node as usize);
    node.is_none_or(|node| node.assembly.is_none())
}

/// Items of spares, each with those of needed copies for which its pieces could stand; the most urgent last, so that what
/// one gives up the next may take.
fn pairs(shop: &Shop) -> Vec<(ItemId, ItemId)> {
    let class = |item: &Item| &shop.classes[item.class as usize];
    let items = || (0..shop.items.len()).map(|id| (id as ItemId, &shop.items[id]));
    let mut pairs = Vec::new();
    for (spare, one) in items().filter(|(_, item)| is_spare(shop, class(item))) {
        let like = |other: &Item| {
            let (one, other) = (class(one), class(other));
            // What is begun is of one copy and no other; trial copies are told from those that wait for them.
            one.part == other.part
                && one.open.is_none()
                && other.open.is_none()
                && (one.trial, one.is_trial) == (other.trial, other.is_trial)
        };
        let needed = items().filter(|(_, other)| {
            other.shape == one.shape && !is_spare(shop, class(other)) && like(other)
        });
        pairs.extend(needed.map(|(needed, _)| (spare, needed)));
    }
    let rank = |item: ItemId| shop.nodes[shop.class_of(item).node as usize].rank;
    pairs.sort_by_key(|&(spare, needed)| (spare, std::cmp::Reverse(rank(needed))));
    pairs
}

/// A run that holds pieces of an item.
struct Holder {
    machine: usize,
    position: usize,
    count: u32,
}

/// Changes pieces of the spare that is printed first with pieces of the needed item that are printed last, if those are later.
///
/// Whether it was done. Each time one of the two runs loses all its pieces of its item to a run on the other side in time, so
/// it comes to an end.
///
/// *Proof that nothing but what the spares themselves wait for is later.* Pieces of one shape take the same room, minutes and
/// grams, are of the same filament and setting and of the same part, so of the same `ready` and trial: both runs keep their
/// length and what they wait for, and so every run keeps its dates. For each number k the k-th piece that the needed item has
/// printed is printed no later than before, since a later end was put in the place of an earlier one for the spares and the
/// other way round for it. A copy, whole or in lengths, is there with the last of its pieces, and an assembly with the last of
/// its copies; where hands are never short, both, and all that needs them, are therefore complete no later. Nothing waits for
/// a spare, and no date of one costs money. Where hands are short, gluing that can begin earlier may take them from other
/// work; then the exact cost decides.
fn exchange(
    shop: &Shop,
    state: &mut State,
    fitter: &mut Fitter,
    spare: ItemId,
    needed: ItemId,
) -> bool {
    let first = holders(state, spare).min_by_key(|(end, h)| (*end, h.machine, h.position));
    let last = holders(state, needed).max_by_key(|(end, h)| (*end, h.machine, h.position));
    let (Some((early, first)), Some((late, last))) = (first, last) else {
        return false;
    };
    if early >= late {
        return false;
    }
    let count = first.count.min(last.count);
    let mut edit = Edit::default();
    let before = state.cost();
    let drafted = relabel(
        shop,
        state,
        fitter,
        &mut edit,
        &first,
        (spare, needed, count),
    ) && relabel(
        shop,
        state,
        fitter,
        &mut edit,
        &last,
        (needed, spare, count),
    );
    if !drafted {
        for plate in edit.fresh.drain(..) {
            state.plates.release(plate);
        }
        return false;
    }
    if state.propose(shop, &mut edit) <= before + SAME {
        state.keep(&mut edit);
        true
    } else {
        state.take_back(shop, &mut edit);
        false
    }
}

/// The runs that hold an item, with their ends.
fn holders(state: &State, item: ItemId) -> impl Iterator<Item = (Minute, Holder)> + '_ {
    (0..state.sheets.len()).flat_map(move |machine| {
        let runs = state.sheets[machine].iter().zip(state.dates(machine));
        runs.enumerate()
            .filter_map(move |(position, (&plate, date))| {
                let loads = &state.plates.get(plate).loads;
                let load = loads.iter().find(|load| load.item == item)?;
                let holder = Holder {
                    machine,
                    position,
                    count: load.count,
                };
                Some((date.end, holder))
            })
    })
}

/// Drafts a run on which so many pieces are of another item; `false` if it could not be laid out, which takes as long.
fn relabel(
    shop: &Shop,
    state: &mut State,
    fitter: &mut Fitter,
    edit: &mut Edit,
    run: &Holder,
    (from, to, count): (ItemId, ItemId, u32),
) -> bool {
    let old: PlateId = state.sheets[run.machine][run.position];
    let minutes = state.plates.known(old, run.machine).0;
    let mut loads: Vec<Load> = state.plates.get(old).loads.to_vec();
    for load in loads.iter_mut().filter(|load| load.item == from) {
        load.count -= count; // no more than the run holds
    }
    loads.push(Load { item: to, count });
    let Some(new) = state.plates.make(shop, &loads) else {
        return false;
    };
    edit.fresh.push(new);
    match state.plates.fit(shop, fitter, new, run.machine) {
        Fit::Yes { minutes: takes, .. } if takes == minutes => {}
        _ => return false,
    }
    edit.sheet(state, run.machine)[run.position] = new;
    edit.gone.push(old);
    true
}
