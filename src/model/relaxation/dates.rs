//! When assemblies can be complete at the earliest, and by when their pieces and their work must be done for a date.
//!
//! Knows: the build graph, presence, how soon single pieces can be printed. Must not know: how much work machines have.
//! Promises: earliest dates are not later, latest dates not earlier, than in any plan.

use crate::calendar::Minute;
use crate::graph::Network;
use crate::routes::PartRoutes;
use crate::scenario::{Assembly, Scenario};
use crate::units::Seconds;

use super::presence::Presence;

/// The build graph with the least bench minutes of its nodes.
pub(super) struct Build<'a> {
    pub(super) assemblies: &'a [Assembly],
    /// Every assembly after all that it needs.
    order: Vec<usize>,
    /// By assembly: its own bench minutes and the finishing of its pieces, least.
    pub(super) work: Vec<i64>,
    /// By assembly: the least minutes of hands that it takes, gluing included.
    pub(super) hands: Vec<i64>,
}

/// What must be done by when so that something is complete by its date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Deadline {
    pub(super) assembly: usize,
    /// Pieces printed, split copies glued.
    pub(super) there: Minute,
    /// Bench work done.
    pub(super) worked: Minute,
}

impl<'a> Build<'a> {
    pub(super) fn new(scenario: &'a Scenario, routes: &[PartRoutes]) -> Self {
        let assemblies = &scenario.assemblies;
        let finishing = |assembly: &Assembly| -> Seconds {
            let pieces = assembly.parts.iter().map(|&(part, copies)| {
                let fewest = routes[part.0]
                    .forms
                    .iter()
                    .map(|form| form.lengths)
                    .min()
                    .unwrap_or(0);
                scenario.parts[part.0].finishing * (f64::from(copies) * f64::from(fewest))
            });
            pieces.sum()
        };
        let gluing = |assembly: &Assembly| -> i64 {
            let copies = assembly.parts.iter().map(|&(part, copies)| {
                let least = routes[part.0]
                    .forms
                    .iter()
                    .map(|form| form.glue.value())
                    .min()
                    .unwrap_or(0);
                least * i64::from(copies)
            });
            copies.sum()
        };
        let work: Vec<i64> = assemblies
            .iter()
            .map(|a| a.bench.value() + finishing(a).whole_minutes().value())
            .collect();
        Self {
            assemblies,
            order: in_order(assemblies),
            hands: assemblies
                .iter()
                .zip(&work)
                .map(|(assembly, work)| work + gluing(assembly))
                .collect(),
            work,
        }
    }

    /// The assemblies that some of `targets` need, themselves included.
    pub(super) fn closure(&self, targets: &[usize]) -> Vec<usize> {
        let mut inside = vec![false; self.assemblies.len()];
        for &target in targets {
            inside[target] = true;
        }
        for &a in self.order.iter().rev() {
            if inside[a] {
                for need in &self.assemblies[a].needs {
                    inside[need.0] = true;
                }
            }
        }
        (0..inside.len()).filter(|&a| inside[a]).collect()
    }

    /// By assembly: when it can be complete at the earliest, given when all its pieces can be there; `None` past the calendar.
    ///
    /// Work begins when pieces and needs are there, goes on whenever somebody is there, and then cures: no plan is faster.
    pub(super) fn earliest(
        &self,
        presence: &Presence,
        pieces_there: &[Option<Minute>],
    ) -> Vec<Option<Minute>> {
        let mut complete = vec![None; self.assemblies.len()];
        for &a in &self.order {
            let needed = self.assemblies[a].needs.iter().map(|need| complete[need.0]);
            let start = needed
                .chain([pieces_there[a]])
                .try_fold(0, |latest: Minute, date| Some(latest.max(date?)));
            complete[a] = start
                .and_then(|start| presence.earliest_end(start, self.work[a]))
                .map(|done| done.saturating_add(cure(&self.assemblies[a])));
        }
        complete
    }

    /// What must be done by when so that all `targets` are complete by `date`; `None` where that is before the build's start.
    ///
    /// Proof: an assembly complete by d has its bench work done by d − cure, so it began by the latest start of so many minutes
    /// of presence before that; by then its pieces are there and what it needs is complete.
    pub(super) fn deadlines(
        &self,
        presence: &Presence,
        targets: &[usize],
        date: Minute,
    ) -> Option<Vec<Deadline>> {
        let mut complete: Vec<Option<Minute>> = vec![None; self.assemblies.len()];
        for &target in targets {
            complete[target] = Some(date);
        }
        let mut deadlines = Vec::new();
        for &a in self.order.iter().rev() {
            let Some(by) = complete[a] else { continue };
            let worked = by.saturating_sub(cure(&self.assemblies[a]));
            let there = presence.latest_start(worked, self.work[a])?;
            if there < 0 {
                return None;
            }
            deadlines.push(Deadline {
                assembly: a,
                there,
                worked,
            });
            for need in &self.assemblies[a].needs {
                let before = complete[need.0].get_or_insert(there);
                *before = there.min(*before);
            }
        }
        Some(deadlines)
    }

