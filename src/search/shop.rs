//! The scenario as numbers: what the search needs at every move and nothing else.
//!
//! Knows: machines, kinds of piece, the build graph, prices per minute. Must not know: files, text, how a plan looks.
//! Promises: nodes stand in an order in which every node comes after those that it needs.

use crate::calendar::{Calendar, HORIZON_YEARS, Minute, Window, clock_minutes};
use crate::graph::Network;
use crate::plates::{Area, Rectangle};
use crate::routes::PartRoutes;
use crate::scenario::{Hands, Machine, MachineIndex, MachineKind, Scenario};
use crate::units::{Minutes, Seconds};

/// Position of an [`Item`] in [`Shop::items`].
pub type ItemId = u32;
/// Position of a node in [`Shop::nodes`].
pub type NodeId = u32;
/// No filament is loaded.
pub const EMPTY: u32 = u32::MAX;
/// No such node.
pub const NOWHERE: NodeId = NodeId::MAX;

/// A machine as numbers.
#[derive(Clone, Debug)]
pub struct ShopMachine {
    /// Setup minutes without a colour change.
    pub turnaround: Minute,
    /// Further setup minutes for a change.
    pub swap: Minute,
    /// Money lost in a change to each filament.
    pub purge: Vec<f64>,
    /// Money per printing minute: wear and energy.
    pub minute: f64,
    /// Seconds before the first extrusion of each run.
    pub warm_up: f64,
    /// Usable bed; on a belt, its width and the longest stretch.
    pub area: Area,
    /// Millimetres between pieces.
    pub spacing: f64,
    /// Runs follow each other without a setup.
    pub belt: bool,
    /// May print with nobody there.
    pub unattended: bool,
    /// The longest run that can be set up again and again: where somebody must watch it, no longer than the longest
    /// bench hours leave after its setup. `None`: not even the setup fits them.
    pub longest: Option<Minute>,
    /// The same after a setup that changes the filament.
    pub longest_after_change: Option<Minute>,
    /// What is loaded at the start, or [`EMPTY`].
    pub loaded: u32,
    /// Spans out of use.
    pub outages: Vec<Window>,
}

/// One way for one piece to lie on one machine, as numbers.
#[derive(Clone, Copy, Debug)]
pub struct ItemWay {
    /// Footprint, and which right angles it may take.
    pub rectangle: Rectangle,
    /// Lies at an angle only.
    pub diagonal: bool,
    /// Seconds that it adds to a run.
    pub seconds: f64,
    /// Seconds lost at its layers, which pieces on a run share.
    pub layer_seconds: f64,
    /// Printed mass in grams.
    pub grams: f64,
    /// Money of its plastic.
    pub plastic: f64,
}

/// What one piece on a plate is: a kind of length of one class of copies, made in one form.
#[derive(Clone, Debug)]
pub struct Item {
    /// The class of copies that it belongs to.
    pub class: u32,
    /// Position of its form in the part's routes.
    pub form: u32,
    /// Pieces that make one copy, of all kinds.
    pub lengths: u32,
    /// Which of the form's kinds of piece it is.
    pub kind: u32,
    /// Pieces of this kind in one copy.
    pub each: u32,
    /// The first item of the same class and form; the others follow it, one for each kind.
    pub leader: ItemId,
    /// Kinds of piece of its form.
    pub kinds: u32,
    /// Number of the filament.
    pub filament: u32,
    /// Pieces may share a plate when this agrees: same filament and setting.
    pub group: u32,
    /// Shares its plate with nothing.
    pub alone: bool,
    /// Items of the same part, form and kind share this number, and so their ways.
    pub shape: u32,
    /// Gluing minutes per copy.
    pub glue: Minute,
    /// Minutes from gluing until the copy is there.
    pub cure: Minute,
    /// Money per copy: hardware.
    pub hardware: f64,
    /// Least money per piece on any machine, for building a first plan.
    pub cheapest: f64,
}

/// Copies of a part that are wanted for the same thing and are alike in every way.
#[derive(Clone, Debug)]
pub struct Class {
    /// Position of the part in the scenario.
    pub part: u32,
    /// The node that takes them.
    pub node: NodeId,
    /// How many copies.
    pub copies: u32,
    /// Numbers of the leading items, one for each form.
    pub items: Vec<ItemId>,
    /// Printing does not start before.
    pub ready: Minute,
    /// Position in [`Shop::trials`] if the part has trial copies.
    pub trial: Option<u32>,
    /// These copies are the trial.
    pub is_trial: bool,
    /// Seconds of finishing per piece.
    pub finishing: f64,
}

