//! Rules about the assemblies: what they take, what they need, when they are due.

use std::collections::{HashMap, HashSet, VecDeque};

use petgraph::algo::kosaraju_scc;
use petgraph::graph::{DiGraph, NodeIndex};

use super::Facts;
use crate::scenario::collector::{At, Collector};
use crate::scenario::raw::{RawAssembly, RawPart};

/// Assemblies take no more of a part than there is, and had better take all of it.
pub(super) fn counts_match_quantities(facts: &Facts<'_>, collector: &mut Collector) {
    // Without assemblies one is made that takes everything.
    if facts.raw.assemblies.is_empty() {
        return;
    }
    let mut takers: HashMap<usize, Vec<(&RawAssembly, u32)>> = HashMap::new();
    for assembly in &facts.raw.assemblies {
        for (name, count) in &assembly.parts {
            if let Some(part) = facts.names.parts.find(&name.value) {
                takers.entry(part).or_default().push((assembly, *count));
            }
        }
    }
    for (at, part) in facts.raw.parts.iter().enumerate() {
        let takers = takers.get(&at).map_or(&[][..], Vec::as_slice);
        match_count(part, takers, collector);
    }
}

fn match_count(part: &RawPart, takers: &[(&RawAssembly, u32)], collector: &mut Collector) {
    let Some(quantity) = part.quantity.as_ref() else {
        return;
    };
    let taken: u64 = takers.iter().map(|(_, count)| u64::from(*count)).sum();
    let wanted = u64::from(quantity.value);
    let field = format!("{}.quantity", part.path);
    let found = quantity.value.to_string();
    if takers.is_empty() {
        let rule = "no assembly takes this part";
        let fix = "add it to the `parts` of an assembly, or leave it out";
        collector.warn(part.spot, &part.path, rule, "", fix);
    } else if taken > wanted {
        let by: Vec<String> = takers
            .iter()
            .take(5)
            .map(|(assembly, count)| format!("{count} in {}", assembly.path))
            .collect();
        collector.error(
            quantity.spot,
            &field,
            format!(
                "is less than the assemblies take: {taken} ({})",
                by.join(", ")
            ),
            &found,
            format!("write `quantity: {taken}`, or let the assemblies take fewer"),
        );
    } else if taken < wanted {
        collector.warn(
            quantity.spot,
            &field,
            format!(
                "is more than the assemblies take, {taken}; the other {} are extra",
                wanted - taken
            ),
            &found,
            format!(
                "write `quantity: {taken}`, or `spares: {}` besides, or let the assemblies take more",
                wanted - taken
            ),
        );
    }
}

/// No assembly needs itself, at once or by way of others.
pub(super) fn nothing_needs_itself(facts: &Facts<'_>, collector: &mut Collector) {
    let assemblies = &facts.raw.assemblies;
    let mut graph: DiGraph<usize, ()> = DiGraph::new();
    let nodes: Vec<NodeIndex> = (0..assemblies.len()).map(|at| graph.add_node(at)).collect();
    for (at, assembly) in assemblies.iter().enumerate() {
        for name in assembly
            .needs
            .as_ref()
            .into_iter()
            .flat_map(|needs| &needs.value)
        {
            match facts.names.assemblies.find(&name.value) {
                // A second one of the same name has been complained of; its needs are not the first one's.
                Some(needed) if needed == at => collector.error(
                    name.spot,
                    &format!("{}.needs", assembly.path),
                    "an assembly cannot need itself",
                    &name.value,
                    "leave it out",
                ),
                Some(needed) => {
                    graph.update_edge(nodes[at], nodes[needed], ());
                }
                None => {}
            }
        }
    }
    for component in kosaraju_scc(&graph) {
        // Those that all need each other; the first one written begins the tale.
        let Some(first) = component.iter().min().filter(|_| component.len() > 1) else {
            continue;
        };
        let ring = shortest_ring(&graph, *first, &component.iter().copied().collect());
        refuse_ring(
            &ring
                .iter()
                .map(|node| &assemblies[graph[*node]])
                .collect::<Vec<_>>(),
            collector,
        );
    }
}

