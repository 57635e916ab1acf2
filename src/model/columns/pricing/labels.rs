//! The cheapest sheets of one machine at given prices: a coarse sweep from the last run back to the first, then a fine one forward.
//!
//! Knows: one machine's clock, the price of each run at each end. Must not know: why a price is what it is.
//! Promises: `Sweep::value` is at most the reduced cost of every sheet without a run twice that the filter allows (0 is
//! that of the empty one).
//!
//! A label at (slot, colour) is a continuation: the runs that follow when the machine is free at that slot with that
//! colour loaded. Its memory holds those of its runs that may not be put before it again (ng-sets: a run is forgotten as
//! soon as a run is put before it whose set does not hold it), so sheets may repeat a run, but only in longer and longer cycles:
//! a relaxation. Of two labels at one state the cheaper one with the smaller memory allows every extension of the other
//! at less cost. Where more than `keep` labels remain, the dearest two are joined to one with the lower cost and the common
//! memory: it underbids both, so the value stays valid.

use super::super::dating::{Change, Track};
use super::{Effort, Sheet};
use crate::calendar::Minute;

/// A set of runs by number; runs beyond its width are never remembered (which only relaxes).
pub type Bits<const W: usize> = [u64; W];

const NONE: u32 = u32::MAX;

#[derive(Clone, Copy, Debug)]
struct Label<const W: usize> {
    cost: f64,
    memory: Bits<W>,
    run: u32,
    next: u32,
}

/// The price of every run at every end, in money: negative where the run is wanted.
#[derive(Debug)]
pub struct Table {
    width: usize,
    values: Vec<f64>,
}

impl Table {
    /// A table for ends from 0 to `horizon`.
    pub fn new(runs: usize, horizon: Minute) -> Self {
        let width = horizon as usize + 1;
        Self {
            width,
            values: vec![0.0; runs * width],
        }
    }

    /// The prices of one run by its end.
    pub fn row_mut(&mut self, run: usize) -> &mut [f64] {
        &mut self.values[run * self.width..(run + 1) * self.width]
    }

    /// The price of a run that ends at `end`.
    #[inline]
    pub fn at(&self, run: usize, end: Minute) -> f64 {
        self.values[run * self.width + end as usize]
    }
}

/// What a sweep needs to know of a run on this machine.
#[derive(Clone, Copy, Debug)]
pub struct Fare {
    /// The run.
    pub run: usize,
    /// Its colour.
    pub colour: usize,
    /// Money of the run and its setup, without and with a change of colour.
    pub cost: [f64; 2],
    /// Money of the run and its setup as the sheet's first.
    pub first: f64,
}

/// One machine's side of pricing.
#[derive(Debug)]
pub struct Lane<'a> {
    /// The clock.
    pub track: &'a Track,
    /// The runs that may be here.
    pub fares: &'a [Fare],
    /// No run may end later.
    pub last: Minute,
    /// Number of colours.
    pub colours: usize,
    /// The prices.
    pub table: &'a Table,
}

/// Adds a label to a short list in ascending cost, without dominated ones, joined at `keep`.
fn insert<const W: usize>(list: &mut Vec<Label<W>>, label: Label<W>, keep: usize) {
    let within = |small: &Bits<W>, large: &Bits<W>| (0..W).all(|i| small[i] & !large[i] == 0);
    let mut at = list.len();
    for (i, other) in list.iter().enumerate() {
        if other.cost > label.cost {
            at = i;
            break;
        }
        if within(&other.memory, &label.memory) {
            return;
        }
    }
    let mut kept = at;
    for i in at..list.len() {
        if !within(&label.memory, &list[i].memory) {
            list[kept] = list[i];
            kept += 1;
        }
    }
    list.truncate(kept);
    list.insert(at, label);
    if list.len() > keep
        && let Some(last) = list.pop()
    {
        let end = list.len() - 1;
        for i in 0..W {
            list[end].memory[i] &= last.memory[i];
        }
    }
}