/// A node of the build graph as numbers: an assembly, or the finishing of one part's spares.
#[derive(Clone, Debug)]
pub struct Node {
    /// Position of the assembly in the scenario; `None`: spares.
    pub assembly: Option<u32>,
    /// Nodes that must be complete first; all of smaller index.
    pub needs: Vec<NodeId>,
    /// Bench minutes of its own, without finishing.
    pub bench: Minute,
    /// Elapsed minutes after its work.
    pub cure: Minute,
    /// Due minute; `Minute::MAX` if none.
    pub due: Minute,
    /// Money per minute late.
    pub late: f64,
    /// More urgent first when hands are short: a rank, each node's own.
    pub rank: u32,
    /// Classes that it takes.
    pub classes: Vec<u32>,
}

/// The scenario as numbers.
#[derive(Clone, Debug)]
pub struct Shop {
    /// Dated hours.
    pub calendar: Calendar,
    /// Pairs of hands; `None`: never a limit.
    pub hands: Option<u32>,
    /// The farm.
    pub machines: Vec<ShopMachine>,
    /// What pieces can be.
    pub items: Vec<Item>,
    /// Ways by shape and machine: `ways[shape * machines + machine]`, quickest first.
    pub ways: Vec<Vec<ItemWay>>,
    /// Copies wanted.
    pub classes: Vec<Class>,
    /// The build graph.
    pub nodes: Vec<Node>,
    /// Parts with trial copies: for each its part.
    pub trials: Vec<u32>,
    /// Number of groups of pieces that may share a plate.
    pub groups: u32,
    /// Number of filaments.
    pub filaments: u32,
    /// Money per minute until the last assembly is complete.
    pub each_minute: f64,
    /// Money per bench minute.
    pub bench_minute: f64,
    /// Some form is split, so that gluing must be dated.
    pub has_splits: bool,
    /// Some bench work besides setups must be dated.
    pub has_bench_work: bool,
}

impl Shop {
    /// Puts a scenario, its dated hours and its routes into numbers.
    ///
    /// `routes` holds one entry for each part, none without a form.
    pub fn new(scenario: &Scenario, calendar: Calendar, routes: &[PartRoutes]) -> Self {
        let machines = shop_machines(scenario, &calendar);
        let (mut nodes, mut node_of) = assembly_nodes(scenario, &calendar);
        let mut shop = Shop {
            hands: match scenario.bench.hands {
                Hands::Count(n) => Some(n),
                Hands::Unlimited => None,
            },
            items: Vec::new(),
            ways: Vec::new(),
            classes: Vec::new(),
            trials: Vec::new(),
            groups: 0,
            filaments: scenario.filaments.len() as u32,
            each_minute: scenario.build.each_day.0 / 1440.0,
            bench_minute: scenario.bench.bench_hour.0 / 60.0,
            has_splits: false,
            has_bench_work: false,
            nodes: Vec::new(),
            calendar,
            machines,
        };
        rank_nodes(&mut nodes);
        shop.nodes = nodes;
        shop.take_classes(scenario, &mut node_of);
        shop.take_items(scenario, routes);
        shop.has_splits = shop.items.iter().any(|item| item.lengths > 1);
        shop.has_bench_work = shop.has_splits
            || shop.nodes.iter().any(|n| n.bench > 0)
            || shop.classes.iter().any(|c| c.finishing > 0.0);
        shop
    }

    /// The ways of an item on a machine, quickest first; empty if it cannot be made there.
    pub fn ways(&self, item: ItemId, machine: usize) -> &[ItemWay] {
        let shape = self.items[item as usize].shape as usize;
        &self.ways[shape * self.machines.len() + machine]
    }

    /// All items of a form of a class, one for each kind of piece, by its leading item.
    pub fn team(&self, leader: ItemId) -> std::ops::Range<ItemId> {
        leader..leader + self.items[leader as usize].kinds
    }

    /// Bench minutes of a node, `finishing` seconds of its pieces included.
    pub fn node_minutes(&self, node: usize, finishing: f64) -> Minute {
        let finishing = clock_minutes(Seconds(finishing).whole_minutes());
        self.nodes[node].bench.saturating_add(finishing)
    }

    /// Bench minutes of a node whose copies are all made in the fewest lengths.
    pub fn least_node_minutes(&self, node: usize) -> Minute {
        let finishing = self.nodes[node].classes.iter().map(|&class| {
            let class = &self.classes[class as usize];
            let lengths = class.items.iter().map(|&i| self.items[i as usize].lengths);
            class.finishing * f64::from(class.copies) * f64::from(lengths.min().unwrap_or(1))
        });
        self.node_minutes(node, finishing.sum())
    }

