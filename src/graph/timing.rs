//! Earliest and latest times, the critical path, float, of a network of which nothing is planned.
//!
//! Knows: a network, durations, dates as whole numbers of one unit. Must not know: what the unit is, presence.
//! Promises: moved later by its float a node does not delay the whole; moved by one more it does.

use super::Network;

/// When a node can happen at the earliest and must at the latest, if the whole is to end as early as it can.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timing {
    /// Earliest start.
    pub earliest_start: i64,
    /// Earliest finish.
    pub earliest_finish: i64,
    /// Latest start.
    pub latest_start: i64,
    /// Latest finish.
    pub latest_finish: i64,
}

impl Timing {
    /// By how much it may be late without the whole ending later (total float).
    pub fn float(self) -> i64 {
        self.latest_start - self.earliest_start
    }
}

impl Network {
    /// The forward and the backward pass of the critical path method.
    ///
    /// `durations` and `releases` (no node starts before its own) are by node; a node without one takes 0.
    /// Source: J. E. Kelley, M. R. Walker, "Critical-path planning and scheduling", Proc. Eastern Joint Computer Conf.
    /// (1959) 160–173 (from memory).
    pub fn forward_backward(&self, durations: &[i64], releases: &[i64]) -> Vec<Timing> {
        let of = |values: &[i64], node: usize| values.get(node).copied().unwrap_or(0);
        let nodes = self.order().len();
        let mut finish = vec![0; nodes];
        for &node in self.order() {
            let start = self.before(node).iter().map(|&b| finish[b]).max();
            let release = of(releases, node);
            finish[node] = start.map_or(release, |s: i64| s.max(release)) + of(durations, node);
        }
        let end = finish.iter().copied().max().unwrap_or(0);
        let mut latest_finish = vec![end; nodes];
        for &node in self.order().iter().rev() {
            for &after in self.after(node) {
                let latest_start = latest_finish[after] - of(durations, after);
                latest_finish[node] = latest_finish[node].min(latest_start);
            }
        }
        (0..nodes)
            .map(|node| Timing {
                earliest_start: finish[node] - of(durations, node),
                earliest_finish: finish[node],
                latest_start: latest_finish[node] - of(durations, node),
                latest_finish: latest_finish[node],
            })
            .collect()
    }

    /// A critical path: nodes without float that follow each other without a wait up to the end of the whole. It begins
    /// with a node that waits for nothing but its release. Of several the one of the lowest numbers, from the end back.
    pub fn critical_path(&self, timings: &[Timing]) -> Vec<usize> {
        let end = timings.iter().map(|timing| timing.earliest_finish).max();
        let mut at = (0..timings.len()).find(|&node| Some(timings[node].earliest_finish) == end);
        let mut path = Vec::new();
        while let Some(node) = at {
            path.push(node);
            let start = timings[node].earliest_start;
            let mut before = self.before(node).iter().copied();
            at = before.find(|&one| timings[one].earliest_finish == start);
        }
        path.reverse();
        path
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_release_delays_what_waits_for_it_and_begins_the_critical_path() {
        // 0 (5) → 2 (3), 1 (2, released at 7) → 2. 1 ends at 9, 2 at 12; 0 may end at 9: float 4.
        let network = Network::new(3, &[(0, 2), (1, 2)]).expect("no ring");
        let timings = network.forward_backward(&[5, 2, 3], &[0, 7, 0]);
        assert_eq!(timings[2].earliest_start, 9);
        assert_eq!(
            timings.iter().map(|t| t.float()).collect::<Vec<_>>(),
            [4, 0, 0]
        );
        assert_eq!(network.critical_path(&timings), [1, 2]);
    }

    #[test]
    fn a_network_without_nodes_has_no_times() {
        let network = Network::new(0, &[]).expect("no ring");
        let timings = network.forward_backward(&[], &[]);
        assert!(timings.is_empty() && network.critical_path(&timings).is_empty());
    }

    /// Some nodes, pairs in which the lower number comes first, and a duration for each.
    fn any_network() -> impl Strategy<Value = (Network, Vec<i64>)> {
        let pairs = proptest::collection::vec((0usize..8, 0usize..8), 0..14);
        (pairs, proptest::collection::vec(0i64..20, 8)).prop_map(|(pairs, durations)| {
            let before: Vec<_> = pairs.into_iter().filter(|(a, b)| a < b).collect();
            let network = Network::new(8, &before).expect("lower numbers come first");
            (network, durations)
        })
    }

    proptest! {
        #[test]
        fn a_delay_within_float_does_not_lengthen_the_whole_and_one_more_does(
            (network, durations) in any_network(),
            releases in proptest::collection::vec(0i64..20, 8),
        ) {
            let length = |timings: &[Timing]| timings.iter().map(|t| t.earliest_finish).max();
            let timings = network.forward_backward(&durations, &releases);
            for node in 0..8 {
                let mut longer = durations.clone();
                longer[node] += timings[node].float();
                prop_assert_eq!(length(&network.forward_backward(&longer, &releases)), length(&timings));
                longer[node] += 1;
                prop_assert!(length(&network.forward_backward(&longer, &releases)) > length(&timings));
            }
            let path = network.critical_path(&timings);
            prop_assert!(path.iter().all(|&node| timings[node].float() == 0));
            let worked: i64 = path.iter().map(|&node| durations[node]).sum();
            prop_assert_eq!(Some(worked + releases[path[0]]), length(&timings));
        }
    }
}
