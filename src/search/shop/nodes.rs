//! The build graph as numbers, and the copies that its nodes take.
//!
//! Knows: assemblies, parts and their copies. Must not know: machines, routes, plates.
//! Promises: nodes stand in topological order, spares last.

use crate::calendar::{Calendar, Minute, clock_minutes};
use crate::graph::Network;
use crate::routes::PartRoutes;
use crate::scenario::Scenario;

use super::{Begun, Class, NOWHERE, Node, NodeId, Shop};

impl Shop {
    /// One class for each part and assembly, trial copies apart; spares go to a node of their own.
    pub(super) fn take_classes(
        &mut self,
        scenario: &Scenario,
        routes: &[PartRoutes],
        begun: &Begun,
        node_of: &[NodeId],
    ) {
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
            let mut spare = None;
            if part.copies() > taken || begun.has_spare(index) {
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
                    there: 0,
                    finishing: 0.0,
                });
                spare = Some(node);
                takers.push((node, part.copies() - taken));
            }
            self.take_joins(routes, begun, index, node_of, spare);
            let ready = part
                .ready
                .map_or(0, |at| self.calendar.minute_from(at).max(0));
            // Numbers tell which half-made copies are of the trial.
            let asked = begun.trial_numbers.get(index).copied();
            let of_trial = |number: u32| asked.is_some_and(|asked| number <= asked);
            let there = begun.trials.get(index).copied().flatten();
            let tried = part.trial > 0
                || there.is_some()
                || begun.open_of(index).any(|copy| of_trial(copy.number));
            let rest = part.trial < part.copies()
                || begun.open_of(index).any(|copy| !of_trial(copy.number));
            let has_rest = tried && rest;
            let trial = has_rest.then(|| {
                self.trials.push(index as u32);
                self.trial_there.push(there);
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
                            open: None,
                        });
                    }
                }
            }
            for copy in begun.open_of(index) {
                let Some(node) = copy.assembly.map(|a| node_of[a]).or(spare) else {
                    continue;
                };
                let class = self.classes.len() as u32;
                self.nodes[node as usize].classes.push(class);
                self.classes.push(Class {
                    part: index as u32,
                    node,
                    copies: 1,
                    items: Vec::new(),
                    ready,
                    trial,
                    is_trial: has_rest && of_trial(copy.number),
                    finishing: part.finishing.0,
                    open: Some(copy.clone()),
                });
            }
        }
    }
}

/// Assemblies in topological order, and where each went.
pub(super) fn assembly_nodes(scenario: &Scenario, calendar: &Calendar) -> (Vec<Node>, Vec<NodeId>) {
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
                there: 0,
                finishing: 0.0,
            }
        })
        .collect();
    (nodes, node_of)
}

/// Ranks nodes by the latest moment at which each may complete for every stage after it to be in time.
pub(super) fn rank_nodes(nodes: &mut [Node]) {
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
