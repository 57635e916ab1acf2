//! When the runs of one sheet are set up, start and end on one machine: the one place that dates.
//!
//! Knows: one machine's rules and the bench windows. Must not know: the other machines, prices, nodes.
//! Promises: every run is dated as early as the rules allow after the one before it.
//!
//! **Waiting never helps.** A sheet's cost falls in no run's end, and the earliest start of a run is a nondecreasing
//! function of the moment the machine is free (the set of allowed starts does not depend on that moment, only its
//! lower limit does). By induction along the sheet, earliest dates are no later, run by run, than any other dates of the
//! same sequence; so the best plan over sequences is among the earliest-dated ones.
//!
//! **Belts.** A plan has a belt set up anew unless a run follows at once. Here it starts itself whenever it may: the allowed
//! starts are more and the setups fewer, so ends are no later and sheets no dearer than any plan's, and the bound holds.
//!
//! **Slots.** A machine without a belt that is free at `t` starts its next setup no earlier than the first minute from `t`
//! on at which `turnaround` minutes fit in a window outside outages; any setup is at least that long. So the machine's
//! states are those minutes only (the *slots*), some 400 a weekday, and nights cost nothing.

use super::super::packed::{PackedMachine, PackedShop};
use crate::calendar::Minute;

/// "Never", as a minute and as a slot.
pub const NEVER: Minute = Minute::MAX;

/// How a run comes onto the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Its colour is loaded.
    Same = 0,
    /// Another colour is loaded, or none.
    Swap = 1,
}

/// One machine's clock from minute 0 to a horizon.
#[derive(Debug)]
pub struct Track {
    /// Minutes at which a state can be, ascending.
    slots: Vec<Minute>,
    /// For each minute up to the horizon the first slot from it on; `slots.len()` if none.
    slot_at: Vec<u32>,
    /// For each change and slot the end of the earliest setup, outages during the run not yet heeded.
    begin: [Vec<Minute>; 2],
    /// For each run and change the earliest print start by its `ready`.
    ready: Vec<[Minute; 2]>,
    /// Length by run; `NEVER` where it is not allowed.
    length: Vec<Minute>,
    /// Ends by run, change and slot, where outages or forbidden nights make them irregular.
    irregular: Option<Vec<[Vec<Minute>; 2]>>,
    first: Vec<Option<Minute>>,
    horizon: Minute,
}

impl Track {
    /// The clock of one machine; nothing that ends after `horizon` is dated.
    pub fn new(shop: &PackedShop, machine: usize, horizon: Minute) -> Self {
        let rules = Rules::new(shop, machine, horizon);
        let m = rules.machine;
        let slots: Vec<Minute> = if m.belt {
            (0..=horizon).collect()
        } else {
            let mut slots: Vec<Minute> = rules.setup_from[0]
                .iter()
                .copied()
                .filter(|&t| t != NEVER)
                .collect();
            slots.dedup();
            slots
        };
        let mut slot_at = Vec::with_capacity(horizon as usize + 1);
        let mut next = 0;
        for t in 0..=horizon {
            while next < slots.len() && slots[next] < t {
                next += 1;
            }
            slot_at.push(next as u32);
        }
        let length: Vec<Minute> = shop
            .runs
            .iter()
            .map(|r| r.on[machine].map_or(NEVER, |(p, _)| p))
            .collect();
        let regular = m.outages.is_empty() && m.unattended && !m.belt;
        let changes = [Change::Same, Change::Swap];
        let begin = changes.map(|change| {
            slots
                .iter()
                .map(|&t| rules.setup_end(t, change))
                .collect::<Vec<_>>()
        });
        let ready = shop
            .runs
            .iter()
            .map(|run| {
                changes
                    .map(|change| rules.setup_end((run.ready - rules.setup(change)).max(0), change))
            })
            .collect();
        let irregular = (!regular).then(|| {
            (0..shop.runs.len())
                .map(|run| {
                    changes.map(|change| match length[run] {
                        NEVER => Vec::new(),
                        length => {
                            let follow = m.belt && change == Change::Same;
                            let ready = shop.runs[run].ready;
                            slots
                                .iter()
                                .map(|&t| rules.end(t, change, follow, ready, length))
                                .collect()
                        }
                    })
                })
                .collect()
        });
        let first = (0..shop.runs.len())
            .map(|run| {
                let change = if m.loaded == Some(shop.runs[run].colour) {
                    Change::Same
                } else {
                    Change::Swap
                };
                let end = match length[run] {
                    NEVER => NEVER,
                    length => rules.end(0, change, false, shop.runs[run].ready, length),
                };
                (end <= horizon).then_some(end)
            })
            .collect();
        Self {
            slots,
            slot_at,
            begin,
            ready,
            length,
            irregular,
            first,
            horizon,
        }
    }

    /// Number of slots.
    pub fn slots(&self) -> usize {
        self.slots.len()
    }

    /// The state of a machine that is free from `end` on; `slots()` if nothing can follow.
    pub fn slot_at(&self, end: Minute) -> usize {
        self.slot_at[end as usize] as usize
    }