    /// By assembly: the elapsed minutes from the moment when its pieces are there to the completion of `targets` at least, as if
    /// somebody were always there; `None` outside of what they need.
    pub(super) fn least_tails(&self, targets: &[usize]) -> Vec<Option<i64>> {
        let mut after: Vec<Option<i64>> = vec![None; self.assemblies.len()];
        for &target in targets {
            after[target] = Some(0);
        }
        for &a in self.order.iter().rev() {
            after[a] =
                after[a].map(|after| after + self.work[a] + i64::from(cure(&self.assemblies[a])));
            for need in &self.assemblies[a].needs {
                after[need.0] = after[need.0].max(after[a]);
            }
        }
        after
    }
}

fn cure(assembly: &Assembly) -> Minute {
    Minute::try_from(assembly.cure.value()).unwrap_or(Minute::MAX)
}

/// Every assembly after all that it needs. A scenario's `needs` has no ring; one that had would have no plan, so no order serves.
fn in_order(assemblies: &[Assembly]) -> Vec<usize> {
    let of = |(a, assembly): (usize, &'_ Assembly)| -> Vec<(usize, usize)> {
        assembly.needs.iter().map(|need| (need.0, a)).collect()
    };
    let before: Vec<(usize, usize)> = assemblies.iter().enumerate().flat_map(of).collect();
    Network::new(assemblies.len(), &before).map_or(Vec::new(), |network| network.order().to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calendar::Window;
    use crate::scenario::AssemblyIndex;
    use crate::units::{Minutes, Money};

    fn assembly(id: &str, needs: &[usize], bench: i64, cure: i64) -> Assembly {
        Assembly {
            id: id.into(),
            parts: Vec::new(),
            needs: needs.iter().map(|&need| AssemblyIndex(need)).collect(),
            places: Default::default(),
            lift: None,
            bench: Minutes(bench),
            cure: Minutes(cure),
            due: None,
            late: Money(0.0),
        }
    }

    /// Foot (20 min, cure 30) and mast (nothing) go into the crane (50 min); somebody is there 0–60 and 100–160.
    fn crane() -> (Vec<Assembly>, Presence) {
        let assemblies = vec![
            assembly("crane", &[1, 2], 50, 0),
            assembly("foot", &[], 20, 30),
            assembly("mast", &[], 0, 0),
        ];
        let windows = [
            Window { open: 0, close: 60 },
            Window {
                open: 100,
                close: 160,
            },
        ];
        (assemblies, Presence::new(&windows))
    }

    fn build(assemblies: &[Assembly]) -> Build<'_> {
        let work: Vec<i64> = assemblies
            .iter()
            .map(|assembly| assembly.bench.value())
            .collect();
        Build {
            assemblies,
            order: in_order(assemblies),
            hands: work.clone(),
            work,
        }
    }

    #[test]
    fn the_earliest_dates_follow_pieces_needs_work_and_cure() {
        // Foot: pieces on 10, work until 30, cured on 60. Mast: there on 70. Crane: from 70 nobody is there until 100; 50 min: 150.
        let (assemblies, presence) = crane();
        let there = [Some(5), Some(10), Some(70)];
        assert_eq!(
            build(&assemblies).earliest(&presence, &there),
            [Some(150), Some(60), Some(70)]
        );
        // Past the last window there is no work.
        assert_eq!(
            build(&assemblies).earliest(&presence, &[Some(5), Some(10), Some(120)])[0],
            None
        );
    }

    #[test]
    fn the_latest_dates_go_back_through_the_same_steps() {
        // Crane by 150: its 50 min begin at 100 at the latest, so foot and mast are complete by then. Foot: 30 min of cure before, worked by
        // 70; its 20 min begin at 40.
        let (assemblies, presence) = crane();
        let mut deadlines = build(&assemblies)
            .deadlines(&presence, &[0], 150)
            .expect("there is time enough");
        deadlines.sort_by_key(|deadline| deadline.assembly);
        let expected = [(0, 100, 150), (1, 40, 70), (2, 100, 100)];
        let found: Vec<_> = deadlines
            .iter()
            .map(|d| (d.assembly, d.there, d.worked))
            .collect();
        assert_eq!(found, expected);
        // By 109 the crane would begin at 19 (41 min before 60 and 9 after 100), the foot be worked by −11.
        assert_eq!(build(&assemblies).deadlines(&presence, &[0], 109), None);
    }

    #[test]
    fn what_is_needed_is_found_through_others() {
        let (assemblies, _) = crane();
        assert_eq!(build(&assemblies).closure(&[0]), [0, 1, 2]);
        assert_eq!(build(&assemblies).closure(&[2]), [2]);
        // From the foot's pieces: 20 + 30 + 50 min.
        assert_eq!(
            build(&assemblies).least_tails(&[0]),
            [Some(50), Some(100), Some(50)]
        );
        assert_eq!(build(&assemblies).least_tails(&[1]), [None, Some(50), None]);
    }
}
