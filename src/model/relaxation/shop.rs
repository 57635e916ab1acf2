//! The machines of a scenario, put together where they are alike or too many, and what pieces take of them.
//!
//! Knows: machines, outages, what pieces take. Must not know: dates of assemblies, the linear program.
//! Promises: a group takes no more, and can do no less, than each of its machines.

use std::collections::{BTreeMap, BTreeSet};

use crate::calendar::{Calendar, Window};
use crate::routes::PartRoutes;
use crate::scenario::{FilamentIndex, Machine, MachineIndex, Scenario};

use super::pieces::{self, Company, Take};
use super::presence::Presence;
use super::site::Site;
use super::supply::{Attendance, Supply};

/// Machines that are counted as one.
pub(super) struct Group {
    /// For people: the first of its machines.
    pub(super) name: String,
    machines: Vec<usize>,
    pub(super) belt: bool,
    /// Least of its machines: money per minute at work, minutes until the first extrusion, minutes of hands per run.
    pub(super) minute: f64,
    pub(super) warm_up: f64,
    pub(super) turnaround: f64,
    /// Filaments that some machine of it has at the build's start.
    loaded: BTreeSet<FilamentIndex>,
    /// What all of them together can do by a date.
    pub(super) supply: Supply,
}

/// The farm as the relaxation sees it.
pub(super) struct Shop<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) groups: Vec<Group>,
    /// By machine.
    pub(super) group_of: Vec<usize>,
    /// By part: its group and take, for each way that no other makes needless.
    pub(super) takes: Vec<Vec<(usize, Take)>>,
    /// By part.
    pub(super) companies: Vec<Company>,
}

impl<'a> Shop<'a> {
    /// With more than `most_groups` of machines that are alike, those that differ are put together as well.
    pub(super) fn new(
        scenario: &'a Scenario,
        calendar: &Calendar,
        presence: &Presence,
        routes: &[PartRoutes],
        most_groups: usize,
    ) -> Self {
        let (members, alike) = groups(scenario, calendar, most_groups);
        let mut group_of = vec![0; scenario.machines.len()];
        for (group, machines) in members.iter().enumerate() {
            for &machine in machines {
                group_of[machine] = group;
            }
        }
        let takes = pieces::takes(scenario, routes, &group_of, alike);
        let groups = members
            .into_iter()
            .map(|machines| group(scenario, calendar, presence, machines, &takes.longest_run))
            .collect();
        Self {
            scenario,
            groups,
            group_of,
            takes: takes.by_part,
            companies: routes
                .iter()
                .map(|part| pieces::company(scenario, part))
                .collect(),
        }
    }

    /// What bringing a filament onto a group takes once, in money and in minutes of the machine; nothing where a bed has it already.
    ///
    /// Proof: the first run of a filament on a machine follows one of another, or an empty machine, unless the machine began with
    /// it; that is a colour change. On a belt it needs a setup in either case, and belt runs are not charged any other.
    pub(super) fn arrival(&self, group: usize, filament: FilamentIndex) -> (f64, f64) {
        let group = &self.groups[group];
        let bench = self.scenario.bench.bench_hour.value() / 60.0;
        let price = self.scenario.filaments[filament.0].price_kg;
        let loaded = group.loaded.contains(&filament);
        let of = |machine: &Machine| {
            let swap = if loaded { 0 } else { machine.swap.value() };
            let setup = if group.belt {
                machine.turnaround.value()
            } else {
                0
            };
            let minutes = (swap + setup) as f64;
            let purge = if loaded {
                0.0
            } else {
                (machine.purge * price).value()
            };
            (bench * minutes + purge, minutes)
        };
        let machines = group
            .machines
            .iter()
            .map(|&m| of(&self.scenario.machines[m]));
        machines
            .reduce(|one, other| (one.0.min(other.0), one.1.min(other.1)))
            .unwrap_or((0.0, 0.0))
    }
}

