//! Dates one run sheet: when each run is set up, starts and ends, by the rules of the calendar.
//!
//! Knows: one machine, its runs in order, who is at the bench. Must not know: other machines (but for the hands and the
//! filament they take), assemblies, prices.
//! A belt run in which the spool would end with nobody there is set up, so that another goes on; and a run that takes more than one
//! spool is put off for a while where somebody then attends their ends. (Spools are taken to be full when they go on: which
//! there are comes later.)
//!
//! Promises: every run is set up as early as the runs before it, its hold, its spools, the hands and the filament allow, and one that is
//! firm no earlier than was accepted. All that a run feeds, and the machine's
//! next run, only ever wait for its end, so a later date serves nothing; but for one case, which is not sought: a belt run put
//! off until the next one is ready, which would spare that one its setup.

use crate::calendar::{Minute, Window};

use super::hands::HandsProfile;
use super::plate::{PlateId, PlateStore};
use super::shop::Shop;
use super::supply::Drawn;

/// The dates of one run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dated {
    /// Setup begins; equal to `start` where there is none.
    pub setup: Minute,
    /// Printing starts.
    pub start: Minute,
    /// Printing has ended.
    pub end: Minute,
    /// The bench window of the setup, or [`NO_SETUP`].
    pub window: u32,
    /// On a belt: milligrams off the spool when it ends, if spools are full when they go on; otherwise 0.
    pub chain: i64,
    /// It could begin earlier, but a spool would then end with nobody there.
    pub put_off: bool,
}

/// A run that takes more than one spool is put off by no more than this, so that somebody attends their ends. Common practice, no
/// source.
pub const LONGEST_PUT_OFF: Minute = 2 * 24 * 60;
/// Minutes between the starts that are looked at.
const PUT_OFF_STEP: Minute = 5;

/// A belt run that follows the one before it without a setup, the minute that one ends.
pub const NO_SETUP: u32 = u32::MAX;

impl Dated {
    /// The span in which the setup takes a pair of hands, if it has one.
    pub fn setup_span(&self) -> Option<(usize, Window)> {
        (self.window != NO_SETUP).then_some((
            self.window as usize,
            Window {
                open: self.setup,
                close: self.start,
            },
        ))
    }
}

/// What a sheet is dated against.
pub struct Dating<'a> {
    /// The shop.
    pub shop: &'a Shop,
    /// Plates by number.
    pub plates: &'a PlateStore,
    /// For each trial the minute from which what waits for it may be set up.
    pub approved: &'a [Minute],
    /// What other runs take of filament that is short; `None`: whether it is there is not minded.
    pub drawn: Option<&'a Drawn>,
}

