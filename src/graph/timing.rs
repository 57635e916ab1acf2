//! Earliest and latest times, the critical path, float.
//!
//! Knows: a network, durations, dates as whole numbers of one unit. Must not know: what the unit is, presence.
//! Promises: moved later by its float a node delays nothing that counts; moved by one more it does.

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

/// A node of a plan that has dates.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dated {
    /// When it is complete.
    pub complete: i64,
    /// From its start until it is complete.
    pub elapsed: i64,
    /// When it should be complete.
    pub due: Option<i64>,
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

    /// By how much each node of a plan may complete later, so that no other becomes late, none that is late becomes
    /// later, and none completes after `finish`.
    ///
    /// What follows may move along, taking the elapsed time that it takes in the plan; work that would have to cross a
    /// night which the plan does not make it cross takes longer. `dated` is by node.
    pub fn floats(&self, dated: &[Dated], finish: i64) -> Vec<i64> {
        debug_assert_eq!(dated.len(), self.order().len());
        let mut latest: Vec<i64> = dated
            .iter()
            .map(|node| match node.due {
                Some(due) => due.max(node.complete).min(finish),
                None => finish,
            })
            .collect();
        for &node in self.order().iter().rev() {
            for &after in self.after(node) {
                latest[node] = latest[node].min(latest[after] - dated[after].elapsed);
            }
        }
        latest
            .iter()
            .zip(dated)
            .map(|(latest, node)| (latest - node.complete).max(0))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn dated(complete: i64, elapsed: i64, due: Option<i64>) -> Dated {
        Dated {
            complete,
            elapsed,
            due,
        }
    }

    #[test]
    fn an_assembly_floats_until_its_due_date_its_successors_latest_start_or_the_end() {
        // 0 → 2 and 1 → 2; 3 alone. The build ends at 100.
        // 2: complete 100 after 10, so no float; its latest start is 90.
        // 0: complete 60, no date: may move to 90, float 30.
        // 1: complete 70, due 75: float 5.
        // 3: complete 40, no date, nothing after: float 60, to the end.
        let network = Network::new(4, &[(0, 2), (1, 2)]).expect("no ring");
        let plan = [
            dated(60, 20, None),
            dated(70, 20, Some(75)),
            dated(100, 10, None),
            dated(40, 40, None),
        ];
        assert_eq!(network.floats(&plan, 100), [30, 5, 0, 60]);
    }

    #[test]
    fn what_follows_may_move_along_as_far_as_its_own_date_allows() {
        // 0 → 1 → 2: 1 starts at 20 right after 0, completes at 30 and is due at 45; 2 starts at 60.
        // 1 may move by 15 (its date comes before 2's start at 60), so 0 may too.
        let network = Network::new(3, &[(0, 1), (1, 2)]).expect("no ring");
        let plan = [
            dated(20, 20, None),
            dated(30, 10, Some(45)),
            dated(80, 20, None),
        ];
        assert_eq!(network.floats(&plan, 80), [15, 15, 0]);
    }

    #[test]
    fn what_is_late_already_has_no_float_nor_what_it_waits_for() {
        // 0 → 1: 1 should have been complete at 25 and is at 30, started at 20, the moment 0 is complete.
        let network = Network::new(2, &[(0, 1)]).expect("no ring");
        let plan = [dated(20, 20, None), dated(30, 10, Some(25))];
        assert_eq!(network.floats(&plan, 50), [0, 0]);
    }

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
        assert!(network.floats(&[], 10).is_empty());
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

    /// The plan with node `late` completing later by `by`, and all after it moved only where they must.
    fn delayed(network: &Network, plan: &[Dated], late: usize, by: i64) -> Vec<Dated> {
        let mut moved = plan.to_vec();
        moved[late].complete += by;
        for &node in network.order() {
            for &before in network.before(node) {
                let earliest = moved[before].complete + plan[node].elapsed;
                moved[node].complete = moved[node].complete.max(earliest);
            }
        }
        moved
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

        #[test]
        fn a_delay_within_a_plans_float_makes_nothing_later_that_counts_and_one_more_does(
            (network, durations) in any_network(),
            waits in proptest::collection::vec(0i64..20, 8),
            dues in proptest::collection::vec(proptest::option::of(0i64..120), 8),
        ) {
            // A plan in which nodes start some time after they could.
            let timings = network.forward_backward(&durations, &[]);
            let mut plan: Vec<Dated> = (0..8)
                .map(|n| dated(timings[n].earliest_finish, durations[n], dues[n]))
                .collect();
            for &node in network.order() {
                let start = network.before(node).iter().map(|&b| plan[b].complete).max().unwrap_or(0);
                plan[node].complete = start + waits[node] + durations[node];
            }
            let finish = plan.iter().map(|node| node.complete).max().unwrap_or(0);
            let harmless = |moved: &[Dated]| {
                moved.iter().zip(&plan).all(|(new, old)| {
                    let limit = old.due.map_or(finish, |due| due.max(old.complete));
                    new.complete <= limit && new.complete <= finish
                })
            };
            for (node, float) in network.floats(&plan, finish).into_iter().enumerate() {
                prop_assert!(harmless(&delayed(&network, &plan, node, float)));
                prop_assert!(!harmless(&delayed(&network, &plan, node, float + 1)));
            }
        }
    }
}