/// Machines by group, and whether all machines of each group are alike in everything that a plan could feel.
fn groups(scenario: &Scenario, calendar: &Calendar, most: usize) -> (Vec<Vec<usize>>, bool) {
    let mut alike: Vec<Vec<usize>> = Vec::new();
    for machine in 0..scenario.machines.len() {
        match alike
            .iter_mut()
            .find(|group| are_alike(scenario, calendar, group[0], machine))
        {
            Some(group) => group.push(machine),
            None => alike.push(vec![machine]),
        }
    }
    if alike.len() <= most {
        return (alike, true);
    }
    // Those next to each other in the money that a volume costs lose least by being put together; belts stay among themselves.
    let mut machines: Vec<usize> = (0..scenario.machines.len()).collect();
    let money = |&machine: &usize| {
        let machine = &scenario.machines[machine];
        Site::new(scenario, machine).minute / machine.flow.value()
    };
    let belt = |machine: &usize| scenario.machines[*machine].is_belt();
    machines.sort_by(|a, b| {
        belt(a)
            .cmp(&belt(b))
            .then(money(a).total_cmp(&money(b)))
            .then(a.cmp(b))
    });
    let size = machines.len().div_ceil(most.saturating_sub(1).max(1));
    let chunks = machines
        .chunk_by(|a, b| belt(a) == belt(b))
        .flat_map(|kind| kind.chunks(size));
    (chunks.map(<[usize]>::to_vec).collect(), false)
}

/// Whether nothing but their names and what they have loaded tells two machines apart.
fn are_alike(scenario: &Scenario, calendar: &Calendar, a: usize, b: usize) -> bool {
    let numbers = |m: &Machine| {
        let kind = match m.kind {
            crate::scenario::MachineKind::Bed {
                bed: [x, y],
                height,
            } => [0.0, x.value(), y.value(), height.value()],
            crate::scenario::MachineKind::Belt {
                section: [x, z],
                longest,
                ..
            } => [1.0, x.value(), z.value(), longest.value()],
        };
        let rest = [
            m.margin.value(),
            m.spacing.value(),
            m.flow.value(),
            m.layer_time.value(),
            m.warm_up.value(),
            m.turnaround.value() as f64,
            m.swap.value() as f64,
            m.purge.value(),
            m.watts.value(),
            m.hourly.value(),
        ];
        (kind, rest)
    };
    let (one, other) = (&scenario.machines[a], &scenario.machines[b]);
    numbers(one) == numbers(other)
        && one.unattended == other.unattended
        && one.materials == other.materials
        && calendar.outages(MachineIndex(a)) == calendar.outages(MachineIndex(b))
        // What is measured on one of them corrects its own estimates most.
        && !scenario.measured.iter().any(|one| one.machine.0 == a || one.machine.0 == b)
        && scenario.parts.iter().all(|part| {
            part.only[a] == part.only[b]
                && part.minutes[a] == part.minutes[b]
                && part.toolpaths.get(a) == part.toolpaths.get(b)
        })
}

fn group(
    scenario: &Scenario,
    calendar: &Calendar,
    presence: &Presence,
    machines: Vec<usize>,
    longest_run: &[f64],
) -> Group {
    let sites: Vec<Site> = machines
        .iter()
        .map(|&m| Site::new(scenario, &scenario.machines[m]))
        .collect();
    let least = |of: &dyn Fn(&Site) -> f64| sites.iter().map(of).fold(f64::INFINITY, f64::min);
    // The longest run of any of them holds for all; then those with the same outages are one entry.
    let longest = machines.iter().map(|&m| longest_run[m]).fold(0.0, f64::max);
    let mut entries: BTreeMap<(bool, &[Window]), usize> = BTreeMap::new();
    for &m in &machines {
        *entries
            .entry((
                scenario.machines[m].unattended,
                calendar.outages(MachineIndex(m)),
            ))
            .or_insert(0) += 1;
    }
    let belt = sites.iter().any(|site| site.machine.is_belt());
    let attendance = |unattended| match (unattended, belt) {
        (false, _) => Attendance::Always,
        (true, false) => Attendance::AtSetups {
            longest_run: longest,
        },
        (true, true) => Attendance::AtFirstSetup,
    };
    let entries: Vec<(Attendance, &[Window], usize)> = entries
        .into_iter()
        .map(|((unattended, outages), count)| (attendance(unattended), outages, count))
        .collect();
    Group {
        name: machines
            .first()
            .map(|&m| scenario.machines[m].id.clone())
            .unwrap_or_default(),
        belt,
        minute: least(&|site| site.minute),
        warm_up: least(&|site| site.warm_up()),
        turnaround: least(&|site| site.turnaround()),
        loaded: machines
            .iter()
            .filter_map(|&m| scenario.machines[m].loaded)
            .collect(),
        supply: Supply::new(presence, &entries),
        machines,
    }
}