    /// The end of a run that comes after another one; beyond the horizon or `NEVER`: not possible.
    #[inline]
    pub fn end(&self, slot: usize, change: Change, run: usize) -> Minute {
        match &self.irregular {
            None => {
                let start = self.begin[change as usize][slot].max(self.ready[run][change as usize]);
                start.saturating_add(self.length[run])
            }
            Some(table) => table[run][change as usize]
                .get(slot)
                .copied()
                .unwrap_or(NEVER),
        }
    }

    /// The end of a run that is the sheet's first (a belt, too, needs a setup then); `None`: not possible.
    pub fn first_end(&self, run: usize) -> Option<Minute> {
        self.first[run]
    }

    /// The latest end that is dated.
    pub fn horizon(&self) -> Minute {
        self.horizon
    }
}

/// No sheet of the machine ends later, whatever runs it holds (each at most once) in whatever order.
///
/// With `E₀` the last `ready` and `E_i` the end of the longest run, set up with a change, on a machine that is free at `E_{i−1}`: the
/// i-th run of a sheet ends by `E_i`, since a longer run, a longer setup and a later start each end no earlier.
pub fn latest_end(shop: &PackedShop, machine: usize) -> Minute {
    let close = shop.windows.last().map_or(0, |w| w.close);
    let here = || {
        shop.runs
            .iter()
            .filter_map(|r| r.on.get(machine).copied().flatten())
    };
    let longest = here().map(|(p, _)| p).max().unwrap_or(0);
    let rules = Rules::new(shop, machine, close);
    let mut end = shop.runs.iter().map(|r| r.ready).max().unwrap_or(0);
    for _ in here() {
        end = rules.end(end, Change::Swap, false, 0, longest);
    }
    end.min(close.saturating_add(longest))
}

/// The rules of one machine, minute by minute.
struct Rules<'a> {
    shop: &'a PackedShop,
    machine: &'a PackedMachine,
    /// For each change and minute up to the horizon the earliest start of its setup from that minute on.
    setup_from: [Vec<Minute>; 2],
}

impl<'a> Rules<'a> {
    fn new(shop: &'a PackedShop, machine: usize, horizon: Minute) -> Self {
        let machine = &shop.machines[machine];
        let mut rules = Self {
            shop,
            machine,
            setup_from: [Vec::new(), Vec::new()],
        };
        rules.setup_from = [Change::Same, Change::Swap].map(|change| {
            let setup = rules.setup(change);
            let mut from = vec![NEVER; horizon as usize + 1];
            let mut next = NEVER;
            let mut window = shop.windows.len();
            for t in (0..=horizon).rev() {
                while window > 0 && shop.windows[window - 1].open > t {
                    window -= 1;
                }
                // Someone must be there at the first minute, even of a setup that takes none.
                let present = window > 0 && {
                    let close = shop.windows[window - 1].close;
                    t < close && t + setup <= close
                };
                if present && rules.outage(t, t + setup).is_none() {
                    next = t;
                }
                from[t as usize] = next;
            }
            from
        });
        rules
    }

    fn setup(&self, change: Change) -> Minute {
        self.machine.turnaround
            + if change == Change::Swap {
                self.machine.swap
            } else {
                0
            }
    }

    /// End of the earliest setup that starts at `t` or later.
    fn setup_end(&self, t: Minute, change: Change) -> Minute {
        self.setup_start(t, change)
            .saturating_add(self.setup(change))
    }

    fn setup_start(&self, t: Minute, change: Change) -> Minute {
        self.setup_from[change as usize]
            .get(t as usize)
            .copied()
            .unwrap_or(NEVER)
    }

    /// When the outage ends that overlaps `[from, to)`, if one does (an empty span overlaps what it lies inside).
    fn outage(&self, from: Minute, to: Minute) -> Option<Minute> {
        self.machine
            .outages
            .iter()
            .find(|o| o.open < to.max(from + 1) && from < o.close)
            .map(|o| o.close)
    }

    /// Close of the window that holds `t` (its close included).
    fn window_close(&self, t: Minute) -> Option<Minute> {
        let next = self.shop.windows.partition_point(|w| w.open <= t);
        let window = self.shop.windows[..next].last()?;
        (t <= window.close).then_some(window.close)
    }

    /// First opening after `t`.
    fn next_open(&self, t: Minute) -> Minute {
        let next = self.shop.windows.partition_point(|w| w.open <= t);
        self.shop.windows.get(next).map_or(NEVER, |w| w.open)
    }

    /// End of a run on a machine that is free from `free` on.
    fn end(
        &self,
        free: Minute,
        change: Change,
        follow: bool,
        ready: Minute,
        length: Minute,
    ) -> Minute {
        let setup = if follow { 0 } else { self.setup(change) };
        let mut from = free.max(ready - setup);
        loop {
            let start = if follow {
                from
            } else {
                self.setup_start(from, change)
            };
            if start == NEVER {
                return NEVER;
            }
            let end = start.saturating_add(setup).saturating_add(length);
            if let Some(over) = self.outage(start, end) {
                from = over;
            } else if !self.machine.unattended
                && self.window_close(start).is_none_or(|close| end > close)
            {
                from = self.next_open(start);
                if from == NEVER {
                    return NEVER;
                }
            } else {
                return end;
            }
        }
    }
}