/// Prices one machine: the valid value and up to `want` of the best sheets, best first.
fn backward<const W: usize>(lane: &Lane, near: &[Bits<W>], keep: usize) -> Coarse {
    let (track, colours) = (lane.track, lane.colours);
    let slots = track.slots();
    let mut arena: Vec<Label<W>> = Vec::new();
    // Range of labels of each state, slot by slot from the last.
    let mut states = vec![(0u32, 0u32); slots * colours];
    let mut pools: [Vec<Vec<Label<W>>>; 2] = [vec![Vec::new(); colours], vec![Vec::new(); colours]];
    let mut merged = Vec::new();
    let extend = |pool: &mut Vec<Label<W>>,
                  arena: &[Label<W>],
                  states: &[(u32, u32)],
                  fare: &Fare,
                  end: Minute,
                  cost: f64,
                  keep: usize,
                  below: f64| {
        let (word, bit) = (fare.run / 64, 1u64 << (fare.run % 64));
        let mut alone = [0; W];
        if word < W {
            alone[word] |= bit;
        }
        if cost < below {
            insert(
                pool,
                Label {
                    cost,
                    memory: alone,
                    run: fare.run as u32,
                    next: NONE,
                },
                keep,
            );
        }
        let next = track.slot_at(end);
        if next == slots {
            return;
        }
        let (from, to) = states[next * colours + fare.colour];
        for i in from..to {
            let label = &arena[i as usize];
            let total = cost + label.cost;
            if total >= below {
                break;
            }
            if word < W && label.memory[word] & bit != 0 {
                continue;
            }
            let mut memory = label.memory;
            for (m, n) in memory.iter_mut().zip(&near[fare.run]) {
                *m &= n;
            }
            if word < W {
                memory[word] |= bit;
            }
            insert(
                pool,
                Label {
                    cost: total,
                    memory,
                    run: fare.run as u32,
                    next: i,
                },
                keep,
            );
        }
    };
    // A setup after the last end that is allowed leads nowhere.
    for slot in (0..slots.min(track.slot_at(lane.last.max(0)))).rev() {
        for fare in lane.fares {
            for change in [Change::Same, Change::Swap] {
                let end = track.end(slot, change, fare.run);
                if end > track.horizon() {
                    continue;
                }
                let cost = fare.cost[change as usize] + lane.table.at(fare.run, end);
                // A continuation that costs money is worse than stopping here, which forbids nothing.
                extend(
                    &mut pools[change as usize][fare.colour],
                    &arena,
                    &states,
                    fare,
                    end,
                    cost,
                    keep,
                    0.0,
                );
            }
        }
        for colour in 0..colours {
            merged.clear();
            merged.extend_from_slice(&pools[0][colour]);
            for other in (0..colours).filter(|&other| other != colour) {
                for &label in &pools[1][other] {
                    insert(&mut merged, label, keep);
                }
            }
            let from = arena.len() as u32;
            arena.extend_from_slice(&merged);
            states[slot * colours + colour] = (from, arena.len() as u32);
        }
        for pool in pools.iter_mut().flatten() {
            pool.clear();
        }
    }
    let mut starts: Vec<Label<W>> = Vec::new();
    for fare in lane.fares {
        if let Some(end) = track.first_end(fare.run) {
            let cost = fare.first + lane.table.at(fare.run, end);
            extend(
                &mut starts,
                &arena,
                &states,
                fare,
                end,
                cost,
                usize::MAX,
                f64::INFINITY,
            );
        }
    }
    let least = states
        .iter()
        .map(|&(from, to)| {
            if from < to {
                arena[from as usize].cost
            } else {
                0.0
            }
        })
        .collect();
    let mut sheet = Vec::new();
    if let Some(start) = starts.first().filter(|l| l.cost < 0.0) {
        let mut runs = vec![start.run as usize];
        let mut at = start.next;
        while at != NONE {
            runs.push(arena[at as usize].run as usize);
            at = arena[at as usize].next;
        }
        sheet.push(Sheet { runs });
    }
    Coarse {
        value: starts.first().map_or(0.0, |l| l.cost.min(0.0)),
        sheet,
        least,
    }
}

/// What the coarse sweep leaves: a value that underbids, its sheet (none: the empty one), and for each state the same of what can still follow.
struct Coarse {
    value: f64,
    sheet: Vec<Sheet>,
    least: Vec<f64>,
}

/// Prices one machine: a value that underbids every sheet, and up to `want` of the best sheets, cheapest first.
///
/// `known` is the reduced cost of some sheet (0 if none). The fine sweep first looks only a little above the coarse value, and
/// further as long as it finds nothing: most machines are done after a narrow look.
pub fn cheapest<const W: usize>(
    lane: &Lane,
    near: &[Bits<W>],
    effort: Effort,
    known: f64,
) -> (f64, Vec<Sheet>) {
    let coarse = backward(lane, near, effort.coarse);
    if effort.keep == 0 {
        return (coarse.value, coarse.sheet);
    }
    let known = if effort.wide { 0.0 } else { known.min(0.0) };
    let mut slack = effort.slack * (1.0 - coarse.value);
    loop {
        let limit = known.min(coarse.value + slack);
        let (value, sheets) = forward(lane, near, effort, &coarse, limit);
        if !sheets.is_empty() || limit >= known {
            return (value, sheets);
        }
        slack *= 3.0;
    }
}

