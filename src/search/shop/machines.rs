//! The farm as numbers.
//!
//! Knows: machines, their outages, how long bench hours are. Must not know: parts, assemblies.
//! Promises: one entry for each machine, in the scenario's order.

use crate::calendar::{Calendar, HORIZON_YEARS, Minute, clock_minutes};
use crate::plates::Area;
use crate::routes::RunLimits;
use crate::scenario::{Machine, MachineIndex, MachineKind, Scenario};
use crate::units::Minutes;

use super::{Begun, EMPTY, Shop, ShopMachine};

pub(super) fn shop_machines(
    scenario: &Scenario,
    calendar: &Calendar,
    begun: &Begun,
) -> Vec<ShopMachine> {
    let open = longest_window(calendar);
    scenario
        .machines
        .iter()
        .enumerate()
        .map(|(index, machine)| {
            let area = usable(machine);
            let belt = machine.is_belt();
            ShopMachine {
                turnaround: clock_minutes(machine.turnaround),
                swap: clock_minutes(machine.swap),
                purge: scenario
                    .filaments
                    .iter()
                    .map(|f| (machine.purge * f.price_kg).0)
                    .collect(),
                minute: machine.hourly.0 / 60.0
                    + machine.watts.0 / 1000.0 / 60.0 * scenario.bench.energy_kwh.0,
                warm_up: machine.warm_up.0,
                area,
                spacing: machine.spacing.0,
                belt,
                unattended: machine.unattended,
                longest: longest_run(machine, open, machine.turnaround),
                longest_after_change: longest_run(machine, open, machine.turnaround + machine.swap),
                loaded: machine.loaded.map_or(EMPTY, |f| f.0 as u32),
                outages: calendar.outages(MachineIndex(index)).to_vec(),
                printing: begun
                    .printing
                    .get(index)
                    .copied()
                    .flatten()
                    .filter(|_| belt),
            }
        })
        .collect()
}

/// How long a run may be on each machine of a scenario.
pub fn run_limits(scenario: &Scenario, calendar: &Calendar) -> RunLimits {
    let open = longest_window(calendar);
    let longest = |machine: &Machine| longest_run(machine, open, machine.turnaround);
    let machines = scenario.machines.iter();
    RunLimits::new(machines.map(|machine| minutes(longest(machine))).collect())
}

impl Shop {
    /// How long a run may be on each machine.
    pub fn run_limits(&self) -> RunLimits {
        let machines = self.machines.iter();
        RunLimits::new(machines.map(|machine| minutes(machine.longest)).collect())
    }
}

fn minutes(longest: Option<Minute>) -> Option<Minutes> {
    longest.map(|longest| Minutes(i64::from(longest)))
}

/// Length of the longest bench hours that come about once a month or more often.
///
/// The night on which the clock goes back has an hour more: one run a year could use it, and a plan that counts on it
/// for each of many pieces would wait for years.
pub(super) fn longest_window(calendar: &Calendar) -> Minute {
    let mut lengths: Vec<Minute> = calendar.windows().iter().map(|w| w.length()).collect();
    lengths.sort_unstable_by_key(|&length| std::cmp::Reverse(length));
    let months = 12 * HORIZON_YEARS as usize;
    let often = lengths.get(months).or(lengths.first());
    often.copied().unwrap_or(0)
}

/// The longest run after a setup, where the longest bench hours are so long. See [`ShopMachine::longest`].
pub(super) fn longest_run(machine: &Machine, open: Minute, setup: Minutes) -> Option<Minute> {
    let left = i64::from(open) - setup.0;
    match (left, machine.unattended) {
        (..0, _) => None,
        (_, true) => Some(Minute::MAX),
        // No more than `open`, which is a minute.
        (_, false) => Some(left as Minute),
    }
}

/// Bed without its margins; on a belt, the width without its margins and the longest stretch.
pub fn usable(machine: &Machine) -> Area {
    let margin = 2.0 * machine.margin.0;
    match &machine.kind {
        MachineKind::Bed { bed, .. } => Area {
            width: bed[0].0 - margin,
            depth: bed[1].0 - margin,
        },
        MachineKind::Belt {
            section, longest, ..
        } => Area {
            width: section[0].0 - margin,
            depth: longest.0,
        },
    }
}
