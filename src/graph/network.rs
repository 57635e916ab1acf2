//! Nodes and which comes before which.
//!
//! Knows: numbers from 0. Must not know: time.
//! Promises: a [`Network`] has no ring.

use petgraph::algo::{astar, kosaraju_scc, toposort};
use petgraph::graph::{DiGraph, NodeIndex};

/// A ring: each node comes before the next, and the last before the first.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a ring of {} nodes, each before the next", .0.len())]
pub struct Ring(pub Vec<usize>);

/// A ring among `nodes` numbered from 0, if there is one: the shortest through the lowest-numbered node that is on any,
/// beginning with that node.
///
/// `before` holds pairs of which the first comes before the second; pairs that name a node beyond `nodes` are ignored.
pub fn cycle(nodes: usize, before: &[(usize, usize)]) -> Option<Vec<usize>> {
    let graph = graph(nodes, before);
    let first = kosaraju_scc(&graph)
        .into_iter()
        .filter(|component| match component[..] {
            // One node alone is on a ring only if it comes before itself.
            [node] => graph.contains_edge(node, node),
            _ => true,
        })
        .flatten()
        .min()?;
    let mut next: Vec<NodeIndex> = graph.neighbors(first).collect();
    next.sort_unstable();
    let (_, back) = next
        .into_iter()
        .filter_map(|next| astar(&graph, next, |node| node == first, |_| 1usize, |_| 0))
        .min_by_key(|(steps, _)| *steps)?;
    // `back` leads from the node after `first` to `first`.
    let mut ring: Vec<usize> = back.iter().map(|node| node.index()).collect();
    ring.rotate_right(1);
    Some(ring)
}

fn graph(nodes: usize, before: &[(usize, usize)]) -> DiGraph<(), ()> {
    let mut graph = DiGraph::with_capacity(nodes, before.len());
    for _ in 0..nodes {
        graph.add_node(());
    }
    for &(first, second) in before {
        if first < nodes && second < nodes {
            graph.update_edge(NodeIndex::new(first), NodeIndex::new(second), ());
        }
    }
    graph
}

/// Nodes in an order that is possible.
#[derive(Clone, Debug)]
pub struct Network {
    order: Vec<usize>,
}

impl Network {
    /// `nodes` numbered from 0 and the pairs of which the first comes before the second.
    ///
    /// Pairs that name a node beyond `nodes` are ignored. Fails with a ring if there is one.
    pub fn new(nodes: usize, before: &[(usize, usize)]) -> Result<Self, Ring> {
        let graph = graph(nodes, before);
        let Ok(order) = toposort(&graph, None) else {
            return Err(Ring(cycle(nodes, before).unwrap_or_default()));
        };
        Ok(Self {
            order: order.into_iter().map(NodeIndex::index).collect(),
        })
    }

    /// Every node, after all that come before it.
    pub fn order(&self) -> &[usize] {
        &self.order
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_ring_is_named_in_full_from_its_lowest_node() {
        // 3 → 1 → 2 → 3, reached from 0 and leading to 4, which are on no ring.
        let before = [(0, 3), (3, 1), (1, 2), (2, 3), (2, 4)];
        assert_eq!(cycle(5, &before), Some(vec![1, 2, 3]));
        let ring = Network::new(5, &before).map(|_| ()).expect_err("a ring");
        assert_eq!(ring, Ring(vec![1, 2, 3]));
    }

    #[test]
    fn a_node_before_itself_is_a_ring_of_one() {
        assert_eq!(cycle(3, &[(0, 1), (1, 1)]), Some(vec![1]));
    }

    #[test]
    fn of_several_rings_through_a_node_the_shortest_is_named() {
        // 0 → 1 → 2 → 0 and 0 → 2 → 0.
        assert_eq!(
            cycle(3, &[(0, 1), (1, 2), (2, 0), (0, 2)]),
            Some(vec![0, 2])
        );
    }

    #[test]
    fn without_a_ring_none_is_found() {
        assert_eq!(cycle(0, &[]), None);
        assert_eq!(cycle(3, &[(0, 1), (0, 2), (1, 2), (0, 1)]), None);
    }

    #[test]
    fn pairs_beyond_the_nodes_are_ignored() {
        assert_eq!(cycle(2, &[(0, 1), (1, 2), (2, 0)]), None);
        assert!(Network::new(2, &[(0, 7)]).is_ok());
    }

    #[test]
    fn a_chain_of_a_hundred_thousand_does_not_exhaust_the_stack() {
        let nodes = 100_000;
        let mut before: Vec<(usize, usize)> = (1..nodes).map(|node| (node - 1, node)).collect();
        let network = Network::new(nodes, &before).expect("no ring");
        assert_eq!(network.order()[nodes - 1], nodes - 1);
        before.push((nodes - 1, 0));
        assert_eq!(cycle(nodes, &before).map(|ring| ring.len()), Some(nodes));
    }

    /// Whether nodes remain when those without a predecessor are taken away until nothing changes.
    fn nodes_remain(nodes: usize, before: &[(usize, usize)]) -> bool {
        let mut left: Vec<usize> = (0..nodes).collect();
        loop {
            let waits = |node: usize| before.iter().any(|&(a, b)| b == node && left.contains(&a));
            let (waiting, free): (Vec<usize>, Vec<usize>) = left.iter().partition(|&&n| waits(n));
            if free.is_empty() {
                return !waiting.is_empty();
            }
            left = waiting;
        }
    }

    proptest! {
        #[test]
        fn an_order_is_possible_or_a_true_ring_is_named(
            nodes in 1usize..9,
            pairs in proptest::collection::vec((0usize..9, 0usize..9), 0..16),
        ) {
            let before: Vec<_> = pairs.into_iter().filter(|&(a, b)| a < nodes && b < nodes).collect();
            match Network::new(nodes, &before) {
                Ok(network) => {
                    prop_assert!(!nodes_remain(nodes, &before));
                    prop_assert_eq!(cycle(nodes, &before), None);
                    let place = |node| network.order().iter().position(|&n| n == node);
                    for (a, b) in before {
                        prop_assert!(place(a) < place(b));
                    }
                    prop_assert_eq!(network.order().len(), nodes);
                }
                Err(Ring(ring)) => {
                    prop_assert!(nodes_remain(nodes, &before));
                    prop_assert!(!ring.is_empty());
                    for (i, &node) in ring.iter().enumerate() {
                        let next = ring[(i + 1) % ring.len()];
                        prop_assert!(before.contains(&(node, next)), "{node} is not before {next}");
                    }
                }
            }
        }
    }
}
