//! Shops drawn by chance, as strategies: everything that a scenario may say, in small numbers.
//!
//! What is drawn names others by any number (a part its filament, say); putting a shop together takes such numbers
//! modulo what there is. So a drawn shop can be made smaller bit by bit, and every shop keeps the rules that validation
//! promises.

mod build;
mod farm;
mod hours;
pub mod prism;
mod tiny;

pub use build::{DrawnAssembly, DrawnPart};
pub use tiny::{Tiny, tiny_shops};

use std::collections::BTreeSet;

use beamyard::scenario::{
    Assembly, AssemblyIndex, Bench, Build, Filament, FilamentIndex, Hands, Joint, Machine, Part,
    PartIndex, Scenario, Settings, SettingsIndex,
};
use beamyard::units::{Minutes, Money};
use chrono::{Days, TimeDelta};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

use hours::{Hours, Start};

/// Any small shop: most have a plan, some have no route or no time.
pub fn small_shops() -> impl Strategy<Value = Scenario> {
    let farm = (
        vec(farm::machine(), 1..=3),
        farm::filaments(),
        farm::settings(),
        farm::joint(),
    );
    let wanted = (
        vec(build::part(), 1..=8),
        vec(build::assembly(), 1..=4),
        any::<bool>(),
    );
    let bench = (hours::hours(), hours::start(), hours::hands());
    (farm, wanted, bench, prices(), any::<bool>()).prop_map(
        |(farm, wanted, bench, prices, unattended)| {
            let (machines, filaments, settings, joint) = farm;
            let (parts, assemblies, backwards) = wanted;
            let (hours, start, hands) = bench;
            Drawn {
                machines,
                filaments,
                settings,
                joint,
                parts,
                assemblies,
                backwards,
                hours,
                start,
                hands,
                prices,
                unattended,
            }
            .shop()
        },
    )
}

/// Money per day until all is complete, per bench hour, per kilowatt-hour.
fn prices() -> impl Strategy<Value = [f64; 3]> {
    (
        select(vec![0.0, 1.0, 5.0]),
        select(vec![0.0, 6.0, 15.0]),
        select(vec![0.0, 0.3]),
    )
        .prop_map(|(day, bench, energy)| [day, bench, energy])
}

/// All that is drawn for a shop, not yet put together.
pub struct Drawn {
    pub machines: Vec<farm::DrawnMachine>,
    pub filaments: Vec<Filament>,
    pub settings: Vec<Settings>,
    pub joint: Joint,
    pub parts: Vec<DrawnPart>,
    pub assemblies: Vec<DrawnAssembly>,
    /// What is needed stands after what needs it.
    pub backwards: bool,
    pub hours: Hours,
    pub start: Start,
    pub hands: Hands,
    pub prices: [f64; 3],
    pub unattended: bool,
}

impl Drawn {
    /// The shop, with every number in range.
    pub fn shop(self) -> Scenario {
        let start = self.start.moment();
        let machines: Vec<Machine> = self
            .machines
            .iter()
            .enumerate()
            .map(|(at, drawn)| drawn.machine(at, start, &self.filaments, self.unattended))
            .collect();
        let parts: Vec<Part> = self
            .parts
            .iter()
            .enumerate()
            .map(|(at, drawn)| drawn.part(at, start, self.fields(machines.len())))
            .collect();
        let assemblies = self.assembly_list();
        let away: BTreeSet<_> = self
            .hours
            .away
            .iter()
            .filter_map(|&days| start.date_naive().checked_add_days(Days::new(days)))
            .collect();
        Scenario {
            file: "drawn.yaml".into(),
            build: Build {
                name: "Drawn".into(),
                scale: 1.0,
                start,
                zone: self.start.zone(),
                each_day: Money(self.prices[0]),
                confidence: 0.95,
                spool_margin: 0.03,
                firm: None,
                churn: Money(1.0),
                original: Default::default(),
                earlier: Vec::new(),
            },
            currency: "EUR".into(),
            measured: Vec::new(),
            bench: Bench {
                hours: self.hours.week(),
                away,
                hands: self.hands,
                unattended: self.unattended,
                bench_hour: Money(self.prices[1]),
                energy_kwh: Money(self.prices[2]),
            },
            machines,
            filaments: self.filaments,
            settings: self.settings,
            joints: vec![self.joint],
            parts,
            assemblies,
        }
    }

    fn fields(&self, machines: usize) -> build::Fields {
        build::Fields {
            machines,
            filaments: self.filaments.len(),
            settings: self.settings.len(),
        }
    }

    fn assembly_list(&self) -> Vec<Assembly> {
        let count = self.assemblies.len();
        // What needs others comes after them, or all is turned round.
        let place = |at: usize| {
            if self.backwards { count - 1 - at } else { at }
        };
        let mut list: Vec<Assembly> = (0..count)
            .map(|at| {
                let drawn = &self.assemblies[at];
                let needs = (0..at).filter(|need| drawn.needs >> need & 1 == 1);
                Assembly {
                    id: format!("assembly-{}", place(at)),
                    parts: Vec::new(),
                    needs: needs.map(|need| AssemblyIndex(place(need))).collect(),
                    places: Default::default(),
                    lift: None,
                    bench: Minutes(drawn.bench),
                    cure: Minutes(drawn.cure),
                    due: drawn
                        .due
                        .map(|minutes| self.start.moment() + TimeDelta::minutes(minutes)),
                    late: Money(drawn.late),
                }
            })
            .collect();
        if self.backwards {
            list.reverse();
        }
        for (at, part) in self.parts.iter().enumerate() {
            for (assembly, entry) in list.iter_mut().enumerate() {
                // One number more than there are assemblies: that copy is for none.
                let takes = part
                    .takers
                    .iter()
                    .filter(|&&taker| usize::from(taker) % (count + 1) == assembly);
                let takes = takes.count() as u32;
                if takes > 0 {
                    entry.parts.push((PartIndex(at), takes));
                }
            }
        }
        list
    }
}

/// A drawn number as a filament that there is.
fn filament(drawn: u8, count: usize) -> FilamentIndex {
    FilamentIndex(usize::from(drawn) % count)
}

/// A drawn number as a setting that there is.
fn setting(drawn: u8, count: usize) -> SettingsIndex {
    SettingsIndex(usize::from(drawn) % count)
}