    /// The class of an item.
    pub fn class_of(&self, item: ItemId) -> &Class {
        &self.classes[self.items[item as usize].class as usize]
    }

    /// One class for each part and assembly, trial copies apart; spares go to a node of their own.
    fn take_classes(&mut self, scenario: &Scenario, node_of: &mut [NodeId]) {
        for (index, part) in scenario.parts.iter().enumerate() {
            // Whoever is most urgent gets the trial copies: they are printed first anyway.
            let mut takers: Vec<(NodeId, u32)> = scenario
                .assemblies
                .iter()
                .enumerate()
                .flat_map(|(a, assembly)| {
                    let node = node_of[a];
                    assembly
                        .parts
                        .iter()
                        .filter(move |(p, _)| p.0 == index)
                        .map(move |&(_, n)| (node, n))
                })
                .collect();
            takers.sort_by_key(|&(node, _)| self.nodes[node as usize].rank);
            let taken: u32 = takers.iter().map(|&(_, n)| n).sum();
            if part.copies() > taken {
                let node = self.nodes.len() as NodeId;
                self.nodes.push(Node {
                    assembly: None,
                    needs: Vec::new(),
                    bench: 0,
                    cure: 0,
                    due: Minute::MAX,
                    late: 0.0,
                    rank: node,
                    classes: Vec::new(),
                });
                takers.push((node, part.copies() - taken));
            }
            let ready = part
                .ready
                .map_or(0, |at| self.calendar.minute_from(at).max(0));
            let has_rest = part.trial > 0 && part.trial < part.copies();
            let trial = has_rest.then(|| {
                self.trials.push(index as u32);
                (self.trials.len() - 1) as u32
            });
            let mut trial_left = if has_rest { part.trial } else { 0 };
            for (node, count) in takers {
                let first = trial_left.min(count);
                trial_left -= first;
                for (copies, is_trial) in [(first, true), (count - first, false)] {
                    if copies > 0 {
                        self.nodes[node as usize]
                            .classes
                            .push(self.classes.len() as u32);
                        self.classes.push(Class {
                            part: index as u32,
                            node,
                            copies,
                            items: Vec::new(),
                            ready,
                            trial,
                            is_trial,
                            finishing: part.finishing.0,
                        });
                    }
                }
            }
        }
    }

    /// One item for each class, form and kind of piece; one shape for each part, form and kind.
    fn take_items(&mut self, scenario: &Scenario, routes: &[PartRoutes]) {
        let mut groups: Vec<(usize, usize)> = Vec::new();
        let mut shape_of: Vec<Vec<u32>> = vec![Vec::new(); scenario.parts.len()];
        let mut shapes = 0;
        for (index, part) in scenario.parts.iter().enumerate() {
            let filament = &scenario.filaments[part.filament.0];
            for form in &routes[index].forms {
                shape_of[index].push(shapes);
                shapes += form.kinds.len() as u32;
                let kinds = 0..form.kinds.len();
                let machines = 0..self.machines.len();
                for (kind, machine) in kinds.flat_map(|k| machines.clone().map(move |m| (k, m))) {
                    let ways = form
                        .ways_of(kind, MachineIndex(machine))
                        .map(|way| ItemWay {
                            rectangle: Rectangle {
                                width: way.size[0].0,
                                depth: way.size[1].0,
                                straight: way.straight,
                                turned: way.turned,
                            },
                            diagonal: !way.straight && !way.turned,
                            seconds: way.own_time.0,
                            layer_seconds: way.layer_time.0,
                            grams: way.grams.0,
                            plastic: (way.grams * filament.price_kg).0,
                        })
                        .collect();
                    // Positions stay those of the form's ways, so all of them stay or none.
                    let longest = self.machines[machine].longest;
                    let possible = form
                        .ways_of(kind, MachineIndex(machine))
                        .any(|way| longest.is_some_and(|most| way.alone.0 <= i64::from(most)));
                    self.ways.push(if possible { ways } else { Vec::new() });
                }
            }
        }
        for class in 0..self.classes.len() {
            let part_index = self.classes[class].part as usize;
            let part = &scenario.parts[part_index];
            let key = (part.filament.0, part.settings.0);
            let group = groups.iter().position(|&g| g == key).unwrap_or_else(|| {
                groups.push(key);
                groups.len() - 1
            });
            for (position, form) in routes[part_index].forms.iter().enumerate() {
                let leader = self.items.len() as ItemId;
                self.classes[class].items.push(leader);
                for (number, kind) in form.kinds.iter().enumerate() {
                    let shape = shape_of[part_index][position] + number as u32;
                    let cheapest = self
                        .machines
                        .iter()
                        .enumerate()
                        .flat_map(|(m, machine)| {
                            self.ways[shape as usize * self.machines.len() + m]
                                .iter()
                                .map(move |way| way.plastic + way.seconds / 60.0 * machine.minute)
                        })
                        .fold(f64::INFINITY, f64::min);
                    self.items.push(Item {
                        class: class as u32,
                        form: position as u32,
                        lengths: form.lengths,
                        kind: number as u32,
                        each: kind.positions.len() as u32,
                        leader,
                        kinds: form.kinds.len() as u32,
                        filament: part.filament.0 as u32,
                        group: group as u32,
                        alone: part.alone,
                        shape,
                        glue: clock_minutes(form.glue),
                        cure: clock_minutes(form.cure),
                        hardware: form.hardware.0,
                        cheapest,
                    });
                }
            }
        }
        self.groups = groups.len() as u32;
    }
}

