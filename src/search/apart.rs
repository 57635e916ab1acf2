//! Farms that are several farms: which machines, copies and stages have nothing to do with which others.
//!
//! Knows: the shop as numbers. Must not know: moves, temperatures, prices of plates.
//! Promises: the best plans of the parts, put together, are a best plan of the whole: a sum is least when each of its terms is.
//!
//! **Why nothing is lost.** A plan's cost is a sum over runs (printing, plastic, purges, setups, each by its machine alone), copies (hardware, gluing, finishing,
//! each by its form alone), nodes (lateness, by when what they wait for is there) and the time until the last node is complete. Two machines are
//! kept in one part where some copy can be made on both, or where a node that may cost lateness waits for copies of both, through whatever other nodes.
//! So each term is settled by the choices of one part, once no term looks at several: nothing is paid by the day until the end, hands are never
//! short, and no run waits for a trial (one setup dates them all).

use std::sync::Arc;

use petgraph::unionfind::UnionFind;

use crate::calendar::Minute;

use super::fitter::Fitter;
use super::portfolio::PooledSheet;
use super::shop::{NodeId, Shop};
use super::snapshot::Snapshot;

/// One of the farms that a farm falls into: the shop as it is, with only the copies of this part wanted.
#[derive(Clone, Debug)]
pub struct Part {
    /// The shop; machines, items and nodes keep their numbers.
    pub shop: Shop,
    /// Its machines, in order; at least one.
    pub machines: Vec<usize>,
}

/// The parts that a farm falls into when neither hands nor filament are ever short, by their first machine; fewer than two: it is
/// one.
///
/// Where they are short their costs do not add up; but any bound that heeds neither may still be summed over them.
pub fn parts(shop: &Shop) -> Vec<Part> {
    if shop.each_minute > 0.0 || !shop.trials.is_empty() || !shop.joins.is_empty() {
        return Vec::new();
    }
    let farm = Farm::of(shop);
    let mut parts: Vec<(usize, Vec<usize>)> = Vec::new();
    for machine in 0..shop.machines.len() {
        let name = farm.name_of_machine(machine);
        match parts.iter_mut().find(|(other, _)| *other == name) {
            Some((_, machines)) => machines.push(machine),
            None => parts.push((name, vec![machine])),
        }
    }
    // Machines on which nothing is wanted are a part each, with nothing to plan.
    let busy = |name: &usize| (0..shop.classes.len()).any(|c| farm.name_of_class(c) == *name);
    parts.retain(|(name, _)| busy(name));
    if parts.len() < 2 {
        return Vec::new();
    }
    parts
        .into_iter()
        .map(|(name, machines)| {
            let mut shop = shop.clone();
            for (class, wanted) in shop.classes.iter_mut().enumerate() {
                if farm.name_of_class(class) != name {
                    wanted.copies = 0;
                }
            }
            Part { shop, machines }
        })
        .collect()
}

/// Machines, classes and nodes, each in a set with all that it has to do with.
struct Farm {
    sets: Vec<usize>,
    classes: usize,
}

impl Farm {
    fn of(shop: &Shop) -> Self {
        let (machines, classes) = (shop.machines.len(), shop.classes.len());
        let class_at = |class: usize| machines + class;
        let node_at = |node: NodeId| machines + classes + node as usize;
        let mut sets = UnionFind::new(machines + classes + shop.nodes.len());
        for (c, class) in shop.classes.iter().enumerate() {
            for &leader in &class.items {
                for item in shop.team(leader) {
                    for machine in 0..machines {
                        if !shop.ways(item, machine).is_empty() {
                            sets.union(class_at(c), machine);
                        }
                    }
                }
            }
        }
        let dear = dear_nodes(shop);
        for (n, node) in shop.nodes.iter().enumerate() {
            if dear[n] {
                for &class in &node.classes {
                    sets.union(node_at(n as NodeId), class_at(class as usize));
                }
                for &need in &node.needs {
                    sets.union(node_at(n as NodeId), node_at(need));
                }
            }
        }
        Self {
            sets: sets.into_labeling(),
            classes: machines,
        }
    }

    fn name_of_machine(&self, machine: usize) -> usize {
        self.sets[machine]
    }

    fn name_of_class(&self, class: usize) -> usize {
        self.sets[self.classes + class]
    }
}

/// For each node whether lateness depends on it: its own, or that of a node that needs it.
fn dear_nodes(shop: &Shop) -> Vec<bool> {
    let mut dear: Vec<bool> = shop
        .nodes
        .iter()
        .map(|node| node.late > 0.0 && node.due != Minute::MAX)
        .collect();
    // A node comes after all that it needs.
    for n in (0..shop.nodes.len()).rev() {
        if dear[n] {
            for &need in &shop.nodes[n].needs {
                dear[need as usize] = true;
            }
        }
    }
    dear
}

impl Part {
    /// A whole queue's share of this part, as a queue of its own with its own cost.
    pub fn share_of(&self, whole: &Snapshot) -> Snapshot {
        let mut share = whole.clone();
        for (machine, sheet) in share.sheets.iter_mut().enumerate() {
            if !self.machines.contains(&machine) {
                *sheet = Arc::default();
            }
        }
        for class in self.shop.classes.iter().filter(|class| class.copies == 0) {
            for &leader in &class.items {
                for item in self.shop.team(leader) {
                    share.copies[item as usize] = 0;
                }
            }
        }
        Snapshot::of(&share.restore(&self.shop, &mut Fitter::default()))
    }

    /// The sheets of this part's machines.
    pub fn sheets_of(&self, pool: &[PooledSheet]) -> Vec<PooledSheet> {
        let own = |sheet: &&PooledSheet| self.machines.contains(&sheet.0);
        pool.iter().filter(own).cloned().collect()
    }
}

/// The queue of queues of parts; one for each.
pub fn together(shop: &Shop, queues: &[(&Part, &Snapshot)]) -> Option<Snapshot> {
    let mut whole = queues.first()?.1.clone();
    for (part, queue) in &queues[1..] {
        for &machine in &part.machines {
            whole.sheets[machine] = Arc::clone(&queue.sheets[machine]);
        }
        // No copy is wanted in two parts.
        for (sum, &copies) in whole.copies.iter_mut().zip(&queue.copies) {
            *sum += copies;
        }
    }
    Some(Snapshot::of(&whole.restore(shop, &mut Fitter::default())))
}

/// Machines that may make something that is wanted; all of them if there is none.
pub fn wanted_machines(shop: &Shop) -> Vec<usize> {
    let wanted = |machine: &usize| {
        shop.items.iter().enumerate().any(|(id, item)| {
            shop.classes[item.class as usize].copies > 0
                && !shop.ways(id as u32, *machine).is_empty()
        })
    };
    let machines: Vec<usize> = (0..shop.machines.len()).filter(wanted).collect();
    if machines.is_empty() {
        (0..shop.machines.len()).collect()
    } else {
        machines
    }
}