/// The shortest way from a node back to itself, within its component; begins with the node, ends before it.
fn shortest_ring(
    graph: &DiGraph<usize, ()>,
    first: NodeIndex,
    component: &HashSet<NodeIndex>,
) -> Vec<NodeIndex> {
    let mut before: HashMap<NodeIndex, NodeIndex> = HashMap::new();
    let mut queue = VecDeque::from([first]);
    while let Some(node) = queue.pop_front() {
        for next in graph
            .neighbors(node)
            .filter(|next| component.contains(next))
        {
            if next == first {
                let mut ring = vec![node];
                while let Some(previous) = ring.last().and_then(|last| before.get(last)) {
                    ring.push(*previous);
                }
                ring.reverse();
                return ring;
            }
            if !before.contains_key(&next) {
                before.insert(next, node);
                queue.push_back(next);
            }
        }
    }
    vec![first]
}

fn refuse_ring(ring: &[&RawAssembly], collector: &mut Collector) {
    let Some(first) = ring.first() else { return };
    let names: Vec<&str> = ring
        .iter()
        .chain([first])
        .map(|assembly| assembly.id.as_ref().map_or("?", |id| id.value.as_str()))
        .collect();
    let spot = first.needs.as_ref().map_or(first.spot, |needs| needs.spot);
    collector.error(
        spot,
        &format!("{}.needs", first.path),
        format!(
            "assemblies need each other in a ring: {}",
            names.join(" needs ")
        ),
        "",
        "take one of these `needs` out",
    );
}

/// A stage is due after the start, and within the years that are planned.
pub(super) fn due_dates_follow_the_start(facts: &Facts<'_>, collector: &mut Collector) {
    for assembly in &facts.raw.assemblies {
        let field = format!("{}.due", assembly.path);
        facts.refuse_remote(&assembly.due, &field, collector);
        if let (Some(due), Some(begin), Some(start)) = (
            assembly.due.as_ref(),
            facts.raw.build.start.as_ref(),
            facts.start,
        ) && facts.moment(due.value) <= start
        {
            collector.error(
                due.spot,
                &field,
                format!(
                    "must be after the build's start, {}",
                    begin.value.format("%Y-%m-%d %H:%M")
                ),
                &due.value.format("%Y-%m-%d %H:%M").to_string(),
                "write a later date, or an earlier `build.start`",
            );
        }
    }
}

/// A part that is not ready before its stage is due makes the stage late for certain.
pub(super) fn parts_are_ready_before_they_are_due(facts: &Facts<'_>, collector: &mut Collector) {
    for assembly in &facts.raw.assemblies {
        let Some(due) = assembly.due.as_ref() else {
            continue;
        };
        for (name, _) in &assembly.parts {
            let part = facts.names.parts.find(&name.value);
            // A found name's position is that of a part.
            let part = part.map(|at| &facts.raw.parts[at]);
            if let Some(part) = part
                && let Some(At { value: ready, spot }) = part.ready.as_ref()
                && facts.moment(*ready) >= facts.moment(due.value)
            {
                collector.warn(
                    *spot,
                    &format!("{}.ready", part.path),
                    format!(
                        "is not before {} is due, {}",
                        assembly.path,
                        due.value.format("%Y-%m-%d %H:%M")
                    ),
                    &ready.format("%Y-%m-%d %H:%M").to_string(),
                    "the stage will be late: write an earlier `ready`, or a later `due`",
                );
            }
        }
    }
}

/// A price for lateness means something only with a date.
pub(super) fn lateness_has_a_date(facts: &Facts<'_>, collector: &mut Collector) {
    for assembly in &facts.raw.assemblies {
        if let Some(late) = assembly.late.as_ref()
            && assembly.late_written
            && assembly.due.is_absent()
        {
            collector.warn(
                late.spot,
                &format!("{}.late", assembly.path),
                "has no effect without a date",
                &late.value.to_string(),
                "write `due` too, or leave `late` out",
            );
        }
    }
}

/// An assembly takes or needs something.
pub(super) fn assemblies_do_something(facts: &Facts<'_>, collector: &mut Collector) {
    for assembly in &facts.raw.assemblies {
        let needs = assembly
            .needs
            .as_ref()
            .is_none_or(|needs| !needs.value.is_empty());
        if assembly.parts.is_empty() && !needs {
            collector.warn(
                assembly.spot,
                &assembly.path,
                "takes no parts and needs no other assembly",
                "",
                "add `parts` or `needs`",
            );
        }
    }
}