fn shop_machines(scenario: &Scenario, calendar: &Calendar) -> Vec<ShopMachine> {
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
            }
        })
        .collect()
}

/// Length of the longest bench hours that come about once a month or more often.
///
/// The night on which the clock goes back has an hour more: one run a year could use it, and a plan that counts on it
/// for each of many pieces would wait for years.
fn longest_window(calendar: &Calendar) -> Minute {
    let mut lengths: Vec<Minute> = calendar.windows().iter().map(|w| w.length()).collect();
    lengths.sort_unstable_by_key(|&length| std::cmp::Reverse(length));
    let months = 12 * HORIZON_YEARS as usize;
    let often = lengths.get(months).or(lengths.first());
    often.copied().unwrap_or(0)
}

/// The longest run after a setup, where the longest bench hours are so long. See [`ShopMachine::longest`].
fn longest_run(machine: &Machine, open: Minute, setup: Minutes) -> Option<Minute> {
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

/// Assemblies in topological order, and where each went.
fn assembly_nodes(scenario: &Scenario, calendar: &Calendar) -> (Vec<Node>, Vec<NodeId>) {
    let edges: Vec<(usize, usize)> = scenario
        .assemblies
        .iter()
        .enumerate()
        .flat_map(|(a, assembly)| assembly.needs.iter().map(move |b| (b.0, a)))
        .collect();
    let network = Network::new(scenario.assemblies.len(), &edges)
        // Validation refuses a scenario whose `needs` run in a ring.
        .expect("validated: needs has no ring");
    let order = network.order();
    let mut node_of = vec![NOWHERE; scenario.assemblies.len()];
    for (position, &a) in order.iter().enumerate() {
        node_of[a] = position as NodeId;
    }
    let nodes = order
        .iter()
        .map(|&a| {
            let assembly = &scenario.assemblies[a];
            Node {
                assembly: Some(a as u32),
                needs: assembly.needs.iter().map(|b| node_of[b.0]).collect(),
                bench: clock_minutes(assembly.bench),
                cure: clock_minutes(assembly.cure),
                due: assembly.due.map_or(Minute::MAX, |at| calendar.minute(at)),
                late: if assembly.due.is_some() {
                    assembly.late.0 / 1440.0
                } else {
                    0.0
                },
                rank: 0,
                classes: Vec::new(),
            }
        })
        .collect();
    (nodes, node_of)
}

/// Ranks nodes by the latest moment at which each may complete for every stage after it to be in time.
fn rank_nodes(nodes: &mut [Node]) {
    let mut latest: Vec<i64> = nodes
        .iter()
        .map(|n| {
            if n.due == Minute::MAX {
                i64::from(Minute::MAX)
            } else {
                i64::from(n.due)
            }
        })
        .collect();
    for node in (0..nodes.len()).rev() {
        let start = latest[node] - i64::from(nodes[node].bench) - i64::from(nodes[node].cure);
        for &need in &nodes[node].needs {
            latest[need as usize] = latest[need as usize].min(start);
        }
    }
    let mut order: Vec<usize> = (0..nodes.len()).collect();
    order.sort_by_key(|&n| (latest[n], n));
    for (rank, node) in order.into_iter().enumerate() {
        nodes[node].rank = rank as u32;
    }
}