impl Dating<'_> {
    /// Dates run `run` of a machine, which follows `before`; `None` if it cannot be set up before the horizon, or would stop and need not:
    /// see [`Shop::no_stops`].
    pub fn next(
        &self,
        (machine, run): (usize, usize),
        hands: &HandsProfile,
        before: Option<Dated>,
        loaded: u32,
        plate: PlateId,
    ) -> Option<Dated> {
        let m = &self.shop.machines[machine];
        let content = self.plates.hot(plate);
        let (minutes, _) = self.plates.known(plate, machine);
        // What prints when the search begins is the run before, as far as a belt is concerned.
        let printing = m.printing;
        let free = before.map(|d| d.end).or(printing).unwrap_or(0);
        let approval = if content.special {
            let waits = self.plates.get(plate).waits.iter();
            waits.map(|&t| self.approved[t as usize]).max().unwrap_or(0)
        } else {
            0
        };
        let changes = content.filament != loaded;
        let comes = self.comes(machine, plate, changes);
        // As it was accepted, also where it could go earlier now: somebody counts on it.
        let firm = self.shop.calm.not_before(machine, run);
        let not_before = firm.unwrap_or(0);
        let held = self.shop.holds.of(machine, run);
        let may_follow =
            m.belt && (before.is_some() || printing.is_some()) && !changes && held.is_none();
        let spools = || Spools {
            shop: self.shop,
            milligrams: self.plates.milligrams(plate, machine),
            minutes,
            filament: content.filament,
        };
        // A belt run that waits for its filament is set up: somebody has to put the spool on.
        // The minute at which the run before ends is none in which to look at what it made.
        let looked_at = approval == 0 || approval < free;
        if may_follow && looked_at && content.ready.max(comes).max(not_before) <= free {
            let chain = spools().attended(before.map_or(0, |d| d.chain), free);
            // One that was accepted so stays so.
            let chain = chain.or(firm.map(|_| 0));
            let at_once = chain.and_then(|chain| self.follow(machine, free, minutes, chain));
            if at_once.is_some() {
                return at_once;
            }
        }
        let need = m.turnaround + if changes { m.swap } else { 0 };
        let from = free.max(comes).max(approval).max(held.unwrap_or(0));
        let from = from.max(content.ready.max(not_before) - need);
        let mut dated = self.set_up(machine, hands, from, need, minutes)?;
        let spools = spools();
        let mut chain = spools.attended(0, dated.start);
        // One that was accepted begins when it was said to; and for one piece no other run will do: it begins at once.
        let other = firm.is_none() && held.is_none() && self.divisible(plate);
        if chain.is_none() && other {
            let first = dated.setup;
            let mut next = first;
            while chain.is_none() && next < first.saturating_add(LONGEST_PUT_OFF) {
                let Some(later) = self.set_up(machine, hands, next + PUT_OFF_STEP, need, minutes)
                else {
                    break;
                };
                next = later.setup;
                chain = spools.attended(0, later.start);
                if chain.is_some() {
                    dated = Dated {
                        put_off: true,
                        ..later
                    };
                }
            }
        }
        if chain.is_none() && other && self.shop.no_stops {
            return None;
        }
        Some(Dated {
            // Where one that begins with a full spool must stop, whoever comes then puts the next on.
            chain: chain.filter(|_| m.belt).unwrap_or(0),
            ..dated
        })
    }

    /// Whether a plate could be two.
    fn divisible(&self, plate: PlateId) -> bool {
        let loads = self.plates.get(plate).loads.iter();
        loads.map(|load| load.count).sum::<u32>() > 1
    }

    /// From when on there is filament for a run, as far as other runs leave it some; 0 where it is not short.
    pub fn comes(&self, machine: usize, plate: PlateId, changes: bool) -> Minute {
        let (Some(supply), Some(drawn)) = (&self.shop.supply, self.drawn) else {
            return 0;
        };
        let takes = supply.takes(machine, self.plates.milligrams(plate, machine), changes);
        let filament = self.plates.hot(plate).filament;
        drawn.release(supply, filament, takes)
    }

    /// A belt run that needs nobody, from the minute on at which the one before it ends; `None` if an outage or, where it must
    /// be watched, the bench hours are in its way: then the belt stands, and somebody has to start it again.
    fn follow(&self, machine: usize, start: Minute, minutes: Minute, chain: i64) -> Option<Dated> {
        let m = &self.shop.machines[machine];
        let end = start.checked_add(minutes)?;
        if !m.unattended {
            let w = self.shop.calendar.window_at_or_after(start);
            let window = self.shop.calendar.windows().get(w)?;
            if start < window.open || end > window.close {
                return None;
            }
        }
        clash(&m.outages, start, end).is_none().then_some(Dated {
            setup: start,
            start,
            end,
            window: NO_SETUP,
            chain,
            put_off: false,
        })
    }

    fn set_up(
        &self,
        machine: usize,
        hands: &HandsProfile,
        from: Minute,
        need: Minute,
        minutes: Minute,
    ) -> Option<Dated> {
        let m = &self.shop.machines[machine];
        let windows = self.shop.calendar.windows();
        let inside = need + if m.unattended { 0 } else { minutes };
        let mut from = from;
        let mut w = self.shop.calendar.window_at_or_after(from);
        loop {
            let window = windows.get(w)?;
            let at = hands.earliest(w, from.max(window.open), need);
            if at + inside > window.close {
                w += 1;
                continue;
            }
            match clash(&m.outages, at, at.checked_add(need + minutes)?) {
                Some(until) => {
                    from = until;
                    w = self.shop.calendar.window_at_or_after(from);
                }
                None => {
                    return Some(Dated {
                        setup: at,
                        start: at + need,
                        end: at + need + minutes,
                        window: w as u32,
                        chain: 0,
                        put_off: false,
                    });
                }
            }
        }
    }
}

/// Spools of one run, each full when it goes on.
struct Spools<'a> {
    shop: &'a Shop,
    /// What the run takes, evenly.
    milligrams: i64,
    minutes: Minute,
    filament: u32,
}

impl Spools<'_> {
    /// What is off the last spool at the end of the run, if it starts then with so much off the first; `None` if a spool ends with nobody
    /// there. Somebody who is there during the run before that may put the next one on.
    fn attended(&self, mut off: i64, start: Minute) -> Option<i64> {
        let one = self.shop.spool_at(self.filament, start);
        let (mut printed, mut from) = (0, start);
        while off + self.milligrams - printed > one {
            let lasts = printed + (one - off).max(0);
            let elapsed = i64::from(self.minutes) * lasts / self.milligrams.max(1);
            let until = start + elapsed as Minute;
            let windows = self.shop.calendar.windows();
            let before = windows.partition_point(|window| window.open <= until);
            let window = windows.get(before.checked_sub(1)?)?;
            let change = until.min(window.close - 1);
            if change <= from {
                return None;
            }
            let by = self.milligrams * i64::from(change - start) / i64::from(self.minutes.max(1));
            (printed, off, from) = (by, 0, change);
        }
        Some(off + self.milligrams - printed)
    }
}

/// The end of the first outage that overlaps `[from, to)`.
fn clash(outages: &[Window], from: Minute, to: Minute) -> Option<Minute> {
    outages
        .iter()
        .find(|o| o.open < to && from < o.close)
        .map(|o| o.close)
}
