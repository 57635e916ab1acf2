//! How soon a piece can be printed, and a copy be there, if nothing else were to be made.
//!
//! Knows: bench windows, outages, one piece on its way. Must not know: what else the machines have to do.
//! Promises: no plan prints the piece sooner.

use crate::calendar::{Calendar, Minute, Window};
use crate::routes::{Form, PartRoutes, Way};
use crate::scenario::{FilamentIndex, Machine, Scenario};

use super::presence::Presence;

/// What it takes to find the first date of a piece.
pub(super) struct Heads<'a> {
    scenario: &'a Scenario,
    calendar: &'a Calendar,
    presence: &'a Presence,
}

impl<'a> Heads<'a> {
    pub(super) fn new(
        scenario: &'a Scenario,
        calendar: &'a Calendar,
        presence: &'a Presence,
    ) -> Self {
        Self {
            scenario,
            calendar,
            presence,
        }
    }

    /// By form and way: the first minute by which the piece can be printed; `None` past the calendar.
    pub(super) fn of_part(&self, routes: &PartRoutes) -> Vec<Vec<Option<Minute>>> {
        let part = &self.scenario.parts[routes.part.0];
        let ready = part
            .ready
            .map_or(0, |ready| self.calendar.minute_from(ready).max(0));
        let of_way = |way: &Way| {
            let machine = &self.scenario.machines[way.machine.0];
            let outages = self.calendar.outages(way.machine);
            first_end(
                self.presence.windows(),
                outages,
                machine,
                swap(machine, part.filament),
                ready,
                way.alone.value(),
            )
        };
        routes
            .forms
            .iter()
            .map(|form| form.ways.iter().map(of_way).collect())
            .collect()
    }

    /// When a copy of the form is there at the earliest, its pieces printed then; `None` past the calendar.
    pub(super) fn copy_there(&self, form: &Form, printed: Minute) -> Option<Minute> {
        let glued = self.presence.earliest_end(printed, form.glue.value())?;
        Some(glued.saturating_add(Minute::try_from(form.cure.value()).ok()?))
    }
}

/// Minutes of the colour change before the first run of a filament.
fn swap(machine: &Machine, filament: FilamentIndex) -> i64 {
    if machine.loaded == Some(filament) {
        0
    } else {
        machine.swap.value()
    }
}

/// Nobody need be there.
const ALWAYS: [Window; 1] = [Window {
    open: 0,
    close: Minute::MAX,
}];

/// The first end of a run of `minutes` that does not start before `ready`, on a machine that has done nothing yet; its first
/// setup takes the `turnaround` and the `swap`.
fn first_end(
    windows: &[Window],
    outages: &[Window],
    machine: &Machine,
    swap: i64,
    ready: Minute,
    minutes: i64,
) -> Option<Minute> {
    let minutes = Minute::try_from(minutes).ok()?;
    let turnaround = Minute::try_from(machine.turnaround.value()).ok()?;
    let first_setup = turnaround.checked_add(Minute::try_from(swap).ok()?)?;
    let set_up =
        first_start(windows, first_setup, first_setup, outages, 0)?.checked_add(first_setup)?;
    if machine.is_belt() {
        // After a first setup, whatever was printed then, a run may begin with nobody there.
        let (hours, inside) = if machine.unattended {
            (&ALWAYS[..], 0)
        } else {
            (windows, minutes)
        };
        return first_start(hours, inside, minutes, outages, set_up.max(ready))?
            .checked_add(minutes);
    }
    let end = |setup: Minute, from: Minute| {
        let whole = setup.checked_add(minutes)?;
        let inside = if machine.unattended { setup } else { whole };
        first_start(windows, inside, whole, outages, from)?.checked_add(whole)
    };
    // Either this is the run that brings the filament in, or one of those after it, whose setup is shorter.
    let bringing = end(first_setup, ready.saturating_sub(first_setup));
    let following = end(turnaround, set_up.max(ready.saturating_sub(turnaround)));
    bringing.into_iter().chain(following).min()
}

/// The first minute from `from` on whose next `inside` minutes lie in one of `windows`, and whose next `total` minutes are clear of
/// outages.
fn first_start(
    windows: &[Window],
    inside: Minute,
    total: Minute,
    outages: &[Window],
    from: Minute,
) -> Option<Minute> {
    let first = windows.partition_point(|window| window.close <= from);
    windows[first..].iter().find_map(|window| {
        let mut start = window.open.max(from);
        while start.checked_add(inside)? <= window.close {
            let end = start.checked_add(total)?;
            match outages
                .iter()
                .find(|outage| outage.open < end && start < outage.close)
            {
                None => return Some(start),
                Some(outage) => start = outage.close,
            }
        }
        None
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOWS: [Window; 2] = [
        Window {
            open: 100,
            close: 160,
        },
        Window {
            open: 400,
            close: 460,
        },
    ];

    fn start(inside: Minute, total: Minute, outages: &[Window], from: Minute) -> Option<Minute> {
        first_start(&WINDOWS, inside, total, outages, from)
    }

    #[test]
    fn what_needs_somebody_waits_for_a_window_that_is_long_enough() {
        assert_eq!(start(20, 200, &[], 0), Some(100));
        assert_eq!(start(20, 200, &[], 140), Some(140));
        // 20 min do not fit after 141 any more.
        assert_eq!(start(20, 200, &[], 141), Some(400));
        assert_eq!(start(61, 61, &[], 0), None);
    }

    #[test]
    fn what_would_meet_an_outage_waits_until_after_it() {
        let outage = [Window {
            open: 130,
            close: 135,
        }];
        assert_eq!(start(20, 30, &outage, 0), Some(100));
        assert_eq!(start(20, 31, &outage, 0), Some(135));
        assert_eq!(start(30, 31, &outage, 0), Some(400));
    }
}
