//! A tide clock, built by hand: a small shop and a plan for it in which every figure was worked out on paper.
//!
//! Three machines (two beds, a belt), two filaments, a part in lengths, a trial, a spare, a part that is printed alone,
//! an outage, one pair of hands, and an assembly that needs another. All in January 2027, one hour ahead of UTC.

mod plan;
mod shop;

pub use plan::{cost, ends, plan};
pub use shop::{shop, span};

use beamyard::plan::{Plan, Run, Work};
use beamyard::scenario::{
    AssemblyIndex, FilamentIndex, JointIndex, MachineIndex, PartIndex, SettingsIndex,
};
use beamyard::units::Millimetres;
use chrono::{DateTime, Utc};

pub const TALL: MachineIndex = MachineIndex(0);
pub const WIDE: MachineIndex = MachineIndex(1);
pub const BELT: MachineIndex = MachineIndex(2);
pub const RED: FilamentIndex = FilamentIndex(0);
pub const BLUE: FilamentIndex = FilamentIndex(1);
pub const STRONG: SettingsIndex = SettingsIndex(0);
pub const LIGHT: SettingsIndex = SettingsIndex(1);
pub const ROD: JointIndex = JointIndex(0);
pub const PILLAR: PartIndex = PartIndex(0);
pub const BRACKET: PartIndex = PartIndex(1);
pub const DIAL: PartIndex = PartIndex(2);
pub const RAIL: PartIndex = PartIndex(3);
pub const STAND: AssemblyIndex = AssemblyIndex(0);
pub const CLOCK: AssemblyIndex = AssemblyIndex(1);

/// A moment of January 2027 by the clock on the wall: `at("11 08:10")`.
pub fn at(text: &str) -> DateTime<Utc> {
    let (day, time) = text.split_once(' ').expect("a day and a time");
    format!("2027-01-{day}T{time}:00+01:00")
        .parse()
        .expect("a day and a time")
}

/// A stretch of work on one day: `work("12 08:00", "09:00")`.
pub fn work(from: &str, to: &str) -> Work {
    let (day, _) = from.split_once(' ').expect("a day and a time");
    Work {
        from: at(from),
        to: at(&format!("{day} {to}")),
    }
}

/// The run of this name.
pub fn run<'a>(plan: &'a mut Plan, id: &str) -> &'a mut Run {
    let named = plan.runs.iter_mut().find(|run| run.id == id);
    named.expect("a run of this name")
}

fn mm<const N: usize>(lengths: [f64; N]) -> [Millimetres; N] {
    lengths.map(Millimetres)
}