/// The sheets below `limit ≤ 0`, cheapest first, and a value that underbids every sheet.
///
/// A label whose cost plus the least that the coarse sweep lets follow reaches `limit` cannot become a sheet below `limit`; so the
/// least of `limit` and of what is found underbids every sheet.
fn forward<const W: usize>(
    lane: &Lane,
    near: &[Bits<W>],
    effort: Effort,
    coarse: &Coarse,
    limit: f64,
) -> (f64, Vec<Sheet>) {
    let (track, colours) = (lane.track, lane.colours);
    let slots = track.slots();
    let mut arena: Vec<Label<W>> = Vec::new();
    let mut states: Vec<Vec<Label<W>>> = vec![Vec::new(); slots * colours];
    let put = |states: &mut [Vec<Label<W>>],
               ended: &mut Vec<Label<W>>,
               fare: &Fare,
               end: Minute,
               label: Label<W>| {
        let next = track.slot_at(end);
        if next < slots {
            insert(
                &mut states[next * colours + fare.colour],
                label,
                effort.keep,
            );
        } else {
            ended.push(label);
        }
    };
    let after = |fare: &Fare, end: Minute| match track.slot_at(end) {
        next if next < slots => coarse.least[next * colours + fare.colour].min(0.0),
        _ => 0.0,
    };
    let alone = |run: usize| {
        let mut memory = [0; W];
        if run / 64 < W {
            memory[run / 64] |= 1u64 << (run % 64);
        }
        memory
    };
    let mut ended: Vec<Label<W>> = Vec::new();
    for fare in lane.fares {
        if let Some(end) = track.first_end(fare.run) {
            let cost = fare.first + lane.table.at(fare.run, end);
            if cost + after(fare, end) < limit {
                let label = Label {
                    cost,
                    memory: alone(fare.run),
                    run: fare.run as u32,
                    next: NONE,
                };
                put(&mut states, &mut ended, fare, end, label);
            }
        }
    }
    for state in 0..slots * colours {
        if states[state].is_empty() {
            continue;
        }
        let labels = std::mem::take(&mut states[state]);
        let (slot, colour) = (state / colours, state % colours);
        let from = arena.len() as u32;
        arena.extend_from_slice(&labels);
        for fare in lane.fares {
            let change = if fare.colour == colour {
                Change::Same
            } else {
                Change::Swap
            };
            let end = track.end(slot, change, fare.run);
            if end > track.horizon() {
                continue;
            }
            let step = fare.cost[change as usize] + lane.table.at(fare.run, end);
            let open = limit - step - after(fare, end);
            let me = alone(fare.run);
            for (i, label) in labels.iter().enumerate() {
                if label.cost >= open {
                    break;
                }
                if (0..W).any(|w| label.memory[w] & me[w] != 0) {
                    continue;
                }
                let mut memory = me;
                for w in 0..W {
                    memory[w] |= label.memory[w] & near[fare.run][w];
                }
                let next = from + i as u32;
                let label = Label {
                    cost: label.cost + step,
                    memory,
                    run: fare.run as u32,
                    next,
                };
                put(&mut states, &mut ended, fare, end, label);
            }
        }
    }
    arena.extend_from_slice(&ended);
    let mut whole: Vec<u32> = (0..arena.len() as u32)
        .filter(|&i| arena[i as usize].cost < limit)
        .collect();
    whole.sort_by(|&a, &b| {
        arena[a as usize]
            .cost
            .total_cmp(&arena[b as usize].cost)
            .then(a.cmp(&b))
    });
    whole.truncate(effort.want);
    let value = whole.first().map_or(limit, |&i| arena[i as usize].cost);
    let sheets = whole
        .into_iter()
        .map(|i| {
            let (mut runs, mut at) = (Vec::new(), i);
            while at != NONE {
                runs.push(arena[at as usize].run as usize);
                at = arena[at as usize].next;
            }
            runs.reverse();
            Sheet { runs }
        })
        .collect();
    (value, sheets)
}
